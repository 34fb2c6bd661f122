/* The beta-binomial distribution: sums of its terms, by their recurrence. */
#include "prob/prob.h"

#include <math.h>
#include <stdbool.h>

#define NEGLIGIBLE 1e-22 /* a term so small that all beyond it together are below 1e-12 */
#define SUM_END 1e-17
#define ANCHOR 1024 /* terms by recurrence before one is computed afresh */

static bool in_domain(int64_t n, double a, double b)
{
    return n >= 0 && a > 0 && b > 0 && a < INFINITY && b < INFINITY;
}

/* The term as a product of three binomial terms at one rate p, so that no large logarithms cancel:
 * C(n,k) B(k+a, n-k+b) / B(a,b). */
double cot_betabinom_log_pmf(int64_t n, double a, double b, int64_t k)
{
    if (!in_domain(n, a, b)) return NAN;
    if (k < 0 || k > n) return -INFINITY;
    double up = (double)k + a, down = (double)(n - k) + b, all = up + down;
    double p = up / all, q = down / all;
    return cot_log_term((double)k, (double)(n - k), p, q) + cot_log_term(a, b, p, q) - cot_log_term(up, down, p, q) +
           log(a / up) + log(b / down) + log(all / (a + b));
}

double cot_betabinom_pmf(int64_t n, double a, double b, int64_t k)
{
    return exp(cot_betabinom_log_pmf(n, a, b, k));
}

/* pmf(k + 1) / pmf(k). */
static double step_up(int64_t n, double a, double b, int64_t k)
{
    return ((double)(n - k) * ((double)k + a)) / (((double)k + 1) * ((double)(n - k) - 1 + b));
}

/* Where terms begin to matter: the walk goes down from the mode. With a < 1 the terms at 0 are never small. */
static int64_t first_term(int64_t n, double a, double b, double *pmf)
{
    double top = (double)n;
    if (a < 1) top = 0;
    else if (b >= 1 && a + b > 2) top = floor((double)(n + 1) * (a - 1) / (a + b - 2));
    else if (b >= 1) top = 0;
    int64_t k = top < 0 ? 0 : top > (double)n ? n : (int64_t)top;
    *pmf = cot_betabinom_pmf(n, a, b, k);
    while (k > 0 && *pmf > NEGLIGIBLE) {
        k--;
        *pmf /= step_up(n, a, b, k);
    }
    return k;
}

/* One walk up the terms. `sum` is P(X <= k). */
struct walk {
    int64_t n, k;
    double a, b, pmf, sum;
};

static void walk_start(struct walk *w, int64_t n, double a, double b)
{
    *w = (struct walk){.n = n, .a = a, .b = b};
    w->k = first_term(n, a, b, &w->pmf);
    w->sum = w->pmf;
}

static void walk_up(struct walk *w)
{
    w->pmf *= step_up(w->n, w->a, w->b, w->k);
    w->k++;
    w->sum += w->pmf;
}

/* The terms from k down to 0, in one walk that ends where all that follows is below the sum's last bit: from there each
 * term is less than `falls` times the one before. With a < 1 terms can rise again towards 0, so all are added. */
static double sum_down(int64_t n, double a, double b, int64_t k)
{
    double term = cot_betabinom_pmf(n, a, b, k), sum = term;
    for (int64_t steps = 1; k > 0; steps++) {
        double ratio = 1 / step_up(n, a, b, k - 1);
        double falls = b >= 1 ? ratio : (double)k / ((double)k - 1 + a);
        if (a >= 1 && falls < 1 && term * falls < SUM_END * sum * (1 - falls)) break;
        k--;
        term = steps % ANCHOR == 0 ? cot_betabinom_pmf(n, a, b, k) : term * ratio;
        sum += term;
    }
    return sum < 1 ? sum : 1;
}

/* The tail on the near side of the mean directly, the other as what that leaves of 1, unless it leaves too little. */
double cot_betabinom_le(int64_t n, double a, double b, int64_t k)
{
    if (!in_domain(n, a, b)) return NAN;
    if (k < 0) return 0;
    if (k >= n) return 1;
    if ((double)k * (a + b) > (double)n * a) {
        double above = sum_down(n, b, a, n - k - 1);
        if (above < 0.9) return 1 - above;
    }
    return sum_down(n, a, b, k);
}

double cot_betabinom_ge(int64_t n, double a, double b, int64_t k)
{
    if (k <= 0 && in_domain(n, a, b)) return 1;
    return cot_betabinom_le(n, b, a, n - k);
}

/* Walks on until P(X <= k) >= u; the last cell has all of it. */
static int64_t walk_to(struct walk *w, double u)
{
    u = cot_round9(u);
    while (w->k < w->n && cot_round9(w->sum) < u) walk_up(w);
    return w->k;
}

int64_t cot_betabinom_quantile(int64_t n, double a, double b, double u)
{
    if (n <= 0 || !in_domain(n, a, b) || !(u > 0)) return 0;
    struct walk w;
    walk_start(&w, n, a, b);
    return walk_to(&w, u);
}
