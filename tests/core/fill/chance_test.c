/* server/core/fill/ supplies.c, chance.c: chances against independent draws of every supply, and exactly where one
 * batch serves all. How many cases and draws: COT_CHANCE_CASES, COT_CHANCE_DRAWS. */
#include <math.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "fill/chance.h"
#include "fill/levels.h"
#include "stand/calc.h"
#include "../../main.h"
#include "../seed.h"

#define LINES 24
#define BATCHES 8
#define LOTS 3
#define FINE 65536

struct instance {
    uint32_t lines, batches, edges, components;
    struct cot_stand stand[BATCHES];
    struct cot_edge edge[LINES * BATCHES];
    struct cot_wish wish[LINES];
    struct cot_claim claim[LINES];
    uint32_t component[BATCHES], farm_of[LINES];
    struct cot_sharing sharing;
    int64_t *quantile; /* [batch * FINE + level] */
};

static void make_stand(struct dice *d, struct cot_stand *s, bool correlated)
{
    *s = (struct cot_stand){.sown = 100, .ready = 128, .past = COT_DAY_NONE};
    int64_t cells = dice_int(d, 100, 1500);
    double mean = 0.6 + 0.35 * dice_real(d), weight = 15 + 100 * dice_real(d);
    s->unseen = s->cells = s->most = cells;
    s->then.cells = cells;
    s->then.part[0] = (struct cot_mix_part){0.7, mean * weight, (1 - mean) * weight};
    s->then.part[1] = (struct cot_mix_part){0.3, mean * weight / 4, (1 - mean) * weight / 4};
    s->likely = cot_stand_at(s, 0.5);
    s->lot.b[0] = (uint8_t)dice_int(d, 1, LOTS);
    s->shared = correlated ? 0.9 * dice_real(d) : 0;
}

/* Lines have 1 .. all batches; what they want together is near what there is, so that odds are open. */
static void draw(struct dice *d, struct instance *x, uint32_t batches, enum cot_share_rule rule, bool units)
{
    *x = (struct instance){.batches = batches};
    x->lines = (uint32_t)dice_int(d, 2, LINES);
    int64_t there = 0, correlated = dice_int(d, 0, 2) > 0;
    for (uint32_t b = 0; b < batches; b++) {
        make_stand(d, &x->stand[b], correlated);
        there += x->stand[b].likely;
    }
    for (uint32_t l = 0; l < x->lines; l++) {
        uint32_t first = (uint32_t)dice_int(d, 0, batches - 1), n = (uint32_t)dice_int(d, 1, batches);
        bool spare = dice_int(d, 0, 5) == 0;
        for (uint32_t b = first; b < batches && b < first + n; b++)
            x->edge[x->edges++] = (struct cot_edge){l, b, spare};
        int64_t want = 1 + (int64_t)((double)there / x->lines * (0.5 + dice_real(d)));
        x->wish[l] = (struct cot_wish){.line = l, .need = want, .unit = units ? dice_int(d, 1, 72) : 1};
        if (units && dice_int(d, 0, 3) == 0) x->wish[l].least = dice_int(d, 1, want);
        x->claim[l] = (struct cot_claim){l, want};
        x->farm_of[l] = l % 3;
    }
    x->sharing = (struct cot_sharing){
        .net = {.lines = x->lines, .batches = batches, .edges = x->edges, .edge = x->edge},
        .rule = rule,
        .wishes = x->lines,
        .claims = x->lines,
        .wish = x->wish,
        .claim = x->claim,
    };
    sure(cot_net_start(&x->sharing.net) == COT_OK);
    sure(cot_sharing_start(&x->sharing) == COT_OK);
    x->components = cot_net_groups(&x->sharing.net, x->component);
    for (uint32_t b = 0; b < batches; b++) {
        bool any = false;
        for (uint32_t e = 0; e < x->edges; e++) any = any || x->edge[e].batch == b;
        if (!any) x->component[b] = UINT32_MAX;
    }
    x->quantile = calloc((size_t)batches * FINE, sizeof *x->quantile);
    for (uint32_t b = 0; b < batches; b++)
        sure(cot_stand_levels(&x->stand[b], FINE, x->quantile + (size_t)b * FINE) == COT_OK);
}

