/* `cotyld verify` names every row of which a byte was flipped, and no other. */
#include "../main.h"

#include <libpq-fe.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "harness.h"

static struct cot_server server;
static struct cot_device manager;
static char house[COT_HOUSE_TEXT];

static void setup(void)
{
    struct cot_device hand;
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
    cot_found(&server, "verify", &manager);
    cot_house_text(&manager.house, house);
    cot_device_invite(&manager, "Ilse Thorn", COT_PART_HAND, NULL, &hand);
    for (int i = 0; i < 4; i++) {
        struct cot_device *d = i % 2 ? &hand : &manager;
        struct cot_draft p;
        struct cot_buf page;
        struct cot_reply r;
        cot_draft_start(&p, d);
        for (int k = 0; k < 3; k++) {
            struct cot_fact f = cot_fact_note("lamps out in bay two");
            cot_draft_add(&p, &f);
        }
        cot_draft_end(&p, &page);
        ck_assert(cot_send(d, &page, &r));
        ck_assert_int_eq(r.status, 200);
        cot_reply_free(&r);
        cot_buf_free(&page);
    }
}

static void teardown(void)
{
    cot_server_remove(&server);
}

static PGconn *owner(void)
{
    char info[200];
    cot_server_conninfo(&server, "cotyledger_owner", info, sizeof info);
    cot_as_user(&server, true);
    PGconn *c = PQconnectdb(info);
    cot_as_user(&server, false);
    ck_assert_int_eq(PQstatus(c), CONNECTION_OK);
    return c;
}

static void run(PGconn *c, const char *sql, long rows)
{
    PGresult *r = PQexec(c, sql);
    ck_assert_msg(PQresultStatus(r) == PGRES_COMMAND_OK || PQresultStatus(r) == PGRES_TUPLES_OK, "%s: %s", sql,
                  PQerrorMessage(c));
    if (rows >= 0) ck_assert_msg(strtol(PQcmdTuples(r), NULL, 10) == rows, "%s: %s rows", sql, PQcmdTuples(r));
    PQclear(r);
}

static int verify(char **out)
{
    return cot_server_command(&server, out, COT_ARGS("verify", "--house", house));
}

/* Positions named in the output, each once, as "5 7 "; "heads" for what is no row. */
static void named(const char *out, char *list, size_t len)
{
    char last[24] = "";
    *list = '\0';
    for (const char *p = out; *p;) {
        const char *end = strchr(p, '\n'), *at = strstr(p, " position ");
        char one[24] = "";
        if (at && at < end) snprintf(one, sizeof one, "%ld ", strtol(at + 10, NULL, 10));
        else if (!strstr(p, " rows, ") || strstr(p, " rows, ") > end) snprintf(one, sizeof one, "heads ");
        if (*one && strcmp(one, last) != 0) strncat(list, one, len - strlen(list) - 1);
        if (*one) snprintf(last, sizeof last, "%s", one);
        p = end + 1;
    }
}

static void expect_named(const char *what, const char *wanted)
{
    char *out, list[400];
    int status = verify(&out);
    named(out, list, sizeof list);
    ck_assert_msg(status == (*wanted ? 1 : 0), "%s: status %d\n%s", what, status, out);
    ck_assert_msg(strcmp(list, wanted) == 0, "%s: named %s, not %s\n%s", what, list, wanted, out);
    free(out);
}

/* Flips a byte somewhere, looks, flips it back. */
static void flip(PGconn *c, const char *set, const char *back, const char *where, const char *table, const char *wanted)
{
    char sql[600];
    snprintf(sql, sizeof sql, "update %s set %s where %s", table, set, where);
    run(c, sql, 1);
    expect_named(sql, wanted);
    snprintf(sql, sizeof sql, "update %s set %s where %s", table, back, where);
    run(c, sql, 1);
}

START_TEST(test_whole_ledger_fits)
{
    expect_named("nothing", "");
}
END_TEST

/* A bit of each column of each row, first, middle and last byte. Row-level security holds for the table's owner too, so
 * it is lifted for the while. */
START_TEST(test_every_column_of_every_row)
{
    static const char *const columns[] = {"body", "digest", "chain", "scope"};
    PGconn *c = owner();
    run(c, "alter table ledger disable row level security", -1);
    PGresult *r = PQexec(c, "select max(position) from ledger");
    long last = strtol(PQgetvalue(r, 0, 0), NULL, 10);
    PQclear(r);
    ck_assert_int_gt(last, 12);
    for (long p = 1; p <= last; p++) {
        char where[60], wanted[24];
        snprintf(where, sizeof where, "position = %ld", p);
        snprintf(wanted, sizeof wanted, "%ld ", p);
        for (size_t i = 0; i < 4; i++) {
            char set[200];
            unsigned at = randombytes_uniform(1000);
            snprintf(set, sizeof set,
                     "%s = set_byte(%s, %u %% octet_length(%s), get_byte(%s, %u %% octet_length(%s)) # 4)", columns[i],
                     columns[i], at, columns[i], columns[i], at, columns[i]);
            flip(c, set, set, where, "ledger", wanted);
        }
        flip(c, "receipt = receipt + 4", "receipt = receipt - 4", where, "ledger", wanted);
    }
    run(c, "alter table ledger enable row level security", -1);
    PQfinish(c);
    expect_named("all put back", "");
}
END_TEST

