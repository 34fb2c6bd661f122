/* Addresses and words of the net room; calls themselves are tested against a real server. */
#include "net/net.h"

#include <string.h>

#include "../../main.h"

static const struct {
    const char *url;
    bool loopback;
    enum cot_err err; /* of opening without a pin */
} urls[] = {
    {"http://127.0.0.1:7443", true, COT_OK},
    {"http://127.3.2.1", true, COT_OK},
    {"http://localhost:1", true, COT_OK},
    {"http://[::1]:7443", true, COT_OK},
    {"https://house.example.org", false, COT_OK},
    {"http://house.example.org", false, COT_USAGE},
    {"http://127.0.0.1.example.org", false, COT_USAGE},
    {"http://localhost.example.org", false, COT_USAGE},
    {"http://127.0.0.1@example.org/", false, COT_USAGE},
    {"http://10.0.0.1", false, COT_USAGE},
    {"http://[::2]", false, COT_USAGE},
    {"ftp://127.0.0.1", false, COT_USAGE},
    {"file:///etc/passwd", false, COT_USAGE},
    {"nonsense://127.0.0.1", false, COT_USAGE},
    {"", false, COT_USAGE},
};

START_TEST(plain_http_to_this_machine_only)
{
    struct cot_net *n = NULL;
    struct cot_fault fault = {0};
    ck_assert_msg(cot_url_is_loopback(urls[_i].url) == urls[_i].loopback, "%s", urls[_i].url);
    enum cot_err e = cot_net_open(urls[_i].url, NULL, true, &n, &fault);
    cot_net_close(n);
    ck_assert_msg(e == urls[_i].err, "%s: %d %s", urls[_i].url, e, fault.msg);
}
END_TEST

START_TEST(spans)
{
    static const struct {
        int64_t ms;
        const char *text;
    } rows[] = {{94672800000, "3 years"},
                {-7200000, "2 hours"},
                {86400000, "1 day"},
                {59999, "59 seconds"},
                {400, "0 seconds"}};
    char out[32];
    cot_span_text(rows[_i].ms, out);
    ck_assert_str_eq(out, rows[_i].text);
}
END_TEST

START_TEST(nobody_there)
{
    struct cot_net *n;
    struct cot_fault fault = {0};
    struct cot_buf answer = {0};
    struct cot_house_id house = {{0}};
    struct cot_call c = {"GET", "/healthz", "", "", NULL, 0, &house, NULL, NULL};
    ck_assert_int_eq(cot_net_open("http://127.0.0.1:9", NULL, true, &n, &fault), COT_OK);
    ck_assert_int_eq(cot_net_call(n, &c, &answer, &fault), COT_NETWORK);
    ck_assert_ptr_nonnull(strstr(fault.hint, "safe here"));
    cot_net_close(n);
    cot_buf_free(&answer);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/net");
    TCase *c = tcase_create("net");
    tcase_add_loop_test(c, plain_http_to_this_machine_only, 0, (int)(sizeof urls / sizeof urls[0]));
    tcase_add_loop_test(c, spans, 0, 5);
    tcase_add_test(c, nobody_there);
    tcase_set_timeout(c, 60);
    suite_add_tcase(s, c);
    return s;
}
