/* Digests and what names them: slots in a hash table, aliases of carried digests, and the lists of mentions. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

/* Digests are random already: eight of their bytes are the hash. */
static uint32_t hash_of(const struct cot_id *id)
{
    uint64_t h;
    memcpy(&h, id->b, sizeof h);
    return (uint32_t)(h ^ (h >> 32));
}

static uint32_t place_in(const struct cot_book *b, const struct cot_id *id, uint32_t hash)
{
    uint32_t mask = b->table_size - 1, at = hash & mask;
    for (; b->table[at].slot; at = (at + 1) & mask)
        if (b->table[at].hash == hash && cot_id_cmp(&cot_slot_at(b, b->table[at].slot)->id, id) == 0) break;
    return at;
}

uint32_t cot_lookup(const struct cot_book *b, const struct cot_id *id)
{
    return b->table_size ? b->table[place_in(b, id, hash_of(id))].slot : 0;
}

static bool widen(struct cot_book *b)
{
    uint32_t size = b->table_size ? b->table_size * 2 : 1024, mask = size - 1;
    struct cot_cell *table = calloc(size, sizeof *table);
    if (!table) return false;
    for (uint32_t i = 0; i < b->table_size; i++) {
        struct cot_cell cell = b->table[i];
        uint32_t at = cell.hash & mask;
        if (!cell.slot) continue;
        while (table[at].slot) at = (at + 1) & mask;
        table[at] = cell;
    }
    free(b->table);
    b->table = table;
    b->table_size = size;
    return true;
}

uint32_t cot_intern(struct cot_book *b, const struct cot_id *id)
{
    if (b->slots.count + b->slots.count / 2 >= b->table_size && !widen(b)) return 0;
    uint32_t hash = hash_of(id), at = place_in(b, id, hash);
    if (b->table[at].slot) return b->table[at].slot;
    uint32_t slot = cot_vec_add(&b->slots);
    if (!slot) return 0;
    cot_slot_at(b, slot)->id = *id;
    b->table[at] = (struct cot_cell){slot, hash};
    return slot;
}

uint32_t cot_root(const struct cot_book *b, uint32_t slot)
{
    struct cot_slot *s = cot_slot_at(b, slot);
    if (!(s->bits & COT_S_ALIAS)) return slot;
    uint32_t root = s->winner;
    while (cot_slot_at(b, root)->bits & COT_S_ALIAS) root = cot_slot_at(b, root)->winner;
    while (slot != root) { /* the next walk is short */
        s = cot_slot_at(b, slot);
        slot = s->winner;
        s->winner = root;
    }
    return root;
}

/* Hangs all that names `from` into the list of `to`. */
static void splice(struct cot_book *b, uint32_t from, uint32_t to)
{
    struct cot_slot *f = cot_slot_at(b, from), *t = cot_slot_at(b, to);
    if (!f->first) return;
    if (t->first) cot_mention_at(b, t->last)->next = f->first;
    else t->first = f->first;
    t->last = f->last;
    t->bits |= COT_S_UNTIDY;
    f->first = f->last = 0;
    uint32_t *end = &f->special;
    while (*end) end = &cot_mention_at(b, *end)->next;
    *end = t->special;
    t->special = f->special;
    f->special = 0;
}

bool cot_alias(struct cot_book *b, uint32_t slot, uint32_t to)
{
    uint32_t root = cot_root(b, to);
    if (root == slot) return false;
    struct cot_slot *s = cot_slot_at(b, slot);
    splice(b, slot, root);
    s->bits |= COT_S_ALIAS;
    s->winner = root;
    return true;
}

void cot_mention_add(struct cot_book *b, uint32_t slot, uint32_t entry)
{
    struct cot_slot *s = cot_slot_at(b, cot_root(b, slot));
    if (s->last && cot_mention_at(b, s->last)->entry == entry) return; /* named twice by one entry */
    uint32_t i = cot_vec_add(&b->mentions);
    cot_mention_at(b, i)->entry = entry;
    if (s->last) cot_mention_at(b, s->last)->next = i;
    else s->first = i;
    s->last = i;
    s->bits |= COT_S_UNTIDY;
    if (!cot_is_special(cot_entry_at(b, entry)) || cot_entry_at(b, entry)->about != slot) return;
    i = cot_vec_add(&b->mentions);
    *cot_mention_at(b, i) = (struct cot_mention){entry, s->special};
    s->special = i;
}

