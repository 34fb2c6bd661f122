/* What the counts of a batch teach: trays as they were seen, the cells left open, and the plants among those. */
#include "stand/sum.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

static double between(double low, double high, double x)
{
    return x < low ? low : x > high ? high : x;
}

/* Of the plants read as still there, the tray's part. */
static double part_of_more(const struct cot_sum *s, const struct cot_tray *t)
{
    if (t->gone == 0 && t != &s->pool) return 0;
    return s->told.looked > 0 ? s->told.more * t->looked / s->told.looked : 0;
}

static void put_seen(const struct cot_sum *s, const struct cot_tray *t, struct cot_seen *seen)
{
    double fit = t->fit + part_of_more(s, t);
    *seen = (struct cot_seen){.looked = t->looked, .fit = between(0, t->looked, fit), .trays = 1};
    for (int e = 0; e < COT_EMERGED_NODES; e++) seen->emerged[e] = 1;
    if (!t->early) return;
    int32_t days = s->in->work[t->counted].day - s->in->sown;
    seen->early = days > 0 ? days : 1;
    if (!cot_tray_dead(t))
        seen->blanks = (double)(t->c.blanks != COT_COUNT_UNKNOWN ? t->c.blanks : t->c.looked - t->c.usable);
}

static double pooled_trays(const struct cot_sum *s)
{
    double most = s->pool.looked < s->in->trays ? s->pool.looked : s->in->trays, said = s->pool.c.tray;
    if (said <= 0) said = s->pool.looked / (double)s->in->tray_cells;
    return between(1, most > 1 ? most : 1, said);
}

/* Trays counted, the pool after them; the cells not seen as so many fresh ones and the rests of trays counted in part,
 * cut in proportion where some left without a number. */
static size_t gather_seen(const struct cot_sum *s, struct cot_seen *seen, double *fresh, double *come)
{
    size_t n = 0;
    double all = 0, rests = 0, part;
    for (int32_t i = 0; i < s->in->trays; i++)
        if (!cot_tray_dead(&s->tray[i])) all += (double)s->tray[i].unseen;
    part = all > 0 ? between(0, 1, (double)s->unseen / all) : 0;
    *come = 0;
    for (int32_t i = 0; i < s->in->trays; i++) {
        const struct cot_tray *t = &s->tray[i];
        if (t->counted == COT_NEVER || t->looked <= 0) continue;
        put_seen(s, t, &seen[n]);
        if (!cot_tray_dead(t)) rests += seen[n].rest = (double)t->unseen * part;
        *come += seen[n++].blanks;
    }
    if (s->pool.counted != COT_NEVER && s->pool.looked > 0) {
        put_seen(s, &s->pool, &seen[n]);
        seen[n].trays = pooled_trays(s);
        *come += seen[n++].blanks;
    }
    *fresh = (double)s->unseen > rests ? (double)s->unseen - rests : 0;
    return n;
}

/* Blanks that were patched, and cells that are no longer there, don't come up. */
static void cut_blanks(const struct cot_sum *s, struct cot_seen *seen, size_t n, double *come)
{
    double room = (double)(s->live - s->usable - s->survivors - s->unseen - s->patched);
    double keep = *come > 0 ? between(0, 1, room / *come) : 0;
    for (size_t i = 0; i < n; i++) seen[i].blanks *= keep;
    *come *= keep;
}

/* --- How far emergence has come ---------------------------------------------------------------------------------- */
#define CLIMBS 12
#define Z_STEP 0.8   /* between nodes, in standard deviations of z as far as the counts leave it open */
#define Z_LEAST 0.02 /* which are at least so many of those before any count */
#define DIFF 0.05

static double rate_at(const struct cot_stand_in *in, double x)
{
    double s = cot_rate_of_odds(x), q = in->usable ? in->usable(in->cell, s) : s;
    return between(1e-6, 1 - 1e-6, q);
}

/* Score and information of the seeds' odds x and of z, from quasi-likelihoods of the counts. */
struct climb {
    double x, z, score_x, score_z, xx, xz, zz;
};

static void add_count(const struct cot_stand_in *in, const struct cot_seen *t, struct climb *c)
{
    double q = rate_at(in, c->x), slope = (rate_at(in, c->x + DIFF) - rate_at(in, c->x - DIFF)) / (2 * DIFF);
    double e = 1, change = 0;
    if (t->early > 0) {
        e = cot_emerged(&in->emergence, t->early, c->z);
        change =
            (cot_emerged(&in->emergence, t->early, c->z + DIFF) - cot_emerged(&in->emergence, t->early, c->z - DIFF)) /
            (2 * DIFF);
    }
    double r = between(1e-6, 1 - 1e-6, q * e), n = t->looked / (1 + (t->looked / t->trays - 1) * COT_RHO_CENTRE);
    double weight = n / (r * (1 - r) + 0.1 / (t->looked + 1)), dx = e * slope, dz = q * change;
    double off = weight * (t->fit / t->looked - r);
    c->score_x += off * dx;
    c->score_z += off * dz;
    c->xx += weight * dx * dx;
    c->xz += weight * dx * dz;
    c->zz += weight * dz * dz;
}

