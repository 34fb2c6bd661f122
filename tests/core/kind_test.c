/* The table of kinds and fields holds together. */
#include "../main.h"
#include "cotyledger/core/fact.h"

#include <string.h>

START_TEST(fields)
{
    for (int i = 0; i < COT_F_COUNT; i++) {
        const struct cot_field_row *row = cot_field_row((enum cot_field)i);
        enum cot_field found;
        ck_assert_ptr_nonnull(row);
        ck_assert(cot_field_by_name(row->name, strlen(row->name), &found));
        ck_assert_int_eq(found, i); /* so names differ */
        ck_assert_int_ne(row->type, COT_T_NONE);
        ck_assert_int_le(row->min, row->max);
        ck_assert_uint_gt(strlen(row->what), 0);
        if (row->type == COT_T_TEXT || row->type == COT_T_IDS || row->type == COT_T_NUMBERS || row->type == COT_T_TRAYS)
            ck_assert_int_ge(row->min, 1);
    }
    enum cot_field f;
    ck_assert_ptr_null(cot_field_row((enum cot_field)COT_F_COUNT));
    ck_assert(!cot_field_by_name("plant", 5, &f));
    ck_assert(!cot_field_by_name("plantsx", 7, &f));
    ck_assert(cot_field_by_name("plantsx", 6, &f));
    ck_assert_int_eq(f, COT_F_PLANTS);
}
END_TEST

START_TEST(words)
{
    for (int i = 0; i < COT_F_COUNT; i++) {
        const struct cot_field_row *row = cot_field_row((enum cot_field)i);
        if (row->type != COT_T_WORD) continue;
        for (int w = 0; w <= row->max; w++) {
            char text[16];
            cot_word_text((enum cot_field)i, w, text);
            ck_assert_str_ne(text, "?");
            ck_assert_int_eq(cot_word_index((enum cot_field)i, text, strlen(text)), w);
        }
        char text[16];
        cot_word_text((enum cot_field)i, (int)row->max + 1, text);
        ck_assert_str_eq(text, "?");
    }
    ck_assert_int_eq(cot_word_index(COT_F_FORM, "pellet", 6), -1);
    ck_assert_int_eq(cot_word_index(COT_F_FORM, "", 0), -1);
    ck_assert_int_eq(cot_word_index(COT_F_NAME, "x", 1), -1);
    ck_assert_int_eq(cot_word_index(COT_F_PART, "hand", 4), COT_PART_HAND);
    ck_assert_int_eq(cot_word_index(COT_F_PART, "auditor", 7), COT_PART_AUDITOR);
}
END_TEST

START_TEST(kinds)
{
    for (int k = COT_K_UNKNOWN + 1; k < COT_K_TOTAL; k++) {
        const struct cot_kind_row *row = cot_kind_row((enum cot_kind)k);
        ck_assert_int_eq(cot_kind_by_name(row->name, strlen(row->name)), k);
        ck_assert_uint_lt(strlen(row->name), sizeof(((struct cot_fact *)0)->kind_name));
        ck_assert_uint_gt(strlen(row->what), 0);
        ck_assert_uint_ne(row->by, 0);
        ck_assert_uint_le(row->field_count, COT_FACT_FIELDS_MAX);
        for (unsigned i = 0; i < row->field_count; i++)
            for (unsigned j = 0; j < i; j++) ck_assert_int_ne(row->fields[i].field, row->fields[j].field);
        if (row->flags & COT_KIND_ABOUT_OPTIONAL) ck_assert_int_ne(row->about, COT_THING_NONE);
        if (row->flags & COT_KIND_ADMIN) ck_assert_uint_eq(row->flags & COT_KIND_PHYSICAL, 0);
        if (row->flags & COT_KIND_PHYSICAL) ck_assert_uint_eq(row->by, COT_BY_STAFF);
        if (row->by & COT_BY_BUYER) ck_assert(row->see == COT_SEE_FARM || row->see == COT_SEE_FARM_OR_HOUSE);
        if (row->makes == COT_THING_BATCH || row->makes == COT_THING_LINE)
            ck_assert_ptr_nonnull(cot_kind_field((enum cot_kind)k, COT_F_CODE));
    }
    ck_assert_int_eq(cot_kind_by_name("", 0), COT_K_UNKNOWN);
    ck_assert_int_eq(cot_kind_by_name("sow", 3), COT_K_UNKNOWN);
    ck_assert_ptr_eq(cot_kind_row((enum cot_kind)COT_K_TOTAL), cot_kind_row(COT_K_UNKNOWN));
    ck_assert_ptr_null(cot_kind_field(COT_K_NOTE, COT_F_PLANTS));
    ck_assert(cot_kind_field(COT_K_NOTE, COT_F_TEXT)->required);
}
END_TEST

START_TEST(things)
{
    for (int i = 0; i < COT_THING_COUNT; i++)
        for (int j = 0; j < i; j++)
            ck_assert_str_ne(cot_thing_word((enum cot_thing_type)i), cot_thing_word((enum cot_thing_type)j));
    ck_assert_str_eq(cot_thing_word(COT_THING_LINE), "order line");
    ck_assert_str_eq(cot_thing_word((enum cot_thing_type)COT_THING_COUNT), cot_thing_word(COT_THING_NONE));
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("kind");
    TCase *t = tcase_create("kind");
    tcase_add_test(t, fields);
    tcase_add_test(t, words);
    tcase_add_test(t, kinds);
    tcase_add_test(t, things);
    suite_add_tcase(s, t);
    return s;
}
