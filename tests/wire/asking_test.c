/* What-ifs as query parameters: what is put is read again, what is wrong is named. */
#include "cotyledger/wire/asking.h"

#include <string.h>

#include "../main.h"

static struct cot_id id_of(unsigned char c)
{
    struct cot_id id;
    memset(id.b, c, sizeof id.b);
    return id;
}

START_TEST(comes_back)
{
    struct cot_fact f = {.kind = COT_K_LINE, .has_about = true, .about = id_of(7)};
    struct cot_id variety = id_of(1), format = id_of(255), subs[COT_IF_SUBS_MOST];
    struct cot_if_query q;
    struct cot_buf b = {0};
    for (int i = 0; i < COT_IF_SUBS_MOST; i++) subs[i] = id_of((unsigned char)(20 + i));
    ck_assert(cot_fact_set_ids(&f, COT_F_VARIETY, &variety, 1) && cot_fact_set_ids(&f, COT_F_FORMAT, &format, 1));
    ck_assert(cot_fact_set_ids(&f, COT_F_SUBS, subs, COT_IF_SUBS_MOST) && cot_fact_set_int(&f, COT_F_DATE, 20900));
    ck_assert(cot_fact_set_int(&f, COT_F_PLANTS, 10000000) && cot_fact_set_int(&f, COT_F_EARLY, 0));
    ck_assert(cot_fact_set_int(&f, COT_F_ORGANIC, 1) && cot_fact_clear(&f, COT_F_LEAST));
    cot_if_query_put(&f, true, &b);
    ck_assert(!b.failed);
    ck_assert_int_eq(cot_if_query_read(b.s, &q, NULL), COT_OK);
    ck_assert(q.withdrawn && q.fact.has_about && q.fact.kind == COT_K_LINE);
    ck_assert_int_eq(cot_id_cmp(&q.fact.about, &f.about), 0);
    ck_assert_uint_eq(q.fact.value_count, f.value_count);
    ck_assert_int_eq(cot_id_cmp(cot_fact_id(&q.fact, COT_F_VARIETY), &variety), 0);
    ck_assert_int_eq(cot_id_cmp(cot_fact_id(&q.fact, COT_F_FORMAT), &format), 0);
    const struct cot_value *v = cot_fact_value(&q.fact, COT_F_SUBS);
    ck_assert_uint_eq(v->len, COT_IF_SUBS_MOST);
    for (int i = 0; i < COT_IF_SUBS_MOST; i++) ck_assert_int_eq(cot_id_cmp(&v->v.ids[i], &subs[i]), 0);
    ck_assert_int_eq(cot_fact_int(&q.fact, COT_F_DATE, 0), 20900);
    ck_assert_int_eq(cot_fact_value(&q.fact, COT_F_DATE)->type, COT_T_DAY);
    ck_assert_int_eq(cot_fact_int(&q.fact, COT_F_PLANTS, 0), 10000000);
    ck_assert_int_eq(cot_fact_int(&q.fact, COT_F_EARLY, -1), 0);
    ck_assert_int_eq(cot_fact_int(&q.fact, COT_F_ORGANIC, 0), 1);
    ck_assert_int_eq(cot_fact_value(&q.fact, COT_F_LEAST)->type, COT_T_NONE);
    cot_buf_free(&b);
}
END_TEST

START_TEST(nothing_asked)
{
    struct cot_if_query q;
    ck_assert_int_eq(cot_if_query_read("", &q, NULL), COT_OK);
    ck_assert_uint_eq(q.fact.value_count, 0);
    ck_assert_int_eq(cot_if_query_read("on=2027-03-29&form=text&farm=x", &q, NULL), COT_OK); /* others' to read */
    ck_assert(!q.fact.has_about && !q.withdrawn && q.fact.value_count == 0);
}
END_TEST

#define ID "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA" /* 43 */
static const char *const wrong[][2] = {
    {"line=", "query: line must be 43 characters of base64url"},
    {"line=" ID "A", "line"},
    {"withdrawn=0", "withdrawn must be 1"},
    {"withdrawn=", "withdrawn must be 1"},
    {"variety=" ID ID, "variety"},
    {"format=any", "format"},
    {"subs=" ID ID ID ID ID ID ID ID ID, "subs must be 1 to 8 times"},
    {"subs=" ID "A", "subs"},
    {"plants=", "plants must be a whole number from 0 to 10000000"},
    {"plants=10000001", "plants"},
    {"plants=1e3", "plants"},
    {"plants=9999999999999999999", "plants"},
    {"late=61", "late must be a whole number from 0 to 60"},
    {"date=2027-02-29", "date must be a day"},
    {"organic=2", "organic"},
    {"priority=0", "priority must be a whole number from 1 to 9"},
};

START_TEST(wrong_is_named)
{
    struct cot_if_query q;
    struct cot_fault fault = {0};
    ck_assert_int_eq(cot_if_query_read(wrong[_i][0], &q, &fault), COT_MALFORMED);
    ck_assert_msg(strstr(fault.msg, wrong[_i][1]) != NULL, "%s: %s", wrong[_i][0], fault.msg);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/asking");
    TCase *t = tcase_create("query");
    tcase_add_test(t, comes_back);
    tcase_add_test(t, nothing_asked);
    tcase_add_loop_test(t, wrong_is_named, 0, (int)(sizeof wrong / sizeof wrong[0]));
    suite_add_tcase(s, t);
    return s;
}
