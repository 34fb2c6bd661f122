/* Flags: what is shown beside booked facts. They look across entries, so they are read when somebody asks. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

static bool booked(const struct cot_entry *e)
{
    return e->verdict == COT_BOOKED;
}

/* Flags `e`; the first flag that has another entry names it. */
static void flag(struct cot_entry *e, unsigned f, uint32_t other)
{
    e->flags |= (uint8_t)f;
    if (other && !e->other) e->other = other;
}

/* --- Clashes
 * --------------------------------------------------------------------------------------------------------------- An
 * entry made at ledger position `seen` and received at `position` knows nothing of what came between. Two changes of a
 * field clash when these spans overlap. Sorted by position, the changes that may clash with one are a tail of the list;
 * of the tail it is enough to know the one that had seen least, and the one of another device. */
struct touch {
    uint8_t field;
    uint32_t entry, tag;
    int64_t seen, position;
};

static int by_field_position(const void *x, const void *y)
{
    const struct touch *p = x, *q = y;
    if (p->field != q->field) return p->field < q->field ? -1 : 1;
    if (p->position != q->position) return p->position < q->position ? -1 : 1;
    if (p->tag != q->tag) return p->tag < q->tag ? -1 : 1;
    return p->seen < q->seen ? -1 : p->seen > q->seen;
}

static bool sees_less(const struct cot_book *b, const struct touch *p, const struct touch *q)
{
    if (!q) return true;
    if (p->seen != q->seen) return p->seen < q->seen;
    return cot_place_cmp(b, cot_entry_at(b, p->entry), cot_entry_at(b, q->entry)) < 0;
}

struct least {
    const struct touch *first, *other;
}; /* other: of another device than first */

static void add_least(const struct cot_book *b, struct least *l, const struct touch *t)
{
    if (sees_less(b, t, l->first)) {
        if (l->first && l->first->tag != t->tag) l->other = l->first;
        l->first = t;
    } else if (t->tag != l->first->tag && sees_less(b, t, l->other)) {
        l->other = t;
    }
}

/* First of the n touches whose position is above `seen`. */
static size_t tail_start(const struct touch *t, size_t n, int64_t seen)
{
    size_t low = 0, high = n;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (t[mid].position <= seen) low = mid + 1;
        else high = mid;
    }
    return low;
}

static void clash_field(struct cot_book *b, const struct touch *t, size_t n, struct least *tail)
{
    tail[n] = (struct least){NULL, NULL};
    for (size_t i = n; i-- > 0;) {
        tail[i] = tail[i + 1];
        add_least(b, &tail[i], &t[i]);
    }
    for (size_t i = 0; i < n; i++) {
        const struct least *l = &tail[tail_start(t, n, t[i].seen)];
        const struct touch *o = l->first && l->first->tag == t[i].tag ? l->other : l->first;
        if (o && o->seen < t[i].position) flag(cot_entry_at(b, t[i].entry), COT_FLAG_CLASH, o->entry);
    }
}

static size_t touches_of(const struct cot_book *b, const struct cot_list *changes, struct touch *out)
{
    size_t n = 0;
    for (size_t i = 0; i < changes->count; i++) {
        const struct cot_entry *e = cot_entry_at(b, changes->item[i]);
        struct cot_packed_at it = cot_packed_start(e);
        struct cot_packed p;
        for (; cot_packed_next(&it, &p); n++)
            if (out) out[n] = (struct touch){p.field, changes->item[i], e->tag, e->seen, cot_judged_at(e)};
    }
    return n;
}

static bool flag_clashes(struct cot_book *b, uint32_t root, struct cot_list *changes)
{
    if (!cot_changes_of(b, root, changes)) return false;
    if (changes->count < 2) return true;
    size_t n = touches_of(b, changes, NULL);
    struct touch *t = malloc((n + 1) * sizeof *t);
    struct least *tail = malloc((n + 1) * sizeof *tail);
    if (t && tail) {
        touches_of(b, changes, t);
        qsort(t, n, sizeof *t, by_field_position);
        for (size_t from = 0, to; from < n; from = to) {
            for (to = from; to < n && t[to].field == t[from].field; to++) continue;
            clash_field(b, t + from, to - from, tail);
        }
    }
    bool ok = t && tail;
    free(t);
    free(tail);
    return ok;
}

static bool all_clashes(struct cot_book *b)
{
    struct cot_list changes = {0};
    bool ok = true;
    for (int type = 1; type < COT_THING_COUNT; type++) {
        for (size_t i = 0; ok && i < b->makers[type].count; i++) {
            const struct cot_entry *e = cot_entry_at(b, b->makers[type].item[i]);
            uint32_t root = cot_root_of(b, e);
            if (booked(e) && (cot_slot_at(b, root)->special || e->kind == COT_K_HOUSE))
                ok = flag_clashes(b, root, &changes);
        }
    }
    cot_list_free(&changes);
    return ok;
}

