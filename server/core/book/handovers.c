/* Hand-overs: what went out, what came back, what is to be invoiced. */
#include "book/handovers.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/fill.h"

/* Plants brought back of one hand-over. */
static void brought_back(struct cot_book *b, int32_t on, struct cot_handover *h)
{
    size_t n;
    const struct cot_note *note = cot_book_history(b, &h->thing->id, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = note[i].fact;
        if (note[i].verdict != COT_BOOKED || f->kind != COT_K_BACK) continue;
        if (cot_fact_int(f, COT_F_DAY, COT_DAY_MAX) > on) continue;
        int64_t plants = cot_fact_int(f, COT_F_PLANTS, 0), left = h->plants - h->refused - h->back;
        if (plants > left) plants = left > 0 ? left : 0;
        if (cot_fact_int(f, COT_F_WERE_USABLE, 1)) h->back += plants;
        else h->refused += plants;
    }
}

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

static bool read_one(struct cot_book *b, const struct cot_thing *t, int32_t on, struct cot_handover *h)
{
    const struct cot_thing *line = linked(b, t, COT_F_LINE), *batch = linked(b, t, COT_F_BATCH);
    int32_t day = (int32_t)cot_thing_int(t, COT_F_DAY, COT_DAY_MAX);
    if (t->gone || !line || !batch || day > on) return false;
    *h = (struct cot_handover){
        .thing = t,
        .line = line->id,
        .batch = batch->id,
        .day = day,
        .trays = cot_thing_int(t, COT_F_TRAYS, 0),
        .plants = cot_thing_int(t, COT_F_PLANTS, 0),
        .owed = cot_thing_int(t, COT_F_OWED, 0),
    };
    return true;
}

enum cot_err cot_handovers_list(struct cot_book *b, int32_t on, struct cot_handover **out, size_t *n)
{
    size_t all;
    const struct cot_thing *const *things = cot_book_things(b, COT_THING_HANDOVER, &all);
    struct cot_handover *list = malloc((all ? all : 1) * sizeof *list);
    *out = NULL;
    *n = 0;
    if (!list) return COT_MEMORY;
    for (size_t i = 0; i < all; i++) {
        if (!read_one(b, things[i], on, &list[*n])) continue;
        brought_back(b, on, &list[*n]);
        ++*n;
    }
    *out = list;
    return COT_OK;
}

int64_t cot_handed_of_batch(const struct cot_handover *h, size_t n, const struct cot_id *batch, int64_t *back)
{
    int64_t out = 0;
    *back = 0;
    for (size_t i = 0; i < n; i++) {
        if (cot_id_cmp(&h[i].batch, batch) != 0) continue;
        out += h[i].plants - h[i].back;
        *back += h[i].back;
    }
    return out;
}

static int text_cmp(const struct cot_thing *a, const struct cot_thing *b)
{
    return strcmp(a ? cot_thing_name(a) : "", b ? cot_thing_name(b) : "");
}

/* Lines and batches by the code on their tag. */
static int code_cmp(const struct cot_thing *a, const struct cot_thing *b)
{
    return strcmp(a ? cot_thing_text(a, COT_F_CODE) : "", b ? cot_thing_text(b, COT_F_CODE) : "");
}

static int row_cmp(const void *x, const void *y)
{
    const struct cot_handover_row *a = x, *b = y;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    int c = text_cmp(a->farm, b->farm);
    if (c == 0) c = code_cmp(a->line, b->line);
    if (c == 0) c = code_cmp(a->batch, b->batch);
    return c != 0 ? c : cot_id_cmp(&a->handover->id, &b->handover->id);
}

/* The variety that went out is the batch's own, by its lot; a batch potted on has it from its parent. */
static const struct cot_thing *variety_of(struct cot_book *b, const struct cot_thing *batch)
{
    for (int depth = 0; batch && depth < 16; depth++) {
        const struct cot_thing *lot = linked(b, batch, COT_F_LOT);
        if (lot) return linked(b, lot, COT_F_VARIETY);
        batch = linked(b, batch, COT_F_BATCH);
    }
    return NULL;
}

static void fill_row(struct cot_book *b, const struct cot_handover *h, struct cot_handover_row *row)
{
    const struct cot_thing *line = cot_book_thing(b, &h->line), *batch = cot_book_thing(b, &h->batch);
    *row = (struct cot_handover_row){
        .handover = h->thing,
        .line = line,
        .batch = batch,
        .farm = line ? cot_book_thing(b, &line->farm) : NULL,
        .variety = variety_of(b, batch),
        .format = linked(b, batch, COT_F_FORMAT),
        .day = h->day,
        .trays = h->trays,
        .plants = h->plants,
        .refused = h->refused,
        .back = h->back,
        .owed = h->owed,
    };
}

enum cot_err cot_handovers_read(struct cot_book *b, int32_t on, struct cot_handover_row **rows, size_t *n)
{
    struct cot_handover *list = NULL;
    *rows = NULL;
    enum cot_err err = cot_handovers_list(b, on, &list, n);
    if (err != COT_OK) return err;
    *rows = malloc((*n ? *n : 1) * sizeof **rows);
    if (!*rows) {
        err = COT_MEMORY;
        goto out;
    }
    for (size_t i = 0; i < *n; i++) fill_row(b, &list[i], &(*rows)[i]);
    if (*n > 1) qsort(*rows, *n, sizeof **rows, row_cmp);
out:
    free(list);
    return err;
}
