/* What the arithmetic's own files need beside cotyledger/core/prob.h. */
#ifndef COT_CORE_PROB_H
#define COT_CORE_PROB_H

#include <stdbool.h>

#include "cotyledger/core/prob.h"

/* log Gamma(x), x > 0, by Stirling's series (DLMF 5.11.1) after shifting x to 16 or more (DLMF 5.5.1). Our own, since
 * lgamma writes a global and its last bits differ between libraries. */
double cot_lgamma(double x);

/* log of  Gamma(a+b+1) / (Gamma(a+1) Gamma(b+1)) p^a q^b, a, b >= 0, q = 1 - p: the binomial term for whole a, b,
 * without the cancellation of large log gammas: Loader 2000, "Fast and accurate computation of binomial probabilities".
 */
double cot_log_term(double a, double b, double p, double q);

/* I_x(a, b) or its logarithm, with y = 1 - x known without loss. */
double cot_ibeta_xy(double a, double b, double x, double y, bool logarithm);

#endif
