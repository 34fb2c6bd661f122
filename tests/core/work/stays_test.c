/* server/core/work/stays.c and benches.c: where trays stand by their moves, their crop's days and the
 * plan. */
#include "cotyledger/core/stays.h"
#include "../season.h"
#include "../seed.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/season.h"
#include "cotyledger/core/stages.h"

#define MONDAY 20906 /* 2027-03-29 */

static struct season s;
static struct cot_book *book;
static struct cot_benches benches;
static struct cot_id crop, variety, format, farm, lot;

static void add_place(const char *text, enum cot_place_sort sort, int spots)
{
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_SORT, sort);
    say(&s, COT_F_SPOTS, spots);
    done(&s);
}

static void setup(void)
{
    season_new(&s, 1);
    start_crop(&s, "Lettuce", 28, 42);
    say(&s, COT_F_CHAMBER_DAYS, 3);
    say(&s, COT_F_HARDEN_DAYS, 7);
    crop = *done(&s);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "128", 8, 16);
    farm = add_named(&s, COT_K_FARM, "Alder Ford");
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    add_place("chamber", COT_PLACE_CHAMBER, 20);
    add_place("bench 1", COT_PLACE_BENCH, 10);
    add_place("bench 2", COT_PLACE_BENCH, 10);
    add_place("frame 1", COT_PLACE_FRAME, 10);
    book = NULL;
    benches = (struct cot_benches){0};
}

static void teardown(void)
{
    cot_benches_free(&benches);
    cot_book_free(book);
    season_free(&s);
}

static void read_on(int32_t on)
{
    cot_benches_free(&benches);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_benches_read(book, on, &benches, NULL), COT_OK);
}

static int64_t used(const char *place, int32_t day)
{
    const struct cot_thing *t = cot_place_named(book, place);
    ck_assert_msg(t != NULL, "%s", place);
    return cot_benches_used(&benches, t, day);
}

static struct cot_id sow_on(const char *bench, int trays)
{
    start_sown(&s, &lot, &format, trays, MONDAY);
    name(&s, COT_F_BENCH, bench);
    return *done(&s);
}

static void move(const struct cot_id *batch, const char *bench, int32_t day, const int32_t *which, uint32_t n)
{
    make(&s, COT_K_MOVED);
    about(&s, batch);
    say(&s, COT_F_DAY, day);
    name(&s, COT_F_BENCH, bench);
    if (n > 0) ck_assert(cot_fact_set_numbers(&s.next, COT_F_WHICH, which, n));
    done(&s);
}

/* Three days in the chamber, then on its bench until it is ready on the 28th day. */
START_TEST(by_the_crops_days)
{
    sow_on("bench 1", 6);
    read_on(MONDAY);
    ck_assert_int_eq(used("chamber", MONDAY), 6);
    ck_assert_int_eq(used("chamber", MONDAY + 2), 6);
    ck_assert_int_eq(used("chamber", MONDAY + 3), 0);
    ck_assert_int_eq(used("bench 1", MONDAY + 2), 0);
    ck_assert_int_eq(used("bench 1", MONDAY + 3), 6);
    ck_assert_int_eq(used("bench 1", MONDAY + 28), 6);
    ck_assert_int_eq(used("bench 1", MONDAY + 29), 0);
}
END_TEST

/* What nobody moved is in the chamber still, for a week; then somebody moved it and did not say. */
START_TEST(not_moved)
{
    sow_on("bench 1", 6);
    read_on(MONDAY + 5);
    ck_assert_int_eq(used("chamber", MONDAY + 5), 6);
    ck_assert_int_eq(used("bench 1", MONDAY + 6), 6);
    ck_assert(benches.stay[0].late);
    read_on(MONDAY + 3 + COT_UP_LATE + 1);
    ck_assert_int_eq(used("chamber", benches.on), 0);
    ck_assert_int_eq(used("bench 1", benches.on), 6);
}
END_TEST

START_TEST(moves)
{
    static const int32_t two[] = {2, 5}, one[] = {5};
    struct cot_id batch = sow_on("bench 1", 6);
    move(&batch, "bench 1", MONDAY + 3, NULL, 0);
    move(&batch, "bench 2", MONDAY + 4, two, 2);
    read_on(MONDAY + 4);
    ck_assert_int_eq(used("bench 1", MONDAY + 4), 4);
    ck_assert_int_eq(used("bench 2", MONDAY + 4), 2);
    ck_assert_int_eq(used("chamber", MONDAY + 4), 0);
    move(&batch, "the shed", MONDAY + 6, one, 1);
    read_on(MONDAY + 6);
    ck_assert_int_eq(used("bench 2", MONDAY + 6), 1);
    ck_assert_int_eq(cot_benches_used(&benches, NULL, MONDAY + 6), 1); /* no place of the house */
    read_on(MONDAY + 5);                                               /* as it was known that day */
    ck_assert_int_eq(used("bench 2", MONDAY + 5), 2);
    move(&batch, "BENCH 2 ", MONDAY + 8, NULL, 0);
    read_on(MONDAY + 8);
    ck_assert_int_eq(used("bench 2", MONDAY + 8), 6);
    ck_assert_int_eq(used("bench 1", MONDAY + 8), 0);
    ck_assert_int_eq(cot_benches_used(&benches, NULL, MONDAY + 8), 0);
}
END_TEST

