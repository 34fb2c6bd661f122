/* Joining: by an invitation once, with the same answer when repeated; again under a new tag; and who may invite. */
#include "../main.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "harness.h"

static struct cot_server server;
static char clock_file[100];

static void set_clock(const char *instant)
{
    FILE *f = fopen(clock_file, "we");
    ck_assert_ptr_nonnull(f);
    fputs(instant, f);
    fclose(f);
}

static void setup(void)
{
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
}

static void teardown(void)
{
    cot_server_remove(&server);
}

/* A join of our own making, so that it can be repeated and spoilt. */
static enum cot_err join_as(const struct cot_house_id *house, const struct cot_id *hash, const struct cot_keypair *key,
                            const char *label, struct cot_reply *r)
{
    struct cot_buf proof = {0}, body = {0};
    char text[COT_HOUSE_TEXT];
    cot_join_sign(house, hash, key, &proof);
    cot_buf_fmt(&body, "{\"proof\":\"%s\",\"label\":\"%s\"}", proof.s, label);
    cot_house_text(house, text);
    struct cot_http_header headers[] = {{"Cotyledger-House", text}, {"Content-Type", "application/json"}};
    ck_assert(cot_http_call(&server, "POST", "/v1/join", headers, 2, body.s, body.len, r));
    cot_buf_free(&proof);
    cot_buf_free(&body);
    return cot_reply_code(r);
}

static void new_house(const char *name, struct cot_invitation *i, struct cot_id *hash)
{
    char *line;
    ck_assert_int_eq(cot_server_command(&server, &line, COT_ARGS("new-house", name, "--manager", "Mara Quill")), 0);
    ck_assert_int_eq(cot_invitation_parse(line, strcspn(line, "\n"), i, NULL), COT_OK);
    ck_assert_ptr_eq(strchr(line, '\n'), line + strlen(line) - 1); /* only the line, for a script to take */
    cot_invitation_hash(i->secret, hash);
    free(line);
}

START_TEST(test_once_and_again)
{
    struct cot_invitation i;
    struct cot_id hash, fingerprint, key;
    struct cot_keypair one, two;
    struct cot_reply first, again, other;
    new_house("once", &i, &hash);
    cot_keypair_new(&one);
    cot_keypair_new(&two);
    ck_assert_int_eq(join_as(&i.house, &hash, &one, "bench laptop", &first), COT_OK);
    ck_assert_int_eq(join_as(&i.house, &hash, &one, "another label", &again), COT_OK);
    ck_assert_str_eq(first.body, again.body);
    ck_assert_int_eq(join_as(&i.house, &hash, &two, "bench laptop", &other), COT_UNAUTHENTIC);
    ck_assert_ptr_nonnull(strstr(other.body, "used"));
    /* The house key is the one that the invitation's fingerprint is of. */
    char text[64];
    ck_assert(cot_json_text(first.body, first.len, "house_key", text, sizeof text));
    ck_assert(cot_id_parse(text, strlen(text), &key));
    crypto_hash_sha256(fingerprint.b, key.b, sizeof key.b);
    ck_assert_int_eq(cot_id_cmp(&fingerprint, &i.fingerprint), 0);
    ck_assert_ptr_nonnull(strstr(first.body, "\"tag\":\"A\""));
    ck_assert_ptr_nonnull(strstr(first.body, "\"part\":\"manager\",\"farm\":null,\"position\":3}"));
    cot_reply_free(&first);
    cot_reply_free(&again);
    cot_reply_free(&other);
}
END_TEST

