/* Rates on the log-odds scale, and plants among cells as mixtures of beta-binomials. */
#include "cotyledger/core/rate.h"

#include <math.h>
#include <stdbool.h>

#include "prob/prob.h"

/* 0.002 x 200^(i/8) */
const double cot_rho_point[COT_RHO_POINTS] = {
    0.002,
    0.0038784548949737157,
    0.0075212061861727872,
    0.014585329474434219,
    0.028284271247461901,
    0.054849635135241465,
    0.10636591793889977,
    0.2062677075442492,
    0.4,
};

void cot_spread_assumed(struct cot_spread *out)
{
    *out = (struct cot_spread){.shift_sd = COT_SHIFT_SD, .between = COT_BETWEEN_ASSUMED};
    double sum = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double z = log(cot_rho_point[r] / COT_RHO_CENTRE) / log(COT_RHO_FACTOR);
        sum += out->rho_weight[r] = exp(-0.5 * z * z);
    }
    for (int r = 0; r < COT_RHO_POINTS; r++) out->rho_weight[r] /= sum;
}

double cot_rate_of_odds(double x)
{
    return x >= 0 ? 1 / (1 + exp(-x)) : exp(x) / (1 + exp(x));
}

double cot_odds_of_rate(double s)
{
    return log(s) - log1p(-s);
}

/* --- A seed's rate before any count ------------------------------------------------------------------------------ */
#define TAIL 45.0 /* terms below e^-TAIL of the largest are left out */
#define STEPS_MOST 4000

/* Sums over the log-odds y of g, density e^(ay) / (1 + e^y)^(a+b): equal steps over a smooth density on the whole line
 * err less than any power of the step (Trefethen and Weideman 2014, SIAM Review 56:385-458, from memory). */
struct seed_sum {
    double a, b, c, top, all, first, second;
};

static double log_density(const struct seed_sum *s, double y)
{
    return y >= 0 ? -s->b * y - (s->a + s->b) * log1p(exp(-y)) : s->a * y - (s->a + s->b) * log1p(exp(y));
}

/* log(gc / (1 - gc)), 1 - gc without cancellation. */
static double seed_odds(const struct seed_sum *s, double y)
{
    double g = cot_rate_of_odds(y);
    return log(g) + log(s->c) - log(cot_rate_of_odds(-y) + g * (1 - s->c));
}

static bool add_node(struct seed_sum *s, double y, double about)
{
    double l = log_density(s, y) - s->top;
    if (l < -TAIL) return false;
    double w = exp(l), x = seed_odds(s, y) - about;
    s->all += w;
    s->first += w * x;
    s->second += w * x * x;
    return true;
}

void cot_odds_of_seed(double a, double b, double c, struct cot_odds *out)
{
    *out = (struct cot_odds){NAN, NAN};
    if (!(a >= 0.5 && a <= 1e9 && b >= 0.5 && b <= 1e9 && c > 0 && c <= 1)) return;
    struct seed_sum s = {.a = a, .b = b, .c = c};
    double mode = log(a / b), step = 0.35 * sqrt(1 / a + 1 / b), about;
    s.top = log_density(&s, mode);
    about = seed_odds(&s, mode);
    if (step > 0.4) step = 0.4;
    add_node(&s, mode, about);
    for (int i = 1; i < STEPS_MOST && add_node(&s, mode + i * step, about); i++) continue;
    for (int i = 1; i < STEPS_MOST && add_node(&s, mode - i * step, about); i++) continue;
    double mean = s.first / s.all;
    out->mean = about + mean;
    out->sd = sqrt(s.second / s.all - mean * mean);
}

/* --- A mixture's parts ------------------------------------------------------------------------------------------- */
static double between(double low, double high, double x)
{
    return x < low ? low : x > high ? high : x;
}

void cot_mix_match(int64_t cells, double mean, double variance, struct cot_mix_part *out)
{
    double n = (double)cells, p = n > 0 ? between(1e-9, 1 - 1e-9, mean / n) : 0.5, alike = 1e-9;
    if (cells > 1) alike = between(1e-9, 0.999, (variance / (n * p * (1 - p)) - 1) / (n - 1));
    if (!isfinite(mean) || !isfinite(variance)) p = alike = NAN;
    out->a = p * (1 / alike - 1);
    out->b = (1 - p) * (1 / alike - 1);
}

