/* Facts: building and reading fields, scope, and what the check says of each flaw. */
#include "../main.h"
#include "cotyledger/core/day.h"
#include "cotyledger/core/fact.h"

#include <stdlib.h>
#include <string.h>

static const struct cot_id id_a = {{1}}, id_b = {{2}}, id_c = {{3}};
static struct cot_fact f;
static char flaw[160];

static void start(enum cot_kind kind)
{
    f = (struct cot_fact){.kind = kind};
}

static void text(enum cot_field field, const char *s)
{
    ck_assert(cot_fact_set_text(&f, field, s, strlen(s)));
}

static void num(enum cot_field field, int64_t i)
{
    ck_assert(cot_fact_set_int(&f, field, i));
}

static void id(enum cot_field field, const struct cot_id *i)
{
    ck_assert(cot_fact_set_ids(&f, field, i, 1));
}

static void farm(const struct cot_id *i)
{
    f.has_farm = true;
    f.farm = *i;
}

static void about(const struct cot_id *i)
{
    f.has_about = true;
    f.about = *i;
}

static void sound(void)
{
    ck_assert_msg(cot_fact_check(&f, flaw), "%s", flaw);
    ck_assert_str_eq(flaw, "");
}

static void says(const char *words)
{
    ck_assert(!cot_fact_check(&f, flaw));
    ck_assert_str_eq(flaw, words);
}

/* --- Building
 * --------------------------------------------------------------------------------------------------------------- */
START_TEST(fields_stay_in_order)
{
    start(COT_K_LOT);
    num(COT_F_STOCK_MG, 5);
    text(COT_F_NAME, "RH");
    num(COT_F_FORM, 2);
    id(COT_F_VARIETY, &id_a);
    num(COT_F_STOCK_MG, 7); /* replaced */
    ck_assert_uint_eq(f.value_count, 4);
    for (unsigned i = 1; i < f.value_count; i++) ck_assert_uint_lt(f.value[i - 1].field, f.value[i].field);
    ck_assert_int_eq(cot_fact_int(&f, COT_F_STOCK_MG, 0), 7);
    ck_assert_int_eq(cot_fact_int(&f, COT_F_STOCK_SEEDS, -3), -3);
    ck_assert_int_eq(cot_fact_int(&f, COT_F_NAME, -3), -3); /* no number */
    ck_assert_ptr_eq(cot_fact_id(&f, COT_F_VARIETY), &id_a);
    ck_assert_ptr_null(cot_fact_id(&f, COT_F_NAME));
    ck_assert_uint_eq(cot_fact_value(&f, COT_F_NAME)->len, 2);
    ck_assert_ptr_null(cot_fact_value(&f, COT_F_OWNER));
    ck_assert(cot_fact_clear(&f, COT_F_FORM));
    ck_assert_int_eq(cot_fact_value(&f, COT_F_FORM)->type, COT_T_NONE);
    ck_assert_int_eq(cot_fact_int(&f, COT_F_FORM, -3), -3);
}
END_TEST

START_TEST(full)
{
    start(COT_K_NOTE);
    for (int i = 0; i < COT_FACT_FIELDS_MAX; i++) ck_assert(cot_fact_set_int(&f, (enum cot_field)i, 1));
    ck_assert(!cot_fact_set_int(&f, (enum cot_field)COT_FACT_FIELDS_MAX, 1));
    ck_assert(cot_fact_set_int(&f, (enum cot_field)3, 2)); /* replacing needs no room */
    ck_assert(!cot_fact_set_int(&f, (enum cot_field)COT_F_COUNT, 1));
    ck_assert_uint_eq(f.value_count, COT_FACT_FIELDS_MAX);
}
END_TEST

