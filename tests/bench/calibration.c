/* Whether the stand's numbers hold as often as they say. Batches are drawn as the model says, rate and likeness of
 * trays from what is known before, some trays are counted, and the plants there are in the end are held against the
 * numbers to count on at 80, 90 and 95 %. A row is
 *
 *     calibration/DESIGN stated held distance-ratio
 *
 * for the level of the three where `held` is farthest from `stated`: the share of batches in which the number was
 * reached, the mean of the probability that the stand gave that very number (whole plants: a little more than the
 * level), and the mean distance between the plants and the number to count on at 90 %, over that of an oracle which
 * knows rho and has the same counts. All levels go to standard error.
 *
 *   COT_BENCH_LARGE=1      20,000 batches a design instead of 2,000
 *   COT_BENCH_BATCHES=N    batches a design
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bench.h"
#include "cotyledger/core/count.h"
#include "cotyledger/core/prob.h"
#include "cotyledger/core/sow.h"
#include "stand/calc.h"
#include "stand/lore.h"

#define TRAYS_MOST 40
#define LEVELS 3
static const int32_t level[LEVELS] = {800, 900, 950}; /* per mille */

struct design {
    int cells, trays, counted, part; /* part: cells looked at in each tray counted, 0: all */
    double later;                    /* share lost until the collecting day */
    int seeds, germinated;           /* of the lot's test */
    int per_cell, at_least;
    double misses; /* share of drops */
};

static const struct design designs[] = {
    {72, 1, 0, 0, 0, 400, 372, 1, 1, 0},       {72, 10, 0, 0, 0.01, 200, 180, 1, 1, 0.04},
    {50, 2, 1, 0, 0, 100, 91, 1, 1, 0},        {50, 40, 1, 0, 0.01, 400, 352, 1, 1, 0},
    {50, 12, 11, 0, 0, 200, 170, 1, 1, 0},     {72, 4, 1, 0, 0.02, 100, 85, 1, 1, 0},
    {72, 10, 3, 0, 0, 400, 372, 1, 1, 0},      {72, 10, 3, 0, 0.03, 400, 372, 1, 1, 0},
    {72, 10, 9, 0, 0, 200, 190, 1, 1, 0},      {72, 30, 5, 0, 0.01, 400, 320, 1, 1, 0.03},
    {98, 6, 2, 0, 0, 300, 279, 1, 1, 0.02},    {98, 20, 8, 0, 0.05, 400, 388, 1, 1, 0},
    {98, 20, 19, 0, 0.01, 100, 94, 1, 1, 0},   {128, 3, 1, 0, 0, 400, 360, 1, 1, 0},
    {128, 8, 2, 0, 0.01, 200, 176, 1, 1, 0},   {128, 16, 4, 0, 0, 100, 80, 2, 1, 0.05},
    {128, 40, 20, 0, 0.02, 400, 376, 1, 1, 0}, {128, 6, 3, 32, 0, 400, 352, 1, 1, 0},
    {200, 5, 1, 0, 0, 400, 372, 1, 1, 0},      {200, 12, 3, 0, 0.01, 300, 270, 1, 1, 0.03},
    {200, 40, 39, 0, 0, 100, 88, 1, 1, 0},     {288, 4, 3, 0, 0.01, 400, 384, 1, 1, 0},
    {288, 10, 2, 72, 0, 200, 174, 4, 3, 0},    {338, 20, 4, 0, 0.02, 400, 340, 1, 1, 0},
    {512, 2, 1, 0, 0, 400, 364, 1, 1, 0},      {512, 20, 2, 64, 0.01, 100, 93, 1, 1, 0},
    {512, 40, 6, 0, 0, 400, 376, 3, 2, 0.02},
};

/* --- Drawing -------------------------------------------------------------------------------------------------------
 */
/* SplitMix64, from a fixed seed: two runs give the same rows. */
static uint64_t dice = 20270301;