static void drop(struct instance *x)
{
    cot_sharing_free(&x->sharing);
    cot_net_free(&x->sharing.net);
    free(x->quantile);
}

struct figures {
    double full[LINES], farm[3];
    int64_t holds[LINES];
};

static void ours(struct instance *x, struct figures *f)
{
    struct cot_supplies s;
    struct cot_prospect p[LINES];
    size_t n = COT_FILL_LEVELS;
    struct cot_party farm = {calloc(3, sizeof(int64_t)), calloc(3 * n, sizeof(int64_t)), calloc(3, sizeof(bool)),
                             calloc(3 * n, sizeof(bool))};
    uint32_t *lacking = calloc(BATCHES, sizeof *lacking);
    int64_t likely[BATCHES];
    for (uint32_t b = 0; b < x->batches; b++) likely[b] = x->stand[b].likely;
    cot_share(&x->sharing, likely);
    sure(cot_supplies_spread(x->stand, x->batches, x->component, &s) == COT_OK);
    struct cot_chance_task t = {&x->sharing, x->component, x->components, &s,   900,  x->farm_of,
                                p,           farm,         lacking,       NULL, false};
    sure(cot_chances(&t) == COT_OK);
    for (uint32_t l = 0; l < x->lines; l++) {
        f->full[l] = p[l].full;
        f->holds[l] = p[l].holds;
    }
    for (size_t k = 0; k < 3; k++) {
        f->farm[k] = 0;
        for (size_t i = 0; i < n; i++) f->farm[k] += !farm.lacking[k * n + i];
        f->farm[k] = farm.never[k] ? 0 : f->farm[k] / (double)n;
    }
    cot_supplies_free(&s);
    free(farm.base);
    free(farm.sum);
    free(farm.never);
    free(farm.lacking);
    free(lacking);
}

static double normal(struct dice *d)
{
    double u = dice_real(d), v = dice_real(d);
    return sqrt(-2 * log(u)) * cos(6.283185307179586 * v);
}

/* The same by drawing. reach[l]: share of draws in which the line gets what `f` says holds. */
static void drawn(struct dice *d, struct instance *x, long draws, const struct figures *of, struct figures *f,
                  double reach[LINES])
{
    int64_t supply[BATCHES];
    double lot[LOTS + 1];
    memset(f, 0, sizeof *f);
    memset(reach, 0, LINES * sizeof *reach);
    for (long i = 0; i < draws; i++) {
        bool lacks[3] = {false};
        for (int k = 0; k <= LOTS; k++) lot[k] = normal(d);
        for (uint32_t b = 0; b < x->batches; b++) {
            double s = x->stand[b].shared, z = s * lot[x->stand[b].lot.b[0]] + sqrt(1 - s * s) * normal(d);
            int level = (int)(0.5 * erfc(-z * 0.70710678118654752) * FINE);
            supply[b] = x->quantile[(size_t)b * FINE + (size_t)(level < FINE ? level : FINE - 1)];
        }
        cot_share(&x->sharing, supply);
        const int64_t *got = cot_share_got(&x->sharing);
        for (uint32_t l = 0; l < x->lines; l++) {
            bool full = got[l] == x->wish[l].need;
            f->full[l] += full;
            reach[l] += got[l] >= of->holds[l];
            if (!full) lacks[x->farm_of[l]] = true;
        }
        for (int k = 0; k < 3; k++) f->farm[k] += !lacks[k];
    }
    for (uint32_t l = 0; l < x->lines; l++) {
        f->full[l] /= (double)draws;
        reach[l] /= (double)draws;
    }
    for (int k = 0; k < 3; k++) f->farm[k] /= (double)draws;
}

static long number(const char *what, long otherwise)
{
    const char *given = getenv(what);
    return given ? atol(given) : otherwise;
}

/* How far `a` is from the drawn `b` beyond four standard errors of drawing. */
static double beyond(double a, double b, long draws)
{
    double error = 4 * sqrt((b * (1 - b) + 1.0 / (double)draws) / (double)draws);
    return fmax(0, fabs(a - b) - error);
}

/* The worst line beyond four standard errors. */
static double worst_line(const struct instance *x, const struct figures *a, const struct figures *b, long draws)
{
    double worst = 0;
    for (uint32_t l = 0; l < x->lines; l++) worst = fmax(worst, beyond(a->full[l], b->full[l], draws));
    return worst;
}