START_TEST(scopes)
{
    struct cot_id of;
    start(COT_K_SOWN);
    ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), COT_SCOPE_HOUSE);
    start(COT_K_CROP);
    ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), COT_SCOPE_CATALOGUE);
    start(COT_K_LINE);
    farm(&id_a);
    ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), COT_SCOPE_FARM);
    ck_assert_int_eq(cot_id_cmp(&of, &id_a), 0);
    start(COT_K_FARM); /* makes its own scope */
    ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), COT_SCOPE_FARM);
    ck_assert_int_eq(cot_id_cmp(&of, &id_b), 0);
    f.has_carries = true; /* its identity is the one it carries */
    f.carries = id_c;
    ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), COT_SCOPE_FARM);
    ck_assert_int_eq(cot_id_cmp(&of, &id_c), 0);
    static const struct {
        enum cot_kind kind;
        enum cot_scope without;
    } mixed[] = {
        {COT_K_NOTE, COT_SCOPE_HOUSE},    {COT_K_ANSWER, COT_SCOPE_HOUSE},     {COT_K_TAKEN_BACK, COT_SCOPE_HOUSE},
        {COT_K_UNKNOWN, COT_SCOPE_HOUSE}, {COT_K_MEMBER, COT_SCOPE_CATALOGUE}, {COT_K_DEVICE, COT_SCOPE_CATALOGUE},
    };
    for (size_t i = 0; i < sizeof mixed / sizeof mixed[0]; i++) {
        start(mixed[i].kind);
        ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), mixed[i].without);
        farm(&id_a);
        ck_assert_int_eq(cot_fact_scope(&f, &id_b, &of), COT_SCOPE_FARM);
        ck_assert_int_eq(cot_id_cmp(&of, &id_a), 0);
    }
}
END_TEST

/* --- The table
 * ---------------------------------------------------------------------------------------------------------------- */
static void start_line(void)
{
    start(COT_K_LINE);
    farm(&id_a);
    char code[COT_CODE_TEXT];
    static char kept[COT_CODE_TEXT];
    cot_code_make("A", 1, code);
    memcpy(kept, code, sizeof kept);
    text(COT_F_CODE, kept);
    id(COT_F_VARIETY, &id_b);
    num(COT_F_PLANTS, 100);
    num(COT_F_DATE, 20900);
}

START_TEST(kind_and_header)
{
    start(COT_K_UNKNOWN);
    says("made by a newer version of the program");
    start_line();
    sound();
    f.has_farm = false;
    says("order line: does not say of which farm");
    start(COT_K_COUNT);
    num(COT_F_DAY, 20900);
    says("stand count: does not say which batch it is about");
    start(COT_K_EMPTIES);
    farm(&id_a);
    about(&id_b);
    says("empty trays returned: is about no other thing");
    start(COT_K_FARM);
    text(COT_F_NAME, "Alder Ford");
    sound();
    farm(&id_a);
    says("a new farm belongs to no other farm");
    about(&id_b);
    says("a change of a farm names that farm as its farm");
    about(&id_a);
    sound();
}
END_TEST

START_TEST(known_and_required_fields)
{
    start(COT_K_NOTE);
    says("note: what was noted (\"text\") is missing");
    text(COT_F_TEXT, "x");
    sound();
    num(COT_F_PLANTS, 3);
    says("note: has no field \"plants\"");
    start(COT_K_CROP);
    about(&id_a);
    says("crop: changes nothing; give at least one field");
    ck_assert(cot_fact_clear(&f, COT_F_TRAY_DAYS));
    sound();
    ck_assert(cot_fact_clear(&f, COT_F_NAME));
    says("name: cannot be cleared, only changed");
    start(COT_K_CROP);
    text(COT_F_NAME, "Leek");
    ck_assert(cot_fact_clear(&f, COT_F_TRAY_DAYS));
    says("days from sowing to ready: there is nothing to clear; leave it out");
    start(COT_K_RULE);
    says("house rule: changes nothing; give at least one field");
    num(COT_F_CONFIDENCE, 900);
    sound();
}
END_TEST