static double draw(void)
{
    uint64_t z = (dice += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return ((double)((z ^ (z >> 31)) >> 12) + 0.5) / 4503599627370496.0;
}

/* Evenly spread over batches in each of several dimensions, so that rare rates come as often as they should. */
static double even(int i, double step)
{
    double u = 0.5 + step * i;
    u -= floor(u);
    return u < 1e-9 ? 1e-9 : u;
}

struct known {
    const struct design *d;
    struct cot_cell cell;
    struct cot_odds before;
    struct cot_spread spread;
};

static void know(const struct design *d, struct known *k)
{
    const struct cot_drop_known drop = {
        .by_hand = d->misses == 0, .seeds = d->per_cell, .singling = {.misses = (int64_t)(1000 * d->misses + 0.5)}};
    const struct cot_rate_known rate = {.test_seeds = d->seeds,
                                        .test_germ = d->germinated,
                                        .label = -1,
                                        .lawful = -1,
                                        .emergence = 1000,
                                        .usable = 950};
    const struct cot_kin kin = {.potted = false};
    struct cot_odds lot;
    struct cot_before before;
    *k = (struct known){.d = d, .cell = {.at_least = d->at_least}};
    BENCH_MUST(cot_drop_of(&drop, &k->cell.drop, NULL) == COT_OK);
    (void)cot_rate_before(&rate, &lot);
    cot_lore_before(NULL, &kin, &lot, NULL, &before);
    k->before = before.x;
    k->spread = before.spread;
}

/* Batches are drawn once each and counted once; what was not counted is drawn this often, for the share that held not
 * to hang on the luck of a few trays. */
#define FUTURES 10
#define CELLS_MOST 512

/* The truth of one batch: each counted tray's usable cells, and the plants in the end, in each of its futures. */
struct truth {
    double rho;
    int rho_index;
    int seen[TRAYS_MOST];
    int64_t plants[FUTURES];
};

/* P(X <= k) of a beta-binomial, to draw from. */
struct table {
    int n;
    double le[CELLS_MOST + 1];
};

static void fill_table(struct table *t, int n, double a, double b)
{
    double sum = 0;
    t->n = n;
    int top = a + b > 2 && a > 1 ? (int)((n + 1) * (a - 1) / (a + b - 2)) : 0;
    if (top > n || b < 1) top = n;
    if (a < 1) top = 0;
    t->le[top] = cot_betabinom_pmf(n, a, b, top);
    for (int k = top; k < n; k++) t->le[k + 1] = t->le[k] * ((n - k) * (k + a)) / ((k + 1) * (n - k - 1 + b));
    for (int k = top; k > 0; k--) t->le[k - 1] = t->le[k] / (((n - k + 1) * (k - 1 + a)) / (k * (n - k + b)));
    for (int k = 0; k <= n; k++) t->le[k] = sum += t->le[k];
}

static int draw_from(const struct table *t)
{
    int low = 0, high = t->n;
    double u = draw() * t->le[t->n];
    while (low < high) {
        int mid = (low + high) / 2;
        if (t->le[mid] >= u) high = mid;
        else low = mid + 1;
    }
    return low;
}

/* A seed's germination from its test, then shift and the batch's own: not the normal that the product takes for it. */
static double draw_rate(const struct known *k, int i)
{
    double g = cot_ibeta_inv(k->d->germinated + 1, k->d->seeds - k->d->germinated + 1, even(i, 0.41421356237309515));
    double own = sqrt(COT_SHIFT_SD * COT_SHIFT_SD + k->spread.between * k->spread.between);
    double x = cot_odds_of_rate(0.95 * g) + own * cot_phi_inv(even(i, 0.61803398874989485));
    return cot_cell_usable(&k->cell, cot_rate_of_odds(x));
}

static int64_t keep(double later, int64_t plants)
{
    if (!(later > 0)) return plants;
    double kept = exp(log(draw()) / (1 / later - 1)); /* 1 less a share ~ Beta(1, 1 / later - 1) */
    return cot_binom_quantile(plants, kept, draw());
}

static void draw_batch(const struct known *k, int i, double rho_factor, struct truth *t)
{
    static struct table whole, part, rest[TRAYS_MOST];
    const struct design *d = k->d;
    double u = even(i, 0.7320508075688772), q = draw_rate(k, i);
    int r = 0;
    while (r < COT_RHO_POINTS - 1 && u > k->spread.rho_weight[r]) u -= k->spread.rho_weight[r++];
    t->rho_index = r;
    t->rho = cot_rho_point[r] * rho_factor;
    if (t->rho > 0.6) t->rho = 0.6;
    double phi = 1 / t->rho - 1, a = q * phi, b = (1 - q) * phi;
    fill_table(&whole, d->cells, a, b);
    if (d->part) fill_table(&part, d->part, a, b);
    for (int tray = 0; tray < d->counted; tray++) {
        t->seen[tray] = draw_from(d->part ? &part : &whole);
        if (d->part) fill_table(&rest[tray], d->cells - d->part, a + t->seen[tray], b + d->part - t->seen[tray]);
    }
    for (int f = 0; f < FUTURES; f++) {
        int64_t plants = 0;
        for (int tray = 0; tray < d->trays; tray++) {
            if (tray >= d->counted) plants += draw_from(&whole);
            else plants += t->seen[tray] + (d->part ? draw_from(&rest[tray]) : 0);
        }
        t->plants[f] = keep(d->later, plants);
    }
}

/* --- Holding the numbers against it --------------------------------------------------------------------------------
 */
static void stand_of(const struct known *k, const struct truth *t, const double *rho_weight, int counted,
                     struct cot_stand *out)
{
    struct cot_tray_count count[TRAYS_MOST];
    struct cot_work work = {.what = COT_WORK_COUNT, .day = 20, .counts = count, .count_len = (size_t)counted};
    struct cot_stand_in in = {.trays = k->d->trays,
                              .tray_cells = k->d->cells,
                              .cells = (int64_t)k->d->trays * k->d->cells,
                              .before = k->before,
                              .usable = cot_cell_usable,
                              .cell = &k->cell,
                              .usable_share = 0.95,
                              .count_day = COT_DAY_NONE,
                              .work = &work,
                              .work_len = counted > 0};
    for (int i = 0; i < counted; i++) {
        int32_t looked = k->d->part ? k->d->part : k->d->cells;
        count[i] = (struct cot_tray_count){i + 1, looked, t->seen[i], looked - t->seen[i], 0, 0};
    }
    memcpy(in.rho_weight, rho_weight, sizeof in.rho_weight);
    *out = (struct cot_stand){.trays = k->d->trays, .counted = COT_DAY_NONE, .later_share = k->d->later};
    BENCH_MUST(cot_stand_sum(&in, out, NULL) == COT_OK);
    cot_stand_finish(out, 900);
}

static double probability(const struct cot_stand *s, int64_t n)
{
    return n <= 0 ? 1 : 1 - cot_mix_le(&s->then, n - 1 - s->then_base);
}

struct tally {
    double stated[LEVELS], held[LEVELS], off, oracle;
};

static double distance(const struct cot_stand *s, const struct truth *t)
{
    double off = 0;
    for (int f = 0; f < FUTURES; f++) off += fabs((double)(t->plants[f] - s->count_on));
    return off / FUTURES;
}

static void add_batch(const struct cot_stand *s, const struct truth *t, struct tally *sum)
{
    for (int l = 0; l < LEVELS; l++) {
        int64_t n = cot_stand_at(s, cot_round9((1000 - level[l]) / 1000.0));
        sum->stated[l] += probability(s, n);
        for (int f = 0; f < FUTURES; f++) sum->held[l] += (double)(t->plants[f] >= n) / FUTURES;
    }
    sum->off += distance(s, t);
}

static int batches(void)
{
    const char *large = getenv("COT_BENCH_LARGE");
    return (int)bench_number("COT_BENCH_BATCHES", large && strcmp(large, "1") == 0 ? 20000 : 2000);
}

static void design_name(const struct design *d, char out[static 80])
{
    int n = snprintf(out, 80, "%dx%d-%d", d->cells, d->trays, d->counted);
    if (d->part) n += snprintf(out + n, 80 - (size_t)n, "-%dcells", d->part);
    if (d->per_cell > 1) n += snprintf(out + n, 80 - (size_t)n, "-%dof%d", d->at_least, d->per_cell);
    if (d->later > 0) n += snprintf(out + n, 80 - (size_t)n, "-later%.0f", 100 * d->later);
    snprintf(out + n, 80 - (size_t)n, "-test%d", d->seeds);
}

static void put_design(const char *name, const struct tally *sum, int n)
{
    int worst = 0;
    for (int l = 0; l < LEVELS; l++) {
        bench_say("calibration: %s, %d per mille: stated %.4f, held %.4f", name, level[l], sum->stated[l] / n,
                  sum->held[l] / n);
        if (fabs(sum->held[l] - sum->stated[l]) > fabs(sum->held[worst] - sum->stated[worst])) worst = l;
    }
    printf("calibration/%s %.4f %.4f %.3f\n", name, sum->stated[worst] / n, sum->held[worst] / n,
           sum->off / sum->oracle);
    fflush(stdout);
}

static void calibrate(const struct design *d)
{
    char name[80];
    struct known k;
    struct tally sum = {0};
    int n = batches();
    know(d, &k);
    for (int i = 0; i < n; i++) {
        struct truth t;
        struct cot_stand s;
        double only[COT_RHO_POINTS] = {0};
        draw_batch(&k, i, 1, &t);
        stand_of(&k, &t, k.spread.rho_weight, d->counted, &s);
        add_batch(&s, &t, &sum);
        only[t.rho_index] = 1;
        stand_of(&k, &t, only, d->counted, &s);
        sum.oracle += distance(&s, &t);
    }
    design_name(d, name);
    put_design(name, &sum, n);
}

/* Trays are really three times as much alike, or a third, as the house thinks: what holds then at 90 % by trays counted
 * of forty (rows NAME-COUNTED_held), and from how many on it is within 3 points of what is said (row NAME; -1: never).
 */
static void wrong_rho(double factor, const char *name)
{
    static const int counted[] = {0, 1, 2, 3, 4, 6, 8, 12, 16, 24, 32};
    enum { COUNTS = sizeof counted / sizeof counted[0] };
    double held[COUNTS];
    int n = batches(), from = COUNTS;
    for (int c = 0; c < COUNTS; c++) {
        struct design d = {72, TRAYS_MOST, counted[c], 0, 0, 400, 372, 1, 1, 0};
        struct known k;
        struct tally sum = {0};
        know(&d, &k);
        for (int i = 0; i < n; i++) {
            struct truth t;
            struct cot_stand s;
            draw_batch(&k, i, factor, &t);
            stand_of(&k, &t, k.spread.rho_weight, counted[c], &s);
            add_batch(&s, &t, &sum);
        }
        held[c] = (sum.held[1] - sum.stated[1]) / n;
        char row[80];
        snprintf(row, sizeof row, "%s-%d_held", name, counted[c]);
        bench_say("calibration: %s, stated %.4f", row, sum.stated[1] / n);
        bench_row(row, sum.held[1] / n, "share");
    }
    for (int c = COUNTS; c-- > 0 && held[c] >= -0.03;) from = c;
    bench_row(name, from < COUNTS ? counted[from] : -1, "trays");
}

/* Counting as advised: two trays first, then as many as are said to settle a need that is in doubt, until one more
 * would hardly change anything. What then holds, how often it was settled where that was foretold, and how much was
 * counted. */
static void stop_as_advised(int cells, int trays, double later)
{
    struct design d = {cells, trays, trays, 0, later, 400, 372, 1, 1, 0};
    struct known k;
    struct tally sum = {0};
    char name[80];
    int n = batches(), asked = 0, settled = 0;
    double counted = 0;
    know(&d, &k);
    for (int i = 0; i < n; i++) {
        struct truth t;
        struct cot_stand s;
        int seen = 2;
        draw_batch(&k, i, 1, &t);
        stand_of(&k, &t, k.spread.rho_weight, seen, &s);
        int64_t need = cot_stand_at(&s, 0.1 + 0.4 * draw());
        int64_t more = cot_count_trays(&s, 900, need);
        if (more > 0) {
            seen += (int)more;
            stand_of(&k, &t, k.spread.rho_weight, seen, &s);
            asked++;
            settled += cot_count_verdict(&s, 900, need) != COT_IN_DOUBT;
        }
        while (seen < trays && cot_count_changes(&s, 900, &need, 1) >= COT_COUNT_CHANGES)
            stand_of(&k, &t, k.spread.rho_weight, ++seen, &s);
        counted += seen;
        add_batch(&s, &t, &sum);
        double only[COT_RHO_POINTS] = {0};
        only[t.rho_index] = 1;
        stand_of(&k, &t, only, seen, &s);
        sum.oracle += distance(&s, &t);
    }
    snprintf(name, sizeof name, "stopped-%dx%d-later%.0f", cells, trays, 100 * later);
    put_design(name, &sum, n);
    snprintf(name, sizeof name, "stopped-%dx%d-later%.0f_trays", cells, trays, 100 * later);
    bench_row(name, counted / n, "trays");
    snprintf(name, sizeof name, "stopped-%dx%d-later%.0f_settled", cells, trays, 100 * later);
    bench_row(name, asked ? (double)settled / asked : 0, "share");
}

void cot_bench(void)
{
    for (size_t i = 0; i < sizeof designs / sizeof designs[0]; i++) calibrate(&designs[i]);
    stop_as_advised(72, 12, 0);
    stop_as_advised(128, 30, 0.01);
    wrong_rho(3, "rho_three_times");
    wrong_rho(1 / 3.0, "rho_a_third");
}
