/* Request signatures: vectors by another implementation, and the published ones of RFC 9421 and RFC 9530. */
#include <sodium.h>

#include "cotyledger/wire/request.h"
#include "files.h"

static void request_of(const struct file *f, const json_t *o, struct cot_request *r)
{
    const char *house = text_of(f, o, "house");
    *r = (struct cot_request){.method = text_of(f, o, "method"),
                              .path = text_of(f, o, "path"),
                              .query = text_of(f, o, "query"),
                              .content_type = text_of(f, o, "content_type"),
                              .body = text_of(f, o, "body"),
                              .body_len = strlen(text_of(f, o, "body"))};
    ck_assert_msg(cot_house_parse(house, strlen(house), &r->house), "%s: house", f->path);
}

static enum cot_err verify(const struct file *f, const json_t *o, struct cot_fault *fault)
{
    struct cot_request r;
    struct cot_id key;
    const char *k = text_of(f, o, "key");
    request_of(f, o, &r);
    ck_assert(cot_id_parse(k, strlen(k), &key));
    memset(fault, 0, sizeof *fault);
    return cot_request_verify(&r, &key, text_of(f, o, "content_digest"), text_of(f, o, "signature_input"),
                              text_of(f, o, "signature"), fault);
}

static void test_key(struct cot_keypair *k)
{
    uint8_t seed[32];
    crypto_hash_sha256(seed, (const uint8_t *)"cotyledger test key device B", 28);
    cot_keypair_from_seed(seed, k);
}

/* Verifies, has the base that the vector says, and signing again gives the vector's headers. */
static void accepts(const struct file *f)
{
    struct cot_fault fault;
    struct cot_request r;
    struct cot_signature_params p;
    struct cot_keypair k;
    struct cot_buf base = {0}, digest = {0}, input = {0}, signature = {0};
    json_t *root = file_json(f);
    ck_assert_msg(verify(f, root, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
    request_of(f, root, &r);
    ck_assert_int_eq(cot_signature_input_parse(text_of(f, root, "signature_input"), &p, &fault), COT_OK);
    cot_request_base(&r, &p, text_of(f, root, "content_digest"), &base);
    ck_assert_str_eq(base.s, text_of(f, root, "base"));
    test_key(&k);
    cot_request_sign(&r, &p, &k, &digest, &input, &signature);
    ck_assert_str_eq(digest.s, text_of(f, root, "content_digest"));
    ck_assert_str_eq(input.s, text_of(f, root, "signature_input"));
    ck_assert_str_eq(signature.s, text_of(f, root, "signature"));
    cot_buf_free(&base);
    cot_buf_free(&digest);
    cot_buf_free(&input);
    cot_buf_free(&signature);
    json_decref(root);
}

static void rejects(const struct file *f)
{
    struct cot_fault fault;
    json_t *root = file_json(f);
    enum cot_err err = verify(f, root, &fault);
    ck_assert_msg(strcmp(cot_err_row(err)->name, text_of(f, root, "error")) == 0, "%s (%s): %s %s", f->path,
                  text_of(f, root, "what"), cot_err_row(err)->name, fault.msg);
    ck_assert_msg(fault.msg[0] != '\0', "%s: no words", f->path);
    json_decref(root);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/request/accept", 4, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/request/reject", 45, rejects);
}
END_TEST

START_TEST(signing_refuses_what_cannot_be_signed)
{
    static const struct {
        const char *method, *path, *query, *type;
    } bad[] = {
        {"GET", "/a\nb", "", "t/t"}, {"GET", "a", "", "t/t"}, {"GET", "/a", "x y", "t/t"}, {"GET", "/a", "", ""},
        {"", "/a", "", "t/t"},       {"GET", "/a", "", " t"}, {"GET", "/a", "", "t\r"},
    };
    struct cot_keypair k;
    struct cot_signature_params p = {.created = 1, .tag = "B"};
    test_key(&k);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct cot_buf digest = {0}, input = {0}, signature = {0};
        struct cot_request r = {bad[i].method, bad[i].path, bad[i].query, bad[i].type, "", 0, {{0}}};
        cot_request_sign(&r, &p, &k, &digest, &input, &signature);
        ck_assert_msg(signature.failed && signature.len == 0, "case %zu was signed", i);
        cot_buf_free(&digest);
        cot_buf_free(&input);
        cot_buf_free(&signature);
    }
}
END_TEST

/* RFC 9421 appendix B.2.6, key test-key-ed25519 of B.1.4 (from memory; it verifies only if every character is right).
 */
START_TEST(published_http_signature)
{
    static const char *const lines[][2] = {
        {"date", "Tue, 20 Apr 2021 02:07:55 GMT"},
        {"@method", "POST"},
        {"@path", "/foo"},
        {"@authority", "example.com"},
        {"content-type", "application/json"},
        {"content-length", "18"},
    };
    static const char params[] = "(\"date\" \"@method\" \"@path\" \"@authority\" \"content-type\" \"content-length\")"
                                 ";created=1618884473;keyid=\"test-key-ed25519\"";
    static const char seed64[] = "n4Ni+HpISpVObnQMW0wOhCKROaIKqKtW/2ZYb2p9KcU=";
    static const char pub64[] = "JrQLj5P/89iXES9+vFgrIy29clF9CC/oPPsw3c5D0bs=";
    static const char sig64[] =
        "wqcAqbmYJ2ji2glfAMaRy4gruYYnx2nEFN2HN6jrnDnQCK1u02Gb04v9EDgwUPiu4A0w6vuQv5lIp5WPpBKRCw==";
    uint8_t seed[32], pub[32], want[64], got[64];
    struct cot_keypair k;
    struct cot_buf base = {0};
    const int v = sodium_base64_VARIANT_ORIGINAL;
    ck_assert_int_eq(sodium_base642bin(seed, sizeof seed, seed64, strlen(seed64), NULL, NULL, NULL, v), 0);
    ck_assert_int_eq(sodium_base642bin(pub, sizeof pub, pub64, strlen(pub64), NULL, NULL, NULL, v), 0);
    ck_assert_int_eq(sodium_base642bin(want, sizeof want, sig64, strlen(sig64), NULL, NULL, NULL, v), 0);
    cot_keypair_from_seed(seed, &k);
    ck_assert_mem_eq(k.pub.b, pub, 32);
    cot_signature_base(lines, sizeof lines / sizeof lines[0], params, &base);
    crypto_sign_detached(got, NULL, (const uint8_t *)base.s, base.len, k.secret);
    ck_assert_mem_eq(got, want, 64);
    cot_buf_free(&base);
}
END_TEST

/* RFC 9530 appendix B.1, the digest of {"hello": "world"} and a line feed; RFC 9421 appendix B.2, the same without it
 * (both from memory, recomputed with another program). */
START_TEST(published_content_digest)
{
    struct cot_buf b = {0};
    cot_content_digest("{\"hello\": \"world\"}\n", 19, &b);
    ck_assert_str_eq(b.s, "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:");
    cot_buf_clear(&b);
    cot_content_digest("{\"hello\": \"world\"}", 18, &b);
    ck_assert_str_eq(b.s, "sha-256=:X48E9qOokqqrvdts8nOJRJN3OWDUoyWxBf7kbu9DBPE=:");
    cot_buf_free(&b);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/request");
    TCase *t = tcase_create("request");
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    tcase_add_test(t, signing_refuses_what_cannot_be_signed);
    tcase_add_test(t, published_http_signature);
    tcase_add_test(t, published_content_digest);
    suite_add_tcase(s, t);
    return s;
}
