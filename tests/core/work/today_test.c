/* server/core/work/today.c: jobs come on their day, come along when they are late, and go when they are recorded. */
#include "cotyledger/core/today.h"
#include "../season.h"
#include "../seed.h"
#include "cotyledger/core/place.h"

#define MONDAY 20906 /* 2027-03-29 */

static struct season s;
static struct cot_book *book;
static struct cot_today list;
static struct cot_id crop, variety, format, farm, lot;

static void add_place(const char *text, enum cot_place_sort sort)
{
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_SORT, sort);
    say(&s, COT_F_SPOTS, 100);
    done(&s);
}

static void setup(void)
{
    season_new(&s, 1);
    start_crop(&s, "Lettuce", 28, 42);
    say(&s, COT_F_CHAMBER_DAYS, 3);
    say(&s, COT_F_COUNT_DAYS, 10);
    say(&s, COT_F_HARDEN_DAYS, 7);
    crop = *done(&s);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "128", 8, 16);
    farm = add_named(&s, COT_K_FARM, "Alder Ford");
    start_lot(&s, "RH-1", &variety, 372);
    say(&s, COT_F_TREATED, 1);
    lot = *done(&s);
    add_place("bench 1", COT_PLACE_BENCH);
    add_place("frame 1", COT_PLACE_FRAME);
    book = NULL;
    list = (struct cot_today){0};
}

static void teardown(void)
{
    cot_today_free(&list);
    cot_book_free(book);
    season_free(&s);
}

static void read_list(int32_t from, int32_t to)
{
    cot_today_free(&list);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_today_read(book, from, to, &list, NULL), COT_OK);
}

static const struct cot_today_job *job(enum cot_today_sort sort)
{
    const struct cot_today_job *found = NULL;
    for (size_t i = 0; i < list.jobs; i++)
        if (list.job[i].sort == sort) found = &list.job[i];
    return found;
}

static struct cot_id plan_sowing(int trays, int32_t day)
{
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAYS, trays);
    say(&s, COT_F_SOW_DAY, day);
    return *done(&s);
}

START_TEST(a_planned_sowing)
{
    struct cot_id planned = plan_sowing(6, MONDAY);
    read_list(MONDAY - 1, MONDAY - 1);
    ck_assert_uint_eq(list.jobs, 0);
    read_list(MONDAY, MONDAY);
    ck_assert_uint_eq(list.jobs, 2);
    ck_assert(list.job[0].sort == COT_TODAY_TRAYS && list.job[0].trays == 6);
    ck_assert(list.job[1].sort == COT_TODAY_SOW && list.job[1].trays == 6 && list.job[1].treated);
    ck_assert_int_eq(list.job[1].late, 0);
    read_list(MONDAY + 2, MONDAY + 6);
    ck_assert_int_eq(job(COT_TODAY_SOW)->late, 2);
    read_list(MONDAY + COT_TODAY_LATE + 1, MONDAY + COT_TODAY_LATE + 1);
    ck_assert_uint_eq(list.jobs, 0);
    start_sown(&s, &lot, &format, 6, MONDAY);
    point(&s, COT_F_PLANNED, &planned);
    done(&s);
    read_list(MONDAY, MONDAY);
    ck_assert_ptr_null(job(COT_TODAY_SOW));
}
END_TEST

/* Three days in the chamber, a count on the tenth day, out to harden a week before the 28th. */
START_TEST(a_batch_through_its_days)
{
    start_sown(&s, &lot, &format, 6, MONDAY);
    name(&s, COT_F_BENCH, "bench 1");
    struct cot_id batch = *done(&s);
    read_list(MONDAY + 3, MONDAY + 3);
    ck_assert_str_eq(job(COT_TODAY_UP)->bench, "bench 1");
    ck_assert_ptr_null(job(COT_TODAY_COUNT));
    static const int32_t some[] = {1, 2};
    make(&s, COT_K_MOVED);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 3);
    name(&s, COT_F_BENCH, "bench 1");
    ck_assert(cot_fact_set_numbers(&s.next, COT_F_WHICH, some, 2));
    done(&s);
    read_list(MONDAY + 4, MONDAY + 4);
    ck_assert_ptr_nonnull(job(COT_TODAY_UP)); /* the other four trays */
    make(&s, COT_K_MOVED);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 4);
    name(&s, COT_F_BENCH, "bench 1");
    done(&s);
    read_list(MONDAY + 10, MONDAY + 10);
    ck_assert_ptr_null(job(COT_TODAY_UP));
    const struct cot_today_job *count = job(COT_TODAY_COUNT);
    ck_assert(count && count->which_count == 3 && count->which[0] >= 1 && count->which[2] <= 6);
    read_list(MONDAY + 20, MONDAY + 22);
    ck_assert_int_eq(job(COT_TODAY_HARDEN)->day, MONDAY + 21);
    ck_assert_str_eq(job(COT_TODAY_HARDEN)->bench, "frame 1");
    make(&s, COT_K_MOVED);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 21);
    name(&s, COT_F_BENCH, "frame 1");
    done(&s);
    read_list(MONDAY + 20, MONDAY + 22);
    ck_assert_ptr_null(job(COT_TODAY_HARDEN));
}
END_TEST

