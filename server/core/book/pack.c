/* Values as bytes: an entry's fields packed behind each other, integers as variable-length numbers (7 bits a byte, sign
 * folded in), texts with a NUL behind them, references as slot numbers. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

#define CLEARED 0x80u

#define NUMBER_MOST 10 /* bytes of a variable-length number */

struct writer {
    uint8_t *out;
};

static void put_byte(struct writer *w, uint8_t x)
{
    *w->out++ = x;
}

static void put_bytes(struct writer *w, const void *bytes, size_t n)
{
    if (n) memcpy(w->out, bytes, n);
    w->out += n;
}

static void put_number(struct writer *w, uint64_t x)
{
    for (; x >= 0x80; x >>= 7) put_byte(w, (uint8_t)(x | 0x80));
    put_byte(w, (uint8_t)x);
}

static uint64_t fold(int64_t i)
{
    return ((uint64_t)i << 1) ^ (uint64_t)(i < 0 ? -1 : 0);
}

static int64_t unfold(uint64_t u)
{
    return (int64_t)(u >> 1) ^ -(int64_t)(u & 1);
}

static uint64_t get_number(const uint8_t **at)
{
    uint64_t x = 0;
    for (unsigned shift = 0;; shift += 7) {
        uint8_t c = *(*at)++;
        x |= (uint64_t)(c & 0x7F) << shift;
        if (!(c & 0x80)) return x;
    }
}

bool cot_is_key(enum cot_field f)
{
    return f == COT_F_KEY;
}

static void put_slot(struct writer *w, uint32_t slot)
{
    put_bytes(w, &slot, sizeof slot);
}

static void put_tray(struct writer *w, const struct cot_tray_count *c)
{
    const int32_t x[6] = {c->tray, c->looked, c->usable, c->blanks, c->culls, c->doubles};
    for (int i = 0; i < 6; i++) put_number(w, fold(x[i]));
}

/* `ref`: slots of the identities, in the order in which they occur. */
static void put_value(struct writer *w, const struct cot_value *v, const uint32_t **ref)
{
    switch ((enum cot_type)v->type) {
    case COT_T_NONE:
        break;
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        put_number(w, fold(v->v.i));
        break;
    case COT_T_TEXT:
        put_number(w, v->len);
        put_bytes(w, v->v.text, v->len);
        put_byte(w, 0);
        break;
    case COT_T_ID:
        if (cot_is_key((enum cot_field)v->field)) put_bytes(w, v->v.ids->b, sizeof v->v.ids->b);
        else put_slot(w, *(*ref)++);
        break;
    case COT_T_IDS:
        put_number(w, v->len);
        for (uint32_t i = 0; i < v->len; i++) put_slot(w, *(*ref)++);
        break;
    case COT_T_NUMBERS:
        put_number(w, v->len);
        for (uint32_t i = 0; i < v->len; i++) put_number(w, fold(v->v.numbers[i]));
        break;
    case COT_T_TRAYS:
        put_number(w, v->len);
        for (uint32_t i = 0; i < v->len; i++) put_tray(w, &v->v.counts[i]);
        break;
    }
}

bool cot_packable(const struct cot_value *v)
{
    const struct cot_field_row *row = cot_field_row((enum cot_field)v->field);
    if (!row) return false;
    if (v->type == COT_T_NONE) return true;
    return v->type == row->type && (v->type != COT_T_IDS || v->len <= row->max);
}

static uint8_t write_all(struct writer *w, const struct cot_fact *f, const uint32_t *ref)
{
    uint8_t count = 0;
    if (f->flaw[0] || f->kind == COT_K_UNKNOWN) {
        put_bytes(w, f->kind_name, strlen(f->kind_name) + 1);
        put_bytes(w, f->flaw, strlen(f->flaw) + 1);
    }
    for (unsigned i = 0; i < f->value_count && i < COT_FACT_FIELDS_MAX; i++) {
        const struct cot_value *v = &f->value[i];
        if (!cot_packable(v)) continue; /* of a flawed entry */
        put_byte(w, (uint8_t)(v->field | (v->type == COT_T_NONE ? CLEARED : 0)));
        put_value(w, v, &ref);
        count++;
    }
    return count;
}

static size_t value_most(const struct cot_value *v)
{
    size_t head = 1 + NUMBER_MOST;
    switch ((enum cot_type)v->type) {
    case COT_T_TEXT:
        return head + v->len + 1;
    case COT_T_ID:
        return head + sizeof(struct cot_id);
    case COT_T_IDS:
        return head + (size_t)v->len * sizeof(uint32_t);
    case COT_T_NUMBERS:
        return head + (size_t)v->len * NUMBER_MOST;
    case COT_T_TRAYS:
        return head + (size_t)v->len * 6 * NUMBER_MOST;
    default:
        return head;
    }
}

size_t cot_pack_most(const struct cot_fact *f)
{
    size_t most = sizeof f->kind_name + sizeof f->flaw + 2;
    for (unsigned i = 0; i < f->value_count && i < COT_FACT_FIELDS_MAX; i++) most += value_most(&f->value[i]);
    return most;
}

