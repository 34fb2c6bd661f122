/* server/core/fill/ chance.c, walk.c, amounts.c: the same figures, to the last, as sharing every supply out over the
 * whole net from nothing; and what that rests on: by queue, more supply gives no line less. How many nets:
 * COT_WALK_NETS. */
#include <string.h>

#include "cotyledger/core/prob.h"
#include "fill/amounts.h"
#include "fill/chance.h"
#include "../../main.h"
#include "../seed.h"

#define N ((size_t)COT_FILL_LEVELS)
#define FARMS 4
#define MOST 160 /* batches, lines */

struct made {
    struct cot_sharing s;
    struct cot_edge *edge;
    struct cot_wish wish[MOST];
    struct cot_claim *claim;
    uint32_t component[MOST], farm_of[MOST], components;
    struct cot_supplies supplies;
};

static void make_edges(struct dice *d, struct made *m, uint32_t lines, uint32_t batches)
{
    bool ranges = dice_int(d, 0, 1), spare = dice_int(d, 0, 2) == 0;
    m->edge = calloc((size_t)MOST * MOST, sizeof *m->edge);
    for (uint32_t l = 0; l < lines; l++) {
        uint32_t first = (uint32_t)dice_int(d, 0, batches - 1), end = first + (uint32_t)dice_int(d, 0, 6);
        bool late = false;
        for (uint32_t b = 0; b < batches; b++) {
            if (ranges ? b < first || b > end : dice_int(d, 0, batches - 1) > 2) continue;
            late = late || (spare && dice_int(d, 0, 3) == 0);
            m->edge[m->s.net.edges++] = (struct cot_edge){l, b, late};
        }
    }
}

/* Promises come in several claims; what is wanted is near what there is. */
static void make_claims(struct dice *d, struct made *m, uint32_t lines, int64_t there, bool units)
{
    m->claim = calloc((size_t)MOST * 3, sizeof *m->claim);
    for (uint32_t l = 0; l < lines; l++)
        m->wish[l] = (struct cot_wish){.line = l, .unit = units ? dice_int(d, 1, 9) : 1};
    for (uint32_t c = 0; c < 2 * lines; c++) {
        uint32_t w = (uint32_t)dice_int(d, 0, lines - 1);
        int64_t plants = dice_int(d, 1, there / lines + 1);
        m->claim[m->s.claims++] = (struct cot_claim){w, plants};
        m->wish[w].need += plants;
    }
    for (uint32_t l = 0; l < lines; l++) {
        struct cot_wish *w = &m->wish[l];
        if (units && dice_int(d, 0, 2) == 0) w->least = dice_int(d, 0, w->need);
        m->farm_of[l] = (uint32_t)dice_int(d, 0, FARMS - 1);
    }
}

static int int32_cmp(const void *x, const void *y)
{
    int32_t a = *(const int32_t *)x, b = *(const int32_t *)y;
    return a < b ? -1 : a > b;
}

/* Figures drawn, the same ones put together with the sum of their weights. */
static void make_sole(struct dice *d, struct made *m, uint32_t b, uint32_t k, int64_t there)
{
    struct cot_supplies *s = &m->supplies;
    int32_t *sole = s->sole + (size_t)k * COT_SOLE_LEVELS, drawn[COT_SOLE_LEVELS];
    uint32_t *before = s->sole_before + (size_t)k * (COT_SOLE_LEVELS + 1), points = 0;
    s->sole_of[b] = k;
    for (size_t i = 0; i < COT_SOLE_LEVELS; i++) drawn[i] = (int32_t)dice_int(d, there / 2, there);
    qsort(drawn, COT_SOLE_LEVELS, sizeof *drawn, int32_cmp);
    for (uint32_t i = 0; i < COT_SOLE_LEVELS; i++) {
        if (i > 0 && drawn[i] == drawn[i - 1]) continue;
        before[points] = i * (COT_SOLE_WEIGHT / COT_SOLE_LEVELS);
        sole[points++] = drawn[i];
    }
    before[points] = COT_SOLE_WEIGHT;
    s->sole_points[k] = points;
    for (size_t i = 0; i < N; i++) {
        s->point[k * N + i] = (uint16_t)dice_int(d, 0, points - 1);
        s->at[b * N + i] = sole[s->point[k * N + i]];
    }
}