/* Trays that were thrown out are not drawn; what is left of a part sowing stays on the list; two sowings in a shared
 * tray want one. */
START_TEST(what_is_left)
{
    start_sown(&s, &lot, &format, 6, MONDAY);
    struct cot_id batch = *done(&s);
    static const int32_t lost[] = {1, 2, 4};
    make(&s, COT_K_LOST);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 5);
    ck_assert(cot_fact_set_numbers(&s.next, COT_F_WHICH, lost, 3));
    name(&s, COT_F_WHY, "mice");
    done(&s);
    read_list(MONDAY + 10, MONDAY + 10);
    const struct cot_today_job *count = job(COT_TODAY_COUNT);
    ck_assert(count && count->which_count == 3);
    ck_assert(count->which[0] == 3 && count->which[1] == 5 && count->which[2] == 6);
    struct cot_id planned = plan_sowing(6, MONDAY + 20);
    start_sown(&s, &lot, &format, 2, MONDAY + 20);
    point(&s, COT_F_PLANNED, &planned);
    done(&s);
    read_list(MONDAY + 20, MONDAY + 20);
    ck_assert_int_eq(job(COT_TODAY_SOW)->trays, 4);
    for (int i = 0; i < 2; i++) {
        make(&s, COT_K_PLANNED);
        new_code(&s);
        point(&s, COT_F_LOT, &lot);
        point(&s, COT_F_FORMAT, &format);
        say(&s, COT_F_TRAY_ROWS, 3);
        name(&s, COT_F_SHARED, "mixed");
        say(&s, COT_F_SOW_DAY, MONDAY + 40);
        done(&s);
    }
    read_list(MONDAY + 40, MONDAY + 40);
    ck_assert_int_eq(job(COT_TODAY_TRAYS)->trays, 4 + 1);
}
END_TEST

START_TEST(a_line_is_pulled)
{
    start_sown(&s, &lot, &format, 6, MONDAY);
    done(&s);
    start_line(&s, &farm, &variety, 200, MONDAY + 30);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 200);
    read_list(MONDAY + 30, MONDAY + 30);
    const struct cot_today_job *pull = job(COT_TODAY_PULL);
    ck_assert(pull && pull->plants == 200 && pull->trays == 2 && pull->late == 0);
    struct cot_id batch = pull->batch->id;
    hand_over(&s, &line, &farm, &batch, 200, MONDAY + 30);
    read_list(MONDAY + 30, MONDAY + 30);
    ck_assert_ptr_null(job(COT_TODAY_PULL));
}
END_TEST

/* Tray `tray` of a batch counted on the day: so many blanks and doubles of its 128 cells, the others usable. */
static void count_tray(const struct cot_id *batch, int32_t day, int32_t tray, int32_t blanks, int32_t doubles)
{
    static struct cot_tray_count kept[20];
    static int used;
    struct cot_tray_count *c = &kept[used++ % 20];
    *c = (struct cot_tray_count){tray, 128, 128 - blanks, blanks, 0, doubles};
    make(&s, COT_K_COUNT);
    about(&s, batch);
    say(&s, COT_F_DAY, day);
    ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, c, 1));
    done(&s);
}

/* Doubles fill blanks, and the rest is thinned; what was thinned is on no list, nor is a cell that may hold several. */
START_TEST(blanks_and_doubles)
{
    start_sown(&s, &lot, &format, 6, MONDAY);
    struct cot_id batch = *done(&s);
    count_tray(&batch, MONDAY + 10, 2, 6, 20);
    read_list(MONDAY + 11, MONDAY + 11);
    ck_assert(job(COT_TODAY_PATCH) && job(COT_TODAY_PATCH)->plants == 6);
    ck_assert(job(COT_TODAY_THIN) && job(COT_TODAY_THIN)->plants == 14);
    make(&s, COT_K_PATCHED);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 11);
    say(&s, COT_F_PLANTS, 6);
    done(&s);
    read_list(MONDAY + 11, MONDAY + 11);
    ck_assert_ptr_null(job(COT_TODAY_PATCH));
    ck_assert_int_eq(job(COT_TODAY_THIN)->plants, 14);
    make(&s, COT_K_THINNED);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 11);
    say(&s, COT_F_PLANTS, 14);
    done(&s);
    read_list(MONDAY + 11, MONDAY + 11);
    ck_assert_ptr_null(job(COT_TODAY_THIN));
    start_sown(&s, &lot, &format, 6, MONDAY);
    say(&s, COT_F_PER_CELL, 4);
    say(&s, COT_F_AT_LEAST, 2);
    batch = *done(&s);
    count_tray(&batch, MONDAY + 10, 2, 0, 40);
    read_list(MONDAY + 11, MONDAY + 11);
    ck_assert_ptr_null(job(COT_TODAY_THIN));
}
END_TEST

