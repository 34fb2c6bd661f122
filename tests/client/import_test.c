/* import as people run it: files, dry runs, what is refused, and lists that come back. */
#include "main.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "client.h"
#include "fixture.h"

static struct cot_fixture f;

static void start(void)
{
    cot_fixture_start(&f, COT_PART_MANAGER);
    cot_fixture_play(&f, cot_fixture_house);
}

/* Writes NAME in the scratch folder and gives its path. */
static const char *file(const char *name, const char *bytes, size_t len)
{
    static char path[200];
    snprintf(path, sizeof path, "%s/%s", f.root, name);
    FILE *out = fopen(path, "wb");
    ck_assert_ptr_nonnull(out);
    ck_assert_uint_eq(fwrite(bytes, 1, len, out), len);
    ck_assert_int_eq(fclose(out), 0);
    return path;
}

static int import(const char *kind, const char *bytes, const char *options)
{
    char line[600];
    snprintf(line, sizeof line, "import %s %s %s", kind, file("sheet.csv", bytes, strlen(bytes)), options);
    return cot_fixture_run(&f, line);
}

static void says(const char *what)
{
    ck_assert_msg(cot_fixture_has(f.out, what), "no \"%s\" in: %s%s", what, f.out, f.err);
}

static int64_t entries(void)
{
    struct cot_id chain;
    int64_t n;
    cot_fixture_head(&f, &n, &chain);
    return n;
}

#define ORDERS                                                                                                         \
    "Ref;Sorte;Menge;Platte;Datum;Bemerkung\nA1;Red Harbour;1 200;128 square;25.4.2027;early bed\nA2;Pale Sluice;400 " \
    "plants;;1.5.2027;\n"

START_TEST(orders_once)
{
    start();
    int64_t before = entries();
    ck_assert_int_eq(import("orders", ORDERS, "--farm Alder --dates D.M.YYYY --dry-run"), 0);
    says("2  new      the farm's own reference: A1, variety: Red Harbour, plants:");
    says("2 new, 0 changed, 0 the same. Nothing was recorded.");
    says("is read as plants");
    ck_assert_int_eq(entries(), before);
    ck_assert_int_eq(import("orders", ORDERS, "--farm Alder --dates D.M.YYYY"), 0);
    says("2 new, 0 changed, 0 the same.");
    ck_assert_int_eq(entries(), before + 2);
    ck_assert_int_eq(import("orders", ORDERS, "--farm Alder --dates D.M.YYYY"), 0);
    says("0 new, 0 changed, 2 the same.");
    ck_assert_int_eq(entries(), before + 2);
    cot_fixture_must(&f, "orders Alder");
    says("2027-04-25    1200  waiting");
    cot_fixture_end(&f);
}
END_TEST

START_TEST(all_or_nothing)
{
    start();
    int64_t before = entries();
    int rc = import(
        "orders",
        "Variety,Qty,Date\nRed Harbour,300,2027-05-01\nRed,300,2027-05-01\nRed Harbour,1.200,1.5.2027\nTotal,1500,\n",
        "--farm Alder");
    ck_assert_int_eq(rc, cot_err_row(COT_INVALID)->exit_code);
    ck_assert_str_eq(f.out, "");
    ck_assert(cot_fixture_has(f.err,
                              "sheet.csv:3:1: Variety: there is no variety called \"Red\"; did you mean Red Harbour?"));
    ck_assert(cot_fixture_has(f.err, "sheet.csv:4:2: Qty: \"1.200\" can be read in two ways"));
    ck_assert(cot_fixture_has(f.err, "sheet.csv:4:3: Date: \"1.5.2027\" is no date"));
    ck_assert(cot_fixture_has(f.err, "sheet.csv:5:1: Variety: this row looks like a total"));
    ck_assert(cot_fixture_has(f.err, "4 problems in "));
    ck_assert_int_eq(entries(), before);
    cot_fixture_end(&f);
}
END_TEST

