#include "kept.h"

#include <stdlib.h>
#include <string.h>

#define BLOCK (64u << 10)

struct block {
    struct block *next;
    size_t used, cap;
    max_align_t bytes[];
};

static void *take(struct cot_kept *k, size_t len)
{
    struct block *b = k->blocks;
    len = (len + sizeof(max_align_t) - 1) / sizeof(max_align_t) * sizeof(max_align_t);
    if (!b || b->cap - b->used < len) {
        size_t cap = len > BLOCK ? len : BLOCK;
        b = malloc(sizeof *b + cap);
        if (!b) {
            k->failed = true;
            return NULL;
        }
        b->next = k->blocks;
        b->used = 0;
        b->cap = cap;
        k->blocks = b;
    }
    void *p = (char *)b->bytes + b->used;
    b->used += len;
    return p;
}

void cot_kept_free(struct cot_kept *k)
{
    for (struct block *b = k->blocks, *next; b; b = next) {
        next = b->next;
        free(b);
    }
    free(k->item);
    memset(k, 0, sizeof *k);
}

static bool grow(struct cot_kept *k)
{
    if (k->count < k->cap) return true;
    size_t cap = k->cap ? k->cap * 2 : 64;
    struct cot_kept_fact **item = realloc(k->item, cap * sizeof *item);
    if (!item) return false;
    k->item = item;
    k->cap = cap;
    return true;
}

/* Bytes that a value points at; 0 for those that stand in the value itself. */
static size_t outside(const struct cot_value *v)
{
    switch ((enum cot_type)v->type) {
    case COT_T_TEXT:
        return v->len;
    case COT_T_ID:
    case COT_T_IDS:
        return v->len * sizeof *v->v.ids;
    case COT_T_NUMBERS:
        return v->len * sizeof *v->v.numbers;
    case COT_T_TRAYS:
        return v->len * sizeof *v->v.counts;
    default:
        return 0;
    }
}

void cot_kept_add(struct cot_kept *k, const struct cot_fact *f, const struct cot_id *digest)
{
    struct cot_kept_fact *item = grow(k) ? take(k, sizeof *item) : NULL;
    if (!item) {
        k->failed = true;
        return;
    }
    item->fact = *f;
    item->digest = *digest;
    item->scope = cot_fact_scope(f, digest, &item->farm);
    for (unsigned i = 0; i < f->value_count; i++) {
        struct cot_value *v = &item->fact.value[i];
        size_t len = outside(v);
        if (!len) continue;
        char *copy = take(k, len + 1);
        if (!copy) return;
        memcpy(copy, v->v.text, len); /* every member of the union is such a pointer here */
        copy[len] = '\0';
        v->v.text = copy;
    }
    k->item[k->count++] = item;
}

void cot_kept_each(void *ctx, size_t i, const struct cot_fact *f, const struct cot_id *digest)
{
    (void)i;
    cot_kept_add(ctx, f, digest);
}
