/* Random histories of a house, and everything that a book says as bytes, to hold two books against each other. */
#ifndef COT_TESTS_CORE_STORY_H
#define COT_TESTS_CORE_STORY_H

#include "rows.h"

#include <stdarg.h>

struct bytes {
    unsigned char *at;
    size_t n, cap;
};

static inline void to_bytes(void *ctx, const void *bytes, size_t len)
{
    struct bytes *b = ctx;
    if (b->n + len > b->cap) {
        b->cap = (b->n + len) * 2;
        b->at = realloc(b->at, b->cap);
        ck_assert_ptr_nonnull(b->at);
    }
    memcpy(b->at + b->n, bytes, len);
    b->n += len;
}

/* --- A random history
 * ------------------------------------------------------------------------------------------------------ */
struct pool {
    struct cot_id id[ROWS_MAX];
    size_t n;
};
struct story {
    struct rows *r;
    struct pool made[COT_THING_COUNT], entry, lost, farm_of_line; /* farm_of_line beside made[COT_THING_LINE] */
    int chaos; /* per cent of the full mess: references to nothing, to the wrong, to what somebody will carry */
};

static inline bool chance(struct story *s, int percent)
{
    return dice_int(&s->r->dice, 1, 100) <= percent;
}

static inline bool mess(struct story *s, int percent)
{
    return dice_int(&s->r->dice, 1, 100 * 100) <= percent * s->chaos;
}

static inline void add_to(struct pool *p, const struct cot_id *id)
{
    p->id[p->n++] = *id;
}

static inline struct cot_id any(struct story *s, const struct pool *p)
{
    if (p->n == 0 || mess(s, 3)) return rows_id(s->r);
    if (s->lost.n && mess(s, 8)) return s->lost.id[dice_int(&s->r->dice, 0, (int64_t)s->lost.n - 1)];
    if (s->entry.n && mess(s, 4)) return s->entry.id[dice_int(&s->r->dice, 0, (int64_t)s->entry.n - 1)];
    return p->id[dice_int(&s->r->dice, 0, (int64_t)p->n - 1)];
}

static inline struct cot_id any_of(struct story *s, enum cot_thing_type type)
{
    return any(s, &s->made[type]);
}

static const enum cot_thing_type names_thing[COT_F_COUNT] = {
    [COT_F_MEMBER] = COT_THING_MEMBER,     [COT_F_CROP] = COT_THING_CROP,       [COT_F_VARIETY] = COT_THING_VARIETY,
    [COT_F_OWNER] = COT_THING_FARM,        [COT_F_FORMAT] = COT_THING_FORMAT,   [COT_F_LOT] = COT_THING_LOT,
    [COT_F_PLATE] = COT_THING_PLATE,       [COT_F_BATCH] = COT_THING_BATCH,     [COT_F_LINE] = COT_THING_LINE,
    [COT_F_POT_FORMAT] = COT_THING_FORMAT, [COT_F_PLANNED] = COT_THING_PLANNED,
};

static inline void random_value(struct story *s, enum cot_field f, bool change)
{
    struct rows *r = s->r;
    const struct cot_field_row *row = cot_field_row(f);
    struct cot_id id;
    char text[40];
    if (change && chance(s, 8)) {
        ck_assert(cot_fact_clear(&r->f, f));
        return;
    }
    switch (row->type) {
    case COT_T_INT: {
        int64_t most = f == COT_F_TRAY_DAYS ? 12 : 60;
        with_int(r, f, row->min + dice_int(&r->dice, 0, row->max - row->min < most ? row->max - row->min : most));
        break;
    }
    case COT_T_BOOL:
    case COT_T_WORD:
        with_int(r, f, dice_int(&r->dice, 0, row->max));
        break;
    case COT_T_DAY: {
        int64_t today = ROWS_DAY0 + (r->now - ROWS_T0) / ROWS_DAY;
        with_int(r, f, today + (f == COT_F_DAY ? dice_int(&r->dice, -6, 2) : dice_int(&r->dice, -2, 20)));
        break;
    }
    case COT_T_TEXT:
        snprintf(text, sizeof text, "%s %d", row->name, (int)dice_int(&r->dice, 1, 9));
        if (f == COT_F_CODE) cot_code_make("AB", (uint32_t)dice_int(&r->dice, 1, 99), text);
        with_text(r, f, text);
        break;
    case COT_T_ID:
        id = names_thing[f] ? any_of(s, names_thing[f]) : rows_id(r);
        with_id(r, f, &id);
        break;
    case COT_T_IDS: {
        enum cot_thing_type of = f == COT_F_LINES ? COT_THING_LINE : COT_THING_VARIETY;
        struct cot_id two[2] = {any_of(s, of), any_of(s, of)};
        ck_assert(cot_fact_set_ids(&r->f, f, rows_keep(r, two, sizeof two), 2));
        break;
    }
    case COT_T_NUMBERS: {
        int32_t two[2] = {(int32_t)dice_int(&r->dice, 1, 4), (int32_t)dice_int(&r->dice, 5, 9)};
        ck_assert(cot_fact_set_numbers(&r->f, f, rows_keep(r, two, sizeof two), 2));
        break;
    }
    case COT_T_TRAYS:
        with_tray(r, (int32_t)dice_int(&r->dice, 1, 6), (int32_t)dice_int(&r->dice, 1, 60), 1);
        break;
    case COT_T_NONE:
        break;
    }
}