START_TEST(many_problems_are_cut_short)
{
    struct cot_buf b = {0};
    start();
    cot_buf_str(&b, "Variety,Plants,Date\n");
    for (int i = 0; i < 130; i++) cot_buf_str(&b, "Red Harbour,x,2027-05-01\n");
    ck_assert_int_eq(import("orders", b.s, "--farm Alder"), cot_err_row(COT_INVALID)->exit_code);
    ck_assert(cot_fixture_has(f.err, "sheet.csv:101:2: Plants:"));
    ck_assert_ptr_null(strstr(f.err, "sheet.csv:102:"));
    ck_assert_ptr_nonnull(strstr(f.err, "\nand 30 more\n"));
    ck_assert(cot_fixture_has(f.err, "130 problems in "));
    cot_buf_free(&b);
    cot_fixture_end(&f);
}
END_TEST

/* What the terminal shows of a hostile file is safe: in problems, in the dry run, in the lists. */
START_TEST(hostile_files)
{
    start();
    ck_assert_int_ne(import("orders", "Variety,Plants,Date\n\x1b]0;x\x07,3,2027-05-01\n", "--farm Alder"), 0);
    ck_assert_ptr_nonnull(strstr(f.err, "\\u{001B}]0;x\\u{0007}"));
    ck_assert_ptr_null(strchr(f.err, '\x1b'));
    ck_assert_int_eq(import("farms", "Farm,Contact\n\xe2\x80\xaemraF,=HYPERLINK(1)\n", "--dry-run"), 0);
    says("\\u{202E}mraF");
    ck_assert_int_eq(import("farms", "Farm,Contact\n\xe2\x80\xaemraF,=HYPERLINK(1)\n", ""), 0);
    cot_fixture_must(&f, "list farms");
    ck_assert_ptr_null(strstr(f.out, "\xe2\x80\xae"));
    cot_fixture_must(&f, "list farms --csv");
    says(",'=HYPERLINK(1),");
    cot_fixture_end(&f);
}
END_TEST

/* What `list --csv` writes, `import` reads, and nothing has changed. */
START_TEST(lists_come_back)
{
    static const char *const kinds[] = {"farms", "crops", "varieties", "formats", "plates", "lots"};
    char line[300];
    start();
    ck_assert_int_eq(import("farms", "Farm,Contact,Own\nHeron Mead,+00 000,yes\n", ""), 0);
    ck_assert_int_eq(
        import("lots", "Lot,Variety,Stock,Germination\nX-1,Red Harbour,12.5 g,0.5 %\nX-2,Red Harbour,5000 seeds,\n",
               ""),
        0);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        snprintf(line, sizeof line, "list %s --csv", kinds[i]);
        cot_fixture_must(&f, line);
        char *csv = strdup(f.out);
        int rc = import(kinds[i], csv, "");
        ck_assert_msg(rc == 0, "%s: %s", kinds[i], f.err);
        says(": 0 new, 0 changed, ");
        free(csv);
    }
    cot_fixture_end(&f);
}
END_TEST

START_TEST(catalogue)
{
    char dir[600];
    start();
    snprintf(dir, sizeof dir, "%s/../deploy/catalogue", COT_TESTS_DIR);
    ck_assert_int_eq(setenv("COTYL_CATALOGUE", dir, 1), 0);
    cot_fixture_must(&f, "import catalogue");
    says("crops.csv: ");
    says("formats.csv: ");
    cot_fixture_must(&f, "import catalogue");
    says("crops.csv: 0 new, 0 changed, ");
    says("formats.csv: 0 new, 0 changed, ");
    ck_assert_int_eq(setenv("COTYL_CATALOGUE", "/nowhere", 1), 0);
    ck_assert_int_eq(cot_fixture_run(&f, "import catalogue"), cot_err_row(COT_NOT_FOUND)->exit_code);
    ck_assert_ptr_nonnull(strstr(f.err, "COTYL_CATALOGUE"));
    cot_fixture_end(&f);
}
END_TEST

START_TEST(treated_lots_get_their_caution)
{
    start();
    ck_assert_int_eq(import("lots", "Lot,Variety,Treated\nT-1,Red Harbour,yes\n", ""), 0);
    says("Caution: treated seed: gloves");
    ck_assert_int_eq(import("lots", "Lot,Variety,Treated\nT-2,Red Harbour,no\n", ""), 0);
    ck_assert_ptr_null(strstr(f.out, "Caution"));
    cot_fixture_end(&f);
}
END_TEST

