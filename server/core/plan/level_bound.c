/* Levelling: what no plan stays below. */
#include <string.h>

#include "plan/level.h"

#define DEAREST (INT64_C(1) << 20)

/* Prices are summed up over the days of each resource, so that a use costs one subtraction. */
static int64_t cheapest(const struct cot_lv *w, uint32_t batch, int32_t *day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    int64_t least = INT64_MAX;
    for (int32_t d = cot_dayset_next(&b->days, 0); d >= 0 && d < w->days; d = cot_dayset_next(&b->days, d + 1)) {
        int64_t cost = 0;
        for (uint32_t i = 0; i < b->uses; i++) {
            int32_t from, to;
            if (!cot_lv_span(w, &b->use[i], d, &from, &to)) continue;
            const int64_t *sum = w->price + (size_t)b->use[i].resource * ((size_t)w->days + 1);
            cost += b->use[i].amount * (sum[to] - sum[from]);
        }
        if (cost < least) least = cost, *day = d;
    }
    return least;
}

static void sum_up(struct cot_lv *w)
{
    for (uint32_t r = 0; r < w->ask->resources; r++) {
        int64_t *sum = w->price + (size_t)r * ((size_t)w->days + 1);
        sum[0] = 0;
        for (int32_t d = 0; d < w->days; d++) sum[d + 1] = sum[d] + w->kept[(int32_t)r * w->days + d];
    }
}

/* num / den in parts in a million, rounded down; figures up to 2^62. */
static int64_t million(int64_t num, int64_t den)
{
    while (num > INT64_MAX / COT_LV_MILLION) {
        num >>= 1;
        den = (den >> 1) + 1;
    }
    return num * COT_LV_MILLION / den;
}

static int64_t common_unit(const struct cot_lv *w)
{
    int64_t unit = 0;
    for (uint32_t i = 0; i < w->ask->batches; i++)
        for (uint32_t k = 0; k < w->ask->batch[i].uses; k++) {
            const struct cot_use *u = &w->ask->batch[i].use[k];
            int64_t a = w->ask->resource[u->resource].levelled ? u->amount : 0;
            while (a) {
                int64_t rest = unit % a;
                unit = a;
                a = rest;
            }
        }
    return unit;
}

/* The peak is a whole number of spots in some room, and a multiple of what all amounts are multiples of. */
static int64_t whole_spots(const struct cot_lv *w, int64_t bound)
{
    int64_t least = INT64_MAX, unit = common_unit(w);
    if (!unit) return bound;
    for (int32_t c = 0; c < w->cells; c++) {
        int64_t room = w->room[c];
        if (room <= 0 || !w->ask->resource[c / w->days].levelled) continue;
        int64_t spots = (bound * room + COT_LV_MILLION - 1) / COT_LV_MILLION;
        int64_t share = million((spots + unit - 1) / unit * unit, room);
        if (share < least) least = share;
    }
    return least < INT64_MAX && least > bound ? least : bound;
}

/* Share of the fullest room that a batch takes on a day, alone. */
static int64_t alone(const struct cot_lv *w, uint32_t batch, int32_t day)
{
    const struct cot_level_batch *b = &w->ask->batch[batch];
    int64_t most = 0;
    for (uint32_t i = 0; i < b->uses; i++) {
        int32_t from, to, first = (int32_t)b->use[i].resource * w->days;
        if (!w->ask->resource[b->use[i].resource].levelled || !cot_lv_span(w, &b->use[i], day, &from, &to)) continue;
        for (int32_t c = first + from; c < first + to; c++) {
            int64_t share = w->room[c] > 0 ? million(b->use[i].amount, w->room[c]) : 0;
            if (share > most) most = share;
        }
    }
    return most;
}

/* No peak is below what one batch takes on its best day. */
static void bound_by_one(struct cot_lv *w)
{
    for (uint32_t i = 0; i < w->ask->batches; i++) {
        const struct cot_dayset *days = &w->ask->batch[i].days;
        int64_t least = INT64_MAX;
        for (int32_t d = cot_dayset_next(days, 0); w->day[i] >= 0 && d >= 0 && least > w->bound;
             d = cot_dayset_next(days, d + 1)) {
            int64_t share = alone(w, i, d);
            if (share < least) least = share;
        }
        if (w->day[i] >= 0 && least > w->bound) w->bound = least;
    }
}

