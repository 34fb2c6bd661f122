/* The book's digest.
 *
 * Two books say the same when their digests are equal. The digest is written "R:HEX": R the rules version, HEX the
 * SHA-256 of the canonical bytes below. It goes with a position of the ledger (and its epoch); entries not sent yet are
 * left out, as if they had never been put.
 *
 * Integers are 8 bytes, two's complement, highest byte first. A text is its length in bytes as an integer, then its
 * UTF-8 bytes. An identity or key is its 32 bytes.
 *
 *   book   = "cotyledger book v1" rules things entries
 *   rules  = integer: COT_RULES_VERSION
 *   things = integer: how many; then each thing in order of identity (by bytes)
 *   thing  = identity, integer: type (enum cot_thing_type), integer: 1 when gone, else 0,
 *            identity: its farm (32 zero bytes when of none), integer: how many fields stand, then each in order of
 *            enum cot_field
 *   field  = integer: field number, integer: type (enum cot_type), value
 *   value  = INT, BOOL, DAY, WORD: integer;  TEXT: text;  ID: identity or key;
 *            IDS: integer: how many, identities;  NUMBERS: integer: how many, integers;
 *            TRAYS: integer: how many, then tray, looked, usable, blanks, culls, doubles as integers (-1: not taken)
 *   entries = integer: how many; then each entry in order of digest
 *   entry  = digest, integer: verdict (enum cot_verdict), integer: flags (enum cot_flag, added up)
 *
 * Things are those whose making is booked, or was taken back (gone). A reference to a digest that was carried over is
 * written as the identity it stands for. Field numbers, types, verdicts and flags are those of the headers; they are
 * frozen for a rules version. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

struct out {
    cot_sink *sink;
    void *ctx;
    size_t n;
    uint8_t bytes[4096];
};

static void flush(struct out *o)
{
    if (o->n) o->sink(o->ctx, o->bytes, o->n);
    o->n = 0;
}

static void put(struct out *o, const void *bytes, size_t n)
{
    if (n > sizeof o->bytes - o->n) flush(o);
    if (n > sizeof o->bytes) {
        o->sink(o->ctx, bytes, n);
        return;
    }
    if (n) memcpy(o->bytes + o->n, bytes, n);
    o->n += n;
}

static void put_int(struct out *o, int64_t i)
{
    uint8_t be[8];
    for (int k = 0; k < 8; k++) be[k] = (uint8_t)((uint64_t)i >> (56 - 8 * k));
    put(o, be, sizeof be);
}

static void put_tray(struct out *o, const struct cot_tray_count *c)
{
    const int32_t x[6] = {c->tray, c->looked, c->usable, c->blanks, c->culls, c->doubles};
    for (int i = 0; i < 6; i++) put_int(o, x[i]);
}

static void put_value(struct out *o, const struct cot_value *v)
{
    put_int(o, v->field);
    put_int(o, v->type);
    if (v->type == COT_T_TEXT || v->type == COT_T_IDS || v->type == COT_T_NUMBERS || v->type == COT_T_TRAYS)
        put_int(o, v->len);
    switch ((enum cot_type)v->type) {
    case COT_T_NONE:
        break;
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        put_int(o, v->v.i);
        break;
    case COT_T_TEXT:
        put(o, v->v.text, v->len);
        break;
    case COT_T_ID:
    case COT_T_IDS:
        put(o, v->v.ids, v->len * sizeof *v->v.ids);
        break;
    case COT_T_NUMBERS:
        for (uint32_t i = 0; i < v->len; i++) put_int(o, v->v.numbers[i]);
        break;
    case COT_T_TRAYS:
        for (uint32_t i = 0; i < v->len; i++) put_tray(o, &v->v.counts[i]);
        break;
    }
}

static int by_digest(const void *ctx, uint32_t x, uint32_t y)
{
    const struct cot_book *b = ctx;
    return cot_id_cmp(&cot_slot_at(b, x)->id, &cot_slot_at(b, y)->id);
}

static bool sort_slots(const struct cot_book *b, struct cot_list *l)
{
    size_t n = l->count;
    if (n < 2) return true;
    if (!cot_list_reserve(l, n)) return false;
    cot_sort(l->item, l->item + n, n, by_digest, b);
    return true;
}

static bool is_thing(const struct cot_entry *e)
{
    return cot_makes(e) != COT_THING_NONE && (e->verdict == COT_BOOKED || e->verdict == COT_TAKEN_BACK);
}

static bool put_thing(struct cot_book *b, struct out *o, uint32_t root)
{
    const struct cot_reading *r = cot_reading_of(b, root);
    if (!r) return false;
    put(o, &r->thing.id, sizeof r->thing.id);
    put_int(o, r->thing.type);
    put_int(o, r->thing.gone);
    put(o, &r->thing.farm, sizeof r->thing.farm);
    put_int(o, r->value_count);
    for (uint32_t i = 0; i < r->value_count; i++) put_value(o, &r->value[i]);
    return true;
}

static bool put_things(struct cot_book *b, struct out *o, struct cot_list *list)
{
    list->count = 0;
    for (uint32_t i = 1; i < b->entries.count; i++) {
        const struct cot_entry *e = cot_entry_at(b, i);
        if (is_thing(e) && !cot_list_push(list, cot_root_of(b, e))) return false;
    }
    if (!sort_slots(b, list)) return false;
    put_int(o, (int64_t)list->count);
    for (size_t i = 0; i < list->count; i++)
        if (!put_thing(b, o, list->item[i])) return false;
    return true;
}

static bool put_entries(struct cot_book *b, struct out *o, struct cot_list *list)
{
    list->count = 0;
    for (uint32_t i = 1; i < b->entries.count; i++)
        if (!cot_list_push(list, cot_entry_at(b, i)->slot)) return false;
    if (!sort_slots(b, list)) return false;
    put_int(o, (int64_t)list->count);
    for (size_t i = 0; i < list->count; i++) {
        const struct cot_slot *s = cot_slot_at(b, list->item[i]);
        const struct cot_entry *e = cot_entry_at(b, s->own);
        put(o, &s->id, sizeof s->id);
        put_int(o, e->verdict);
        put_int(o, e->verdict == COT_BOOKED ? e->flags : 0);
    }
    return true;
}

static enum cot_err write_canon(struct cot_book *b, cot_sink *sink, void *ctx)
{
    struct out o;
    struct cot_list list = {0};
    o.sink = sink;
    o.ctx = ctx;
    o.n = 0;
    enum cot_err err = COT_MEMORY;
    if (!cot_settle(b) || !cot_flags_read(b)) goto out;
    put(&o, "cotyledger book v1", 18);
    put_int(&o, COT_RULES_VERSION);
    if (!put_things(b, &o, &list) || !put_entries(b, &o, &list)) goto out;
    flush(&o);
    err = COT_OK;
out:
    cot_list_free(&list);
    return err;
}

/* A second book that holds the sent rows only. */
static struct cot_book *without_unsent(struct cot_book *b)
{
    struct cot_book *sent = cot_book_new(b->farm_view ? &b->farm : NULL);
    struct cot_arena scratch = {0};
    bool ok = sent != NULL;
    for (uint32_t i = 1; ok && i < b->entries.count; i++) {
        const struct cot_entry *e = cot_entry_at(b, i);
        if (!e->position) continue;
        struct cot_row row = {e->position, e->receipt, cot_slot_at(b, e->slot)->id,
                              cot_fact_as_written(b, i, &scratch)};
        ok = row.fact && cot_book_put(sent, &row) == COT_OK;
    }
    cot_arena_free(&scratch);
    if (ok) return sent;
    cot_book_free(sent);
    return NULL;
}

enum cot_err cot_book_canon(struct cot_book *b, cot_sink *sink, void *ctx)
{
    if (!b->unsent) return write_canon(b, sink, ctx);
    struct cot_book *sent = without_unsent(b);
    if (!sent) return COT_MEMORY;
    enum cot_err err = write_canon(sent, sink, ctx);
    cot_book_free(sent);
    return err;
}