/* Narrow and wide, common ups and downs, the same figure many times. */
static void make_supplies(struct dice *d, struct made *m, uint32_t batches, int64_t there)
{
    struct cot_supplies *s = &m->supplies;
    uint32_t sole = 0;
    *s = (struct cot_supplies){.batches = batches,
                               .at = calloc(batches * N, sizeof *s->at),
                               .sole = calloc((size_t)batches * COT_SOLE_LEVELS, sizeof *s->sole),
                               .sole_points = calloc(batches, sizeof *s->sole_points),
                               .sole_before = calloc((size_t)batches * (COT_SOLE_LEVELS + 1), sizeof *s->sole_before),
                               .sole_of = calloc(batches, sizeof *s->sole_of),
                               .point = calloc(batches * N, sizeof *s->point)};
    int32_t *common = calloc(N, sizeof *common);
    for (size_t i = 0; i < N; i++) common[i] = (int32_t)dice_int(d, 0, there / 4);
    for (uint32_t b = 0; b < batches; b++) {
        uint32_t alike = 0;
        for (uint32_t a = 0; a < batches; a++) alike += m->component[a] == m->component[b];
        s->sole_of[b] = UINT32_MAX;
        int64_t base = dice_int(d, 0, there), spread = dice_int(d, 0, 3) ? dice_int(d, 0, there / 2) : 0;
        if (m->component[b] != UINT32_MAX && alike == 1) make_sole(d, m, b, sole++, there);
        else
            for (size_t i = 0; i < N; i++) s->at[b * N + i] = common[i] + (int32_t)dice_int(d, base, base + spread);
    }
    free(common);
}

static void make(struct dice *d, struct made *m, uint32_t lines, uint32_t batches, bool units)
{
    *m = (struct made){.s = {.rule = (enum cot_share_rule)dice_int(d, 0, 2), .wishes = lines}};
    int64_t there = dice_int(d, 3, 300), likely[MOST];
    make_edges(d, m, lines, batches);
    make_claims(d, m, lines, there * batches, dice_int(d, 0, 3) == 0 && units);
    m->s.net.lines = lines;
    m->s.net.batches = batches;
    m->s.net.edge = m->edge;
    m->s.wish = m->wish;
    m->s.claim = m->claim;
    sure(cot_net_start(&m->s.net) == COT_OK && cot_sharing_start(&m->s) == COT_OK);
    const size_t *first;
    m->components = cot_net_groups(&m->s.net, m->component);
    (void)cot_net_edges_of(&m->s.net, &first);
    for (uint32_t b = 0; b < batches; b++) {
        if (first[b] == first[b + 1]) m->component[b] = UINT32_MAX;
        likely[b] = there;
    }
    make_supplies(d, m, batches, there);
    cot_share(&m->s, likely);
}

static void drop(struct made *m)
{
    cot_sharing_free(&m->s);
    cot_net_free(&m->s.net);
    cot_supplies_free(&m->supplies);
    free(m->edge);
    free(m->claim);
}

struct answer {
    struct cot_prospect prospect[MOST];
    struct cot_party farm;
    uint32_t *batch_lacking; /* per batch */
};

static void answer_start(struct answer *a)
{
    *a = (struct answer){.farm = {calloc(FARMS, sizeof(int64_t)), calloc(FARMS * N, sizeof(int64_t)),
                                  calloc(FARMS, sizeof(bool)), calloc(FARMS * N, sizeof(bool))},
                         .batch_lacking = calloc(MOST, sizeof(uint32_t))};
}

static void answer_free(struct answer *a)
{
    free(a->farm.base);
    free(a->farm.sum);
    free(a->farm.never);
    free(a->farm.lacking);
    free(a->batch_lacking);
}

static void ours(const struct made *m, struct answer *a)
{
    answer_start(a);
    struct cot_chance_task t = {&m->s,       m->component, m->components,    &m->supplies, 900,  m->farm_of,
                                a->prospect, a->farm,      a->batch_lacking, NULL,         false};
    sure(cot_chances(&t) == COT_OK);
}

/* --- From nothing, every time ------------------------------------------------------------------------------------- */

