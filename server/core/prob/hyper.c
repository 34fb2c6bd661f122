/* The hypergeometric distribution: cells drawn without putting back. */
#include "prob/prob.h"

#include <math.h>

#define SUM_END 1e-17

/* The urn, with the bounds of k. */
struct urn {
    int64_t all, usable, drawn, low, high;
};

static bool urn_of(struct urn *u, int64_t all, int64_t usable, int64_t drawn)
{
    if (all < 0 || usable < 0 || usable > all || drawn < 0 || drawn > all) return false;
    int64_t culls = all - usable;
    *u = (struct urn){.all = all, .usable = usable, .drawn = drawn};
    u->low = drawn > culls ? drawn - culls : 0;
    u->high = drawn < usable ? drawn : usable;
    return true;
}

/* As three binomial terms at the rate drawn / all (Loader 2000). */
static double term(const struct urn *u, int64_t k)
{
    double p = (double)u->drawn / (double)u->all, q = (double)(u->all - u->drawn) / (double)u->all;
    int64_t bad = u->drawn - k;
    return exp(cot_log_term((double)k, (double)(u->usable - k), p, q) +
               cot_log_term((double)bad, (double)(u->all - u->usable - bad), p, q) -
               cot_log_term((double)u->drawn, (double)(u->all - u->drawn), p, q));
}

double cot_hyper_pmf(int64_t all, int64_t usable, int64_t drawn, int64_t k)
{
    struct urn u;
    if (!urn_of(&u, all, usable, drawn)) return NAN;
    if (k < u.low || k > u.high) return 0;
    if (u.low == u.high) return 1;
    return term(&u, k);
}

/* pmf(k - 1) / pmf(k), which only falls as k falls. */
static double step_down(const struct urn *u, int64_t k)
{
    double rest = (double)(u->all - u->usable - u->drawn + k);
    return (double)k * rest / ((double)(u->usable - k + 1) * (double)(u->drawn - k + 1));
}

static double sum_down(const struct urn *u, int64_t k)
{
    double t = term(u, k), sum = t;
    while (k > u->low) {
        double ratio = step_down(u, k);
        if (ratio < 1 && t * ratio < SUM_END * sum * (1 - ratio)) break;
        t *= ratio;
        sum += t;
        k--;
    }
    return sum < 1 ? sum : 1;
}

/* The urn that counts the culls drawn instead. */
static struct urn turned(const struct urn *u)
{
    return (struct urn){u->all, u->all - u->usable, u->drawn, u->drawn - u->high, u->drawn - u->low};
}

/* P(X <= k); the tail on the near side of the mean directly. */
static double le(const struct urn *u, int64_t k)
{
    if (k < u->low) return 0;
    if (k >= u->high) return 1;
    if ((double)k * (double)u->all > (double)u->drawn * (double)u->usable) {
        struct urn other = turned(u);
        double above = sum_down(&other, u->drawn - k - 1);
        if (above < 0.9) return 1 - above;
    }
    return sum_down(u, k);
}

double cot_hyper_le(int64_t all, int64_t usable, int64_t drawn, int64_t k)
{
    struct urn u;
    return urn_of(&u, all, usable, drawn) ? le(&u, k) : NAN;
}

double cot_hyper_ge(int64_t all, int64_t usable, int64_t drawn, int64_t k)
{
    struct urn u;
    if (!urn_of(&u, all, usable, drawn)) return NAN;
    struct urn other = turned(&u);
    return k > u.high ? 0 : k <= u.low ? 1 : le(&other, drawn - k);
}

int64_t cot_hyper_quantile(int64_t all, int64_t usable, int64_t drawn, double u)
{
    struct urn urn;
    if (!urn_of(&urn, all, usable, drawn)) return 0;
    int64_t low = urn.low, high = urn.high;
    u = cot_round9(u);
    while (low < high) {
        int64_t mid = low + (high - low) / 2;
        if (cot_round9(le(&urn, mid)) >= u) high = mid;
        else low = mid + 1;
    }
    return low;
}
