/* server/core/season/: from an order book to sowings: windows by hand, seed and room kept to, decisions kept. */
#include "cotyledger/core/season.h"
#include "../season.h"
#include "../seed.h"
#include "cotyledger/core/planned.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/sow.h"

#define ON 20834 /* 2027-01-16, a Saturday */
#define DATE (ON + 72)

static struct season s;
static struct cot_book *book;
static struct cot_season plan;
static struct cot_id crop, variety, format, farm, lot;

static void setup(void)
{
    season_new(&s, 1);
    crop = add_crop(&s, "Lettuce", 28, 42);
    variety = add_variety(&s, "Red Harbour", &crop);
    format = add_format(&s, "128", 8, 16);
    farm = add_named(&s, COT_K_FARM, "Alder Ford");
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    book = NULL;
    plan = (struct cot_season){0};
}

static void teardown(void)
{
    cot_season_free(&plan);
    cot_book_free(book);
    season_free(&s);
}

static struct cot_id order(int plants, int32_t date)
{
    start_line(&s, &farm, &variety, plants, date);
    point(&s, COT_F_FORMAT, &format);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, plants);
    return line;
}

static void add_place(const char *text, enum cot_place_sort sort, int spots)
{
    make(&s, COT_K_PLACE);
    name(&s, COT_F_NAME, text);
    say(&s, COT_F_SORT, sort);
    say(&s, COT_F_SPOTS, spots);
    done(&s);
}

static void read_plan(const struct cot_season_ask *ask)
{
    struct cot_fault fault = {0};
    cot_season_free(&plan);
    cot_book_free(book);
    book = season_book(&s, NULL);
    enum cot_err err = cot_season_plan(book, ask, &plan, &fault);
    ck_assert_msg(err == COT_OK, "%s", fault.msg);
}

static void make_plan(void)
{
    read_plan(&(struct cot_season_ask){.on = ON});
}

static bool worked(int32_t day)
{
    int year, week, weekday;
    cot_week_of(day, &year, &week, &weekday);
    return weekday <= 5;
}

/* Every promise of season.h that can be checked from the plan and the book alone. */
static void check_plan(void)
{
    int64_t *planned = calloc(plan.line_count + 1, sizeof *planned);
    for (uint32_t i = 0; i < plan.sowing_count; i++) {
        const struct cot_season_sowing *w = &plan.sowing[i];
        int64_t plants = 0;
        for (uint32_t k = 0; k < w->parts; k++) {
            const struct cot_season_part *p = &plan.part[w->first_part + k];
            const struct cot_season_line *l = &plan.line[p->line];
            plants += p->plants;
            if (w->day == COT_DAY_NONE) continue;
            planned[p->line] += p->plants;
            sure(w->variety == l->variety);
            int64_t early = cot_thing_int(l->line, COT_F_EARLY, 0), late = cot_thing_int(l->line, COT_F_LATE, 0);
            sure(w->stages.ready <= l->date + late);
            sure(w->stages.past >= l->date - early);
        }
        sure(plants == w->plants);
        if (w->day == COT_DAY_NONE) continue;
        sure(w->trays >= 1 && w->day >= plan.on && w->day >= w->first && w->day <= w->last);
        sure(w->pinned || (worked(w->day) && worked(w->stages.up)));
    }
    for (uint32_t i = 0; i < plan.line_count; i++) {
        sure(planned[i] == plan.line[i].planned && planned[i] <= plan.line[i].need);
        sure(planned[i] == plan.line[i].need || plan.line[i].why != COT_SEASON_PLANNED);
    }
    free(planned);
}

/* 28 days in the tray, 42 at most: for 2027-03-29 it is sown from 2027-02-15 (42 days before) to 2027-03-01 (28), on
 * working days. Two lines of three days apart go together. */
START_TEST(lines_that_can_are_sown_together)
{
    order(500, DATE);
    order(300, DATE + 3);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.sowing_count, 1);
    ck_assert_uint_eq(plan.covered, 2);
    ck_assert_int_eq(plan.sowing[0].plants, 800);
    ck_assert_int_eq(plan.sowing[0].first, DATE - 39); /* past use no sooner than the later line's day */
    ck_assert_int_eq(plan.sowing[0].last, DATE - 28);
    ck_assert_int_eq(plan.sowing[0].trays, 8); /* 800 plants of 1024 cells, 9 in 10; 7 trays have 896 */
    read_plan(&(struct cot_season_ask){.on = ON, .each_alone = true, .from_scratch = true});
    ck_assert_uint_eq(plan.sowing_count, 2);
}
END_TEST