/* Trays thrown out are gone; of plants handed over their share of the trays is; a line that collects later keeps it. */
START_TEST(what_is_left)
{
    static const int32_t lost[] = {1, 2};
    struct cot_id batch = sow_on("bench 1", 6);
    move(&batch, "bench 1", MONDAY + 3, NULL, 0);
    start_line(&s, &farm, &variety, 200, MONDAY + 40);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 200);
    make(&s, COT_K_LOST);
    about(&s, &batch);
    say(&s, COT_F_DAY, MONDAY + 5);
    ck_assert(cot_fact_set_numbers(&s.next, COT_F_WHICH, lost, 2));
    name(&s, COT_F_WHY, "mice");
    done(&s);
    read_on(MONDAY + 5);
    ck_assert_int_eq(used("bench 1", MONDAY + 5), 4);
    ck_assert_int_eq(used("bench 1", MONDAY + 40), 4);
    ck_assert_int_eq(used("bench 1", MONDAY + 41), 0);
    hand_over(&s, &line, &farm, &batch, 200, MONDAY + 30);
    read_on(MONDAY + 30);
    int64_t left = used("bench 1", MONDAY + 30);
    ck_assert(left >= 2 && left <= 3); /* about 460 plants stood in four trays, 200 went */
    ck_assert(benches.stay[0].late);   /* ready on the 28th day, and nobody's */
}
END_TEST

/* A farm that cannot plant yet keeps the bench as long. */
START_TEST(a_farm_waits)
{
    sow_on("bench 1", 6);
    start_line(&s, &farm, &variety, 200, MONDAY + 29);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 200);
    read_on(MONDAY);
    ck_assert_int_eq(used("bench 1", MONDAY + 30), 0);
    make(&s, COT_K_LINE);
    of_farm(&s, &farm);
    about(&s, &line);
    say(&s, COT_F_WAIT_UNTIL, MONDAY + 35);
    done(&s);
    read_on(MONDAY);
    ck_assert_int_eq(used("bench 1", MONDAY + 35), 6);
    ck_assert_int_eq(used("bench 1", MONDAY + 36), 0);
}
END_TEST

START_TEST(too_full)
{
    int64_t worst;
    sow_on("bench 1", 6);
    sow_on("bench 1", 7);
    read_on(MONDAY);
    const struct cot_thing *bench = cot_place_named(book, "bench 1");
    ck_assert_int_eq(cot_benches_over(&benches, bench, MONDAY, MONDAY + 60, &worst), MONDAY + 3);
    ck_assert_int_eq(worst, 3);
    make(&s, COT_K_SHUT);
    about(&s, &bench->id);
    say(&s, COT_F_FROM, MONDAY + 1);
    say(&s, COT_F_UNTIL, MONDAY + 10);
    done(&s);
    read_on(MONDAY);
    ck_assert_int_eq(cot_benches_room(&benches, cot_place_named(book, "bench 1"), MONDAY + 10), 0);
    ck_assert_int_eq(cot_benches_room(&benches, cot_place_named(book, "bench 1"), MONDAY + 11), 10);
}
END_TEST

/* Rows in one shared tray have one spot together. */
START_TEST(shared_tray)
{
    for (int i = 0; i < 3; i++) {
        make(&s, COT_K_SOWN);
        new_code(&s);
        point(&s, COT_F_LOT, &lot);
        point(&s, COT_F_FORMAT, &format);
        say(&s, COT_F_TRAY_ROWS, 2);
        name(&s, COT_F_SHARED, "odds and ends");
        say(&s, COT_F_DAY, MONDAY);
        name(&s, COT_F_BENCH, "bench 1");
        done(&s);
    }
    read_on(MONDAY + 4 + COT_UP_LATE);
    ck_assert_uint_eq(benches.stays, 3);
    ck_assert_int_eq(used("bench 1", benches.on), 1);
}
END_TEST

/* Accepts a plan: what it says becomes planned sowings. */
static void accept(const struct cot_season *p)
{
    for (uint32_t i = 0; i < p->sowing_count; i++) {
        const struct cot_season_sowing *w = &p->sowing[i];
        if (w->day == COT_DAY_NONE || !w->lot || w->rows > 0) continue;
        make(&s, COT_K_PLANNED);
        new_code(&s);
        point(&s, COT_F_LOT, &w->lot->id);
        point(&s, COT_F_FORMAT, &w->format->id);
        say(&s, COT_F_TRAYS, w->trays);
        say(&s, COT_F_SOW_DAY, w->day);
        if (w->chamber) name(&s, COT_F_CHAMBER, cot_thing_text(w->chamber, COT_F_NAME));
        if (w->bench) name(&s, COT_F_BENCH, cot_thing_text(w->bench, COT_F_NAME));
        if (w->frame) name(&s, COT_F_FRAME, cot_thing_text(w->frame, COT_F_NAME));
        struct cot_id *ids = &s.kept[s.kept_count];
        for (uint32_t k = 0; k < w->parts; k++)
            s.kept[s.kept_count++] = p->line[p->part[w->first_part + k].line].line->id;
        ck_assert(cot_fact_set_ids(&s.next, COT_F_LINES, ids, w->parts));
        done(&s);
    }
}

