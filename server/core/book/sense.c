/* What cannot be: more cells than the trays have, trays beyond the batch. What did happen stands whatever its quantity.
 */
#include "book/in.h"

struct looked_for { /* one field, as it stood before one entry */
    const struct cot_book *b;
    enum cot_field field;
    const struct cot_entry *before, *latest;
    struct cot_packed *out;
    bool found;
};

static void take_change(struct looked_for *l, const struct cot_entry *m)
{
    if (l->before && cot_place_cmp(l->b, m, l->before) >= 0) return;
    if (l->latest && cot_place_cmp(l->b, m, l->latest) < 0) return;
    struct cot_packed_at it = cot_packed_start(m);
    struct cot_packed p;
    while (cot_packed_next(&it, &p)) {
        if (p.field != l->field) continue;
        l->latest = m;
        *l->out = p;
        l->found = p.type != COT_T_NONE;
    }
}

/* Which of very many entries are booked changes; NULL: not many, or not all judged yet. */
static const struct cot_memo *changes_known(const struct cot_book *b, uint32_t root)
{
    struct cot_memos *memos = &((struct cot_book *)(uintptr_t)b)->memos;
    struct cot_memo *memo = cot_memo_find(memos, root);
    if (memo && memo->changes_known) return memo;
    uint32_t looked = 0, from = (uint32_t)memos->pool.count;
    for (uint32_t i = cot_slot_at(b, root)->special; i && looked <= COT_MEMO_LONG; i = cot_mention_at(b, i)->next)
        looked++;
    if (looked <= COT_MEMO_LONG) return NULL;
    for (uint32_t i = cot_slot_at(b, root)->special; i; i = cot_mention_at(b, i)->next) {
        uint32_t entry = cot_mention_at(b, i)->entry;
        const struct cot_entry *m = cot_entry_at(b, entry);
        if (!cot_is_change(m)) continue;
        bool good = (m->marks & COT_M_FINAL) && (m->verdict != COT_BOOKED || cot_list_push(&memos->pool, entry));
        if (good) continue;
        memos->pool.count = from;
        return NULL;
    }
    memo = cot_memo_make(memos, root);
    if (!memo) return NULL;
    memo->changes_known = true;
    memo->change = from;
    memo->changes = (uint32_t)memos->pool.count - from;
    return memo;
}

bool cot_register(const struct cot_book *b, uint32_t root, enum cot_field field, const struct cot_entry *before,
                  struct cot_packed *out)
{
    const struct cot_slot *s = cot_slot_at(b, root);
    if (!s->winner) return false;
    struct looked_for l = {b, field, before, NULL, out, cot_packed_find(cot_entry_at(b, s->winner), field, out)};
    const struct cot_memo *memo = changes_known(b, root);
    for (uint32_t i = 0; memo && i < memo->changes; i++)
        take_change(&l, cot_entry_at(b, b->memos.pool.item[memo->change + i]));
    for (uint32_t i = memo ? 0 : s->special; i; i = cot_mention_at(b, i)->next) {
        const struct cot_entry *m = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if (cot_is_change(m) && (m->marks & COT_M_FINAL) && m->verdict == COT_BOOKED) take_change(&l, m);
    }
    return l.found;
}

static int64_t register_int(const struct cot_book *b, uint32_t root, enum cot_field field)
{
    struct cot_packed p;
    return root && cot_register(b, root, field, NULL, &p) ? p.i : 0;
}

struct cot_cells cot_batch_cells(const struct cot_book *b, const struct cot_entry *batch)
{
    struct cot_cells c = {0, 0, 0};
    uint32_t slot = cot_packed_slot(batch, COT_F_FORMAT), format = slot ? cot_root(b, slot) : 0;
    int64_t rows = register_int(b, format, COT_F_ROWS), cols = register_int(b, format, COT_F_COLS);
    struct cot_packed p;
    if (cot_packed_find(batch, COT_F_TRAY_ROWS, &p)) {
        rows = p.i;
        c.trays = 1;
    } else {
        c.trays = cot_packed_int(batch, COT_F_TRAYS, 0);
    }
    c.tray = rows * cols;
    c.all = c.tray * c.trays;
    return c;
}

static int64_t figures(const struct cot_tray_count *c)
{
    int64_t known = 0;
    const int32_t part[3] = {c->usable, c->blanks, c->culls};
    for (int i = 0; i < 3; i++)
        if (part[i] > 0) known += part[i];
    return c->looked > known ? c->looked : known;
}

static enum cot_why sense_count(const struct cot_entry *e, const struct cot_cells *c, int32_t *detail)
{
    struct cot_packed p;
    struct cot_tray_count t;
    if (cot_packed_find(e, COT_F_COUNTS, &p)) {
        struct cot_trays_at it = cot_packed_trays(&p);
        while (cot_packed_tray(&it, &t)) {
            *detail = t.tray;
            if (t.tray > c->trays || t.tray < 1) return COT_WHY_NO_TRAY;
            if (figures(&t) > c->tray) return COT_WHY_TRAY_CELLS;
        }
        return COT_WHY_NONE;
    }
    int64_t trays = cot_packed_int(e, COT_F_TRAYS, c->trays), looked = cot_packed_int(e, COT_F_LOOKED, 0);
    *detail = (int32_t)(trays < INT32_MAX ? trays : INT32_MAX);
    if (trays > c->trays) return COT_WHY_NO_TRAY;
    return looked > trays * c->tray ? COT_WHY_POOLED : COT_WHY_NONE;
}

static enum cot_why sense_which(const struct cot_entry *e, const struct cot_cells *c, int32_t *detail)
{
    struct cot_packed p;
    if (!cot_packed_find(e, COT_F_WHICH, &p)) return COT_WHY_NONE;
    struct cot_trays_at it = cot_packed_trays(&p);
    while (cot_packed_number(&it, detail))
        if (*detail > c->trays || *detail < 1) return COT_WHY_NO_TRAY;
    return COT_WHY_NONE;
}

static enum cot_why sense_sown(const struct cot_book *b, const struct cot_entry *e, int32_t *detail)
{
    struct cot_packed p;
    if (cot_packed_int(e, COT_F_TRAYS, 0) > 0) return COT_WHY_NONE;
    if (e->kind != COT_K_SOWN || !cot_packed_find(e, COT_F_TRAY_ROWS, &p)) return COT_WHY_NO_AMOUNT;
    uint32_t slot = cot_packed_slot(e, COT_F_FORMAT);
    int64_t rows = register_int(b, slot ? cot_root(b, slot) : 0, COT_F_ROWS);
    *detail = (int32_t)rows;
    return rows && p.i > rows ? COT_WHY_ROWS : COT_WHY_NONE;
}

enum cot_why cot_sense_of(const struct cot_book *b, const struct cot_entry *e, int32_t *detail)
{
    if (e->kind == COT_K_SOWN || e->kind == COT_K_POTTED) return sense_sown(b, e, detail);
    if (cot_kind_row((enum cot_kind)e->kind)->about != COT_THING_BATCH || !e->about) return COT_WHY_NONE;
    uint32_t winner = cot_winner(b, e->about);
    if (!winner) return COT_WHY_NONE; /* a farm's view */
    struct cot_cells c = cot_batch_cells(b, cot_entry_at(b, winner));
    if (c.tray == 0) return COT_WHY_NONE;
    return e->kind == COT_K_COUNT ? sense_count(e, &c, detail) : sense_which(e, &c, detail);
}
