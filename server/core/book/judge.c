/* What becomes of an entry: its base verdict (permission, references, sense), then answers, then takings back. */
#include "book/in.h"

static const uint8_t field_thing[COT_F_COUNT] = {
    [COT_F_MEMBER] = COT_THING_MEMBER,   [COT_F_CROP] = COT_THING_CROP,         [COT_F_VARIETY] = COT_THING_VARIETY,
    [COT_F_SUBS] = COT_THING_VARIETY,    [COT_F_OWNER] = COT_THING_FARM,        [COT_F_FORMAT] = COT_THING_FORMAT,
    [COT_F_LOT] = COT_THING_LOT,         [COT_F_PLATE] = COT_THING_PLATE,       [COT_F_BATCH] = COT_THING_BATCH,
    [COT_F_LINE] = COT_THING_LINE,       [COT_F_POT_FORMAT] = COT_THING_FORMAT, [COT_F_LINES] = COT_THING_LINE,
    [COT_F_PLANNED] = COT_THING_PLANNED,
};

enum cot_thing_type cot_field_thing(enum cot_field f)
{
    return (unsigned)f < COT_F_COUNT ? (enum cot_thing_type)field_thing[f] : COT_THING_NONE;
}

enum cot_thing_type cot_makes(const struct cot_entry *e)
{
    const struct cot_kind_row *row = cot_kind_row((enum cot_kind)e->kind);
    if ((row->flags & COT_KIND_ABOUT_OPTIONAL) && (e->bits & COT_E_HAS_ABOUT)) return COT_THING_NONE;
    return row->makes;
}

bool cot_is_admin(const struct cot_entry *e)
{
    return cot_kind_row((enum cot_kind)e->kind)->flags & COT_KIND_ADMIN;
}

bool cot_is_change(const struct cot_entry *e)
{
    const struct cot_kind_row *row = cot_kind_row((enum cot_kind)e->kind);
    if (e->kind == COT_K_RULE) return true;
    return row->makes != COT_THING_NONE && (row->flags & COT_KIND_ABOUT_OPTIONAL) && (e->bits & COT_E_HAS_ABOUT);
}

bool cot_is_special(const struct cot_entry *e)
{
    return e->kind == COT_K_ANSWER || e->kind == COT_K_TAKEN_BACK || e->kind == COT_K_WITHDRAWN ||
           e->kind == COT_K_DROPPED || cot_is_change(e);
}

uint32_t cot_farm_of(const struct cot_book *b, const struct cot_entry *e)
{
    enum cot_scope_rule see = cot_kind_row((enum cot_kind)e->kind)->see;
    if (see == COT_SEE_HOUSE || see == COT_SEE_CATALOGUE) return 0;
    if (e->farm) return cot_root(b, e->farm);
    return e->kind == COT_K_FARM && !(e->bits & COT_E_HAS_ABOUT) ? cot_root_of(b, e) : 0;
}

/* --- The two steps, as items of a stack ----------------------------------------------------------------------------
 */
enum { STEP_BASE = 0, STEP_FINAL = 1 };

struct turn { /* one look at one step: what it still waits for goes on the stack */
    struct cot_book *b;
    bool waits, failed;
};

static void push(struct turn *t, uint32_t entry, uint32_t step)
{
    t->waits = true;
    if (!cot_list_push(&t->b->stack, entry << 1 | step)) t->failed = true;
}

/* True when the step is known; else it has been put on the stack (or is open below: then it counts as not there). */
static bool want(struct turn *t, uint32_t entry, uint32_t step)
{
    const struct cot_entry *e = cot_entry_at(t->b, entry);
    if (e->marks & (step == STEP_BASE ? COT_M_BASE : COT_M_FINAL)) return true;
    if (!(e->marks & (step == STEP_BASE ? COT_M_BASE_OPEN : COT_M_FINAL_OPEN))) push(t, entry, step);
    return false;
}

/* --- References ----------------------------------------------------------------------------------------------------
 */
struct named {
    enum cot_why why;
    enum cot_thing_type type;
    int64_t since;
};

static bool hidden_from_farms(enum cot_thing_type type)
{
    static const bool hidden[COT_THING_COUNT] = {
        [COT_THING_PLATE] = true, [COT_THING_LOT] = true,     [COT_THING_BATCH] = true,   [COT_THING_ENTRY] = true,
        [COT_THING_PLACE] = true, [COT_THING_RAISING] = true, [COT_THING_PLANNED] = true,
    };
    return hidden[type];
}