START_TEST(what_is_sown_is_not_planned_again)
{
    struct cot_id line = order(500, DATE);
    start_sown(&s, &lot, &format, 6, DATE - 30);
    done(&s);
    read_plan(&(struct cot_season_ask){.on = DATE - 30});
    ck_assert_uint_eq(plan.line_count, 0);
    ck_assert_uint_eq(plan.sowing_count, 0);
    (void)line;
}
END_TEST

/* Never more seed than there is: the rest is to be bought. A withdrawn lot, and one past its day, serve nobody. */
START_TEST(seed_runs_out)
{
    order(1000, DATE);
    make(&s, COT_K_LOT);
    about(&s, &lot);
    say(&s, COT_F_STOCK_SEEDS, 300);
    done(&s);
    make_plan();
    check_plan();
    int64_t from_lot = 0, bought = 0;
    for (uint32_t i = 0; i < plan.sowing_count; i++)
        *(plan.sowing[i].lot ? &from_lot : &bought) += plan.sowing[i].seeds;
    ck_assert_int_le(from_lot, 300);
    ck_assert_int_gt(from_lot, 0);
    ck_assert_int_gt(bought, 500);
    make(&s, COT_K_LOT);
    about(&s, &lot);
    say(&s, COT_F_WITHDRAWN, 1);
    done(&s);
    make_plan();
    ck_assert_uint_eq(plan.sowing_count, 1);
    ck_assert_ptr_null(plan.sowing[0].lot);
}
END_TEST

/* A line that takes untreated seed only gets none of a treated lot; one that takes any goes with the oldest. */
START_TEST(the_lot_it_may_have)
{
    make(&s, COT_K_LOT);
    about(&s, &lot);
    say(&s, COT_F_TREATED, 1);
    say(&s, COT_F_TEST_DAY, ON - 200);
    done(&s);
    start_lot(&s, "RH-2", &variety, 372);
    say(&s, COT_F_TEST_DAY, ON - 100);
    struct cot_id younger = *done(&s);
    order(200, DATE);
    start_line(&s, &farm, &variety, 200, DATE);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_UNTREATED, 1);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 200);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.sowing_count, 2);
    for (uint32_t i = 0; i < 2; i++) {
        const struct cot_thing *of = plan.line[plan.part[plan.sowing[i].first_part].line].line;
        bool untreated = cot_thing_int(of, COT_F_UNTREATED, 0) != 0;
        ck_assert_int_eq(cot_id_cmp(&plan.sowing[i].lot->id, untreated ? &younger : &lot), 0);
    }
}
END_TEST

/* A bench of four trays cannot hold eight: the later line gives way, and it is said what would do. */
START_TEST(what_does_not_fit_gives_way)
{
    add_place("bench 1", COT_PLACE_BENCH, 4);
    order(300, DATE);
    order(300, DATE + 30);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.covered, 2); /* one after the other */
    order(300, DATE + 1);
    order(300, DATE + 31);
    make_plan();
    check_plan();
    ck_assert_uint_lt(plan.covered, 4);
    ck_assert_uint_gt(plan.lack_count, 0);
    ck_assert_int_eq(plan.lack[0].sort, COT_PLACE_BENCH);
    for (uint32_t i = 0; i < plan.line_count; i++)
        if (plan.line[i].planned < plan.line[i].need) ck_assert_int_eq(plan.line[i].why, COT_SEASON_NO_ROOM);
}
END_TEST

/* A variety whose lots are plugs is set, not sown: by hand, one a cell, in no chamber, so many days before collecting
 * as its second stage has; about 98 of 100 take. */
START_TEST(plugs_bought_in)
{
    struct cot_id larger = add_format(&s, "50", 5, 10), peppers, of;
    start_crop(&s, "Pepper", 56, 70);
    say(&s, COT_F_CHAMBER_DAYS, 8);
    peppers = *done(&s);
    of = add_variety(&s, "Long Jetty", &peppers);
    make(&s, COT_K_RAISING);
    name(&s, COT_F_NAME, "potted on");
    point(&s, COT_F_CROP, &peppers);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAY_DAYS, 56);
    say(&s, COT_F_TRAY_DAYS_MAX, 63);
    say(&s, COT_F_POT_DAYS, 28);
    point(&s, COT_F_POT_FORMAT, &larger);
    done(&s);
    make(&s, COT_K_LOT);
    name(&s, COT_F_NAME, "LJ plugs");
    point(&s, COT_F_VARIETY, &of);
    say(&s, COT_F_FORM, COT_SEED_PLUG);
    name(&s, COT_F_SUPPLIER, "Ferry Lane");
    say(&s, COT_F_STOCK_SEEDS, 1000);
    done(&s);
    start_line(&s, &farm, &of, 400, DATE);
    point(&s, COT_F_FORMAT, &larger);
    done(&s);
    add_place("chamber", COT_PLACE_CHAMBER, 40);
    make_plan();
    ck_assert_uint_eq(plan.sowing_count, 1);
    const struct cot_season_sowing *w = &plan.sowing[0];
    ck_assert(w->plugs && w->lot && !w->plate && !w->chamber && !w->pot_format && w->per_cell == 1);
    ck_assert_int_eq(w->format == cot_book_thing(book, &larger), 1);
    ck_assert_int_eq(w->stages.up, w->day);
    ck_assert(w->stages.ready == w->day + 28 && w->day + 28 <= DATE && w->day + 35 >= DATE);
    ck_assert(w->trays == 9 && w->seeds == 450); /* 8 trays of 50 are 400 cells, and not every plug takes */
    ck_assert_uint_eq(plan.covered, 1);
}
END_TEST

