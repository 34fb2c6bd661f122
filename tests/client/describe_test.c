/* add, change, rule, and the help of every command. */
#include "commands.h"
#include "describe.h"
#include "made.h"

#include <string.h>

START_TEST(adding_a_lot)
{
    cot_fixture_must(
        &f, "add lot \"FO-2601\" --variety \"Pale Sluice\" --form primed --test-seeds 400 --test-germ 372 --test-day "
            "2026-11-03 --stock-g 12.5 --organic --owner \"Alder Ford\" --use-by 2027-09-30");
    cot_fixture_says(&f, "Added seed lot FO-2601:");
    cot_fixture_entry_has(&f, "\"form\":\"primed\"");
    cot_fixture_entry_has(&f, "\"stock_mg\":12500");
    cot_fixture_entry_has(&f, "\"organic\":true");
    ck_assert_str_eq(f.err, "");
}
END_TEST

START_TEST(a_lot_without_germination_gets_a_warning)
{
    cot_fixture_must(&f, "add lot FO-2602 --variety \"Pale Sluice\" --treated");
    cot_fixture_warns(&f, "no germination given");
    cot_fixture_says(&f, "Caution: treated seed");
}
END_TEST

START_TEST(lots_of_two_varieties_may_have_one_name)
{
    cot_fixture_must(&f, "add lot RH-2601 --variety \"Pale Sluice\" --label-germ 90%");
    ck_assert_int_eq(cot_fixture_run(&f, "sow RH-2601 128 --trays 1"), cot_err_row(COT_AMBIGUOUS)->exit_code);
}
END_TEST

START_TEST(measures_have_their_units)
{
    cot_fixture_must(&f, "add format \"72 square\" --rows 6 --cols 12 --cell-ml 40.5 --length-mm 540 --width-mm 280");
    cot_fixture_entry_has(&f, "\"cell_ul\":40500");
    cot_fixture_entry_has(&f, "\"length_um\":540000");
    cot_fixture_must(&f, "add plate \"72 one-hole\" --cells 72 --holes 1 --hole-mm 0.8");
    cot_fixture_entry_has(&f, "\"hole_um\":800");
}
END_TEST

START_TEST(changing)
{
    cot_fixture_must(&f, "change lot RH-2601 --label-germ 91% --organic yes");
    cot_fixture_says(&f, "Changed seed lot RH-2601:");
    cot_fixture_must(&f, "change lot RH-2601 --label-germ none --organic yes");
    cot_fixture_entry_has(&f, "\"body\":{\"label_germ\":null}");
    cot_fixture_must(&f, "change farm alder --name \"Alder Ford South\" --contact \"ring before seven\"");
    cot_fixture_says(&f, "name Alder Ford -> Alder Ford South");
    cot_fixture_must(&f, "change line A-0001-B --format any");
    cot_fixture_entry_has(&f, "\"format\":null");
}
END_TEST

START_TEST(rules_are_shown_offline)
{
    cot_fixture_must(&f, "rule");
    cot_fixture_says(&f, "confidence the house works with");
    cot_fixture_must(&f, "rule --json");
    cot_fixture_says(&f, "{\"name\":\"Three Sluices\",\"confidence\":null");
}
END_TEST

/* The server of the fixture answers at no port: nothing may be recorded. */
START_TEST(rules_are_set_online_only)
{
    struct cot_id before, after;
    int64_t n, m;
    cot_fixture_head(&f, &n, &before);
    ck_assert_int_eq(cot_fixture_run(&f, "rule --confidence 85%"), cot_err_row(COT_NETWORK)->exit_code);
    cot_fixture_head(&f, &m, &after);
    ck_assert_int_eq(n, m);
}
END_TEST

START_TEST(names_cannot_move_the_cursor)
{
    cot_fixture_must(&f, "add farm \"Dune\xe2\x80\xae"
                         "Farm\"");
    cot_fixture_says(&f, "\\u{202E}");
}
END_TEST