/* --- Batches: more out than in, days that cannot be
 * ----------------------------------------------------------------------------- */
#define NO_DAY INT64_MIN

static int64_t came_back(struct cot_book *b, const struct cot_entry *handed)
{
    int64_t plants = 0;
    if (!cot_tidy(b, cot_root_of(b, handed))) return 0;
    for (uint32_t i = cot_slot_at(b, cot_root_of(b, handed))->first; i; i = cot_mention_at(b, i)->next) {
        const struct cot_entry *m = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if (m->kind == COT_K_BACK && booked(m) && cot_packed_int(m, COT_F_WERE_USABLE, 1))
            plants += cot_packed_int(m, COT_F_PLANTS, 0);
    }
    return plants;
}

/* Plants that an entry takes out of the batch. */
static int64_t takes_out(struct cot_book *b, const struct cot_entry *e, const struct cot_cells *c)
{
    struct cot_packed p;
    switch ((enum cot_kind)e->kind) {
    case COT_K_HANDED:
        return cot_packed_int(e, COT_F_PLANTS, 0) - came_back(b, e);
    case COT_K_POTTED:
        return cot_packed_int(e, COT_F_PLANTS, 0) + cot_packed_int(e, COT_F_LOST, 0);
    case COT_K_LOST:
        if (cot_packed_find(e, COT_F_PLANTS, &p)) return p.i;
        if (cot_packed_find(e, COT_F_TRAYS, &p)) return p.i * c->tray;
        return cot_packed_find(e, COT_F_WHICH, &p) ? p.len * c->tray : 0;
    default:
        return 0;
    }
}

static bool flag_batch(struct cot_book *b, const struct cot_entry *batch)
{
    uint32_t root = cot_root_of(b, batch);
    struct cot_cells c = cot_batch_cells(b, batch);
    int64_t sown = cot_packed_int(batch, COT_F_DAY, NO_DAY), out = 0;
    if (!cot_tidy(b, root)) return false;
    for (uint32_t i = cot_slot_at(b, root)->first; i; i = cot_mention_at(b, i)->next) {
        struct cot_entry *e = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if (!booked(e) || !(cot_kind_row((enum cot_kind)e->kind)->flags & COT_KIND_PHYSICAL)) continue;
        if (cot_packed_int(e, COT_F_DAY, INT64_MAX) < sown) flag(e, COT_FLAG_UNCLEAR_DAY, 0);
        int64_t taken = takes_out(b, e, &c);
        out += taken;
        if (c.all && taken > 0 && out > c.all) flag(e, COT_FLAG_OVER, 0);
    }
    return true;
}

static bool all_batches(struct cot_book *b)
{
    const struct cot_list *batches = &b->makers[COT_THING_BATCH];
    for (size_t i = 0; i < batches->count; i++) {
        const struct cot_entry *e = cot_entry_at(b, batches->item[i]);
        if (booked(e) && !flag_batch(b, e)) return false;
    }
    return true;
}

static void all_days(struct cot_book *b)
{
    int offset = cot_rule_offset(b, INT64_MAX);
    for (uint32_t i = 1; i < b->entries.count; i++) {
        struct cot_entry *e = cot_entry_at(b, i);
        if (!booked(e) || !(cot_kind_row((enum cot_kind)e->kind)->flags & COT_KIND_PHYSICAL)) continue;
        int64_t received = cot_day_at(e->position ? e->receipt : e->clock, offset);
        if (cot_packed_int(e, COT_F_DAY, NO_DAY) > received + 1) flag(e, COT_FLAG_UNCLEAR_DAY, 0);
    }
}

/* --- Twins and codes
 * ----------------------------------------------------------------------------------------------------------------- */
struct key { /* entries with equal keys are likely the same; texts are compared by bytes */
    uint32_t a, b;
    int64_t x, y, z;
    const char *text;
    uint32_t entry;
};

static int key_cmp(const struct key *p, const struct key *q)
{
    if (p->a != q->a) return p->a < q->a ? -1 : 1;
    if (p->b != q->b) return p->b < q->b ? -1 : 1;
    if (p->x != q->x) return p->x < q->x ? -1 : 1;
    if (p->y != q->y) return p->y < q->y ? -1 : 1;
    if (p->z != q->z) return p->z < q->z ? -1 : 1;
    return strcmp(p->text, q->text);
}

static int by_key(const void *x, const void *y)
{
    return key_cmp(x, y);
}

