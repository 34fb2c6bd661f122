/* server/core/house/unit.c: factors against NIST Special Publication 811 (Thompson and Taylor 2008), appendix B.8, and
 * both ways without loss. */
#include "../seed.h"
#include "../season.h"
#include "cotyledger/core/unit.h"

/* One cubic inch is 2.54^3 cm3; a gallon 231 of them; an avoirdupois ounce a sixteenth of 453.592 37 g. */
START_TEST(factors)
{
    const struct cot_unit *in = cot_unit_us("um"), *cuin = cot_unit_us("uL"), *oz = cot_unit_us("mg"),
                          *gal = cot_unit_us("L");
    ck_assert_int_eq(in->num, 25400 * in->den);
    ck_assert_int_eq(cuin->num * 1000, (int64_t)254 * 254 * 254 * cuin->den);
    ck_assert_int_eq(gal->num * 1000000 * cuin->den, 231 * cuin->num * gal->den);
    ck_assert_int_eq(oz->num * 16 * 100, INT64_C(45359237) * oz->den);
    ck_assert(!cot_unit_us("plants") && !cot_unit_us("trays") && !cot_unit_us(""));
}
END_TEST

/* Published equivalents, as printed there: 1 in = 25.4 mm, 1 gal = 3.785 L, 1 oz = 28.350 g, 1.53 cu in (a cell of 128)
 * = 25.07 mL. */
START_TEST(equivalents)
{
    ck_assert_int_eq(cot_unit_shown(cot_unit_us("um"), 25400), 1000);
    ck_assert_int_eq(cot_unit_shown(cot_unit_us("um"), 794), 31); /* 1/32 in */
    ck_assert_int_eq(cot_unit_shown(cot_unit_us("uL"), 25072), 153);
    ck_assert_int_eq(cot_unit_shown(cot_unit_us("mg"), 28350), 1000);
    ck_assert_int_eq(cot_unit_shown(cot_unit_us("L"), 1000), 264);
    ck_assert_int_eq(cot_unit_back(cot_unit_us("um"), 1000), 25400);
    ck_assert_int_eq(cot_unit_back(cot_unit_us("uL"), 100), 16387);
    ck_assert_int_eq(cot_unit_back(cot_unit_us("mg"), 16000), 453592);
    ck_assert_int_eq(cot_unit_back(cot_unit_us("L"), 55), 208);
    ck_assert_int_eq(cot_unit_back(cot_unit_us("L"), 0), 0);
}
END_TEST

/* What was written with the decimals shown comes back as it was written; what is metric moves by less than half of the
 * last decimal. */
START_TEST(both_ways)
{
    static const char *const of[] = {"uL", "um", "mg", "L"};
    struct dice d = dice_new("both_ways");
    for (int i = 0; i < 40000; i++) {
        const struct cot_unit *u = cot_unit_us(of[i % 4]);
        int64_t shown = dice_int(&d, 0, i % 3 ? 5000 : 50000000), metric = dice_int(&d, 0, 1000000000);
        sure(cot_unit_shown(u, cot_unit_back(u, shown)) == shown);
        int64_t back = cot_unit_back(u, cot_unit_shown(u, metric)), off = back > metric ? back - metric : metric - back;
        int64_t by = 1;
        for (int k = 0; k < u->places; k++) by *= 10;
        sure(2 * off * by <= u->num / u->den + by + 1);
    }
}
END_TEST

START_TEST(the_house_chooses)
{
    struct season s;
    season_new(&s, 1);
    struct cot_book *b = season_book(&s, NULL);
    ck_assert(!cot_units_us(NULL) && !cot_units_us(b));
    cot_book_free(b);
    make(&s, COT_K_RULE);
    say(&s, COT_F_UNITS, COT_UNITS_US);
    season_put(&s, true, true);
    b = season_book(&s, NULL);
    ck_assert(cot_units_us(b));
    cot_book_free(b);
    season_free(&s);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/house/unit");
    TCase *c = tcase_create("unit");
    tcase_add_test(c, factors);
    tcase_add_test(c, equivalents);
    tcase_add_test(c, both_ways);
    tcase_add_test(c, the_house_chooses);
    suite_add_tcase(s, c);
    return s;
}