int64_t cot_place_time(const struct cot_entry *e)
{
    if (e->position == 0) return e->clock;
    if (e->bits & COT_E_BY_RECEIPT) return e->receipt;
    return e->clock < e->receipt ? e->clock : e->receipt;
}

int cot_place_cmp(const struct cot_book *b, const struct cot_entry *x, const struct cot_entry *y)
{
    int64_t tx = cot_place_time(x), ty = cot_place_time(y);
    if (tx != ty) return tx < ty ? -1 : 1;
    if (x->tag != y->tag) return x->tag < y->tag ? -1 : 1;
    if (x->number != y->number) return x->number < y->number ? -1 : 1;
    return cot_id_cmp(&cot_slot_at(b, x->slot)->id, &cot_slot_at(b, y->slot)->id);
}

void cot_untidy(struct cot_book *b, const struct cot_entry *e)
{
    if (e->about) cot_slot_at(b, cot_root(b, e->about))->bits |= COT_S_UNTIDY;
    if (e->farm) cot_slot_at(b, cot_root(b, e->farm))->bits |= COT_S_UNTIDY;
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p))
        for (uint32_t i = 0; cot_field_thing((enum cot_field)p.field) && p.type != COT_T_NONE && i < p.len; i++)
            cot_slot_at(b, cot_root(b, cot_packed_member(&p, i)))->bits |= COT_S_UNTIDY;
}

static int mention_order(const void *ctx, uint32_t x, uint32_t y)
{
    const struct cot_book *b = ctx;
    return cot_place_cmp(b, cot_entry_at(b, cot_mention_at(b, x)->entry), cot_entry_at(b, cot_mention_at(b, y)->entry));
}

static bool sort_mentions(struct cot_book *b, struct cot_slot *s, size_t n)
{
    uint32_t small[64], *item = n <= 32 ? small : malloc(2 * n * sizeof *item);
    if (!item) return false;
    size_t k = 0;
    for (uint32_t i = s->first; i; i = cot_mention_at(b, i)->next) item[k++] = i;
    cot_sort(item, item + n, n, mention_order, b);
    for (k = 0; k + 1 < n; k++) cot_mention_at(b, item[k])->next = item[k + 1];
    cot_mention_at(b, item[n - 1])->next = 0;
    s->first = item[0];
    s->last = item[n - 1];
    if (item != small) free(item);
    return true;
}

/* One entry may have named a thing by its old and its new digest. */
static void drop_doubles(struct cot_book *b, struct cot_slot *s)
{
    for (uint32_t i = s->first; i; i = cot_mention_at(b, i)->next) {
        struct cot_mention *m = cot_mention_at(b, i);
        while (m->next && cot_mention_at(b, m->next)->entry == m->entry) {
            if (m->next == s->last) s->last = i;
            m->next = cot_mention_at(b, m->next)->next;
        }
    }
}

bool cot_tidy(struct cot_book *b, uint32_t root)
{
    struct cot_slot *s = cot_slot_at(b, root);
    if (!(s->bits & COT_S_UNTIDY)) return true;
    size_t n = 0;
    bool sorted = true;
    for (uint32_t i = s->first, before = 0; i; before = i, i = cot_mention_at(b, i)->next, n++)
        if (before && mention_order(b, before, i) > 0) sorted = false;
    if (!sorted && !sort_mentions(b, s, n)) return false;
    drop_doubles(b, s);
    s->bits &= ~(uint32_t)COT_S_UNTIDY;
    return true;
}

uint32_t cot_tag_pack(const char *tag)
{
    uint32_t t = 0;
    for (int i = 0; i < COT_TAG_MAX && tag[i]; i++) t |= (uint32_t)(unsigned char)tag[i] << (24 - 8 * i);
    return t;
}

void cot_tag_text(uint32_t packed, char out[static COT_TAG_MAX + 1])
{
    for (int i = 0; i < COT_TAG_MAX; i++) out[i] = (char)(packed >> (24 - 8 * i));
    out[COT_TAG_MAX] = '\0';
}
