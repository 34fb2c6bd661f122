/* How many more trays to count. */
#include "cotyledger/core/count.h"

#include <math.h>
#include <stdlib.h>

#include "cotyledger/core/prob.h"
#include "stand/calc.h"

#define OUTCOMES 41 /* equally likely numbers that the trays may show */

/* What the stand leaves open for one value of rho: the batch's rate q ~ Beta(a, b). */
struct part {
    double weight, a, b, tray; /* tray: variance of a tray's cells over that of cells apart */
};

struct open {
    const struct cot_stand *s;
    double cells, tray_cells; /* not seen; of a tray */
    struct part part[COT_RHO_POINTS];
};

int64_t cot_count_left(const struct cot_stand *s)
{
    int64_t trays = s->trays > 0 ? s->trays : 1, cells = s->cells / trays;
    int64_t left = trays - s->trays_counted, room = cells > 0 ? s->unseen / cells : 0;
    return left < 0 || room < 0 ? 0 : left < room ? left : room;
}

/* Takes the spread of whole trays out of the variance; what is left is that of the batch's rate. */
static void open_stand(const struct cot_stand *s, struct open *o)
{
    int64_t trays = s->trays > 0 ? s->trays : 1;
    *o = (struct open){.s = s, .cells = (double)s->left.cells, .tray_cells = (double)s->cells / (double)trays};
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct cot_mix_part *p = &s->left.part[r];
        double all = p->a + p->b, q = p->a / all, n = o->cells;
        double variance = n * q * (1 - q) * ((all + n) / (all + 1));
        double tray = 1 + (o->tray_cells - 1) * cot_rho_point[r], top = q * (1 - q);
        double rate = n > tray ? (variance - n * top * tray) / (n * n - n * tray) : 0;
        if (!(rate > top * 1e-4)) rate = top * 1e-4;
        if (rate > top * 0.9) rate = top * 0.9;
        o->part[r] = (struct part){p->weight, q * (top / rate - 1), (1 - q) * (top / rate - 1), tray};
    }
}

/* Plants of `cells` cells in whole trays: mean and variance. */
static void plants_of(const struct part *p, double cells, double *mean, double *variance)
{
    double all = p->a + p->b, q = p->a / all, rate = q * (1 - q) / (all + 1);
    *mean = cells * q;
    *variance = cells * (q * (1 - q) - rate) * p->tray + cells * cells * rate;
}

/* P(plants in the end >= need), `seen` more usable plants known and `cells` left open with these parts: a mixture of
 * normals. */
static double chance(const struct open *o, const struct part *part, double seen, double cells, int64_t need)
{
    const struct cot_stand *s = o->s;
    double sum = 0, out = (double)s->out, survivors = (double)s->survivors, share = s->sa / (s->sa + s->sb);
    if (need <= s->out) return 1;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double mean, variance;
        if (!(part[r].weight > 0)) continue;
        plants_of(&part[r], cells, &mean, &variance);
        if (survivors > 0) {
            double own = sqrt(survivors * share * (1 - share) * (s->sa + s->sb + survivors) / (s->sa + s->sb + 1));
            own += sqrt(variance);
            variance = own * own;
        }
        mean += (double)s->fixed + seen + (survivors > 0 ? survivors * share : 0) - out;
        if (mean < 0) mean = 0;
        if (s->later_share > 0) cot_thin_later(s->later_share, &mean, &variance);
        double off = mean + out - ((double)need - 0.5);
        sum += part[r].weight * (variance > 1e-9 ? cot_phi(off / sqrt(variance)) : off > 0);
    }
    return cot_round9(sum);
}

static enum cot_fill_verdict verdict_of(double p, int32_t confidence)
{
    return p >= confidence / 1000.0 ? COT_COVERED : p >= 0.5 ? COT_IN_DOUBT : COT_SHORT;
}

static bool has_sense(const struct cot_stand *s, int32_t confidence, int64_t need)
{
    return s->cells > 0 && s->left.cells >= 0 && confidence >= 1 && confidence <= 999 && need >= 0;
}

enum cot_fill_verdict cot_count_verdict(const struct cot_stand *s, int32_t confidence, int64_t need)
{
    struct open o;
    open_stand(s, &o);
    return verdict_of(chance(&o, o.part, 0, o.cells, need), confidence);
}

/* What so many trays may show: plants usable in them at equally likely levels. */
static void outcomes(const struct open *o, double cells, int64_t *y, struct cot_mix *mix)
{
    mix->cells = (int64_t)(cells + 0.5);
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double mean, variance;
        plants_of(&o->part[r], cells, &mean, &variance);
        cot_mix_match(mix->cells, mean, variance, &mix->part[r]);
        mix->part[r].weight = o->part[r].weight;
    }
    cot_mix_levels(mix, OUTCOMES, y);
}

