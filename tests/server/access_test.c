/* Who may: every route x part x house, and what each part gets to see of every scope. */
#include "../main.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "harness.h"

static struct cot_server server;

/* One house with somebody of every part, another farm's buyer, a closed device, a device that never joined, and a
 * manager of another house. */
enum who { MANAGER, HAND, BUYER, OTHER_BUYER, AUDITOR, CLOSED, NOBODY, STRANGER, WHO_COUNT };
static const char *const who_names[] = {"manager", "hand",   "buyer",  "other farm's buyer",
                                        "auditor", "closed", "nobody", "stranger"};
static struct cot_device device[WHO_COUNT];
static struct cot_id farm, other_farm, crop, variety, plate, place, stock, member_of_hand;

static struct cot_id closing_of(const struct cot_device *m, int64_t position)
{
    struct cot_reply r;
    struct cot_id found = {{0}};
    ck_assert(cot_signed_call(m, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    size_t at = 0;
    for (struct cot_feed_item item; cot_feed_next(r.body, r.len, &at, &item, NULL) == COT_OK;)
        if (item.what == COT_FEED_ROW && item.position == position) found = item.digest;
    cot_reply_free(&r);
    return found;
}

static void people(void)
{
    struct cot_device *m = &device[MANAGER];
    cot_found(&server, "Alder House", m);
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford"), g = cot_fact_named(COT_K_FARM, "Brindle Farm");
    farm = cot_device_write(m, &f);
    other_farm = cot_device_write(m, &g);
    f = cot_fact_named(COT_K_CROP, "Lettuce");
    crop = cot_device_write(m, &f);
    f = cot_fact_named(COT_K_VARIETY, "Red Harbour");
    ck_assert(cot_fact_set_ids(&f, COT_F_CROP, &crop, 1));
    variety = cot_device_write(m, &f);
    f = cot_fact_named(COT_K_PLATE, "128 one-hole");
    ck_assert(cot_fact_set_int(&f, COT_F_CELLS, 128) && cot_fact_set_int(&f, COT_F_HOLES, 1));
    plate = cot_device_write(m, &f);
    f = cot_fact_named(COT_K_PLACE, "bench 3");
    ck_assert(cot_fact_set_int(&f, COT_F_SORT, 1) && cot_fact_set_int(&f, COT_F_SPOTS, 40));
    place = cot_device_write(m, &f);
    cot_device_invite(m, "Ilse Thorn", COT_PART_HAND, NULL, &device[HAND]);
    f = (struct cot_fact){.kind = COT_K_STOCK};
    ck_assert(cot_fact_set_int(&f, COT_F_DAY, 20800) && cot_fact_set_int(&f, COT_F_MIX_L, 1200));
    stock = cot_device_write(&device[HAND], &f);
    member_of_hand = device[HAND].member;
    cot_device_invite(m, "Tove Reed", COT_PART_BUYER, &farm, &device[BUYER]);
    cot_device_invite(m, "Nell Brindle", COT_PART_BUYER, &other_farm, &device[OTHER_BUYER]);
    cot_device_invite(m, "Osk Ledger", COT_PART_AUDITOR, NULL, &device[AUDITOR]);
    cot_device_invite(m, "Pim Gone", COT_PART_HAND, NULL, &device[CLOSED]);
    f = (struct cot_fact){.kind = COT_K_CLOSED, .has_about = true};
    f.about = closing_of(m, device[CLOSED].joined);
    cot_device_write(m, &f);
    device[NOBODY] = device[HAND];
    memcpy(device[NOBODY].tag, "ZZ", 3);
    cot_keypair_new(&device[NOBODY].key);
    cot_found(&server, "Brook House", &device[STRANGER]);
    device[STRANGER].house = m->house; /* knocks at this house with the other's key */
}

static void setup(void)
{
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
    people();
}

static void teardown(void)
{
    cot_server_remove(&server);
}

/* --- Routes x parts
 * ------------------------------------------------------------------------------------------------------ */
enum ask {
    PAGE_OWN,
    PAGE_OF_HAND,
    LEDGER,
    HEAD,
    CHAIN,
    BOOK,
    BOOK_AT,
    FILL_OWN,
    FILL_OTHER,
    WHAT_IF_OWN,
    WHAT_IF_OTHER,
    INVITE,
    REJOIN,
    ASK_COUNT
};
static const char *const ask_names[] = {"own page",
                                        "a hand's page",
                                        "ledger",
                                        "head",
                                        "chain",
                                        "book",
                                        "book at",
                                        "own fill",
                                        "other farm's fill",
                                        "own what-if",
                                        "other farm's what-if",
                                        "invitation",
                                        "rejoin"};
#define OK COT_OK
#define NO COT_NOT_ALLOWED
#define CL COT_CLOSED
#define UN COT_UNAUTHENTIC
static const enum cot_err allowed[ASK_COUNT][WHO_COUNT] = {
    /*               manager hand buyer other auditor closed nobody stranger */
    [PAGE_OWN] = {OK, OK, OK, OK, NO, CL, UN, UN},      [PAGE_OF_HAND] = {OK, OK, NO, NO, NO, CL, UN, UN},
    [LEDGER] = {OK, OK, OK, OK, OK, CL, UN, UN},        [HEAD] = {OK, OK, OK, OK, OK, CL, UN, UN},
    [CHAIN] = {OK, OK, OK, OK, OK, CL, UN, UN},         [BOOK] = {OK, OK, OK, OK, OK, CL, UN, UN},
    [BOOK_AT] = {OK, OK, OK, OK, OK, CL, UN, UN},       [FILL_OWN] = {OK, OK, OK, OK, OK, CL, UN, UN},
    [FILL_OTHER] = {OK, OK, NO, OK, OK, CL, UN, UN},    [INVITE] = {OK, NO, NO, NO, NO, CL, UN, UN},
    [REJOIN] = {OK, OK, OK, OK, OK, CL, UN, UN},        [WHAT_IF_OWN] = {OK, OK, OK, OK, OK, CL, UN, UN},
    [WHAT_IF_OTHER] = {OK, OK, NO, OK, OK, CL, UN, UN},
};

static void page_of(struct cot_device maker, struct cot_buf *page)
{
    struct cot_draft p;
    struct cot_fact f = cot_fact_note("by the door");
    f.has_farm = maker.part == COT_PART_BUYER;
    f.farm = maker.farm;
    cot_draft_start(&p, &maker);
    cot_draft_add(&p, &f);
    cot_draft_end(&p, page);
}

static bool post_page(const struct cot_device *asker, const struct cot_device *maker, struct cot_reply *r)
{
    struct cot_buf page;
    page_of(*maker, &page);
    bool answered = cot_send(asker, &page, r);
    cot_buf_free(&page);
    return answered;
}

static bool ask_fill(const struct cot_device *d, const struct cot_id *of, struct cot_reply *r)
{
    char query[120], text[COT_ID_TEXT];
    cot_id_text(of, text);
    snprintf(query, sizeof query, "on=2027-03-29&form=text&farm=%s", text);
    return cot_signed_call(d, "GET", "/v1/fill", query, NULL, NULL, 0, r);
}

static bool ask_what_if(const struct cot_device *d, const struct cot_id *of, struct cot_reply *r)
{
    char query[240], text[COT_ID_TEXT], kind[COT_ID_TEXT];
    cot_id_text(of, text);
    cot_id_text(&variety, kind);
    snprintf(query, sizeof query, "on=2027-03-29&farm=%s&variety=%s&plants=40&date=2027-05-01", text, kind);
    return cot_signed_call(d, "GET", "/v1/what-if", query, NULL, NULL, 0, r);
}

static bool ask_invite(const struct cot_device *d, struct cot_reply *r)
{
    char body[300], member[COT_ID_TEXT], hash[COT_ID_TEXT];
    struct cot_id h;
    randombytes_buf(h.b, sizeof h.b);
    cot_id_text(&member_of_hand, member);
    cot_id_text(&h, hash);
    int64_t soon = ((int64_t)time(NULL) + 3600) * 1000;
    int n = snprintf(body, sizeof body, "{\"member\":\"%s\",\"hash\":\"%s\",\"expires\":%lld}", member, hash,
                     (long long)soon);
    return cot_signed_call(d, "POST", "/v1/invitations", NULL, NULL, body, (size_t)n, r);
}

static bool ask_rejoin(const struct cot_device *d, struct cot_reply *r)
{
    static const char domain[] = "cotyledger rejoin v1";
    crypto_hash_sha256_state s;
    struct cot_id hash;
    struct cot_keypair fresh;
    struct cot_buf proof = {0}, body = {0};
    crypto_hash_sha256_init(&s);
    crypto_hash_sha256_update(&s, (const uint8_t *)domain, sizeof domain - 1);
    crypto_hash_sha256_update(&s, (const uint8_t *)d->tag, strlen(d->tag));
    crypto_hash_sha256_final(&s, hash.b);
    cot_keypair_new(&fresh);
    cot_join_sign(&d->house, &hash, &fresh, &proof);
    cot_buf_fmt(&body, "{\"proof\":\"%s\"}", proof.s);
    bool answered = cot_signed_call(d, "POST", "/v1/rejoin", NULL, NULL, body.s, body.len, r);
    cot_buf_free(&proof);
    cot_buf_free(&body);
    return answered;
}

static bool ask(enum ask what, const struct cot_device *d, struct cot_reply *r)
{
    switch (what) {
    case PAGE_OWN:
        return post_page(d, d, r);
    case PAGE_OF_HAND:
        return post_page(d, &device[HAND], r);
    case LEDGER:
        return cot_signed_call(d, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, r);
    case HEAD:
        return cot_signed_call(d, "GET", "/v1/head", NULL, NULL, NULL, 0, r);
    case CHAIN:
        return cot_signed_call(d, "GET", "/v1/chain", "at=2", NULL, NULL, 0, r);
    case BOOK:
        return cot_signed_call(d, "GET", "/v1/book", NULL, NULL, NULL, 0, r);
    case BOOK_AT:
        return cot_signed_call(d, "GET", "/v1/book", "at=3", NULL, NULL, 0, r);
    case FILL_OWN:
        return ask_fill(d, d->part == COT_PART_BUYER ? &d->farm : &farm, r);
    case FILL_OTHER:
        return ask_fill(d, &other_farm, r);
    case WHAT_IF_OWN:
        return ask_what_if(d, d->part == COT_PART_BUYER ? &d->farm : &farm, r);
    case WHAT_IF_OTHER:
        return ask_what_if(d, &other_farm, r);
    case INVITE:
        return ask_invite(d, r);
    case REJOIN:
        return ask_rejoin(d, r);
    case ASK_COUNT:
        break;
    }
    return false;
}

START_TEST(test_every_route_and_part)
{
    enum ask what = (enum ask)_i;
    for (int who = 0; who < WHO_COUNT; who++) {
        struct cot_reply r;
        ck_assert(ask(what, &device[who], &r));
        enum cot_err code = cot_reply_code(&r);
        ck_assert_msg(code == allowed[what][who], "%s asks for %s: %s, not %s: %s", who_names[who], ask_names[what],
                      cot_err_row(code)->name, cot_err_row(allowed[what][who])->name, r.body ? r.body : "");
        cot_reply_free(&r);
    }
}
END_TEST

/* Pages that are taken change the maker's head, so each asker gets a run of its own. */
START_TEST(test_pages_by_each_part)
{
    int who = _i % WHO_COUNT;
    enum ask what = _i < WHO_COUNT ? PAGE_OWN : PAGE_OF_HAND;
    struct cot_reply r;
    ck_assert(ask(what, &device[who], &r));
    enum cot_err code = cot_reply_code(&r);
    /* The device's head may have moved in a run before: then its making is a fork, and it was allowed. */
    if (code == COT_FORK) code = COT_OK;
    ck_assert_msg(code == allowed[what][who], "%s: %s: %s", who_names[who], ask_names[what], r.body);
    cot_reply_free(&r);
}
END_TEST

/* --- What each sees
 * ------------------------------------------------------------------------------------------------------- */
/* 'r' a row, 'h' a hole, for the entry with this digest; 0 when it is not there. */
static char seen(const struct cot_device *d, const struct cot_id *digest)
{
    struct cot_reply r;
    char what = 0;
    ck_assert(cot_signed_call(d, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    ck_assert_int_eq(r.status, 200);
    size_t at = 0;
    for (struct cot_feed_item item; cot_feed_next(r.body, r.len, &at, &item, NULL) == COT_OK;) {
        if (item.what != COT_FEED_ROW && item.what != COT_FEED_HOLE) continue;
        if (cot_id_cmp(&item.digest, digest) == 0) what = item.what == COT_FEED_ROW ? 'r' : 'h';
    }
    cot_reply_free(&r);
    return what;
}

START_TEST(test_scopes)
{
    const struct {
        const char *name;
        const struct cot_id *of;
        char wanted[5];
    } scopes[] = {
        /* manager, auditor, buyer, other buyer */
        {"own farm", &farm, {'r', 'r', 'r', 'h'}},  {"other farm", &other_farm, {'r', 'r', 'h', 'r'}},
        {"catalogue", &crop, {'r', 'r', 'r', 'r'}}, {"house", &plate, {'r', 'r', 'h', 'h'}},
        {"a place", &place, {'r', 'r', 'h', 'h'}},  {"stock on hand", &stock, {'r', 'r', 'h', 'h'}},
    };
    static const enum who askers[] = {MANAGER, AUDITOR, BUYER, OTHER_BUYER};
    for (size_t i = 0; i < sizeof scopes / sizeof scopes[0]; i++)
        for (size_t k = 0; k < 4; k++)
            ck_assert_msg(seen(&device[askers[k]], scopes[i].of) == scopes[i].wanted[k], "%s: %s", scopes[i].name,
                          who_names[askers[k]]);
}
END_TEST

/* The buyer's answer holds no byte of what it may not see: not the other farm's name, not a member of it. */
START_TEST(test_nothing_leaks_in_a_buyers_feed)
{
    struct cot_reply r;
    ck_assert(cot_signed_call(&device[BUYER], "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    ck_assert_ptr_nonnull(strstr(r.body, "Alder Ford"));
    ck_assert_ptr_null(strstr(r.body, "Brindle"));
    ck_assert_ptr_null(strstr(r.body, "one-hole"));
    ck_assert_ptr_null(strstr(r.body, "bench 3"));
    cot_reply_free(&r);
    ck_assert(ask_fill(&device[BUYER], &farm, &r));
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
}
END_TEST

/* Another house's id in the header is nobody's there; a house that does not exist says the same. */
START_TEST(test_other_houses)
{
    struct cot_reply r;
    struct cot_device d = device[MANAGER];
    randombytes_buf(d.house.b, sizeof d.house.b);
    ck_assert(cot_signed_call(&d, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_UNAUTHENTIC);
    char *none = r.body;
    ck_assert(cot_signed_call(&device[STRANGER], "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_UNAUTHENTIC);
    free(none);
    cot_reply_free(&r);
}
END_TEST

static void spoil(struct cot_signed *s, void *ctx)
{
    char **part[] = {&s->method, &s->path, &s->query, &s->type, &s->house, &s->digest, &s->input, &s->signature};
    static const char *const with[] = {"POST", "/v1/head", "after=1", "text/plain", "AAAAAAAAAAAAAAAAAAAAAA",
                                       NULL,   NULL,       NULL};
    int i = *(int *)ctx;
    if (with[i]) {
        free(*part[i]);
        *part[i] = strdup(with[i]);
    } else {
        char *p = *part[i] + strlen(*part[i]) / 2;
        *p = *p == 'A' ? 'B' : 'A';
    }
}

/* Whatever the signature covers, changed on the way, is noticed. */
START_TEST(test_spoilt_request)
{
    struct cot_reply r;
    int part = _i;
    ck_assert(
        cot_signed_call_changed(&device[MANAGER], "GET", "/v1/ledger", "after=0", NULL, NULL, 0, spoil, &part, &r));
    enum cot_err code = cot_reply_code(&r);
    ck_assert_msg(code == COT_UNAUTHENTIC || code == COT_MALFORMED || code == COT_NOT_FOUND, "part %d: %d %s", part,
                  r.status, r.body);
    cot_reply_free(&r);
}
END_TEST

static void drop(struct cot_signed *s, void *ctx)
{
    char **part[] = {&s->house, &s->type, &s->digest, &s->input, &s->signature};
    int i = *(int *)ctx;
    free(*part[i]);
    *part[i] = NULL;
}

START_TEST(test_missing_header)
{
    struct cot_reply r;
    int part = _i;
    ck_assert(cot_signed_call_changed(&device[MANAGER], "GET", "/v1/head", NULL, NULL, NULL, 0, drop, &part, &r));
    ck_assert_int_eq(r.status, 401);
    cot_reply_free(&r);
}
END_TEST

struct kept {
    struct cot_signed s;
};
static void keep(struct cot_signed *s, void *ctx)
{
    struct kept *k = ctx;
    if (!k->s.signature) {
        k->s.digest = strdup(s->digest);
        k->s.input = strdup(s->input);
        k->s.signature = strdup(s->signature);
        return;
    }
    free(s->digest), free(s->input), free(s->signature);
    s->digest = k->s.digest, s->input = k->s.input, s->signature = k->s.signature;
}

START_TEST(test_replay)
{
    struct kept k = {{0}};
    struct cot_reply r;
    ck_assert(cot_signed_call_changed(&device[MANAGER], "GET", "/v1/head", NULL, NULL, NULL, 0, keep, &k, &r));
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
    ck_assert(cot_signed_call_changed(&device[MANAGER], "GET", "/v1/head", NULL, NULL, NULL, 0, keep, &k, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_UNAUTHENTIC);
    cot_reply_free(&r);
}
END_TEST

/* A clock that is off gets the server's time, and may sign again with it. */
START_TEST(test_wrong_clock)
{
    struct cot_device d = device[MANAGER];
    struct cot_reply r;
    static const int64_t off[] = {-301500, 301500, -86400000, 315576000000};
    for (size_t i = 0; i < 4; i++) {
        d.clock_off = off[i];
        ck_assert(cot_signed_call(&d, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
        ck_assert_int_eq(cot_reply_code(&r), COT_CLOCK);
        ck_assert_int_eq(r.status, 401);
        int64_t now = cot_json_int(r.body, r.len, "now");
        ck_assert_int_le(llabs(now / 1000 - (int64_t)time(NULL)), 5);
        cot_reply_free(&r);
    }
    d.clock_off = 290000;
    ck_assert(cot_signed_call(&d, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/access");
    TCase *t = tcase_create("who may");
    tcase_set_timeout(t, 120);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_loop_test(t, test_pages_by_each_part, 0, 2 * WHO_COUNT);
    tcase_add_loop_test(t, test_every_route_and_part, LEDGER, ASK_COUNT);
    tcase_add_test(t, test_scopes);
    tcase_add_test(t, test_nothing_leaks_in_a_buyers_feed);
    tcase_add_test(t, test_other_houses);
    tcase_add_loop_test(t, test_spoilt_request, 0, 8);
    tcase_add_loop_test(t, test_missing_header, 0, 5);
    tcase_add_test(t, test_replay);
    tcase_add_test(t, test_wrong_clock);
    suite_add_tcase(s, t);
    return s;
}