/* A day off is nobody's: the tenth day of a batch sown on a Thursday is a Sunday, the list has the count on Monday. */
START_TEST(not_on_a_day_off)
{
    start_sown(&s, &lot, &format, 6, MONDAY + 3);
    done(&s);
    read_list(MONDAY + 13, MONDAY + 13);
    ck_assert_ptr_null(job(COT_TODAY_COUNT));
    read_list(MONDAY + 14, MONDAY + 14);
    ck_assert(job(COT_TODAY_COUNT) && job(COT_TODAY_COUNT)->late == 0);
}
END_TEST

/* An early count is made again on the crop's day, among all trays; a line in doubt wants other trays than those seen.
 */
START_TEST(counted_again)
{
    start_sown(&s, &lot, &format, 6, MONDAY);
    struct cot_id batch = *done(&s);
    count_tray(&batch, MONDAY + 7, 2, 60, 0);
    read_list(MONDAY + 10, MONDAY + 10);
    ck_assert(job(COT_TODAY_COUNT) && job(COT_TODAY_COUNT)->again);
    start_line(&s, &farm, &variety, 640, MONDAY + 30);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 640);
    count_tray(&batch, MONDAY + 10, 1, 20, 0);
    count_tray(&batch, MONDAY + 10, 2, 22, 0);
    read_list(MONDAY + 11, MONDAY + 11);
    const struct cot_today_job *count = job(COT_TODAY_COUNT);
    ck_assert(count && count->again && count->which_count >= 1 && count->which_count <= 4);
    for (int32_t i = 0; i < count->which_count; i++) ck_assert_int_ge(count->which[i], 3);
    for (int32_t tray = 3; tray <= 6; tray++) count_tray(&batch, MONDAY + 11, tray, 20, 0);
    read_list(MONDAY + 14, MONDAY + 14);
    ck_assert_ptr_null(job(COT_TODAY_COUNT)); /* all were */
}
END_TEST

/* Rows of a shared tray are counted too, all of them, once. */
START_TEST(rows_are_counted)
{
    make(&s, COT_K_SOWN);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAY_ROWS, 3);
    name(&s, COT_F_SHARED, "mixed");
    say(&s, COT_F_DAY, MONDAY);
    done(&s);
    read_list(MONDAY + 10, MONDAY + 10);
    ck_assert(job(COT_TODAY_COUNT) && job(COT_TODAY_COUNT)->rows == 3 && job(COT_TODAY_COUNT)->which_count == 0);
}
END_TEST

/* Frames: the one the plan names; else the smallest with room for all, and no two batches for one spot; none that is
 * not open until they are ready. */
START_TEST(a_frame_with_room)
{
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, "small frame");
    say(&s, COT_F_SORT, COT_PLACE_FRAME);
    say(&s, COT_F_SPOTS, 10);
    done(&s);
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, "closed frame");
    say(&s, COT_F_SORT, COT_PLACE_FRAME);
    say(&s, COT_F_SPOTS, 8);
    say(&s, COT_F_UNTIL, MONDAY + 22);
    done(&s);
    start_sown(&s, &lot, &format, 6, MONDAY);
    done(&s);
    start_sown(&s, &lot, &format, 7, MONDAY);
    done(&s);
    read_list(MONDAY + 21, MONDAY + 21);
    int small = 0, large = 0;
    for (size_t i = 0; i < list.jobs; i++) {
        if (list.job[i].sort != COT_TODAY_HARDEN) continue;
        small += strcmp(list.job[i].bench, "small frame") == 0;
        large += strcmp(list.job[i].bench, "frame 1") == 0;
    }
    ck_assert(small == 1 && large == 1);
    struct cot_id planned = plan_sowing(6, MONDAY + 30);
    make(&s, COT_K_PLANNED);
    about(&s, &planned);
    name(&s, COT_F_FRAME, "frame 1");
    done(&s);
    start_sown(&s, &lot, &format, 6, MONDAY + 30);
    point(&s, COT_F_PLANNED, &planned);
    done(&s);
    read_list(MONDAY + 51, MONDAY + 51);
    ck_assert_str_eq(job(COT_TODAY_HARDEN)->bench, "frame 1");
}
END_TEST

