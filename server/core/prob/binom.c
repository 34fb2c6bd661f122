/* The binomial distribution, its tails by the incomplete beta function (DLMF 8.17.5). */
#include "prob/prob.h"

#include <math.h>

static bool in_domain(int64_t n, double p)
{
    return n >= 0 && p >= 0 && p <= 1;
}

double cot_binom_pmf(int64_t n, double p, int64_t k)
{
    if (!in_domain(n, p)) return NAN;
    if (k < 0 || k > n) return 0;
    return exp(cot_log_term((double)k, (double)(n - k), p, 1 - p));
}

/* A tail of none or all: 0 or 1, or their logarithms. */
static double whole(bool all, bool logarithm)
{
    if (logarithm) return all ? 0 : -INFINITY;
    return all;
}

static double le(int64_t n, double p, int64_t k, bool logarithm)
{
    if (!in_domain(n, p)) return NAN;
    if (k < 0 || k >= n) return whole(k >= 0, logarithm);
    return cot_ibeta_xy((double)(n - k), (double)k + 1, 1 - p, p, logarithm);
}

static double ge(int64_t n, double p, int64_t k, bool logarithm)
{
    if (!in_domain(n, p)) return NAN;
    if (k <= 0 || k > n) return whole(k <= 0, logarithm);
    return cot_ibeta_xy((double)k, (double)(n - k) + 1, p, 1 - p, logarithm);
}

double cot_binom_le(int64_t n, double p, int64_t k)
{
    return le(n, p, k, false);
}

double cot_binom_ge(int64_t n, double p, int64_t k)
{
    return ge(n, p, k, false);
}

double cot_binom_log_le(int64_t n, double p, int64_t k)
{
    return le(n, p, k, true);
}

double cot_binom_log_ge(int64_t n, double p, int64_t k)
{
    return ge(n, p, k, true);
}

int64_t cot_binom_quantile(int64_t n, double p, double u)
{
    int64_t low = 0, high = n; /* the answer lies in low .. high */
    u = cot_round9(u);
    while (low < high) {
        int64_t mid = low + (high - low) / 2;
        if (cot_round9(cot_binom_le(n, p, mid)) >= u) high = mid;
        else low = mid + 1;
    }
    return low;
}
