/* The table of commands: what its synopses promise, the commands know. */
#include "commands.h"

#include <ctype.h>
#include <string.h>

#include "fixture.h"
#include "main.h"

static struct cot_fixture f;

static void start(void)
{
    cot_fixture_start(&f, COT_PART_MANAGER);
}

static void stop(void)
{
    cot_fixture_end(&f);
}

static int command_count(void)
{
    int n = 0;
    while (cot_commands[n].name) n++;
    return n;
}

START_TEST(rows_are_whole)
{
    const struct cot_command *c = &cot_commands[_i];
    ck_assert_ptr_nonnull(c->what);
    ck_assert_uint_le(strlen(c->what), 63); /* beside its name in the help */
    if (!c->run) return;
    ck_assert_uint_le(strlen(c->name), 14);
    ck_assert_ptr_nonnull(c->help);
    ck_assert(!(c->needs & COT_NEEDS_NET) || c->needs & COT_NEEDS_KEY);
    ck_assert_ptr_eq(cot_command_find(c->name), c);
    for (int i = 0; i < _i; i++) ck_assert_str_ne(cot_commands[i].name, c->name);
}
END_TEST

/* Each option of the synopsis is tried: the command may complain of its value, not of the option. */
START_TEST(options_of_the_synopsis_are_known)
{
    const struct cot_command *c = &cot_commands[_i];
    if (!c->run || c->needs & COT_NEEDS_NET) return;
    for (const char *p = c->args; (p = strstr(p, "--")) != NULL;) {
        char option[40], line[120];
        size_t len = 2;
        while (islower((unsigned char)p[len]) || (p[len] == '-' && islower((unsigned char)p[len + 1]))) len++;
        snprintf(option, sizeof option, "%.*s", (int)len, p);
        snprintf(line, sizeof line, "%s %s 1", c->name, option);
        cot_fixture_run(&f, line);
        ck_assert_msg(!strstr(f.err, "has no option"), "%s: %s", line, f.err);
        p += len;
    }
}
END_TEST

START_TEST(no_command_knows_an_option_that_is_none)
{
    const struct cot_command *c = &cot_commands[_i];
    char line[80];
    if (!c->run) return;
    snprintf(line, sizeof line, "%s --no-such-option", c->name);
    int code = cot_fixture_run(&f, line);
    ck_assert_msg(code == cot_err_row(COT_USAGE)->exit_code, "%s: exit %d %s", line, code, f.err);
}
END_TEST

START_TEST(nearest)
{
    char out[120];
    cot_command_nearest("pormise", out);
    ck_assert_str_eq(out, "promise");
    cot_command_nearest("quux", out);
    ck_assert_str_eq(out, "");
    ck_assert_ptr_null(cot_command_find("")); /* headings are no commands */
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/commands");
    TCase *c = tcase_create("table"), *p = tcase_create("program");
    tcase_add_loop_test(c, rows_are_whole, 0, command_count());
    tcase_add_test(c, nearest);
    suite_add_tcase(s, c);
    tcase_add_unchecked_fixture(p, start, stop);
    tcase_set_timeout(p, 120);
    tcase_add_loop_test(p, options_of_the_synopsis_are_known, 0, command_count());
    tcase_add_loop_test(p, no_command_knows_an_option_that_is_none, 0, command_count());
    suite_add_tcase(s, p);
    return s;
}