START_TEST(reasons)
{
    struct cot_id odd = add_named(&s, COT_K_CROP, "Odd"), of = add_variety(&s, "Fourth Wharf", &odd);
    order(100, ON + 5);
    order(100, ON + 1000);
    start_line(&s, &farm, &of, 100, DATE);
    point(&s, COT_F_FORMAT, &format);
    done(&s);
    start_line(&s, &farm, &variety, 100, DATE - 1); /* any format: that of the others */
    done(&s);
    make_plan();
    check_plan();
    unsigned seen = 0;
    for (uint32_t i = 0; i < plan.line_count; i++) seen |= 1u << plan.line[i].why;
    ck_assert_uint_eq(seen, 1u << COT_SEASON_GONE | 1u << COT_SEASON_BEYOND | 1u << COT_SEASON_NO_DAYS |
                                1u << COT_SEASON_PLANNED);
    read_plan(&(struct cot_season_ask){.on = ON, .promised_only = true});
    ck_assert_uint_eq(plan.line_count, 2);
}
END_TEST

/* --- What stands -------------------------------------------------------------------------------------------------- */

static void keep_lines(const struct cot_season_sowing *w)
{
    struct cot_id *to = &s.kept[s.kept_count];
    uint32_t n = w->parts < 40 ? w->parts : 40;
    s.kept_count += n;
    for (uint32_t k = 0; k < n; k++) to[k] = plan.line[plan.part[w->first_part + k].line].line->id;
    ck_assert(cot_fact_set_ids(&s.next, COT_F_LINES, to, n));
}

/* Records what the plan proposes, as accepting it does. */
static void accept(void)
{
    for (uint32_t i = 0; i < plan.sowing_count; i++) {
        const struct cot_season_sowing *w = &plan.sowing[i];
        if (w->change == COT_SEASON_DROPPED) {
            make(&s, COT_K_DROPPED);
            about(&s, &w->planned->id);
            done(&s);
            continue;
        }
        if (w->day == COT_DAY_NONE || !w->lot) continue;
        make(&s, COT_K_PLANNED);
        if (w->planned) about(&s, &w->planned->id);
        else new_code(&s);
        if (!w->planned) point(&s, COT_F_LOT, &w->lot->id);
        if (!w->planned) point(&s, COT_F_FORMAT, &w->format->id);
        say(&s, COT_F_TRAYS, (int)w->trays);
        say(&s, COT_F_SOW_DAY, w->day);
        if (w->parts) keep_lines(w);
        done(&s);
    }
}

START_TEST(accepted_stays)
{
    order(500, DATE);
    order(700, DATE + 30);
    make_plan();
    ck_assert_uint_eq(plan.fresh, 2);
    accept();
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.kept, 2);
    ck_assert_uint_eq(plan.changed + plan.fresh + plan.dropped, 0);
    order(900, DATE + 31);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.covered, 3);
    ck_assert_uint_eq(plan.moved + plan.dropped, 0);
}
END_TEST

/* Small lines of two varieties share a tray; their seed is that of their rows; another plan's tray has another number.
 */
/* Of a sowing that is begun the rest stays, no larger than its lines still need, and nothing new is planned for them.
 */
START_TEST(begun)
{
    order(600, DATE);
    make_plan();
    ck_assert_uint_eq(plan.sowing_count, 1);
    int64_t trays = plan.sowing[0].trays;
    int32_t day = plan.sowing[0].day;
    ck_assert_int_gt(trays, 3);
    accept();
    struct cot_book *b = season_book(&s, NULL);
    size_t n;
    struct cot_id planned = cot_book_things(b, COT_THING_PLANNED, &n)[0]->id;
    cot_book_free(b);
    start_sown(&s, &lot, &format, 2, day);
    point(&s, COT_F_PLANNED, &planned);
    done(&s);
    read_plan(&(struct cot_season_ask){.on = day});
    ck_assert_uint_eq(plan.sowing_count, 1);
    const struct cot_season_sowing *w = &plan.sowing[0];
    ck_assert(w->planned && w->sown == 2 && w->trays <= trays - 2 + 1 && w->trays >= trays - 3 &&
              w->day != COT_DAY_NONE);
    ck_assert_uint_eq(plan.fresh, 0);
}
END_TEST

