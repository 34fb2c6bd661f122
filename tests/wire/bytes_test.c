/* The buffer and base64url. */
#include "cotyledger/wire/bytes.h"
#include "files.h"

/* RFC 4648 section 10, without the padding that base64url leaves off here (RFC 7515 section 2). */
START_TEST(published_base64)
{
    static const char *const pair[][2] = {
        {"", ""},           {"f", "Zg"},          {"fo", "Zm8"},         {"foo", "Zm9v"},
        {"foob", "Zm9vYg"}, {"fooba", "Zm9vYmE"}, {"foobar", "Zm9vYmFy"}};
    for (size_t i = 0; i < sizeof pair / sizeof pair[0]; i++) {
        char text[16], back[8] = {0};
        size_t len = strlen(pair[i][0]);
        cot_b64_text(pair[i][0], len, text);
        ck_assert_str_eq(text, pair[i][1]);
        ck_assert_uint_eq(strlen(text), COT_B64_LEN(len));
        ck_assert(cot_b64_parse(text, strlen(text), back, len));
        ck_assert_mem_eq(back, pair[i][0], len);
    }
}
END_TEST

START_TEST(base64_is_strict)
{
    static const char *const bad[] = {"Zg==", "Zg=", "Zh", "Z", "Zg\n", " Zg", "Z g", "Z+", "Z/", "Z*", "ZgA", "Zm8"};
    char out[4];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        ck_assert_msg(!cot_b64_parse(bad[i], strlen(bad[i]), out, 1), "\"%s\" was read", bad[i]);
    ck_assert(cot_b64_parse("-_8", 3, out, 2));
    ck_assert_int_eq((unsigned char)out[0], 0xFB);
    ck_assert(!cot_b64_parse("-_9", 3, out, 2));
}
END_TEST

START_TEST(identities)
{
    struct cot_id id, back;
    struct cot_house_id house, house_back;
    char text[COT_ID_TEXT], house_text[COT_HOUSE_TEXT];
    for (int i = 0; i < 32; i++) id.b[i] = (uint8_t)(i * 37 + 201);
    for (int i = 0; i < 16; i++) house.b[i] = (uint8_t)(i * 91 + 17);
    cot_id_text(&id, text);
    cot_house_text(&house, house_text);
    ck_assert_uint_eq(strlen(text), 43);
    ck_assert_uint_eq(strlen(house_text), 22);
    ck_assert(cot_id_parse(text, 43, &back) && cot_id_cmp(&id, &back) == 0);
    ck_assert(cot_house_parse(house_text, 22, &house_back) && memcmp(&house, &house_back, sizeof house) == 0);
    ck_assert(!cot_id_parse(text, 42, &back) && !cot_id_parse(house_text, 22, &back) &&
              !cot_house_parse(text, 43, &house));
}
END_TEST

START_TEST(buffer_grows)
{
    struct cot_buf b = {0};
    for (int i = 0; i < 10000; i++) cot_buf_fmt(&b, "%d,", i % 10);
    ck_assert_uint_eq(b.len, 20000);
    ck_assert_uint_eq(strlen(b.s), 20000);
    ck_assert_int_eq(strncmp(b.s + 19990, "5,6,7,8,9,", 10), 0);
    cot_buf_clear(&b);
    ck_assert_str_eq(b.s, "");
    cot_buf_put(&b, "a\0b", 3);
    ck_assert(b.len == 3 && b.s[2] == 'b' && b.s[3] == '\0');
    cot_buf_put(&b, NULL, 0);
    ck_assert_uint_eq(b.len, 3);
    cot_buf_free(&b);
    ck_assert_ptr_null(b.s);
}
END_TEST

/* A size that cannot be is a failure that stays, not a wrapped sum. */
START_TEST(failure_stays)
{
    struct cot_buf b = {0};
    cot_buf_str(&b, "kept");
    cot_buf_put(&b, "x", SIZE_MAX - 2);
    ck_assert(b.failed);
    cot_buf_str(&b, "lost");
    ck_assert_str_eq(b.s, "kept");
    cot_buf_clear(&b);
    ck_assert(!b.failed);
    cot_buf_str(&b, "again");
    ck_assert_str_eq(b.s, "again");
    cot_buf_free(&b);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/bytes");
    TCase *t = tcase_create("bytes");
    tcase_add_test(t, published_base64);
    tcase_add_test(t, base64_is_strict);
    tcase_add_test(t, identities);
    tcase_add_test(t, buffer_grows);
    tcase_add_test(t, failure_stays);
    suite_add_tcase(s, t);
    return s;
}