/* What the plan gave a place is what stands there by the reading, day by day; and no place gets too full. */
START_TEST(as_the_plan_has_it)
{
    struct dice d = dice_new("core/work/stays");
    struct cot_season p;
    for (int i = 0; i <= _i; i++) (void)dice_next(&d);
    for (int i = 0; i < 8; i++) {
        int plants = (int)dice_int(&d, 100, 900);
        start_line(&s, &farm, &variety, plants, MONDAY + (int32_t)dice_int(&d, 40, 120));
        point(&s, COT_F_FORMAT, &format);
        struct cot_id line = *done(&s);
        promise(&s, &line, &farm, plants);
    }
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_season_plan(book, &(struct cot_season_ask){.on = MONDAY}, &p, NULL), COT_OK);
    accept(&p);
    struct cot_book *before = book;
    book = NULL;
    read_on(MONDAY);
    for (size_t k = 0; k < benches.places; k++)
        for (int32_t day = MONDAY; day < MONDAY + 130; day++) {
            int64_t sum = 0;
            const char *at = cot_thing_name(benches.place[k]);
            for (uint32_t i = 0; i < p.sowing_count; i++) {
                const struct cot_season_sowing *w = &p.sowing[i];
                if (w->day == COT_DAY_NONE || w->rows > 0) continue;
                int32_t gone = (w->until > w->stages.ready ? w->until : w->stages.ready) + 1;
                int32_t harden = w->frame ? w->harden : gone;
                bool in =
                    w->chamber && strcmp(cot_thing_name(w->chamber), at) == 0 && day >= w->day && day < w->stages.up;
                in = in ||
                     (w->bench && strcmp(cot_thing_name(w->bench), at) == 0 && day >= w->stages.up && day < harden);
                in = in || (w->frame && strcmp(cot_thing_name(w->frame), at) == 0 && day >= harden && day < gone);
                sum += in ? w->trays : 0;
            }
            ck_assert_msg(sum == cot_benches_used(&benches, benches.place[k], day),
                          "%s, day %d: %lld planned, %lld read", at, day - MONDAY, (long long)sum,
                          (long long)cot_benches_used(&benches, benches.place[k], day));
            ck_assert(sum <= cot_benches_room(&benches, benches.place[k], day));
        }
    cot_season_free(&p);
    cot_book_free(before);
}
END_TEST

/* Chamber days that nobody said: Harrington and Minges 1954 as printed in Knott's Handbook (1997), lettuce at 20 C 3
 * days, at 15 C 4, tomato at 25 C 6; a crop that is not in the table stays unknown, and the house's own figure stands.
 */
START_TEST(chamber_days_from_the_table)
{
    static const struct {
        const char *crop;
        int celsius, own, days;
    } cases[] = {{"Lettuce", 20, -1, 3},
                 {"lettuce", 15, -1, 4},
                 {"Tomato", 25, -1, 6},
                 {"Tomato", 25, 9, 9},
                 {"Skirret", 20, -1, COT_RAISING_UNKNOWN},
                 {"Lettuce", 40, -1, COT_RAISING_UNKNOWN}};
    struct cot_raising g;
    season_free(&s);
    season_new(&s, 2);
    start_crop(&s, cases[_i].crop, 28, 42);
    if (cases[_i].own >= 0) say(&s, COT_F_CHAMBER_DAYS, cases[_i].own);
    crop = *done(&s);
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, "chamber");
    say(&s, COT_F_SORT, COT_PLACE_CHAMBER);
    say(&s, COT_F_SPOTS, 20);
    say(&s, COT_F_CELSIUS, cases[_i].celsius);
    done(&s);
    book = season_book(&s, NULL);
    cot_raising_of(book, cot_book_thing(book, &crop), NULL, MONDAY, &g);
    ck_assert_int_eq(g.chamber, cases[_i].days);
    ck_assert(g.chamber_by_table == (cases[_i].own < 0 && cases[_i].days != COT_RAISING_UNKNOWN));
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/work/stays");
    TCase *c = tcase_create("stays");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, by_the_crops_days);
    tcase_add_test(c, not_moved);
    tcase_add_test(c, moves);
    tcase_add_test(c, what_is_left);
    tcase_add_test(c, a_farm_waits);
    tcase_add_test(c, too_full);
    tcase_add_test(c, shared_tray);
    tcase_add_loop_test(c, as_the_plan_has_it, 0, 6);
    tcase_add_loop_test(c, chamber_days_from_the_table, 0, 6);
    suite_add_tcase(suite, c);
    return suite;
}