START_TEST(types_and_ranges)
{
    start(COT_K_CROP);
    text(COT_F_NAME, "Leek");
    num(COT_F_TRAY_DAYS, 0);
    says("days from sowing to ready: 0 days will not do; 1 to 365 will");
    num(COT_F_TRAY_DAYS, 365);
    sound();
    f.value[1].type = COT_T_TEXT;
    says("days from sowing to ready: a whole number is wanted");
    char longest[121];
    memset(longest, 'x', sizeof longest);
    start(COT_K_CROP);
    ck_assert(cot_fact_set_text(&f, COT_F_NAME, longest, 121));
    says("name: 121 bytes will not do; 1 to 120 will");
    ck_assert(cot_fact_set_text(&f, COT_F_NAME, longest, 120));
    sound();
    start_line();
    num(COT_F_DATE, (int64_t)COT_DAY_MAX + 1);
    says("collecting date: a day from 1900-01-01 to 2199-12-31 will do");
    start(COT_K_RULE);
    num(COT_F_SHARE, 3);
    says("how a shortage is shared: one of first|priority|prorata will do");
    start(COT_K_FARM);
    text(COT_F_NAME, "x");
    num(COT_F_OWN, 2);
    ck_assert(!cot_fact_check(&f, flaw));
    start(COT_K_CROP);
    text(COT_F_NAME, "x");
    f.value[1] = f.value[0];
    f.value_count = 2;
    says("name: stands twice or out of order");
}
END_TEST

/* --- Sense within one entry
 * ----------------------------------------------------------------------------------------------------- */
START_TEST(codes)
{
    start_line();
    text(COT_F_CODE, "hardly one");
    says("code on the tag: hardly one is no code such as B-0417-K");
    char code[COT_CODE_TEXT], wrong[COT_CODE_TEXT], low[COT_CODE_TEXT];
    cot_code_make("B", 417, code);
    memcpy(wrong, code, sizeof wrong);
    wrong[5] = wrong[5] == '9' ? '8' : '9';
    text(COT_F_CODE, wrong);
    ck_assert(!cot_fact_check(&f, flaw));
    ck_assert_ptr_nonnull(strstr(flaw, "is mistyped, its last character does not fit"));
    memcpy(low, code, sizeof low);
    low[0] = 'b';
    text(COT_F_CODE, low); /* forgiven when typed, not when written */
    ck_assert(!cot_fact_check(&f, flaw));
    ck_assert_ptr_nonnull(strstr(flaw, "is to be written B-0417-"));
}
END_TEST

START_TEST(lines)
{
    start_line();
    num(COT_F_TRAYS, 2);
    says("plants and trays: give one of them, not both");
    start_line();
    num(COT_F_PLANTS, 0);
    says("an order of nothing: withdraw the line instead");
    start_line();
    num(COT_F_LEAST, 101);
    says("the least worth having (101) is more than plants (100)");
    start_line();
    num(COT_F_CLOSING, 20901);
    says("last day for changes 2027-03-24 lies after collecting date 2027-03-23");
    start_line();
    static const struct cot_id subs[2] = {{{7}}, {{2}}}, twice[2] = {{{7}}, {{7}}};
    ck_assert(cot_fact_set_ids(&f, COT_F_SUBS, subs, 2));
    says("a variety is no substitute for itself");
    ck_assert(cot_fact_set_ids(&f, COT_F_SUBS, twice, 2));
    says("varieties that will do instead, best first: the same one is named twice");
    start(COT_K_LINE);
    farm(&id_a);
    about(&id_b);
    num(COT_F_TRAYS, 2); /* a change may turn plants into trays */
    sound();
}
END_TEST

START_TEST(trays_ordered_need_a_format)
{
    start(COT_K_LINE);
    farm(&id_a);
    char code[COT_CODE_TEXT];
    cot_code_make("A", 2, code);
    text(COT_F_CODE, code);
    id(COT_F_VARIETY, &id_b);
    num(COT_F_DATE, 20900);
    says("plants or trays: say how many are wanted");
    num(COT_F_TRAYS, 4);
    says("trays: say of which tray format");
    id(COT_F_FORMAT, &id_c);
    sound();
}
END_TEST

static void start_count(void)
{
    start(COT_K_COUNT);
    about(&id_a);
    num(COT_F_DAY, 20900);
}

