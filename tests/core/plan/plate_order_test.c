/* Tests of server/core/plan/plate_order.c */
#include "cotyledger/core/plate.h"

#include <stdlib.h>
#include <string.h>

#include "../seed.h"

#define SOWINGS 14
#define PLATES 8

struct day {
    struct cot_dayset usable[SOWINGS];
    uint32_t sowings, order[SOWINGS];
    int32_t on_plate[SOWINGS];
    struct cot_plate_day got;
};

static void may(struct day *d, uint64_t plates)
{
    d->usable[d->sowings++].word[0] = plates;
}

static void put(struct day *d, int32_t on, const int64_t *cost)
{
    void *space = malloc(cot_plate_day_bytes(d->sowings));
    ck_assert_int_eq(
        cot_plate_order(d->usable, d->sowings, PLATES, on, cost, space, d->order, d->on_plate, &d->got, NULL), COT_OK);
    free(space);
}

START_TEST(by_hand)
{
    struct day d = {0};
    may(&d, 1 << 2 | 1 << 5);
    may(&d, 0); /* by hand */
    may(&d, 1 << 5);
    may(&d, 1 << 1 | 1 << 6); /* plate 1 is on */
    may(&d, 1 << 6);
    put(&d, 1, NULL);
    ck_assert_uint_eq(d.got.changes, 2); /* to 5 and to 6 */
    ck_assert(d.got.on_used && d.got.fewest.proved);
    const uint32_t order[] = {3, 0, 2, 4, 1};
    const int32_t plates[] = {5, -1, 5, 1, 6};
    ck_assert_mem_eq(d.order, order, sizeof order);
    ck_assert_mem_eq(d.on_plate, plates, sizeof plates);
    ck_assert_int_eq(d.got.last, 6);
    int64_t cost[SOWINGS * PLATES] = {0};
    cost[3 * PLATES + 1] = 40; /* with plate 6, which is on that day anyway, the fourth would do better */
    put(&d, 1, cost);
    ck_assert_int_eq(d.on_plate[3], 6);
    ck_assert(!d.got.on_used && d.got.changes == 2);
}
END_TEST

START_TEST(nothing_to_change)
{
    struct day d = {0};
    put(&d, 3, NULL);
    ck_assert(d.got.changes == 0 && d.got.last == 3 && !d.got.on_used);
    may(&d, 0);
    put(&d, -1, NULL);
    ck_assert(d.got.changes == 0 && d.got.last == -1 && d.order[0] == 0);
    may(&d, 1 << 3);
    put(&d, 3, NULL);
    ck_assert(d.got.changes == 0 && d.got.last == 3 && d.got.on_used && d.order[0] == 1);
    put(&d, -1, NULL);
    ck_assert(d.got.changes == 1 && d.got.last == 3);
}
END_TEST

/* Fewest changes among all sets of plates; the order is walked and its changes are counted. */
START_TEST(against_all_sets)
{
    struct dice r = dice_new("against_all_sets");
    for (int round = 0; round < 1500; round++) {
        struct day d = {0};
        int64_t cost[SOWINGS * PLATES];
        int32_t on = (int32_t)dice_int(&r, -1, PLATES - 1), is_on = on;
        uint32_t fewest = PLATES, changes = 0, seen = 0;
        for (int64_t n = dice_int(&r, 0, SOWINGS); n > 0; n--) may(&d, dice_next(&r) & dice_next(&r) & 255);
        for (int i = 0; i < SOWINGS * PLATES; i++) cost[i] = dice_int(&r, 0, 9);
        put(&d, on, dice_int(&r, 0, 1) ? cost : NULL);
        for (uint64_t set = 0; set < 256; set++) {
            uint64_t all = set | (on >= 0 ? UINT64_C(1) << on : 0);
            uint32_t n = (uint32_t)__builtin_popcountll(all) - (on >= 0);
            bool good = n < fewest;
            for (uint32_t i = 0; good && i < d.sowings; i++) good = !d.usable[i].word[0] || (d.usable[i].word[0] & all);
            if (good) fewest = n;
        }
        for (uint32_t i = 0; i < d.sowings; i++) {
            uint32_t s = d.order[i];
            sure(s < d.sowings && !(seen >> s & 1));
            seen |= 1u << s;
            sure(d.on_plate[s] < 0 ? cot_dayset_empty(&d.usable[s]) : cot_dayset_have(&d.usable[s], d.on_plate[s]));
            if (d.on_plate[s] >= 0 && d.on_plate[s] != is_on) changes++, is_on = d.on_plate[s];
        }
        sure(changes == fewest && d.got.changes == fewest && d.got.last == is_on && d.got.fewest.proved);
    }
}
END_TEST