#define NODES 13 /* on each side, half a standard deviation apart */

void cot_mix_before(const struct cot_odds *batch, const double rho_weight[static COT_RHO_POINTS], int64_t trays,
                    int64_t tray_cells, cot_usable_of *usable, const void *context, struct cot_mix *out)
{
    double all = 0, first = 0, second = 0, n = (double)trays * (double)tray_cells;
    for (int i = -NODES; i <= NODES; i++) {
        double z = 0.5 * i, w = exp(-0.5 * z * z), s = cot_rate_of_odds(batch->mean + z * batch->sd);
        double q = usable ? usable(context, s) : s;
        all += w;
        first += w * q;
        second += w * q * q;
    }
    double q = first / all, square = second / all, own = q - square, among = square - q * q;
    out->cells = trays * tray_cells;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double tray = 1 + ((double)tray_cells - 1) * cot_rho_point[r];
        cot_mix_match(out->cells, n * q, n * own * tray + n * n * (among > 0 ? among : 0), &out->part[r]);
        out->part[r].weight = rho_weight[r];
    }
}

static double part_mean(const struct cot_mix *m, const struct cot_mix_part *p)
{
    return (double)m->cells * (p->a / (p->a + p->b));
}

double cot_mix_mean(const struct cot_mix *m)
{
    double mean = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++)
        if (m->part[r].weight > 0) mean += m->part[r].weight * part_mean(m, &m->part[r]);
    return mean;
}

double cot_mix_variance(const struct cot_mix *m)
{
    double n = (double)m->cells, mean = cot_mix_mean(m), variance = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct cot_mix_part *p = &m->part[r];
        if (!(p->weight > 0)) continue;
        double all = p->a + p->b, off = part_mean(m, p) - mean;
        variance += p->weight * (n * (p->a / all) * (p->b / all) * ((all + n) / (all + 1)) + off * off);
    }
    return variance;
}

/* --- Walking up the terms of all parts --------------------------------------------------------------------------- */
#define NEGLIGIBLE 1e-17 /* a term so small that all beyond it together are below 1e-12 */
#define CHUNK 256

struct part_walk {
    double a, b, term; /* of k, its weight in it */
    int64_t k, top;    /* `top`: beyond it terms only fall; n where they may rise again */
};

struct walk {
    struct part_walk part[COT_RHO_POINTS];
    int parts;
    int64_t n, from, k; /* chunk[k - from] is the term of k */
    double sum;         /* P(X <= k) */
    double chunk[CHUNK];
};

/* term of k + 1 over term of k. */
static double step_up(double n, double a, double b, double k)
{
    return ((n - k) * (k + a)) / ((k + 1) * (n - k - 1 + b));
}

static int64_t mode_of(int64_t n, double a, double b)
{
    if (a < 1) return 0;
    if (b < 1) return n;
    if (a + b <= 2) return 0;
    double top = floor((double)(n + 1) * (a - 1) / (a + b - 2));
    return top < 0 ? 0 : top > (double)n ? n : (int64_t)top;
}

/* A place below the mode to begin from: nine standard deviations, or nearer where the term there is out of reach. */
static int64_t near_start(const struct cot_mix_part *p, int64_t n, int64_t mode)
{
    double all = p->a + p->b, cells = (double)n, q = p->a / all;
    double sd = sqrt(cells * q * (1 - q) * ((all + cells) / (all + 1)));
    int64_t k = (int64_t)(cells * q - 9 * sd);
    return k < 0 || p->a < 1 ? 0 : k < mode ? k : mode;
}

/* Down to where terms begin to matter. */
static void part_start(struct part_walk *w, int64_t n, const struct cot_mix_part *p)
{
    int64_t mode = mode_of(n, p->a, p->b), k = near_start(p, n, mode);
    *w = (struct part_walk){.a = p->a, .b = p->b, .top = p->b < 1 ? n : mode};
    double term = p->weight * cot_betabinom_pmf(n, p->a, p->b, k);
    while (k < mode && term < NEGLIGIBLE * 1e-30) {
        k += (mode - k + 3) / 4;
        term = p->weight * cot_betabinom_pmf(n, p->a, p->b, k);
    }
    while (k > 0 && term > NEGLIGIBLE) {
        k--;
        term /= step_up((double)n, p->a, p->b, (double)k);
    }
    w->k = k;
    w->term = term;
}