static void tray_says(struct cot_tray_count c, const char *words)
{
    start_count();
    ck_assert(cot_fact_set_counts(&f, COT_F_COUNTS, &c, 1));
    if (words) says(words);
    else sound();
}

START_TEST(counts)
{
    tray_says((struct cot_tray_count){3, 72, 66, 4, 2, 1}, NULL);
    tray_says((struct cot_tray_count){3, 72, 66, 4, 1, 1},
              "tray 3: usable + blanks + culls = 71, but 72 cells were looked at");
    tray_says((struct cot_tray_count){3, 72, -1, 73, -1, -1}, "tray 3: 73 cells counted, but only 72 looked at");
    tray_says((struct cot_tray_count){3, 72, -1, 5, -1, -1}, NULL); /* blanks alone */
    tray_says((struct cot_tray_count){3, -1, 66, -1, -1, -1}, NULL);
    tray_says((struct cot_tray_count){3, 72, -1, -1, 2, -1},
              "tray 3: neither usable nor blanks were counted; give one of them");
    tray_says((struct cot_tray_count){3, 72, 66, 4, 2, 67},
              "tray 3: 67 doubles, but only 66 usable; doubles are counted among the usable");
    tray_says((struct cot_tray_count){3, 72, -1, 4, -1, 73}, "tray 3: 73 doubles, but only 72 cells looked at");
    tray_says((struct cot_tray_count){0, 72, 66, 4, 2, 1},
              "figures of the trays counted: no tray can have the number 0; trays are numbered from 1");
    tray_says((struct cot_tray_count){1, 0, 0, 0, 0, 0}, "tray 1: no cells were looked at");
    tray_says((struct cot_tray_count){1, -2, 1, 1, 1, 1}, "tray 1: -2 cells will not do; 0 to 1000000 will");
    static const struct cot_tray_count two[2] = {{2, 72, 72, 0, 0, 0}, {2, 72, 72, 0, 0, 0}};
    start_count();
    ck_assert(cot_fact_set_counts(&f, COT_F_COUNTS, two, 2));
    says("figures of the trays counted: tray 2 stands twice or out of order; name each once, lowest first");
}
END_TEST

START_TEST(pooled_counts)
{
    start_count();
    says("a stand count needs figures: cells looked at, usable, blanks, culls");
    num(COT_F_USABLE, 260);
    says("cells looked at: say how many");
    num(COT_F_LOOKED, 288);
    sound();
    num(COT_F_BLANKS, 12);
    num(COT_F_CULLS, 6);
    says("the count: usable + blanks + culls = 278, but 288 cells were looked at");
    num(COT_F_USABLE, 270);
    sound();
    static const struct cot_tray_count c = {1, 72, 72, 0, 0, 0};
    ck_assert(cot_fact_set_counts(&f, COT_F_COUNTS, &c, 1));
    says("figures by tray, or of all trays together: give one of them, not both");
}
END_TEST

static void start_sown(void)
{
    static char code[COT_CODE_TEXT];
    start(COT_K_SOWN);
    cot_code_make("B", 9, code);
    text(COT_F_CODE, code);
    id(COT_F_LOT, &id_a);
    id(COT_F_FORMAT, &id_b);
    num(COT_F_DAY, 20900);
}

START_TEST(sowings)
{
    start_sown();
    says("say how many trays were sown, or how many rows of which shared tray");
    num(COT_F_TRAY_ROWS, 3);
    ck_assert(!cot_fact_check(&f, flaw));
    text(COT_F_SHARED, "left");
    sound();
    num(COT_F_TRAYS, 2);
    says("whole trays, or rows of a shared tray: give one of them, not both");
    start_sown();
    num(COT_F_TRAYS, 0);
    says("trays: at least 1 must have been sown");
    num(COT_F_TRAYS, 2);
    num(COT_F_READY, 20899);
    says("day it was done 2027-03-23 lies after expected ready 2027-03-22");
    num(COT_F_READY, 20930);
    sound();
}
END_TEST