/* Of so many lines some lie beyond four standard errors by chance (one in 16,000): a house that does is drawn again,
 * four times as often. */
static double held_against(struct dice *d, struct instance *x, long draws, double allowed, const struct figures *a,
                           struct figures *b, double reach[LINES])
{
    drawn(d, x, draws, a, b, reach);
    double worst = worst_line(x, a, b, draws);
    if (worst <= allowed) return worst;
    drawn(d, x, 4 * draws, a, b, reach);
    return worst_line(x, a, b, 4 * draws);
}

static void compare(const char *what, uint32_t least, uint32_t most, double allowed)
{
    struct dice d = dice_new(what);
    long cases = number("COT_CHANCE_CASES", 20), draws = number("COT_CHANCE_DRAWS", 100000), open = 0;
    double worst = 0, worst_farm = 0, worst_reach = 0, square = 0;
    for (long k = 0; k < cases; k++) {
        struct instance x;
        struct figures a, b;
        double reach[LINES];
        draw(&d, &x, (uint32_t)dice_int(&d, least, most), (enum cot_share_rule)(k % 3), k % 4 == 3);
        ours(&x, &a);
        worst = fmax(worst, held_against(&d, &x, draws, allowed, &a, &b, reach));
        for (uint32_t l = 0; l < x.lines; l++) {
            double e = a.full[l] - b.full[l];
            square += e * e - b.full[l] * (1 - b.full[l]) / (double)draws;
            open += a.full[l] > 0.001 && a.full[l] < 0.999;
            worst_reach = fmax(worst_reach, 0.9 - reach[l]);
        }
        for (int i = 0; i < 3; i++) worst_farm = fmax(worst_farm, beyond(a.farm[i], b.farm[i], draws));
        drop(&x);
    }
    printf(
        "%s: %ld open chances, off beyond drawing by %.4f at most, %.4f typically; farms' by %.4f; count on by %.4f\n",
        what, open, worst, sqrt(fmax(0, square) / (double)(open ? open : 1)), worst_farm, worst_reach);
    ck_assert_int_gt(open, cases);
    ck_assert_double_le(worst, allowed);
    ck_assert_double_le(worst_farm, 0.005);
    ck_assert_double_le(worst_reach, 2 * allowed + 4 * sqrt(0.09 / (double)draws));
}

START_TEST(one_batch_is_exact)
{
    compare("one batch", 1, 1, 0.0001); /* nothing but the last figures of both sums */
}
END_TEST

START_TEST(several_batches)
{
    compare("several batches", 2, BATCHES, 0.005);
}
END_TEST

/* However the lattice is turned, each batch by itself is spread as its stand says. */
START_TEST(each_batch_evenly)
{
    struct dice d = dice_new("each batch evenly");
    double worst = 0;
    for (int round = 0; round < 40; round++) {
        struct instance x;
        struct cot_supplies s;
        draw(&d, &x, (uint32_t)dice_int(&d, 2, BATCHES), COT_SHARE_FIRST, false);
        sure(cot_supplies_spread(x.stand, x.batches, x.component, &s) == COT_OK);
        for (uint32_t b = 0; b < x.batches; b++) {
            if (x.component[b] == UINT32_MAX) continue;
            for (int level = 1; level < 20; level++) {
                int64_t plants = cot_stand_at(&x.stand[b], level / 20.0);
                double share = 0, exact = 1 - cot_mix_le(&x.stand[b].then, plants - 1);
                for (size_t i = 0; i < COT_FILL_LEVELS; i++) share += s.at[(size_t)b * COT_FILL_LEVELS + i] >= plants;
                worst = fmax(worst, fabs(share / COT_FILL_LEVELS - exact));
            }
        }
        cot_supplies_free(&s);
        drop(&x);
    }
    printf("each batch evenly: off by %.5f at most\n", worst);
    ck_assert_double_lt(worst, 0.0015); /* a level of the 1023 and one of the 8191 */
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 3000);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/fill_chance");
    add(s, "one", one_batch_is_exact);
    add(s, "several", several_batches);
    add(s, "evenly", each_batch_evenly);
    return s;
}
