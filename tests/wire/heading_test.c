/* Every heading that docs/sheets.md names is known, and means one thing; every field of a kind has a row there. */
#include "../../server/wire/sheet_inner.h"
#include "files.h"

static const struct {
    enum cot_kind kind;
    const char *heading;
} kinds[] = {
    {COT_K_LINE, "\n### orders\n"},       {COT_K_FARM, "\n### farms\n"},     {COT_K_CROP, "\n### crops\n"},
    {COT_K_VARIETY, "\n### varieties\n"}, {COT_K_FORMAT, "\n### formats\n"}, {COT_K_PLATE, "\n### plates\n"},
    {COT_K_LOT, "\n### lots\n"},          {COT_K_PLACE, "\n### places\n"},   {COT_K_RAISING, "\n### raisings\n"},
};

/* The part of the page between the heading and the next one; the caller frees. */
static char *part(const char *page, const char *heading)
{
    const char *start = strstr(page, heading);
    ck_assert_msg(start != NULL, "docs/sheets.md has no heading %s", heading);
    start += strlen(heading);
    const char *end = strstr(start, "\n#");
    return strndup(start, end ? (size_t)(end - start) : strlen(start));
}

/* Checks the headings in backticks behind the row's second bar; what they mean. */
static int check_row(enum cot_kind kind, const char *row, size_t len)
{
    int meant = -1;
    const char *end = row + len, *p = memchr(row + 1, '|', len - 1);
    ck_assert_ptr_nonnull(p);
    while ((p = memchr(p, '`', (size_t)(end - p))) != NULL) {
        char heading[100], unit[COT_SQUEEZED];
        const char *close = memchr(p + 1, '`', (size_t)(end - p - 1));
        ck_assert_ptr_nonnull(close);
        snprintf(heading, sizeof heading, "%.*s", (int)(close - p - 1), p + 1);
        int what = cot_heading_find(kind, heading, unit);
        ck_assert_msg(what != COT_COL_NONE, "the page knows \"%s\", the program does not", heading);
        ck_assert_msg(meant < 0 || meant == what, "\"%s\" means another thing than its neighbours", heading);
        meant = what;
        p = close + 1;
    }
    return meant;
}

START_TEST(page_and_program)
{
    struct file page;
    char path[1200];
    bool seen[COT_COL_NONE + 1] = {false};
    snprintf(path, sizeof path, "%s/../docs/sheets.md", COT_TESTS_DIR);
    file_read(path, &page);
    char *text = part(page.bytes, kinds[_i].heading);
    for (const char *p = text; *p;) {
        size_t len = strcspn(p, "\n");
        if (len > 4 && p[0] == '|' && p[2] != '-' && strncmp(p, "| column |", 10) != 0) {
            int what = check_row(kinds[_i].kind, p, len);
            ck_assert_int_ge(what, 0);
            ck_assert_msg(!seen[what], "two rows mean the same: %.*s", (int)len, p);
            seen[what] = true;
        }
        p += len + (p[len] == '\n');
    }
    const struct cot_kind_row *kind = cot_kind_row(kinds[_i].kind);
    for (unsigned i = 0; i < kind->field_count; i++) {
        enum cot_field f = kind->fields[i].field;
        if (f != COT_F_CODE) ck_assert_msg(seen[f], "the page has no row for %s", cot_field_row(f)->name);
    }
    free(text);
    free(page.bytes);
}
END_TEST

/* Case, blanks, punctuation and accents do not count. */
START_TEST(spellings)
{
    static const struct {
        const char *heading;
        int what;
        const char *unit;
    } cases[] = {
        {"VARIETY", COT_F_VARIETY, ""},
        {"  variety: ", COT_F_VARIETY, ""},
        {"Vari\xc3\xa9t\xc3\xa9", COT_F_VARIETY, ""},
        {"plants_wanted", COT_F_PLANTS, ""},
        {"Plants-Wanted", COT_F_PLANTS, ""},
        {"Qty (trays)", COT_COL_QUANTITY, "trays"},
        {"Qty [plants]", COT_COL_QUANTITY, "plants"},
        {"sp\xc3\xa4ter", COT_F_LATE, ""},
        {"late (days)", COT_F_LATE, "days"},
        {"", COT_COL_BLANK, ""},
        {"price", COT_COL_NONE, ""},
        {"Qty (boxes)", COT_COL_NONE, ""},
        {"\xe5\x93\x81\xe7\xa8\xae", COT_COL_NONE, ""},
    };
    char unit[COT_SQUEEZED];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        ck_assert_msg(cot_heading_find(COT_K_LINE, cases[i].heading, unit) == cases[i].what, "%s", cases[i].heading);
        ck_assert_str_eq(unit, cases[i].unit);
    }
    ck_assert_int_eq(cot_heading_find(COT_K_FORMAT, "Cell volume (in mL)", unit), COT_F_CELL_UL);
    ck_assert_str_eq(unit, "ml");
    ck_assert_int_eq(cot_heading_find(COT_K_LOT, "Germination%", unit), COT_F_LABEL_GERM);
    ck_assert_str_eq(unit, "%");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/heading");
    TCase *t = tcase_create("headings");
    tcase_add_loop_test(t, page_and_program, 0, (int)(sizeof kinds / sizeof kinds[0]));
    tcase_add_test(t, spellings);
    suite_add_tcase(s, t);
    return s;
}