START_TEST(rows_of_a_shared_tray)
{
    struct cot_id second = add_variety(&s, "Pale Sluice", &crop);
    start_lot(&s, "PS-1", &second, 372);
    done(&s);
    order(30, DATE);
    start_line(&s, &farm, &second, 30, DATE);
    point(&s, COT_F_FORMAT, &format);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 30);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.sowing_count, 2);
    ck_assert_int_eq(plan.trays, 1);
    for (int i = 0; i < 2; i++) {
        ck_assert(plan.sowing[i].rows == 3 && plan.sowing[i].shared == 1);
        ck_assert_int_eq(plan.sowing[i].seeds, 48); /* three rows of sixteen, one seed a cell by hand */
    }
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAY_ROWS, 2);
    name(&s, COT_F_SHARED, "2027-03-01 shared 1");
    say(&s, COT_F_SOW_DAY, ON + 5);
    name(&s, COT_F_PINS, "tray_rows");
    done(&s);
    make_plan();
    for (uint32_t i = 0; i < plan.sowing_count; i++) ck_assert(plan.sowing[i].planned || plan.sowing[i].shared != 1);
}
END_TEST

/* A line whose day is past is still served when it takes plants later. */
START_TEST(late_will_do)
{
    start_line(&s, &farm, &variety, 200, ON - 1);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_LATE, 45);
    struct cot_id line = *done(&s);
    promise(&s, &line, &farm, 200);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.covered, 1);
}
END_TEST

START_TEST(pinned_stays_whatever_it_serves)
{
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAYS, 3);
    say(&s, COT_F_SOW_DAY, ON + 3);
    name(&s, COT_F_PINS, "sow_day trays");
    done(&s);
    make_plan();
    check_plan();
    ck_assert_uint_eq(plan.sowing_count, 1);
    ck_assert(plan.sowing[0].pinned && plan.sowing[0].day == ON + 3 && plan.sowing[0].trays == 3);
    read_plan(&(struct cot_season_ask){.on = ON, .from_scratch = true});
    ck_assert(plan.sowing_count == 1 && plan.sowing[0].day == ON + 3);
}
END_TEST

/* Houses at random, planned, accepted, changed by late orders and a lost bench, planned again: every plan keeps to its
 * word, and one that keeps decisions serves no fewer lines than one made afresh. */
START_TEST(planned_again)
{
    struct dice d = dice_new("planned_again");
    for (int round = 0; round < 12; round++) {
        teardown();
        setup();
        add_place("chamber", COT_PLACE_CHAMBER, (int)dice_int(&d, 10, 40));
        add_place("bench 1", COT_PLACE_BENCH, (int)dice_int(&d, 20, 60));
        for (int i = 0; i < 8; i++) order((int)dice_int(&d, 50, 900), ON + (int32_t)dice_int(&d, 30, 140));
        make_plan();
        check_plan();
        accept();
        for (int i = 0; i < 3; i++) order((int)dice_int(&d, 50, 900), ON + (int32_t)dice_int(&d, 30, 140));
        make(&s, COT_K_SHUT);
        say(&s, COT_F_FROM, ON + 40);
        say(&s, COT_F_UNTIL, ON + 44);
        done(&s);
        read_plan(&(struct cot_season_ask){.on = ON + 7, .from_scratch = true});
        check_plan();
        uint32_t afresh = plan.covered;
        read_plan(&(struct cot_season_ask){.on = ON + 7});
        check_plan();
        ck_assert_uint_ge(plan.covered, afresh);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/season");
    TCase *c = tcase_create("season");
    tcase_set_timeout(c, 120);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, lines_that_can_are_sown_together);
    tcase_add_test(c, what_is_sown_is_not_planned_again);
    tcase_add_test(c, seed_runs_out);
    tcase_add_test(c, the_lot_it_may_have);
    tcase_add_test(c, what_does_not_fit_gives_way);
    tcase_add_test(c, reasons);
    tcase_add_test(c, accepted_stays);
    tcase_add_test(c, plugs_bought_in);
    tcase_add_test(c, begun);
    tcase_add_test(c, rows_of_a_shared_tray);
    tcase_add_test(c, late_will_do);
    tcase_add_test(c, pinned_stays_whatever_it_serves);
    tcase_add_test(c, planned_again);
    suite_add_tcase(suite, c);
    return suite;
}
