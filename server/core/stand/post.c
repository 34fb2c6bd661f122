/* From counted trays to the plants among the cells not seen. */
#include "stand/post.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "prob/prob.h"

#define STEP 0.6       /* between nodes, in standard deviations */
#define NODES_MOST 80  /* on one side */
#define CUT 16.0       /* nodes with less than e^-CUT of the weight in the middle are left out */
#define CLIMBS_MOST 12 /* towards the middle */
#define RATE_LEAST 1e-9

/* One value of rho and of emergence. */
struct slice {
    const struct cot_post_in *in;
    int e;
    double rho, phi;     /* phi = a + b */
    double middle, step; /* nodes at middle + i x step */
    double top, ways;    /* log weight of the middle; of what doesn't hang on the rate */
    double all, x, xx, plants, square, xplants, cells_usable;
};

static double rate_at(const struct cot_post_in *in, double x)
{
    double s = cot_rate_of_odds(x), q = in->usable ? in->usable(in->cell, s) : s;
    return q < RATE_LEAST ? RATE_LEAST : q > 1 - RATE_LEAST ? 1 - RATE_LEAST : q;
}

static double slope_at(const struct cot_post_in *in, double x)
{
    if (!in->usable) return rate_at(in, x) * (1 - rate_at(in, x));
    return (rate_at(in, x + 0.02) - rate_at(in, x - 0.02)) / 0.04;
}

/* The correlation of the cells of a count: of one tray rho; of several less, since only those of one tray are alike. */
static double alike(const struct cot_seen *t, double rho)
{
    return t->trays <= 1 || t->looked <= 1 ? rho : rho * (t->looked / t->trays - 1) / (t->looked - 1);
}

/* log of a (a + 1) ... (a + n - 1) = log Gamma(a + n) - log Gamma(a); few factors are multiplied out. `gamma` keeps log
 * Gamma(a) for the next tray; NAN: not known yet. */
static double log_rise(double a, double n, double *gamma)
{
    if (n <= 0) return 0;
    if (n > 12 || n != floor(n)) {
        if (isnan(*gamma)) *gamma = cot_lgamma(a);
        return cot_lgamma(a + n) - *gamma;
    }
    double product = a;
    for (double i = 1; i < n; i++) product *= a + i;
    return log(product);
}

static double phi_of(const struct slice *s, const struct cot_seen *t)
{
    double r = t->trays > 1 ? alike(t, s->rho) : s->rho;
    return 1 / (r > 1e-7 ? r : 1e-7) - 1;
}

/* The part of the likelihood that doesn't hang on the rate. */
static double log_ways(const struct slice *s)
{
    double sum = 0;
    for (size_t i = 0; i < s->in->seen_len; i++) {
        double unknown = NAN;
        sum += log_rise(phi_of(s, &s->in->seen[i]), s->in->seen[i].looked, &unknown);
    }
    return sum;
}

static double log_weight(const struct slice *s, double x, double q)
{
    double z = (x - s->in->before.mean) / s->in->before.sd, sum = -0.5 * z * z - s->ways;
    double a = -1, b = -1, gamma_a = NAN, gamma_b = NAN;
    for (size_t i = 0; i < s->in->seen_len; i++) {
        const struct cot_seen *t = &s->in->seen[i];
        double phi = t->trays > 1 ? phi_of(s, t) : s->phi, p = q * t->emerged[s->e];
        if (p * phi != a || (1 - p) * phi != b) {
            a = p * phi;
            b = (1 - p) * phi;
            gamma_a = gamma_b = NAN;
        }
        sum += log_rise(a, t->fit, &gamma_a) + log_rise(b, t->looked - t->fit, &gamma_b);
    }
    return sum;
}

/* Newton's step with the expected curvature of a quasi-likelihood; sets where the nodes lie, not what they weigh. */
static void find_middle(struct slice *s)
{
    const struct cot_post_in *in = s->in;
    double own = 1 / (in->before.sd * in->before.sd), info = own;
    for (int i = 0; i < CLIMBS_MOST; i++) {
        double x = s->middle, q = rate_at(in, x), slope = slope_at(in, x), score = (in->before.mean - x) * own;
        info = own;
        for (size_t k = 0; k < in->seen_len; k++) {
            const struct cot_seen *t = &in->seen[k];
            double e = t->emerged[s->e], r = q * e, n = t->looked / (1 + (t->looked - 1) * alike(t, s->rho));
            double d = e * slope / (r * (1 - r) + 0.1 / (t->looked + 1));
            score += n * (t->fit / t->looked - r) * d;
            info += n * e * slope * d;
        }
        double move = score / info;
        s->middle += move > 1 ? 1 : move < -1 ? -1 : move;
        if (fabs(move) * sqrt(info) < 0.1) break;
    }
    s->step = STEP / sqrt(info);
}

/* Mean and variance of the plants not seen, at a rate. */
static void plants_at(const struct slice *s, double q, double *mean, double *variance, double *usable)
{
    const struct cot_post_in *in = s->in;
    double tray = in->tray_cells < in->fresh ? in->tray_cells : in->fresh;
    *mean = in->fresh * q;
    *variance = in->fresh * q * (1 - q) * (1 + (tray > 1 ? (tray - 1) * s->rho : 0));
    double come = 0;
    for (size_t i = 0; i < in->seen_len; i++) {
        const struct cot_seen *t = &in->seen[i];
        double e = t->emerged[s->e];
        if (t->rest > 0) {
            double weight = e < 1 ? s->phi : s->phi + t->looked;
            double p = e < 1 ? q : (q * s->phi + t->fit) / weight;
            *mean += t->rest * p;
            *variance += t->rest * p * (1 - p) * (1 + (t->rest > 1 ? (t->rest - 1) / (weight + 1) : 0));
        }
        if (t->blanks > 0 && e < 1) {
            double p = q * (1 - e) / (1 - q * e);
            come += t->blanks * p;
            *variance += t->blanks * p * (1 - p) * (1 + (t->blanks > 1 ? (t->blanks - 1) * s->rho : 0));
        }
    }
    *usable = *mean;
    *mean += come;
}

