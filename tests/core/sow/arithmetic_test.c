/* docs/arithmetic.md, "How many trays": every worked example there is computed here again, and must stand there word
 * for word. */
#include <string.h>

#include "../page.h"
#include "plain.h"

/* The lot of the page: 372 of 400 seeds tested, flat raw seed, one hole for a cell. */
static struct cot_sow page_sow(void)
{
    struct cot_sow s = plain_sow(128);
    struct cot_germ_known g = {.test_seeds = 400, .test_germ = 372, .label = -1, .lawful = -1};
    struct cot_germ germ;
    ck_assert_int_eq(cot_germ_of(&g, &germ, NULL), COT_OK);
    s.germ_a = germ.a;
    s.germ_b = germ.b;
    s.emerge = 0.97;
    struct cot_drop_known k = {.seeds = 1, .singling = cot_singling_usual(COT_SEED_RAW, COT_SHAPE_FLAT)};
    ck_assert_int_eq(cot_drop_of(&k, &s.cell.drop, NULL), COT_OK);
    return s;
}

START_TEST(seeds_in_a_cell)
{
    struct cot_drop_known eight = {.seeds = 8, .singling = {40, 40}}, right = eight;
    struct cot_cell one = {.at_least = 1}, clump = {.at_least = 5}, filled = {.at_least = 5};
    one.drop = page_sow().cell.drop;
    right.put_right = true;
    ck_assert_int_eq(cot_drop_of(&eight, &clump.drop, NULL), COT_OK);
    ck_assert_int_eq(cot_drop_of(&right, &filled.drop, NULL), COT_OK);
    put("a seed gives a plant fit to go         60 %%     80 %%     90 %%\n");
    put("one hole, 1 plant wanted          %8.1f %%%7.1f %%%7.1f %%\n", 100 * cot_cell_usable(&one, 0.6),
        100 * cot_cell_usable(&one, 0.8), 100 * cot_cell_usable(&one, 0.9));
    put("eight holes, 5 plants wanted      %8.1f %%%7.1f %%%7.1f %%\n", 100 * cot_cell_usable(&clump, 0.6),
        100 * cot_cell_usable(&clump, 0.8), 100 * cot_cell_usable(&clump, 0.9));
    put("the same, misses put right        %8.1f %%%7.1f %%%7.1f %%\n", 100 * cot_cell_usable(&filled, 0.6),
        100 * cot_cell_usable(&filled, 0.8), 100 * cot_cell_usable(&filled, 0.9));
    compare("cells");
}
END_TEST

START_TEST(trays)
{
    struct cot_sow s = page_sow();
    struct cot_sow_answer a, fewer;
    struct cot_sow_seeds seeds;
    ck_assert_int_eq(cot_sow_trays(&s, 1000, 900, &a, NULL), COT_OK);
    ck_assert_int_eq(cot_sow_promise(&s, a.trays - 1, 1000, 900, &fewer, NULL), COT_OK);
    ck_assert_int_eq(cot_sow_seeds(&s, a.trays, 900, &seeds, NULL), COT_OK);
    put("trays                            %5ld          %5ld\n", (long)fewer.trays, (long)a.trays);
    put("likely                           %5ld plants   %5ld plants\n", (long)fewer.likely, (long)a.likely);
    put("count on, 9 in 10                %5ld plants   %5ld plants\n", (long)fewer.count_on, (long)a.count_on);
    put("chance of 1000 plants            %5.1f %%        %5.1f %%\n", 100 * fewer.chance, 100 * a.chance);
    put("seeds on average, enough for                 %5ld and %ld\n", (long)seeds.mean, (long)seeds.enough);
    compare("trays");
}
END_TEST

START_TEST(allowance)
{
    static const char *const words[COT_CAUSE_COUNT] = {
        [COT_CAUSE_EMPTY] = "cells that the seeder leaves empty",
        [COT_CAUSE_GERM] = "seeds that do not germinate",
        [COT_CAUSE_EMERGE] = "seeds that do not emerge here",
        [COT_CAUSE_UNFIT] = "plants not fit to go",
        [COT_CAUSE_LOST] = "lost before collecting",
        [COT_CAUSE_LUCK] = "luck, were all trays alike",
        [COT_CAUSE_TRAYS] = "trays are not alike",
        [COT_CAUSE_BATCHES] = "batches are not alike",
        [COT_CAUSE_WHOLE] = "whole trays",
    };
    struct cot_sow s = page_sow();
    struct cot_sow_answer a;
    struct cot_sow_parts p;
    ck_assert_int_eq(cot_sow_trays(&s, 1000, 900, &a, NULL), COT_OK);
    ck_assert_int_eq(cot_sow_parts(&s, 1000, 900, a.trays, &p, NULL), COT_OK);
    put("%-41s %6ld\n", "plants wanted", (long)p.wanted);
    for (int c = 0; c < COT_CAUSE_COUNT; c++) {
        if (c <= COT_CAUSE_LOST) put("%-34s %5.1f %% %5ld\n", words[c], 100 * p.share[c], (long)p.part[c]);
        else put("%-41s %6ld\n", words[c], (long)p.part[c]);
    }
    put("%-41s %6ld\n", "cells sown", (long)p.cells);
    compare("allowance");
}
END_TEST

START_TEST(several_days)
{
    struct cot_sow s = page_sow();
    static const int64_t days[] = {1, 2, 4, 8};
    put("sown on       trays for 10000 plants    batches and test\n");
    for (int i = 0; i < 4; i++) {
        struct cot_sow_answer a;
        struct cot_sow_parts p;
        s.batches = days[i];
        ck_assert_int_eq(cot_sow_trays(&s, 10000, 900, &a, NULL), COT_OK);
        ck_assert_int_eq(cot_sow_parts(&s, 10000, 900, a.trays, &p, NULL), COT_OK);
        put("%2ld day%s%18ld         %12ld cells\n", (long)days[i], days[i] == 1 ? " " : "s", (long)a.trays,
            (long)p.part[COT_CAUSE_BATCHES]);
    }
    compare("days");
}
END_TEST

START_TEST(potted_on)
{
    struct cot_sow s = page_sow();
    struct cot_pot_on to = {.take_a = COT_TAKE_A, .take_b = COT_TAKE_B, .tray_cells = 50, .plug_room = 1, .room = 1};
    struct cot_pot_answer a;
    ck_assert_int_eq(cot_pot_trays(&s, &to, 450, 900, &a, NULL), COT_OK);
    put("trays of 128 to sow              %5ld\n", (long)a.plug_trays);
    put("plants to pot on, likely         %5ld, count on %ld\n", (long)a.plugs_likely, (long)a.plugs_count_on);
    put("trays of 50 to pot on into       %5ld\n", (long)a.trays);
    put("plants in the end, likely        %5ld, count on %ld\n", (long)a.likely, (long)a.count_on);
    put("chance of 450 plants             %5.1f %%\n", 100 * a.chance);
    compare("potted");
}
END_TEST

static void start_text(void)
{
    example_used = 0;
    example_text[0] = '\0';
}

static void add(Suite *suite, const char *example, const TTest *test)
{
    TCase *c = tcase_create(example);
    tcase_add_checked_fixture(c, start_text, NULL);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, test);
    suite_add_tcase(suite, c);
}

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/sow/arithmetic");
    add(suite, "cells", seeds_in_a_cell);
    add(suite, "trays", trays);
    add(suite, "allowance", allowance);
    add(suite, "days", several_days);
    add(suite, "potted", potted_on);
    return suite;
}
