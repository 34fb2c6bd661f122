/* Probability: tails and quantiles the reports need. Pure; no allocation. Probabilities are rounded to 1e-9 with
 * cot_round9 before any comparison or print. Domain errors return NaN.
 *
 * Unless said otherwise the relative error is below 1e-10 in either tail, down to probabilities of 1e-300, for n up to
 * 2,000,000 and shapes a, b in 0.001 .. 1e7 (tests/reference). A tail is asked for by its own function:
 * one less the other loses what is small. The log_ forms reach below what a double can hold. */
#ifndef COTYLEDGER_CORE_PROB_H
#define COTYLEDGER_CORE_PROB_H

#include <stdint.h>

double cot_round9(double p);

/* The standard normal: P(Z <= x), x any number or infinite; and the x with P(Z <= x) = p, 0 <= p <= 1 (0 and 1 give
 * infinities). Relative error below 1e-12: series and continued fraction DLMF 7.6.1 and 7.9.3. P(Z >= x) is
 * cot_phi(-x); where p is near 1 ask for -cot_phi_inv(1 - p) of a 1 - p known without loss. */
double cot_phi(double x);
double cot_phi_inv(double p);

/* log of the beta function, a, b > 0. Error below 1e-13 of max(1, |log|). */
double cot_lbeta(double a, double b);
/* Regularised incomplete beta I_x(a, b), a, b > 0, 0 <= x <= 1 (DLMF 8.17), and 1 - I_x(a, b). */
double cot_ibeta(double a, double b, double x);
double cot_ibeta_upper(double a, double b, double x);
/* The x with I_x(a, b) = p. */
double cot_ibeta_inv(double a, double b, double p);

/* X ~ binomial(n, p): P(X = k), P(X <= k), P(X >= k), and the smallest k with P(X <= k) >= u. */
double cot_binom_pmf(int64_t n, double p, int64_t k);
double cot_binom_le(int64_t n, double p, int64_t k);
double cot_binom_ge(int64_t n, double p, int64_t k);
double cot_binom_log_le(int64_t n, double p, int64_t k);
double cot_binom_log_ge(int64_t n, double p, int64_t k);
int64_t cot_binom_quantile(int64_t n, double p, double u);

/* X ~ beta-binomial(n; a, b): n cells, each usable with a rate drawn once from Beta(a, b). A tail costs one walk along
 * its terms, from k outwards until they are negligible. */
double cot_betabinom_pmf(int64_t n, double a, double b, int64_t k);
double cot_betabinom_log_pmf(int64_t n, double a, double b, int64_t k);
double cot_betabinom_le(int64_t n, double a, double b, int64_t k);
double cot_betabinom_ge(int64_t n, double a, double b, int64_t k);
int64_t cot_betabinom_quantile(int64_t n, double a, double b, double u);

/* X ~ hypergeometric: usable ones among `drawn` cells out of `all`, of which `usable` are. */
double cot_hyper_pmf(int64_t all, int64_t usable, int64_t drawn, int64_t k);
double cot_hyper_le(int64_t all, int64_t usable, int64_t drawn, int64_t k);
double cot_hyper_ge(int64_t all, int64_t usable, int64_t drawn, int64_t k);
int64_t cot_hyper_quantile(int64_t all, int64_t usable, int64_t drawn, double u);

#endif
