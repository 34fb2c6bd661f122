/* Keep: a bag of memory that goes all at once. */
#include "cotyledger/wire/sheet.h"

#include <stdalign.h>
#include <stdlib.h>
#include <string.h>

#define CHUNK 16384

struct chunk {
    struct chunk *next;
    size_t used, cap;
    alignas(max_align_t) char bytes[];
};
struct keep {
    struct chunk *first;
};

void *cot_keep_new(void)
{
    return calloc(1, sizeof(struct keep));
}

void cot_keep_free(void *arena)
{
    struct keep *k = arena;
    if (!k) return;
    for (struct chunk *c = k->first, *next; c; c = next) {
        next = c->next;
        free(c);
    }
    free(k);
}

void *cot_keep_alloc(void *arena, size_t size)
{
    struct keep *k = arena;
    const size_t unit = alignof(max_align_t);
    if (!k || size > SIZE_MAX / 2) return NULL;
    size = size == 0 ? unit : (size + unit - 1) / unit * unit;
    if (!k->first || k->first->cap - k->first->used < size) {
        size_t cap = size > CHUNK ? size : CHUNK;
        struct chunk *c = malloc(sizeof *c + cap);
        if (!c) return NULL;
        *c = (struct chunk){.next = k->first, .cap = cap};
        k->first = c;
    }
    void *p = k->first->bytes + k->first->used;
    k->first->used += size;
    return p;
}

char *cot_keep_text(void *arena, const char *s, size_t len)
{
    char *copy = cot_keep_alloc(arena, len + 1);
    if (!copy) return NULL;
    if (len > 0) memcpy(copy, s, len);
    copy[len] = '\0';
    return copy;
}
