/* The book's rows: making, putting, sizes. What they say is in book_*.c; book_in.h tells how it hangs together. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

struct cot_book *cot_book_new(const struct cot_id *farm)
{
    struct cot_book *b = calloc(1, sizeof *b);
    if (!b) return NULL;
    cot_vec_init(&b->entries, sizeof(struct cot_entry));
    cot_vec_init(&b->slots, sizeof(struct cot_slot));
    cot_vec_init(&b->mentions, sizeof(struct cot_mention));
    b->settled = 1;
    if (farm) {
        b->farm_view = true;
        b->farm = *farm;
    }
    return b;
}

void cot_book_free(struct cot_book *b)
{
    if (!b) return;
    cot_arena_free(&b->arena);
    cot_arena_free(&b->readings);
    cot_vec_free(&b->entries);
    cot_vec_free(&b->slots);
    cot_vec_free(&b->mentions);
    struct cot_list *lists[] = {&b->admin_rows, &b->carriers, &b->rings,     &b->dirty,
                                &b->stack,      &b->swept,    &b->catalogue, &b->unsent_rows};
    for (size_t i = 0; i < sizeof lists / sizeof lists[0]; i++) cot_list_free(lists[i]);
    for (int t = 0; t < COT_THING_COUNT; t++) cot_list_free(&b->makers[t]);
    cot_admin_free(&b->admin);
    cot_memos_free(&b->memos);
    free(b->table);
    free(b->reading);
    free(b->copy);
    free(b);
}

/* --- Putting
 * ---------------------------------------------------------------------------------------------------------- */
#define REFS_MAX 64
struct named_slots { /* the slots of all that a fact names */
    uint32_t about, farm, member, carries;
    uint32_t ref[REFS_MAX]; /* of identities in its values, in order */
    unsigned refs;
};

static bool intern_one(struct cot_book *b, bool present, const struct cot_id *id, uint32_t *slot)
{
    *slot = present ? cot_intern(b, id) : 0;
    return !present || *slot;
}

static bool intern_values(struct cot_book *b, const struct cot_fact *f, struct named_slots *n)
{
    for (unsigned i = 0; i < f->value_count && i < COT_FACT_FIELDS_MAX; i++) {
        const struct cot_value *v = &f->value[i];
        bool ids = v->type == COT_T_IDS || (v->type == COT_T_ID && !cot_is_key((enum cot_field)v->field));
        if (!ids || !cot_packable(v)) continue;
        uint32_t len = v->type == COT_T_ID ? 1 : v->len;
        for (uint32_t k = 0; k < len && n->refs < REFS_MAX; k++)
            if (!intern_one(b, true, &v->v.ids[k], &n->ref[n->refs++])) return false;
    }
    return true;
}

static bool intern_all(struct cot_book *b, const struct cot_fact *f, struct named_slots *n)
{
    n->refs = 0;
    return intern_one(b, f->has_about, &f->about, &n->about) && intern_one(b, f->has_farm, &f->farm, &n->farm) &&
           intern_one(b, f->has_member, &f->member, &n->member) &&
           intern_one(b, f->has_carries, &f->carries, &n->carries) && intern_values(b, f, n);
}

static uint8_t house_number(struct cot_book *b, const struct cot_house_id *house)
{
    uint32_t i = 0;
    while (i < b->house_count && memcmp(&b->houses[i], house, sizeof *house) != 0) i++;
    if (i == b->house_count && i < sizeof b->houses / sizeof b->houses[0]) b->houses[b->house_count++] = *house;
    return (uint8_t)i;
}

static void fill_entry(struct cot_book *b, struct cot_entry *e, const struct cot_row *row, const struct named_slots *n)
{
    const struct cot_fact *f = row->fact;
    *e = (struct cot_entry){
        .position = row->position,
        .receipt = row->receipt,
        .clock = f->clock,
        .seen = f->seen,
        .number = f->number,
        .tag = cot_tag_pack(f->tag),
        .tick = f->tick,
        .carries = n->carries,
        .about = n->about,
        .farm = n->farm,
        .member = n->member,
        .kind = (uint8_t)((unsigned)f->kind < COT_K_TOTAL ? f->kind : COT_K_UNKNOWN),
    };
    e->house = house_number(b, &f->house);
    e->bits =
        (uint8_t)((f->has_about ? COT_E_HAS_ABOUT : 0) | (f->has_farm ? COT_E_HAS_FARM : 0) |
                  (f->has_member ? COT_E_HAS_MEMBER : 0) | (f->flaw[0] || e->kind == COT_K_UNKNOWN ? COT_E_FLAW : 0));
}

/* Into the lists of all that it names. Room has been reserved. */
static void mention_all(struct cot_book *b, uint32_t entry, const struct cot_entry *e)
{
    if (e->about) cot_mention_add(b, e->about, entry);
    if (e->farm) cot_mention_add(b, e->farm, entry);
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p))
        for (uint32_t i = 0; cot_field_thing((enum cot_field)p.field) && p.type != COT_T_NONE && i < p.len; i++)
            cot_mention_add(b, cot_packed_member(&p, i), entry);
}