/* What only points: a sowing stands whatever became of the plan it names, a plan whatever became of a line it was to
 * serve. */
static bool only_points(enum cot_field f)
{
    return f == COT_F_PLANNED || f == COT_F_LINES;
}

/* Whether what `slot` names is there, of the type, and booked. */
static enum cot_why name_one(struct turn *t, uint32_t slot, enum cot_thing_type type, int64_t *since)
{
    const struct cot_book *b = t->b;
    uint32_t winner = cot_winner(b, slot);
    if (!winner) return b->farm_view && hidden_from_farms(type) ? COT_WHY_NONE : COT_WHY_MISSING;
    const struct cot_entry *w = cot_entry_at(b, winner);
    if (type == COT_THING_ENTRY) return COT_WHY_NONE;
    if (cot_makes(w) != type) return COT_WHY_WRONG;
    if (!want(t, winner, STEP_FINAL)) return COT_WHY_MISSING;
    if (w->since > *since) *since = w->since;
    if (w->verdict == COT_TAKEN_BACK) return COT_WHY_GONE;
    return w->verdict == COT_BOOKED ? COT_WHY_NONE : COT_WHY_UNBOOKED;
}

static void name_into(struct turn *t, struct named *n, uint32_t slot, enum cot_thing_type type)
{
    enum cot_why why = name_one(t, slot, type, &n->since);
    if (why == COT_WHY_NONE || n->why != COT_WHY_NONE) return;
    n->why = why;
    n->type = type;
}

/* Every reference of the entry; the first that does not stand is the reason. */
static struct named name_all(struct turn *t, const struct cot_entry *e)
{
    struct named n = {COT_WHY_NONE, COT_THING_NONE, cot_judged_at(e)};
    const struct cot_kind_row *row = cot_kind_row((enum cot_kind)e->kind);
    if (e->about) name_into(t, &n, e->about, row->about);
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p)) {
        enum cot_thing_type type = cot_field_thing((enum cot_field)p.field);
        if (only_points((enum cot_field)p.field)) continue;
        for (uint32_t i = 0; type != COT_THING_NONE && p.type != COT_T_NONE && i < p.len; i++)
            name_into(t, &n, cot_packed_member(&p, i), type);
    }
    /* A farm may be taken back by an entry that names it as its farm: for entries about entries the farm only has to
     * match. */
    if (e->farm && row->about != COT_THING_ENTRY) name_into(t, &n, e->farm, COT_THING_FARM);
    return n;
}

/* The farm in the header against the farm of what the entry is about. */
static enum cot_why match_farm(const struct cot_book *b, const struct cot_entry *e)
{
    uint32_t line = cot_packed_slot(e, COT_F_LINE), slot = line ? line : e->about;
    uint32_t winner = slot ? cot_winner(b, slot) : 0;
    if (!winner) return COT_WHY_NONE;
    uint32_t theirs = cot_farm_of(b, cot_entry_at(b, winner)), ours = e->farm ? cot_root(b, e->farm) : 0;
    if (theirs == ours || !theirs) return COT_WHY_NONE;
    if (ours) return COT_WHY_FARM_MISMATCH;
    return e->kind == COT_K_ANSWER || e->kind == COT_K_TAKEN_BACK ? COT_WHY_NAME_FARM : COT_WHY_NONE;
}

/* --- Answers and takings back ----------------------------------------------------------------------------------------
 */
/* The answer that stands: booked, at the latest place. 0: none, or not known yet. */
static uint32_t standing_answer(struct turn *t, uint32_t root)
{
    struct cot_book *b = t->b;
    struct cot_memo *memo = cot_memo_find(&b->memos, root);
    if (memo && memo->answer_known) return memo->answer;
    uint32_t best = 0, looked = 0;
    bool whole = true;
    for (uint32_t i = cot_slot_at(b, root)->special; i; i = cot_mention_at(b, i)->next, looked++) {
        uint32_t m = cot_mention_at(b, i)->entry;
        const struct cot_entry *a = cot_entry_at(b, m);
        if (a->kind != COT_K_ANSWER) continue;
        if (!want(t, m, STEP_FINAL)) whole = false;
        else if (a->verdict == COT_BOOKED && (!best || cot_place_cmp(b, a, cot_entry_at(b, best)) > 0)) best = m;
    }
    memo = whole && looked > COT_MEMO_LONG ? cot_memo_make(&b->memos, root) : NULL;
    if (memo) {
        memo->answer_known = true;
        memo->answer = best;
    }
    return best;
}