/* --- Help
 * ----------------------------------------------------------------------------------------------------------------- */

static void check_width(const char *name, const char *help)
{
    for (const char *line = help; *line;) {
        size_t len = strcspn(line, "\n");
        ck_assert_msg(cot_text_columns(line, len) <= 80, "%s: over 80 columns: %.*s", name, (int)len, line);
        line += len + (line[len] == '\n');
    }
}

START_TEST(help_fits_and_has_an_example)
{
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        char example[64];
        if (!c->run) continue;
        ck_assert_ptr_nonnull(c->help);
        check_width(c->name, c->help);
        if (c->args[0] == '\0' || c->args[0] == '[') continue; /* works without a word */
        snprintf(example, sizeof example, "cotyl %s", c->name);
        ck_assert_msg(strstr(c->help, example) != NULL, "the help of %s shows no example", c->name);
    }
}
END_TEST

/* Codes in examples must be ones that a reader can type. */
START_TEST(codes_in_help_are_good)
{
    int codes = 0;
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        for (const char *s = c->run ? c->help : ""; *s; s++) {
            char out[COT_CODE_TEXT];
            bool start =
                *s >= 'A' && *s <= 'Z' && s[1] == '-' && s[2] >= '0' && s[2] <= '9' && (s == c->help || s[-1] == ' ');
            if (!start) continue;
            ck_assert_msg(cot_code_read(s, 8, out) == COT_CODE_GOOD, "%s: %.8s", c->name, s);
            codes++;
        }
    }
    ck_assert_int_gt(codes, 10);
}
END_TEST

/* The options of `add` come from the table of fields, its help is written by hand: none is left out. */
START_TEST(help_of_add_names_every_option)
{
    static const struct {
        const char *word;
        enum cot_kind kind;
    } kinds[] = {{"farm", COT_K_FARM},     {"crop", COT_K_CROP},       {"variety", COT_K_VARIETY},
                 {"format", COT_K_FORMAT}, {"plate", COT_K_PLATE},     {"lot", COT_K_LOT},
                 {"place", COT_K_PLACE},   {"raising", COT_K_RAISING}, {"planned", COT_K_PLANNED}};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        struct cot_describe d;
        char start[40], block[2000], option[40];
        snprintf(start, sizeof start, "  add %s ", kinds[i].word);
        const char *from = strstr(cot_help_add, start);
        ck_assert_msg(from != NULL, "no %s in the help of add", kinds[i].word);
        const char *next = strstr(from + 3, "\n  add "), *blank = strstr(from, "\n\n");
        const char *end = next && next < blank ? next : blank;
        snprintf(block, sizeof block, "%.*s ", (int)(end - from), from);
        for (char *p = block; *p; p++)
            if (*p == '\n' || *p == ',') *p = ' ';
        cot_describe_options(&d, kinds[i].kind, false);
        for (const struct cot_opt *o = d.opt; o->name; o++) {
            snprintf(option, sizeof option, "--%s ", o->name);
            ck_assert_msg(strstr(block, option) != NULL, "the help of add %s does not name %s", kinds[i].word, option);
        }
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("describing");
    TCase *c = tcase_create("house"), *h = tcase_create("help");
    tcase_set_timeout(c, 120);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, adding_a_lot);
    tcase_add_test(c, a_lot_without_germination_gets_a_warning);
    tcase_add_test(c, lots_of_two_varieties_may_have_one_name);
    tcase_add_test(c, measures_have_their_units);
    tcase_add_test(c, changing);
    tcase_add_test(c, rules_are_shown_offline);
    tcase_add_test(c, rules_are_set_online_only);
    tcase_add_test(c, names_cannot_move_the_cursor);
    suite_add_tcase(s, c);
    tcase_add_test(h, help_fits_and_has_an_example);
    tcase_add_test(h, help_of_add_names_every_option);
    tcase_add_test(h, codes_in_help_are_good);
    suite_add_tcase(s, h);
    return s;
}
