/* docs/arithmetic.md, "Planning": a book planned and what that takes, computed here again; both must stand there word
 * for word. */
#include "../page.h"
#include "../season.h"
#include "cotyledger/core/need.h"
#include "cotyledger/core/place.h"
#include "cotyledger/core/season.h"

#define ON 20822 /* 2027-01-04 */

static struct season s;
static struct cot_book *book;
static struct cot_id lot, format;

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
    start_crop(&s, "Lettuce", 35, 45);
    say(&s, COT_F_CHAMBER_DAYS, 3);
    say(&s, COT_F_HARDEN_DAYS, 7);
    say(&s, COT_F_SEEDS_PER_G, 890); /* 7 CFR 201.46, table 1: lettuce */
    struct cot_id crop = *done(&s), variety = add_variety(&s, "Red Harbour", &crop);
    make(&s, COT_K_FORMAT);
    name(&s, COT_F_NAME, "128");
    say(&s, COT_F_ROWS, 8);
    say(&s, COT_F_COLS, 16);
    say(&s, COT_F_CELL_UL, 25100);
    format = *done(&s);
    start_lot(&s, "RH-1", &variety, 372);
    lot = *done(&s);
    struct cot_id farm = add_named(&s, COT_K_FARM, "Alder Ford");
    add_place("chamber", COT_PLACE_CHAMBER, 20);
    add_place("bench 1", COT_PLACE_BENCH, 40);
    add_place("frame 1", COT_PLACE_FRAME, 40);
    for (int i = 0; i < 2; i++) {
        start_line(&s, &farm, &variety, i == 0 ? 440 : 220, cot_day_of(2027, 4, i == 0 ? 16 : 14));
        point(&s, COT_F_FORMAT, &format);
        struct cot_id line = *done(&s);
        promise(&s, &line, &farm, i == 0 ? 440 : 220);
    }
    book = season_book(&s, NULL);
}

static void teardown(void)
{
    cot_book_free(book);
    season_free(&s);
}

static void put_day(const char *what, int32_t day)
{
    static const char *const name[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    char text[COT_DAY_TEXT];
    int year, week, weekday;
    cot_day_text(day, text);
    cot_week_of(day, &year, &week, &weekday);
    put("%-24s %s %s\n", what, name[weekday - 1], text);
}

START_TEST(planned)
{
    struct cot_season alone, both;
    const struct cot_season_ask ask = {.on = ON}, each = {.on = ON, .each_alone = true, .from_scratch = true};
    ck_assert_int_eq(cot_season_plan(book, &each, &alone, NULL), COT_OK);
    ck_assert_int_eq(cot_season_plan(book, &ask, &both, NULL), COT_OK);
    ck_assert(alone.sowing_count == 2 && both.sowing_count == 1);
    const struct cot_season_sowing *w = &both.sowing[0];
    put("each line alone          %lld trays\n", (long long)alone.trays);
    put("together                 %lld trays\n", (long long)w->trays);
    put_day("may be sown from", w->first);
    put_day("may be sown until", w->last);
    put_day("sown", w->day);
    put_day("out of the chamber", w->stages.up);
    put_day("out to the frame", w->harden);
    put_day("ready", w->stages.ready);
    put_day("last collected", w->until);
    put_day("past use after", w->stages.past);
    put("chamber, bench, frame    %s, %s, %s: %lld spots each\n", cot_thing_name(w->chamber), cot_thing_name(w->bench),
        cot_thing_name(w->frame), (long long)cot_trays_spots(w->format, cot_usual_footprint(book), w->trays));
    put("fullest day of benches   %lld %% of 40 spots; no plan of this sowing has less than %lld %%\n",
        (long long)both.peak / 10000, (long long)both.bound / 10000);
    cot_season_free(&alone);
    cot_season_free(&both);
    compare("planned");
}
END_TEST

START_TEST(materials)
{
    struct cot_needs n;
    char day[COT_DAY_TEXT];
    make(&s, COT_K_PLANNED);
    new_code(&s);
    point(&s, COT_F_LOT, &lot);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_TRAYS, 8);
    int32_t sow = cot_day_of(2027, 3, 5);
    say(&s, COT_F_SOW_DAY, sow);
    done(&s);
    make(&s, COT_K_STOCK);
    say(&s, COT_F_DAY, ON);
    say(&s, COT_F_MIX_L, 20);
    done(&s);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_needs_read(book, ON, COT_DAY_MAX, &n, NULL), COT_OK);
    ck_assert_uint_eq(n.weeks, 1);
    for (size_t i = 0; i < n.items; i++) {
        const struct cot_need_item *k = &n.item[i];
        if (k->what == COT_NEED_SEED)
            put("seed      %lld seeds, at 890 in a gram %.2f g\n", (long long)k->need, (double)k->mg / 1000);
        if (k->what == COT_NEED_MIX) {
            int64_t litres = (k->need + 999999) / 1000000, lacking = litres - 20;
            cot_day_text(k->short_on - COT_NEED_DELIVERY, day);
            put("mix       %.1f L; 20 L are there: %lld L to buy, in bags of 70 L %lld, ordered by %s\n",
                (double)k->need / 1e6, (long long)lacking, (long long)(lacking + 69) / 70, day);
        }
        if (k->what == COT_NEED_LABELS) put("labels    %lld\n", (long long)k->need);
    }
    put("work      %lld minutes\n", (long long)n.week[0].minutes);
    cot_needs_free(&n);
    compare("materials");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/season/arithmetic");
    TCase *c = tcase_create("arithmetic");
    tcase_set_timeout(c, 60);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, planned);
    tcase_add_test(c, materials);
    suite_add_tcase(suite, c);
    return suite;
}
