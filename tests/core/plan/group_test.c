/* Tests of server/core/plan/group.c */
#include "cotyledger/core/plan.h"

#include <stdlib.h>
#include <string.h>

#include "../seed.h"

#define LINES 40
#define LOTS 4

struct house {
    int64_t cells;  /* of a tray, all usable */
    int64_t refuse; /* plants from which on no trays are known; 0: never */
};

static int64_t trays(void *ctx, uint32_t lot, int64_t plants)
{
    const struct house *h = ctx;
    (void)lot;
    return h->refuse && plants >= h->refuse ? -1 : (plants + h->cells - 1) / h->cells;
}

static int64_t seeds(void *ctx, uint32_t lot, int64_t n)
{
    (void)lot;
    return n * ((const struct house *)ctx)->cells;
}

static int64_t rows(void *ctx, uint32_t lot, int64_t plants)
{
    (void)lot;
    int64_t need = (plants + 9) / 10;
    return need < ((const struct house *)ctx)->cells / 10 ? need : 0;
}

struct bed {
    struct house house;
    struct cot_group_line line[LINES];
    struct cot_group_lot lot[LOTS];
    struct cot_group_ask ask;
    struct cot_group_batch batch[600];
    struct cot_group_part part[600];
    struct cot_group got;
};

static struct bed *bed(int64_t cells)
{
    struct bed *b = calloc(1, sizeof *b);
    b->house.cells = cells;
    b->ask = (struct cot_group_ask){.line = b->line, .lot = b->lot, .trays = trays, .seeds = seeds, .ctx = &b->house};
    b->got = (struct cot_group){.batch = b->batch, .batch_room = 600, .part = b->part, .part_room = 600};
    return b;
}

static void add_line(struct bed *b, int32_t from, int32_t to, int64_t plants)
{
    struct cot_group_line *l = &b->line[b->ask.lines++];
    l->plants = plants;
    cot_dayset_range(&l->days, from, to);
}

static enum cot_err run(struct bed *b, struct cot_fault *f)
{
    void *space = malloc(cot_group_bytes(b->ask.lines));
    enum cot_err err = cot_group_lines(&b->ask, space, &b->got, f);
    free(space);
    return err;
}

/* Whatever was asked: every line gets its plants, on days that serve it; no lot gives more than it has. */
static void lawful(const struct bed *b)
{
    int64_t given[LINES] = {0}, used[LOTS] = {0};
    for (uint32_t i = 0; i < b->got.batches; i++) {
        const struct cot_group_batch *k = &b->batch[i];
        int64_t sum = 0;
        sure(!cot_dayset_empty(&k->days) && k->parts > 0);
        for (uint32_t p = k->first_part; p < k->first_part + k->parts; p++) {
            sure(cot_dayset_within(&k->days, &b->line[b->part[p].line].days) && b->part[p].plants > 0);
            given[b->part[p].line] += b->part[p].plants;
            sum += b->part[p].plants;
        }
        sure(sum == k->plants && k->trays == (sum + b->house.cells - 1) / b->house.cells);
        sure(!b->ask.most_trays || k->trays <= b->ask.most_trays);
        if (k->lot == COT_LOT_BUY) continue;
        used[k->lot] += k->seeds;
        sure(cot_dayset_last(&k->days) <= b->lot[k->lot].last);
    }
    for (uint32_t i = 0; i < b->ask.lines; i++)
        sure(given[i] == (cot_dayset_empty(&b->line[i].days) ? 0 : b->line[i].plants));
    for (uint32_t i = 0; i < b->ask.lots; i++) sure(b->lot[i].seeds < 0 || used[i] <= b->lot[i].seeds);
}

START_TEST(one_day_serves_all)
{
    struct bed *b = bed(100);
    add_line(b, 3, 9, 150);
    add_line(b, 7, 12, 130);
    add_line(b, 5, 7, 20);
    ck_assert_int_eq(run(b, NULL), COT_OK);
    lawful(b);
    ck_assert_uint_eq(b->got.batches, 1);
    ck_assert_int_eq(b->batch[0].trays, 3);
    ck_assert_int_eq(b->batch[0].seeds, 300);
    ck_assert_uint_eq(b->batch[0].lot, COT_LOT_BUY);
    ck_assert_int_eq(cot_dayset_next(&b->batch[0].days, 0), 7);
    ck_assert_int_eq(cot_dayset_last(&b->batch[0].days), 7);
    free(b);
}
END_TEST

/* The middle line may go with either: 60 and 40 fill a tray, 150 and 60 would take three. */
START_TEST(part_trays_are_filled)
{
    struct bed *b = bed(100);
    add_line(b, 0, 4, 150);
    add_line(b, 3, 12, 60);
    add_line(b, 11, 15, 40);
    ck_assert_int_eq(run(b, NULL), COT_OK);
    lawful(b);
    ck_assert_uint_eq(b->got.batches, 2);
    ck_assert_int_eq(b->got.fewest.count, 2);
    ck_assert_int_eq(b->batch[0].trays + b->batch[1].trays, 3);
    ck_assert_uint_eq(b->batch[1].parts, 2);
    free(b);
}
END_TEST

