/* Levelling: what a batch costs on a day. */
#include <string.h>

#include "plan/level.h"

#define ONE (INT64_C(1) << 32)
#define RATIO_BITS 41
#define FRACTION_BITS 12   /* within a step of the table: 2^41 / mark x load is 2^20 too much for 512 x 2^12 */
#define HIGHEST 2000000000 /* 2,000 times the room: beyond that it is no matter how much */
#define LIMITED_SHIFT 4    /* a full room that is only not to overflow costs a sixteenth of a levelled one */

static int32_t cut(int32_t d, int32_t days)
{
    return d < 0 ? 0 : d > days ? days : d;
}

static int32_t edge(const int32_t *by_day, bool fixed, int32_t at, int32_t day, int32_t days)
{
    return cut(by_day ? by_day[day] : fixed ? at : day + at, days);
}

bool cot_lv_span(const struct cot_lv *w, const struct cot_use *u, int32_t day, int32_t *from, int32_t *to)
{
    *from = edge(u->from_on, u->fixed & COT_USE_FROM_DAY, u->from, day, w->days);
    *to = edge(u->to_on, u->fixed & COT_USE_TO_DAY, u->to, day, w->days);
    return *from < *to;
}

static void bump(struct cot_lv *w, const struct cot_use *u, int32_t from, int32_t to, int64_t sign)
{
    int64_t *load = w->load + (size_t)u->resource * (size_t)w->days;
    for (int32_t d = from; d < to; d++) load[d] += sign * u->amount;
}

void cot_lv_put(struct cot_lv *w, uint32_t batch, int32_t day, int64_t sign)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    int32_t from, to;
    for (uint32_t i = 0; i < b->uses; i++)
        if (cot_lv_span(w, &b->use[i], day, &from, &to)) bump(w, &b->use[i], from, to, sign);
}

void cot_lv_reload(struct cot_lv *w)
{
    memset(w->load, 0, (size_t)w->cells * sizeof *w->load);
    for (uint32_t i = 0; i < w->ask->batches; i++)
        if (w->day[i] >= 0) cot_lv_put(w, i, w->day[i], 1);
}

/* x to the power p, x of 0 .. 2^32. */
static int64_t power(int64_t x, int p)
{
    int64_t y = ONE;
    for (; p > 0; p >>= 1) {
        if (p & 1) y = (int64_t)(((uint64_t)y >> 2) * ((uint64_t)x >> 2) >> 28);
        x = (int64_t)(((uint64_t)x >> 2) * ((uint64_t)x >> 2) >> 28);
    }
    return y;
}

void cot_lv_shape(struct cot_lv *w, int p, int64_t peak)
{
    if (peak > HIGHEST) peak = HIGHEST;
    for (int i = 0; i <= COT_LV_STEPS; i++) w->table[i] = power(ONE / COT_LV_STEPS * i, p);
    for (int i = COT_LV_STEPS + 1; i <= COT_LV_TABLE + 1; i++) { /* beyond the mark: 1 + pt + (pt)^2 / 2 */
        int64_t t = i - COT_LV_STEPS;
        w->table[i] = ONE + ONE / COT_LV_STEPS * p * t + ONE / (2 * COT_LV_STEPS) * p / COT_LV_STEPS * p * t * t;
    }
    for (int32_t c = 0; c < w->cells; c++) {
        bool levelled = w->ask->resource[c / w->days].levelled;
        if (w->room[c] < 0) continue;
        int64_t mark = levelled ? w->room[c] * peak / COT_LV_MILLION : w->room[c];
        if (levelled && w->room[c] * peak % COT_LV_MILLION) mark++;
        w->mark[c] = mark;
        w->ratio[c] = mark > 0 ? (INT64_C(1) << RATIO_BITS) / mark : 0;
    }
}

static inline int64_t cost_of(const struct cot_lv *w, int32_t cell, int64_t load)
{
    if (load >= 2 * w->mark[cell]) return load > 0 ? w->table[COT_LV_TABLE] : 0;
    int64_t x = load * w->ratio[cell] >> (RATIO_BITS - 9 - FRACTION_BITS);
    int64_t step = x >> FRACTION_BITS, part = x & ((1 << FRACTION_BITS) - 1);
    return w->table[step] + ((w->table[step + 1] - w->table[step]) * part >> FRACTION_BITS);
}

