/* The beta-binomial against a published fit: germination on 21 plates (Crowder 1978, Table 3). With one rho and the
 * logit of the mean linear in seed and root extract, maximum likelihood gives -0.44, -0.10, 0.52, 0.80, with standard
 * errors 0.22, 0.27, 0.30, 0.38 (as quoted with the data set in the R package agridat). */
#include <math.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "values.h"

#define PLATES 21
#define PARAMETERS 5

struct plates {
    int64_t germinated[PLATES], n[PLATES];
    double o75[PLATES], cucumber[PLATES];
};

static void read_plates(struct plates *p)
{
    struct cot_csv *csv = values_open("crowder1978_table3.csv");
    ck_assert_uint_eq(cot_csv_count(csv), PLATES + 1);
    for (size_t i = 0; i < PLATES; i++) {
        p->germinated[i] = (int64_t)value_real(csv, i + 1, "germinated");
        p->n[i] = (int64_t)value_real(csv, i + 1, "n");
        p->o75[i] = strcmp(value_text(csv, i + 1, "seed"), "O75") == 0;
        p->cucumber[i] = strcmp(value_text(csv, i + 1, "extract"), "cucumber") == 0;
    }
    cot_csv_free(csv);
}

static double log_likelihood(const struct plates *p, const double *x)
{
    double sum = 0, rho = 1 / (1 + exp(-x[4])), weight = 1 / rho - 1;
    for (int i = 0; i < PLATES; i++) {
        double eta = x[0] + x[1] * p->o75[i] + x[2] * p->cucumber[i] + x[3] * p->o75[i] * p->cucumber[i];
        double mean = 1 / (1 + exp(-eta));
        sum += log(cot_betabinom_pmf(p->n[i], mean * weight, (1 - mean) * weight, p->germinated[i]));
    }
    return sum;
}

/* Climbs one parameter after the other, with steps that grow on success and shrink on failure. */
static void climb(const struct plates *p, double *x)
{
    double step[PARAMETERS] = {0.1, 0.1, 0.1, 0.1, 0.3}, best = log_likelihood(p, x);
    for (int round = 0; round < 4000; round++) {
        int k = round % PARAMETERS;
        double was = x[k];
        x[k] = was + step[k];
        double up = log_likelihood(p, x);
        if (up > best) {
            best = up;
            step[k] *= 1.6;
        } else {
            x[k] = was;
            step[k] *= -0.5;
            if (fabs(step[k]) < 1e-9) step[k] = 1e-4;
        }
    }
}

/* The curvature of the log likelihood at its top, by differences. */
static double curvature(const struct plates *p, const double *at, int i, int j)
{
    const double h = 1e-3;
    double sum = 0;
    for (int k = 0; k < 4; k++) {
        double x[PARAMETERS];
        memcpy(x, at, sizeof x);
        x[i] += k & 1 ? h : -h;
        x[j] += k & 2 ? h : -h;
        sum += (k == 0 || k == 3 ? 1 : -1) * log_likelihood(p, x);
    }
    return -sum / (4 * h * h);
}

/* Inverts the information matrix in place by elimination, pivots as they come: it is positive definite. */
static void invert(double m[PARAMETERS][PARAMETERS])
{
    for (int k = 0; k < PARAMETERS; k++) {
        double pivot = m[k][k];
        ck_assert_double_gt(pivot, 0);
        m[k][k] = 1;
        for (int j = 0; j < PARAMETERS; j++) m[k][j] /= pivot;
        for (int i = 0; i < PARAMETERS; i++) {
            double by = m[i][k];
            if (i == k) continue;
            m[i][k] = 0;
            for (int j = 0; j < PARAMETERS; j++) m[i][j] -= by * m[k][j];
        }
    }
}

START_TEST(published_errors)
{
    static const double published[] = {0.22, 0.27, 0.30, 0.38};
    struct plates p;
    double x[PARAMETERS] = {0, 0, 0, 0, -3}, m[PARAMETERS][PARAMETERS];
    read_plates(&p);
    climb(&p, x);
    for (int i = 0; i < PARAMETERS; i++)
        for (int j = 0; j < PARAMETERS; j++) m[i][j] = curvature(&p, x, i, j);
    invert(m);
    for (int i = 0; i < 4; i++) ck_assert_double_eq_tol(sqrt(m[i][i]), published[i], 0.00501);
}
END_TEST

START_TEST(published_fit)
{
    static const double published[] = {-0.44, -0.10, 0.52, 0.80};
    struct plates p;
    double x[PARAMETERS] = {0, 0, 0, 0, -3};
    read_plates(&p);
    climb(&p, x);
    for (int i = 0; i < 4; i++) ck_assert_double_eq_tol(x[i], published[i], 0.00501);
    /* Spread between plates there is: rho is well above 0. */
    ck_assert_double_gt(1 / (1 + exp(-x[4])), 0.005);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/crowder");
    TCase *c = tcase_create("fit");
    tcase_set_timeout(c, 60);
    tcase_add_test(c, published_fit);
    tcase_add_test(c, published_errors);
    suite_add_tcase(s, c);
    return s;
}
