/* What the house's earlier batches teach, read from the book. */
#include "stand/past.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "prob/prob.h"

/* What one batch says of losses and of emergence. */
struct sample {
    struct cot_id crop, batch;
    double loss;   /* share lost between its last count and its ready day; below 0: says nothing */
    double part;   /* of the time in which plants are lost: from that count to the ready day; above 0 */
    double median; /* log of the days until half had come; NAN: says nothing */
};

struct cot_past {
    struct cot_witness *witness;
    struct sample *sample;
    size_t witnesses, samples;
    struct cot_lore *house;
};

/* --- Losses after the count -------------------------------------------------------------------------------------- */
/* Plants there when it was counted: those left and those lost since. */
static double plants_then(const struct cot_stand *s)
{
    double left = (double)s->fixed + cot_mix_mean(&s->left) + (double)s->survivors * s->sa / (s->sa + s->sb);
    return (left > 0 ? left : 0) + (double)s->lost;
}

static double lost_after(const struct cot_in_read *r, const struct cot_stand *s)
{
    double lost = 0, tray = s->trays > 0 ? plants_then(s) / s->trays : 0;
    for (size_t i = 0; i < r->in.work_len; i++) {
        const struct cot_work *w = &r->work[i];
        if (w->what != COT_WORK_LOST || w->moved || w->day <= s->counted || w->day > s->ready) continue;
        if (w->plants != COT_COUNT_UNKNOWN) lost += w->were_usable ? (double)w->plants : 0;
        else lost += tray * (double)(w->which_len > 0 ? (int64_t)w->which_len : w->trays);
    }
    return lost;
}

/* Plants are lost from the stand-count day (of a batch potted on: from that day) until they are ready. */
static double part_of_days(int32_t count_day, int32_t ready, int32_t from)
{
    return from <= count_day ? 1 : (double)(ready - from) / (double)(ready - count_day);
}

static void read_loss(const struct cot_in_read *r, const struct cot_around *a, const struct cot_stand *s, int32_t on,
                      struct sample *out)
{
    double there = plants_then(s);
    int32_t count_day = cot_grown(a) ? s->sown : r->in.count_day;
    if (s->ready == COT_DAY_NONE || s->ready > on || s->ready <= count_day || s->counted >= s->ready || there < 1)
        return;
    out->part = part_of_days(count_day, s->ready, s->counted);
    double share = lost_after(r, s) / there;
    out->loss = share > 1 ? 1 : share;
}

/* --- Early counts made again ------------------------------------------------------------------------------------- */
static const struct cot_tray_count *tray_in(const struct cot_work *w, int32_t tray)
{
    for (size_t k = 0; w->what == COT_WORK_COUNT && k < w->count_len; k++)
        if (w->counts[k].tray == tray) return &w->counts[k];
    return NULL;
}

/* The last count of the tray that was no longer early. */
static const struct cot_tray_count *again(const struct cot_in_read *r, int32_t tray, int32_t looked)
{
    for (size_t i = r->in.work_len; i-- > 0;) {
        const struct cot_tray_count *c = tray_in(&r->work[i], tray);
        if (c && r->work[i].day >= r->in.count_day) return c->looked == looked && c->usable > 0 ? c : NULL;
    }
    return NULL;
}

/* The first early count day: usable then over usable in the same trays in the end is the share that had come. */
static void read_emerged(const struct cot_in_read *r, struct sample *out)
{
    for (size_t i = 0; i < r->in.work_len; i++) {
        const struct cot_work *w = &r->work[i];
        if (w->what != COT_WORK_COUNT || w->day >= r->in.count_day || w->day <= r->in.sown) continue;
        double then = 0, end = 0;
        for (size_t k = 0; k < w->count_len; k++) {
            const struct cot_tray_count *c = again(r, w->counts[k].tray, w->counts[k].looked);
            if (!c || w->counts[k].usable == COT_COUNT_UNKNOWN) continue;
            then += w->counts[k].usable;
            end += c->usable;
        }
        if (!(then > 0.05 * end) || !(then < 0.95 * end)) continue;
        out->median = log((double)(w->day - r->in.sown)) - COT_EMERGENCE_SPREAD * cot_phi_inv(then / end);
        return;
    }
}

/* --- One batch --------------------------------------------------------------------------------------------------- */
static struct cot_kin kin_of(const struct cot_around *a)
{
    struct cot_kin k = {.potted = cot_grown(a)};
    if (a->crop) k.crop = a->crop->id;
    if (a->lot) k.lot = a->lot->id;
    return k;
}

/* As if nothing were known of the house, so that what it tells is its own. */
static enum cot_err read_batch(const struct cot_stand_shared *s, const struct cot_around *a, struct cot_past *p)
{
    struct cot_in_read r;
    struct cot_before before;
    struct cot_learned learned;
    struct cot_stand stand = {.counted = COT_DAY_NONE};
    struct cot_kin kin = kin_of(a);
    struct cot_witness *w = &p->witness[p->witnesses];
    struct sample *sample = &p->sample[p->samples];
    struct cot_odds lot;
    (void)cot_lot_odds(a, s->assumed_seeds, &lot);
    cot_lore_before(NULL, &kin, &lot, NULL, &before);
    enum cot_err err = cot_stand_in_read(s, a, &r, &stand);
    r.in.before = before.x;
    memcpy(r.in.rho_weight, before.spread.rho_weight, sizeof r.in.rho_weight);
    cot_past_emergence(NULL, a, &r.in.emergence);
    if (err == COT_OK) err = cot_stand_sum(&r.in, &stand, &learned);
    if (err == COT_OK && learned.seen && !learned.early && stand.counted >= r.in.count_day) {
        cot_witness_of(&learned.post, &before.x, learned.trays, w);
        w->kin = kin;
        w->batch = a->batch->id;
        w->lot = lot;
        p->witnesses++;
        *sample = (struct sample){.crop = kin.crop, .batch = a->batch->id, .loss = -1, .median = NAN};
        read_loss(&r, a, &stand, s->on, sample);
        if (!cot_grown(a)) read_emerged(&r, sample);
        p->samples++;
    }
    free(r.work);
    return err;
}

