/* Batches of a crop in one house: shift, spread between batches, and spread of trays, each batch left out of its own.
 */
#include "stand/lore.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Between-batch spread: log-normal about 0.28, so that its root mean square is COT_BETWEEN_ASSUMED. */
#define GRID 7
static const double between_point[GRID] = {0.08, 0.12, 0.18, 0.27, 0.405, 0.6075, 0.91125};
#define BETWEEN_MIDDLE 0.28
#define BETWEEN_LOG_SD 0.47
/* A batch's rho about the house's centre, and the centre about COT_RHO_CENTRE: together COT_RHO_FACTOR. */
#define RHO_LOG_SD 0.716
#define CENTRE_LOG_SD 0.833

void cot_witness_of(const struct cot_post *post, const struct cot_odds *before, size_t trays, struct cot_witness *out)
{
    double after = post->x.sd * post->x.sd, prior = before->sd * before->sd, told = 1 / after - 1 / prior;
    out->rate = after > 0 && told > 1e-3 / prior;
    out->v = out->rate ? 1 / told : INFINITY;
    out->x = out->rate ? (post->x.mean / after - before->mean / prior) / told : before->mean;
    out->rho = trays >= 2;
    memcpy(out->rho_log, post->rho_log, sizeof out->rho_log);
}

/* Sums over a lot's witnesses at one value of `between`; y = x - the lot's mean, w = 1 / (v + between^2). */
struct lot_sums {
    double w, wy, wyy, log_w;
};

struct lot {
    size_t first, count; /* witnesses */
    double mean, variance;
    struct lot_sums at[GRID];
};

/* What lots say of the crop's shift s, their own effect integrated out: exp(-(a s^2 - 2 b s + c - d) / 2). */
struct crop_sums {
    double a, b, c, d;
};

struct crop {
    size_t first, count;        /* lots */
    size_t first_witness, told; /* witnesses, and how many of them say something of the rate */
    struct crop_sums at[GRID];
    double centre_log[COT_RHO_POINTS]; /* log likelihood of the house's centre of rho */
};

struct cot_lore {
    const struct cot_witness *witness;
    size_t count;
    struct crop *crop;
    struct lot *lot;
    size_t crops, lots;
    double from_centre[COT_RHO_POINTS][COT_RHO_POINTS]; /* P(batch's rho | centre) */
    double centre[COT_RHO_POINTS];                      /* before any count */
};

static int crop_cmp(const struct cot_kin *x, const struct cot_kin *y)
{
    int c = cot_id_cmp(&x->crop, &y->crop);
    return c != 0 ? c : (int)x->potted - (int)y->potted;
}

static int kin_cmp(const struct cot_kin *x, const struct cot_kin *y)
{
    int c = crop_cmp(x, y);
    return c != 0 ? c : cot_id_cmp(&x->lot, &y->lot);
}

static int witness_cmp(const void *x, const void *y)
{
    const struct cot_witness *a = x, *b = y;
    int c = kin_cmp(&a->kin, &b->kin);
    return c != 0 ? c : cot_id_cmp(&a->batch, &b->batch);
}

/* Normal weights on the log scale, summing to 1. */
static void log_normal_weights(const double *point, int n, double middle, double sd, double *out)
{
    double all = 0;
    for (int i = 0; i < n; i++) {
        double z = log(point[i] / middle) / sd;
        all += out[i] = exp(-0.5 * z * z);
    }
    for (int i = 0; i < n; i++) out[i] /= all;
}

static void add_witness(struct lot_sums *s, const struct cot_witness *w, double mean, double between, double sign)
{
    if (!w->rate) return;
    double weight = 1 / (w->v + between * between), y = w->x - mean;
    s->w += sign * weight;
    s->wy += sign * weight * y;
    s->wyy += sign * weight * y * y;
    s->log_w += sign * log(weight);
}

static void add_lot(struct crop_sums *c, const struct lot_sums *l, double variance, double sign)
{
    double one = 1 + variance * l->w;
    c->a += sign * l->w / one;
    c->b += sign * l->wy / one;
    c->c += sign * (l->wyy - variance * l->wy * l->wy / one);
    c->d += sign * (l->log_w - log(one));
}

/* log likelihood of each centre from one batch's trays. */
static void centre_of(const struct cot_lore *h, const struct cot_witness *w, double *out)
{
    double top = w->rho_log[0];
    for (int r = 1; r < COT_RHO_POINTS; r++)
        if (w->rho_log[r] > top) top = w->rho_log[r];
    for (int c = 0; c < COT_RHO_POINTS; c++) {
        double sum = 0;
        for (int r = 0; r < COT_RHO_POINTS; r++) sum += h->from_centre[c][r] * exp(w->rho_log[r] - top);
        out[c] = log(sum);
    }
}