START_TEST(as_json)
{
    start();
    char line[300];
    snprintf(line, sizeof line, "--json import orders %s --farm Alder --dates D.M.YYYY --dry-run",
             file("sheet.csv", ORDERS, strlen(ORDERS)));
    cot_fixture_must(&f, line);
    json_t *root = json_loads(f.out, JSON_REJECT_DUPLICATES, NULL);
    ck_assert_int_eq(json_integer_value(json_object_get(root, "new")), 2);
    json_t *row = json_array_get(json_object_get(root, "rows"), 0);
    ck_assert_str_eq(json_string_value(json_object_get(json_object_get(row, "fields"), "variety")), "Red Harbour");
    ck_assert_int_eq(json_integer_value(json_object_get(json_object_get(row, "fields"), "plants")), 1200);
    json_decref(root);
    for (int again = 0; again < 2; again++) {
        snprintf(line, sizeof line, "--json import orders %s --farm Alder --dates D.M.YYYY",
                 file("sheet.csv", ORDERS, strlen(ORDERS)));
        cot_fixture_must(&f, line);
        root = json_loads(f.out, JSON_REJECT_DUPLICATES, NULL);
        json_t *counts = json_object_get(root, "counts");
        ck_assert_int_eq(json_integer_value(json_object_get(counts, "new")), again ? 0 : 2);
        ck_assert_int_eq(json_integer_value(json_object_get(counts, "changed")), 0);
        ck_assert_int_eq(json_integer_value(json_object_get(counts, "same")), again ? 2 : 0);
        ck_assert_uint_eq(json_array_size(json_object_get(root, "recorded")), again ? 0 : 2);
        json_decref(root);
    }
    cot_fixture_end(&f);
}
END_TEST

static const struct {
    const char *line;
    enum cot_err err;
    const char *says;
} refusals[] = {
    {"import", COT_USAGE, "at least 1 word"},
    {"import things x.csv", COT_USAGE, "one of: farms, crops"},
    {"import batches x.csv", COT_USAGE, "is nothing that can be imported"},
    {"import lots", COT_USAGE, "of which file"},
    {"import lots /nowhere/x.csv", COT_NOT_FOUND, "unable to open /nowhere/x.csv"},
    {"import lots / ", COT_IO, "unable to read /"},
    {"import lots x.csv --farm Alder", COT_USAGE, "--farm is for orders"},
    {"import orders x.csv --dates MONTH", COT_USAGE, "is no way to write dates"},
    {"import orders x.csv --farm Nobody", COT_NOT_FOUND, "Nobody"},
};

START_TEST(refuses)
{
    start();
    for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++) {
        int rc = cot_fixture_run(&f, refusals[i].line);
        ck_assert_msg(rc == cot_err_row(refusals[i].err)->exit_code, "%s: %d %s", refusals[i].line, rc, f.err);
        ck_assert_msg(cot_fixture_has(f.err, refusals[i].says), "%s: %s", refusals[i].line, f.err);
    }
    ck_assert_int_eq(import("orders", "Variety,\"Plants\n", "--farm Alder"), cot_err_row(COT_MALFORMED)->exit_code);
    ck_assert(cot_fixture_has(f.err, "sheet.csv: line 1, column 9: this quote is never closed"));
    ck_assert_int_eq(import("orders", "Variety,Plants,Date,Variety\n", "--farm Alder"),
                     cot_err_row(COT_MALFORMED)->exit_code);
    ck_assert(cot_fixture_has(f.err, "columns 1 and 4"));
    cot_fixture_end(&f);
}
END_TEST

/* A buyer's sheet is of the own farm; no other can be named. */
START_TEST(buyers_order_for_their_farm)
{
    cot_fixture_start(&f, COT_PART_BUYER);
    ck_assert_int_eq(import("farms", "Farm\nMine\n", ""), cot_err_row(COT_NOT_ALLOWED)->exit_code);
    cot_fixture_end(&f);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/import");
    TCase *t = tcase_create("import");
    tcase_set_timeout(t, 300);
    tcase_add_test(t, orders_once);
    tcase_add_test(t, all_or_nothing);
    tcase_add_test(t, many_problems_are_cut_short);
    tcase_add_test(t, hostile_files);
    tcase_add_test(t, lists_come_back);
    tcase_add_test(t, catalogue);
    tcase_add_test(t, treated_lots_get_their_caution);
    tcase_add_test(t, as_json);
    tcase_add_test(t, refuses);
    tcase_add_test(t, buyers_order_for_their_farm);
    suite_add_tcase(s, t);
    return s;
}