static inline struct cot_id farm_for(struct story *s, const struct cot_id *line)
{
    for (size_t i = 0; i < s->made[COT_THING_LINE].n; i++)
        if (cot_id_cmp(&s->made[COT_THING_LINE].id[i], line) == 0) return s->farm_of_line.id[i];
    return any_of(s, COT_THING_FARM);
}

static inline const char *any_device(struct story *s, enum cot_kind kind)
{
    struct rows *r = s->r;
    unsigned by = cot_kind_row(kind)->by;
    if ((kind == COT_K_LINE || kind == COT_K_WITHDRAWN || kind == COT_K_TAKEN_BACK) && chance(s, 40)) return "C";
    if (!mess(s, 30) && by == COT_BY_STAFF) return chance(s, 50) ? "A" : "B";
    if (!mess(s, 60) && by == COT_BY_MANAGER) return "A";
    if (by == COT_BY_HOUSE || (by & COT_BY_HOUSE && chance(s, 30))) return "H";
    if (by == COT_BY_MANAGER && chance(s, 80)) return "A";
    const char *tag = r->device[dice_int(&r->dice, 0, (int64_t)r->devices - 1)].tag;
    return strcmp(tag, "H") == 0 ? "A" : tag;
}

static inline void random_header(struct story *s, enum cot_kind kind)
{
    struct rows *r = s->r;
    const struct cot_kind_row *row = cot_kind_row(kind);
    begin(r, any_device(s, kind), kind);
    r->f.clock += dice_int(&r->dice, -5, 5) * 60000 + (chance(s, 15) ? ROWS_DAY * dice_int(&r->dice, -3, 3) : 0);
    r->f.seen = chance(s, 30) ? dice_int(&r->dice, 0, r->position) : r->position;
    bool optional = row->flags & COT_KIND_ABOUT_OPTIONAL;
    if (row->about != COT_THING_NONE && (!optional || (s->made[row->about].n && chance(s, 50)))) {
        struct cot_id id = row->about == COT_THING_ENTRY ? any(s, &s->entry) : any_of(s, row->about);
        about(r, &id);
    }
    if (row->see == COT_SEE_FARM || ((row->see == COT_SEE_FARM_OR_HOUSE) && chance(s, 50))) {
        struct cot_id farm = r->f.has_about ? farm_for(s, &r->f.about) : any_of(s, COT_THING_FARM);
        if (kind == COT_K_FARM) farm = r->f.about;
        if (kind != COT_K_FARM || r->f.has_about) of_farm(r, &farm);
    }
    if (kind == COT_K_DEVICE) r->f.has_farm = false;
}

static inline void random_fields(struct story *s, enum cot_kind kind)
{
    struct rows *r = s->r;
    const struct cot_kind_row *row = cot_kind_row(kind);
    bool change = kind == COT_K_RULE || (r->f.has_about && row->makes != COT_THING_NONE);
    for (unsigned i = 0; i < row->field_count; i++)
        if ((!change && row->fields[i].required) || chance(s, change ? 30 : 15))
            random_value(s, row->fields[i].field, change);
    if (kind == COT_K_HANDED && chance(s, 90)) {
        struct cot_id farm = farm_for(s, cot_fact_id(&r->f, COT_F_LINE));
        of_farm(r, &farm);
    }
    if (kind == COT_K_SOWN && (!cot_fact_value(&r->f, COT_F_TRAY_ROWS) || chance(s, 80)))
        with_int(r, COT_F_TRAYS, dice_int(&r->dice, 1, 8));
    if (kind == COT_K_DEVICE) {
        char tag[COT_TAG_MAX + 1];
        ck_assert(cot_tag_nth((uint32_t)dice_int(&r->dice, 3, 40), tag));
        with_text(r, COT_F_TAG, tag);
        struct cot_id member = any_of(s, COT_THING_MEMBER);
        with_id(r, COT_F_MEMBER, &member);
    }
    if (kind == COT_K_FORMAT && chance(s, 80)) {
        with_int(r, COT_F_ROWS, dice_int(&r->dice, 1, 3));
        with_int(r, COT_F_COLS, dice_int(&r->dice, 2, 8));
    }
    if (mess(s, 2)) snprintf(r->f.flaw, sizeof r->f.flaw, "has a field that nobody knows");
}