/* Half of a batch potted on leaves half of it on the list; the last few that were left over are nobody's work. */
START_TEST(potted_on_in_part)
{
    struct cot_id larger = add_format(&s, "72", 6, 12);
    make(&s, COT_K_RAISING);
    name(&s, COT_F_NAME, "potted on");
    point(&s, COT_F_CROP, &crop);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAY_DAYS, 42);
    say(&s, COT_F_POT_DAYS, 21);
    point(&s, COT_F_POT_FORMAT, &larger);
    done(&s);
    start_sown(&s, &lot, &format, 6, MONDAY);
    struct cot_id batch = *done(&s);
    read_list(MONDAY + 21, MONDAY + 21);
    ck_assert_ptr_nonnull(job(COT_TODAY_POT_ON));
    int64_t all = job(COT_TODAY_POT_ON)->plants;
    for (int half = 0; half < 2; half++) {
        make(&s, COT_K_POTTED);
        new_code(&s);
        point(&s, COT_F_BATCH, &batch);
        point(&s, COT_F_FORMAT, &larger);
        say(&s, COT_F_TRAYS, 5);
        say(&s, COT_F_PLANTS, half == 0 ? 360 : all - 360 - 20);
        say(&s, COT_F_DAY, MONDAY + 21);
        done(&s);
        read_list(MONDAY + 22, MONDAY + 22);
        ck_assert(half == 1 || (job(COT_TODAY_POT_ON) && job(COT_TODAY_POT_ON)->plants <= all - 360));
    }
    ck_assert_ptr_null(job(COT_TODAY_POT_ON));
}
END_TEST

/* Every set of three of six trays comes about as often as another: 20 sets, 20,000 draws, chi-square of 19 degrees of
 * freedom below its 0.9999 point, 50.8 (Abramowitz and Stegun 1964, table 26.8; from memory). */
START_TEST(drawn_evenly)
{
    struct dice d = dice_new("drawn_evenly");
    int seen[64] = {0}, sets = 0;
    double chi = 0;
    for (int i = 0; i < 20000; i++) {
        struct cot_id id;
        int32_t which[COT_TODAY_WHICH], again[COT_TODAY_WHICH];
        for (size_t k = 0; k < sizeof id.b; k++) id.b[k] = (uint8_t)dice_next(&d);
        sure(cot_today_draw(&id, 6, 3, which) == 3 && cot_today_draw(&id, 6, 3, again) == 3);
        sure(memcmp(which, again, 3 * sizeof *which) == 0);
        sure(which[0] >= 1 && which[0] < which[1] && which[1] < which[2] && which[2] <= 6);
        seen[(1 << (which[0] - 1) | 1 << (which[1] - 1) | 1 << (which[2] - 1))]++;
    }
    for (int i = 0; i < 64; i++) {
        if (__builtin_popcount((unsigned)i) != 3) continue;
        chi += (seen[i] - 1000.0) * (seen[i] - 1000.0) / 1000;
        sets++;
    }
    ck_assert_int_eq(sets, 20);
    ck_assert_msg(chi < 50.8, "chi-square %g", chi);
}
END_TEST

START_TEST(draws_at_the_edge)
{
    struct cot_id id = {{1, 2, 3}};
    int32_t which[COT_TODAY_WHICH];
    ck_assert_int_eq(cot_today_draw(&id, 2, 5, which), 2);
    ck_assert(which[0] == 1 && which[1] == 2);
    ck_assert_int_eq(cot_today_draw(&id, 0, 5, which), 0);
    ck_assert_int_eq(cot_today_draw(&id, 500, 400, which), COT_TODAY_WHICH);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/work/today");
    TCase *c = tcase_create("today");
    tcase_set_timeout(c, 60);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, a_planned_sowing);
    tcase_add_test(c, a_batch_through_its_days);
    tcase_add_test(c, what_is_left);
    tcase_add_test(c, a_line_is_pulled);
    tcase_add_test(c, blanks_and_doubles);
    tcase_add_test(c, not_on_a_day_off);
    tcase_add_test(c, counted_again);
    tcase_add_test(c, rows_are_counted);
    tcase_add_test(c, a_frame_with_room);
    tcase_add_test(c, potted_on_in_part);
    tcase_add_test(c, drawn_evenly);
    tcase_add_test(c, draws_at_the_edge);
    suite_add_tcase(suite, c);
    return suite;
}
