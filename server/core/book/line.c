/* Order lines after their closing day: a buyer's change, withdrawal or taking back then waits for the house's word.
 *
 * Closing day: the line's own, else its collecting date less the house's closing days, else less the crop's days in the
 * tray (the sowing day), else the date itself. Changes are judged by the line as it stood at their place. A taking back
 * is judged by the earliest closing day that the line ever had, since what it takes back may be the date itself. */
#include "book/in.h"

#define NO_DAY INT64_MIN

/* Days in the tray of the variety's crop, as known at the place of `e`; -1 when not known. */
static int64_t tray_days(const struct cot_book *b, uint32_t variety, const struct cot_entry *e)
{
    struct cot_packed p;
    if (!variety || !cot_register(b, cot_root(b, variety), COT_F_CROP, e, &p)) return -1;
    uint32_t crop = cot_root(b, cot_packed_member(&p, 0));
    return cot_register(b, crop, COT_F_TRAY_DAYS, e, &p) ? p.i : -1;
}

static int64_t closing_day(const struct cot_book *b, int64_t date, int64_t closing, uint32_t variety,
                           const struct cot_entry *e)
{
    if (closing != NO_DAY) return closing;
    int64_t days = cot_rule_closing(b, cot_judged_at(e));
    if (days < 0) days = tray_days(b, variety, e);
    return days > 0 ? date - days : date;
}

/* The day on which the house got the row, in the house's time; the own clock while it is not sent. */
static int64_t day_received(const struct cot_book *b, const struct cot_entry *e)
{
    return cot_day_at(e->position ? e->receipt : e->clock, cot_rule_offset(b, cot_judged_at(e)));
}

static void run_take(struct cot_line_run *run, const struct cot_entry *e)
{
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p)) {
        bool set = p.type != COT_T_NONE;
        if (p.field == COT_F_DATE && set) run->date = p.i;
        if (p.field == COT_F_CLOSING) run->closing = set ? p.i : NO_DAY;
        if (p.field == COT_F_VARIETY && set) run->variety = cot_packed_member(&p, 0);
    }
    int64_t at = cot_judged_at(e);
    if (at > run->since) run->since = at;
}

/* Brings the run up to just before `e`. Entries of one line are judged in order of place, so it mostly goes one step.
 */
static void run_up_to(struct cot_book *b, const struct cot_entry *e)
{
    struct cot_line_run *run = &b->run;
    uint32_t root = cot_root(b, e->about);
    bool ahead = run->mention && cot_place_cmp(b, cot_entry_at(b, cot_mention_at(b, run->mention)->entry), e) >= 0;
    uint32_t i = run->mention ? cot_mention_at(b, run->mention)->next : cot_slot_at(b, root)->first;
    if (run->root != root || ahead) {
        *run = (struct cot_line_run){.root = root, .date = 0, .closing = NO_DAY};
        run_take(run, cot_entry_at(b, cot_slot_at(b, root)->winner));
        i = cot_slot_at(b, root)->first;
    }
    for (; i && cot_entry_at(b, cot_mention_at(b, i)->entry) != e; i = cot_mention_at(b, i)->next) {
        const struct cot_entry *m = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if (m->kind == COT_K_LINE && m->verdict == COT_BOOKED && (m->marks & COT_M_FINAL)) run_take(run, m);
        run->mention = i;
    }
}

enum cot_why cot_line_change(struct cot_book *b, struct cot_entry *e, int32_t *closing)
{
    if (e->part == COT_PART_HAND) return COT_WHY_BY_HAND;
    if (e->part != COT_PART_BUYER || !cot_winner(b, e->about)) return COT_WHY_NONE;
    run_up_to(b, e);
    if (b->run.since > e->since) e->since = b->run.since;
    int64_t day = closing_day(b, b->run.date, b->run.closing, b->run.variety, e);
    *closing = (int32_t)day;
    return day_received(b, e) <= day ? COT_WHY_NONE : COT_WHY_AFTER_CLOSING;
}

/* The line at the end of a chain of takings back; 0 when it is none. */
static uint32_t line_behind(const struct cot_book *b, const struct cot_entry *e, bool *deep)
{
    for (int depth = 0; depth < 16; depth++) {
        uint32_t winner = e->about ? cot_winner(b, e->about) : 0;
        if (e->kind == COT_K_LINE || e->kind == COT_K_WITHDRAWN) return cot_root(b, e->about ? e->about : e->slot);
        if (e->kind != COT_K_TAKEN_BACK || !winner) return 0;
        e = cot_entry_at(b, winner);
    }
    *deep = true;
    return 0;
}

/* The least that its entries say: an own closing day, and a date where there is none. */
struct least {
    int64_t closing, date;
};

static void take_least(struct least *l, const struct cot_entry *e, int64_t made_date)
{
    int64_t own = cot_packed_int(e, COT_F_CLOSING, NO_DAY), date = cot_packed_int(e, COT_F_DATE, made_date);
    if (own != NO_DAY && own < l->closing) l->closing = own;
    if (own == NO_DAY && date < l->date) l->date = date;
}

static struct least least_of(const struct cot_book *b, uint32_t line)
{
    struct cot_memos *memos = &((struct cot_book *)(uintptr_t)b)->memos;
    struct cot_memo *memo = cot_memo_find(memos, line);
    if (memo && memo->closing_known) return (struct least){memo->closing, memo->date};
    const struct cot_entry *made = cot_entry_at(b, cot_slot_at(b, line)->winner);
    struct least l = {INT64_MAX, INT64_MAX};
    int64_t date = cot_packed_int(made, COT_F_DATE, 0);
    uint32_t looked = 0;
    take_least(&l, made, date);
    for (uint32_t i = cot_slot_at(b, line)->first; i; i = cot_mention_at(b, i)->next, looked++) {
        const struct cot_entry *m = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if (m->kind == COT_K_LINE) take_least(&l, m, date);
    }
    memo = looked > COT_MEMO_LONG ? cot_memo_make(memos, line) : NULL;
    if (memo) {
        memo->closing_known = true;
        memo->closing = l.closing;
        memo->date = l.date;
    }
    return l;
}

/* Whatever became of the line's entries: a verdict here would rest on what is being judged. */
static int64_t earliest_closing(const struct cot_book *b, uint32_t line, const struct cot_entry *e)
{
    struct least l = least_of(b, line);
    uint32_t variety = cot_packed_slot(cot_entry_at(b, cot_slot_at(b, line)->winner), COT_F_VARIETY);
    int64_t by_date = l.date == INT64_MAX ? INT64_MAX : closing_day(b, l.date, NO_DAY, variety, e);
    return l.closing < by_date ? l.closing : by_date;
}

enum cot_why cot_line_back(const struct cot_book *b, const struct cot_entry *e, int32_t *closing)
{
    bool deep = false;
    uint32_t line = line_behind(b, e, &deep);
    if (deep) return COT_WHY_BY_HAND;
    if (!line || !cot_slot_at(b, line)->winner) return COT_WHY_NONE;
    if (e->part == COT_PART_HAND) return COT_WHY_BY_HAND;
    int64_t day = earliest_closing(b, line, e);
    *closing = (int32_t)day;
    return day_received(b, e) <= day ? COT_WHY_NONE : COT_WHY_AFTER_CLOSING;
}