START_TEST(oldest_lot_first)
{
    struct bed *b = bed(100);
    add_line(b, 3, 9, 450);
    add_line(b, 30, 39, 300);
    b->lot[0] = (struct cot_group_lot){250, INT32_MAX}; /* two trays and a rest */
    b->lot[1] = (struct cot_group_lot){1000, 20};       /* use by day 20 */
    b->lot[2] = (struct cot_group_lot){30, INT32_MAX};  /* saves no tray */
    b->ask.lots = 3;
    ck_assert_int_eq(run(b, NULL), COT_OK);
    lawful(b);
    ck_assert_uint_eq(b->got.batches, 3);
    ck_assert_uint_eq(b->batch[0].lot, 0);
    ck_assert_int_eq(b->batch[0].plants, 200);
    ck_assert_uint_eq(b->batch[1].lot, 1);
    ck_assert_int_eq(b->batch[1].plants, 250);
    ck_assert_uint_eq(b->batch[2].lot, COT_LOT_BUY);
    ck_assert_int_eq(b->batch[2].seeds, 300);
    free(b);
}
END_TEST

START_TEST(limits_and_rows)
{
    struct bed *b = bed(100);
    add_line(b, 3, 9, 470);
    add_line(b, 50, 51, 35);
    add_line(b, 9, 8, 35); /* no day */
    b->ask.most_trays = 2;
    b->ask.rows = rows;
    ck_assert_int_eq(run(b, NULL), COT_OK);
    lawful(b);
    ck_assert_uint_eq(b->got.hopeless, 1);
    ck_assert_uint_eq(b->got.batches, 4);
    ck_assert_int_eq(b->batch[0].trays, 2);
    ck_assert_int_eq(b->batch[2].plants, 70);
    ck_assert_int_eq(b->batch[2].rows, 7);
    ck_assert_int_eq(b->batch[3].rows, 4);
    ck_assert_int_eq(b->batch[0].rows, 0);
    free(b);
}
END_TEST

START_TEST(refusals)
{
    struct bed *b = bed(100);
    struct cot_fault f = {0};
    add_line(b, 3, 9, 0);
    ck_assert_int_eq(run(b, &f), COT_INVALID);
    ck_assert_msg(strstr(f.msg, "line 1 wants 0"), "%s", f.msg);
    b->line[0].plants = 500;
    b->house.refuse = 400;
    ck_assert_int_eq(run(b, &f), COT_INVALID);
    ck_assert_msg(strstr(f.msg, "500 plants"), "%s", f.msg);
    b->house.refuse = 0;
    b->got.batch_room = 0;
    ck_assert_int_eq(run(b, &f), COT_TOO_LARGE);
    b->got.batch_room = 1;
    b->got.part_room = 0;
    ck_assert_int_eq(run(b, &f), COT_TOO_LARGE);
    b->got.part_room = 1;
    ck_assert_int_eq(run(b, &f), COT_OK);
    b->lot[0].seeds = -2;
    b->ask.lots = 1;
    ck_assert_int_eq(run(b, &f), COT_INVALID);
    b->ask.lots = COT_GROUP_LOTS + 1;
    ck_assert_int_eq(run(b, &f), COT_TOO_LARGE);
    free(b);
}
END_TEST

/* Fewest days against all sets of days, with holes; and everything lawful. */
START_TEST(random_houses)
{
    struct dice r = dice_new("random_houses");
    for (int round = 0; round < 600; round++) {
        struct bed *b = bed(dice_int(&r, 10, 200));
        int64_t n = dice_int(&r, 1, LINES);
        int best = 10;
        for (int64_t i = 0; i < n; i++) {
            int32_t from = (int32_t)dice_int(&r, 0, 9);
            add_line(b, from, from + (int32_t)dice_int(&r, 0, 5), dice_int(&r, 1, 400));
            b->line[i].days.word[0] &= dice_next(&r) & 1023; /* with holes */
        }
        b->ask.lots = (uint32_t)dice_int(&r, 0, LOTS);
        for (uint32_t i = 0; i < b->ask.lots; i++)
            b->lot[i] = (struct cot_group_lot){dice_int(&r, -1, 3000), (int32_t)dice_int(&r, -1, 12)};
        if (dice_int(&r, 0, 1)) b->ask.most_trays = dice_int(&r, 1, 5);
        enum cot_err err = run(b, NULL);
        if (err == COT_TOO_LARGE) { /* hundreds of batches of one tray */
            free(b);
            continue;
        }
        sure(err == COT_OK);
        lawful(b);
        for (uint64_t set = 0; set < 1024; set++) {
            bool all = __builtin_popcountll(set) < best;
            for (uint32_t i = 0; all && i < b->ask.lines; i++)
                all = !b->line[i].days.word[0] || (b->line[i].days.word[0] & set);
            if (all) best = __builtin_popcountll(set);
        }
        sure(b->got.fewest.proved && b->got.fewest.count == best);
        free(b);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/group");
    TCase *t = tcase_create("group");
    tcase_add_test(t, one_day_serves_all);
    tcase_add_test(t, part_trays_are_filled);
    tcase_add_test(t, oldest_lot_first);
    tcase_add_test(t, limits_and_rows);
    tcase_add_test(t, refusals);
    tcase_add_test(t, random_houses);
    suite_add_tcase(s, t);
    return s;
}
