/* Invitations: vectors, and that what is written is read. */
#include "cotyledger/wire/request.h"
#include "files.h"

static void accepts(const struct file *f)
{
    struct cot_invitation i;
    struct cot_fault fault = {0};
    struct cot_buf again = {0};
    ck_assert_msg(cot_invitation_parse(f->bytes, f->len, &i, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
    cot_invitation_text(&i, &again);
    ck_assert_msg(strstr(f->bytes, again.s) != NULL, "%s: %s", f->path, again.s);
    cot_buf_free(&again);
}

static void rejects(const struct file *f)
{
    struct cot_invitation i, zero;
    struct cot_fault fault = {0};
    memset(&zero, 0, sizeof zero);
    ck_assert_msg(cot_invitation_parse(f->bytes, f->len, &i, &fault) == COT_MALFORMED, "%s: accepted", f->path);
    ck_assert_msg(fault.hint[0] != '\0', "%s: no hint", f->path);
    ck_assert_msg(memcmp(i.secret, zero.secret, sizeof i.secret) == 0, "%s: the secret was left behind", f->path);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/invite/accept", 6, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/invite/reject", 20, rejects);
}
END_TEST

START_TEST(hash_of_the_secret)
{
    struct file f;
    char path[512], text[COT_ID_TEXT];
    uint8_t secret[16];
    struct cot_id hash;
    snprintf(path, sizeof path, "%s/vectors/invite/hash.json", COT_TESTS_DIR);
    file_read(path, &f);
    json_t *root = file_json(&f);
    ck_assert(cot_b64_parse(text_of(&f, root, "secret"), 22, secret, sizeof secret));
    cot_invitation_hash(secret, &hash);
    cot_id_text(&hash, text);
    ck_assert_str_eq(text, text_of(&f, root, "hash"));
    json_decref(root);
    free(f.bytes);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/invite");
    TCase *t = tcase_create("invite");
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    tcase_add_test(t, hash_of_the_secret);
    suite_add_tcase(s, t);
    return s;
}
