/* Finding a thing by what a person typed. */
#include "../rows.h"

static struct cot_fault fault;

static const struct cot_thing *find(struct rows *r, enum cot_thing_type type, const char *typed, enum cot_err want)
{
    const struct cot_thing *t;
    memset(&fault, 0, sizeof fault);
    enum cot_err err = cot_book_find(r->book, type, typed, &t, &fault);
    ck_assert_msg(err == want, "\"%s\": %s, not %s: %s", typed, cot_err_row(err)->name, cot_err_row(want)->name,
                  fault.msg);
    ck_assert_int_eq(err == COT_OK, t != NULL);
    if (err) ck_assert_int_eq(fault.code, err);
    return t;
}

START_TEST(names)
{
    struct rows *r = rows_new("names", true);
    struct cot_id lettuce = rows_crop(r, "Lettuce", 28), leek = rows_crop(r, "Leek", 60),
                  leeks = rows_crop(r, "Leek, early", 50);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_CROP, "Lettuce", COT_OK)->id, &lettuce), 0);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_CROP, "lettUCE ", COT_OK)->id, &lettuce), 0);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_CROP, "let", COT_OK)->id, &lettuce), 0);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_CROP, "leek", COT_OK)->id, &leek), 0); /* whole before start */
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_CROP, "leek,", COT_OK)->id, &leeks), 0);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_NONE, "alder", COT_OK)->id, &r->farm), 0);
    find(r, COT_THING_CROP, "Le", COT_AMBIGUOUS);
    ck_assert_str_eq(fault.hint, "say which: Leek, Leek, early, Lettuce");
    find(r, COT_THING_FARM, "Lettuce", COT_NOT_FOUND);
    find(r, COT_THING_CROP, "", COT_NOT_FOUND);
    rows_free(r);
}
END_TEST

START_TEST(nearest)
{
    struct rows *r = rows_new("nearest", true);
    rows_crop(r, "Lettuce", 28);
    rows_crop(r, "Leek", 60);
    find(r, COT_THING_CROP, "Letuce", COT_NOT_FOUND);
    ck_assert_str_eq(fault.msg, "no crop \"Letuce\" here");
    ck_assert_str_eq(fault.hint, "did you mean: Lettuce");
    find(r, COT_THING_CROP, "lefk", COT_NOT_FOUND);
    ck_assert_str_eq(fault.hint, "did you mean: Leek");
    find(r, COT_THING_CROP, "Parsnip, long", COT_NOT_FOUND);
    ck_assert_str_eq(fault.hint, "");
    char big[600];
    memset(big, 'L', sizeof big - 1);
    big[sizeof big - 1] = '\0';
    find(r, COT_THING_CROP, big, COT_NOT_FOUND);
    ck_assert_int_eq(cot_book_find(r->book, COT_THING_CROP, "none", &(const struct cot_thing *){0}, NULL),
                     COT_NOT_FOUND);
    rows_free(r);
}
END_TEST

START_TEST(codes)
{
    struct rows *r = rows_new("codes", true);
    struct cot_id crop = rows_crop(r, "Leek", 60), variety = rows_variety(r, "Long Grey", &crop),
                  format = rows_format(r, "72", 6, 12), lot = rows_lot(r, "LG-1", &variety);
    make_sown(r, "B", &lot, &format, 2);
    struct cot_id batch = good(r);
    char code[COT_CODE_TEXT], typed[COT_CODE_TEXT];
    cot_code_make("B", r->codes, code);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_BATCH, code, COT_OK)->id, &batch), 0);
    snprintf(typed, sizeof typed, "b%u%c", r->codes,
             code[strlen(code) - 1]); /* dashes, zeros and capitals are forgiven */
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_BATCH, typed, COT_OK)->id, &batch), 0);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_NONE, code, COT_OK)->id, &batch), 0);
    memcpy(typed, code, sizeof typed);
    typed[5] = typed[5] == '7' ? '8' : '7';
    find(r, COT_THING_BATCH, typed, COT_INVALID);
    ck_assert_ptr_nonnull(strstr(fault.msg, "mistyped"));
    cot_code_make("B", 999, code);
    find(r, COT_THING_BATCH, code, COT_NOT_FOUND);
    rows_free(r);
}
END_TEST

START_TEST(names_within)
{
    struct rows *r = rows_new("within", true);
    struct cot_id leek = rows_crop(r, "Leek", 60), chard = rows_crop(r, "Chard", 30);
    struct cot_id one = rows_variety(r, "Early", &leek), two = rows_variety(r, "Early", &chard);
    find(r, COT_THING_VARIETY, "early", COT_AMBIGUOUS);
    ck_assert_str_eq(fault.hint, "say which: Chard/Early, Leek/Early");
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_VARIETY, "Leek/Early", COT_OK)->id, &one), 0);
    ck_assert_int_eq(cot_id_cmp(&find(r, COT_THING_VARIETY, "chard/ear", COT_OK)->id, &two), 0);
    rows_free(r);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("book_find");
    TCase *t = tcase_create("find");
    tcase_add_test(t, names);
    tcase_add_test(t, nearest);
    tcase_add_test(t, codes);
    tcase_add_test(t, names_within);
    suite_add_tcase(s, t);
    return s;
}