START_TEST(lots_crops_formats_losses)
{
    start(COT_K_LOT);
    text(COT_F_NAME, "RH-1");
    id(COT_F_VARIETY, &id_a);
    num(COT_F_TEST_SEEDS, 400);
    says("seeds tested and seeds germinated belong together: give both or neither");
    num(COT_F_TEST_GERM, 401);
    says("of which germinated (401) is more than seeds tested (400)");
    num(COT_F_TEST_GERM, 372);
    sound();
    text(COT_F_REPLICATES, "96, 94, 91, 91");
    says("replicates: whole numbers with one space between them will do");
    text(COT_F_REPLICATES, "96 94 91 90");
    says("replicates: they make 371 germinated, but the test says 372");
    text(COT_F_REPLICATES, "96 94 182");
    says("replicates: 400 seeds tested cannot be split evenly into 3");
    text(COT_F_REPLICATES, "96 94 91 91");
    sound();
    start(COT_K_LOT);
    about(&id_a);
    text(COT_F_REPLICATES, "96 94 91 91"); /* a change that says nothing else of the test */
    sound();
    text(COT_F_REPLICATES, "96");
    says("replicates: one alone is none; give two or more, or leave them out");
    start(COT_K_CROP);
    text(COT_F_NAME, "Leek");
    num(COT_F_TRAY_DAYS, 60);
    num(COT_F_TRAY_DAYS_MAX, 50);
    says("days from sowing to ready (60) is more than days from sowing until past use (50)");
    start(COT_K_FORMAT);
    text(COT_F_NAME, "72");
    num(COT_F_ROWS, 72);
    num(COT_F_COLS, 72);
    says("rows x columns make 5184 cells; a tray of at most 4000 cells will do");
    start(COT_K_LOST);
    about(&id_a);
    num(COT_F_DAY, 20900);
    text(COT_F_WHY, "mice");
    says("say how many plants or which trays were lost");
    static const int32_t which[3] = {1, 4, 5};
    ck_assert(cot_fact_set_numbers(&f, COT_F_WHICH, which, 3));
    sound();
    num(COT_F_TRAYS, 2);
    says("2 trays were lost, but 3 tray numbers are given");
}
END_TEST

/* One flaw at a time; what is given twice stands as it was given last. */
static void start_raising(void)
{
    start(COT_K_RAISING);
    text(COT_F_NAME, "Lettuce in winter");
    id(COT_F_CROP, &id_a);
    num(COT_F_TRAY_DAYS, 42);
}

START_TEST(places_and_raising_days)
{
    start(COT_K_PLACE);
    text(COT_F_NAME, "bench 3");
    num(COT_F_SORT, 1);
    says("place: space (\"spots\") is missing");
    num(COT_F_SPOTS, 0);
    says("space: 0 trays will not do; 1 to 100000 will");
    num(COT_F_SPOTS, 40);
    sound();
    num(COT_F_FROM, 20000);
    num(COT_F_UNTIL, 20000);
    sound();
    num(COT_F_UNTIL, 19999);
    says("from 2024-10-04 lies after until 2024-10-03");
    start(COT_K_SHUT);
    says("closing: from (\"from\") is missing");
    num(COT_F_FROM, 20000);
    sound(); /* the house */
    about(&id_a);
    sound(); /* a place */
    start_raising();
    sound();
    num(COT_F_CHAMBER_DAYS, 43);
    says("days in the germination chamber (43) is more than days from sowing to ready (42)");
    start_raising();
    num(COT_F_FROM_WEEK, 40);
    says("a season has a first and a last week: give both or neither");
    num(COT_F_TO_WEEK, 9);
    sound();
    num(COT_F_POT_DAYS, 20);
    says("potting on: say after how many days, and to which tray format");
    id(COT_F_POT_FORMAT, &id_b);
    sound();
    id(COT_F_FORMAT, &id_b);
    says("potted on to the tray format that it was sown in");
    start(COT_K_RAISING);
    about(&id_a);
    num(COT_F_FROM_WEEK, 41); /* a change need not say all */
    sound();
}
END_TEST

