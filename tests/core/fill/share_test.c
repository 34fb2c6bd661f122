/* server/core/fill/ flow.c, merge.c, chunks.c, levels.c: sharing on plain figures, against the
 * lexicographic optimum found by another way, and the chance against exact sums. The reading of a book is in
 * fill_test.c. */
#include <math.h>
#include <string.h>

#include "fill/flow.h"
#include "fill/levels.h"
#include "fill/lines.h"
#include "fill/merge.h"
#include "prob/prob.h"
#include "../../main.h"
#include "../seed.h"

/* --- Sharing -------------------------------------------------------------------------------------------------------
 */
#define LINES 5
#define BATCHES 5
#define CLAIMS 8

struct small {
    uint32_t lines, batches, edges, claims;
    struct cot_edge edge[LINES * BATCHES];
    struct cot_claim claim[CLAIMS];
    int64_t supply[BATCHES];
};

static void small_random(struct dice *d, struct small *c)
{
    *c = (struct small){.lines = (uint32_t)dice_int(d, 1, LINES), .batches = (uint32_t)dice_int(d, 1, BATCHES)};
    c->claims = (uint32_t)dice_int(d, 1, CLAIMS);
    for (uint32_t b = 0; b < c->batches; b++) c->supply[b] = dice_int(d, 0, 12);
    for (uint32_t l = 0; l < c->lines; l++)
        for (int spare = 0; spare < 2; spare++)
            for (uint32_t b = 0; b < c->batches; b++)
                if (((l * 7 + b * 3 + d->s) >> 3) % 2 == (unsigned)spare && dice_int(d, 0, 2) > 0)
                    c->edge[c->edges++] = (struct cot_edge){l, b, spare != 0};
    for (uint32_t i = 0; i < c->claims; i++)
        c->claim[i] = (struct cot_claim){(uint32_t)dice_int(d, 0, c->lines - 1), dice_int(d, 0, 9)};
}

/* Most that can be delivered of `want` (first half of the nodes: lines by first-pass edges; second half: by spare
 * edges), by cuts: the least over sets of nodes of what the others want and the batches that the set can reach have. */
static int64_t deliverable(const struct small *c, const int64_t want[static 2 * LINES])
{
    uint32_t reach[2 * LINES] = {0}, nodes = 2 * c->lines;
    for (uint32_t e = 0; e < c->edges; e++)
        reach[c->edge[e].line + (c->edge[e].spare ? c->lines : 0)] |= 1u << c->edge[e].batch;
    int64_t best = INT64_MAX;
    for (uint32_t set = 0; set < 1u << nodes; set++) {
        int64_t cut = 0;
        uint32_t batches = 0;
        for (uint32_t i = 0; i < nodes; i++) {
            if (set >> i & 1) batches |= reach[i];
            else cut += want[i];
        }
        for (uint32_t b = 0; b < c->batches; b++)
            if (batches >> b & 1) cut += c->supply[b];
        if (cut < best) best = cut;
    }
    return best;
}

/* The lexicographic optimum by claims: each claim in turn gets the rise of what can be delivered. */
static void optimum(const struct small *c, int64_t got[static 2 * LINES])
{
    int64_t unmet[CLAIMS];
    memset(got, 0, 2 * LINES * sizeof *got);
    for (int pass = 0; pass < 2; pass++) {
        for (uint32_t i = 0; i < c->claims; i++) {
            int64_t want[2 * LINES], before = 0;
            uint32_t node = c->claim[i].line + (pass ? c->lines : 0);
            memcpy(want, got, sizeof want);
            for (uint32_t k = 0; k < 2 * c->lines; k++) before += got[k];
            int64_t ask = pass ? unmet[i] : c->claim[i].plants;
            want[node] += ask;
            int64_t more = deliverable(c, want) - before;
            got[node] += more;
            unmet[i] = ask - more;
        }
    }
}

static void start(struct cot_net *net, const struct small *c)
{
    *net = (struct cot_net){.lines = c->lines,
                            .batches = c->batches,
                            .edges = c->edges,
                            .claims = c->claims,
                            .edge = c->edge,
                            .claim = c->claim};
    sure(cot_net_start(net) == COT_OK);
}

