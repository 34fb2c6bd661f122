/* Trays of a batch against each other: each is predicted from the rest. */
#include "cotyledger/core/check.h"

#include <math.h>

#include "cotyledger/core/prob.h"

#define NODES 181 /* rates on the log-odds scale, the same for every rho */
#define STEP_MOST 0.6
#define REACH 8.0 /* standard deviations to each side of what any of the leave-one-out readings expects */

/* The grid of rates, and log prior + log likelihood of all trays at each of its points. */
struct grid {
    int nodes;
    double odds[NODES];
    double log_all[COT_RHO_POINTS][NODES], log_one[COT_RHO_POINTS][NODES];
};

static bool same(const struct cot_check_tray *x, const struct cot_check_tray *y)
{
    return x->looked == y->looked && x->usable == y->usable;
}

static double log_term(const struct cot_check_tray *t, double rho, double odds)
{
    double q = cot_rate_of_odds(odds), p = cot_rate_of_odds(-odds), weight = 1 / rho - 1;
    return cot_betabinom_log_pmf(t->looked, q * weight, p * weight, t->usable);
}

/* Where the rate lies by the trays but `left_out` (n: none): its log-odds, and a standard deviation that trays as
 * unlike as the largest rho allows would leave. */
struct about {
    double odds, narrow, wide;
};
static struct about about_rate(double usable, double looked, double trays)
{
    double q = (usable + 0.5) / (looked + 1), each = trays > 0 ? looked / trays : 0;
    double most = 1 + (each > 1 ? each - 1 : 0) * cot_rho_point[COT_RHO_POINTS - 1];
    double least = 1 + (each > 1 ? each - 1 : 0) * cot_rho_point[0], cells = looked + 1;
    return (struct about){cot_odds_of_rate(q), sqrt(least / (cells * q * (1 - q))), sqrt(most / (cells * q * (1 - q)))};
}

/* From the lowest to the highest that any reading without one tray may hold for possible. */
static void place_grid(struct grid *g, const struct cot_check_tray *tray, size_t n)
{
    double usable = 0, looked = 0, low = INFINITY, high = -INFINITY, step = STEP_MOST;
    for (size_t i = 0; i < n; i++) {
        usable += tray[i].usable;
        looked += tray[i].looked;
    }
    for (size_t i = 0; i < n; i++) {
        struct about a = about_rate(usable - tray[i].usable, looked - tray[i].looked, (double)n - 1);
        double reach = REACH * (a.wide < 2 ? a.wide : 2);
        if (a.odds - reach < low) low = a.odds - reach;
        if (a.odds + reach > high) high = a.odds + reach;
        if (0.8 * a.narrow < step) step = 0.8 * a.narrow;
    }
    double nodes = ceil((high - low) / step) + 1;
    g->nodes = nodes > NODES ? NODES : nodes < 9 ? 9 : (int)nodes;
    for (int k = 0; k < g->nodes; k++) g->odds[k] = low + (high - low) * k / (g->nodes - 1);
}

/* Any rate as likely as another, on the log-odds scale, and the weights of rho. */
static void fill_grid(struct grid *g, const struct cot_check_tray *tray, size_t n, const double *rho_weight)
{
    for (int r = 0; r < COT_RHO_POINTS; r++)
        for (int k = 0; k < g->nodes; k++)
            g->log_all[r][k] =
                log(rho_weight[r]) + log(cot_rate_of_odds(g->odds[k])) + log(cot_rate_of_odds(-g->odds[k]));
    for (size_t i = 0; i < n; i++) {
        size_t alike = 1, earlier = 0;
        while (earlier < i && !same(&tray[earlier], &tray[i])) earlier++;
        if (earlier < i) continue;
        for (size_t j = i + 1; j < n; j++) alike += same(&tray[i], &tray[j]);
        for (int r = 0; r < COT_RHO_POINTS; r++)
            for (int k = 0; k < g->nodes; k++)
                g->log_all[r][k] += (double)alike * log_term(&tray[i], cot_rho_point[r], g->odds[k]);
    }
}

static double two_sided(struct grid *g, const struct cot_check_tray *t)
{
    double top = -INFINITY, all = 0, le = 0, ge = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        for (int k = 0; k < g->nodes; k++) {
            double l = g->log_all[r][k];
            if (l > -INFINITY) l -= log_term(t, cot_rho_point[r], g->odds[k]);
            g->log_one[r][k] = l;
            if (l > top) top = l;
        }
    }
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        double weight = 1 / cot_rho_point[r] - 1;
        for (int k = 0; k < g->nodes; k++) {
            if (g->log_one[r][k] < top - 37) continue; /* less than 1e-16 of the largest */
            double w = exp(g->log_one[r][k] - top);
            double a = cot_rate_of_odds(g->odds[k]) * weight, b = cot_rate_of_odds(-g->odds[k]) * weight;
            all += w;
            le += w * cot_betabinom_le(t->looked, a, b, t->usable);
            ge += w * cot_betabinom_ge(t->looked, a, b, t->usable);
        }
    }
    double p = 2 * (le < ge ? le : ge) / all;
    return cot_round9(p < 1 ? p : 1);
}

static enum cot_err check_input(const struct cot_check_tray *tray, size_t n, const double *rho_weight,
                                struct cot_fault *fault)
{
    double sum = 0;
    if (n > COT_CHECK_TRAYS_MOST)
        return cot_fail(fault, COT_TOO_LARGE, "%zu trays: %d at most are held against each other", n,
                        COT_CHECK_TRAYS_MOST);
    for (size_t i = 0; i < n; i++)
        if (tray[i].looked < 1 || tray[i].looked > COT_CHECK_CELLS_MOST || tray[i].usable < 0 ||
            tray[i].usable > tray[i].looked)
            return cot_fail(fault, COT_INVALID, "tray %d: %d usable of %d cells looked at cannot be", tray[i].tray,
                            tray[i].usable, tray[i].looked);
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        if (!(rho_weight[r] >= 0)) return cot_fail(fault, COT_INVALID, "weights of rho: none may be below 0");
        sum += rho_weight[r];
    }
    if (fabs(sum - 1) <= 1e-6) return COT_OK;
    return cot_fail(fault, COT_INVALID, "weights of rho: they make %g, not 1", sum);
}

enum cot_err cot_check_trays(struct cot_check_tray *tray, size_t n, const double rho_weight[static COT_RHO_POINTS],
                             struct cot_fault *fault)
{
    struct grid g;
    enum cot_err err = check_input(tray, n, rho_weight, fault);
    if (err != COT_OK) return err;
    for (size_t i = 0; i < n; i++) tray[i].chance = 1;
    if (n > 1) {
        place_grid(&g, tray, n);
        fill_grid(&g, tray, n, rho_weight);
    }
    for (size_t i = 0; i < n && n > 1; i++) {
        size_t earlier = 0;
        while (earlier < i && !same(&tray[earlier], &tray[i])) earlier++;
        tray[i].chance = earlier < i ? tray[earlier].chance : two_sided(&g, &tray[i]);
    }
    for (size_t i = 0; i < n; i++) tray[i].unlike = n > 1 && tray[i].chance * (double)n < COT_CHECK_RARE;
    return COT_OK;
}