static bool add_node(struct slice *s, double x)
{
    double q = rate_at(s->in, x), l = log_weight(s, x, q) - s->top, mean, variance, usable;
    if (l < -CUT) return false;
    double w = exp(l), off = x - s->middle;
    plants_at(s, q, &mean, &variance, &usable);
    s->all += w;
    s->x += w * off;
    s->xx += w * off * off;
    s->plants += w * mean;
    s->square += w * (variance + mean * mean);
    s->xplants += w * off * mean;
    s->cells_usable += w * usable;
    return true;
}

/* Returns the log of the likelihood, the rate integrated out. */
static double sum_slice(struct slice *s)
{
    find_middle(s);
    s->ways = log_ways(s);
    s->top = log_weight(s, s->middle, rate_at(s->in, s->middle));
    add_node(s, s->middle);
    for (int i = 1; i <= NODES_MOST && add_node(s, s->middle + i * s->step); i++) continue;
    for (int i = 1; i <= NODES_MOST && add_node(s, s->middle - i * s->step); i++) continue;
    return s->top + log(s->all * s->step / s->in->before.sd) - 0.91893853320467274178; /* log(2 pi) / 2 */
}

/* Over all slices; the plants' about `guess`. */
struct total {
    double x, xx, plants, xplants, usable;
};

static void add_slice(const struct slice *s, double weight, int r, struct cot_post *out, struct total *t)
{
    double x = s->x / s->all + s->middle, mean = s->plants / s->all, off = s->middle;
    out->mean[r] += weight * mean;
    out->variance[r] += weight * (s->square / s->all);
    t->x += weight * x;
    t->xx += weight * (s->xx / s->all + 2 * off * (s->x / s->all) + off * off);
    t->plants += weight * mean;
    t->xplants += weight * (s->xplants / s->all + off * mean);
    t->usable += weight * (s->cells_usable / s->all);
}

static double cells_of(const struct cot_post_in *in)
{
    double cells = in->fresh;
    for (size_t i = 0; i < in->seen_len; i++) cells += in->seen[i].rest;
    return cells;
}

/* Weights of the slices from the logs of their likelihoods; rho's own, and its likelihood. */
static void weigh(const struct cot_post_in *in, int nodes, double l[COT_RHO_POINTS][COT_EMERGED_NODES],
                  struct cot_post *out)
{
    double top = -INFINITY, all = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++)
        for (int e = 0; e < nodes; e++)
            if (in->rho_weight[r] > 0 && l[r][e] > top) top = l[r][e];
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double sum = 0;
        for (int e = 0; e < nodes; e++) {
            l[r][e] = (nodes > 1 ? in->emerged_weight[e] : 1) * exp(l[r][e] - top);
            sum += l[r][e];
        }
        out->rho_log[r] = top + log(sum > 1e-300 ? sum : 1e-300);
        out->weight[r] = in->rho_weight[r] * sum;
        all += out->weight[r];
        for (int e = 0; e < nodes; e++) l[r][e] /= sum > 1e-300 ? sum : 1e-300;
    }
    for (int r = 0; r < COT_RHO_POINTS; r++) out->weight[r] /= all;
}

void cot_post_read(const struct cot_post_in *in, struct cot_post *out)
{
    struct slice s[COT_RHO_POINTS][COT_EMERGED_NODES];
    double l[COT_RHO_POINTS][COT_EMERGED_NODES];
    int nodes = in->emerged_weight ? COT_EMERGED_NODES : 1, middle_node = nodes / 2;
    double middle = in->before.mean;
    *out = (struct cot_post){0};
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double rho = cot_rho_point[r];
        for (int e = 0; e < nodes; e++) {
            s[r][e] = (struct slice){.in = in, .e = e, .rho = rho, .phi = 1 / rho - 1, .middle = middle};
            l[r][e] = sum_slice(&s[r][e]);
        }
        middle = s[r][middle_node].middle;
    }
    weigh(in, nodes, l, out);
    struct total t = {0};
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        struct total own = {0};
        for (int e = 0; e < nodes; e++) add_slice(&s[r][e], l[r][e], r, out, &own);
        out->variance[r] -= out->mean[r] * out->mean[r];
        if (out->variance[r] < 0) out->variance[r] = 0;
        t.x += out->weight[r] * own.x;
        t.xx += out->weight[r] * own.xx;
        t.plants += out->weight[r] * own.plants;
        t.xplants += out->weight[r] * own.xplants;
        t.usable += out->weight[r] * own.usable;
    }
    double variance = t.xx - t.x * t.x, cells = cells_of(in);
    out->x = (struct cot_odds){t.x, sqrt(variance > 0 ? variance : 0)};
    out->slope = variance > 0 ? (t.xplants - t.x * t.plants) / variance : 0;
    out->rate = cells > 0 ? t.usable / cells : rate_at(in, t.x);
}