static bool taken_back(struct turn *t, uint32_t root)
{
    const struct cot_book *b = t->b;
    bool found = false;
    for (uint32_t i = cot_slot_at(b, root)->special; i; i = cot_mention_at(b, i)->next) {
        uint32_t m = cot_mention_at(b, i)->entry;
        const struct cot_entry *a = cot_entry_at(b, m);
        if (a->kind == COT_K_TAKEN_BACK && want(t, m, STEP_FINAL) && a->verdict == COT_BOOKED) found = true;
    }
    return found;
}

/* The verdict after answers, before takings back. */
static enum cot_verdict answered(struct turn *t, const struct cot_entry *e)
{
    if (e->base == COT_TWICE) return COT_TWICE;
    uint32_t a = standing_answer(t, cot_root_of(t->b, e));
    if (!a) return (enum cot_verdict)e->base;
    bool aside = cot_packed_int(cot_entry_at(t->b, a), COT_F_AS, 0) == 1;
    if (cot_is_admin(e)) return aside && e->base == COT_QUERIED ? COT_ASIDE : (enum cot_verdict)e->base;
    if (aside) return COT_ASIDE;
    return e->base == COT_QUERIED && (e->bits & COT_E_HARD) ? COT_QUERIED : COT_BOOKED;
}

/* An answer needs something to answer: an entry not booked, or one that was not yet when the answer was written. */
static enum cot_why answer_sense(struct turn *t, const struct cot_entry *e)
{
    uint32_t target = e->about ? cot_winner(t->b, e->about) : 0;
    if (!target || !want(t, target, STEP_BASE)) return COT_WHY_NONE;
    const struct cot_entry *w = cot_entry_at(t->b, target);
    if (w->base == COT_QUERIED || w->base == COT_REQUEST) return COT_WHY_NONE;
    bool late = w->since > cot_judged_at(w) && w->since > e->seen;
    return late && !cot_is_admin(w) ? COT_WHY_NONE : COT_WHY_NOTHING;
}

static enum cot_why back_sense(struct turn *t, struct cot_entry *e)
{
    uint32_t target = e->about ? cot_winner(t->b, e->about) : 0;
    if (!target) return COT_WHY_NONE;
    const struct cot_entry *w = cot_entry_at(t->b, target);
    if (e->part == COT_PART_MANAGER) return COT_WHY_NONE;
    if (!e->member || !w->member || cot_root(t->b, e->member) != cot_root(t->b, w->member)) return COT_WHY_NOT_OWN;
    if (!want(t, target, STEP_BASE) || answered(t, w) != COT_BOOKED || t->waits) return COT_WHY_NONE;
    return cot_line_back(t->b, e, &e->detail);
}

/* --- Base
 * ---------------------------------------------------------------------------------------------------------------- */
static enum cot_why look(const struct cot_book *b, const struct cot_entry *e)
{
    if (e->bits & COT_E_TWICE) return COT_WHY_TWICE;
    if (e->bits & COT_E_FLAW) return COT_WHY_FLAW;
    if (e->bits & COT_E_RING) return COT_WHY_RING;
    uint32_t house = b->admin.house;
    return house && cot_entry_at(b, house)->house != e->house ? COT_WHY_HOUSE : COT_WHY_NONE;
}

static bool waits_for_word(enum cot_why why)
{
    return why == COT_WHY_AFTER_CLOSING || why == COT_WHY_BY_HAND;
}

static void set_base(struct cot_entry *e, enum cot_why why, bool hard)
{
    e->why = (uint8_t)why;
    e->base = why == COT_WHY_NONE    ? COT_BOOKED
              : why == COT_WHY_TWICE ? COT_TWICE
              : waits_for_word(why)  ? COT_REQUEST
                                     : COT_QUERIED;
    if (hard) e->bits |= COT_E_HARD;
    else e->bits &= (uint8_t)~COT_E_HARD;
    e->marks |= COT_M_BASE;
}

/* Line entries of the same line, earlier by place, must be final before one that is judged by the line's closing day.
 */
