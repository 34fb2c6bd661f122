/* Claims from promises. */
#include <stdlib.h>

#include "fill/lines.h"

static int queue_cmp(int64_t receipt_a, const struct cot_place *a, int64_t receipt_b, const struct cot_place *b)
{
    if (receipt_a != receipt_b) return receipt_a < receipt_b ? -1 : 1;
    return cot_place_order(a, b);
}

static int said_cmp(const void *x, const void *y)
{
    const struct cot_said *a = x, *b = y;
    return queue_cmp(a->receipt, &a->place, b->receipt, &b->place);
}

static int chunk_cmp(const void *x, const void *y)
{
    const struct cot_chunk *a = x, *b = y;
    int c = queue_cmp(a->receipt, &a->place, b->receipt, &b->place);
    return c != 0 ? c : a->line < b->line ? -1 : a->line > b->line;
}

void cot_chunks_sort(struct cot_chunk *chunk, size_t n)
{
    if (n > 1) qsort(chunk, n, sizeof *chunk, chunk_cmp);
}

static void cut_latest(struct cot_chunk *chunk, size_t *n, int64_t plants)
{
    while (plants > 0 && *n > 0) {
        struct cot_chunk *last = &chunk[*n - 1];
        int64_t cut = plants < last->plants ? plants : last->plants;
        last->plants -= cut;
        plants -= cut;
        if (last->plants == 0) --*n;
    }
}

static void take_first(struct cot_chunk *chunk, size_t *n, int64_t plants)
{
    size_t kept = 0;
    for (size_t i = 0; i < *n; i++) {
        int64_t take = plants < chunk[i].plants ? plants : chunk[i].plants;
        plants -= take;
        chunk[i].plants -= take;
        if (chunk[i].plants > 0) chunk[kept++] = chunk[i];
    }
    *n = kept;
}

size_t cot_chunks_make(struct cot_said *said, size_t n, int64_t wanted, int64_t handed, struct cot_chunk *chunk,
                       int64_t *promised)
{
    size_t count = 0;
    int64_t total = 0;
    if (n > 1) qsort(said, n, sizeof *said, said_cmp);
    for (size_t i = 0; i < n; i++) {
        if (said[i].refusal) continue;
        if (said[i].total < total) cut_latest(chunk, &count, total - said[i].total);
        if (said[i].total > total)
            chunk[count++] =
                (struct cot_chunk){.receipt = said[i].receipt, .place = said[i].place, .plants = said[i].total - total};
        total = said[i].total;
    }
    if (total > wanted) cut_latest(chunk, &count, total - wanted);
    *promised = total < wanted ? total : wanted;
    take_first(chunk, &count, handed);
    return count;
}