/* The parts once `y` of `cells` cells in whole trays are usable: cells of a tray count for fewer. */
static void learn(const struct open *o, const struct cot_mix *mix, int64_t y, double cells, struct part *out)
{
    double all = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct part *p = &o->part[r];
        out[r] = *p;
        out[r].a += (double)y / p->tray;
        out[r].b += (cells - (double)y) / p->tray;
        const struct cot_mix_part *m = &mix->part[r];
        out[r].weight = p->weight > 0 ? p->weight * cot_betabinom_pmf(mix->cells, m->a, m->b, y) : 0;
        all += out[r].weight;
    }
    for (int r = 0; r < COT_RHO_POINTS; r++) out[r].weight = all > 0 ? out[r].weight / all : o->part[r].weight;
}

double cot_count_settles(const struct cot_stand *s, int32_t confidence, int64_t need, int64_t trays)
{
    struct open o;
    struct cot_mix mix;
    struct part part[COT_RHO_POINTS];
    int64_t y[OUTCOMES];
    int settled = 0;
    if (!has_sense(s, confidence, need) || trays < 0 || trays > cot_count_left(s)) return NAN;
    open_stand(s, &o);
    if (trays == 0) return verdict_of(chance(&o, o.part, 0, o.cells, need), confidence) != COT_IN_DOUBT;
    double cells = (double)trays * o.tray_cells;
    outcomes(&o, cells, y, &mix);
    for (int i = 0; i < OUTCOMES; i++) {
        learn(&o, &mix, y[i], cells, part);
        double rest = o.cells > cells ? o.cells - cells : 0;
        settled += verdict_of(chance(&o, part, (double)y[i], rest, need), confidence) != COT_IN_DOUBT;
    }
    return cot_round9((double)settled / OUTCOMES);
}

int64_t cot_count_trays(const struct cot_stand *s, int32_t confidence, int64_t need)
{
    int64_t low = 0, high = cot_count_left(s);
    if (!has_sense(s, confidence, need)) return COT_COUNT_NEVER;
    if (cot_count_settles(s, confidence, need, 0) > 0) return 0;
    if (high < 1 || cot_count_settles(s, confidence, need, high) < COT_COUNT_SETTLED) return COT_COUNT_NEVER;
    while (low + 1 < high) { /* not with `low`, but with `high` */
        int64_t mid = low + (high - low) / 2;
        if (cot_count_settles(s, confidence, need, mid) >= COT_COUNT_SETTLED) high = mid;
        else low = mid;
    }
    return high;
}

double cot_count_changes(const struct cot_stand *s, int32_t confidence, const int64_t *need, size_t n)
{
    struct open o;
    struct cot_mix mix;
    struct part part[COT_RHO_POINTS];
    int64_t y[OUTCOMES];
    int changed = 0;
    for (size_t k = 0; k < n; k++)
        if (!has_sense(s, confidence, need[k])) return NAN;
    if (n == 0 || cot_count_left(s) < 1) return 0;
    open_stand(s, &o);
    outcomes(&o, o.tray_cells, y, &mix);
    for (int i = 0; i < OUTCOMES; i++) {
        bool any = false;
        double rest = o.cells > o.tray_cells ? o.cells - o.tray_cells : 0;
        learn(&o, &mix, y[i], o.tray_cells, part);
        for (size_t k = 0; k < n && !any; k++)
            any = verdict_of(chance(&o, part, (double)y[i], rest, need[k]), confidence) !=
                  verdict_of(chance(&o, o.part, 0, o.cells, need[k]), confidence);
        changed += any;
    }
    return cot_round9((double)changed / OUTCOMES);
}

/* --- Of a fill ---------------------------------------------------------------------------------------------------- */
#define SURE 0.0005 /* chances nearer to 0 or 1 hang on nothing any more */

/* The line's first allotment. */
static uint32_t first_allot(const struct cot_fill *f, uint32_t line)
{
    uint32_t low = 0, high = f->allot_count; /* sorted by line */
    while (low < high) {
        uint32_t mid = low + (high - low) / 2;
        if (f->allot[mid].line < line) low = mid + 1;
        else high = mid;
    }
    return low;
}

static bool serves(const struct cot_fill *f, uint32_t line, uint32_t batch)
{
    for (uint32_t i = first_allot(f, line); i < f->allot_count && f->allot[i].line == line; i++)
        if (f->allot[i].batch == batch) return true;
    return false;
}