START_TEST(lexicographic_optimum)
{
    struct dice d = dice_new("lexicographic_optimum");
    long unmet_cases = 0;
    for (int round = 0; round < 20000; round++) {
        struct small c;
        struct cot_net net;
        int64_t flow[LINES * BATCHES], want[2 * LINES], got[2 * LINES] = {0}, used[BATCHES] = {0}, asked = 0, given = 0;
        small_random(&d, &c);
        start(&net, &c);
        cot_net_share(&net, c.supply, flow);
        optimum(&c, want);
        for (uint32_t e = 0; e < c.edges; e++) {
            sure(flow[e] >= 0);
            got[c.edge[e].line + (c.edge[e].spare ? c.lines : 0)] += flow[e];
            used[c.edge[e].batch] += flow[e];
            given += flow[e];
        }
        for (uint32_t b = 0; b < c.batches; b++) sure(used[b] <= c.supply[b]);
        for (uint32_t i = 0; i < 2 * c.lines; i++)
            if (got[i] != want[i])
                ck_abort_msg("case %d, node %u: %ld, not %ld", round, i, (long)got[i], (long)want[i]);
        for (uint32_t i = 0; i < c.claims; i++) asked += c.claim[i].plants;
        unmet_cases += given < asked;
        cot_net_free(&net);
    }
    ck_assert_int_gt(unmet_cases, 1000); /* shortages were among the cases */
}
END_TEST

/* First come first served would give batch 0 to the flexible line and leave the second with nothing. */
START_TEST(nothing_stranded)
{
    struct small c = {.lines = 2, .batches = 2, .edges = 3, .claims = 2, .supply = {100, 100}};
    c.edge[0] = (struct cot_edge){0, 0, false};
    c.edge[1] = (struct cot_edge){0, 1, false};
    c.edge[2] = (struct cot_edge){1, 0, false};
    c.claim[0] = (struct cot_claim){0, 100};
    c.claim[1] = (struct cot_claim){1, 80};
    struct cot_net net;
    int64_t flow[3];
    start(&net, &c);
    cot_net_share(&net, c.supply, flow);
    ck_assert_int_eq(flow[0], 20);
    ck_assert_int_eq(flow[1], 80);
    ck_assert_int_eq(flow[2], 80);
    cot_net_free(&net);
}
END_TEST

/* A substitute waits until every line that asked for the variety has been served, however late those were promised. */
START_TEST(substitutes_come_last)
{
    struct small c = {.lines = 2, .batches = 1, .edges = 2, .claims = 2, .supply = {100}};
    c.edge[0] = (struct cot_edge){0, 0, true};
    c.edge[1] = (struct cot_edge){1, 0, false};
    c.claim[0] = (struct cot_claim){0, 90};
    c.claim[1] = (struct cot_claim){1, 70};
    struct cot_net net;
    int64_t flow[2];
    start(&net, &c);
    cot_net_share(&net, c.supply, flow);
    ck_assert_int_eq(flow[0], 30);
    ck_assert_int_eq(flow[1], 70);
    cot_net_free(&net);
}
END_TEST

/* More supply never makes a claim lose, and sharing is the same each time. */
START_TEST(more_never_hurts_the_first)
{
    struct dice d = dice_new("more_never_hurts_the_first");
    for (int round = 0; round < 5000; round++) {
        struct small c;
        struct cot_net net;
        int64_t flow[LINES * BATCHES], again[LINES * BATCHES], before = 0, after = 0;
        small_random(&d, &c);
        start(&net, &c);
        cot_net_share(&net, c.supply, flow);
        cot_net_share(&net, c.supply, again);
        sure(c.edges == 0 || memcmp(flow, again, c.edges * sizeof *flow) == 0);
        for (uint32_t e = 0; e < c.edges; e++) before += flow[e];
        c.supply[dice_int(&d, 0, c.batches - 1)] += 3;
        cot_net_share(&net, c.supply, flow);
        for (uint32_t e = 0; e < c.edges; e++) after += flow[e];
        sure(after >= before);
        cot_net_free(&net);
    }
}
END_TEST