START_TEST(stock_on_hand)
{
    start(COT_K_STOCK);
    num(COT_F_DAY, 20000);
    says("growing mix, labels, or trays: give exactly one of them");
    num(COT_F_MIX_L, 0);
    sound();
    num(COT_F_LABELS, 4);
    says("growing mix, labels, or trays: give exactly one of them");
    start(COT_K_STOCK);
    num(COT_F_DAY, 20000);
    num(COT_F_TRAYS, 40);
    says("trays: say of which tray format");
    id(COT_F_FORMAT, &id_a);
    sound();
    start(COT_K_STOCK);
    num(COT_F_DAY, 20000);
    num(COT_F_LABELS, 40);
    id(COT_F_FORMAT, &id_a);
    says("a tray format goes with trays only: leave it out");
}
END_TEST

static void start_planned(void)
{
    static char code[COT_CODE_TEXT];
    start(COT_K_PLANNED);
    cot_code_make("A", 1, code);
    text(COT_F_CODE, code);
    id(COT_F_LOT, &id_a);
    id(COT_F_FORMAT, &id_b);
    num(COT_F_SOW_DAY, 20000);
}

START_TEST(planned_sowings)
{
    start_planned();
    says("say how many trays are to be sown, or how many rows of which shared tray");
    num(COT_F_TRAY_ROWS, 3);
    says("say how many trays are to be sown, or how many rows of which shared tray");
    text(COT_F_SHARED, "mixed");
    sound();
    num(COT_F_TRAYS, 3);
    says("whole trays, or rows of a shared tray: give one of them, not both");
    start_planned();
    num(COT_F_TRAYS, 0);
    says("trays: at least 1; a planned sowing that is not wanted any more is dropped");
    num(COT_F_TRAYS, 6);
    num(COT_F_READY, 19999);
    says("day to sow 2024-10-04 lies after expected ready 2024-10-03");
    num(COT_F_READY, 20030);
    text(COT_F_PINS, "trays sow_day");
    sound();
    text(COT_F_PINS, "trays  sow_day");
    says("pinned: a planned sowing has no field \"\"");
    text(COT_F_PINS, "day");
    says("pinned: a planned sowing has no field \"day\"");
    text(COT_F_PINS, "pins");
    says("pinned: a planned sowing has no field \"pins\"");
    start(COT_K_RULE);
    static const int32_t days[] = {1, 2, 8};
    ck_assert(cot_fact_set_numbers(&f, COT_F_WORK_DAYS, days, 3));
    says("working days: 8 is no day of the week; 1 (Monday) to 7 (Sunday) are");
    ck_assert(cot_fact_set_numbers(&f, COT_F_WORK_DAYS, days, 2));
    sound();
}
END_TEST

START_TEST(members_and_devices)
{
    start(COT_K_MEMBER);
    text(COT_F_NAME, "Celin");
    num(COT_F_PART, COT_PART_BUYER);
    says("a buyer is of one farm: name the farm");
    farm(&id_a);
    sound();
    num(COT_F_PART, COT_PART_HAND);
    says("only a buyer is of one farm: leave the farm out");
    start(COT_K_DEVICE);
    id(COT_F_MEMBER, &id_a);
    id(COT_F_KEY, &id_b);
    text(COT_F_TAG, "b");
    says("device tag: 1 to 4 letters A to Z will do");
    text(COT_F_TAG, "B");
    sound();
}
END_TEST

Suite *cot_suite(void)
{
    const TTest *const tests[] = {
        fields_stay_in_order,
        full,
        scopes,
        kind_and_header,
        known_and_required_fields,
        types_and_ranges,
        codes,
        lines,
        trays_ordered_need_a_format,
        counts,
        pooled_counts,
        sowings,
        lots_crops_formats_losses,
        members_and_devices,
        places_and_raising_days,
        stock_on_hand,
        planned_sowings,
    };
    Suite *s = suite_create("fact");
    TCase *t = tcase_create("fact");
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) tcase_add_test(t, tests[i]);
    suite_add_tcase(s, t);
    return s;
}
