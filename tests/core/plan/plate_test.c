/* Tests of server/core/plan/plate.c */
#include "cotyledger/core/plate.h"

#include "../seed.h"

static enum cot_plate_fit fit(int64_t cells, const char *pattern, int64_t rows, int64_t cols, const char *of,
                              int64_t drops)
{
    struct cot_plate p = {.cells = cells, .holes = 1, .pattern = pattern, .misses = -1, .twos = -1};
    struct cot_plate_format f = {rows, cols, of};
    int64_t got = -1;
    enum cot_plate_fit x = cot_plate_fits(&p, &f, &got);
    ck_assert_int_eq(got, drops);
    return x;
}

START_TEST(cells_and_pattern)
{
    ck_assert_int_eq(fit(128, "square", 8, 16, "square", 1), COT_PLATE_FITS);
    ck_assert_int_eq(fit(64, "square", 8, 16, "square", 2), COT_PLATE_FITS);
    ck_assert_int_eq(fit(16, "square", 8, 16, "square", 8), COT_PLATE_FITS);
    ck_assert_int_eq(fit(128, "square", 8, 16, "offset", 1), COT_PLATE_OTHER_PATTERN);
    ck_assert_int_eq(fit(128, NULL, 8, 16, "offset", 1), COT_PLATE_PATTERN_UNKNOWN);
    ck_assert_int_eq(fit(128, "square", 8, 16, "", 1), COT_PLATE_PATTERN_UNKNOWN);
    ck_assert_int_eq(fit(256, "square", 8, 16, "square", 0), COT_PLATE_OTHER_CELLS);
    ck_assert_int_eq(fit(100, "square", 8, 16, "square", 0), COT_PLATE_OTHER_CELLS);
    ck_assert_int_eq(fit(0, "square", 8, 16, "square", 0), COT_PLATE_OTHER_CELLS);
    ck_assert_int_eq(fit(1, "square", 0, 16, "square", 0), COT_PLATE_OTHER_CELLS);
    ck_assert_int_eq(fit(1, "square", INT64_MAX, INT64_MAX, "square", 0), COT_PLATE_OTHER_CELLS);
}
END_TEST

/* A ball of 1.1 g/cm3: 300 in a gram weigh 3.333 mg, 3.030 mm3, so 1.796 mm; 1000 in a gram 1.202 mm. */
START_TEST(size_of_seed)
{
    ck_assert_int_eq(cot_seed_um(300), 1795);
    ck_assert_int_eq(cot_seed_um(1000), 1201);
    ck_assert_int_eq(cot_seed_um(0), 0);
    ck_assert_int_eq(cot_seed_um(100001), 0);
    for (int64_t n = 1; n < 100000; n += 7) sure(cot_seed_um(n) >= cot_seed_um(n + 7) && cot_seed_um(n) > 200);
    struct cot_hole_range r = cot_hole_range(1000, COT_SEED_RAW, COT_SHAPE_ROUND);
    ck_assert_int_eq(r.low, 361); /* 0.3 x 1.201 mm */
    ck_assert_int_eq(r.high, 720);
    r = cot_hole_range(1000, COT_SEED_RAW, COT_SHAPE_UNKNOWN);
    struct cot_hole_range flat = cot_hole_range(1000, COT_SEED_RAW, COT_SHAPE_FLAT);
    ck_assert(r.low == flat.low && r.high == flat.high);
    r = cot_hole_range(INT64_MIN, (enum cot_seed_form)77, (enum cot_seed_shape)77);
    ck_assert(r.low == 0 && r.high == 0);
}
END_TEST

START_TEST(best_first)
{
    const struct cot_plate plate[] = {
        {128, 1, 1500, "square", -1, -1}, /* hole too large: 1500 over 720, 64 hundredths of 1201 */
        {128, 1, 500, "square", -1, -1},  /* suits */
        {64, 1, 500, "square", -1, -1},   /* suits, two drops */
        {128, 1, 500, "square", 5, 4},    /* counted by the house */
        {128, 1, 500, NULL, 0, 0},        /* pattern not known */
        {128, 2, 500, "square", 0, 0},    /* two seeds */
        {128, 1, 500, "offset", 0, 0},    /* another tray */
        {128, 1, 250, "square", 5, 4},    /* counted, but with other seed: 111 too small, 9 hundredths */
        {128, 1, 0, "square", -1, -1},    /* hole not known */
    };
    struct cot_plate_wish w = {{8, 16, "square"}, 1, 1000, COT_SEED_RAW, COT_SHAPE_ROUND};
    struct cot_plate_offer o[9], few[3];
    struct cot_singling usual = cot_singling_usual(COT_SEED_RAW, COT_SHAPE_ROUND);
    ck_assert_uint_eq(cot_plate_offers(plate, 9, &w, o, 9), 7);
    ck_assert_uint_eq(o[0].plate, 3);
    ck_assert(!o[0].guessed && o[0].misses == 5 && o[0].twos == 4);
    uint32_t place[9] = {99, 99, 99, 99, 99, 99, 99, 99, 99};
    for (uint32_t i = 0; i < 7; i++) place[o[i].plate] = i;
    ck_assert_uint_eq(place[4], 6); /* not sure to fit: last, though it misses none */
    ck_assert_uint_lt(place[1], place[8]);
    ck_assert_uint_lt(place[8], place[2]);
    ck_assert_uint_eq(place[0], 5);
    const struct cot_plate_offer *large = &o[place[0]], *small = &o[place[7]];
    ck_assert(large->guessed && large->hole_off_um == 780 && large->misses == usual.misses);
    ck_assert_int_eq(large->twos, usual.twos + 5 * 100 * 780 / 1201);
    ck_assert(small->guessed && small->hole_off_um == -111 && small->twos == 4);
    ck_assert_int_eq(small->misses, 5 + 5 * 100 * 111 / 1201);
    ck_assert_uint_eq(cot_plate_offers(plate, 9, &w, few, 3), 7);
    for (int i = 0; i < 3; i++) ck_assert_uint_eq(few[i].plate, o[i].plate);
    ck_assert_uint_eq(cot_plate_offers(plate, 9, &w, NULL, 0), 7);
}
END_TEST

START_TEST(never_more_than_all)
{
    struct dice d = dice_new("never_more_than_all");
    for (int i = 0; i < 3000; i++) {
        struct cot_plate p = {128, 1, dice_int(&d, 0, 30000), "x", dice_int(&d, -1, 500), dice_int(&d, -1, 500)};
        struct cot_plate_wish w = {{8, 16, "x"},
                                   1,
                                   dice_int(&d, 0, 100000),
                                   (enum cot_seed_form)dice_int(&d, 0, 4),
                                   (enum cot_seed_shape)dice_int(&d, -1, 3)};
        struct cot_plate_offer o;
        sure(cot_plate_offers(&p, 1, &w, &o, 1) == 1);
        sure(o.misses >= 0 && o.twos >= 0 && o.misses + o.twos <= 1000);
        if (p.misses >= 0 && p.twos >= 0) sure(o.misses >= p.misses && o.twos >= p.twos);
        sure(o.guessed || (o.misses == p.misses && o.twos == p.twos));
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/plate");
    TCase *t = tcase_create("plate");
    tcase_add_test(t, cells_and_pattern);
    tcase_add_test(t, size_of_seed);
    tcase_add_test(t, best_first);
    tcase_add_test(t, never_more_than_all);
    suite_add_tcase(s, t);
    return s;
}
