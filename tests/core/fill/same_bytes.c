/* Prints the figures of COT_SAME_BYTES random seasons' fills as one number: the same from every compiler, at every
 * level of optimisation. Run by same_bytes.sh. */
#include "random_season.h"

START_TEST(figures)
{
    struct dice d = {42};
    uint64_t h = 0;
    const char *given = getenv("COT_SAME_BYTES");
    long rounds = given ? atol(given) : 10;
    for (long round = 0; round < rounds; round++) {
        random_season(&d, UINT64_C(0x5eed0000) + (uint64_t)round * 7919);
        book = season_book(&s, NULL);
        ck_assert_int_eq(cot_fill_read(book, READY, &fill), COT_OK);
        h = mix(h, (int64_t)fingerprint(&fill));
    }
    printf("%ld seasons: %016llx\n", rounds, (unsigned long long)h);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/fill_same_bytes");
    TCase *c = tcase_create("figures");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, figures);
    suite_add_tcase(suite, c);
    return suite;
}