size_t cot_pack(const struct cot_fact *f, const uint32_t *ref, uint8_t *out, uint8_t *value_count)
{
    struct writer w = {out};
    *value_count = write_all(&w, f, ref);
    return (size_t)(w.out - out);
}

struct cot_packed_at cot_packed_start(const struct cot_entry *e)
{
    const uint8_t *at = e->blob;
    if (e->bits & COT_E_FLAW) {
        at += strlen((const char *)at) + 1;
        at += strlen((const char *)at) + 1;
    }
    return (struct cot_packed_at){at, e->value_count};
}

const char *cot_packed_flaw(const struct cot_entry *e, const char **kind_name)
{
    if (!(e->bits & COT_E_FLAW)) {
        *kind_name = cot_kind_row((enum cot_kind)e->kind)->name;
        return "";
    }
    *kind_name = (const char *)e->blob;
    return *kind_name + strlen(*kind_name) + 1;
}

bool cot_packed_next(struct cot_packed_at *it, struct cot_packed *out)
{
    if (!it->left) return false;
    it->left--;
    uint8_t head = *it->at++;
    memset(out, 0, sizeof *out);
    out->field = head & ~CLEARED;
    if (head & CLEARED) return true;
    out->type = (uint8_t)cot_field_row((enum cot_field)out->field)->type;
    switch ((enum cot_type)out->type) {
    case COT_T_NONE:
        break;
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        out->i = unfold(get_number(&it->at));
        break;
    case COT_T_TEXT:
        out->len = (uint32_t)get_number(&it->at);
        out->text = (const char *)it->at;
        it->at += out->len + 1;
        break;
    case COT_T_ID:
        out->len = 1;
        out->bytes = it->at;
        it->at += cot_is_key((enum cot_field)out->field) ? sizeof(struct cot_id) : sizeof(uint32_t);
        break;
    case COT_T_IDS:
        out->len = (uint32_t)get_number(&it->at);
        out->bytes = it->at;
        it->at += (size_t)out->len * sizeof(uint32_t);
        break;
    case COT_T_NUMBERS:
    case COT_T_TRAYS:
        out->len = (uint32_t)get_number(&it->at);
        out->bytes = it->at;
        for (uint32_t i = out->len * (out->type == COT_T_TRAYS ? 6 : 1); i; i--) get_number(&it->at);
        break;
    }
    return true;
}

bool cot_packed_find(const struct cot_entry *e, enum cot_field field, struct cot_packed *out)
{
    struct cot_packed_at it = cot_packed_start(e);
    while (cot_packed_next(&it, out))
        if (out->field == field) return out->type != COT_T_NONE;
    return false;
}

int64_t cot_packed_int(const struct cot_entry *e, enum cot_field field, int64_t otherwise)
{
    struct cot_packed p;
    return cot_packed_find(e, field, &p) ? p.i : otherwise;
}

uint32_t cot_packed_member(const struct cot_packed *p, uint32_t i)
{
    uint32_t slot;
    memcpy(&slot, p->bytes + (size_t)i * sizeof slot, sizeof slot);
    return slot;
}

uint32_t cot_packed_slot(const struct cot_entry *e, enum cot_field field)
{
    struct cot_packed p;
    return cot_packed_find(e, field, &p) && p.type == COT_T_ID ? cot_packed_member(&p, 0) : 0;
}

struct cot_trays_at cot_packed_trays(const struct cot_packed *p)
{
    return (struct cot_trays_at){p->bytes, p->len};
}

bool cot_packed_number(struct cot_trays_at *it, int32_t *out)
{
    if (!it->left) return false;
    it->left--;
    *out = (int32_t)unfold(get_number(&it->at));
    return true;
}

bool cot_packed_tray(struct cot_trays_at *it, struct cot_tray_count *out)
{
    if (!it->left) return false;
    it->left--;
    int32_t x[6];
    for (int i = 0; i < 6; i++) x[i] = (int32_t)unfold(get_number(&it->at));
    *out = (struct cot_tray_count){x[0], x[1], x[2], x[3], x[4], x[5]};
    return true;
}

/* Readers get identities; a copy for another book gets the digests as they were written. */
static uint32_t shown(const struct cot_book *b, uint32_t slot)
{
    return b->as_written ? slot : cot_root(b, slot);
}

/* --- For readers ----------------------------------------------------------------------------------------------- */
static bool unpack_ids(struct cot_book *b, const struct cot_packed *p, struct cot_value *out)
{
    if (p->type == COT_T_ID && !cot_is_key((enum cot_field)p->field)) {
        out->v.ids = &cot_slot_at(b, shown(b, cot_packed_member(p, 0)))->id;
        return true;
    }
    struct cot_id *ids = cot_arena_take(&b->readings, p->len * sizeof *ids, 1);
    if (!ids) return false;
    if (p->type == COT_T_ID) memcpy(ids->b, p->bytes, sizeof ids->b);
    for (uint32_t i = 0; p->type == COT_T_IDS && i < p->len; i++)
        ids[i] = cot_slot_at(b, shown(b, cot_packed_member(p, i)))->id;
    out->v.ids = ids;
    return true;
}

