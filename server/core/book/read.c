/* Things for readers: what stands in their fields. Readings live until the next put. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

_Static_assert(COT_F_COUNT <= 128, "the mask of standing fields has 128 bits");

void cot_readings_drop(struct cot_book *b)
{
    if (!b->read_anything) return;
    cot_arena_clear(&b->readings);
    b->reading_count = b->copy_count = 0;
    memset(b->things, 0, sizeof b->things);
    memset(b->thing_count, 0, sizeof b->thing_count);
    memset(b->things_read, 0, sizeof b->things_read);
    b->notes = NULL;
    b->note_count = 0;
    b->notes_read = b->flags_read = b->read_anything = false;
}

/* The order in which changes land: by place; admin rows by position. */
static int land_order(const void *ctx, uint32_t x, uint32_t y)
{
    const struct cot_book *b = ctx;
    const struct cot_entry *p = cot_entry_at(b, x), *q = cot_entry_at(b, y);
    if (cot_is_admin(p) && cot_judged_at(p) != cot_judged_at(q)) return cot_judged_at(p) < cot_judged_at(q) ? -1 : 1;
    return cot_place_cmp(b, p, q);
}

static bool add_change(const struct cot_book *b, uint32_t entry, struct cot_list *out)
{
    const struct cot_entry *e = cot_entry_at(b, entry);
    return !cot_is_change(e) || e->verdict != COT_BOOKED || cot_list_push(out, entry);
}

bool cot_changes_of(struct cot_book *b, uint32_t root, struct cot_list *out)
{
    const struct cot_slot *s = cot_slot_at(b, root);
    bool ok = true;
    out->count = 0;
    if (s->winner && cot_entry_at(b, s->winner)->kind == COT_K_HOUSE) { /* rules need not say what they are about */
        for (size_t i = 0; i < b->admin_rows.count && ok; i++)
            if (cot_entry_at(b, b->admin_rows.item[i])->kind == COT_K_RULE)
                ok = add_change(b, b->admin_rows.item[i], out);
    } else {
        for (uint32_t i = s->special; i && ok; i = cot_mention_at(b, i)->next)
            ok = add_change(b, cot_mention_at(b, i)->entry, out);
    }
    if (!ok || out->count < 2) return ok;
    size_t n = out->count;
    if (!cot_list_reserve(out, n)) return false;
    cot_sort(out->item, out->item + n, n, land_order, b);
    return true;
}

/* --- Fields that stand
 * ---------------------------------------------------------------------------------------------------- */
struct standing {
    struct cot_packed value[COT_F_COUNT];
    bool set[COT_F_COUNT];
};

/* Plants and trays of an order line stand for each other: who changes one means it instead of the other. */
static void instead(struct standing *s, const struct cot_entry *e, enum cot_field changed, enum cot_field other)
{
    struct cot_packed p;
    if (cot_packed_find(e, changed, &p) && !cot_packed_find(e, other, &p)) s->set[other] = false;
}

static void land(struct standing *s, const struct cot_entry *e)
{
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p)) {
        s->value[p.field] = p;
        s->set[p.field] = p.type != COT_T_NONE;
    }
    if (e->kind != COT_K_LINE) return;
    instead(s, e, COT_F_PLANTS, COT_F_TRAYS);
    instead(s, e, COT_F_TRAYS, COT_F_PLANTS);
}

static bool read_fields(struct cot_book *b, struct cot_reading *r)
{
    struct standing s;
    struct cot_list changes = {0};
    memset(s.set, 0, sizeof s.set);
    land(&s, cot_entry_at(b, cot_slot_at(b, r->root)->winner));
    bool ok = cot_changes_of(b, r->root, &changes);
    for (size_t i = 0; i < changes.count && ok; i++) land(&s, cot_entry_at(b, changes.item[i]));
    cot_list_free(&changes);
    for (int f = 0; f < COT_F_COUNT; f++) r->value_count += s.set[f];
    struct cot_value *value = ok ? cot_arena_take(&b->readings, (r->value_count + 1) * sizeof *value, 8) : NULL;
    if (!value) return false;
    r->value = value;
    for (int f = 0; f < COT_F_COUNT; f++) {
        if (!s.set[f]) continue;
        r->mask[f / 64] |= (uint64_t)1 << (f % 64);
        if (!cot_unpack(b, &s.value[f], value++)) return false;
    }
    return true;
}