static bool has_sense(const struct cot_mix *m)
{
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        const struct cot_mix_part *p = &m->part[r];
        if (!(p->weight >= 0) || (p->weight > 0 && !(p->a > 0 && p->b > 0 && isfinite(p->a + p->b)))) return false;
    }
    return m->cells >= 0;
}

static int64_t walked(int64_t cells)
{
    return cells < COT_CELLS_WALKED ? cells : COT_CELLS_WALKED;
}

static int64_t widened(int64_t k, int64_t cells)
{
    return cells > COT_CELLS_WALKED ? (int64_t)((double)k / COT_CELLS_WALKED * (double)cells) : k;
}

static void fill_chunk(struct walk *w)
{
    int64_t end = w->from + CHUNK;
    for (int i = 0; i < CHUNK; i++) w->chunk[i] = 0;
    for (int r = 0; r < w->parts; r++) {
        struct part_walk *p = &w->part[r];
        double n = (double)w->n, term = p->term;
        int64_t k = p->k;
        while (k < end && k <= w->n) {
            w->chunk[k - w->from] += term;
            if (k > p->top && term < NEGLIGIBLE) {
                k = w->n + 1;
                break;
            }
            term *= k < w->n ? step_up(n, p->a, p->b, (double)k) : 0;
            k++;
        }
        p->k = k;
        p->term = term;
    }
}

static void walk_start(struct walk *w, const struct cot_mix *m)
{
    w->n = walked(m->cells);
    w->parts = 0;
    w->from = w->n;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        if (!(m->part[r].weight > 0)) continue;
        struct part_walk *p = &w->part[w->parts++];
        part_start(p, w->n, &m->part[r]);
        if (p->k < w->from) w->from = p->k;
    }
    fill_chunk(w);
    w->k = w->from;
    w->sum = w->chunk[0];
}

static void walk_up(struct walk *w)
{
    w->k++;
    if (w->k == w->from + CHUNK) {
        w->from = w->k;
        fill_chunk(w);
    }
    w->sum += w->chunk[w->k - w->from];
}

double cot_mix_le(const struct cot_mix *m, int64_t k)
{
    if (!has_sense(m)) return NAN;
    if (k < 0) return 0;
    if (k >= m->cells) return 1;
    if (m->cells > COT_CELLS_WALKED) k = (int64_t)(((double)k + 1) / (double)m->cells * COT_CELLS_WALKED) - 1;
    struct walk w;
    walk_start(&w, m);
    if (k < w.k) return 0;
    while (w.k < k) walk_up(&w);
    return cot_round9(w.sum < 1 ? w.sum : 1);
}

/* Walks on until P(X <= k) >= u; the last cell has all of it. */
static int64_t walk_to(struct walk *w, double u)
{
    double least = floor(u * 1e9 + 0.5); /* both sides rounded as by cot_round9: floor(x) < least is x < least */
    while (w->k < w->n && w->sum * 1e9 + 0.5 < least) walk_up(w);
    return w->k;
}

int64_t cot_mix_quantile(const struct cot_mix *m, double u)
{
    if (m->cells <= 0 || !has_sense(m) || !(u > 0)) return 0;
    struct walk w;
    walk_start(&w, m);
    return widened(walk_to(&w, u), m->cells);
}

void cot_mix_quantiles(const struct cot_mix *m, const double *u, int n, int64_t *out)
{
    struct walk w;
    bool any = m->cells > 0 && has_sense(m);
    if (any) walk_start(&w, m);
    for (int i = 0; i < n; i++) out[i] = any && u[i] > 0 ? widened(walk_to(&w, u[i]), m->cells) : 0;
}

void cot_mix_levels(const struct cot_mix *m, int n, int64_t *out)
{
    struct walk w;
    bool any = m->cells > 0 && has_sense(m);
    if (any) walk_start(&w, m);
    for (int i = 0; i < n; i++) out[i] = any ? widened(walk_to(&w, (2 * i + 1) / (2.0 * n)), m->cells) : 0;
}
