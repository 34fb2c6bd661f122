#include "book/memo.h"

#include <stdlib.h>
#include <string.h>

static uint32_t place_in(const struct cot_memo *item, uint32_t size, uint32_t root)
{
    uint32_t at = (root * 2654435769u) & (size - 1);
    while (item[at].root && item[at].root != root) at = (at + 1) & (size - 1);
    return at;
}

struct cot_memo *cot_memo_find(const struct cot_memos *m, uint32_t root)
{
    if (!m->count) return NULL;
    uint32_t at = place_in(m->item, m->size, root);
    return m->item[at].root ? &m->item[at] : NULL;
}

static bool widen(struct cot_memos *m)
{
    uint32_t size = m->size ? m->size * 2 : 16;
    struct cot_memo *item = calloc(size, sizeof *item);
    if (!item) return false;
    for (uint32_t i = 0; i < m->size; i++)
        if (m->item[i].root) item[place_in(item, size, m->item[i].root)] = m->item[i];
    free(m->item);
    m->item = item;
    m->size = size;
    return true;
}

struct cot_memo *cot_memo_make(struct cot_memos *m, uint32_t root)
{
    struct cot_memo *found = cot_memo_find(m, root);
    if (found) return found;
    if (m->count * 2 >= m->size && !widen(m)) return NULL;
    found = &m->item[place_in(m->item, m->size, root)];
    found->root = root;
    m->count++;
    return found;
}

void cot_memos_clear(struct cot_memos *m)
{
    if (!m->count) return;
    memset(m->item, 0, m->size * sizeof *m->item);
    m->count = 0;
    m->pool.count = 0;
}

void cot_memos_free(struct cot_memos *m)
{
    free(m->item);
    cot_list_free(&m->pool);
    memset(m, 0, sizeof *m);
}