static inline void remember(struct story *s, const struct cot_id *id)
{
    struct rows *r = s->r;
    const struct cot_fact *f = r->row[r->count - 1].fact;
    const struct cot_kind_row *row = cot_kind_row(f->kind);
    struct cot_id identity = f->has_carries ? f->carries : *id;
    add_to(&s->entry, id);
    bool makes = row->makes != COT_THING_NONE && !(f->has_about && (row->flags & COT_KIND_ABOUT_OPTIONAL));
    if (makes && row->makes == COT_THING_LINE) add_to(&s->farm_of_line, &f->farm);
    if (makes) add_to(&s->made[row->makes], &identity);
    if (f->kind != COT_K_DEVICE || r->devices >= 60) return;
    char tag[COT_TAG_MAX + 1] = "";
    const struct cot_value *v = cot_fact_value(f, COT_F_TAG);
    memcpy(tag, v->v.text, v->len);
    for (size_t i = 0; i < r->devices; i++)
        if (strcmp(r->device[i].tag, tag) == 0) return;
    memset(&r->device[r->devices], 0, sizeof r->device[0]);
    snprintf(r->device[r->devices].tag, COT_TAG_MAX + 1, "%s", tag);
    r->device[r->devices++].member = *cot_fact_id(f, COT_F_MEMBER);
}

/* The same sowing or hand-over once more, on another device. */
static inline void once_more(struct story *s)
{
    struct rows *r = s->r;
    size_t i = r->count - 1;
    while (i > 0 && r->row[i].fact->kind != COT_K_SOWN && r->row[i].fact->kind != COT_K_HANDED) i--;
    const struct cot_fact *f = r->row[i].fact;
    if (f->kind != COT_K_SOWN && f->kind != COT_K_HANDED) return;
    begin(r, strcmp(f->tag, "A") == 0 ? "B" : "A", f->kind);
    struct cot_fact head = r->f;
    r->f = *f;
    memcpy(r->f.tag, head.tag, sizeof head.tag);
    r->f.number = head.number;
    r->f.clock = head.clock;
    r->f.seen = head.seen;
    r->f.has_member = true;
    r->f.member = head.member;
    r->f.has_carries = false;
}

static inline void random_entry(struct story *s, bool is_sent)
{
    static const enum cot_kind often[] = {
        COT_K_LINE,    COT_K_LINE,   COT_K_LINE,       COT_K_SOWN,       COT_K_SOWN,   COT_K_COUNT,  COT_K_COUNT,
        COT_K_HANDED,  COT_K_HANDED, COT_K_TAKEN_BACK, COT_K_TAKEN_BACK, COT_K_ANSWER, COT_K_ANSWER, COT_K_WITHDRAWN,
        COT_K_PROMISE, COT_K_LOST,   COT_K_VARIETY,    COT_K_FORMAT,     COT_K_CROP,   COT_K_LINE,   COT_K_BACK,
    };
    struct rows *r = s->r;
    enum cot_kind kind = chance(s, 70) ? often[dice_int(&r->dice, 0, (int64_t)(sizeof often / sizeof often[0]) - 1)]
                                       : (enum cot_kind)dice_int(&r->dice, 0, COT_K_TOTAL - 1);
    if (kind == COT_K_HOUSE && chance(s, 80)) kind = COT_K_LOT;
    if ((kind == COT_K_MEMBER || kind == COT_K_DEVICE || kind == COT_K_CLOSED) && chance(s, 60)) kind = COT_K_COUNT;
    random_header(s, kind);
    random_fields(s, kind);
    if (chance(s, 6)) once_more(s);
    if (mess(s, 10)) {
        struct cot_id lost = chance(s, 50) || !s->entry.n ? rows_id(r) : any(s, &s->entry);
        if (s->lost.n && chance(s, 40)) lost = s->lost.id[dice_int(&r->dice, 0, (int64_t)s->lost.n - 1)];
        carrying(r, &lost);
        if (s->lost.n < 200) add_to(&s->lost, &lost);
    }
    if (mess(s, 5) && s->lost.n < 200) { /* a digest that things will name before somebody carries it */
        struct cot_id ahead = rows_id(r);
        add_to(&s->lost, &ahead);
        add_to(&s->made[dice_int(&r->dice, COT_THING_FARM, COT_THING_HANDOVER)], &ahead);
        if (s->made[COT_THING_LINE].n > s->farm_of_line.n) add_to(&s->farm_of_line, &r->farm);
    }
    if (chance(s, 20)) r->now += dice_int(&r->dice, 0, 12) * 3600000;
    struct cot_id id = is_sent ? sent(r) : unsent(r);
    remember(s, &id);
}

