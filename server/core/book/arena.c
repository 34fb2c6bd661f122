/* Memory of the book: see arena.h. */
#include "book/arena.h"

#include <stdlib.h>
#include <string.h>

struct cot_arena_block {
    struct cot_arena_block *older;
    size_t size;
    _Alignas(16) unsigned char bytes[];
};

#define FIRST_BLOCK ((size_t)16 << 10)
#define LARGEST_BLOCK ((size_t)1 << 20)

static bool new_block(struct cot_arena *a, size_t at_least)
{
    size_t size = a->block ? a->block->size * 2 : FIRST_BLOCK;
    if (size > LARGEST_BLOCK) size = LARGEST_BLOCK;
    if (size < at_least) size = at_least;
    struct cot_arena_block *block = malloc(sizeof *block + size);
    if (!block) return false;
    block->older = a->block;
    block->size = size;
    a->block = block;
    a->used = 0;
    a->held += sizeof *block + size;
    return true;
}

void *cot_arena_take_short(struct cot_arena *a, size_t n, size_t reserve, size_t align)
{
    size_t at = (a->used + align - 1) & ~(align - 1);
    if (!a->block || at > a->block->size || a->block->size - at < reserve) {
        if (!new_block(a, reserve)) return NULL;
        at = 0;
    }
    a->used = at + n;
    return a->block->bytes + at;
}

void *cot_arena_take(struct cot_arena *a, size_t n, size_t align)
{
    return cot_arena_take_short(a, n, n, align);
}

uint8_t *cot_arena_room(struct cot_arena *a, size_t reserve)
{
    return cot_arena_take_short(a, 0, reserve, 1);
}

void cot_arena_keep(struct cot_arena *a, size_t n)
{
    a->used += n;
}

static void free_from(struct cot_arena *a, struct cot_arena_block *block)
{
    while (block) {
        struct cot_arena_block *older = block->older;
        a->held -= sizeof *block + block->size;
        free(block);
        block = older;
    }
}

void cot_arena_clear(struct cot_arena *a)
{
    if (!a->block) return;
    free_from(a, a->block->older);
    a->block->older = NULL;
    a->used = 0;
}

void cot_arena_free(struct cot_arena *a)
{
    free_from(a, a->block);
    a->block = NULL;
    a->used = 0;
}

void cot_vec_init(struct cot_vec *v, size_t item)
{
    memset(v, 0, sizeof *v);
    v->item = item;
    v->count = 1;
}

void cot_vec_free(struct cot_vec *v)
{
    for (uint32_t i = 0; i < v->blocks; i++) free(v->block[i]);
    free(v->block);
    cot_vec_init(v, v->item);
}

static bool one_block_more(struct cot_vec *v)
{
    if (v->blocks == v->cap) {
        uint32_t cap = v->cap ? v->cap * 2 : 8;
        void **block = realloc(v->block, cap * sizeof *block);
        if (!block) return false;
        v->block = block;
        v->cap = cap;
    }
    v->block[v->blocks] = calloc(COT_VEC_BLOCK, v->item);
    if (!v->block[v->blocks]) return false;
    v->blocks++;
    return true;
}

bool cot_vec_reserve(struct cot_vec *v, uint32_t more)
{
    if (more > UINT32_MAX / 2 - v->count) return false;
    while ((uint64_t)v->blocks * COT_VEC_BLOCK < (uint64_t)v->count + more)
        if (!one_block_more(v)) return false;
    return true;
}

uint32_t cot_vec_add(struct cot_vec *v)
{
    return cot_vec_reserve(v, 1) ? v->count++ : 0;
}

size_t cot_vec_bytes(const struct cot_vec *v)
{
    return (size_t)v->blocks * COT_VEC_BLOCK * v->item + v->cap * sizeof *v->block;
}

bool cot_list_reserve(struct cot_list *l, size_t more)
{
    if (l->cap - l->count >= more) return true;
    size_t cap = l->cap ? l->cap * 2 : 64;
    while (cap - l->count < more) cap *= 2;
    uint32_t *item = realloc(l->item, cap * sizeof *item);
    if (!item) return false;
    l->item = item;
    l->cap = cap;
    return true;
}

bool cot_list_push(struct cot_list *l, uint32_t x)
{
    if (!cot_list_reserve(l, 1)) return false;
    l->item[l->count++] = x;
    return true;
}

void cot_list_free(struct cot_list *l)
{
    free(l->item);
    memset(l, 0, sizeof *l);
}

static void merge(const uint32_t *from, uint32_t *to, size_t low, size_t mid, size_t high, cot_order *order,
                  const void *ctx)
{
    size_t i = low, j = mid;
    for (size_t k = low; k < high; k++) {
        bool left = i < mid && (j >= high || order(ctx, from[i], from[j]) <= 0);
        to[k] = left ? from[i++] : from[j++];
    }
}

void cot_sort(uint32_t *item, uint32_t *scratch, size_t n, cot_order *order, const void *ctx)
{
    uint32_t *from = item, *to = scratch;
    for (size_t width = 1; width < n; width *= 2) {
        for (size_t low = 0; low < n; low += 2 * width) {
            size_t mid = low + width < n ? low + width : n, high = low + 2 * width < n ? low + 2 * width : n;
            merge(from, to, low, mid, high, order, ctx);
        }
        uint32_t *swap = from;
        from = to;
        to = swap;
    }
    if (from != item) memcpy(item, from, n * sizeof *item);
}