/* The most likely z, and its standard deviation with x left open. */
static double likely_z(const struct cot_stand_in *in, const struct cot_seen *seen, size_t n, double *sd)
{
    double own = 1 / (in->before.sd * in->before.sd), det = 1;
    struct climb c = {.x = in->before.mean};
    for (int i = 0; i < CLIMBS; i++) {
        c = (struct climb){.x = c.x, .z = c.z, .xx = own, .zz = 1};
        c.score_x = (in->before.mean - c.x) * own;
        c.score_z = -c.z;
        for (size_t k = 0; k < n; k++)
            if (seen[k].looked >= 1) add_count(in, &seen[k], &c);
        det = c.xx * c.zz - c.xz * c.xz;
        c.x += between(-0.7, 0.7, (c.zz * c.score_x - c.xz * c.score_z) / det);
        c.z += between(-0.7, 0.7, (c.xx * c.score_z - c.xz * c.score_x) / det);
    }
    *sd = between(Z_LEAST, 1, sqrt(c.xx / det));
    return between(-4, 4, c.z);
}

/* Nodes of z with their weights, and the share emerged at each. */
static void place_emerged(const struct cot_stand_in *in, struct cot_seen *seen, size_t n, double *weight)
{
    double sd, middle = likely_z(in, seen, n, &sd), all = 0;
    for (int e = 0; e < COT_EMERGED_NODES; e++) {
        double z = middle + (e - COT_EMERGED_NODES / 2) * Z_STEP * sd;
        all += weight[e] = exp(-0.5 * z * z);
        for (size_t i = 0; i < n; i++)
            if (seen[i].early > 0) seen[i].emerged[e] = cot_emerged(&in->emergence, seen[i].early, z);
    }
    for (int e = 0; e < COT_EMERGED_NODES; e++) weight[e] /= all;
}

static bool any_early(const struct cot_seen *seen, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (seen[i].early > 0) return true;
    return false;
}

/* --- The plants not seen ------------------------------------------------------------------------------------------ */
#define RARE 5e-4 /* values of rho less likely than this are put to the next one, towards the middle */

static void fold_into(struct cot_post *p, int from, int to)
{
    double all = p->weight[from] + p->weight[to], off = p->mean[from] - p->mean[to];
    if (!(all > 0)) return;
    double share = p->weight[from] / all;
    p->mean[to] += share * off;
    p->variance[to] = share * p->variance[from] + (1 - share) * p->variance[to] + share * (1 - share) * off * off;
    p->weight[to] = all;
    p->weight[from] = 0;
}

/* The plants not seen, as a mixture over rho. */
static void mix_of(const struct cot_post *post, int64_t cells, struct cot_mix *out)
{
    struct cot_post p = *post;
    out->cells = cells;
    for (int r = 0; r < COT_RHO_POINTS / 2; r++)
        if (p.weight[r] < RARE) fold_into(&p, r, r + 1);
    for (int r = COT_RHO_POINTS - 1; r > COT_RHO_POINTS / 2; r--)
        if (p.weight[r] < RARE) fold_into(&p, r, r - 1);
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        cot_mix_match(cells, p.mean[r], p.variance[r], &out->part[r]);
        out->part[r].weight = p.weight[r];
    }
}

enum cot_err cot_sum_rate(const struct cot_sum *s, struct cot_stand *out, struct cot_learned *learned)
{
    struct cot_post_in in = {.before = s->in->before,
                             .rho_weight = s->in->rho_weight,
                             .usable = s->in->usable,
                             .cell = s->in->cell,
                             .tray_cells = s->in->trays > 0 ? (double)s->in->cells / s->in->trays : 1};
    struct cot_seen *seen = malloc(((size_t)out->trays_counted + 1) * sizeof *seen);
    double come, weight[COT_EMERGED_NODES];
    if (!seen) return COT_MEMORY;
    in.seen_len = gather_seen(s, seen, &in.fresh, &come);
    in.seen = seen;
    cut_blanks(s, seen, in.seen_len, &come);
    learned->early = any_early(seen, in.seen_len);
    if (learned->early) place_emerged(s->in, seen, in.seen_len, weight);
    in.emerged_weight = learned->early ? weight : NULL;
    cot_post_read(&in, &learned->post);
    learned->seen = in.seen_len > 0;
    learned->trays = (size_t)out->trays_counted;
    out->rate = learned->post.rate;
    out->to_come = (int64_t)(come + 0.5);
    mix_of(&learned->post, s->unseen + out->to_come, &out->left);
    free(seen);
    return COT_OK;
}
