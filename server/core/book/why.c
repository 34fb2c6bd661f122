/* Reasons in a grower's words. They are made when somebody asks, from what judging left in the entry. */
#include "book/in.h"

#include <stdio.h>
#include <string.h>

/* In braces: tag, kind, type, part, day, number. */
static const char *const why_table[COT_WHY_COUNT] = {
    [COT_WHY_NONE] = "",
    [COT_WHY_FLAW] = "made by a newer version of the program",
    [COT_WHY_TWICE] = "the same fact is here already, carried over: counted once",
    [COT_WHY_RING] = "names itself in a circle",
    [COT_WHY_HOUSE] = "belongs to another house",
    [COT_WHY_NO_DEVICE] = "device {tag} had not joined this house then",
    [COT_WHY_CLOSED] = "device {tag} had been closed before",
    [COT_WHY_NOT_HERS] = "device {tag} is not that of the member it names",
    [COT_WHY_PART] = "{kind}: not for {part} to enter",
    [COT_WHY_OTHER_FARM] = "{kind}: a buyer enters for the own farm only",
    [COT_WHY_MISSING] = "no such {type} here",
    [COT_WHY_WRONG] = "what it names as its {type} is something else",
    [COT_WHY_GONE] = "its {type} was taken back",
    [COT_WHY_UNBOOKED] = "its {type} is not booked itself",
    [COT_WHY_FARM_MISMATCH] = "names another farm than that of what it is about",
    [COT_WHY_NAME_FARM] = "must name the farm of what it is about, so that the farm sees it",
    [COT_WHY_TRAY_CELLS] = "tray {number}: more cells than a tray of its batch has",
    [COT_WHY_NO_TRAY] = "its batch has no tray {number}",
    [COT_WHY_POOLED] = "more cells or trays looked at than its batch has",
    [COT_WHY_ROWS] = "more rows sown than the tray's {number}",
    [COT_WHY_NO_AMOUNT] = "does not say how many trays or rows",
    [COT_WHY_NOTHING] = "nothing to answer: the entry is booked",
    [COT_WHY_NOT_OWN] = "only who wrote an entry, or a manager, takes it back",
    [COT_WHY_NEVER_BACK] = "members, devices and rules are never taken back: enter the change again",
    [COT_WHY_AFTER_CLOSING] = "after the closing day {day}: waits for the house's word",
    [COT_WHY_BY_HAND] = "an order changed by a hand: waits for a manager's word",
    [COT_WHY_TAG_USED] = "its device tag is taken already",
    [COT_WHY_PART_FIXED] = "a buyer stays a buyer of one farm, and nobody else becomes one",
    [COT_WHY_SECOND_HOUSE] = "the house is founded already",
    [COT_WHY_ONLINE] = "is made on the server only",
};

static const struct {
    unsigned flag;
    const char *words;
} flag_words[] = {
    {COT_FLAG_CLASH, "changed on two devices, neither had seen the other: the later stands"},
    {COT_FLAG_TWIN, "likely the same as another entry: take one back if so"},
    {COT_FLAG_OVER, "more went out or was lost than was there: counted as there"},
    {COT_FLAG_SAME_CODE, "another thing carries the same code"},
    {COT_FLAG_UNCLEAR_DAY, "its day does not fit: look at it"},
};

struct text {
    char *out;
    size_t cap, n;
};

static void add(struct text *t, const char *s, size_t len)
{
    if (t->n + len >= t->cap) {
        len = t->cap - 1 - t->n;
        while (len && ((unsigned char)s[len] & 0xC0) == 0x80) len--; /* not inside a character */
    }
    memcpy(t->out + t->n, s, len);
    t->n += len;
    t->out[t->n] = '\0';
}

static const char *part_word(const struct cot_entry *e)
{
    static const char *const parts[] = {"a manager", "a hand", "a buyer", "an auditor"};
    if (e->tag == cot_tag_pack("H")) return "the house's own journal";
    return e->part < 4 ? parts[e->part] : parts[3];
}

static void fill_in(struct text *t, const char *name, size_t len, const struct cot_entry *e)
{
    char value[40] = "";
    const char *words = value;
    switch (name[0]) {
    case 'd': /* day */
        if (e->detail >= COT_DAY_MIN && e->detail <= COT_DAY_MAX) cot_day_text(e->detail, value);
        break;
    case 'k':
        words = cot_kind_row((enum cot_kind)e->kind)->what;
        break;
    case 'n':
        snprintf(value, sizeof value, "%d", (int)e->detail);
        break;
    case 'p':
        words = part_word(e);
        break;
    case 't':
        if (len == 3) cot_tag_text(e->tag, value);
        else words = cot_thing_word((enum cot_thing_type)e->why_type);
        break;
    default:
        break;
    }
    add(t, words, strlen(words));
}

static void add_template(struct text *t, const char *s, const struct cot_entry *e)
{
    while (*s) {
        size_t plain = strcspn(s, "{");
        add(t, s, plain);
        s += plain;
        if (!*s) return;
        size_t len = strcspn(s + 1, "}");
        fill_in(t, s + 1, len, e);
        s += len + 2;
    }
}

/* The words of the latest answer or taking back that made the verdict. */
static void add_reason_given(struct text *t, const struct cot_book *b, const struct cot_entry *e, uint8_t kind)
{
    const struct cot_entry *best = NULL;
    for (uint32_t i = cot_slot_at(b, cot_root_of(b, e))->special; i; i = cot_mention_at(b, i)->next) {
        const struct cot_entry *m = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if (m->kind == kind && m->verdict == COT_BOOKED && (!best || cot_place_cmp(b, m, best) > 0)) best = m;
    }
    struct cot_packed p;
    if (!best || !cot_packed_find(best, COT_F_WHY, &p)) return;
    add(t, ": ", 2);
    add(t, p.text, p.len);
}

static void add_flags(struct text *t, unsigned flags)
{
    for (size_t i = 0; i < sizeof flag_words / sizeof flag_words[0]; i++) {
        if (!(flags & flag_words[i].flag)) continue;
        if (t->n) add(t, "; ", 2);
        add(t, flag_words[i].words, strlen(flag_words[i].words));
    }
}

void cot_why_text(const struct cot_book *b, const struct cot_entry *e, char *out, size_t cap)
{
    struct text t = {out, cap, 0};
    const char *kind_name, *flaw = cot_packed_flaw(e, &kind_name);
    out[0] = '\0';
    switch ((enum cot_verdict)e->verdict) {
    case COT_BOOKED:
        add_flags(&t, e->flags);
        return;
    case COT_ASIDE:
        add(&t, "left out by a manager", 21);
        add_reason_given(&t, b, e, COT_K_ANSWER);
        return;
    case COT_TAKEN_BACK:
        add(&t, "taken back", 10);
        add_reason_given(&t, b, e, COT_K_TAKEN_BACK);
        return;
    case COT_QUERIED:
    case COT_REQUEST:
    case COT_TWICE:
        break;
    }
    if (e->why == COT_WHY_FLAW && e->kind != COT_K_UNKNOWN && flaw[0]) add(&t, flaw, strlen(flaw));
    else add_template(&t, why_table[e->why < COT_WHY_COUNT ? e->why : 0], e);
}
