/* server/core/fill/swap.c: nobody has more or less afterwards, and pieces are few: against the fewest of all ways,
 * found by going through all of them on tiny nets. */
#include <string.h>

#include "fill/swap.h"
#include "../../main.h"
#include "../seed.h"

#define LINES 4
#define BATCHES 3
#define EDGES (LINES * BATCHES)

struct tiny {
    struct cot_net net;
    struct cot_edge edge[EDGES];
    uint32_t alike[EDGES];
    int64_t unit[LINES], flow[EDGES];
};

static size_t pieces(const struct tiny *t, const int64_t *flow)
{
    size_t n = 0;
    for (size_t e = 0; e < t->net.edges; e++) n += flow[e] > 0;
    return n;
}

static size_t swap(struct tiny *t)
{
    struct cot_swap ask = {&t->net, t->alike, t->unit, t->flow};
    t->net.edge = t->edge;
    ck_assert_int_eq(cot_net_start(&t->net), COT_OK);
    size_t saved = cot_swaps(&ask);
    cot_net_free(&t->net);
    return saved;
}

/* Three lines of 60, 100 and 40 plants from two batches of 100, in the order of the queue: the second has 40 of the
 * first batch and 60 of the second. It can have the second alone. */
START_TEST(one_batch_is_enough)
{
    struct tiny t = {.net = {.lines = 3, .batches = 2, .edges = 6}, .unit = {1, 1, 1}};
    const int64_t queue[] = {60, 0, 40, 60, 0, 40}, simple[] = {60, 0, 0, 100, 40, 0};
    for (uint32_t e = 0; e < 6; e++) t.edge[e] = (struct cot_edge){e / 2, e % 2, false};
    memcpy(t.flow, queue, sizeof queue);
    ck_assert_uint_eq(swap(&t), 1);
    ck_assert_mem_eq(t.flow, simple, sizeof simple);

    /* In whole trays of 50 the 40 cannot be exchanged. */
    memcpy(t.flow, queue, sizeof queue);
    t.unit[1] = 50;
    ck_assert_uint_eq(swap(&t), 0);
    ck_assert_mem_eq(t.flow, queue, sizeof queue);

    /* Nor against what is less good for the line: a substitute for its own variety. */
    t.unit[1] = 1;
    t.alike[3] = 2;
    ck_assert_uint_eq(swap(&t), 0);

    /* Nor with lines that may not have the other batch. */
    struct tiny apart = {.net = {.lines = 3, .batches = 2, .edges = 4},
                         .edge = {{0, 0, false}, {1, 0, false}, {1, 1, false}, {2, 1, false}},
                         .unit = {1, 1, 1},
                         .flow = {60, 40, 60, 40}};
    ck_assert_uint_eq(swap(&apart), 0);
}
END_TEST

static void draw(struct dice *d, struct tiny *t)
{
    *t = (struct tiny){.net = {.lines = (uint32_t)dice_int(d, 2, LINES), .batches = BATCHES}};
    for (uint32_t l = 0; l < t->net.lines; l++) {
        t->unit[l] = 1;
        for (uint32_t b = 0; b < BATCHES; b++) {
            if (dice_int(d, 0, 4) == 0) continue;
            t->alike[t->net.edges] = dice_int(d, 0, 5) == 0;
            t->flow[t->net.edges] = dice_int(d, 0, 2) ? dice_int(d, 1, 3) : 0;
            t->edge[t->net.edges++] = (struct cot_edge){l, b, false};
        }
    }
}

/* Sum over edges of a line and kind, or of a batch. */
static int64_t of_line(const struct tiny *t, const int64_t *flow, uint32_t line, uint32_t alike)
{
    int64_t sum = 0;
    for (size_t e = 0; e < t->net.edges; e++) sum += t->edge[e].line == line && t->alike[e] == alike ? flow[e] : 0;
    return sum;
}

static int64_t of_batch(const struct tiny *t, const int64_t *flow, uint32_t batch)
{
    int64_t sum = 0;
    for (size_t e = 0; e < t->net.edges; e++) sum += t->edge[e].batch == batch ? flow[e] : 0;
    return sum;
}

static bool same_sums(const struct tiny *t, const int64_t *x, const int64_t *y)
{
    for (uint32_t l = 0; l < t->net.lines; l++)
        for (uint32_t a = 0; a < 2; a++)
            if (of_line(t, x, l, a) != of_line(t, y, l, a)) return false;
    for (uint32_t b = 0; b < BATCHES; b++)
        if (of_batch(t, x, b) != of_batch(t, y, b)) return false;
    return true;
}

/* Fewest pieces of all ways with the same sums: edge by edge, every figure that line and batch have left. */
static size_t fewest(const struct tiny *t, size_t e, int64_t line[LINES][2], int64_t batch[BATCHES], size_t best)
{
    if (best == 0) return SIZE_MAX;
    if (e == t->net.edges) {
        for (uint32_t l = 0; l < t->net.lines; l++)
            if (line[l][0] || line[l][1]) return SIZE_MAX;
        return 0;
    }
    int64_t *of = &line[t->edge[e].line][t->alike[e]], *b = &batch[t->edge[e].batch];
    size_t least = SIZE_MAX;
    for (int64_t x = *of < *b ? *of : *b; x >= 0; x--) {
        *of -= x;
        *b -= x;
        size_t n = fewest(t, e + 1, line, batch, best - (x > 0));
        if (n != SIZE_MAX && n + (x > 0) < least) least = n + (x > 0);
        *of += x;
        *b += x;
    }
    return least;
}

static size_t fewest_of_all(const struct tiny *t, const int64_t *flow)
{
    int64_t line[LINES][2], batch[BATCHES];
    for (uint32_t l = 0; l < LINES; l++)
        for (uint32_t a = 0; a < 2; a++) line[l][a] = of_line(t, flow, l, a);
    for (uint32_t b = 0; b < BATCHES; b++) batch[b] = of_batch(t, flow, b);
    return fewest(t, 0, line, batch, pieces(t, flow) + 1);
}

START_TEST(nobody_loses_and_pieces_are_few)
{
    struct dice d = dice_new("swap");
    int cases = 0, best = 0;
    for (int i = 0; i < 600; i++) {
        struct tiny t;
        draw(&d, &t);
        int64_t was[EDGES];
        memcpy(was, t.flow, sizeof was);
        size_t saved = swap(&t), least = fewest_of_all(&t, was);
        sure(same_sums(&t, was, t.flow));
        sure(pieces(&t, was) - saved == pieces(&t, t.flow));
        sure(pieces(&t, t.flow) >= least);
        cases += pieces(&t, was) > least;
        best += pieces(&t, was) > least && pieces(&t, t.flow) == least;
        sure(swap(&t) == 0);
    }
    printf("swap: of %d that could be simpler %d ended with the fewest pieces of all\n", cases, best);
    ck_assert(cases > 150 && best * 10 > cases * 7);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/fill/swap");
    TCase *t = tcase_create("swap");
    tcase_set_timeout(t, 60);
    tcase_add_test(t, one_batch_is_enough);
    tcase_add_test(t, nobody_loses_and_pieces_are_few);
    suite_add_tcase(s, t);
    return s;
}
