/* The fill report as a page, and files that are whole or not there. */
#include "made.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char *slurp(const char *path)
{
    static char page[400000];
    FILE *in = fopen(path, "rb");
    if (!in) return NULL;
    page[fread(page, 1, sizeof page - 1, in)] = '\0';
    fclose(in);
    return page;
}

static const char *path_of(const char *name)
{
    static char path[160];
    snprintf(path, sizeof path, "%s/%s", f.root, name);
    return path;
}

/* Elements without an end: of those that the page has (HTML Living Standard, 13.1.2, void elements). In SVG an element
 * may end itself. */
static bool is_void(const char *name)
{
    static const char *const names[] = {"meta", "br"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i], name) == 0) return true;
    return false;
}

/* Every element that is opened is closed, in its order; outside of tags no bare & or <. */
static void well_formed(const char *page)
{
    char open[64][16];
    int depth = 0;
    for (const char *p = strstr(page, "<html"); p && *p; p++) {
        if (*p == '&')
            ck_assert_msg(strncmp(p, "&lt;", 4) == 0 || strncmp(p, "&gt;", 4) == 0 || strncmp(p, "&amp;", 5) == 0 ||
                              strncmp(p, "&quot;", 6) == 0,
                          "bare &: %.40s", p);
        if (*p != '<') continue;
        const char *end = strchr(p, '>');
        ck_assert_msg(end != NULL, "no end: %.40s", p);
        bool closes = p[1] == '/';
        char name[16];
        size_t len = strcspn(p + 1 + closes, " >/");
        ck_assert_uint_lt(len, sizeof name);
        snprintf(name, sizeof name, "%.*s", (int)len, p + 1 + closes);
        if (closes) {
            ck_assert_msg(depth > 0 && strcmp(open[depth - 1], name) == 0, "</%s> closes <%s>", name,
                          depth > 0 ? open[depth - 1] : "");
            depth--;
        } else if (end[-1] != '/' && !is_void(name)) {
            ck_assert_int_lt(depth, 64);
            snprintf(open[depth++], sizeof open[0], "%s", name);
        }
        p = end;
    }
    ck_assert_int_eq(depth, 0);
}

START_TEST(one_farm)
{
    cot_fixture_must(&f, "fill --farm \"Alder Ford\" --html");
    says("<!doctype html>");
    says("<title>Alder Ford: fill report of ");
    says("<p class=\"headline\">");
    says("role=\"img\" aria-label=\"likely ");
    says("Check code <strong>");
    ck_assert_ptr_null(strstr(f.out, "<script"));
    ck_assert_ptr_null(strstr(f.out, "http"));
    ck_assert_ptr_null(strstr(f.out, "Weir Hill"));
    well_formed(f.out);
}
END_TEST

START_TEST(all_farms)
{
    cot_fixture_must(&f, "hand-over A-0001-B A-0003-7 --plants 100 --trays 1 --owed 1");
    cot_fixture_must(&f, "fill --html");
    says("Farm, shortest first");
    says("<h2><bdi>Weir Hill</bdi></h2>");
    says("<h3>Handed over</h3>");
    well_formed(f.out);
}
END_TEST

/* A name is text, whatever is in it: markup, quotes, a character that turns the direction, three hundred letters. */
START_TEST(names_are_text)
{
    char line[600], name[121];
    cot_fixture_must(&f, "change farm \"Alder Ford\" --name \"<b>Ford</b>&\xe2\x80\xae\"");
    cot_fixture_must(&f, "fill --html");
    says("&lt;b&gt;Ford&lt;/b&gt;&amp;");
    ck_assert_ptr_null(strstr(f.out, "<b>"));
    ck_assert_ptr_null(strstr(f.out, "\xe2\x80\xae"));
    well_formed(f.out);
    memset(name, 'x', 120);
    name[120] = '\0';
    snprintf(line, sizeof line, "add farm %s", name);
    cot_fixture_must(&f, line);
    snprintf(line, sizeof line, "fill --html --farm %s", name);
    cot_fixture_must(&f, line);
    says("No lines.");
    well_formed(f.out);
}
END_TEST

START_TEST(into_a_file)
{
    char line[300];
    snprintf(line, sizeof line, "fill --html --out %s", path_of("alder.html"));
    cot_fixture_must(&f, line);
    ck_assert_str_eq(f.out, "");
    warns("Written to ");
    well_formed(slurp(path_of("alder.html")));
    snprintf(line, sizeof line, "fill --csv --out %s", path_of("fill.csv"));
    cot_fixture_must(&f, line);
    ck_assert_ptr_nonnull(strstr(slurp(path_of("fill.csv")), "Red Harbour"));
    snprintf(line, sizeof line, "fill --html --out %s", path_of("no/such/folder.html"));
    ck_assert_int_eq(cot_fixture_run(&f, line), cot_err_row(COT_IO)->exit_code);
    warns("cannot be written");
    ck_assert_ptr_null(slurp(path_of("no/such/folder.html")));
    ck_assert_int_eq(cot_fixture_run(&f, "fill --html --csv"), cot_err_row(COT_USAGE)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "fill --html --farm Nowhere"), cot_err_row(COT_NOT_FOUND)->exit_code);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/page");
    TCase *c = tcase_create("page");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, one_farm);
    tcase_add_test(c, all_farms);
    tcase_add_test(c, names_are_text);
    tcase_add_test(c, into_a_file);
    suite_add_tcase(s, c);
    return s;
}