/* Batches and lines that cannot be told apart are merged; every claim gets the same as in the whole net. */
START_TEST(merged_net_is_the_same)
{
    struct dice d = dice_new("merged_net_is_the_same");
    long fewer = 0;
    for (int round = 0; round < 20000; round++) {
        struct small c;
        struct cot_net net;
        struct cot_merged m;
        int64_t flow[LINES * BATCHES], supply[BATCHES] = {0};
        small_random(&d, &c);
        start(&net, &c);
        cot_net_share(&net, c.supply, flow);
        sure(cot_merge(&net, &m) == COT_OK);
        sure(m.net.batches <= c.batches && m.net.lines <= c.lines);
        fewer += m.net.batches < c.batches;
        for (uint32_t b = 0; b < c.batches; b++) supply[m.batch_of[b]] += c.supply[b];
        cot_net_share(&m.net, supply, flow);
        sure(memcmp(cot_net_unmet(&m.net), cot_net_unmet(&net), c.claims * sizeof(int64_t)) == 0);
        cot_merged_free(&m);
        cot_net_free(&net);
    }
    ck_assert_int_gt(fewer, 1000);
}
END_TEST

START_TEST(groups)
{
    struct small c = {.lines = 3, .batches = 5, .edges = 5};
    c.edge[0] = (struct cot_edge){0, 4, false};
    c.edge[1] = (struct cot_edge){0, 1, false};
    c.edge[2] = (struct cot_edge){1, 3, false};
    c.edge[3] = (struct cot_edge){2, 0, false};
    c.edge[4] = (struct cot_edge){2, 4, true};
    struct cot_net net;
    uint32_t group[5], rank[5];
    start(&net, &c);
    ck_assert_uint_eq(cot_net_groups(&net, group, rank), 3);
    static const uint32_t want_group[] = {0, 0, 1, 2, 0}, want_rank[] = {0, 1, 0, 0, 2};
    ck_assert_mem_eq(group, want_group, sizeof group);
    ck_assert_mem_eq(rank, want_rank, sizeof rank);
    cot_net_free(&net);
}
END_TEST

/* --- Claims ----------------------------------------------------------------------------------------------------------
 */
static struct cot_said said(int64_t receipt, int64_t t, int64_t total, bool refusal)
{
    return (struct cot_said){
        .receipt = receipt, .place = {.t = t, .tag = "B", .number = t}, .total = total, .refusal = refusal};
}

START_TEST(chunks_rise_and_fall)
{
    struct cot_chunk chunk[8];
    int64_t promised;
    struct cot_said a[] = {said(300, 30, 500, false), said(100, 10, 200, false), said(INT64_MAX, 5, 700, false),
                           said(200, 20, 150, false)};
    /* In queue order: 200, down to 150, up to 500, up to 700 (not sent yet). */
    size_t n = cot_chunks_make(a, 4, 1000, 0, chunk, &promised);
    ck_assert_uint_eq(n, 3);
    ck_assert_int_eq(promised, 700);
    ck_assert(chunk[0].plants == 150 && chunk[0].receipt == 100);
    ck_assert(chunk[1].plants == 350 && chunk[1].receipt == 300);
    ck_assert(chunk[2].plants == 200 && chunk[2].receipt == INT64_MAX);

    n = cot_chunks_make(a, 4, 400, 0, chunk, &promised); /* wants less than promised */
    ck_assert_uint_eq(n, 2);
    ck_assert_int_eq(promised, 400);
    ck_assert(chunk[0].plants == 150 && chunk[1].plants == 250);

    n = cot_chunks_make(a, 4, 1000, 180, chunk, &promised); /* what went out meets the first */
    ck_assert_uint_eq(n, 2);
    ck_assert(chunk[0].plants == 320 && chunk[0].receipt == 300);
    ck_assert(chunk[1].plants == 200);

    n = cot_chunks_make(a, 4, 1000, 5000, chunk, &promised);
    ck_assert_uint_eq(n, 0);
}
END_TEST

START_TEST(refusal_and_new_promise)
{
    struct cot_chunk chunk[4];
    int64_t promised;
    struct cot_said a[] = {said(1, 1, 300, false), said(2, 2, 0, true), said(3, 3, 120, false)};
    ck_assert_uint_eq(cot_chunks_make(a, 2, 500, 0, chunk, &promised), 1); /* no to the other 200 */
    ck_assert_int_eq(promised, 300);
    ck_assert_int_eq(chunk[0].receipt, 1);
    ck_assert_uint_eq(cot_chunks_make(a, 3, 500, 0, chunk, &promised), 1); /* cut back */
    ck_assert_int_eq(promised, 120);
    ck_assert_int_eq(chunk[0].receipt, 1);
    struct cot_said b[] = {said(1, 1, 300, false), said(2, 2, 0, false), said(3, 3, 120, false)};
    ck_assert_uint_eq(cot_chunks_make(b, 2, 500, 0, chunk, &promised), 0); /* promised to nothing */
    ck_assert_int_eq(promised, 0);
    ck_assert_uint_eq(cot_chunks_make(b, 3, 500, 0, chunk, &promised), 1);
    ck_assert_int_eq(chunk[0].receipt, 3);
    ck_assert_uint_eq(cot_chunks_make(a, 0, 300, 0, chunk, &promised), 0);
    ck_assert_int_eq(promised, 0);
}
END_TEST

