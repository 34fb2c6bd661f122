/* Many at once: positions without gaps, nothing lost, nothing doubled, whoever writes where. */
#include "../main.h"

#include <libpq-fe.h>
#include <pthread.h>
#include <signal.h>
#include <sodium.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "harness.h"

#define WRITERS 8
#define PAGES 25

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

struct writer {
    struct cot_device device;
    int refused;
    int64_t entries;
};

/* Sends each page twice in a row, so that a repeated page meets others' new ones. */
static void *write_pages(void *ctx)
{
    struct writer *w = ctx;
    for (int i = 0; i < PAGES; i++) {
        struct cot_draft p;
        struct cot_buf page;
        cot_draft_start(&p, &w->device);
        for (int k = 0; k <= i % 4; k++) {
            struct cot_fact f = cot_fact_note("many hands");
            cot_draft_add(&p, &f);
            w->entries++;
        }
        cot_draft_end(&p, &page);
        char *first = NULL;
        for (int twice = 0; twice < 2; twice++) {
            struct cot_reply r;
            if (!cot_send(&w->device, &page, &r) || r.status != 200) w->refused++;
            else if (first && strcmp(first, r.body) != 0) w->refused++;
            free(first);
            first = r.body;
        }
        free(first);
        cot_buf_free(&page);
    }
    return NULL;
}

/* Reads everything again and again meanwhile: what is read always verifies. */
static _Atomic bool stop;
struct looker {
    struct cot_device device;
    int looked, wrong;
};
static void *look(void *ctx)
{
    struct looker *l = ctx;
    while (!atomic_load(&stop)) {
        struct cot_reply r;
        int64_t position = 0;
        struct cot_id ledger;
        struct cot_head head = {.position = -1};
        cot_ledger_start(&l->device.house, &ledger);
        if (!cot_signed_call(&l->device, "GET", "/v1/ledger", "after=0&limit=20000", NULL, NULL, 0, &r)) continue;
        size_t at = 0;
        for (struct cot_feed_item item; cot_feed_next(r.body, r.len, &at, &item, NULL) == COT_OK;) {
            if (item.what == COT_FEED_ROW) {
                if (item.position != ++position) l->wrong++;
                cot_ledger_next(&ledger, item.position, item.receipt, item.tag, item.number, &item.digest);
            } else if (item.what == COT_FEED_HEAD &&
                       cot_head_open(item.text, item.len, &l->device.house_key, &head, NULL) != COT_OK) {
                l->wrong++;
            }
        }
        if (head.position != position || cot_id_cmp(&head.ledger, &ledger) != 0) l->wrong++;
        l->looked++;
        cot_reply_free(&r);
    }
    return NULL;
}