START_TEST(a_season)
{
    struct cot_dayset usable[6] = {0};
    struct cot_plate_share share[PLATES];
    struct cot_hit h;
    uint32_t without;
    void *space = malloc(cot_plate_season_bytes(6));
    usable[0].word[0] = 1 << 0 | 1 << 1;
    usable[1].word[0] = 1 << 1;
    usable[2].word[0] = 1 << 1 | 1 << 2;
    usable[3].word[0] = 1 << 2 | 1 << 3;
    usable[4].word[0] = 1 << 3 | 1 << 2;
    ck_assert_int_eq(cot_plate_season(usable, 6, PLATES, space, share, &without, &h, NULL), COT_OK);
    ck_assert_int_eq(h.count, 2);
    ck_assert(h.proved && without == 1 && cot_dayset_have(&h.chosen, 1));
    ck_assert(share[1].could == 3 && share[1].alone >= 2);
    ck_assert_uint_eq(share[1].serves + share[2].serves + share[3].serves, 5);
    ck_assert(share[0].could == 1 && share[0].serves == 0);
    free(space);
}
END_TEST

/* Forty plates and a season of sowings of a few tray formats: each sowing may use those plates of its format whose
 * holes suit. Proved; and every plate of the set is needed. */
START_TEST(forty_plates)
{
    struct dice r = dice_new("forty_plates");
    struct cot_dayset *usable = malloc(3000 * sizeof *usable);
    void *space = malloc(cot_plate_season_bytes(3000));
    for (int round = 0; round < 10; round++) {
        struct cot_plate_share share[40];
        struct cot_hit h;
        uint32_t without, serves = 0;
        for (int i = 0; i < 3000; i++) {
            int32_t format = (int32_t)dice_int(&r, 0, 4), hole = (int32_t)dice_int(&r, 0, 7);
            usable[i] = (struct cot_dayset){0};
            for (int32_t p = format * 8; p < format * 8 + 8; p++)
                if (abs(p % 8 - hole) <= (int)dice_int(&r, 0, 2)) cot_dayset_add(&usable[i], p);
        }
        ck_assert_int_eq(cot_plate_season(usable, 3000, 40, space, share, &without, &h, NULL), COT_OK);
        sure(h.proved);
        for (int p = 0; p < 40; p++) {
            serves += share[p].serves;
            sure(share[p].serves <= share[p].could && share[p].alone <= share[p].serves);
            sure((share[p].alone > 0) == cot_dayset_have(&h.chosen, p));
        }
        sure(serves + without == 3000);
    }
    free(usable);
    free(space);
}
END_TEST

/* Forty plates, two hundred sowings, no pattern at all. */
START_TEST(forty_plates_at_random)
{
    struct dice r = dice_new("forty_plates_at_random");
    struct cot_dayset usable[200] = {0};
    struct cot_plate_share share[40];
    struct cot_hit h;
    uint32_t without;
    void *space = malloc(cot_plate_season_bytes(200));
    for (int i = 0; i < 200; i++)
        for (int k = 0; k < 5; k++) cot_dayset_add(&usable[i], (int32_t)dice_int(&r, 0, 39));
    ck_assert_int_eq(cot_plate_season(usable, 200, 40, space, share, &without, &h, NULL), COT_OK);
    ck_assert(h.proved && without == 0);
    for (int p = 0; p < 40; p++) sure((share[p].alone > 0) == cot_dayset_have(&h.chosen, p));
    free(space);
}
END_TEST

START_TEST(refusals)
{
    struct cot_dayset usable[1] = {0};
    struct cot_plate_share share[3];
    struct cot_plate_day day;
    struct cot_hit h;
    struct cot_fault f = {0};
    uint32_t without, order[1];
    int32_t plate[1];
    void *space = malloc(cot_plate_day_bytes(1));
    ck_assert_int_eq(cot_plate_order(usable, 1, 3, 3, NULL, space, order, plate, &day, &f), COT_INVALID);
    ck_assert_msg(strstr(f.msg, "on is not there"), "%s", f.msg);
    ck_assert_int_eq(cot_plate_order(usable, 1, COT_PLAN_DAYS + 1, -1, NULL, space, order, plate, &day, &f),
                     COT_INVALID);
    ck_assert_int_eq(cot_plate_order(usable, COT_HIT_ROWS + 1, 3, -1, NULL, space, order, plate, &day, &f),
                     COT_INVALID);
    cot_dayset_add(&usable[0], 3);
    ck_assert_int_eq(cot_plate_order(usable, 1, 3, -1, NULL, space, order, plate, &day, &f), COT_INVALID);
    ck_assert_int_eq(cot_plate_season(usable, 1, 3, space, share, &without, &h, &f), COT_INVALID);
    ck_assert_msg(strstr(f.msg, "sowing 1"), "%s", f.msg);
    free(space);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/plate_order");
    TCase *t = tcase_create("plates");
    tcase_add_test(t, by_hand);
    tcase_add_test(t, nothing_to_change);
    tcase_add_test(t, against_all_sets);
    tcase_add_test(t, a_season);
    tcase_add_test(t, forty_plates);
    tcase_add_test(t, forty_plates_at_random);
    tcase_add_test(t, refusals);
    suite_add_tcase(s, t);
    return s;
}
