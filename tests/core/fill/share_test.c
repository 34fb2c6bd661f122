/* server/core/fill/ flow.c, share.c, prorata.c, maxmin.c, merge.c: sharing on plain figures, every rule against answers
 * found in another way on small random cases: what can be delivered by going through all cuts, levels by going through
 * all sets of lines. Claims from promises are in chunks_test.c, the reading of a book in fill_test.c. */
#include <string.h>

#include "fill/merge.h"
#include "fill/share.h"
#include "../../main.h"
#include "../seed.h"

#define LINES 5
#define BATCHES 5
#define CLAIMS 8
#define NODES (2 * LINES)

struct small {
    uint32_t lines, batches, edges, claims;
    enum cot_share_rule rule;
    struct cot_edge edge[LINES * BATCHES];
    struct cot_wish wish[LINES];
    struct cot_claim claim[CLAIMS];
    int64_t supply[BATCHES];
};

static void draw_wishes(struct dice *d, struct small *c, bool units, bool leasts)
{
    for (uint32_t i = 0; i < c->claims; i++) {
        c->claim[i] = (struct cot_claim){(uint32_t)dice_int(d, 0, c->lines - 1), dice_int(d, 1, 9)};
        c->wish[c->claim[i].wish].need += c->claim[i].plants;
    }
    for (uint32_t l = 0; l < c->lines; l++) {
        struct cot_wish *w = &c->wish[l];
        w->line = l;
        w->handed = dice_int(d, 0, 2) ? 0 : dice_int(d, 0, 6);
        w->unit = units ? dice_int(d, 1, 4) : 1;
        w->least = leasts && dice_int(d, 0, 1) ? dice_int(d, 1, 12) : 0;
        if (w->least > w->handed + w->need) w->least = w->handed + w->need;
    }
}

static void small_random(struct dice *d, struct small *c, enum cot_share_rule rule, bool units, bool leasts)
{
    *c = (struct small){.rule = rule};
    c->lines = (uint32_t)dice_int(d, 1, LINES);
    c->batches = (uint32_t)dice_int(d, 1, BATCHES);
    c->claims = (uint32_t)dice_int(d, 1, CLAIMS);
    for (uint32_t b = 0; b < c->batches; b++) c->supply[b] = dice_int(d, 0, 12);
    uint64_t kinds = dice_next(d);
    for (uint32_t l = 0; l < c->lines; l++)
        for (int spare = 0; spare < 2; spare++)
            for (uint32_t b = 0; b < c->batches; b++)
                if ((kinds >> (l * BATCHES + b)) % 4 / 3 == (unsigned)spare && dice_int(d, 0, 2) > 0)
                    c->edge[c->edges++] = (struct cot_edge){l, b, spare != 0};
    draw_wishes(d, c, units, leasts);
}

/* --- What can be delivered, by cuts ------------------------------------------------------------------------------- */
/* Most that can be delivered of `want` (node 2l: line l by its own edges; 2l + 1: by spare ones): the least over sets
 * of nodes of what the others want and the batches that the set can reach have. */