static int64_t position_of(const struct cot_device *d)
{
    struct cot_reply r;
    ck_assert(cot_signed_call(d, "GET", "/v1/book", NULL, NULL, NULL, 0, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    int64_t p = cot_json_int(r.body, r.len, "position");
    cot_reply_free(&r);
    return p;
}

START_TEST(test_one_house)
{
    struct cot_device m;
    struct writer w[WRITERS] = {0};
    struct looker l = {0};
    pthread_t t[WRITERS], watching;
    int64_t entries = 0;
    cot_found(&server, "one house", &m);
    for (int i = 0; i < WRITERS; i++) cot_device_invite(&m, "Ilse Thorn", COT_PART_HAND, NULL, &w[i].device);
    int64_t before = position_of(&m);
    l.device = m;
    atomic_store(&stop, false);
    ck_assert_int_eq(pthread_create(&watching, NULL, look, &l), 0);
    for (int i = 0; i < WRITERS; i++) ck_assert_int_eq(pthread_create(&t[i], NULL, write_pages, &w[i]), 0);
    /* Looking meanwhile finds nothing wrong either. */
    for (int i = 0; i < 3; i++) ck_assert_int_eq(cot_server_command(&server, NULL, COT_ARGS("verify")), 0);
    for (int i = 0; i < WRITERS; i++) pthread_join(t[i], NULL);
    atomic_store(&stop, true);
    pthread_join(watching, NULL);
    for (int i = 0; i < WRITERS; i++) {
        ck_assert_int_eq(w[i].refused, 0);
        entries += w[i].entries;
    }
    ck_assert_int_eq(l.wrong, 0);
    ck_assert_int_gt(l.looked, 0);
    ck_assert_int_eq(position_of(&m), before + entries);
    ck_assert_int_eq(cot_server_command(&server, NULL, COT_ARGS("verify")), 0);
}
END_TEST

START_TEST(test_many_houses)
{
    struct writer w[WRITERS] = {0};
    pthread_t t[WRITERS];
    int64_t before[WRITERS];
    for (int i = 0; i < WRITERS; i++) {
        char name[20];
        snprintf(name, sizeof name, "house %d", i);
        cot_found(&server, name, &w[i].device);
        before[i] = position_of(&w[i].device);
    }
    for (int i = 0; i < WRITERS; i++) ck_assert_int_eq(pthread_create(&t[i], NULL, write_pages, &w[i]), 0);
    for (int i = 0; i < WRITERS; i++) pthread_join(t[i], NULL);
    for (int i = 0; i < WRITERS; i++) {
        ck_assert_int_eq(w[i].refused, 0);
        ck_assert_int_eq(position_of(&w[i].device), before[i] + w[i].entries);
    }
}
END_TEST

/* One device, the same page from many connections at once: taken once, answered alike. */
struct same {
    struct cot_device device;
    struct cot_buf page;
    char *body;
    int status;
};
static void *send_same(void *ctx)
{
    struct same *s = ctx;
    struct cot_reply r;
    if (cot_send(&s->device, &s->page, &r)) s->body = r.body;
    s->status = r.status;
    return NULL;
}

START_TEST(test_same_page_at_once)
{
    struct cot_device m;
    cot_found(&server, "same page", &m);
    for (int round = 0; round < 10; round++) {
        struct same s[WRITERS];
        struct cot_draft p;
        struct cot_buf page;
        pthread_t t[WRITERS];
        cot_draft_start(&p, &m);
        for (int k = 0; k < 3; k++) {
            struct cot_fact f = cot_fact_note("sent by all");
            cot_draft_add(&p, &f);
        }
        cot_draft_end(&p, &page);
        for (int i = 0; i < WRITERS; i++) {
            s[i] = (struct same){m, page, NULL, 0};
            ck_assert_int_eq(pthread_create(&t[i], NULL, send_same, &s[i]), 0);
        }
        for (int i = 0; i < WRITERS; i++) pthread_join(t[i], NULL);
        for (int i = 0; i < WRITERS; i++) {
            ck_assert_int_eq(s[i].status, 200);
            ck_assert_str_eq(s[i].body, s[0].body);
            if (i) free(s[i].body);
        }
        free(s[0].body);
        cot_buf_free(&page);
    }
    ck_assert_int_eq(position_of(&m), 3 + 30);
}
END_TEST

/* Two servers on one database: neither knows what the other remembers, and both tell the truth. */
START_TEST(test_two_servers)
{
    struct cot_server other;
    struct cot_device m;
    char url[200];
    cot_found(&server, "two servers", &m);
    cot_server_conninfo(&server, "cotyledger_run", url, sizeof url);
    *strstr(url, " user=") = '\0';
    other = server;
    ck_assert(cot_server_start_on(&other, url));
    struct cot_device a = m, b;
    b = m;
    b.server = &other;
    for (int i = 0; i < 20; i++) {
        struct cot_device *d = i % 2 ? &a : &b;
        struct cot_fact f = cot_fact_note("from either side");
        const struct cot_server *here = d->server;
        d->number = m.number;
        d->chain = m.chain;
        cot_device_write(d, &f);
        m.number = d->number;
        m.chain = d->chain;
        ck_assert_ptr_eq(here, d->server);
        ck_assert_int_eq(position_of(&a), 3 + m.number);
        ck_assert_int_eq(position_of(&b), 3 + m.number);
    }
    ck_assert_int_eq(cot_server_stop(&other, SIGTERM), 0);
}
END_TEST

/* An older copy put in the place of the database, and written on as far as this server remembers: same epoch, same
 * position, another ledger. */
static const char take_last_page_out[] =
    "alter table ledger disable row level security; alter table seal disable row level security;"
    "alter table house_head disable row level security; alter table device_head disable row level security;"
    "delete from ledger where house = HOUSE and position = 4; delete from seal where house = HOUSE and position = 4;"
    "delete from device_head where house = HOUSE and device = 'A';"
    "update house_head set position = 3, (receipt, chain) = (select receipt, chain from ledger where house = HOUSE and "
    "position = 3)"
    " where house = HOUSE;"
    "alter table ledger enable row level security; alter table seal enable row level security;"
    "alter table house_head enable row level security; alter table device_head enable row level security";

static void as_owner(const char *sql, const struct cot_house_id *house)
{
    char info[200], hex[33];
    struct cot_buf b = {0};
    sodium_bin2hex(hex, sizeof hex, house->b, sizeof house->b);
    for (const char *p = sql; *p;) {
        const char *word = strstr(p, "HOUSE");
        cot_buf_put(&b, p, word ? (size_t)(word - p) : strlen(p));
        if (!word) break;
        cot_buf_fmt(&b, "'\\x%s'", hex);
        p = word + 5;
    }
    cot_server_conninfo(&server, "cotyledger_owner", info, sizeof info);
    cot_as_user(&server, true);
    PGconn *c = PQconnectdb(info);
    cot_as_user(&server, false);
    PGresult *done = PQexec(c, b.s);
    ck_assert_msg(PQresultStatus(done) == PGRES_COMMAND_OK, "%s", PQerrorMessage(c));
    PQclear(done);
    PQfinish(c);
    cot_buf_free(&b);
}

START_TEST(test_another_ledger_of_the_same_length)
{
    struct cot_server other = server;
    struct cot_device m, copy;
    struct cot_reply r;
    char url[200];
    cot_found(&server, "same length", &m);
    copy = m;
    struct cot_fact f = cot_fact_note("as it was");
    cot_device_write(&m, &f);
    ck_assert_int_eq(position_of(&m), 4);
    as_owner(take_last_page_out, &m.house);
    cot_server_conninfo(&server, "cotyledger_run", url, sizeof url);
    *strstr(url, " user=") = '\0';
    ck_assert(cot_server_start_on(&other, url));
    copy.server = &other;
    f = cot_fact_note("as it is");
    cot_device_write(&copy, &f);
    ck_assert(cot_signed_call(&copy, "GET", "/v1/book", NULL, NULL, NULL, 0, &r));
    char *there = r.body;
    ck_assert(cot_signed_call(&m, "GET", "/v1/book", NULL, NULL, NULL, 0, &r));
    ck_assert_str_eq(r.body, there);
    free(there);
    cot_reply_free(&r);
    ck_assert_int_eq(cot_server_stop(&other, SIGTERM), 0);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/race");
    TCase *t = tcase_create("at once");
    tcase_set_timeout(t, 300);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_one_house);
    tcase_add_test(t, test_many_houses);
    tcase_add_test(t, test_same_page_at_once);
    tcase_add_test(t, test_two_servers);
    tcase_add_test(t, test_another_ledger_of_the_same_length);
    suite_add_tcase(s, t);
    return s;
}