START_TEST(test_unknown_and_spoilt)
{
    struct cot_invitation i, j;
    struct cot_id hash, other_hash, guess;
    struct cot_keypair key;
    struct cot_reply r;
    new_house("unknown", &i, &hash);
    new_house("unknown too", &j, &other_hash);
    cot_keypair_new(&key);
    randombytes_buf(guess.b, sizeof guess.b);
    ck_assert_int_eq(join_as(&i.house, &guess, &key, "x", &r), COT_UNAUTHENTIC);
    cot_reply_free(&r);
    ck_assert_int_eq(join_as(&i.house, &other_hash, &key, "x", &r), COT_UNAUTHENTIC); /* another house's */
    cot_reply_free(&r);
    struct cot_house_id none;
    randombytes_buf(none.b, sizeof none.b);
    ck_assert_int_eq(join_as(&none, &hash, &key, "x", &r), COT_UNAUTHENTIC);
    cot_reply_free(&r);
    static const char *const bodies[] = {"",
                                         "{}",
                                         "[]",
                                         "{\"proof\":1}",
                                         "{\"proof\":\"a.b.c\"}",
                                         "{\"proof\":\"x\",\"proof\":\"y\"}",
                                         "{\"proof\":\"x\",\"other\":1}",
                                         "{\"label\":\"x\"}",
                                         "\"proof\"",
                                         "{\"proof\":\"x\"",
                                         "{\"proof\":\"\\u0000\"}"};
    char text[COT_HOUSE_TEXT];
    cot_house_text(&i.house, text);
    struct cot_http_header headers[] = {{"Cotyledger-House", text}, {"Content-Type", "application/json"}};
    for (size_t k = 0; k < sizeof bodies / sizeof bodies[0]; k++) {
        ck_assert(cot_http_call(&server, "POST", "/v1/join", headers, 2, bodies[k], strlen(bodies[k]), &r));
        ck_assert_msg(r.status == 400, "%s: %d %s", bodies[k], r.status, r.body);
        cot_reply_free(&r);
    }
    headers[0].value = "not an id";
    ck_assert(cot_http_call(&server, "POST", "/v1/join", headers, 2, bodies[4], strlen(bodies[4]), &r));
    ck_assert_int_eq(r.status, 400);
    cot_reply_free(&r);
    ck_assert_int_eq(join_as(&i.house, &hash, &key, "two\\nlines", &r), COT_INVALID); /* a label is one line of text */
    cot_reply_free(&r);
    ck_assert_int_eq(join_as(&i.house, &hash, &key, "", &r), COT_OK);
    cot_reply_free(&r);
}
END_TEST

static void invite_body(const struct cot_id *member, const struct cot_id *hash, int64_t expires, char *out, size_t len)
{
    char m[COT_ID_TEXT], h[COT_ID_TEXT];
    cot_id_text(member, m);
    cot_id_text(hash, h);
    snprintf(out, len, "{\"member\":\"%s\",\"hash\":\"%s\",\"expires\":%lld}", m, h, (long long)expires);
}

static enum cot_err invite(const struct cot_device *d, const struct cot_id *member, const struct cot_id *hash,
                           int64_t expires)
{
    char body[300];
    struct cot_reply r;
    invite_body(member, hash, expires, body, sizeof body);
    ck_assert(cot_signed_call(d, "POST", "/v1/invitations", NULL, NULL, body, strlen(body), &r));
    enum cot_err code = cot_reply_code(&r);
    if (!code) ck_assert_int_eq(cot_json_int(r.body, r.len, "expires"), expires);
    cot_reply_free(&r);
    return code;
}

START_TEST(test_invitations)
{
    struct cot_device m, hand;
    struct cot_id hash, hash2;
    cot_found(&server, "invitations", &m);
    cot_device_invite(&m, "Ilse Thorn", COT_PART_HAND, NULL, &hand);
    int64_t now = (int64_t)time(NULL) * 1000, day = 86400000;
    randombytes_buf(hash.b, sizeof hash.b);
    randombytes_buf(hash2.b, sizeof hash2.b);
    ck_assert_int_eq(invite(&m, &hand.member, &hash, now + day), COT_OK);
    ck_assert_int_eq(invite(&m, &hand.member, &hash, now + day), COT_OK); /* the same again */
    ck_assert_int_eq(invite(&m, &hand.member, &hash, now + 2 * day), COT_CONFLICT);
    ck_assert_int_eq(invite(&m, &m.member, &hash, now + day), COT_CONFLICT);
    ck_assert_int_eq(invite(&m, &hand.member, &hash2, now - 1000), COT_INVALID);
    ck_assert_int_eq(invite(&m, &hand.member, &hash2, now + 400 * day), COT_INVALID);
    ck_assert_int_eq(invite(&m, &hash2, &hash2, now + day), COT_INVALID); /* no such member */
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford");
    struct cot_id farm = cot_device_write(&m, &f);
    ck_assert_int_eq(invite(&m, &farm, &hash2, now + day), COT_INVALID); /* a farm is no member */
    ck_assert_int_eq(invite(&hand, &hand.member, &hash2, now + day), COT_NOT_ALLOWED);
}
END_TEST