static void sum_lot(struct cot_lore *h, struct lot *l, struct crop *c)
{
    const struct cot_witness *w = h->witness + l->first;
    l->mean = w->lot.mean;
    l->variance = w->lot.sd * w->lot.sd;
    for (size_t i = 0; i < l->count; i++) {
        double centre[COT_RHO_POINTS];
        for (int g = 0; g < GRID; g++) add_witness(&l->at[g], &w[i], l->mean, between_point[g], 1);
        c->told += w[i].rate;
        if (!w[i].rho) continue;
        centre_of(h, &w[i], centre);
        for (int k = 0; k < COT_RHO_POINTS; k++) c->centre_log[k] += centre[k];
    }
    for (int g = 0; g < GRID; g++) add_lot(&c->at[g], &l->at[g], l->variance, 1);
}

static void sum_house(struct cot_lore *h)
{
    for (size_t i = 0; i < h->count;) {
        const struct cot_kin *kin = &h->witness[i].kin;
        if (i == 0 || crop_cmp(kin, &h->witness[i - 1].kin) != 0)
            h->crop[h->crops++] = (struct crop){.first = h->lots, .first_witness = i};
        struct crop *c = &h->crop[h->crops - 1];
        struct lot *l = &h->lot[h->lots++];
        *l = (struct lot){.first = i};
        while (i < h->count && kin_cmp(&h->witness[i].kin, kin) == 0) i++;
        l->count = i - l->first;
        c->count++;
        sum_lot(h, l, c);
    }
}

enum cot_err cot_lore_new(struct cot_witness *w, size_t n, struct cot_lore **out)
{
    struct cot_lore *h = *out = calloc(1, sizeof *h);
    if (!h) return COT_MEMORY;
    if (n > 1) qsort(w, n, sizeof *w, witness_cmp);
    h->witness = w;
    h->count = n;
    h->crop = calloc(n ? n : 1, sizeof *h->crop);
    h->lot = calloc(n ? n : 1, sizeof *h->lot);
    if (!h->crop || !h->lot) return COT_MEMORY;
    log_normal_weights(cot_rho_point, COT_RHO_POINTS, COT_RHO_CENTRE, CENTRE_LOG_SD, h->centre);
    for (int c = 0; c < COT_RHO_POINTS; c++)
        log_normal_weights(cot_rho_point, COT_RHO_POINTS, cot_rho_point[c], RHO_LOG_SD, h->from_centre[c]);
    sum_house(h);
    return COT_OK;
}

void cot_lore_free(struct cot_lore *h)
{
    if (!h) return;
    free(h->crop);
    free(h->lot);
    free(h);
}

/* --- Of one batch ------------------------------------------------------------------------------------------------ */
static const struct crop *find_crop(const struct cot_lore *h, const struct cot_kin *kin)
{
    size_t low = 0, high = h->crops;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        int c = crop_cmp(&h->witness[h->crop[mid].first_witness].kin, kin);
        if (c == 0) return &h->crop[mid];
        if (c < 0) low = mid + 1;
        else high = mid;
    }
    return NULL;
}

static const struct lot *find_lot(const struct cot_lore *h, const struct crop *c, const struct cot_kin *kin)
{
    size_t low = c->first, high = c->first + c->count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        int order = cot_id_cmp(&h->witness[h->lot[mid].first].kin.lot, &kin->lot);
        if (order == 0) return &h->lot[mid];
        if (order < 0) low = mid + 1;
        else high = mid;
    }
    return NULL;
}

static const struct cot_witness *find_witness(const struct cot_lore *h, const struct lot *l, const struct cot_id *batch)
{
    for (size_t i = 0; l && batch && i < l->count; i++)
        if (cot_id_cmp(&h->witness[l->first + i].batch, batch) == 0) return &h->witness[l->first + i];
    return NULL;
}

/* One value of `between`: the lot's and the crop's sums with the batch left out. */
struct seen_from {
    struct lot_sums lot;
    struct crop_sums crop;
};

static void leave_out(const struct crop *c, const struct lot *l, const struct cot_witness *own, int g,
                      struct seen_from *out)
{
    *out = (struct seen_from){.crop = c->at[g]};
    if (!l) return;
    out->lot = l->at[g];
    if (!own || !own->rate) return;
    add_lot(&out->crop, &out->lot, l->variance, -1);
    if (l->count > 1) add_witness(&out->lot, own, l->mean, between_point[g], -1);
    else out->lot = (struct lot_sums){0};
    add_lot(&out->crop, &out->lot, l->variance, 1);
}