static int64_t deliverable(const struct small *c, const int64_t want[static NODES])
{
    uint32_t reach[NODES] = {0}, nodes = 2 * c->lines;
    for (uint32_t e = 0; e < c->edges; e++) reach[2 * c->edge[e].line + c->edge[e].spare] |= 1u << c->edge[e].batch;
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

/* How much of `ask` the node can have beside what is given. */
static int64_t can_have(const struct small *c, const int64_t given[static NODES], uint32_t node, int64_t ask)
{
    int64_t want[NODES], before = 0;
    memcpy(want, given, sizeof want);
    for (uint32_t k = 0; k < 2 * c->lines; k++) before += given[k];
    want[node] += ask;
    return deliverable(c, want) - before;
}

/* --- By queue ------------------------------------------------------------------------------------------------------
 */
static void by_queue(const struct small *c, const bool *passed, int64_t given[static NODES])
{
    int64_t unmet[CLAIMS];
    memset(given, 0, NODES * sizeof *given);
    for (uint32_t i = 0; i < c->claims; i++) unmet[i] = c->claim[i].plants;
    for (uint32_t spare = 0; spare < 2; spare++) {
        for (uint32_t i = 0; i < c->claims; i++) {
            const struct cot_wish *w = &c->wish[c->claim[i].wish];
            uint32_t node = 2 * w->line + spare;
            if (passed[w->line]) continue;
            int64_t before = given[node], got = can_have(c, given, node, unmet[i]);
            given[node] += got;
            if (got < unmet[i]) given[node] -= given[node] % w->unit;
            if (given[node] < before) given[node] = before;
            unmet[i] -= given[node] - before;
        }
    }
}

/* --- Pro rata ------------------------------------------------------------------------------------------------------
 */
__extension__ typedef __int128 wide;

struct ratio {
    int64_t num, den; /* den > 0, no common factor */
};

static struct ratio ratio(wide num, wide den)
{
    wide a = num < 0 ? -num : num, b = den;
    while (b != 0) {
        wide t = a % b;
        a = b;
        b = t;
    }
    sure(den > 0 && num / a < INT64_MAX && den / a < INT64_MAX);
    return (struct ratio){(int64_t)(num / a), (int64_t)(den / a)};
}

static struct ratio minus(struct ratio x, struct ratio y)
{
    return ratio((wide)x.num * y.den - (wide)y.num * x.den, (wide)x.den * y.den);
}

static int ratio_cmp(struct ratio x, struct ratio y)
{
    wide a = (wide)x.num * y.den, b = (wide)y.num * x.den;
    return a < b ? -1 : a > b;
}

/* Supply that a set of nodes can have at best beside those whose amounts are fixed: least over what of the fixed nodes
 * is counted in. */
static struct ratio supply_for(const struct small *c, uint32_t set, uint32_t fixed, const struct ratio amount[NODES])
{
    uint32_t reach[NODES] = {0};
    struct ratio best = {INT64_MAX / 4, 1};
    for (uint32_t e = 0; e < c->edges; e++) reach[2 * c->edge[e].line + c->edge[e].spare] |= 1u << c->edge[e].batch;
    for (uint32_t with = fixed;; with = (with - 1) & fixed) {
        struct ratio there = {0, 1};
        uint32_t batches = 0;
        for (uint32_t n = 0; n < NODES; n++) {
            if ((set | with) >> n & 1) batches |= reach[n];
            if (with >> n & 1) there = minus(there, amount[n]);
        }
        for (uint32_t b = 0; b < c->batches; b++)
            if (batches >> b & 1) there = minus(there, (struct ratio){-c->supply[b], 1});
        if (ratio_cmp(there, best) < 0) best = there;
        if (with == 0) return best;
    }
}

/* Lexicographic max-min over the lines in `open` (by their nodes of this pass), by filling all evenly until a set of
 * them is tight: level of the set = (its supply + what it had) / what it was promised. */
static void fill_evenly(const struct small *c, uint32_t spare, uint32_t open, const int64_t given[static NODES],
                        struct ratio level[LINES])
{
    struct ratio amount[NODES];
    uint32_t fixed = 0;
    for (uint32_t n = 0; n < NODES; n++) amount[n] = (struct ratio){given[n], 1};
    for (uint32_t n = 0; n < 2 * c->lines; n++)
        if (given[n] > 0) fixed |= 1u << n;
    while (open) {
        struct ratio best = {1, 1};
        uint32_t tight = open;
        for (uint32_t set = open; set; set = (set - 1) & open) {
            int64_t had = 0, promised = 0;
            uint32_t nodes = 0;
            for (uint32_t l = 0; l < c->lines; l++) {
                if (!(set >> l & 1)) continue;
                had += c->wish[l].handed + given[2 * l] + given[2 * l + 1];
                promised += c->wish[l].handed + c->wish[l].need;
                nodes |= 1u << (2 * l + spare);
            }
            struct ratio there = supply_for(c, nodes, fixed, amount);
            there = minus(there, (struct ratio){-had, 1});
            there = ratio(there.num, (wide)there.den * promised);
            int order = ratio_cmp(there, best);
            if (order < 0) best = there, tight = set;
        }
        for (uint32_t l = 0; l < c->lines; l++) {
            if (!(tight >> l & 1)) continue;
            int64_t had = c->wish[l].handed + given[2 * l] + given[2 * l + 1];
            level[l] = best;
            amount[2 * l + spare] =
                minus(ratio((wide)best.num * (c->wish[l].handed + c->wish[l].need), best.den), (struct ratio){had, 1});
            fixed |= 1u << (2 * l + spare);
        }
        open &= ~tight;
    }
}

/* Order in which left-over units go out: least filled, most cut off, queue. */
static bool goes_first(const struct small *c, const struct ratio *level, const struct ratio *rest, uint32_t a,
                       uint32_t b)
{
    int o = ratio_cmp(level[a], level[b]);
    if (o != 0) return o < 0;
    o = ratio_cmp(ratio(rest[a].num, rest[a].den * c->wish[a].unit), ratio(rest[b].num, rest[b].den * c->wish[b].unit));
    if (o != 0) return o > 0;
    for (uint32_t i = 0; i < c->claims; i++) {
        if (c->claim[i].wish == a) return true;
        if (c->claim[i].wish == b) return false;
    }
    return false;
}

static void round_and_give(const struct small *c, uint32_t spare, uint32_t open, const struct ratio *level,
                           int64_t given[static NODES])
{
    struct ratio rest[LINES];
    int64_t share[LINES];
    uint32_t order[LINES], n = 0;
    for (uint32_t l = 0; l < c->lines; l++) {
        if (!(open >> l & 1)) continue;
        int64_t promised = c->wish[l].handed + c->wish[l].need,
                had = c->wish[l].handed + given[2 * l] + given[2 * l + 1];
        struct ratio exact = minus(ratio((wide)level[l].num * promised, level[l].den), (struct ratio){had, 1});
        share[l] = exact.num < 0 ? 0 : exact.num / exact.den;
        if (had + share[l] < promised) share[l] -= share[l] % c->wish[l].unit;
        rest[l] = minus(exact.num < 0 ? (struct ratio){0, 1} : exact, (struct ratio){share[l], 1});
        uint32_t at = n++;
        for (; at > 0 && goes_first(c, level, rest, l, order[at - 1]); at--) order[at] = order[at - 1];
        order[at] = l;
    }
    for (uint32_t i = 0; i < n; i++) given[2 * order[i] + spare] += share[order[i]];
    for (bool more = true; more;) {
        more = false;
        for (uint32_t i = 0; i < n; i++) {
            uint32_t l = order[i];
            int64_t want = c->wish[l].need - given[2 * l] - given[2 * l + 1];
            if (want > c->wish[l].unit) want = c->wish[l].unit;
            if (want == 0 || can_have(c, given, 2 * l + spare, want) < want) continue;
            given[2 * l + spare] += want;
            more = true;
        }
    }
}

static void pro_rata(const struct small *c, const bool *passed, int64_t given[static NODES])
{
    memset(given, 0, NODES * sizeof *given);
    for (uint32_t spare = 0; spare < 2; spare++) {
        struct ratio level[LINES];
        uint32_t open = 0;
        for (uint32_t l = 0; l < c->lines; l++)
            if (!passed[l] && given[2 * l] + given[2 * l + 1] < c->wish[l].need) open |= 1u << l;
        if (!open) continue;
        fill_evenly(c, spare, open, given, level);
        round_and_give(c, spare, open, level, given);
    }
}

/* --- All of a rule -------------------------------------------------------------------------------------------------
 */
/* The line that goes without: under pro rata the latest in the queue of those below their least, else the earliest. */
static int below_least(const struct small *c, const int64_t given[static NODES])
{
    int found = -1;
    for (uint32_t i = 0; i < c->claims; i++) {
        uint32_t l = c->claim[i].wish;
        int64_t got = given[2 * l] + given[2 * l + 1];
        bool first = true;
        for (uint32_t k = 0; k < i; k++) first = first && c->claim[k].wish != l;
        if (!first || got == 0 || got + c->wish[l].handed >= c->wish[l].least) continue;
        if (found < 0 || c->rule == COT_SHARE_PRORATA) found = (int)l;
    }
    return found;
}

static void expected(const struct small *c, int64_t given[static NODES])
{
    bool passed[LINES] = {false};
    for (int without = 0; without >= 0;) {
        if (c->rule == COT_SHARE_PRORATA) pro_rata(c, passed, given);
        else by_queue(c, passed, given);
        without = below_least(c, given);
        if (without >= 0) passed[without] = true;
    }
}

static void start(struct cot_sharing *s, const struct small *c)
{
    *s = (struct cot_sharing){
        .net = {.lines = c->lines, .batches = c->batches, .edges = c->edges, .edge = c->edge},
        .rule = c->rule,
        .wishes = c->lines,
        .claims = c->claims,
        .wish = c->wish,
        .claim = c->claim,
    };
    sure(cot_net_start(&s->net) == COT_OK);
    sure(cot_sharing_start(s) == COT_OK);
}

static void finish(struct cot_sharing *s)
{
    cot_sharing_free(s);
    cot_net_free(&s->net);
}

/* Shares, checks that the edges carry it, and gives the sums by node. */
static void shared(const struct cot_sharing *s, const struct small *c, int64_t given[static NODES])
{
    int64_t used[BATCHES] = {0};
    cot_share(s, c->supply);
    const int64_t *flow = cot_net_flow(&s->net), *got = cot_share_got(s);
    memset(given, 0, NODES * sizeof *given);
    for (uint32_t e = 0; e < c->edges; e++) {
        sure(flow[e] >= 0);
        given[2 * c->edge[e].line + c->edge[e].spare] += flow[e];
        used[c->edge[e].batch] += flow[e];
    }
    for (uint32_t b = 0; b < c->batches; b++)
        sure(used[b] + cot_net_left(&s->net)[b] == c->supply[b] && used[b] <= c->supply[b]);
    for (uint32_t l = 0; l < c->lines; l++) sure(given[2 * l] + given[2 * l + 1] == got[l]);
}

static void check_rule(const char *what, enum cot_share_rule rule, bool units, bool leasts, int rounds)
{
    struct dice d = dice_new(what);
    int lacking = 0, without = 0;
    for (int round = 0; round < rounds; round++) {
        struct small c;
        struct cot_sharing s;
        int64_t want[NODES], got[NODES], asked = 0, given = 0;
        small_random(&d, &c, rule, units, leasts);
        start(&s, &c);
        shared(&s, &c, got);
        expected(&c, want);
        for (uint32_t n = 0; n < 2 * c.lines; n++)
            if (got[n] != want[n])
                ck_abort_msg("%s, case %d, node %u: %ld, not %ld", what, round, n, (long)got[n], (long)want[n]);
        for (uint32_t l = 0; l < c.lines; l++) {
            asked += c.wish[l].need;
            given += got[2 * l] + got[2 * l + 1];
            without += cot_share_passed(&s)[l];
        }
        lacking += given < asked;
        finish(&s);
    }
    ck_assert_int_gt(lacking, rounds / 20); /* shortages were among the cases */
    ck_assert(!leasts || without > rounds / 100);
}

START_TEST(first_promised)
{
    check_rule("first promised", COT_SHARE_FIRST, false, false, 10000);
    check_rule("first promised, in units", COT_SHARE_FIRST, true, false, 3000);
    check_rule("first promised, in units, with leasts", COT_SHARE_FIRST, true, true, 5000);
}
END_TEST

START_TEST(pro_rata_by_sets)
{
    check_rule("pro rata", COT_SHARE_PRORATA, false, false, 10000);
    check_rule("pro rata, in units", COT_SHARE_PRORATA, true, false, 3000);
    check_rule("pro rata, in units, with leasts", COT_SHARE_PRORATA, true, true, 5000);
}
END_TEST

/* First come first served would give batch 0 to the flexible line and leave the second with nothing. */
START_TEST(nothing_stranded)
{
    struct small c = {.lines = 2, .batches = 2, .edges = 3, .claims = 2, .supply = {100, 100}};
    struct cot_sharing s;
    int64_t given[NODES];
    c.edge[0] = (struct cot_edge){0, 0, false};
    c.edge[1] = (struct cot_edge){0, 1, false};
    c.edge[2] = (struct cot_edge){1, 0, false};
    c.wish[0] = (struct cot_wish){.line = 0, .need = 100, .unit = 1};
    c.wish[1] = (struct cot_wish){.line = 1, .need = 80, .unit = 1};
    c.claim[0] = (struct cot_claim){0, 100};
    c.claim[1] = (struct cot_claim){1, 80};
    start(&s, &c);
    shared(&s, &c, given);
    ck_assert_int_eq(cot_net_flow(&s.net)[0], 20);
    ck_assert_int_eq(cot_net_flow(&s.net)[1], 80);
    ck_assert_int_eq(cot_net_flow(&s.net)[2], 80);
    finish(&s);
}
END_TEST

/* A substitute waits until every line that asked for the variety has been served, under every rule and however late
 * those were promised. */
START_TEST(substitutes_come_last)
{
    for (int rule = COT_SHARE_FIRST; rule <= COT_SHARE_PRORATA; rule++) {
        struct small c = {.lines = 2, .batches = 1, .edges = 2, .claims = 2, .supply = {100}};
        struct cot_sharing s;
        int64_t given[NODES];
        c.rule = (enum cot_share_rule)rule;
        c.edge[0] = (struct cot_edge){0, 0, true};
        c.edge[1] = (struct cot_edge){1, 0, false};
        c.wish[0] = (struct cot_wish){.line = 0, .need = 90, .unit = 1};
        c.wish[1] = (struct cot_wish){.line = 1, .need = 70, .unit = 1};
        c.claim[0] = (struct cot_claim){0, 90};
        c.claim[1] = (struct cot_claim){1, 70};
        start(&s, &c);
        shared(&s, &c, given);
        ck_assert_int_eq(given[1], 30);
        ck_assert_int_eq(given[2], 70);
        finish(&s);
    }
}
END_TEST

/* A last tray that is only part wanted is made whole from what is spare, and not where that would cost another line. */
START_TEST(whole_trays)
{
    struct small c = {.lines = 2, .batches = 1, .edges = 2, .claims = 2, .supply = {300}};
    struct cot_sharing s;
    int64_t given[NODES], left[BATCHES], extra[2];
    c.edge[0] = (struct cot_edge){0, 0, false};
    c.edge[1] = (struct cot_edge){1, 0, false};
    c.wish[0] = (struct cot_wish){.line = 0, .need = 100, .unit = 72};
    c.wish[1] = (struct cot_wish){.line = 1, .need = 150, .unit = 72};
    c.claim[0] = (struct cot_claim){0, 100};
    c.claim[1] = (struct cot_claim){1, 150};
    start(&s, &c);
    shared(&s, &c, given);
    cot_share_extra(&s, left, extra);
    ck_assert(given[0] == 100 && given[2] == 150);
    ck_assert(extra[0] == 44 && extra[1] == 0 && left[0] == 6); /* 50 were left: enough for the first, not for both */
    c.supply[0] = 240;
    shared(&s, &c, given);
    cot_share_extra(&s, left, extra);
    ck_assert(given[0] == 100 && given[2] == 72 + 0 && left[0] == 24); /* 140 of 150: one whole tray */
    ck_assert(extra[0] == 44 && extra[1] == 0);
    finish(&s);
}
END_TEST

/* More supply never makes a claim of the first pass lose by queue, and sharing is the same each time. */
START_TEST(more_never_hurts)
{
    struct dice d = dice_new("more_never_hurts");
    for (int round = 0; round < 5000; round++) {
        struct small c;
        struct cot_sharing s;
        int64_t before[NODES], again[NODES], after[NODES];
        small_random(&d, &c, COT_SHARE_FIRST, false, false);
        start(&s, &c);
        shared(&s, &c, before);
        shared(&s, &c, again);
        sure(memcmp(before, again, sizeof before) == 0);
        c.supply[dice_int(&d, 0, c.batches - 1)] += 3;
        shared(&s, &c, after);
        for (uint32_t l = 0; l < c.lines; l++) sure(after[2 * l] >= before[2 * l]);
        finish(&s);
    }
}
END_TEST

/* Batches and lines that cannot be told apart are merged; every wish gets the same as in the whole net. */
START_TEST(merged_net_is_the_same)
{
    struct dice d = dice_new("merged_net_is_the_same");
    long fewer = 0;
    for (int round = 0; round < 20000; round++) {
        struct small c;
        struct cot_sharing s, t;
        struct cot_merged m;
        struct cot_wish wish[LINES];
        int64_t given[NODES], supply[BATCHES] = {0};
        bool asks[LINES];
        small_random(&d, &c, round % 2 ? COT_SHARE_PRORATA : COT_SHARE_FIRST, round % 4 > 1, round % 8 > 5);
        start(&s, &c);
        shared(&s, &c, given);
        for (uint32_t l = 0; l < c.lines; l++) asks[l] = c.wish[l].need > 0;
        sure(cot_merge(&s.net, asks, &m) == COT_OK);
        sure(m.net.batches <= c.batches && m.net.lines <= c.lines);
        fewer += m.net.batches < c.batches;
        for (uint32_t b = 0; b < c.batches; b++) supply[m.batch_of[b]] += c.supply[b];
        for (uint32_t l = 0; l < c.lines; l++) {
            wish[l] = c.wish[l];
            wish[l].line = m.line_of[l];
        }
        t = s;
        t.net = m.net;
        t.wish = wish;
        sure(cot_sharing_start(&t) == COT_OK);
        cot_share(&t, supply);
        sure(memcmp(cot_share_got(&t), cot_share_got(&s), c.lines * sizeof(int64_t)) == 0);
        cot_sharing_free(&t);
        cot_merged_free(&m);
        finish(&s);
    }
    ck_assert_int_gt(fewer, 1000);
}
END_TEST

START_TEST(groups)
{
    static const struct cot_edge edge[] = {{0, 4, false}, {0, 1, false}, {1, 3, false}, {2, 0, false}, {2, 4, true}};
    struct cot_net net = {.lines = 3, .batches = 5, .edges = 5, .edge = edge};
    uint32_t group[5];
    sure(cot_net_start(&net) == COT_OK);
    ck_assert_uint_eq(cot_net_groups(&net, group), 3);
    static const uint32_t want_group[] = {0, 0, 1, 2, 0};
    ck_assert_mem_eq(group, want_group, sizeof group);
    cot_net_free(&net);
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 300);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/fill");
    add(s, "first", first_promised);
    add(s, "prorata", pro_rata_by_sets);
    add(s, "stranded", nothing_stranded);
    add(s, "substitutes", substitutes_come_last);
    add(s, "whole_trays", whole_trays);
    add(s, "more", more_never_hurts);
    add(s, "merged", merged_net_is_the_same);
    add(s, "groups", groups);
    return s;
}
