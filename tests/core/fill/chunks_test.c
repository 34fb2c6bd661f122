/* server/core/fill/chunks.c: claims from promises. */
#include <string.h>

#include "fill/lines.h"
#include "../../main.h"
#include "../seed.h"

static struct cot_said said(int64_t receipt, int64_t t, int64_t total, bool refusal)
{
    return (struct cot_said){
        .receipt = receipt, .place = {.t = t, .tag = "B", .number = t}, .total = total, .refusal = refusal};
}

START_TEST(chunks_rise_and_fall)
{
    struct cot_chunk chunk[8];
    int64_t promised;
    struct cot_said a[] = {said(300, 30, 500, false), said(100, 10, 200, false), said(INT64_MAX, 5, 700, false),
                           said(200, 20, 150, false)};
    /* In queue order: 200, down to 150, up to 500, up to 700 (not sent yet). */
    size_t n = cot_chunks_make(a, 4, 1000, 0, chunk, &promised);
    ck_assert_uint_eq(n, 3);
    ck_assert_int_eq(promised, 700);
    ck_assert(chunk[0].plants == 150 && chunk[0].receipt == 100);
    ck_assert(chunk[1].plants == 350 && chunk[1].receipt == 300);
    ck_assert(chunk[2].plants == 200 && chunk[2].receipt == INT64_MAX);

    n = cot_chunks_make(a, 4, 400, 0, chunk, &promised); /* wants less than promised */
    ck_assert_uint_eq(n, 2);
    ck_assert_int_eq(promised, 400);
    ck_assert(chunk[0].plants == 150 && chunk[1].plants == 250);

    n = cot_chunks_make(a, 4, 1000, 180, chunk, &promised); /* what went out meets the first */
    ck_assert_uint_eq(n, 2);
    ck_assert(chunk[0].plants == 320 && chunk[0].receipt == 300);
    ck_assert(chunk[1].plants == 200);

    n = cot_chunks_make(a, 4, 1000, 5000, chunk, &promised);
    ck_assert_uint_eq(n, 0);
}
END_TEST

START_TEST(refusal_and_new_promise)
{
    struct cot_chunk chunk[4];
    int64_t promised;
    struct cot_said a[] = {said(1, 1, 300, false), said(2, 2, 0, true), said(3, 3, 120, false)};
    ck_assert_uint_eq(cot_chunks_make(a, 2, 500, 0, chunk, &promised), 1); /* no to the other 200 */
    ck_assert_int_eq(promised, 300);
    ck_assert_int_eq(chunk[0].receipt, 1);
    ck_assert_uint_eq(cot_chunks_make(a, 3, 500, 0, chunk, &promised), 1); /* cut back */
    ck_assert_int_eq(promised, 120);
    ck_assert_int_eq(chunk[0].receipt, 1);
    struct cot_said b[] = {said(1, 1, 300, false), said(2, 2, 0, false), said(3, 3, 120, false)};
    ck_assert_uint_eq(cot_chunks_make(b, 2, 500, 0, chunk, &promised), 0); /* promised to nothing */
    ck_assert_int_eq(promised, 0);
    ck_assert_uint_eq(cot_chunks_make(b, 3, 500, 0, chunk, &promised), 1);
    ck_assert_int_eq(chunk[0].receipt, 3);
    ck_assert_uint_eq(cot_chunks_make(a, 0, 300, 0, chunk, &promised), 0);
    ck_assert_int_eq(promised, 0);
}
END_TEST

/* In whatever order promises were read, the chunks are the same. */
START_TEST(chunks_in_any_order)
{
    struct dice d = dice_new("chunks_in_any_order");
    for (int round = 0; round < 5000; round++) {
        struct cot_said a[6], b[6];
        struct cot_chunk x[6], y[6];
        int64_t px, py, wanted = dice_int(&d, 0, 900), handed = dice_int(&d, 0, 300), sum = 0;
        size_t n = (size_t)dice_int(&d, 1, 6);
        for (size_t i = 0; i < n; i++) a[i] = said(dice_int(&d, 1, 3), (int64_t)i, dice_int(&d, 0, 999), false);
        memcpy(b, a, sizeof a);
        for (size_t i = n; i-- > 1;) {
            size_t k = (size_t)dice_int(&d, 0, (int64_t)i);
            struct cot_said t = b[i];
            b[i] = b[k];
            b[k] = t;
        }
        size_t nx = cot_chunks_make(a, n, wanted, handed, x, &px), ny = cot_chunks_make(b, n, wanted, handed, y, &py);
        sure(nx == ny && px == py);
        for (size_t i = 0; i < nx; i++) {
            sure(x[i].plants == y[i].plants && x[i].receipt == y[i].receipt && x[i].place.t == y[i].place.t);
            sure(x[i].plants > 0);
            sum += x[i].plants;
        }
        sure(sum == (px > handed ? px - handed : 0));
    }
}
END_TEST

static void add(Suite *s, const char *name, const TTest *test)
{
    TCase *c = tcase_create(name);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, test);
    suite_add_tcase(s, c);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/fill_chunks");
    add(s, "chunks", chunks_rise_and_fall);
    add(s, "refusal", refusal_and_new_promise);
    add(s, "chunks_order", chunks_in_any_order);
    return s;
}
