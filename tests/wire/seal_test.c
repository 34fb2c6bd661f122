/* Signed things: vectors by another implementation, and the published ones of RFC 8032 and RFC 8037. */
#include <sodium.h>

#include "cotyledger/wire/request.h"
#include "files.h"

static const char *const types[] = {
    [COT_JWS_SEAL] = "seal", [COT_JWS_HEAD] = "head", [COT_JWS_STATEMENT] = "statement", [COT_JWS_JOIN] = "join"};

static enum cot_jws type_of(const struct file *f, const json_t *o)
{
    const char *name = text_of(f, o, "type");
    for (unsigned i = 0; i < sizeof types / sizeof types[0]; i++)
        if (strcmp(types[i], name) == 0) return (enum cot_jws)i;
    ck_abort_msg("%s: type %s", f->path, name);
    return COT_JWS_SEAL;
}

static struct cot_id key_of(const struct file *f, const json_t *o)
{
    struct cot_id key;
    const char *s = text_of(f, o, "key");
    ck_assert_msg(cot_id_parse(s, strlen(s), &key), "%s: key", f->path);
    return key;
}

/* The house that every vector is of. */
static struct cot_house_id test_house(void)
{
    struct cot_house_id h;
    ck_assert(cot_house_parse("-oIjwwjpV4fNZQpDAb5xdQ", 22, &h));
    return h;
}

/* Opens a JWS as its type says: the payload's form is checked too. */
static enum cot_err open_as(enum cot_jws type, const char *jws, const struct cot_id *key, struct cot_fault *fault)
{
    struct cot_seal seal;
    struct cot_head head;
    struct cot_id invitation, joining;
    struct cot_house_id house = test_house();
    struct cot_buf payload = {0};
    enum cot_err err = COT_INTERNAL;
    switch (type) {
    case COT_JWS_SEAL:
        return cot_seal_open(jws, strlen(jws), key, &seal, fault);
    case COT_JWS_HEAD:
        return cot_head_open(jws, strlen(jws), key, &head, fault);
    case COT_JWS_JOIN:
        return cot_join_open(jws, strlen(jws), &house, &invitation, &joining, fault);
    case COT_JWS_STATEMENT:
        err = cot_jws_open(type, jws, strlen(jws), key, &payload, fault);
        cot_buf_free(&payload);
        return err;
    }
    return err;
}