/* A second device of a member; and one invitation for two that come at once: one gets in. */
START_TEST(test_second_device)
{
    struct cot_device m, hand;
    struct cot_keypair one, two;
    struct cot_reply r, s;
    struct cot_id hash;
    cot_found(&server, "second", &m);
    cot_device_invite(&m, "Ilse Thorn", COT_PART_HAND, NULL, &hand);
    randombytes_buf(hash.b, sizeof hash.b);
    cot_keypair_new(&one);
    cot_keypair_new(&two);
    ck_assert_int_eq(invite(&m, &hand.member, &hash, ((int64_t)time(NULL) + 600) * 1000), COT_OK);
    ck_assert_int_eq(join_as(&m.house, &hash, &one, "tablet", &r), COT_OK);
    ck_assert_int_eq(join_as(&m.house, &hash, &two, "tablet", &s), COT_UNAUTHENTIC);
    ck_assert_ptr_nonnull(strstr(r.body, "\"tag\":\"C\""));
    cot_reply_free(&r);
    cot_reply_free(&s);
}
END_TEST

static enum cot_err rejoin(const struct cot_device *d, const char *tag, const struct cot_keypair *fresh,
                           struct cot_reply *r)
{
    static const char domain[] = "cotyledger rejoin v1";
    crypto_hash_sha256_state s;
    struct cot_id hash;
    struct cot_buf proof = {0}, body = {0};
    crypto_hash_sha256_init(&s);
    crypto_hash_sha256_update(&s, (const uint8_t *)domain, sizeof domain - 1);
    crypto_hash_sha256_update(&s, (const uint8_t *)tag, strlen(tag));
    crypto_hash_sha256_final(&s, hash.b);
    cot_join_sign(&d->house, &hash, fresh, &proof);
    cot_buf_fmt(&body, "{\"proof\":\"%s\",\"label\":\"restored laptop\"}", proof.s);
    ck_assert(cot_signed_call(d, "POST", "/v1/rejoin", NULL, NULL, body.s, body.len, r));
    cot_buf_free(&proof);
    cot_buf_free(&body);
    return cot_reply_code(r);
}

START_TEST(test_rejoin)
{
    struct cot_device m, buyer;
    struct cot_keypair one, two;
    struct cot_reply r, again, other;
    char text[64], wanted[64];
    cot_found(&server, "rejoin", &m);
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford");
    struct cot_id farm = cot_device_write(&m, &f);
    cot_device_invite(&m, "Tove Reed", COT_PART_BUYER, &farm, &buyer);
    cot_keypair_new(&one);
    cot_keypair_new(&two);
    ck_assert_int_eq(rejoin(&buyer, buyer.tag, &one, &r), COT_OK);
    ck_assert_int_eq(rejoin(&buyer, buyer.tag, &one, &again), COT_OK);
    ck_assert_str_eq(r.body, again.body);
    ck_assert_int_eq(rejoin(&buyer, buyer.tag, &two, &other), COT_OK); /* another copy of the same laptop */
    ck_assert_str_ne(r.body, other.body);
    ck_assert(cot_json_text(r.body, r.len, "farm", text, sizeof text));
    cot_id_text(&farm, wanted);
    ck_assert_str_eq(text, wanted);
    ck_assert_ptr_nonnull(strstr(r.body, "\"part\":\"buyer\""));
    cot_reply_free(&again);
    ck_assert_int_eq(rejoin(&buyer, m.tag, &two, &again), COT_UNAUTHENTIC); /* as somebody else */
    cot_reply_free(&again);
    /* The old tag stays open, and the new one works. */
    f = cot_fact_note("still here");
    f.has_farm = true;
    f.farm = farm;
    cot_device_write(&buyer, &f);
    struct cot_device fresh = buyer;
    fresh.key = one;
    ck_assert(cot_json_text(r.body, r.len, "tag", fresh.tag, sizeof fresh.tag));
    fresh.number = 0;
    cot_chain_start(&fresh.house, fresh.tag, &fresh.chain);
    cot_device_write(&fresh, &f);
    cot_reply_free(&r);
    cot_reply_free(&other);
}
END_TEST