/* In whatever order promises were read, the chunks are the same. */
START_TEST(chunks_in_any_order)
{
    struct dice d = dice_new("chunks_in_any_order");
    for (int round = 0; round < 5000; round++) {
        struct cot_said a[6], b[6];
        struct cot_chunk x[6], y[6];
        int64_t px, py, wanted = dice_int(&d, 0, 900), handed = dice_int(&d, 0, 300), sum = 0;
        size_t n = (size_t)dice_int(&d, 1, 6);
        for (size_t i = 0; i < n; i++) a[i] = said(dice_int(&d, 1, 3), (int64_t)i, dice_int(&d, 0, 999), false);
        memcpy(b, a, sizeof a);
        for (size_t i = n; i-- > 1;) {
            size_t k = (size_t)dice_int(&d, 0, (int64_t)i);
            struct cot_said t = b[i];
            b[i] = b[k];
            b[k] = t;
        }
        size_t nx = cot_chunks_make(a, n, wanted, handed, x, &px), ny = cot_chunks_make(b, n, wanted, handed, y, &py);
        sure(nx == ny && px == py);
        for (size_t i = 0; i < nx; i++) {
            sure(x[i].plants == y[i].plants && x[i].receipt == y[i].receipt && x[i].place.t == y[i].place.t);
            sure(x[i].plants > 0);
            sum += x[i].plants;
        }
        sure(sum == (px > handed ? px - handed : 0));
    }
}
END_TEST

/* --- Levels
 * ----------------------------------------------------------------------------------------------------------- */
#define N COT_FILL_LEVELS

START_TEST(each_level_once)
{
    static const uint32_t groups_tried[] = {0, 1, 2, 40}, ranks_tried[] = {0, 1, 5, 27, 28, 29, 300};
    for (size_t g = 0; g < 4; g++) {
        for (size_t r = 0; r < 7; r++) {
            uint16_t level[N];
            bool seen[N] = {false};
            cot_fill_levels(groups_tried[g], ranks_tried[r], level);
            for (int i = 0; i < N; i++) {
                sure(level[i] < N && !seen[level[i]]);
                seen[level[i]] = true;
            }
        }
    }
}
END_TEST

/* The figure of a pair of ranks: the least |h| |k| (0 counted as 1) with h + k z_d / z_e = 0 mod N, not both 0. */
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
    int64_t bound[COT_LATTICE_RANKS];
    for (int r = 0; r < COT_LATTICE_RANKS; r++) bound[r] = r < 6 ? 110 : r < 12 ? 60 : r < 16 ? 40 : 25;
    for (int d = 1; d < COT_LATTICE_RANKS; d++)
        for (int e = 0; e < d; e++) {
            int64_t f = figure(cot_lattice[d], cot_lattice[e]);
            ck_assert_msg(f >= bound[d], "ranks %d and %d: %ld, below %ld", d, e, (long)f, (long)bound[d]);
        }
}
END_TEST

/* Levels of any two batches are hardly correlated, within a group and between groups. */
START_TEST(levels_are_independent)
{
    double worst = 0;
    for (uint32_t g = 0; g < 6; g++) {
        for (uint32_t r = 0; r < 34; r++) {
            uint16_t x[N], y[N];
            double sum = 0, mean = (N - 1) / 2.0, var = ((double)N * N - 1) / 12;
            cot_fill_levels(g, r, x);
            cot_fill_levels(g + 1, (r * 5 + 1) % 34, y);
            for (int i = 0; i < N; i++) sum += (x[i] - mean) * (y[i] - mean);
            worst = fmax(worst, fabs(sum / N / var));
            cot_fill_levels(g, r + 1, y);
            sum = 0;
            for (int i = 0; i < N; i++) sum += (x[i] - mean) * (y[i] - mean);
            worst = fmax(worst, fabs(sum / N / var));
        }
    }
    ck_assert_msg(worst < 0.13, "correlation %g", worst);
}
END_TEST

