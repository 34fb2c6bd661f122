/* The growers' guide is played: every command that can be done without a server must work, in the order and on the days
 * of the page, and answer what the page says it answers. */
#include "fixture.h"
#include "main.h"

#include <stdlib.h>
#include <string.h>

static struct cot_fixture f;

/* Made online only, or with a file that the page does not have. */
static bool needs_server(const char *line)
{
    static const char *const names[] = {"join ", "invite ", "sync", "rule "};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strncmp(line, names[i], strlen(names[i])) == 0) return true;
    return false;
}

/* "<!-- day 2027-03-05 -->" sets the laptop's clock. */
static bool take_day(const char *line)
{
    char instant[32];
    const char *day = strstr(line, "<!-- day ");
    if (!day) return false;
    snprintf(instant, sizeof instant, "%.10sT08:00:00Z", day + strlen("<!-- day "));
    cot_fixture_set_clock(&f, instant);
    return true;
}

START_TEST(the_guide_is_true)
{
    char line[400];
    int commands = 0, answers = 0;
    bool run = false;
    FILE *page = fopen(COT_TESTS_DIR "/../docs/guide.md", "r");
    ck_assert_ptr_nonnull(page);
    ck_assert_int_eq(setenv("COTYL_CATALOGUE", COT_TESTS_DIR "/../deploy/catalogue", 1), 0);
    cot_fixture_start(&f, COT_PART_MANAGER);
    while (fgets(line, sizeof line, page)) {
        line[strcspn(line, "\n")] = '\0';
        if (take_day(line) || strncmp(line, "    ", 4) != 0) continue;
        if (strncmp(line + 4, "$ cotyl ", 8) == 0) {
            run = !needs_server(line + 12);
            if (run) cot_fixture_must(&f, line + 12);
            commands += run;
        } else if (run) {
            ck_assert_msg(cot_fixture_has(f.out, line + 4 + strspn(line + 4, " ")), "the guide says\n%s\nand cotyl\n%s",
                          line, f.out);
            answers++;
        }
    }
    fclose(page);
    ck_assert_int_gt(commands, 40);
    ck_assert_int_gt(answers, 20);
    cot_fixture_end(&f);
}
END_TEST

/* The words of the ledger's inside are not for growers. */
START_TEST(the_guide_speaks_plainly)
{
    static const char *const words[] = {"entry", "entries", "seal", "position", "digest", "ledger", "journal", "epoch"};
    char line[400];
    FILE *page = fopen(COT_TESTS_DIR "/../docs/guide.md", "r");
    ck_assert_ptr_nonnull(page);
    for (int n = 1; fgets(line, sizeof line, page); n++)
        for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
            ck_assert_msg(strstr(line, words[i]) == NULL, "guide.md:%d says \"%s\"", n, words[i]);
    fclose(page);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("guide");
    TCase *c = tcase_create("played");
    tcase_set_timeout(c, 120);
    tcase_add_test(c, the_guide_is_true);
    tcase_add_test(c, the_guide_speaks_plainly);
    suite_add_tcase(s, c);
    return s;
}