/* A line withdrawn, a planned sowing dropped. */
static bool ended(const struct cot_book *b, uint32_t root)
{
    for (uint32_t i = cot_slot_at(b, root)->special; i; i = cot_mention_at(b, i)->next) {
        const struct cot_entry *m = cot_entry_at(b, cot_mention_at(b, i)->entry);
        if ((m->kind == COT_K_WITHDRAWN || m->kind == COT_K_DROPPED) && m->verdict == COT_BOOKED) return true;
    }
    return false;
}

static struct cot_reading *new_reading(struct cot_book *b, uint32_t root, const struct cot_entry *made)
{
    struct cot_reading *r = cot_arena_take(&b->readings, sizeof *r, _Alignof(struct cot_reading));
    if (!r) return NULL;
    memset(r, 0, sizeof *r);
    r->book = b;
    r->root = root;
    uint32_t farm = cot_farm_of(b, made);
    r->thing.id = cot_slot_at(b, root)->id;
    r->thing.type = cot_makes(made);
    r->thing.made = cot_fact_of(b, cot_slot_at(b, root)->winner);
    if (farm) r->thing.farm = cot_slot_at(b, farm)->id;
    r->thing.gone = made->verdict == COT_TAKEN_BACK || ended(b, root);
    r->thing.inside = r;
    return r->thing.made && read_fields(b, r) ? r : NULL;
}

struct cot_reading *cot_reading_of(struct cot_book *b, uint32_t root)
{
    struct cot_slot *s = cot_slot_at(b, root);
    if (s->reading < b->reading_count && b->reading[s->reading]->root == root) return b->reading[s->reading];
    if (!s->winner) return NULL;
    const struct cot_entry *made = cot_entry_at(b, s->winner);
    if (cot_makes(made) == COT_THING_NONE || (made->verdict != COT_BOOKED && made->verdict != COT_TAKEN_BACK))
        return NULL;
    if (b->reading_count == b->reading_cap) {
        uint32_t cap = b->reading_cap ? b->reading_cap * 2 : 64;
        struct cot_reading **more = realloc(b->reading, cap * sizeof(*more));
        if (!more) return NULL;
        b->reading = more;
        b->reading_cap = cap;
    }
    b->read_anything = true;
    struct cot_reading *r = new_reading(b, root, made);
    if (!r) return NULL;
    s->reading = b->reading_count;
    b->reading[b->reading_count++] = r;
    return r;
}

/* --- Contracts of book.h
 * ------------------------------------------------------------------------------------------------------ */
const struct cot_thing *cot_book_thing(struct cot_book *b, const struct cot_id *id)
{
    if (!cot_settle(b)) return NULL;
    uint32_t slot = cot_lookup(b, id);
    struct cot_reading *r = slot ? cot_reading_of(b, cot_root(b, slot)) : NULL;
    return r ? &r->thing : NULL;
}

const struct cot_thing *cot_book_house(struct cot_book *b)
{
    if (!cot_settle(b) || !b->admin.house) return NULL;
    struct cot_reading *r = cot_reading_of(b, cot_root_of(b, cot_entry_at(b, b->admin.house)));
    return r ? &r->thing : NULL;
}

static int by_identity(const void *x, const void *y)
{
    const struct cot_thing *const *p = x, *const *q = y;
    return cot_id_cmp(&(*p)->id, &(*q)->id);
}

static bool read_things(struct cot_book *b, enum cot_thing_type type)
{
    const struct cot_list *makers = &b->makers[type];
    const struct cot_thing **things = cot_arena_take(&b->readings, (makers->count + 1) * sizeof *things, 8);
    b->read_anything = true;
    if (!things) return false;
    size_t n = 0;
    for (size_t i = 0; i < makers->count; i++) {
        const struct cot_entry *e = cot_entry_at(b, makers->item[i]);
        if (e->verdict != COT_BOOKED) continue;
        struct cot_reading *r = cot_reading_of(b, cot_root_of(b, e));
        if (!r) return false;
        things[n++] = &r->thing;
    }
    if (n) qsort(things, n, sizeof(*things), by_identity);
    b->things[type] = things;
    b->thing_count[type] = n;
    b->things_read[type] = true;
    return true;
}

const struct cot_thing *const *cot_book_things(struct cot_book *b, enum cot_thing_type type, size_t *n)
{
    *n = 0;
    if ((unsigned)type >= COT_THING_COUNT || !cot_settle(b)) return NULL;
    if (!b->things_read[type] && !read_things(b, type)) return NULL;
    *n = b->thing_count[type];
    return *n ? b->things[type] : NULL;
}

