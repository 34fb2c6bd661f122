/* Turns of long questions: one of a device at a time, whatever others do. And at the server: who asks without end is
 * told to wait, everybody else is answered. */
#include "../main.h"

#include <pthread.h>
#include <stdio.h>

#include "harness.h"
#include "turns.h"

static const struct cot_house_id alder = {.b = {1}}, brook = {.b = {2}};

START_TEST(test_one_at_a_time)
{
    struct cot_turns *t = cot_turns_new(8);
    ck_assert_ptr_nonnull(t);
    ck_assert(cot_turns_take(t, &alder, "C"));
    ck_assert(!cot_turns_take(t, &alder, "C"));
    ck_assert(cot_turns_take(t, &alder, "D")); /* another device */
    ck_assert(cot_turns_take(t, &brook, "C")); /* another house's */
    cot_turns_give_back(t, &alder, "C");
    ck_assert(!cot_turns_take(t, &brook, "C"));
    ck_assert(!cot_turns_take(t, &alder, "D"));
    ck_assert(cot_turns_take(t, &alder, "C"));
    cot_turns_free(t);
}
END_TEST

START_TEST(test_no_more_than_there_are)
{
    struct cot_turns *t = cot_turns_new(2);
    ck_assert_ptr_nonnull(t);
    ck_assert(cot_turns_take(t, &alder, "A") && cot_turns_take(t, &alder, "B"));
    ck_assert(!cot_turns_take(t, &alder, "C"));
    cot_turns_give_back(t, &alder, "C"); /* has none: nobody loses one */
    ck_assert(!cot_turns_take(t, &alder, "C"));
    cot_turns_give_back(t, &alder, "A");
    ck_assert(cot_turns_take(t, &alder, "C"));
    cot_turns_free(t);
}
END_TEST

struct asker {
    struct cot_device device;
    int first, fine, busy, other;
};

static void *ask(void *ctx)
{
    struct asker *a = ctx;
    for (int i = 0; i < 20; i++) {
        struct cot_reply r;
        char query[64];
        snprintf(query, sizeof query, "on=20%02d-03-%02d", 27 + a->first, i + 1); /* no answer is known already */
        if (!cot_signed_call(&a->device, "GET", "/v1/fill", query, NULL, NULL, 0, &r)) continue;
        if (r.status == 200) a->fine++;
        else if (cot_reply_code(&r) == COT_BUSY) a->busy++;
        else a->other++;
        cot_reply_free(&r);
    }
    return NULL;
}

START_TEST(test_others_are_answered)
{
    enum { ASKERS = 9 }; /* the last on a laptop of its own */
    static struct cot_server server;
    struct asker a[ASKERS] = {0};
    pthread_t t[ASKERS];
    int fine = 0, busy = 0;
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
    cot_found(&server, "turns", &a[0].device);
    cot_device_invite(&a[0].device, "Ilse Thorn", COT_PART_HAND, NULL, &a[ASKERS - 1].device);
    for (int i = 1; i < ASKERS - 1; i++) a[i].device = a[0].device;
    for (int i = 0; i < ASKERS; i++) {
        a[i].first = i;
        ck_assert_int_eq(pthread_create(&t[i], NULL, ask, &a[i]), 0);
    }
    for (int i = 0; i < ASKERS; i++) pthread_join(t[i], NULL);
    for (int i = 0; i < ASKERS - 1; i++) {
        fine += a[i].fine;
        busy += a[i].busy;
    }
    ck_assert_int_gt(fine, 0);
    ck_assert_int_eq(fine + busy, 20 * (ASKERS - 1));
    ck_assert_int_eq(a[ASKERS - 1].fine, 20);
    a[0].fine = 0;
    ask(&a[0]); /* nobody else on its laptop now */
    ck_assert_int_eq(a[0].fine, 20);
    cot_server_remove(&server);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/turns");
    TCase *t = tcase_create("turns");
    tcase_set_timeout(t, 180);
    tcase_add_test(t, test_one_at_a_time);
    tcase_add_test(t, test_no_more_than_there_are);
    tcase_add_test(t, test_others_are_answered);
    suite_add_tcase(s, t);
    return s;
}
