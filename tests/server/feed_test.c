/* What a device fetches: a feed that verifies from the first row to the signed head, whole pages, holes that verify;
 * the head; one position's chain; the book; the signed fill report. */
#include "../main.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "harness.h"

static struct cot_server server;

static void setup(void)
{
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
}

static void teardown(void)
{
    cot_server_remove(&server);
}

static void get(const struct cot_device *d, const char *path, const char *query, struct cot_reply *r)
{
    ck_assert(cot_signed_call(d, "GET", path, query, NULL, NULL, 0, r));
    ck_assert_msg(r->status == 200, "%s?%s: %s", path, query ? query : "", r->body);
}

/* A device that reads on: what it has verified so far, and its own book. */
struct reader {
    const struct cot_device *device;
    int64_t position, rows, holes, seals, pages_cut;
    struct cot_id ledger;
    struct {
        char tag[8];
        int64_t number;
        struct cot_id chain, key;
    } journal[16];
    int journals;
    struct cot_book *book;
    struct cot_decoder *decoder;
};

static void reader_start(struct reader *r, const struct cot_device *d)
{
    memset(r, 0, sizeof *r);
    r->device = d;
    cot_ledger_start(&d->house, &r->ledger);
    r->book = cot_book_new(d->part == COT_PART_BUYER ? &d->farm : NULL);
    r->decoder = cot_decoder_new();
}

static void reader_end(struct reader *r)
{
    cot_book_free(r->book);
    cot_decoder_free(r->decoder);
}

static int journal_of(struct reader *r, const char *tag)
{
    for (int i = 0; i < r->journals; i++)
        if (strcmp(r->journal[i].tag, tag) == 0) return i;
    int i = r->journals++;
    snprintf(r->journal[i].tag, sizeof r->journal[i].tag, "%s", tag);
    cot_chain_start(&r->device->house, tag, &r->journal[i].chain);
    if (strcmp(tag, "H") == 0) r->journal[i].key = r->device->house_key;
    return i;
}

static void take_row(struct reader *r, const struct cot_feed_item *item)
{
    int i = journal_of(r, item->tag);
    ck_assert_int_eq(item->position, ++r->position);
    ck_assert_int_eq(item->number, ++r->journal[i].number);
    cot_chain_next(&r->journal[i].chain, item->number, &item->digest);
    cot_ledger_next(&r->ledger, item->position, item->receipt, item->tag, item->number, &item->digest);
    if (item->what == COT_FEED_HOLE) {
        r->holes++;
        return;
    }
    r->rows++;
    struct cot_fact *f = calloc(1, sizeof *f);
    ck_assert_int_eq(cot_entry_parse(r->decoder, item->text, item->len, f, NULL), COT_OK);
    if (f->kind == COT_K_DEVICE) {
        char tag[8];
        const struct cot_value *v = cot_fact_value(f, COT_F_TAG);
        snprintf(tag, sizeof tag, "%.*s", (int)v->len, v->v.text);
        r->journal[journal_of(r, tag)].key = *cot_fact_id(f, COT_F_KEY);
    }
    struct cot_row row = {item->position, item->receipt, item->digest, f};
    ck_assert_int_eq(cot_book_put(r->book, &row), COT_OK);
    free(f);
}

/* The seal must verify and end exactly here. A buyer does not see who other farms' devices are: their seals are taken
 * as told. */
static void take_seal(struct reader *r, const struct cot_feed_item *item)
{
    static const struct cot_id none;
    struct cot_seal seal;
    ck_assert_int_eq(cot_seal_peek(item->text, item->len, &seal, NULL), COT_OK);
    int i = journal_of(r, seal.tag);
    if (cot_id_cmp(&r->journal[i].key, &none) != 0)
        ck_assert_int_eq(cot_seal_open(item->text, item->len, &r->journal[i].key, &seal, NULL), COT_OK);
    else ck_assert_int_eq(r->device->part, COT_PART_BUYER);
    ck_assert_int_eq(seal.last, r->journal[i].number);
    ck_assert_int_eq(cot_id_cmp(&seal.after, &r->journal[i].chain), 0);
    r->seals++;
}