/* Mean and variance of what the lot's batches share: lot's effect given the shift, then over the shift. */
static void common_at(const struct seen_from *s, const struct cot_odds *lot, struct cot_spread *spread,
                      struct cot_odds *out)
{
    double prior = lot->sd * lot->sd, one = 1 + prior * s->lot.w, open = 1 / one;
    double weight = s->crop.a + 1 / (COT_SHIFT_SD * COT_SHIFT_SD), shift = s->crop.b / weight;
    spread->shift = shift;
    spread->shift_sd = 1 / weight; /* the variance, until all are summed */
    out->mean = lot->mean + prior * s->lot.wy / one + open * shift;
    out->sd = open * open / weight + prior * open;
}

static double log_evidence(const struct crop_sums *c)
{
    double shift = COT_SHIFT_SD * COT_SHIFT_SD;
    return 0.5 * (c->d - log(1 + shift * c->a) - (c->c - c->b * c->b / (c->a + 1 / shift)));
}

static void read_rate(const struct crop *c, const struct lot *l, const struct cot_witness *own,
                      const struct cot_odds *lot, struct cot_before *out)
{
    double weight[GRID], logs[GRID], top = -INFINITY, all = 0, mean = 0, square = 0, shift2 = 0, between2 = 0;
    struct cot_odds common[GRID];
    struct cot_spread spread[GRID];
    log_normal_weights(between_point, GRID, BETWEEN_MIDDLE, BETWEEN_LOG_SD, weight);
    for (int g = 0; g < GRID; g++) {
        struct seen_from s;
        leave_out(c, l, own, g, &s);
        common_at(&s, lot, &spread[g], &common[g]);
        logs[g] = log_evidence(&s.crop);
        if (logs[g] > top) top = logs[g];
    }
    for (int g = 0; g < GRID; g++) all += weight[g] *= exp(logs[g] - top);
    out->spread.shift = 0;
    for (int g = 0; g < GRID; g++) {
        double w = weight[g] / all;
        mean += w * common[g].mean;
        square += w * (common[g].sd + common[g].mean * common[g].mean);
        out->spread.shift += w * spread[g].shift;
        shift2 += w * (spread[g].shift_sd + spread[g].shift * spread[g].shift);
        between2 += w * between_point[g] * between_point[g];
    }
    double variance = square - mean * mean, shift = shift2 - out->spread.shift * out->spread.shift;
    out->common = (struct cot_odds){mean, sqrt(variance > 1e-12 ? variance : 1e-12)};
    out->spread.shift_sd = sqrt(shift > 0 ? shift : 0);
    out->spread.between = sqrt(between2);
}

static void read_rho(const struct cot_lore *h, const struct crop *c, const struct cot_witness *own,
                     struct cot_before *out)
{
    double logs[COT_RHO_POINTS], mine[COT_RHO_POINTS] = {0}, top = -INFINITY, all = 0;
    if (own && own->rho) centre_of(h, own, mine);
    for (int k = 0; k < COT_RHO_POINTS; k++) {
        logs[k] = log(h->centre[k]) + (c ? c->centre_log[k] : 0) - mine[k];
        if (logs[k] > top) top = logs[k];
    }
    for (int k = 0; k < COT_RHO_POINTS; k++) all += logs[k] = exp(logs[k] - top);
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        out->spread.rho_weight[r] = 0;
        for (int k = 0; k < COT_RHO_POINTS; k++) out->spread.rho_weight[r] += logs[k] / all * h->from_centre[k][r];
    }
}

void cot_lore_before(const struct cot_lore *h, const struct cot_kin *kin, const struct cot_odds *lot,
                     const struct cot_id *batch, struct cot_before *out)
{
    static const struct cot_id none;
    const struct crop *c = h && cot_id_cmp(&kin->crop, &none) != 0 ? find_crop(h, kin) : NULL;
    const struct lot *l = c ? find_lot(h, c, kin) : NULL;
    const struct cot_witness *own = find_witness(h, l, batch);
    cot_spread_assumed(&out->spread);
    out->common = (struct cot_odds){lot->mean, sqrt(lot->sd * lot->sd + COT_SHIFT_SD * COT_SHIFT_SD)};
    size_t others = c ? c->told - (own && own->rate) : 0;
    if (others > 0) {
        read_rate(c, l, own, lot, out);
        read_rho(h, c, own, out);
        out->spread.batches = (int32_t)others;
    }
    double between = out->spread.between;
    out->x = (struct cot_odds){out->common.mean, sqrt(out->common.sd * out->common.sd + between * between)};
}

double cot_shared_of(const struct cot_before *b, const struct cot_witness *own, double slope, double sd)
{
    double between = b->spread.between * b->spread.between, common = b->common.sd * b->common.sd;
    if (!(sd > 0) || !(slope > 0)) return 0;
    double open = 1; /* how far the batch follows what the lot shares, its own count being known */
    if (own->rate) {
        open = own->v / (between + own->v);
        common = 1 / (1 / common + 1 / (between + own->v));
    }
    double shared = slope * open * sqrt(common) / sd;
    return shared < 0 ? 0 : shared > 0.999 ? 0.999 : shared;
}