/* --- Chance, against the exact distribution of a sum
 * ------------------------------------------------------------------ */
/* P(sum of the batches' beta-binomials >= want), by adding one batch after the other. */
static double exact_chance(int batches, const int64_t *cells, const double *a, const double *b, int64_t want)
{
    static double sum[4000], next[4000];
    int64_t top = 0;
    memset(sum, 0, sizeof sum);
    sum[0] = 1;
    for (int k = 0; k < batches; k++) {
        double term[201];
        memset(next, 0, sizeof next);
        for (int64_t j = 0; j <= cells[k]; j++) term[j] = cot_betabinom_pmf(cells[k], a[k], b[k], j);
        for (int64_t i = 0; i <= top; i++)
            for (int64_t j = 0; j <= cells[k]; j++) next[i + j] += sum[i] * term[j];
        top += cells[k];
        memcpy(sum, next, sizeof sum);
    }
    double chance = 0;
    for (int64_t i = want < 0 ? 0 : want; i <= top; i++) chance += sum[i];
    return chance;
}

static double lattice_chance(int batches, uint32_t group, const int64_t *cells, const double *a, const double *b,
                             int64_t want)
{
    int64_t total[N] = {0}, level[N];
    for (int k = 0; k < batches; k++) {
        uint16_t order[N];
        cot_betabinom_levels(cells[k], a[k], b[k], N, level);
        cot_fill_levels(group, (uint32_t)k, order);
        for (int i = 0; i < N; i++) total[i] += level[order[i]];
    }
    int full = 0;
    for (int i = 0; i < N; i++) full += total[i] >= want;
    return (double)full / N;
}

START_TEST(chance_is_near_exact)
{
    struct dice d = dice_new("chance_is_near_exact");
    double worst[7] = {0}, square[7] = {0};
    int cases[7] = {0};
    for (int round = 0; round < 240; round++) {
        int batches = 1 + round % 6;
        int64_t cells[6], likely = 0;
        double a[6], b[6], spread = 0;
        for (int k = 0; k < batches; k++) {
            cells[k] = dice_int(&d, 20, 200);
            a[k] = 5 + 60 * dice_real(&d);
            b[k] = 1 + 12 * dice_real(&d);
            double p = a[k] / (a[k] + b[k]), n = (double)cells[k];
            likely += (int64_t)(n * p);
            spread += n * p * (1 - p) * (1 + (n - 1) / (a[k] + b[k] + 1));
        }
        int64_t want = likely + (int64_t)((dice_real(&d) * 4 - 2.5) * sqrt(spread));
        double miss = fabs(lattice_chance(batches, (uint32_t)(round % 5), cells, a, b, want) -
                           exact_chance(batches, cells, a, b, want));
        worst[batches] = fmax(worst[batches], miss);
        square[batches] += miss * miss;
        cases[batches]++;
    }
    for (int k = 1; k <= 6; k++)
        printf("%d batches: chance off by %.4f at most, %.4f typically\n", k, worst[k], sqrt(square[k] / cases[k]));
    ck_assert_double_lt(worst[1], 1.01 / N);
    for (int k = 2; k <= 6; k++) {
        ck_assert_double_lt(worst[k], 0.04);
        ck_assert_double_lt(sqrt(square[k] / cases[k]), 0.012);
    }
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
    Suite *s = suite_create("core/fill");
    add(s, "optimum", lexicographic_optimum);
    add(s, "stranded", nothing_stranded);
    add(s, "substitutes", substitutes_come_last);
    add(s, "more", more_never_hurts_the_first);
    add(s, "merged", merged_net_is_the_same);
    add(s, "groups", groups);
    add(s, "chunks", chunks_rise_and_fall);
    add(s, "refusal", refusal_and_new_promise);
    add(s, "chunks_order", chunks_in_any_order);
    add(s, "levels", each_level_once);
    add(s, "lattice", lattice_is_spread);
    add(s, "independent", levels_are_independent);
    add(s, "chance", chance_is_near_exact);
    return s;
}