static void accepts(const struct file *f)
{
    struct cot_fault fault = {0};
    struct cot_buf payload = {0}, peeked = {0};
    json_t *root = file_json(f);
    struct cot_id key = key_of(f, root);
    const char *jws = text_of(f, root, "jws");
    enum cot_jws type = type_of(f, root);
    ck_assert_msg(open_as(type, jws, &key, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
    ck_assert_msg(cot_jws_open(type, jws, strlen(jws), &key, &payload, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
    ck_assert_msg(strcmp(payload.s, text_of(f, root, "payload")) == 0, "%s: payload %s", f->path, payload.s);
    ck_assert_int_eq(cot_jws_peek(type, jws, strlen(jws), &peeked, &fault), COT_OK);
    ck_assert_str_eq(payload.s, peeked.s);
    cot_buf_free(&payload);
    cot_buf_free(&peeked);
    json_decref(root);
}

static void rejects(const struct file *f)
{
    struct cot_fault fault = {0};
    json_t *root = file_json(f);
    struct cot_id key = key_of(f, root);
    enum cot_err err = open_as(type_of(f, root), text_of(f, root, "jws"), &key, &fault);
    ck_assert_msg(strcmp(cot_err_row(err)->name, text_of(f, root, "error")) == 0, "%s (%s): %s %s", f->path,
                  text_of(f, root, "what"), cot_err_row(err)->name, fault.msg);
    ck_assert_msg(fault.msg[0] != '\0' && fault.code == err, "%s: no words", f->path);
    json_decref(root);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/seal/accept", 6, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/seal/reject", 50, rejects);
}
END_TEST

/* Ed25519 is deterministic (RFC 8032), so signing again gives the bytes of the vectors. */
START_TEST(signing_gives_the_vectors)
{
    uint8_t seed[32];
    struct cot_keypair k;
    struct cot_fault fault;
    struct cot_seal seal;
    struct cot_buf out = {0};
    struct file f;
    char path[512];
    crypto_hash_sha256(seed, (const uint8_t *)"cotyledger test key device B", 28);
    cot_keypair_from_seed(seed, &k);
    snprintf(path, sizeof path, "%s/vectors/seal/accept/seal.json", COT_TESTS_DIR);
    file_read(path, &f);
    json_t *root = file_json(&f);
    const char *jws = text_of(&f, root, "jws");
    ck_assert_int_eq(cot_seal_open(jws, strlen(jws), &k.pub, &seal, &fault), COT_OK);
    ck_assert(seal.first == 1 && seal.last == 3 && strcmp(seal.tag, "B") == 0);
    cot_seal_sign(&seal, &k, &out);
    ck_assert(!out.failed);
    ck_assert_str_eq(out.s, jws);
    cot_buf_free(&out);
    json_decref(root);
    free(f.bytes);
}
END_TEST

START_TEST(head_and_join_round_trips)
{
    struct cot_keypair k;
    struct cot_fault fault;
    struct cot_buf out = {0};
    struct cot_head head = {test_house(), 3, 12345, {{7}}}, read;
    struct cot_id invitation = {{5}}, invitation_read, key_read;
    cot_keypair_new(&k);
    cot_head_sign(&head, &k, &out);
    ck_assert_int_eq(cot_head_open(out.s, out.len, &k.pub, &read, &fault), COT_OK);
    ck_assert(read.epoch == 3 && read.position == 12345 && cot_id_cmp(&read.ledger, &head.ledger) == 0);
    cot_buf_clear(&out);
    cot_join_sign(&head.house, &invitation, &k, &out);
    ck_assert_int_eq(cot_join_open(out.s, out.len, &head.house, &invitation_read, &key_read, &fault), COT_OK);
    ck_assert(cot_id_cmp(&invitation, &invitation_read) == 0 && cot_id_cmp(&key_read, &k.pub) == 0);
    cot_buf_free(&out);
}
END_TEST

/* RFC 8032 section 7.1, tests 1 to 3 (from memory; they verify only if every digit is right). */
static const struct {
    const char *secret, *pub, *message, *signature;
} rfc8032[] = {
    {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe246"
     "55141438e7a"
     "100b"},
    {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb"
     "00d291612bb"
     "0c00"},
    {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc"
     "027beceea1e"
     "c40a"},
};

static size_t unhex(const char *hex, uint8_t *out, size_t cap)
{
    size_t n = 0;
    ck_assert_int_eq(sodium_hex2bin(out, cap, hex, strlen(hex), NULL, &n, NULL), 0);
    return n;
}

START_TEST(published_ed25519)
{
    for (size_t i = 0; i < sizeof rfc8032 / sizeof rfc8032[0]; i++) {
        uint8_t seed[32], pub[32], message[8], want[64], got[64];
        struct cot_keypair k;
        ck_assert_uint_eq(unhex(rfc8032[i].secret, seed, sizeof seed), 32);
        ck_assert_uint_eq(unhex(rfc8032[i].pub, pub, sizeof pub), 32);
        ck_assert_uint_eq(unhex(rfc8032[i].signature, want, sizeof want), 64);
        size_t len = unhex(rfc8032[i].message, message, sizeof message);
        cot_keypair_from_seed(seed, &k);
        ck_assert_mem_eq(k.pub.b, pub, 32);
        crypto_sign_detached(got, NULL, message, len, k.secret);
        ck_assert_mem_eq(got, want, 64);
    }
}
END_TEST

/* RFC 8037 appendix A.1, A.2, A.4, A.5 (from memory; the same key as RFC 8032 test 1). */
START_TEST(published_jws)
{
    static const char d[] = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A";
    static const char x[] = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo";
    static const char input[] = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc";
    static const char signature[] =
        "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg";
    struct cot_keypair k;
    uint8_t seed[32], sig[64];
    char text[COT_ID_TEXT], sig_text[COT_B64_LEN(64) + 1], part[64];
    ck_assert(cot_b64_parse(d, strlen(d), seed, sizeof seed));
    cot_keypair_from_seed(seed, &k);
    cot_id_text(&k.pub, text);
    ck_assert_str_eq(text, x);
    cot_b64_text("{\"alg\":\"EdDSA\"}", 15, part);
    ck_assert_int_eq(strncmp(part, input, strlen(part)), 0);
    cot_b64_text("Example of Ed25519 signing", 26, part);
    ck_assert_str_eq(part, strchr(input, '.') + 1);
    crypto_sign_detached(sig, NULL, (const uint8_t *)input, strlen(input), k.secret);
    cot_b64_text(sig, sizeof sig, sig_text);
    ck_assert_str_eq(sig_text, signature);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/seal");
    TCase *t = tcase_create("seal");
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    tcase_add_test(t, signing_gives_the_vectors);
    tcase_add_test(t, head_and_join_round_trips);
    tcase_add_test(t, published_ed25519);
    tcase_add_test(t, published_jws);
    suite_add_tcase(s, t);
    return s;
}