static uint32_t named(const struct cot_book *b, const struct cot_entry *e, enum cot_field f)
{
    uint32_t slot = cot_packed_slot(e, f);
    return slot ? cot_root(b, slot) : 0;
}

static bool key_of_sowing(struct cot_book *b, uint32_t i, struct key *k)
{
    const struct cot_entry *e = cot_entry_at(b, i);
    struct cot_packed p;
    *k = (struct key){.a = named(b, e, COT_F_LOT),
                      .b = named(b, e, COT_F_FORMAT),
                      .x = cot_packed_int(e, COT_F_DAY, 0),
                      .y = cot_packed_int(e, COT_F_TRAYS, 0),
                      .z = cot_packed_int(e, COT_F_TRAY_ROWS, 0),
                      .entry = i};
    k->text = cot_packed_find(e, COT_F_SHARED, &p) ? p.text : "";
    return e->kind == COT_K_SOWN;
}

static bool key_of_handover(struct cot_book *b, uint32_t i, struct key *k)
{
    const struct cot_entry *e = cot_entry_at(b, i);
    *k = (struct key){.a = named(b, e, COT_F_LINE),
                      .b = named(b, e, COT_F_BATCH),
                      .x = cot_packed_int(e, COT_F_DAY, 0),
                      .y = cot_packed_int(e, COT_F_PLANTS, 0),
                      .text = "",
                      .entry = i};
    return true;
}

static bool key_of_code(struct cot_book *b, uint32_t i, struct key *k)
{
    struct cot_packed p;
    *k = (struct key){.text = "", .entry = i};
    if (!cot_register(b, cot_root_of(b, cot_entry_at(b, i)), COT_F_CODE, NULL, &p)) return false;
    k->text = p.text;
    return true;
}

/* Flags each of a group that has one of another device (or, for codes, any other) and names the earliest of those. */
static void flag_group(struct cot_book *b, const struct key *k, size_t n, unsigned f)
{
    const struct cot_entry *first = NULL, *second = NULL; /* earliest; earliest of another device, or next */
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < n; i++) {
            const struct cot_entry *e = cot_entry_at(b, k[i].entry);
            const struct cot_entry **best = pass ? &second : &first;
            if (pass && (e == first || (f == COT_FLAG_TWIN && e->tag == first->tag))) continue;
            if (!*best || cot_place_cmp(b, e, *best) < 0) *best = e;
        }
    }
    if (!second) return;
    for (size_t i = 0; i < n; i++) {
        struct cot_entry *e = cot_entry_at(b, k[i].entry);
        bool like_first = e == first || (f == COT_FLAG_TWIN && e->tag == first->tag);
        flag(e, f, cot_entry_index(b, like_first ? second : first));
    }
}

typedef bool key_maker(struct cot_book *b, uint32_t entry, struct key *k);

static bool flag_equal(struct cot_book *b, const enum cot_thing_type *types, size_t type_count, key_maker *make,
                       unsigned f)
{
    size_t n = 0, most = 0;
    for (size_t t = 0; t < type_count; t++) most += b->makers[types[t]].count;
    struct key *k = malloc((most + 1) * sizeof *k);
    if (!k) return false;
    for (size_t t = 0; t < type_count; t++)
        for (size_t i = 0; i < b->makers[types[t]].count; i++) {
            uint32_t entry = b->makers[types[t]].item[i];
            if (booked(cot_entry_at(b, entry)) && make(b, entry, &k[n])) n++;
        }
    qsort(k, n, sizeof *k, by_key);
    for (size_t from = 0, to; from < n; from = to) {
        for (to = from + 1; to < n && key_cmp(&k[from], &k[to]) == 0; to++) continue;
        if (to - from > 1) flag_group(b, k + from, to - from, f);
    }
    free(k);
    return true;
}

bool cot_flags_read(struct cot_book *b)
{
    static const enum cot_thing_type batch[] = {COT_THING_BATCH}, handover[] = {COT_THING_HANDOVER},
                                     coded[] = {COT_THING_BATCH, COT_THING_LINE, COT_THING_PLANNED};
    if (b->flags_read) return true;
    for (uint32_t i = 1; i < b->entries.count; i++) {
        struct cot_entry *e = cot_entry_at(b, i);
        e->flags = 0;
        if (booked(e)) e->other = 0;
    }
    if (!all_clashes(b) || !all_batches(b)) return false;
    if (!flag_equal(b, batch, 1, key_of_sowing, COT_FLAG_TWIN)) return false;
    if (!flag_equal(b, handover, 1, key_of_handover, COT_FLAG_TWIN)) return false;
    if (!flag_equal(b, coded, 3, key_of_code, COT_FLAG_SAME_CODE)) return false;
    all_days(b);
    b->flags_read = b->read_anything = true;
    return true;
}
