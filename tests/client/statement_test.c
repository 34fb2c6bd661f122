/* A statement that verifies may still be an old one, shown again. */
#include "statement.h"

#include <string.h>

#include "../main.h"

static const struct {
    int64_t epoch, position; /* the statement's; the laptop is at epoch 2, position 40 */
    enum cot_err err;
    const char *words;
} rows[] = {
    {2, 40, COT_OK, ""},
    {2, 41, COT_OK, ""},
    {2, 39, COT_UNAUTHENTIC, "older than what this laptop has"},
    {2, 0, COT_UNAUTHENTIC, "older than what this laptop has"},
    {1, 90, COT_UNAUTHENTIC, "older than what this laptop has"},
    {3, 12, COT_CONFLICT, "restored"},
};

START_TEST(an_old_statement_is_refused)
{
    struct cot_fault fault = {0};
    struct cot_stand_at where = {.epoch = 2, .position = 40};
    struct cot_statement st = {.epoch = rows[_i].epoch, .position = rows[_i].position};
    ck_assert_int_eq(cot_statement_fits(&st, &where, &fault), rows[_i].err);
    ck_assert_ptr_nonnull(strstr(fault.msg, rows[_i].words));
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/statement");
    TCase *t = tcase_create("fits");
    tcase_add_loop_test(t, an_old_statement_is_refused, 0, (int)(sizeof rows / sizeof rows[0]));
    suite_add_tcase(s, t);
    return s;
}