static bool hangs(const struct cot_fill *f, uint32_t line, uint32_t batch)
{
    const struct cot_fill_line *l = &f->line[line];
    const struct cot_stand *s = &f->stand[batch];
    if (!(l->chance > SURE) || !(l->chance < 1 - SURE)) return false;
    if (serves(f, line, batch)) return true;
    bool same = l->variety && cot_id_cmp(&l->variety->id, &s->variety) == 0;
    bool fits = !l->format || cot_id_cmp(&l->format->id, &s->format) == 0;
    return same && fits && !s->held && l->verdict != COT_COVERED && (s->ready == COT_DAY_NONE || s->ready <= l->date);
}

/* Of the line in doubt that takes the fewest trays to settle. */
static void advise(const struct cot_fill *f, const struct cot_stand *s, const uint32_t *line, const int64_t *need,
                   struct cot_count_advice *out)
{
    bool doubt = false;
    for (size_t i = 0; i < out->lines; i++) {
        const struct cot_fill_line *l = &f->line[line[i]];
        if (l->verdict != COT_IN_DOUBT) continue;
        int64_t trays = cot_count_trays(s, f->confidence, need[i]);
        doubt = true;
        if (trays < 1 || (out->line && trays >= out->trays)) continue;
        out->trays = trays;
        out->line = l;
    }
    out->changes = cot_count_changes(s, f->confidence, need, out->lines);
    if (out->line) return;
    if (out->changes >= COT_COUNT_CHANGES) out->trays = 1;
    else if (doubt && out->left == 0) out->trays = COT_COUNT_NEVER;
}

enum cot_err cot_count_advise(const struct cot_fill *f, uint32_t batch, struct cot_count_advice *out)
{
    *out = (struct cot_count_advice){0};
    if (batch >= f->batch_count) return COT_INVALID;
    const struct cot_stand *s = &f->stand[batch];
    uint32_t *line = malloc((f->line_count + 1) * sizeof *line);
    int64_t *need = malloc((f->line_count + 1) * sizeof *need);
    out->left = cot_count_left(s);
    for (uint32_t i = 0; line && need && i < f->line_count; i++) {
        if (!hangs(f, i, batch)) continue;
        line[out->lines] = i;
        need[out->lines++] = cot_stand_at(s, cot_round9(1 - f->line[i].chance));
    }
    enum cot_err err = line && need ? COT_OK : COT_MEMORY;
    if (err == COT_OK && s->cells > 0) advise(f, s, line, need, out);
    free(line);
    free(need);
    return err;
}

/* What may be counted of a batch today. */
static int64_t countable(const struct cot_fill *f, uint32_t batch)
{
    const struct cot_stand *s = &f->stand[batch];
    return f->batch[batch] && s->cells > 0 && s->count_day <= f->on ? cot_count_left(s) : 0;
}

/* The batch of the line with the widest spread below `below` among the trays not counted; UINT32_MAX: none. */
static uint32_t most_open(const struct cot_fill *f, uint32_t line, double below, double *spread)
{
    uint32_t found = UINT32_MAX;
    for (uint32_t i = first_allot(f, line); i < f->allot_count && f->allot[i].line == line; i++) {
        uint32_t batch = f->allot[i].batch;
        if (countable(f, batch) < 1) continue;
        double v = cot_round9(cot_mix_variance(&f->stand[batch].left));
        if (!(v < below) || (found != UINT32_MAX && v <= *spread)) continue;
        found = batch;
        *spread = v;
    }
    return found;
}

void cot_count_for_line(const struct cot_fill *f, uint32_t line, struct cot_count_line *out)
{
    const struct cot_fill_line *l = &f->line[line];
    uint32_t serve = 0, left = 0, batch;
    double spread = 0, below = INFINITY;
    *out = (struct cot_count_line){0};
    if (l->verdict != COT_IN_DOUBT || !(l->chance > SURE)) return;
    for (uint32_t i = first_allot(f, line); i < f->allot_count && f->allot[i].line == line; i++, serve++)
        left += cot_count_left(&f->stand[f->allot[i].batch]) > 0;
    out->several = left > 1;
    if (serve > 0 && left == 0) out->trays = COT_COUNT_NEVER;
    for (; (batch = most_open(f, line, below, &spread)) != UINT32_MAX; below = spread) {
        const struct cot_stand *s = &f->stand[batch];
        int64_t trays = cot_count_trays(s, f->confidence, cot_stand_at(s, cot_round9(1 - l->chance)));
        if (trays < 1) continue;
        out->batch = batch;
        out->trays = trays;
        return;
    }
}