/* Adds up what wishes get in supply i; `serves`: the likely flow. */
static void plain_supply(struct made *m, size_t i, const int64_t *serves, int32_t *column, struct answer *a)
{
    const size_t *node = cot_net_node(&m->s.net);
    int64_t supply[MOST];
    bool lacking[MOST] = {false};
    for (uint32_t b = 0; b < m->supplies.batches; b++) supply[b] = m->supplies.at[b * N + i];
    cot_share(&m->s, supply);
    for (uint32_t w = 0; w < m->s.wishes; w++) {
        int64_t got = cot_share_got(&m->s)[w];
        column[w * N + i] = (int32_t)got;
        a->farm.sum[m->farm_of[w] * N + i] += got;
        if (got == m->wish[w].need) continue;
        a->farm.lacking[m->farm_of[w] * N + i] = true;
        for (size_t e = node[2 * w]; e < node[2 * w + 2]; e++)
            if (serves[e] > 0) lacking[m->edge[e].batch] = true;
    }
    for (uint32_t b = 0; b < m->supplies.batches; b++) a->batch_lacking[b] += lacking[b];
}

/* Of a batch alone, over its own figures, each as often as it weighs. */
static void plain_sole(struct made *m, uint32_t w, uint32_t b, int32_t *column)
{
    const struct cot_supplies *p = &m->supplies;
    size_t k = p->sole_of[b];
    const uint32_t *before = p->sole_before + k * (COT_SOLE_LEVELS + 1);
    int64_t supply[MOST] = {0};
    for (uint32_t i = 0; i < p->sole_points[k]; i++) {
        supply[b] = p->sole[k * COT_SOLE_LEVELS + i];
        cot_share(&m->s, supply);
        for (uint32_t n = before[i]; n < before[i + 1]; n++) column[n] = (int32_t)cot_share_got(&m->s)[w];
    }
}

static struct cot_prospect plain_prospect(int32_t *column, size_t n, int64_t need)
{
    size_t full = 0, enough = (900 * n + 999) / 1000;
    for (size_t i = 0; i < n; i++) full += column[i] == need;
    qsort(column, n, sizeof *column, int32_cmp);
    return (struct cot_prospect){cot_round9((double)full / (double)n), column[n - enough]};
}

static void plain(struct made *m, struct answer *a)
{
    int64_t *serves = calloc(m->s.net.edges + 1, sizeof *serves);
    int32_t *column = calloc(MOST * N, sizeof *column), *sole = calloc(COT_SOLE_WEIGHT, sizeof *sole);
    memcpy(serves, cot_net_flow(&m->s.net), m->s.net.edges * sizeof *serves);
    answer_start(a);
    for (size_t i = 0; i < N; i++) plain_supply(m, i, serves, column, a);
    for (uint32_t w = 0; w < m->s.wishes; w++) {
        const size_t *node = cot_net_node(&m->s.net) + (size_t)2 * w;
        uint32_t batch = node[0] < node[2] ? m->edge[node[0]].batch : UINT32_MAX;
        if (batch != UINT32_MAX && m->supplies.sole_of[batch] != UINT32_MAX) {
            plain_sole(m, w, batch, sole);
            a->prospect[w] = plain_prospect(sole, COT_SOLE_WEIGHT, m->wish[w].need);
        } else {
            a->prospect[w] = plain_prospect(column + w * N, N, m->wish[w].need);
        }
    }
    free(serves);
    free(column);
    free(sole);
}

static void compare(const struct made *m, const struct answer *a, const struct answer *b)
{
    for (uint32_t w = 0; w < m->s.wishes; w++) {
        sure(a->prospect[w].full == b->prospect[w].full);
        sure(a->prospect[w].holds == b->prospect[w].holds);
    }
    for (size_t k = 0; k < FARMS; k++)
        for (size_t i = k * N; i < (k + 1) * N; i++) {
            sure(a->farm.base[k] + a->farm.sum[i] == b->farm.sum[i]);
            sure((a->farm.never[k] || a->farm.lacking[i]) == b->farm.lacking[i]);
        }
    sure(memcmp(a->batch_lacking, b->batch_lacking, m->supplies.batches * sizeof *a->batch_lacking) == 0);
}

