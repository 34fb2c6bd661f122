/* Who gets what, and how sure that is, on plain figures: 200 batches and 2,000 lines, each of which about six batches
 * may serve; against a linear program solver that only finds the first level of pro rata; and how it grows. Batches of
 * a variety become ready one after the other, lines want them on a day of a fortnight (`windows`); or any six of all
 * batches (`random`), which nothing can take apart. */
#include <glpk.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "bench.h"
#include "fill/chance.h"

#define FARMS 25
#define PER_LINE 14

struct house {
    uint32_t batches, lines;
    size_t edges;
    struct cot_stand *stand;
    struct cot_edge *edge;
    struct cot_wish *wish;
    struct cot_claim *claim;
    uint32_t *farm_of;
    int64_t *likely;
};

/* Seconds of the processor. */
static double used(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static uint64_t state;

/* SplitMix64, as in tests/core/seed.h. */
static int64_t between(int64_t low, int64_t high)
{
    uint64_t z = (state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return low + (int64_t)((z ^ (z >> 31)) % (uint64_t)(high - low + 1));
}

static void add_stand(struct house *h, uint32_t b, uint32_t varieties)
{
    struct cot_stand *s = &h->stand[b];
    double mean = 0.8 + 0.15 * (double)between(0, 1000) / 1000, weight = 60;
    *s = (struct cot_stand){.cells = 2560, .unseen = 2560, .most = 2560, .shared = 0.5};
    s->then = (struct cot_mix){
        .cells = 2560,
        .part = {{0.5, mean * weight, (1 - mean) * weight}, {0.5, 3 * mean * weight, 3 * (1 - mean) * weight}}};
    memcpy(s->lot.b, &(uint32_t){b % varieties + 1}, sizeof(uint32_t));
    h->likely[b] = cot_stand_at(s, 0.5);
}

static void add_edges(struct house *h, uint32_t l, uint32_t varieties, bool windows)
{
    if (windows) {
        uint32_t v = (uint32_t)between(0, varieties - 1);
        int64_t day = between(0, 13);
        for (uint32_t j = 0; j < 10; j++) {
            int64_t ready = 2 * (int64_t)j - 5;
            if (ready <= day && day <= ready + 13) h->edge[h->edges++] = (struct cot_edge){l, j * varieties + v, false};
        }
        return;
    }
    uint32_t step = h->batches / 6, at = (uint32_t)between(0, step - 1);
    for (int i = 0; i < 6; i++, at += (uint32_t)between(1, step))
        if (at < h->batches) h->edge[h->edges++] = (struct cot_edge){l, at, false};
}

static void make_house(struct house *h, uint32_t batches, uint32_t lines, bool windows)
{
    uint32_t varieties = batches / 10;
    int64_t there = 0;
    *h = (struct house){.batches = batches, .lines = lines};
    state = 7;
    h->stand = calloc(batches, sizeof *h->stand);
    h->likely = calloc(batches, sizeof *h->likely);
    h->edge = calloc((size_t)lines * PER_LINE, sizeof *h->edge);
    h->wish = calloc(lines, sizeof *h->wish);
    h->claim = calloc(lines, sizeof *h->claim);
    h->farm_of = calloc(lines, sizeof *h->farm_of);
    for (uint32_t b = 0; b < batches; b++) {
        add_stand(h, b, varieties);
        there += h->likely[b];
    }
    for (uint32_t l = 0; l < lines; l++) {
        int64_t want = between(1, 2 * there / lines);
        h->wish[l] = (struct cot_wish){.line = l, .need = want, .unit = 1};
        h->claim[l] = (struct cot_claim){l, want};
        h->farm_of[l] = l % FARMS;
        add_edges(h, l, varieties, windows);
    }
}

static void drop_house(struct house *h)
{
    free(h->stand);
    free(h->likely);
    free(h->edge);
    free(h->wish);
    free(h->claim);
    free(h->farm_of);
}

static struct cot_sharing sharing_of(const struct house *h, enum cot_share_rule rule)
{
    return (struct cot_sharing){
        .net = {.lines = h->lines, .batches = h->batches, .edges = h->edges, .edge = h->edge},
        .rule = rule,
        .wishes = h->lines,
        .claims = h->lines,
        .wish = h->wish,
        .claim = h->claim,
    };
}

static void chances(const struct house *h, const struct cot_sharing *s)
{
    size_t n = COT_FILL_LEVELS;
    uint32_t *component = calloc(h->batches, sizeof *component), groups = cot_net_groups(&s->net, component);
    const size_t *first;
    struct cot_supplies supplies;
    struct cot_prospect *p = calloc(h->lines, sizeof *p);
    struct cot_party farm = {calloc(FARMS, sizeof(int64_t)), calloc(FARMS * n, sizeof(int64_t)),
                             calloc(FARMS, sizeof(bool)), calloc(FARMS * n, sizeof(bool))};
    uint32_t *lacking = calloc(h->batches, sizeof *lacking);
    (void)cot_net_edges_of(&s->net, &first);
    for (uint32_t b = 0; b < h->batches; b++)
        if (first[b] == first[b + 1]) component[b] = UINT32_MAX;
    ck_assert_int_eq(cot_supplies_spread(h->stand, h->batches, component, &supplies), COT_OK);
    struct cot_chance_task t = {s, component, groups, &supplies, 900, h->farm_of, p, farm, lacking, NULL, false};
    ck_assert_int_eq(cot_chances(&t), COT_OK);
    cot_supplies_free(&supplies);
    free(component);
    free(p);
    free(farm.base);
    free(farm.sum);
    free(farm.never);
    free(farm.lacking);
    free(lacking);
}

/* Milliseconds of one answer: allotments, and chances where asked for. */
static double answer(const struct house *h, enum cot_share_rule rule, bool with_chances)
{
    double from = used();
    struct cot_sharing s = sharing_of(h, rule);
    ck_assert(cot_net_start(&s.net) == COT_OK && cot_sharing_start(&s) == COT_OK);
    cot_share(&s, h->likely);
    if (with_chances) chances(h, &s);
    cot_sharing_free(&s);
    cot_net_free(&s.net);
    return (used() - from) * 1e3;
}

static void row(const char *what, const struct house *h, enum cot_share_rule rule, bool with_chances, size_t runs)
{
    double *ms = calloc(runs, sizeof *ms);
    char name[80];
    for (size_t i = 0; i < runs; i++) ms[i] = answer(h, rule, with_chances);
    snprintf(name, sizeof name, "share_%s_p50", what);
    bench_row(name, bench_median(ms, runs), "ms");
    snprintf(name, sizeof name, "share_%s_p99", what);
    bench_row(name, bench_quantile(ms, runs, 0.99), "ms");
    free(ms);
}

/* The highest level that all lines can have, by the simplex method. */
static double solver(const struct house *h)
{
    size_t n = 0, most = 2 * h->edges + h->lines + 1;
    int *at = calloc(most, sizeof *at), *column = calloc(most, sizeof *column);
    double *value = calloc(most, sizeof *value), from = used();
    glp_prob *lp = glp_create_prob();
    glp_smcp how;
    glp_set_obj_dir(lp, GLP_MAX);
    glp_add_rows(lp, (int)(h->batches + h->lines));
    glp_add_cols(lp, (int)h->edges + 1);
    for (uint32_t b = 0; b < h->batches; b++) glp_set_row_bnds(lp, (int)b + 1, GLP_UP, 0, (double)h->likely[b]);
    for (uint32_t l = 0; l < h->lines; l++) {
        glp_set_row_bnds(lp, (int)(h->batches + l) + 1, GLP_LO, 0, 0);
        at[++n] = (int)(h->batches + l) + 1, column[n] = (int)h->edges + 1, value[n] = -(double)h->wish[l].need;
    }
    for (size_t e = 0; e < h->edges; e++) {
        glp_set_col_bnds(lp, (int)e + 1, GLP_LO, 0, 0);
        at[++n] = (int)h->edge[e].batch + 1, column[n] = (int)e + 1, value[n] = 1;
        at[++n] = (int)(h->batches + h->edge[e].line) + 1, column[n] = (int)e + 1, value[n] = 1;
    }
    glp_set_col_bnds(lp, (int)h->edges + 1, GLP_DB, 0, 1);
    glp_set_obj_coef(lp, (int)h->edges + 1, 1);
    glp_load_matrix(lp, (int)n, at, column, value);
    glp_init_smcp(&how);
    how.msg_lev = GLP_MSG_OFF;
    ck_assert_int_eq(glp_simplex(lp, &how), 0);
    ck_assert_int_eq(glp_get_status(lp), GLP_OPT);
    glp_delete_prob(lp);
    free(at);
    free(column);
    free(value);
    return (used() - from) * 1e3;
}

static void one_size(const char *shape, bool windows)
{
    struct house h;
    char what[60];
    size_t runs = (size_t)bench_number("COT_BENCH_RUNS", 15);
    bench_say("share: 200 batches, 2,000 lines, %s", shape);
    make_house(&h, 200, 2000, windows);
    snprintf(what, sizeof what, "%s_first", shape);
    row(what, &h, COT_SHARE_FIRST, true, windows ? runs : 1);
    snprintf(what, sizeof what, "%s_allot_first", shape);
    row(what, &h, COT_SHARE_FIRST, false, runs);
    snprintf(what, sizeof what, "%s_allot_prorata", shape);
    row(what, &h, COT_SHARE_PRORATA, false, runs);
    if (windows) row("windows_prorata", &h, COT_SHARE_PRORATA, true, 1);
    double simplex = solver(&h);
    snprintf(what, sizeof what, "share_%s_simplex_first_level", shape);
    bench_row(what, simplex, "ms");
    snprintf(what, sizeof what, "share_%s_simplex_ratio", shape);
    bench_row(what, simplex / answer(&h, COT_SHARE_FIRST, true), "times"); /* the whole answer */
    drop_house(&h);
}

static void growth(void)
{
    double last = 0;
    for (uint32_t k = 0; k < 3; k++) {
        static const uint32_t batches[] = {200, 600, 2000}, lines[] = {2000, 6000, 20000};
        struct house h;
        char name[60];
        make_house(&h, batches[k], lines[k], true);
        double ms = answer(&h, COT_SHARE_FIRST, true);
        snprintf(name, sizeof name, "share_%ux%u", batches[k], lines[k]);
        bench_row(name, ms, "ms");
        if (k > 0) {
            snprintf(name, sizeof name, "share_exponent_to_%u", batches[k]);
            bench_row(name, log(ms / last) / log((double)lines[k] / lines[k - 1]), "power");
        }
        last = ms;
        drop_house(&h);
    }
}

void cot_bench(void)
{
    one_size("windows", true);
    one_size("random", false);
    growth();
}