static void bound_by(struct cot_lv *w)
{
    int64_t sum = 0, full = 0, limited = 0;
    int32_t day = 0;
    sum_up(w);
    for (uint32_t i = 0; i < w->ask->batches; i++)
        if (w->day[i] >= 0) sum += cheapest(w, i, &day);
    for (int32_t c = 0; c < w->cells; c++) {
        if (w->room[c] < 0) continue;
        if (w->ask->resource[c / w->days].levelled) full += w->kept[c] * w->room[c];
        else limited += w->kept[c] * w->room[c];
    }
    if (full <= 0 || sum <= limited) return;
    int64_t bound = million(sum - limited, full);
    if (bound > w->bound) w->bound = bound;
}

static int64_t smallest_room(const struct cot_lv *w)
{
    int64_t least = INT64_MAX;
    for (int32_t c = 0; c < w->cells; c++)
        if (w->room[c] > 0 && w->room[c] < least && w->ask->resource[c / w->days].levelled) least = w->room[c];
    return least;
}

static int64_t price_here(const struct cot_lv *w, int32_t c, int64_t least)
{
    bool levelled = w->ask->resource[c / w->days].levelled;
    if (w->room[c] <= 0 || w->mark[c] <= 0) return 0;
    int64_t step = w->load[c] >= 2 * w->mark[c] ? COT_LV_TABLE : w->load[c] * COT_LV_STEPS / w->mark[c];
    int64_t spot = (w->table[step] >> (levelled ? 12 : 16)), most = DEAREST;
    if (least > w->room[c]) most = DEAREST * w->room[c] / least;
    return (spot < most ? spot : most) * least / w->room[c];
}

void cot_lv_bound_here(struct cot_lv *w, int p)
{
    int64_t least = smallest_room(w), peak = cot_lv_peak(w, NULL);
    if (!peak) return;
    cot_lv_shape(w, p, peak);
    for (int32_t c = 0; c < w->cells; c++) w->kept[c] = price_here(w, c, least);
    bound_by(w);
    for (int32_t c = 0; c < w->cells; c++)
        if (!w->ask->resource[c / w->days].levelled) w->kept[c] = 0;
    bound_by(w);
}

/* Load when every batch takes its cheapest day. */
static void reply_to_prices(struct cot_lv *w)
{
    int64_t *load = w->load;
    int32_t day = 0;
    memset(w->reply, 0, (size_t)w->cells * sizeof *w->reply);
    w->load = w->reply;
    for (uint32_t i = 0; i < w->ask->batches; i++)
        if (w->day[i] >= 0 && cheapest(w, i, &day) < INT64_MAX) cot_lv_put(w, i, day, 1);
    w->load = load;
}

/* Dearer where the reply is above the bound, cheaper where it is below (multiplicative weights); `step` per mille. */
static void turn_prices(struct cot_lv *w, int64_t step)
{
    for (int32_t c = 0; c < w->cells; c++) {
        if (!w->kept[c] || w->room[c] <= 0) continue;
        int64_t share = cot_lv_share(w->reply[c], w->room[c]), mark = w->bound > 0 ? w->bound : COT_LV_MILLION;
        if (share > 3 * mark) share = 3 * mark;
        int64_t turn = (share - mark) / (mark / 1000 + 1); /* per mille, -1000 .. 2000 */
        w->kept[c] += w->kept[c] * turn / 1000 * step / 1000;
        if (w->kept[c] < 1) w->kept[c] = 1;
        if (w->kept[c] > DEAREST) w->kept[c] = DEAREST;
    }
}

void cot_lv_bound_more(struct cot_lv *w, int32_t rounds)
{
    cot_lv_bound_here(w, 48); /* leaves its prices, those of levelled rooms alone */
    for (int32_t i = 0; i < rounds; i++) {
        reply_to_prices(w);
        turn_prices(w, 200 / (i / 4 + 2));
        bound_by(w);
    }
    bound_by_one(w);
    if (w->bound < 2000000000) w->bound = whole_spots(w, w->bound);
}
