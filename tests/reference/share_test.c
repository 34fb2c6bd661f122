/* Sharing against published values: the proportional awards of the three claims problem, seats by largest remainder,
 * and a textbook's greatest flow. */
#include "values.h"

#include "fill/share_inside.h"

#define CLAIMS 16
#define EDGES 32

struct problem {
    struct cot_edge edge[EDGES];
    struct cot_wish wish[CLAIMS];
    struct cot_claim claim[CLAIMS];
    int64_t supply[CLAIMS];
    struct cot_sharing s;
};

static void ask(struct problem *p, int64_t plants)
{
    uint32_t w = p->s.wishes++;
    p->wish[w] = (struct cot_wish){.line = w, .need = plants, .unit = 1};
    p->claim[p->s.claims++] = (struct cot_claim){w, plants};
}

static void share(struct problem *p, enum cot_share_rule rule, uint32_t batches)
{
    p->s.rule = rule;
    p->s.wish = p->wish;
    p->s.claim = p->claim;
    p->s.net.lines = p->s.wishes;
    p->s.net.batches = batches;
    p->s.net.edge = p->edge;
    ck_assert_int_eq(cot_net_start(&p->s.net), COT_OK);
    ck_assert_int_eq(cot_sharing_start(&p->s), COT_OK);
    cot_share(&p->s, p->supply);
}

static void drop(struct problem *p)
{
    cot_sharing_free(&p->s);
    cot_net_free(&p->s.net);
}

static void one_pool(struct problem *p, enum cot_share_rule rule, int64_t supply)
{
    for (uint32_t w = 0; w < p->s.wishes; w++) p->edge[p->s.net.edges++] = (struct cot_edge){w, 0, false};
    p->supply[0] = supply;
    share(p, rule, 1);
}

/* The award "num/den", or "num". */
static void read_ratio(const char *text, int64_t *num, int64_t *den)
{
    char *end;
    *num = strtoll(text, &end, 10);
    *den = *end == '/' ? strtoll(end + 1, NULL, 10) : 1;
}

START_TEST(proportional_awards)
{
    static const char *const column[] = {"award_100", "award_200", "award_300"};
    struct cot_csv *csv = values_open("claims_proportional.csv");
    size_t rows = cot_csv_count(csv);
    ck_assert_uint_gt(rows, 10);
    for (size_t i = 1; i < rows; i++) {
        struct problem p = {0};
        int64_t estate = strtoll(value_text(csv, i, "estate"), NULL, 10);
        for (int64_t k = 1; k <= 3; k++) ask(&p, 100 * k);
        one_pool(&p, COT_SHARE_PRORATA, estate);
        for (uint32_t k = 0; k < 3; k++) {
            const struct cot_portion *q = &p.s.inside->part[k];
            int64_t num, den, got = cot_share_got(&p.s)[k];
            read_ratio(value_text(csv, i, column[k]), &num, &den);
            if (estate < 600) ck_assert_int_eq(q->num * 100 * (k + 1) * den, num * q->den); /* the exact share */
            ck_assert(got * den > num - den && got * den < num + den);                      /* whole plants of it */
        }
        drop(&p);
    }
    cot_csv_free(csv);
}
END_TEST

static void check_seats(int64_t seats, const char *column)
{
    struct cot_csv *csv = values_open("apportionment_1790.csv");
    struct problem p = {0};
    size_t rows = cot_csv_count(csv);
    ck_assert_uint_eq(rows, 16);
    for (size_t i = 1; i < rows; i++) ask(&p, strtoll(value_text(csv, i, "population"), NULL, 10));
    one_pool(&p, COT_SHARE_PRORATA, seats);
    for (uint32_t k = 0; k + 1 < rows; k++)
        ck_assert_int_eq(cot_share_got(&p.s)[k], strtoll(value_text(csv, k + 1, column), NULL, 10));
    drop(&p);
    cot_csv_free(csv);
}

START_TEST(seats_by_largest_remainder)
{
    check_seats(120, "largest_remainder_120");
    check_seats(105, "largest_remainder_105");
}
END_TEST

static uint32_t vertex(const char *name)
{
    static const char *const names[] = {"v1", "v2", "v3", "v4", "t", "s"};
    uint32_t i = 0;
    while (strcmp(names[i], name) != 0) i++;
    return i;
}

/* Each arc is a batch of its capacity that serves the vertex it enters (what flows) or the one it leaves (what does
 * not). An inner vertex asks for as much as its arcs out could carry, so that what flows in flows out; then the sink
 * has the greatest flow (after Wagner 1959, from memory). */
START_TEST(greatest_flow)
{
    struct cot_csv *csv = values_open("max_flow_clrs.csv");
    struct problem p = {0};
    int64_t out[6] = {0};
    uint32_t arcs = (uint32_t)cot_csv_count(csv) - 1;
    for (uint32_t a = 0; a < arcs; a++) {
        p.supply[a] = strtoll(value_text(csv, a + 1, "capacity"), NULL, 10);
        out[vertex(value_text(csv, a + 1, "from"))] += p.supply[a];
    }
    for (uint32_t v = 0; v < 6; v++) {
        ask(&p, v == vertex("t") ? 1000 : out[v]);
        for (uint32_t a = 0; a < arcs; a++)
            if (vertex(value_text(csv, a + 1, "to")) == v || vertex(value_text(csv, a + 1, "from")) == v)
                p.edge[p.s.net.edges++] = (struct cot_edge){v, a, false};
    }
    share(&p, COT_SHARE_FIRST, arcs);
    for (uint32_t v = 0; v < 4; v++) ck_assert_int_eq(cot_share_got(&p.s)[v], out[v]);
    ck_assert_int_eq(cot_share_got(&p.s)[vertex("t")], 23);
    drop(&p);
    cot_csv_free(csv);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("reference/share");
    TCase *c = tcase_create("published");
    tcase_add_test(c, proportional_awards);
    tcase_add_test(c, seats_by_largest_remainder);
    tcase_add_test(c, greatest_flow);
    suite_add_tcase(s, c);
    return s;
}
