/* Facts: reading and building their fields, and the scope of a row. What makes sense in one is in fact_check.c. */
#include "cotyledger/core/fact.h"

#include <string.h>

int cot_id_cmp(const struct cot_id *a, const struct cot_id *b)
{
    return memcmp(a->b, b->b, sizeof a->b);
}

const struct cot_value *cot_fact_value(const struct cot_fact *f, enum cot_field field)
{
    for (unsigned i = 0; i < f->value_count; i++)
        if (f->value[i].field == field) return &f->value[i];
    return NULL;
}

int64_t cot_fact_int(const struct cot_fact *f, enum cot_field field, int64_t otherwise)
{
    const struct cot_value *v = cot_fact_value(f, field);
    if (!v) return otherwise;
    switch ((enum cot_type)v->type) {
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        return v->v.i;
    default:
        return otherwise;
    }
}

const struct cot_id *cot_fact_id(const struct cot_fact *f, enum cot_field field)
{
    const struct cot_value *v = cot_fact_value(f, field);
    return v && v->type == COT_T_ID ? v->v.ids : NULL;
}

/* The place of `field` among the values, made if it is not there; NULL when full or no such field. */
static struct cot_value *slot_for(struct cot_fact *f, enum cot_field field)
{
    if ((unsigned)field >= COT_F_COUNT) return NULL;
    unsigned at = 0;
    while (at < f->value_count && f->value[at].field < field) at++;
    if (at == f->value_count || f->value[at].field != field) {
        if (f->value_count == COT_FACT_FIELDS_MAX) return NULL;
        memmove(&f->value[at + 1], &f->value[at], (f->value_count - at) * sizeof f->value[0]);
        f->value_count++;
    }
    struct cot_value *v = &f->value[at];
    memset(v, 0, sizeof *v);
    v->field = (uint8_t)field;
    return v;
}

static struct cot_value *typed_slot(struct cot_fact *f, enum cot_field field, size_t len)
{
    if (len > UINT32_MAX) return NULL;
    struct cot_value *v = slot_for(f, field);
    if (!v) return NULL;
    v->type = (uint8_t)cot_field_row(field)->type;
    v->len = (uint32_t)len;
    return v;
}

bool cot_fact_set_int(struct cot_fact *f, enum cot_field field, int64_t i)
{
    struct cot_value *v = typed_slot(f, field, 0);
    if (v) v->v.i = i;
    return v != NULL;
}

bool cot_fact_set_text(struct cot_fact *f, enum cot_field field, const char *text, size_t len)
{
    struct cot_value *v = typed_slot(f, field, len);
    if (v) v->v.text = text;
    return v != NULL;
}

bool cot_fact_set_ids(struct cot_fact *f, enum cot_field field, const struct cot_id *ids, size_t n)
{
    struct cot_value *v = typed_slot(f, field, n);
    if (v) v->v.ids = ids;
    return v != NULL;
}

bool cot_fact_set_numbers(struct cot_fact *f, enum cot_field field, const int32_t *numbers, size_t n)
{
    struct cot_value *v = typed_slot(f, field, n);
    if (v) v->v.numbers = numbers;
    return v != NULL;
}

bool cot_fact_set_counts(struct cot_fact *f, enum cot_field field, const struct cot_tray_count *counts, size_t n)
{
    struct cot_value *v = typed_slot(f, field, n);
    if (v) v->v.counts = counts;
    return v != NULL;
}

bool cot_fact_clear(struct cot_fact *f, enum cot_field field)
{
    return slot_for(f, field) != NULL;
}

enum cot_scope cot_fact_scope(const struct cot_fact *f, const struct cot_id *digest, struct cot_id *farm)
{
    memset(farm, 0, sizeof *farm);
    switch (cot_kind_row(f->kind)->see) {
    case COT_SEE_HOUSE:
        return COT_SCOPE_HOUSE;
    case COT_SEE_CATALOGUE:
        return COT_SCOPE_CATALOGUE;
    case COT_SEE_FARM:
        if (f->has_farm) *farm = f->farm;
        else if (f->kind == COT_K_FARM && !f->has_about) *farm = f->has_carries ? f->carries : *digest;
        else return COT_SCOPE_HOUSE; /* flawed: it should name a farm, so nobody but the house sees it */
        return COT_SCOPE_FARM;
    case COT_SEE_FARM_OR_HOUSE:
    case COT_SEE_FARM_OR_CATALOGUE:
        break;
    }
    if (f->has_farm) {
        *farm = f->farm;
        return COT_SCOPE_FARM;
    }
    return cot_kind_row(f->kind)->see == COT_SEE_FARM_OR_HOUSE ? COT_SCOPE_HOUSE : COT_SCOPE_CATALOGUE;
}
