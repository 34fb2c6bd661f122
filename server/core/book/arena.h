/* Memory of the book: an arena that only grows, and vectors whose items never move. */
#ifndef COT_CORE_ARENA_H
#define COT_CORE_ARENA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct cot_arena_block;
struct cot_arena {
    struct cot_arena_block *block; /* the one in use, older ones behind it */
    size_t used, held;             /* bytes used of `block`; bytes held in all */
};
/* `n` bytes aligned to `align` (a power of two up to 16); NULL when out of memory. */
void *cot_arena_take(struct cot_arena *a, size_t n, size_t align);
/* The same, but `reserve` >= n bytes may be read behind the pointer: the rest is used again for what is taken next. */
void *cot_arena_take_short(struct cot_arena *a, size_t n, size_t reserve, size_t align);
/* At least `reserve` unaligned bytes to write into; then cot_arena_keep says how many of them were. */
uint8_t *cot_arena_room(struct cot_arena *a, size_t reserve);
void cot_arena_keep(struct cot_arena *a, size_t n);
void cot_arena_clear(struct cot_arena *a); /* keeps one block */
void cot_arena_free(struct cot_arena *a);

/* Items of one size in blocks of 1024; item 0 is never used, so that 0 can say "none". */
#define COT_VEC_BLOCK 1024u
struct cot_vec {
    void **block;
    size_t item;                 /* bytes an item */
    uint32_t count, blocks, cap; /* items incl. item 0; blocks made; places in `block` */
};
void cot_vec_init(struct cot_vec *v, size_t item);
void cot_vec_free(struct cot_vec *v);
bool cot_vec_reserve(struct cot_vec *v, uint32_t more); /* so that `more` adds cannot fail */
uint32_t cot_vec_add(struct cot_vec *v);                /* index of a zeroed item; 0 when out of memory */
size_t cot_vec_bytes(const struct cot_vec *v);
static inline void *cot_vec_at(const struct cot_vec *v, uint32_t i)
{
    return (char *)v->block[i / COT_VEC_BLOCK] + (size_t)(i % COT_VEC_BLOCK) * v->item;
}

/* A growing list of numbers. */
struct cot_list {
    uint32_t *item;
    size_t count, cap;
};
bool cot_list_push(struct cot_list *l, uint32_t x);
bool cot_list_reserve(struct cot_list *l, size_t more);
void cot_list_free(struct cot_list *l);

/* Sorts `n` pointers or numbers stably by merging; `scratch` has room for n. */
typedef int cot_order(const void *ctx, uint32_t a, uint32_t b);
void cot_sort(uint32_t *item, uint32_t *scratch, size_t n, cot_order *order, const void *ctx);

#endif