/* One fetch; true when the head is reached. */
static bool read_on(struct reader *r, int64_t limit)
{
    char query[60];
    struct cot_reply reply;
    struct cot_head head;
    enum cot_feed_line last = COT_FEED_HEAD;
    bool whole = false;
    snprintf(query, sizeof query, "after=%lld&limit=%lld", (long long)r->position, (long long)limit);
    get(r->device, "/v1/ledger", query, &reply);
    ck_assert_str_eq(reply.type, "application/x-cotyledger-feed");
    size_t at = 0;
    struct cot_feed_item item;
    enum cot_err err;
    while ((err = cot_feed_next(reply.body, reply.len, &at, &item, NULL)) == COT_OK) {
        ck_assert_msg(!whole, "the head is the last line");
        if (item.what == COT_FEED_ROW || item.what == COT_FEED_HOLE) take_row(r, &item);
        else if (item.what == COT_FEED_SEAL) take_seal(r, &item);
        else {
            ck_assert_int_eq(cot_head_open(item.text, item.len, &r->device->house_key, &head, NULL), COT_OK);
            ck_assert_msg(last == COT_FEED_SEAL || last == COT_FEED_HEAD, "a page is not whole");
            whole = true;
        }
        last = item.what;
    }
    ck_assert_int_eq(at, reply.len);
    ck_assert(whole);
    cot_reply_free(&reply);
    if (r->position < head.position) return false;
    ck_assert_int_eq(r->position, head.position);
    ck_assert_int_eq(cot_id_cmp(&r->ledger, &head.ledger), 0);
    return true;
}

