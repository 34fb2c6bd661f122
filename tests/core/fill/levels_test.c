/* server/core/fill/levels.c: the lattice. */
#include <math.h>

#include "fill/levels.h"
#include "../../main.h"
#include "../seed.h"

#define N COT_FILL_LEVELS

START_TEST(each_level_once)
{
    static const uint32_t groups_tried[] = {0, 1, 2, 40}, ranks_tried[] = {0, 1, 5, 27, 31, 32, 33, 300};
    for (size_t g = 0; g < sizeof groups_tried / sizeof groups_tried[0]; g++) {
        uint16_t order[N], level[N];
        cot_fill_order(groups_tried[g], order);
        for (size_t r = 0; r < sizeof ranks_tried / sizeof ranks_tried[0]; r++) {
            bool seen[N] = {false};
            cot_fill_levels(groups_tried[g], order, ranks_tried[r], level);
            for (int i = 0; i < N; i++) {
                sure(level[i] < N && !seen[level[i]]);
                seen[level[i]] = true;
            }
        }
    }
}
END_TEST

/* The figure of a pair of ranks: the least |h| |k| (0 counted as 1) with h z_d + k z_e = 0 mod N, not both 0. The
 * larger, the more evenly their levels meet (Niederreiter 1992, "Random Number Generation and Quasi-Monte Carlo
 * Methods", ch. 5, from memory). */
static int64_t figure(int64_t zd, int64_t ze)
{
    int64_t least = N, inverse = 1, r;
    while (inverse * ze % N != 1) inverse++;
    r = zd * inverse % N;
    for (int64_t k = 1; k <= N / 2; k++) {
        int64_t h = k * r % N, v;
        if (h > N - h) h = N - h; /* the h next to 0 */
        v = (h == 0 ? 1 : h) * k;
        if (v < least) least = v;
    }
    return least;
}

START_TEST(lattice_is_spread)
{
    for (int d = 1; d < COT_LATTICE_RANKS; d++)
        for (int e = 0; e < d; e++) {
            int64_t f = figure(cot_lattice[d], cot_lattice[e]), bound = d < 4 ? 380 : d < 8 ? 80 : 6;
            ck_assert_msg(f >= bound, "ranks %d and %d: %ld, below %ld", d, e, (long)f, (long)bound);
        }
}
END_TEST

static double correlation(const uint16_t x[static N], const uint16_t y[static N])
{
    double sum = 0, mean = (N - 1) / 2.0, var = ((double)N * N - 1) / 12;
    for (int i = 0; i < N; i++) sum += (x[i] - mean) * (y[i] - mean);
    return fabs(sum / N / var);
}

/* Levels of any two axes are hardly correlated, within a group and between groups. */
START_TEST(levels_are_independent)
{
    double worst = 0;
    for (uint32_t g = 0; g < 6; g++) {
        uint16_t here[N], there[N], x[N], y[N];
        cot_fill_order(g, here);
        cot_fill_order(g + 1, there);
        for (uint32_t r = 0; r < 38; r++) {
            cot_fill_levels(g, here, r, x);
            cot_fill_levels(g + 1, there, (r * 5 + 1) % 38, y);
            worst = fmax(worst, correlation(x, y));
            cot_fill_levels(g, here, r + 1, y);
            worst = fmax(worst, correlation(x, y));
        }
    }
    ck_assert_msg(worst < 0.07, "correlation %g", worst);
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/fill_levels");
    add(s, "levels", each_level_once);
    add(s, "lattice", lattice_is_spread);
    add(s, "independent", levels_are_independent);
    return s;
}
