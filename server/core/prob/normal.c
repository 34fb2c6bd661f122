/* The standard normal distribution and its inverse. */
#include "cotyledger/core/prob.h"

#include <math.h>

#define HALF_LOG_2PI 0.91893853320467274178
#define SERIES_TO 2.0 /* the series to here, the fraction beyond */

static double density(double x)
{
    return exp(-0.5 * x * x - HALF_LOG_2PI);
}

/* P(0 <= Z <= x), 0 <= x: density times x + x^3/3 + x^5/(3.5) + ..., all terms of one sign (DLMF 7.6.2). */
static double from_middle(double x)
{
    double term = x, sum = x;
    for (int i = 3;; i += 2) {
        term *= x * x / i;
        double next = sum + term;
        if (next == sum) return density(x) * sum;
        sum = next;
    }
}

/* Density over P(Z >= x), x >= 1: x + 1/(x + 2/(x + 3/(x + ...))) (DLMF 7.9.3), evaluated from the far end. The number
 * of terms leaves an error of about exp(-2 x sqrt(2 n)). */
static double hazard(double x)
{
    double f = x;
    for (int i = 10 + (int)(400 / (x * x)); i > 0; i--) f = x + i / f;
    return f;
}

static double tail(double x)
{
    return density(x) / hazard(x);
}

double cot_phi(double x)
{
    if (!(x == x)) return NAN;
    if (x < -40) return 0;
    if (x < -SERIES_TO) return tail(-x);
    if (x < 0) return 0.5 - from_middle(-x);
    if (x <= SERIES_TO) return 0.5 + from_middle(x);
    return x > 40 ? 1 : 1 - tail(x);
}

/* Halley's step for the x > 0 at which `miss`, the probability by which x is too far out, would vanish. */
static double stepped(double x, double miss)
{
    double e = miss / density(x);
    return x - e / (1 + 0.5 * x * e);
}

/* x > 0 with P(0 <= Z <= x) = d, d below 0.4. */
static double middle_inv(double d)
{
    double x = d / 0.4;
    for (int i = 0; i < 40; i++) {
        double next = stepped(x, from_middle(x) - d);
        if (fabs(next - x) <= 4e-16 * x) return next;
        x = next;
    }
    return x;
}

/* x > 0 with P(Z >= x) = p, p at most 0.1: Newton's method on log P, which falls by the hazard. */
static double tail_inv(double p)
{
    double x = sqrt(-2 * log(p)), want = log(p);
    for (int i = 0; i < 60; i++) {
        double h = hazard(x), have = -0.5 * x * x - HALF_LOG_2PI - log(h);
        double next = x + (have - want) / h;
        if (fabs(next - x) <= 4e-16 * x) return next;
        x = next;
    }
    return x;
}

double cot_phi_inv(double p)
{
    if (!(p >= 0) || !(p <= 1)) return NAN;
    if (p == 0 || p == 1) return p == 0 ? -INFINITY : INFINITY;
    if (p == 0.5) return 0;
    if (p < 0.1) return -tail_inv(p);
    if (p > 0.9) return tail_inv(1 - p);
    return p < 0.5 ? -middle_inv(0.5 - p) : middle_inv(p - 0.5);
}