static inline int64_t above(int64_t load, int64_t room)
{
    return load > room ? load - room : 0;
}

static void add_use(const struct cot_lv *w, const struct cot_use *u, int32_t from, int32_t to, struct cot_lv_score *s)
{
    int32_t first = (int32_t)u->resource * w->days;
    int64_t cost = 0;
    for (int32_t c = first + from; c < first + to; c++) {
        int64_t load = w->load[c];
        if (w->room[c] < 0) continue;
        s->over += above(load + u->amount, w->room[c]) - above(load, w->room[c]);
        cost += cost_of(w, c, load + u->amount) - cost_of(w, c, load);
    }
    s->cost += w->ask->resource[u->resource].levelled ? cost : cost >> LIMITED_SHIFT;
}

static bool may_meet(const struct cot_level_batch *b)
{
    for (uint32_t i = 1; i < b->uses; i++)
        for (uint32_t j = 0; j < i; j++)
            if (b->use[i].resource == b->use[j].resource) return true;
    return false;
}

/* Uses of one batch may meet in a cell: then each is counted on top of those before it. */
struct cot_lv_score cot_lv_would(struct cot_lv *w, uint32_t batch, int32_t day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    struct cot_lv_score s = {.moved = w->moves_count && b->standing >= 0 && b->standing != day};
    bool meet = may_meet(b);
    int32_t from, to;
    for (uint32_t i = 0; i < b->uses; i++) {
        if (!cot_lv_span(w, &b->use[i], day, &from, &to)) continue;
        add_use(w, &b->use[i], from, to, &s);
        if (meet) bump(w, &b->use[i], from, to, 1);
    }
    for (uint32_t i = 0; meet && i < b->uses; i++)
        if (cot_lv_span(w, &b->use[i], day, &from, &to)) bump(w, &b->use[i], from, to, -1);
    return s;
}

bool cot_lv_stands(const struct cot_lv *w, uint32_t batch, int32_t cell)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    int32_t from, to;
    for (uint32_t i = 0; i < b->uses; i++)
        if ((int32_t)b->use[i].resource == cell / w->days && cot_lv_span(w, &b->use[i], w->day[batch], &from, &to) &&
            from <= cell % w->days && cell % w->days < to && b->use[i].amount > 0)
            return true;
    return false;
}

bool cot_lv_less(const struct cot_lv_score *a, const struct cot_lv_score *b)
{
    if (a->over != b->over) return a->over < b->over;
    if (a->moved != b->moved) return a->moved < b->moved;
    return a->cost < b->cost;
}

int64_t cot_lv_over(const struct cot_lv *w)
{
    int64_t over = 0;
    for (int32_t c = 0; c < w->cells; c++)
        if (w->room[c] >= 0) over += above(w->load[c], w->room[c]);
    return over;
}

int64_t cot_lv_moved(const struct cot_lv *w)
{
    int64_t n = 0;
    for (uint32_t i = 0; i < w->ask->batches; i++)
        n += w->day[i] >= 0 && w->ask->batch[i].standing >= 0 && w->ask->batch[i].standing != w->day[i];
    return n;
}

int64_t cot_lv_share(int64_t use, int64_t room)
{
    int64_t whole = use / room, rest = use % room;
    return whole * COT_LV_MILLION + (rest * COT_LV_MILLION + room - 1) / room;
}

int64_t cot_lv_peak(const struct cot_lv *w, int32_t *cell)
{
    int64_t peak = 0;
    if (cell) *cell = -1;
    for (int32_t c = 0; c < w->cells; c++) {
        if (w->room[c] <= 0 || !w->ask->resource[c / w->days].levelled || !w->load[c]) continue;
        int64_t share = cot_lv_share(w->load[c], w->room[c]);
        if (share <= peak) continue;
        peak = share;
        if (cell) *cell = c;
    }
    return peak;
}