START_TEST(test_rejoining_has_an_end)
{
    struct cot_device m, hand;
    struct cot_keypair key;
    struct cot_reply r;
    char text[64];
    struct cot_id first;
    cot_found(&server, "rejoin without end", &m);
    cot_device_invite(&m, "Tove Reed", COT_PART_HAND, NULL, &hand);
    for (int have = 1; have < 20; have++) {
        cot_keypair_new(&key);
        ck_assert_int_eq(rejoin(&hand, hand.tag, &key, &r), COT_OK);
        cot_reply_free(&r);
    }
    struct cot_keypair one_more;
    cot_keypair_new(&one_more);
    ck_assert_int_eq(rejoin(&hand, hand.tag, &one_more, &r), COT_NOT_ALLOWED);
    cot_reply_free(&r);
    ck_assert_int_eq(rejoin(&hand, hand.tag, &key, &r), COT_OK); /* what was answered before is answered again */
    cot_reply_free(&r);
    ck_assert_int_eq(rejoin(&m, m.tag, &one_more, &r), COT_OK); /* others are not concerned */
    cot_reply_free(&r);
    cot_keypair_new(&one_more);
    /* A manager closes one: there is room again. */
    ck_assert(cot_signed_call(&m, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    const char *row = strstr(r.body, "\"kind\":\"device\"");
    for (const char *more;
         row && (more = strstr(row + 1, "\"kind\":\"device\"")) && strstr(more + 1, "\"kind\":\"device\"");)
        row = more;
    ck_assert_ptr_nonnull(row); /* the last but one: a laptop of the hand's */
    const char *end = strchr(row, '\n');
    while (row > r.body && row[-1] != '\n') row--;
    cot_digest(row, (size_t)(end - row), &first);
    cot_reply_free(&r);
    struct cot_fact f = {.kind = COT_K_CLOSED, .has_about = true, .about = first};
    cot_device_write(&m, &f);
    ck_assert_int_eq(rejoin(&hand, hand.tag, &one_more, &r), COT_OK);
    ck_assert(cot_json_text(r.body, r.len, "tag", text, sizeof text));
    cot_reply_free(&r);
}
END_TEST

START_TEST(test_another_manager)
{
    struct cot_device m, n;
    char *line, house[COT_HOUSE_TEXT];
    cot_found(&server, "lost laptop", &m);
    cot_house_text(&m.house, house);
    ck_assert_int_eq(cot_server_command(&server, &line, COT_ARGS("invite-manager", "--house", house, "Una Marsh")), 0);
    ck_assert(cot_device_join(&server, line, &n, NULL));
    ck_assert_int_eq(n.part, COT_PART_MANAGER);
    struct cot_reply r; /* a visible entry */
    ck_assert(cot_signed_call(&m, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    ck_assert_ptr_nonnull(strstr(r.body, "Una Marsh"));
    cot_reply_free(&r);
    free(line);
}
END_TEST

/* With a clock of its own: an invitation expires, but who came in time gets the same answer later. */
START_TEST(test_expiry)
{
    struct cot_server own;
    struct cot_invitation i;
    struct cot_id hash, hash2;
    struct cot_keypair key, late;
    struct cot_reply r, again;
    struct cot_server kept = server;
    cot_server_make(&own);
    snprintf(clock_file, sizeof clock_file, "%s/clock", own.scratch);
    set_clock("2027-03-01T08:00:00Z\n");
    setenv("COTYLEDGER_DEMO_CLOCK", clock_file, 1);
    ck_assert(cot_server_start(&own, NULL, NULL));
    server = own;
    new_house("expiry", &i, &hash);
    struct cot_invitation j;
    new_house("expiry too", &j, &hash2);
    cot_keypair_new(&key);
    cot_keypair_new(&late);
    set_clock("2027-03-08T07:59:00Z\n");
    ck_assert_int_eq(join_as(&i.house, &hash, &key, "x", &r), COT_OK);
    set_clock("2027-03-08T08:01:00Z\n");
    ck_assert_int_eq(join_as(&i.house, &hash, &key, "x", &again), COT_OK);
    ck_assert_str_eq(r.body, again.body);
    cot_reply_free(&again);
    ck_assert_int_eq(join_as(&j.house, &hash2, &late, "x", &again), COT_UNAUTHENTIC);
    ck_assert_ptr_nonnull(strstr(again.body, "expired"));
    cot_reply_free(&r);
    cot_reply_free(&again);
    server = kept;
    unsetenv("COTYLEDGER_DEMO_CLOCK");
    cot_server_remove(&own);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/joining");
    TCase *t = tcase_create("joining");
    tcase_set_timeout(t, 120);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_once_and_again);
    tcase_add_test(t, test_unknown_and_spoilt);
    tcase_add_test(t, test_invitations);
    tcase_add_test(t, test_second_device);
    tcase_add_test(t, test_rejoin);
    tcase_add_test(t, test_rejoining_has_an_end);
    tcase_add_test(t, test_another_manager);
    tcase_add_test(t, test_expiry);
    suite_add_tcase(s, t);
    return s;
}