static inline struct story *tell(struct rows *r, int index, size_t sent_rows, size_t unsent_rows)
{
    static const int levels[] = {0, 10, 40, 100};
    struct story *s = calloc(1, sizeof *s);
    ck_assert_ptr_nonnull(s);
    s->r = r;
    s->chaos = levels[index % 4];
    r->dice.s += (uint64_t)index * UINT64_C(0x632be59bd9b4e019);
    for (size_t i = 0; i < r->count; i++) {
        const struct cot_kind_row *row = cot_kind_row(r->row[i].fact->kind);
        add_to(&s->entry, &r->row[i].digest);
        if (row->makes != COT_THING_NONE) add_to(&s->made[row->makes], &r->row[i].digest);
    }
    for (size_t i = 0; i < sent_rows; i++) random_entry(s, true);
    for (size_t i = 0; i < unsent_rows; i++) random_entry(s, false);
    return s;
}

/* --- Everything a book says, as text
 * -------------------------------------------------------------------------------------- */
static inline void say(struct bytes *b, const char *fmt, ...) COT_PRINTF(2, 3);
static inline void say(struct bytes *b, const char *fmt, ...)
{
    char text[1024];
    va_list args;
    va_start(args, fmt);
    int n = vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    to_bytes(b, text, (size_t)n);
}

static inline uint32_t brief(const struct cot_id *id)
{
    return (uint32_t)id->b[0] << 24 | (uint32_t)id->b[1] << 16 | (uint32_t)id->b[2] << 8 | id->b[3];
}

static inline void say_note(struct bytes *b, const struct cot_note *n)
{
    say(b, "%08x %s %lld %lld verdict %d flags %u \"%s\" other %08x about %08x\n", brief(&n->digest),
        n->fact->kind_name, (long long)n->position, (long long)n->receipt, n->verdict, n->flags, n->reason,
        brief(&n->other), brief(&n->fact->about));
}

static inline void say_thing(struct bytes *b, struct cot_book *book, const struct cot_thing *t)
{
    size_t n;
    say(b, "thing %08x type %d gone %d farm %08x made by %s %lld:", brief(&t->id), t->type, t->gone, brief(&t->farm),
        t->made->tag, (long long)t->made->number);
    for (int f = 0; f < COT_F_COUNT; f++) {
        const struct cot_value *v = cot_thing_value(t, (enum cot_field)f);
        if (v && v->type == COT_T_TEXT) say(b, " %d=%s", f, v->v.text);
        else if (v && v->type == COT_T_ID) say(b, " %d=%08x", f, brief(v->v.ids));
        else if (v && v->type == COT_T_IDS) say(b, " %d=%08x..%u", f, brief(v->v.ids), v->len);
        else if (v && v->type == COT_T_NUMBERS) say(b, " %d=%d..%u", f, v->v.numbers[0], v->len);
        else if (v) say(b, " %d=%lld", f, (long long)v->v.i);
    }
    say(b, "\n");
    const struct cot_note *h = cot_book_history(book, &t->id, &n);
    for (size_t i = 0; i < n; i++) say_note(b, &h[i]);
}

static inline void say_book(struct bytes *b, struct cot_book *book)
{
    size_t n;
    const struct cot_note *notes = cot_book_notes(book, &n);
    say(b, "notes %zu\n", n);
    for (size_t i = 0; i < n; i++) say_note(b, &notes[i]);
    for (int type = 1; type < COT_THING_COUNT; type++) {
        const struct cot_thing *const *t = cot_book_things(book, (enum cot_thing_type)type, &n);
        for (size_t i = 0; i < n; i++) say_thing(b, book, t[i]);
    }
    for (int i = 0; i < 40; i++) {
        char tag[COT_TAG_MAX + 1];
        struct cot_standing s;
        cot_tag_nth((uint32_t)i, tag);
        cot_book_device(book, tag, INT64_MAX, &s);
        say(b, "%s %d %d %d %d %08x %08x\n", tag, s.known, s.closed, s.part, s.member_gone, brief(&s.member),
            brief(&s.farm));
    }
}

static inline struct bytes canon(struct cot_book *book)
{
    struct bytes b = {0};
    ck_assert_int_eq(cot_book_canon(book, to_bytes, &b), COT_OK);
    return b;
}

static inline void same(const struct bytes *x, const struct bytes *y, const char *what)
{
    size_t i = 0;
    while (i < x->n && i < y->n && x->at[i] == y->at[i]) i++;
    if (i == x->n && i == y->n) return;
    size_t line = i;
    while (line > 0 && x->at[line - 1] != '\n') line--;
    ck_abort_msg("%s differ at byte %zu:\n%.1500s\n-- and --\n%.1500s", what, i, (const char *)x->at + line,
                 (const char *)y->at + line);
}

#endif