static int sample_cmp(const void *x, const void *y)
{
    const struct sample *a = x, *b = y;
    int c = cot_id_cmp(&a->crop, &b->crop);
    return c != 0 ? c : cot_id_cmp(&a->batch, &b->batch);
}

enum cot_err cot_past_read(const struct cot_stand_shared *s, const struct cot_thing *crop, struct cot_past **out)
{
    size_t n;
    const struct cot_thing *const *things = cot_book_things(s->book, COT_THING_BATCH, &n);
    struct cot_past *p = *out = calloc(1, sizeof *p);
    enum cot_err err = COT_OK;
    if (!p) return COT_MEMORY;
    p->witness = malloc((n ? n : 1) * sizeof *p->witness);
    p->sample = malloc((n ? n : 1) * sizeof *p->sample);
    if (!p->witness || !p->sample) return COT_MEMORY;
    for (size_t i = 0; i < n && err == COT_OK; i++) {
        struct cot_around a;
        if (things[i]->gone || cot_thing_int(things[i], COT_F_DAY, COT_DAY_MAX) > s->on) continue;
        cot_look_around(s->book, things[i], &a);
        if (a.crop && (!crop || a.crop == crop)) err = read_batch(s, &a, p);
    }
    if (p->samples > 1) qsort(p->sample, p->samples, sizeof *p->sample, sample_cmp);
    return err == COT_OK ? cot_lore_new(p->witness, p->witnesses, &p->house) : err;
}

void cot_past_free(struct cot_past *p)
{
    if (!p) return;
    cot_lore_free(p->house);
    free(p->witness);
    free(p->sample);
    free(p);
}

/* --- What it says of another ------------------------------------------------------------------------------------- */
void cot_past_before(const struct cot_past *p, const struct cot_around *a, const struct cot_odds *lot,
                     const struct cot_id *batch, struct cot_before *out)
{
    struct cot_kin kin = kin_of(a);
    cot_lore_before(p ? p->house : NULL, &kin, lot, batch, out);
}

static size_t first_sample(const struct cot_past *p, const struct cot_around *a)
{
    size_t low = 0, high = p && a->crop ? p->samples : 0;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (cot_id_cmp(&p->sample[mid].crop, &a->crop->id) < 0) low = mid + 1;
        else high = mid;
    }
    return low;
}

static const struct sample *sample_at(const struct cot_past *p, const struct cot_around *a, size_t i)
{
    bool there = p && a->crop && i < p->samples && cot_id_cmp(&p->sample[i].crop, &a->crop->id) == 0;
    return there ? &p->sample[i] : NULL;
}

void cot_past_emergence(const struct cot_past *p, const struct cot_around *a, struct cot_emergence *out)
{
    double half = (double)cot_int_of(a->crop, COT_F_EMERGE_DAYS, 0);
    if (half <= 0) half = COT_EMERGENCE_PART * (double)cot_int_of(a->crop, COT_F_COUNT_DAYS, COT_COUNT_DAYS_DEFAULT);
    double weight = 1 / (COT_EMERGENCE_SD * COT_EMERGENCE_SD), sum = weight * log(half);
    *out = (struct cot_emergence){.spread = COT_EMERGENCE_SPREAD};
    const struct sample *s;
    for (size_t i = first_sample(p, a); (s = sample_at(p, a, i)); i++) {
        if (isnan(s->median)) continue;
        double one = 1 / (COT_EMERGED_ONCE_SD * COT_EMERGED_ONCE_SD);
        weight += one;
        sum += one * s->median;
        out->batches++;
    }
    out->median = exp(sum / weight);
    out->median_sd = sqrt(1 / weight + (out->batches ? COT_EMERGED_ONCE_SD * COT_EMERGED_ONCE_SD / 4 : 0));
}

double cot_past_later(const struct cot_past *p, const struct cot_around *a, int32_t count_day, int32_t ready,
                      int32_t on)
{
    double share = (double)cot_int_of(a->crop, COT_F_LATER_LOSS, COT_LATER_LOSS_ASSUMED) / 1000, sum = 0, parts = 0;
    int batches = 0;
    if (cot_grown(a)) count_day = (int32_t)cot_int_of(a->batch, COT_F_DAY, count_day);
    if (ready == COT_DAY_NONE || ready <= count_day || on >= ready) return 0;
    const struct sample *s;
    for (size_t i = first_sample(p, a); (s = sample_at(p, a, i)); i++) {
        if (s->loss < 0) continue;
        sum += s->loss;
        parts += s->part;
        batches++;
    }
    /* A house that never wrote a loss down has not shown that it has none. */
    if (batches >= COT_LATER_BATCHES && sum > 0)
        share = (share * COT_LATER_BATCHES + sum) / (COT_LATER_BATCHES + parts);
    return share * part_of_days(count_day, ready, on);
}
