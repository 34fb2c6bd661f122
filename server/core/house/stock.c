/* Stock on hand: of each thing the latest count. */
#include "cotyledger/core/stock.h"

#include <stdlib.h>
#include <string.h>

const char *cot_stock_unit(enum cot_stock_what what)
{
    static const char *const units[] = {
        [COT_STOCK_MIX] = "L", [COT_STOCK_LABELS] = "labels", [COT_STOCK_TRAYS] = "trays"};
    return units[what];
}

static bool read_one(struct cot_book *b, const struct cot_note *note, struct cot_stock *out)
{
    static const enum cot_field fields[] = {
        [COT_STOCK_MIX] = COT_F_MIX_L, [COT_STOCK_LABELS] = COT_F_LABELS, [COT_STOCK_TRAYS] = COT_F_TRAYS};
    const struct cot_id *format = cot_fact_id(note->fact, COT_F_FORMAT);
    *out = (struct cot_stock){.entry = note->digest, .day = (int32_t)cot_fact_int(note->fact, COT_F_DAY, COT_DAY_MAX)};
    for (int w = COT_STOCK_MIX; w <= COT_STOCK_TRAYS; w++) {
        out->amount = cot_fact_int(note->fact, fields[w], -1);
        out->what = (enum cot_stock_what)w;
        if (out->amount >= 0) break;
    }
    if (out->what == COT_STOCK_TRAYS) out->format = format ? cot_book_thing(b, format) : NULL;
    return out->amount >= 0 && (out->what != COT_STOCK_TRAYS || out->format);
}

static bool same_thing(const struct cot_stock *x, const struct cot_stock *y)
{
    if (x->what != y->what) return false;
    return x->what != COT_STOCK_TRAYS || cot_id_cmp(&x->format->id, &y->format->id) == 0;
}

/* Entries come in order of place: of one day the later one stands. */
static void take(struct cot_stock *list, size_t *n, const struct cot_stock *s)
{
    for (size_t i = 0; i < *n; i++) {
        if (!same_thing(&list[i], s)) continue;
        if (s->day >= list[i].day) list[i] = *s;
        return;
    }
    list[(*n)++] = *s;
}

static int by_thing(const void *a, const void *b)
{
    const struct cot_stock *x = a, *y = b;
    if (x->what != y->what) return x->what < y->what ? -1 : 1;
    if (x->what != COT_STOCK_TRAYS) return 0;
    int c = strcmp(cot_thing_name(x->format), cot_thing_name(y->format));
    return c != 0 ? c : cot_id_cmp(&x->format->id, &y->format->id);
}

enum cot_err cot_stock_read(struct cot_book *b, int32_t on, struct cot_stock **list, size_t *n)
{
    size_t notes;
    const struct cot_note *note = cot_book_of_kind(b, COT_K_STOCK, &notes);
    *list = NULL;
    *n = 0;
    if (notes == 0) return COT_OK;
    struct cot_stock *all = malloc(notes * sizeof *all), one;
    if (!all) return COT_MEMORY;
    for (size_t i = 0; i < notes; i++)
        if (read_one(b, &note[i], &one) && one.day <= on) take(all, n, &one);
    if (*n > 1) qsort(all, *n, sizeof *all, by_thing);
    *list = all;
    return COT_OK;
}
