/* Options: where they may stand, what is refused, what is suggested. */
#include "args.h"

#include <string.h>

#include "../main.h"
#include "words.h"

static const struct cot_command command = {"sow", "LOT FORMAT --trays N", "", "", 0, NULL};
static const struct cot_opt opts[] = {
    {"trays", "N", COT_F_TRAYS}, {"by-hand", NULL, -1}, {"note", "TEXT", COT_F_TEXT}, COT_OPT_END};
static struct cot_cli cli;
static struct cot_args got;

#define READ(least, most, ...)                                                                                         \
    cot_args_read(&cli, sizeof((char *[]){"sow", __VA_ARGS__}) / sizeof(char *), (char *[]){"sow", __VA_ARGS__}, opts, \
                  least, most, &got)

static void start(void)
{
    memset(&cli, 0, sizeof cli);
    cli.command = &command;
}

START_TEST(options_stand_anywhere)
{
    ck_assert_int_eq(READ(2, 2, "--trays", "6", "lot", "--note=two words", "128", "--by-hand"), COT_OK);
    ck_assert_int_eq(got.count, 2);
    ck_assert_str_eq(got.word[0], "lot");
    ck_assert_str_eq(got.word[1], "128");
    ck_assert_str_eq(cot_args_value(&got, opts, "trays"), "6");
    ck_assert_str_eq(cot_args_value(&got, opts, "note"), "two words");
    ck_assert_str_eq(cot_args_value(&got, opts, "by-hand"), "");
    cot_args_free(&got);
}
END_TEST

START_TEST(two_dashes_end_the_options)
{
    ck_assert_int_eq(READ(1, 3, "--", "--trays", "6"), COT_OK);
    ck_assert_int_eq(got.count, 2);
    ck_assert_str_eq(got.word[0], "--trays");
    ck_assert_ptr_null(cot_args_value(&got, opts, "trays"));
    cot_args_free(&got);
}
END_TEST

START_TEST(a_negative_number_is_a_value)
{
    ck_assert_int_eq(READ(0, 0, "--trays", "-300"), COT_OK);
    ck_assert_str_eq(cot_args_value(&got, opts, "trays"), "-300");
    cot_args_free(&got);
}
END_TEST

static const struct {
    char *argv[3];
    const char *msg, *hint;
} refused[] = {
    {{"--tray", "6", "lot"}, "no option --tray", "did you mean --trays"},
    {{"--colour", "6", "lot"}, "no option --colour", "lists its options"},
    {{"lot", "--trays", "--by-hand"}, "--trays needs a value", "--trays=VALUE"},
    {{"lot", "6", "--trays"}, "--trays needs a value", "--trays=VALUE"},
    {{"--trays=1", "--trays=2", "lot"}, "given twice", ""},
    {{"--by-hand=yes", "lot", "6"}, "takes no value", ""},
    {{"lot", "128", "more"}, "does not know what to do with \"more\"", "usage: cotyl sow"},
    {{"--by-hand", "--trays=2", "--note=x"}, "needs at least 1 word, not 0", "usage: cotyl sow"},
};

START_TEST(refusals)
{
    ck_assert_int_eq(READ(1, 2, refused[_i].argv[0], refused[_i].argv[1], refused[_i].argv[2]), COT_USAGE);
    ck_assert_msg(strstr(cli.fault.msg, refused[_i].msg) != NULL, "%s", cli.fault.msg);
    ck_assert_msg(strstr(cli.fault.hint, refused[_i].hint) != NULL, "%s", cli.fault.hint);
}
END_TEST

START_TEST(fields_are_read_into_the_fact)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    ck_assert_int_eq(READ(0, 0, "--trays", "6", "--note", "none"), COT_OK);
    ck_assert_int_eq(cot_args_fields(&cli, &got, opts, &f), COT_OK);
    ck_assert_int_eq(cot_fact_int(&f, COT_F_TRAYS, 0), 6);
    ck_assert_int_eq(cot_fact_value(&f, COT_F_TEXT)->type, COT_T_NONE);
    cot_args_free(&got);
    memset(&f, 0, sizeof f);
    ck_assert_int_eq(READ(0, 0, "--trays", "six"), COT_OK);
    ck_assert_int_ne(cot_args_fields(&cli, &got, opts, &f), COT_OK);
    ck_assert_msg(strncmp(cli.fault.msg, "--trays: ", 9) == 0, "%s", cli.fault.msg);
    cot_args_free(&got);
}
END_TEST

START_TEST(edits)
{
    ck_assert_uint_eq(cot_edits("sow", "sow"), 0);
    ck_assert_uint_eq(cot_edits("swo", "sow"), 1);
    ck_assert_uint_eq(cot_edits("", "sow"), 3);
    ck_assert_uint_eq(cot_edits("count", "coutn"), 1);
    ck_assert_uint_eq(cot_edits("promise", "promises"), 1);
    ck_assert_uint_eq(cot_edits("kitten", "sitting"), 3); /* the example of textbooks */
}
END_TEST

START_TEST(nearest_names)
{
    static const char *const names[] = {"sow", "status", "sync", "count", "close"};
    char out[120];
    cot_nearest("snyc", names, 5, out);
    ck_assert_str_eq(out, "sync");
    cot_nearest("stat", names, 5, out);
    ck_assert_str_eq(out, "status");
    cot_nearest("xyzzy", names, 5, out);
    ck_assert_str_eq(out, "");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/args");
    TCase *c = tcase_create("args");
    tcase_add_checked_fixture(c, start, NULL);
    tcase_add_test(c, options_stand_anywhere);
    tcase_add_test(c, two_dashes_end_the_options);
    tcase_add_test(c, a_negative_number_is_a_value);
    tcase_add_loop_test(c, refusals, 0, (int)(sizeof refused / sizeof refused[0]));
    tcase_add_test(c, fields_are_read_into_the_fact);
    tcase_add_test(c, edits);
    tcase_add_test(c, nearest_names);
    suite_add_tcase(s, c);
    return s;
}