static void write_notes(struct cot_device *d, int n, const struct cot_id *farm)
{
    struct cot_draft p;
    struct cot_buf page;
    struct cot_reply r;
    cot_draft_start(&p, d);
    for (int i = 0; i < n; i++) {
        struct cot_fact f = cot_fact_note("shaded the third bench");
        f.has_farm = farm != NULL;
        if (farm) f.farm = *farm;
        cot_draft_add(&p, &f);
    }
    cot_draft_end(&p, &page);
    ck_assert(cot_send(d, &page, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    cot_reply_free(&r);
    cot_buf_free(&page);
}

struct house {
    struct cot_device manager, buyer;
    struct cot_id farm, other, crop, variety;
};

static void people(const char *name, struct house *h)
{
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford"), g = cot_fact_named(COT_K_FARM, "Brindle Farm");
    cot_found(&server, name, &h->manager);
    h->farm = cot_device_write(&h->manager, &f);
    h->other = cot_device_write(&h->manager, &g);
    f = cot_fact_named(COT_K_CROP, "Lettuce");
    h->crop = cot_device_write(&h->manager, &f);
    f = cot_fact_named(COT_K_VARIETY, "Red Harbour");
    ck_assert(cot_fact_set_ids(&f, COT_F_CROP, &h->crop, 1));
    h->variety = cot_device_write(&h->manager, &f);
    cot_device_invite(&h->manager, "Tove Reed", COT_PART_BUYER, &h->farm, &h->buyer);
    for (int i = 0; i < 30; i++)
        write_notes(&h->manager, 1 + i % 7, i % 3 == 0 ? NULL : i % 3 == 1 ? &h->farm : &h->other);
    for (int i = 0; i < 5; i++) write_notes(&h->buyer, 2, &h->farm);
}

static void book_of(const struct cot_device *d, const char *query, int64_t *position,
                    char digest[static COT_BOOK_DIGEST_TEXT])
{
    struct cot_reply r;
    get(d, "/v1/book", query, &r);
    *position = cot_json_int(r.body, r.len, "position");
    ck_assert(cot_json_text(r.body, r.len, "book", digest, COT_BOOK_DIGEST_TEXT));
    cot_reply_free(&r);
}

/* Read in any portions, the same ledger verifies and gives the server's book, for staff and for a buyer. */
START_TEST(test_feed_verifies)
{
    static const int64_t limits[] = {1, 2, 3, 10, 64, 5000};
    struct house h;
    people("feed", &h);
    const struct cot_device *who[] = {&h.manager, &h.buyer};
    for (int k = 0; k < 2; k++) {
        char told[COT_BOOK_DIGEST_TEXT], own[COT_BOOK_DIGEST_TEXT];
        int64_t position;
        book_of(who[k], NULL, &position, told);
        for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
            struct reader r;
            reader_start(&r, who[k]);
            while (!read_on(&r, limits[i])) {
            }
            ck_assert_int_eq(r.position, position);
            ck_assert_int_gt(r.rows, 0);
            ck_assert_int_eq(r.holes > 0, k == 1);
            ck_assert_int_eq(cot_book_digest(r.book, own), COT_OK);
            ck_assert_str_eq(own, told);
            reader_end(&r);
        }
    }
}
END_TEST

/* Looking back: the book at each position is the book of the rows up to there. */
START_TEST(test_book_at)
{
    struct house h;
    people("book at", &h);
    const struct cot_device *who[] = {&h.manager, &h.buyer};
    for (int k = 0; k < 2; k++) {
        struct reader r;
        reader_start(&r, who[k]);
        bool done = false;
        for (int i = 0; !done; i++) {
            char told[COT_BOOK_DIGEST_TEXT], own[COT_BOOK_DIGEST_TEXT], query[40];
            int64_t position;
            done = read_on(&r, 1);
            if (i % 5 && !done) continue;
            snprintf(query, sizeof query, "at=%lld", (long long)r.position);
            book_of(who[k], query, &position, told);
            ck_assert_int_eq(position, r.position);
            ck_assert_int_eq(cot_book_digest(r.book, own), COT_OK);
            ck_assert_str_eq(own, told);
        }
        reader_end(&r);
    }
}
END_TEST

START_TEST(test_chain_at)
{
    struct house h;
    struct reader r;
    people("chain at", &h);
    reader_start(&r, &h.buyer);
    for (bool done = false; !done;) {
        char query[40], text[COT_ID_TEXT], wanted[COT_ID_TEXT];
        struct cot_reply reply;
        snprintf(query, sizeof query, "at=%lld", (long long)r.position);
        get(&h.buyer, "/v1/chain", query, &reply);
        ck_assert_int_eq(cot_json_int(reply.body, reply.len, "epoch"), 1);
        ck_assert(cot_json_text(reply.body, reply.len, "ledger", text, sizeof text));
        cot_id_text(&r.ledger, wanted);
        ck_assert_str_eq(text, wanted);
        cot_reply_free(&reply);
        done = read_on(&r, 7);
    }
    reader_end(&r);
}
END_TEST

START_TEST(test_past_the_end)
{
    struct cot_device m;
    struct cot_reply r;
    static const char *const asks[][2] = {{"/v1/ledger", "after=4"}, {"/v1/chain", "at=4"}, {"/v1/book", "at=4"}};
    cot_found(&server, "short", &m);
    for (size_t i = 0; i < 3; i++) {
        ck_assert(cot_signed_call(&m, "GET", asks[i][0], asks[i][1], NULL, NULL, 0, &r));
        ck_assert_msg(cot_reply_code(&r) == COT_NOT_FOUND, "%s: %d", asks[i][0], r.status);
        cot_reply_free(&r);
    }
    get(&m, "/v1/ledger", "after=3", &r); /* nothing new: the head alone */
    ck_assert_int_eq(strncmp(r.body, "head ", 5), 0);
    cot_reply_free(&r);
}
END_TEST

/* A statement opens under the house's key and says whose, of when, and what; the server's own command prints the same
 * bytes. */
static void check_statement(const struct cot_device *d, const char *form, const struct cot_id *farm)
{
    char query[200], farm_text[COT_ID_TEXT], text[200], digest[COT_BOOK_DIGEST_TEXT];
    struct cot_reply r;
    struct cot_buf payload = {0};
    int64_t position;
    int n = snprintf(query, sizeof query, "on=2027-03-29&form=%s", form);
    if (farm && d->part != COT_PART_BUYER) {
        cot_id_text(farm, farm_text);
        snprintf(query + n, sizeof query - (size_t)n, "&farm=%s", farm_text);
    }
    get(d, "/v1/fill", query, &r);
    ck_assert_str_eq(r.type, "application/jose");
    ck_assert_int_eq(cot_jws_open(COT_JWS_STATEMENT, r.body, r.len, &d->house_key, &payload, NULL), COT_OK);
    book_of(d, NULL, &position, digest);
    ck_assert(cot_json_text(payload.s, payload.len, "book", text, sizeof text));
    ck_assert_str_eq(text, digest);
    ck_assert_int_eq(cot_json_int(payload.s, payload.len, "position"), position);
    ck_assert(cot_json_text(payload.s, payload.len, "on", text, sizeof text));
    ck_assert_str_eq(text, "2027-03-29");
    ck_assert(cot_json_text(payload.s, payload.len, "form", text, sizeof text));
    ck_assert_str_eq(text, form);
    if (farm) {
        ck_assert(cot_json_text(payload.s, payload.len, "farm", text, sizeof text));
        cot_id_text(farm, farm_text);
        ck_assert_str_eq(text, farm_text);
    }
    cot_buf_free(&payload);
    cot_reply_free(&r);
}

START_TEST(test_statements)
{
    static const char *const forms[] = {"text", "csv", "json"};
    struct house h;
    people("statements", &h);
    struct cot_fact f = cot_fact_line(&h.manager, 1, &h.farm, &h.variety, 400, "2027-05-01");
    cot_device_write(&h.manager, &f);
    f = cot_fact_line(&h.manager, 2, &h.other, &h.variety, 700, "2027-05-01");
    cot_device_write(&h.manager, &f);
    for (int i = 0; i < 3; i++) {
        check_statement(&h.manager, forms[i], NULL);
        check_statement(&h.manager, forms[i], &h.farm);
        check_statement(&h.buyer, forms[i], &h.farm);
    }
}
END_TEST

static size_t body_of(const struct cot_device *d, const char *query, char *out, size_t len)
{
    struct cot_reply r;
    struct cot_buf payload = {0};
    get(d, "/v1/fill", query, &r);
    ck_assert_int_eq(cot_jws_open(COT_JWS_STATEMENT, r.body, r.len, &d->house_key, &payload, NULL), COT_OK);
    ck_assert(cot_json_text(payload.s, payload.len, "body", out, len));
    cot_buf_free(&payload);
    cot_reply_free(&r);
    return strlen(out);
}

START_TEST(test_statement_is_the_commands_report)
{
    static char told[65536];
    struct house h;
    char *printed, house[COT_HOUSE_TEXT];
    people("command", &h);
    cot_house_text(&h.manager.house, house);
    struct cot_fact f = cot_fact_line(&h.manager, 1, &h.farm, &h.variety, 400, "2027-05-01");
    cot_device_write(&h.manager, &f);
    body_of(&h.manager, "on=2027-03-29", told, sizeof told);
    ck_assert_ptr_nonnull(strstr(told, "Red Harbour"));
    ck_assert_int_eq(cot_server_command(&server, &printed, COT_ARGS("fill", "--house", house, "--on", "2027-03-29")),
                     0);
    ck_assert_str_eq(printed, told);
    free(printed);
    /* What was typed, or another wrote, does not reach the terminal as it is. */
    const char *const none[] = {"fill", "--house", house, "--on", "2027-03-29", "--farm", "No\033[31m\xe2\x80\xae",
                                NULL};
    ck_assert_int_ne(cot_server_command(&server, NULL, none), 0);
    char *words = cot_server_log(&server);
    ck_assert_ptr_nonnull(strstr(words, "no farm \"No\\u{001B}[31m\\u{202E}\" here"));
    ck_assert_ptr_null(strchr(words, '\033'));
    free(words);
    ck_assert_int_eq(cot_server_command(&server, &printed, COT_ARGS("book", "--house", "command")), 0);
    char digest[COT_BOOK_DIGEST_TEXT], said[COT_BOOK_DIGEST_TEXT];
    int64_t position;
    book_of(&h.manager, NULL, &position, digest);
    ck_assert(cot_json_text(printed, strlen(printed), "book", said, sizeof said));
    ck_assert_str_eq(said, digest);
    free(printed);
}
END_TEST

/* An answer that is remembered is given no longer than it holds. */
START_TEST(test_a_new_entry_shows_at_once)
{
    static char before[65536], after[65536];
    struct house h;
    people("at once", &h);
    body_of(&h.buyer, "on=2027-03-29", before, sizeof before);
    body_of(&h.buyer, "on=2027-03-29", after, sizeof after);
    ck_assert_str_eq(before, after);
    struct cot_fact f = cot_fact_line(&h.buyer, 1, &h.farm, &h.variety, 400, "2027-05-01");
    cot_device_write(&h.buyer, &f);
    body_of(&h.buyer, "on=2027-03-29", after, sizeof after);
    ck_assert_ptr_nonnull(strstr(after, "Red Harbour"));
    ck_assert_ptr_null(strstr(before, "Red Harbour"));
}
END_TEST

/* --- What if ------------------------------------------------------------------------------------------------------ */
static size_t count_of(const char *text, const char *what)
{
    size_t n = 0;
    for (const char *p = text; (p = strstr(p, what)); p++) n++;
    return n;
}

/* A line that stands, promised, and the question whether the buyer's order would harm it. */
struct asked {
    struct house h;
    struct cot_id own, others; /* lines */
    char variety[COT_ID_TEXT], own_text[COT_ID_TEXT], others_text[COT_ID_TEXT];
};

static void ask_house(const char *name, struct asked *a)
{
    people(name, &a->h);
    struct cot_fact f = cot_fact_line(&a->h.manager, 1, &a->h.farm, &a->h.variety, 400, "2027-05-01");
    a->own = cot_device_write(&a->h.manager, &f);
    f = cot_fact_line(&a->h.manager, 2, &a->h.other, &a->h.variety, 700, "2027-05-01");
    a->others = cot_device_write(&a->h.manager, &f);
    cot_id_text(&a->h.variety, a->variety);
    cot_id_text(&a->own, a->own_text);
    cot_id_text(&a->others, a->others_text);
}

START_TEST(test_what_if)
{
    struct asked a;
    struct cot_reply r;
    char query[400], digest[COT_BOOK_DIGEST_TEXT];
    int64_t before, position;
    ask_house("what if", &a);
    book_of(&a.h.buyer, NULL, &before, digest);
    snprintf(query, sizeof query, "on=2027-03-29&form=json&variety=%s&plants=300&date=2027-05-01&late=3&organic=1",
             a.variety);
    get(&a.h.buyer, "/v1/what-if", query, &r);
    ck_assert_str_eq(r.type, "application/json");
    ck_assert_ptr_nonnull(strstr(r.body, "{\"line\":null,\"changed\":true,\"farm\":"));
    ck_assert_uint_eq(count_of(r.body, "\"after\":"), 1);
    ck_assert_ptr_nonnull(strstr(r.body, digest)); /* of the buyer's own view */
    cot_reply_free(&r);
    snprintf(query, sizeof query, "on=2027-03-29&line=%s&plants=500", a.own_text);
    get(&a.h.buyer, "/v1/what-if", query, &r);
    ck_assert_int_eq(strncmp(r.type, "text/plain", 10), 0);
    ck_assert_ptr_nonnull(strstr(r.body, "were 500 plants of Red Harbour"));
    cot_reply_free(&r);
    snprintf(query, sizeof query, "on=2027-03-29&line=%s&withdrawn=1", a.own_text);
    get(&a.h.buyer, "/v1/what-if", query, &r);
    ck_assert_ptr_nonnull(strstr(r.body, "nothing more is wanted"));
    cot_reply_free(&r);
    book_of(&a.h.buyer, NULL, &position, digest);
    ck_assert_int_eq(position, before); /* nothing was recorded */
}
END_TEST

/* One supply for two farms: what the other's line loses is shown to staff, and to the asker never. */
START_TEST(test_what_if_of_others)
{
    struct asked a;
    struct cot_reply r;
    char query[400], farm[COT_ID_TEXT];
    ask_house("others", &a);
    cot_id_text(&a.h.farm, farm);
    snprintf(query, sizeof query, "on=2027-03-29&form=json&line=%s&plants=500", a.others_text);
    ck_assert(cot_signed_call(&a.h.buyer, "GET", "/v1/what-if", query, NULL, NULL, 0, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_NOT_FOUND);
    cot_reply_free(&r);
    get(&a.h.manager, "/v1/what-if", query, &r);
    ck_assert_ptr_nonnull(strstr(r.body, "\"changed\":true"));
    cot_reply_free(&r);
    snprintf(query, sizeof query, "on=2027-03-29&form=json&variety=%s&plants=500&date=2027-05-01", a.variety);
    ck_assert(cot_signed_call(&a.h.manager, "GET", "/v1/what-if", query, NULL, NULL, 0, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_INVALID); /* staff say which farm */
    cot_reply_free(&r);
    static const char *const wrong[] = {"plants=0&date=2027-05-01", "plants=5", "plants=5&date=2027-05-01&least=9",
                                        "trays=5&date=2027-05-01"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        snprintf(query, sizeof query, "on=2027-03-29&farm=%s&variety=%s&%s", farm, a.variety, wrong[i]);
        ck_assert(cot_signed_call(&a.h.manager, "GET", "/v1/what-if", query, NULL, NULL, 0, &r));
        ck_assert_msg(cot_reply_code(&r) == COT_INVALID, "%s: %d %s", wrong[i], r.status, r.body);
        cot_reply_free(&r);
    }
}
END_TEST

START_TEST(test_bad_queries)
{
    static const char *const asks[][2] = {{"/v1/ledger", NULL},
                                          {"/v1/ledger", "after=-1"},
                                          {"/v1/ledger", "after=1x"},
                                          {"/v1/ledger", "after="},
                                          {"/v1/ledger", "after=0&after=1"},
                                          {"/v1/ledger", "after=0&limit=0"},
                                          {"/v1/ledger", "after=0&limit=20001"},
                                          {"/v1/ledger", "after=0&more=1"},
                                          {"/v1/ledger", "after=99999999999999999"},
                                          {"/v1/ledger", "after=%30"},
                                          {"/v1/ledger", "limit=5"},
                                          {"/v1/head", "at=1"},
                                          {"/v1/chain", NULL},
                                          {"/v1/chain", "at=x"},
                                          {"/v1/book", "at=-1"},
                                          {"/v1/fill", NULL},
                                          {"/v1/fill", "on=2027-02-29"},
                                          {"/v1/fill", "on=2027-3-1"},
                                          {"/v1/fill", "on=2027-03-01&form=pdf"},
                                          {"/v1/fill", "on=2027-03-01&farm=abc"},
                                          {"/v1/fill", "on=2027-03-01&form="},
                                          {"/v1/fill", "form=text"},
                                          {"/v1/what-if", NULL},
                                          {"/v1/what-if", "on=2027-03-01&form=csv"},
                                          {"/v1/what-if", "on=2027-03-01&variety=abc"},
                                          {"/v1/what-if", "on=2027-03-01&line=abc"},
                                          {"/v1/what-if", "on=2027-03-01&subs=abc"},
                                          {"/v1/what-if", "on=2027-03-01&plants=-1"},
                                          {"/v1/what-if", "on=2027-03-01&plants=99999999999"},
                                          {"/v1/what-if", "on=2027-03-01&late=61"},
                                          {"/v1/what-if", "on=2027-03-01&date=soon"},
                                          {"/v1/what-if", "on=2027-03-01&organic=yes"},
                                          {"/v1/what-if", "on=2027-03-01&withdrawn=0"},
                                          {"/v1/what-if", "on=2027-03-01&ref=A1"}};
    struct cot_device m;
    cot_found(&server, "queries", &m);
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        struct cot_reply r;
        ck_assert(cot_signed_call(&m, "GET", asks[i][0], asks[i][1], NULL, NULL, 0, &r));
        ck_assert_msg(cot_reply_code(&r) == COT_MALFORMED, "%s?%s: %d", asks[i][0], asks[i][1] ? asks[i][1] : "",
                      r.status);
        cot_reply_free(&r);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/feed");
    TCase *t = tcase_create("feed");
    tcase_set_timeout(t, 180);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_feed_verifies);
    tcase_add_test(t, test_book_at);
    tcase_add_test(t, test_chain_at);
    tcase_add_test(t, test_past_the_end);
    tcase_add_test(t, test_statements);
    tcase_add_test(t, test_statement_is_the_commands_report);
    tcase_add_test(t, test_a_new_entry_shows_at_once);
    tcase_add_test(t, test_what_if);
    tcase_add_test(t, test_what_if_of_others);
    tcase_add_test(t, test_bad_queries);
    suite_add_tcase(s, t);
    return s;
}