START_TEST(test_device_number_and_position)
{
    PGconn *c = owner();
    run(c, "alter table ledger disable row level security", -1);
    flip(c, "device = 'Q'", "device = 'A'", "position = 7", "ledger", "7 ");
    flip(c, "number = number + 500", "number = number - 500", "position = 8", "ledger", "8 ");
    char *out;
    run(c, "update ledger set position = 500 where position = 9", 1);
    ck_assert_int_eq(verify(&out), 1);
    ck_assert_ptr_nonnull(strstr(out, "position 9: is missing"));
    ck_assert_ptr_nonnull(strstr(out, "position 500"));
    free(out);
    run(c, "update ledger set position = 9 where position = 500", 1);
    run(c, "create table aside as select * from ledger where position = 9; delete from ledger where position = 9", 1);
    ck_assert_int_eq(verify(&out), 1);
    ck_assert_ptr_nonnull(strstr(out, "position 9: is missing"));
    free(out);
    run(c, "insert into ledger select * from aside; drop table aside", -1);
    run(c, "alter table ledger enable row level security", -1);
    PQfinish(c);
    expect_named("all put back", "");
}
END_TEST

START_TEST(test_seals_and_heads)
{
    static const char *const off[] = {"seal", "house_head", "device_head", "house_secret"};
    PGconn *c = owner();
    char sql[100];
    for (size_t i = 0; i < 4; i++) {
        snprintf(sql, sizeof sql, "alter table %s disable row level security", off[i]);
        run(c, sql, -1);
    }
    const char *swap = "seal = translate(seal, 'abcABC', 'cbaCBA')"; /* is its own opposite */
    flip(c, swap, swap, "position = (select max(position) from seal)", "seal", "17 ");
    flip(c, "first = first + 1", "first = first - 1", "position = (select max(position) from seal)", "seal", "17 ");
    flip(c, "position = position + 1", "position = position - 1", "true", "house_head", "heads ");
    flip(c, "receipt = receipt + 1", "receipt = receipt - 1", "true", "house_head", "heads ");
    const char *bit = "chain = set_byte(chain, 5, get_byte(chain, 5) # 1)";
    flip(c, bit, bit, "true", "house_head", "heads ");
    flip(c, bit, bit, "device = 'A'", "device_head", "heads ");
    flip(c, "number = number + 1", "number = number - 1", "device = 'B'", "device_head", "heads ");
    const char *seed = "seed = set_byte(seed, 5, get_byte(seed, 5) # 1)";
    flip(c, seed, seed, "true", "house_secret", "heads ");
    run(c,
        "create table aside as select * from seal order by position desc limit 1; delete from seal where position = 17",
        1);
    expect_named("a seal is gone", "17 ");
    run(c, "insert into seal select * from aside; drop table aside", -1);
    for (size_t i = 0; i < 4; i++) {
        snprintf(sql, sizeof sql, "alter table %s enable row level security", off[i]);
        run(c, sql, -1);
    }
    PQfinish(c);
    expect_named("all put back", "");
}
END_TEST

/* The server does not read on over a row that does not fit, and says where it stands. */
START_TEST(test_server_refuses_a_flipped_row)
{
    PGconn *c = owner();
    struct cot_reply r;
    const char *bit = "update ledger set body = set_byte(body, 20, get_byte(body, 20) # 1) where position = 5";
    ck_assert_int_eq(cot_server_stop(&server, SIGKILL) <= 0, true);
    PQfinish(c);
    ck_assert(cot_server_start(&server, NULL, NULL)); /* a fresh process: nothing is read yet */
    c = owner();
    run(c, "alter table ledger disable row level security", -1);
    run(c, bit, 1);
    ck_assert(cot_signed_call(&manager, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
    ck_assert_int_eq(r.status, 500);
    ck_assert_ptr_null(strstr(r.body, "position")); /* not for the other side */
    cot_reply_free(&r);
    char *log = cot_server_log(&server);
    ck_assert_ptr_nonnull(strstr(log, "ledger position 5: its bytes do not fit its digest"));
    free(log);
    run(c, bit, 1);
    run(c, "alter table ledger enable row level security", -1);
    ck_assert(cot_signed_call(&manager, "GET", "/v1/head", NULL, NULL, NULL, 0, &r));
    ck_assert_int_eq(r.status, 200);
    cot_reply_free(&r);
    PQfinish(c);
    cot_server_stop(&server, SIGTERM);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/verify");
    TCase *t = tcase_create("verify");
    tcase_set_timeout(t, 300);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_whole_ledger_fits);
    tcase_add_test(t, test_every_column_of_every_row);
    tcase_add_test(t, test_device_number_and_position);
    tcase_add_test(t, test_seals_and_heads);
    suite_add_tcase(s, t);
    TCase *u = tcase_create("refusal");
    tcase_set_timeout(u, 120);
    tcase_add_checked_fixture(u, setup, teardown);
    tcase_add_test(u, test_server_refuses_a_flipped_row);
    suite_add_tcase(s, u);
    return s;
}
