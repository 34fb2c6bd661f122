/* Gamma, beta and incomplete beta functions. */
#include "prob/prob.h"

#include <math.h>
#include <stdbool.h>

#define HALF_LOG_2PI 0.91893853320467274178
#define SHIFT 16.0
#define FRACTION_STEPS 1000000

double cot_round9(double p)
{
    return floor(p * 1e9 + 0.5) / 1e9;
}

/* Stirling's series without its leading terms, z >= 16: the seventh term is below 1e-17 there (DLMF 5.11.1). */
static double stirling_tail(double z)
{
    double w = 1 / (z * z);
    double s = -691.0 / 360360;
    s = s * w + 1.0 / 1188;
    s = s * w - 1.0 / 1680;
    s = s * w + 1.0 / 1260;
    s = s * w - 1.0 / 360;
    s = s * w + 1.0 / 12;
    return s / z;
}

double cot_lgamma(double x)
{
    if (!(x > 0)) return NAN;
    double product = 1;
    while (x < SHIFT) product *= x++;
    return (x - 0.5) * log(x) - x + HALF_LOG_2PI + stirling_tail(x) - log(product);
}

/* log z! less Stirling's leading terms: log z! - ((z + 1/2) log z - z + log(2 pi) / 2), z > 0. */
static double stirling_rest(double z)
{
    if (z >= SHIFT) return stirling_tail(z);
    return cot_lgamma(z + 1) - ((z + 0.5) * log(z) - z + HALF_LOG_2PI);
}

/* Loader's deviance x log(x/m) + m - x, without cancellation near x = m. */
static double deviance(double x, double m)
{
    if (fabs(x - m) >= 0.1 * (x + m)) return x * log(x / m) + m - x;
    double v = (x - m) / (x + m), s = (x - m) * v, term = 2 * x * v;
    for (int j = 3;; j += 2) {
        term *= v * v;
        double next = s + term / j;
        if (next == s) return s;
        s = next;
    }
}

/* log(1 - p) where q = 1 - p is known too: the one of the two that loses nothing. */
static double log_of(double q, double p)
{
    return q < 0.5 ? log(q) : log1p(-p);
}

double cot_log_term(double a, double b, double p, double q)
{
    if (p <= 0) return a > 0 ? -INFINITY : 0;
    if (q <= 0) return b > 0 ? -INFINITY : 0;
    double n = a + b;
    if (a == 0) return b * log_of(q, p);
    if (b == 0) return a * log_of(p, q);
    double rest = stirling_rest(n) - stirling_rest(a) - stirling_rest(b);
    return rest - deviance(a, n * p) - deviance(b, n * q) + 0.5 * (log(n / a) - log(b)) - HALF_LOG_2PI;
}

double cot_lbeta(double a, double b)
{
    if (!(a > 0) || !(b > 0)) return NAN;
    if (a < SHIFT || b < SHIFT) {
        double small = a < b ? a : b, large = a < b ? b : a;
        if (large < SHIFT) return cot_lgamma(a) + cot_lgamma(b) - cot_lgamma(a + b);
        /* log Gamma(large) - log Gamma(large + small), the leading terms taken together. */
        double s = small + large;
        double ratio = (large - 0.5) * log1p(-small / s) - small * log(s) + small;
        return cot_lgamma(small) + ratio + stirling_tail(large) - stirling_tail(s);
    }
    double n = a + b, p = a / n, q = b / n;
    return log(n / a) - log(b) - cot_log_term(a, b, p, q) + a * log_of(p, q) + b * log_of(q, p);
}

/* Continued fraction of I_x(a, b) (DLMF 8.17.22), by the modified Lentz method (Thompson and Barnett 1986, from
 * memory). Converges fast for x < (a + 1) / (a + b + 2). */
static double beta_fraction(double a, double b, double x)
{
    const double tiny = 1e-300;
    double c = 1, d = 1 - (a + b) * x / (a + 1);
    if (fabs(d) < tiny) d = tiny;
    d = 1 / d;
    double h = d;
    for (int m = 1; m <= FRACTION_STEPS; m++) {
        for (int odd = 0; odd < 2; odd++) {
            double t = odd ? -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
                           : m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
            d = 1 + t * d;
            if (fabs(d) < tiny) d = tiny;
            c = 1 + t / c;
            if (fabs(c) < tiny) c = tiny;
            d = 1 / d;
            if (odd && fabs(c * d - 1) < 1e-15) return h * c * d;
            h *= c * d;
        }
    }
    return h;
}

/* The fraction gives the tail on this side of the mean
 * directly; the other is what that leaves of 1. */
double cot_ibeta_xy(double a, double b, double x, double y, bool logarithm)
{
    if (x <= 0) return logarithm ? -INFINITY : 0;
    if (y <= 0) return logarithm ? 0 : 1;
    /* x^a y^b / B(a, b) = a b / (a + b) times the binomial term. */
    double front = cot_log_term(a, b, x, y);
    if (x <= (a + 1) / (a + b + 2)) {
        double rest = b / (a + b) * beta_fraction(a, b, x);
        return logarithm ? front + log(rest) : exp(front) * rest;
    }
    double upper = exp(front) * (a / (a + b)) * beta_fraction(b, a, y);
    if (upper > 1) upper = 1;
    return logarithm ? log1p(-upper) : 1 - upper;
}

double cot_ibeta(double a, double b, double x)
{
    if (!(a > 0) || !(b > 0) || !(x >= 0) || !(x <= 1)) return NAN;
    return cot_ibeta_xy(a, b, x, 1 - x, false);
}

double cot_ibeta_upper(double a, double b, double x)
{
    if (!(a > 0) || !(b > 0) || !(x >= 0) || !(x <= 1)) return NAN;
    return cot_ibeta_xy(b, a, 1 - x, x, false);
}

/* Newton's step kept inside a bracket that halves whenever the step would leave it. */
double cot_ibeta_inv(double a, double b, double p)
{
    if (!(a > 0) || !(b > 0) || !(p >= 0) || !(p <= 1)) return NAN;
    if (p == 0 || p == 1) return p;
    double low = 0, high = 1, x = a / (a + b);
    for (int i = 0; i < 1200; i++) {
        double miss = cot_ibeta_xy(a, b, x, 1 - x, false) - p;
        if (miss == 0) return x;
        if (miss < 0) low = x;
        else high = x;
        double slope = exp(cot_log_term(a, b, x, 1 - x)) * a * b / (a + b) / (x * (1 - x));
        double next = x - miss / slope;
        if (!(next > low) || !(next < high)) next = low > 0 || high < 1e-3 ? low + (high - low) / 2 : high / 16;
        if (next == x || next <= low || next >= high) return x;
        if (fabs(next - x) <= 1e-16 * x) return next;
        x = next;
    }
    return x;
}