static long number(const char *what, long otherwise)
{
    const char *given = getenv(what);
    return given ? atol(given) : otherwise;
}

/* Lines that are sometimes full and sometimes not: something to be wrong about. */
static long count_open(const struct made *m, const struct answer *a)
{
    long open = 0;
    for (uint32_t w = 0; w < m->s.wishes; w++) open += a->prospect[w].full > 0 && a->prospect[w].full < 1;
    return open;
}

/* Of `lines` 0 / 1: from / to; the same of batches. `units`: some with units and leasts. */
static void check_nets(const char *what, long nets, const int64_t lines[static 2], const int64_t batches[static 2],
                       bool units)
{
    struct dice d = dice_new(what);
    long open = 0;
    for (long k = 0; k < nets; k++) {
        struct made m;
        struct answer a, b;
        make(&d, &m, (uint32_t)dice_int(&d, lines[0], lines[1]), (uint32_t)dice_int(&d, batches[0], batches[1]), units);
        ours(&m, &a);
        plain(&m, &b);
        compare(&m, &a, &b);
        open += count_open(&m, &b);
        answer_free(&a);
        answer_free(&b);
        drop(&m);
    }
    printf("%s: %ld nets, %ld open chances\n", what, nets, open);
    ck_assert_int_gt(open, nets);
}

START_TEST(same_as_from_nothing)
{
    check_nets("walk small", number("COT_WALK_NETS", 100), (int64_t[]){1, 12}, (int64_t[]){1, 8}, true);
}
END_TEST

START_TEST(same_on_large_nets)
{
    /* Sharing out from nothing takes long, anew for each line passed over all the longer. */
    bool many = number("COT_WALK_NETS", 100) >= 1000;
    const int64_t *size = many ? (int64_t[]){100, MOST} : (int64_t[]){66, 76};
    check_nets("walk large", (number("COT_WALK_NETS", 100) + 99) / 100, size, size, many);
}
END_TEST

/* --- What it rests on --------------------------------------------------------------------------------------------- */

START_TEST(more_supply_gives_no_claim_less)
{
    struct dice d = dice_new("walk monotony");
    long more = 0;
    for (long k = 0; k < 40 * number("COT_WALK_NETS", 100); k++) {
        uint32_t lines = (uint32_t)dice_int(&d, 1, 12), batches = (uint32_t)dice_int(&d, 1, 6);
        struct cot_edge edge[12 * 6];
        struct cot_net net = {.lines = lines, .batches = batches, .edge = edge};
        struct cot_amounts a;
        struct cot_given nothing;
        int64_t low[6], high[6];
        for (uint32_t l = 0; l < lines; l++)
            for (uint32_t b = 0; b < batches; b++)
                if (dice_int(&d, 0, 2) == 0) edge[net.edges++] = (struct cot_edge){l, b, false};
        for (uint32_t b = 0; b < batches; b++) high[b] = (low[b] = dice_int(&d, 0, 12)) + dice_int(&d, 0, 5);
        sure(cot_net_start(&net) == COT_OK && cot_amounts_start(&a, &net) == COT_OK);
        sure(cot_given_start(&nothing, &a) == COT_OK);
        int64_t got[12][2], want[12];
        for (int h = 0; h < 2; h++) {
            cot_amounts_resume(&a, &nothing, h ? high : low);
            for (uint32_t l = 0; l < lines; l++) {
                if (h == 0) want[l] = dice_int(&d, 1, 8);
                got[l][h] = cot_amounts_give(&a, 2 * l, want[l]);
            }
        }
        cot_net_begin(&net, high);
        for (uint32_t l = 0; l < lines; l++) {
            sure(got[l][0] <= got[l][1]);
            sure(got[l][1] == cot_net_give(&net, 2 * l, want[l]));
            more += got[l][0] < got[l][1];
        }
        cot_given_free(&nothing);
        cot_amounts_free(&a);
        cot_net_free(&net);
    }
    ck_assert_int_gt(more, 1000);
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
    Suite *s = suite_create("core/fill_walk");
    add(s, "small", same_as_from_nothing);
    add(s, "large", same_on_large_nets);
    add(s, "monotony", more_supply_gives_no_claim_less);
    return s;
}