static bool line_ready(struct turn *t, const struct cot_entry *e)
{
    if (e->kind != COT_K_LINE && e->kind != COT_K_WITHDRAWN) return true;
    if (!e->about || e->part != COT_PART_BUYER) return true;
    struct cot_book *b = t->b;
    uint32_t root = cot_root(b, e->about);
    if (!cot_tidy(b, root)) {
        t->failed = true;
        return false;
    }
    size_t low = b->stack.count;
    uint32_t i = b->run.root == root && b->run.mention ? b->run.mention : cot_slot_at(b, root)->first;
    if (cot_place_cmp(b, cot_entry_at(b, cot_mention_at(b, i)->entry), e) > 0) i = cot_slot_at(b, root)->first;
    for (; i && cot_entry_at(b, cot_mention_at(b, i)->entry) != e; i = cot_mention_at(b, i)->next) {
        uint32_t m = cot_mention_at(b, i)->entry;
        if (cot_entry_at(b, m)->kind == COT_K_LINE) (void)want(t, m, STEP_FINAL);
    }
    /* The earliest on top, so that each finds those before it done. */
    for (size_t high = b->stack.count; low + 1 < high; low++) {
        uint32_t swap = b->stack.item[low];
        b->stack.item[low] = b->stack.item[--high];
        b->stack.item[high] = swap;
    }
    return !t->waits;
}

/* What no answer can mend. */
static enum cot_why hard_reason(struct turn *t, struct cot_entry *e)
{
    struct cot_book *b = t->b;
    struct named n = name_all(t, e);
    e->why_type = (uint8_t)n.type;
    if (n.since > e->since) e->since = n.since;
    if (n.why != COT_WHY_NONE) return n.why;
    enum cot_why why = match_farm(b, e);
    if (why != COT_WHY_NONE) return why;
    uint32_t target = e->about ? cot_winner(b, e->about) : 0;
    if (e->kind == COT_K_ANSWER) return answer_sense(t, e);
    if (e->kind == COT_K_TAKEN_BACK)
        return target && cot_is_admin(cot_entry_at(b, target)) ? COT_WHY_NEVER_BACK : COT_WHY_NONE;
    return t->waits ? COT_WHY_NONE : cot_sense_of(b, e, &e->detail);
}

/* What a manager may let pass. */
static enum cot_why soft_reason(struct turn *t, struct cot_entry *e)
{
    if (e->kind == COT_K_TAKEN_BACK) return back_sense(t, e);
    if ((e->kind != COT_K_LINE && e->kind != COT_K_WITHDRAWN) || !e->about || !line_ready(t, e)) return COT_WHY_NONE;
    return cot_line_change(t->b, e, &e->detail);
}

static void base_step(struct turn *t, struct cot_entry *e)
{
    if (cot_is_admin(e)) {
        e->marks |= COT_M_BASE; /* judged with the admin rows */
        return;
    }
    e->since = cot_judged_at(e);
    e->detail = 0;
    enum cot_why may = cot_may(t->b, e), why = look(t->b, e);
    if (why == COT_WHY_NONE) why = hard_reason(t, e);
    bool hard = why != COT_WHY_NONE;
    if (t->waits) return;
    if (!hard) why = may != COT_WHY_NONE ? may : soft_reason(t, e);
    if (!t->waits) set_base(e, why, hard);
}

static void final_step(struct turn *t, uint32_t index, struct cot_entry *e)
{
    if (!want(t, index, STEP_BASE)) return;
    uint32_t root = cot_root_of(t->b, e);
    enum cot_verdict v = answered(t, e);
    bool back = v != COT_TWICE && !cot_is_admin(e) && taken_back(t, root);
    if (t->waits) return;
    e->verdict = (uint8_t)(back ? COT_TAKEN_BACK : v);
    e->marks |= COT_M_FINAL;
    if (v == COT_BOOKED && e->base != COT_BOOKED) e->marks |= COT_M_ANSWERED;
    else e->marks &= (uint8_t)~COT_M_ANSWERED;
}

/* Works the stack off: a step that waits stays open below what it waits for. */
bool cot_judge(struct cot_book *b, uint32_t entry)
{
    struct turn t = {b, false, false};
    b->stack.count = 0;
    if (!(cot_entry_at(b, entry)->marks & COT_M_FINAL)) push(&t, entry, STEP_FINAL);
    while (b->stack.count && !t.failed) {
        size_t top = b->stack.count - 1;
        uint32_t index = b->stack.item[top] >> 1, step = b->stack.item[top] & 1;
        struct cot_entry *e = cot_entry_at(b, index);
        uint8_t done = step == STEP_BASE ? COT_M_BASE : COT_M_FINAL,
                open = step == STEP_BASE ? COT_M_BASE_OPEN : COT_M_FINAL_OPEN;
        t.waits = false;
        if (!(e->marks & done)) {
            if (step == STEP_BASE) base_step(&t, e);
            else final_step(&t, index, e);
        }
        if (!(e->marks & done) && !t.failed) {
            e->marks |= open;
            continue;
        }
        b->stack.count = top;
        e->marks &= (uint8_t)~open;
    }
    return !t.failed;
}