const struct cot_value *cot_thing_value(const struct cot_thing *t, enum cot_field f)
{
    const struct cot_reading *r = t->inside;
    if ((unsigned)f >= COT_F_COUNT || !(r->mask[f / 64] >> (f % 64) & 1)) return NULL;
    unsigned before = f >= 64 ? (unsigned)__builtin_popcountll(r->mask[0]) : 0;
    return &r->value[before + (unsigned)__builtin_popcountll(r->mask[f / 64] & (((uint64_t)1 << (f % 64)) - 1))];
}

int64_t cot_thing_int(const struct cot_thing *t, enum cot_field f, int64_t otherwise)
{
    const struct cot_value *v = cot_thing_value(t, f);
    if (!v) return otherwise;
    bool number = v->type == COT_T_INT || v->type == COT_T_BOOL || v->type == COT_T_DAY || v->type == COT_T_WORD;
    return number ? v->v.i : otherwise;
}

const struct cot_id *cot_thing_id(const struct cot_thing *t, enum cot_field f)
{
    const struct cot_value *v = cot_thing_value(t, f);
    return v && v->type == COT_T_ID ? v->v.ids : NULL;
}

const char *cot_thing_text(const struct cot_thing *t, enum cot_field f)
{
    const struct cot_value *v = cot_thing_value(t, f);
    return v && v->type == COT_T_TEXT ? v->v.text : "";
}

const char *cot_thing_name(const struct cot_thing *t)
{
    static const enum cot_field names[] = {COT_F_NAME, COT_F_CODE, COT_F_TAG};
    for (int i = 0; i < 3; i++)
        if (cot_thing_value(t, names[i])) return cot_thing_text(t, names[i]);
    return "";
}

void cot_book_device(struct cot_book *b, const char *tag, int64_t position, struct cot_standing *out)
{
    memset(out, 0, sizeof *out);
    out->part = COT_PART_AUDITOR;
    if (!cot_settle(b)) return;
    int64_t before = position < INT64_MAX ? position + 1 : position;
    if (strcmp(tag, "H") == 0) {
        struct cot_packed key;
        out->known = b->admin.house && b->admin.house_position < before;
        if (out->known && cot_packed_find(cot_entry_at(b, b->admin.house), COT_F_KEY, &key))
            memcpy(out->key.b, key.bytes, 32);
        return;
    }
    const struct cot_device_in *d = strlen(tag) <= COT_TAG_MAX ? cot_device_find(b, cot_tag_pack(tag)) : NULL;
    const struct cot_member_in *m = d ? cot_member_find(b, d->member) : NULL;
    if (!m || d->joined >= before) return;
    int part = cot_member_part(m, before);
    out->known = true;
    out->closed = d->closed < before;
    out->key = d->key;
    if (part >= 0) out->part = (enum cot_part)part;
    out->member = cot_slot_at(b, d->member)->id;
    if (m->farm) out->farm = cot_slot_at(b, cot_root(b, m->farm))->id;
    out->member_gone = true;
    for (uint32_t i = 0; i < b->admin.devices; i++) {
        const struct cot_device_in *o = &b->admin.device[i];
        if (o->member == d->member && o->joined < before && o->closed >= before) out->member_gone = false;
    }
}

/* A = 0 .. Z = 25, AA = 26 ...: the inverse of cot_tag_nth. */
static uint64_t tag_number(const char *tag)
{
    uint64_t n = 0;
    for (; *tag; tag++) n = n * 26 + (uint64_t)(*tag - 'A') + 1;
    return n - 1;
}

bool cot_book_next_tag(struct cot_book *b, char out[static COT_TAG_MAX + 1])
{
    if (!cot_settle(b)) return false;
    const struct cot_list *devices = &b->makers[COT_THING_DEVICE];
    size_t most = devices->count + 2; /* one of so many must be free, with H set aside */
    bool *used = calloc(most, 1);
    if (!used) return false;
    for (size_t i = 0; i < devices->count; i++) {
        struct cot_packed p;
        bool tag = cot_packed_find(cot_entry_at(b, devices->item[i]), COT_F_TAG, &p) && cot_tag_valid(p.text, p.len);
        if (tag && tag_number(p.text) < most) used[tag_number(p.text)] = true;
    }
    if (tag_number("H") < most) used[tag_number("H")] = true;
    uint32_t i = 0;
    while (used[i]) i++;
    free(used);
    return cot_tag_nth(i, out);
}