static bool reserve(struct cot_book *b)
{
    return cot_vec_reserve(&b->entries, 1) && cot_vec_reserve(&b->mentions, REFS_MAX + 4) &&
           cot_list_reserve(&b->admin_rows, 1) && cot_list_reserve(&b->carriers, 1) &&
           cot_list_reserve(&b->unsent_rows, 1) && cot_list_reserve(&b->dirty, 1);
}

static bool reserve_maker(struct cot_book *b, const struct cot_fact *f)
{
    if ((unsigned)f->kind >= COT_K_TOTAL) return true;
    enum cot_thing_type makes = cot_kind_row(f->kind)->makes;
    return makes == COT_THING_NONE || cot_list_reserve(&b->makers[makes], 1);
}

static void add_entry(struct cot_book *b, uint32_t slot, bool named_before, struct cot_entry *e, uint32_t index)
{
    struct cot_slot *s = cot_slot_at(b, slot);
    e->slot = slot;
    s->own = index;
    if (e->carries && cot_alias(b, slot, e->carries)) {
        b->carriers.item[b->carriers.count++] = index;
        b->carriers_stale = true;
        if (named_before) b->all_stale = b->admin_stale = true; /* what named it means another thing now */
    } else {
        e->carries = 0;
        if (s->winner) b->carriers_stale = true; /* somebody carries it already */
        else s->winner = index;
    }
    /* A circle can only close through an entry that was named before it came. */
    if (b->carriers.count && cot_slot_at(b, cot_root(b, slot))->first) b->carriers_stale = true;
    mention_all(b, index, e);
    struct cot_list *makers = &b->makers[cot_makes(e)];
    if (makers != &b->makers[COT_THING_NONE]) makers->item[makers->count++] = index;
    if (cot_is_admin(e)) {
        b->admin_rows.item[b->admin_rows.count++] = index;
        b->admin_stale = true;
    }
    if (e->position > b->position) b->position = e->position;
    if (e->position) return;
    b->unsent_rows.item[b->unsent_rows.count++] = index;
    b->unsent++;
}

/* A row known as unsent has come back with a position. */
static void became_sent(struct cot_book *b, uint32_t index, const struct cot_row *row)
{
    struct cot_entry *e = cot_entry_at(b, index);
    if (e->position || row->position <= 0) return;
    e->position = row->position;
    e->receipt = row->receipt;
    b->unsent--;
    if (e->position > b->position) b->position = e->position;
    if (cot_is_admin(e)) b->admin_stale = true;
    if (b->carriers.count) b->carriers_stale = true;
    cot_untidy(b, e);
    cot_mark(b, index);
    b->unsettled = true;
    cot_readings_drop(b);
}

enum cot_err cot_book_put(struct cot_book *b, const struct cot_row *row)
{
    const struct cot_fact *f = row->fact;
    struct named_slots n;
    uint32_t slots = b->slots.count, slot = cot_intern(b, &row->digest);
    if (!slot || !reserve(b) || !reserve_maker(b, f)) return COT_MEMORY;
    if (cot_slot_at(b, slot)->own) {
        became_sent(b, cot_slot_at(b, slot)->own, row);
        return COT_OK;
    }
    if (!intern_all(b, f, &n)) return COT_MEMORY;
    uint8_t *blob = cot_arena_room(&b->arena, cot_pack_most(f));
    if (!blob) return COT_MEMORY;
    uint32_t index = cot_vec_add(&b->entries);
    struct cot_entry *e = cot_entry_at(b, index);
    fill_entry(b, e, row, &n);
    cot_arena_keep(&b->arena, cot_pack(f, n.ref, blob, &e->value_count));
    e->blob = blob;
    add_entry(b, slot, slot < slots, e, index);
    b->unsettled = true;
    cot_readings_drop(b);
    return COT_OK;
}

void cot_book_size(const struct cot_book *b, int64_t *rows, int64_t *unsent, int64_t *position)
{
    *rows = b->entries.count - 1;
    *unsent = b->unsent;
    *position = b->position;
}

size_t cot_book_bytes(const struct cot_book *b)
{
    const struct cot_list *lists[] = {&b->admin_rows, &b->carriers, &b->rings,     &b->dirty,
                                      &b->stack,      &b->swept,    &b->catalogue, &b->unsent_rows};
    size_t bytes = sizeof *b + b->arena.held + b->readings.held + b->admin.arena.held + cot_vec_bytes(&b->entries) +
                   cot_vec_bytes(&b->slots) + cot_vec_bytes(&b->mentions) + (size_t)b->table_size * sizeof *b->table;
    for (size_t i = 0; i < sizeof lists / sizeof lists[0]; i++) bytes += lists[i]->cap * sizeof *lists[i]->item;
    for (int t = 0; t < COT_THING_COUNT; t++) bytes += b->makers[t].cap * sizeof *b->makers[t].item;
    bytes += b->reading_cap * sizeof *b->reading + b->copy_cap * sizeof *b->copy;
    bytes += b->admin.devices * sizeof *b->admin.device + b->admin.members * sizeof *b->admin.member +
             b->admin.rules * sizeof *b->admin.rule;
    return bytes;
}