static bool unpack_numbers(struct cot_book *b, const struct cot_packed *p, struct cot_value *out)
{
    int32_t *numbers = cot_arena_take(&b->readings, p->len * sizeof *numbers, _Alignof(int32_t));
    if (!numbers) return false;
    struct cot_trays_at it = cot_packed_trays(p);
    for (uint32_t i = 0; cot_packed_number(&it, &numbers[i]);) i++;
    out->v.numbers = numbers;
    return true;
}

static bool unpack_trays(struct cot_book *b, const struct cot_packed *p, struct cot_value *out)
{
    struct cot_tray_count *counts =
        cot_arena_take(&b->readings, p->len * sizeof *counts, _Alignof(struct cot_tray_count));
    if (!counts) return false;
    struct cot_trays_at it = cot_packed_trays(p);
    for (uint32_t i = 0; cot_packed_tray(&it, &counts[i]);) i++;
    out->v.counts = counts;
    return true;
}

bool cot_unpack(struct cot_book *b, const struct cot_packed *p, struct cot_value *out)
{
    memset(out, 0, sizeof *out);
    out->field = p->field;
    out->type = p->type;
    out->len = p->len;
    switch ((enum cot_type)p->type) {
    case COT_T_NONE:
        return true;
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        out->v.i = p->i;
        return true;
    case COT_T_TEXT:
        out->v.text = p->text;
        return true;
    case COT_T_ID:
    case COT_T_IDS:
        return unpack_ids(b, p, out);
    case COT_T_NUMBERS:
        return unpack_numbers(b, p, out);
    case COT_T_TRAYS:
        return unpack_trays(b, p, out);
    }
    return true;
}

static void unpack_header(struct cot_book *b, const struct cot_entry *e, struct cot_fact *f)
{
    f->kind = (enum cot_kind)e->kind;
    const char *kind_name, *flaw = cot_packed_flaw(e, &kind_name);
    memcpy(f->kind_name, kind_name, strlen(kind_name) + 1);
    memcpy(f->flaw, flaw, strlen(flaw) + 1);
    cot_tag_text(e->tag, f->tag);
    f->number = e->number;
    f->clock = e->clock;
    f->tick = e->tick;
    f->seen = e->seen;
    if (e->house < b->house_count) f->house = b->houses[e->house];
    f->has_member = e->bits & COT_E_HAS_MEMBER;
    f->has_about = e->bits & COT_E_HAS_ABOUT;
    f->has_farm = e->bits & COT_E_HAS_FARM;
    f->has_carries = e->carries != 0;
    if (e->member) f->member = cot_slot_at(b, shown(b, e->member))->id;
    if (e->about) f->about = cot_slot_at(b, shown(b, e->about))->id;
    if (e->farm) f->farm = cot_slot_at(b, shown(b, e->farm))->id;
    if (e->carries) f->carries = cot_slot_at(b, e->carries)->id;
}

static struct cot_fact *unpack_fact(struct cot_book *b, const struct cot_entry *e)
{
    /* Cut behind its values, but with room behind it, so that a reader may copy the whole struct. */
    size_t need = offsetof(struct cot_fact, value) + e->value_count * sizeof(struct cot_value);
    struct cot_fact *f = cot_arena_take_short(&b->readings, need, sizeof *f, _Alignof(struct cot_fact));
    if (!f) return NULL;
    memset(f, 0, need);
    unpack_header(b, e, f);
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p))
        if (!cot_unpack(b, &p, &f->value[f->value_count++])) return NULL;
    return f;
}

const struct cot_fact *cot_fact_of(struct cot_book *b, uint32_t entry)
{
    struct cot_entry *e = cot_entry_at(b, entry);
    if (e->copy < b->copy_count && b->copy[e->copy].entry == entry) return b->copy[e->copy].fact;
    if (b->copy_count == b->copy_cap) {
        uint32_t cap = b->copy_cap ? b->copy_cap * 2 : 64;
        struct cot_copy *copy = realloc(b->copy, cap * sizeof *copy);
        if (!copy) return NULL;
        b->copy = copy;
        b->copy_cap = cap;
    }
    b->read_anything = true;
    const struct cot_fact *f = unpack_fact(b, e);
    if (!f) return NULL;
    e->copy = b->copy_count;
    b->copy[b->copy_count++] = (struct cot_copy){f, entry};
    return f;
}

const struct cot_fact *cot_fact_as_written(struct cot_book *b, uint32_t entry, struct cot_arena *scratch)
{
    struct cot_arena readings = b->readings;
    b->readings = *scratch;
    cot_arena_clear(&b->readings);
    b->as_written = true;
    const struct cot_fact *f = unpack_fact(b, cot_entry_at(b, entry));
    b->as_written = false;
    *scratch = b->readings;
    b->readings = readings;
    return f;
}
