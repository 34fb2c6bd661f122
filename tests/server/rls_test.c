/* Row-level security, proved with raw SQL as the run-time role: what a mistake in the program could not show or change.
 */
#include "../main.h"

#include <libpq-fe.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "harness.h"

static struct cot_server server;
static struct cot_device one, two, buyer;
static struct cot_id farm, other_farm;

static void setup(void)
{
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
    cot_found(&server, "House One", &one);
    cot_found(&server, "House Two", &two);
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford"), g = cot_fact_named(COT_K_FARM, "Brindle Farm");
    farm = cot_device_write(&one, &f);
    other_farm = cot_device_write(&one, &g);
    f = cot_fact_note("of the house alone");
    cot_device_write(&one, &f);
    cot_device_invite(&one, "Tove Reed", COT_PART_BUYER, &farm, &buyer);
}

static void teardown(void)
{
    cot_server_remove(&server);
}

static PGconn *open_as(const char *role)
{
    char info[200];
    cot_server_conninfo(&server, role, info, sizeof info);
    cot_as_user(&server, true);
    PGconn *c = PQconnectdb(info);
    cot_as_user(&server, false);
    ck_assert_msg(PQstatus(c) == CONNECTION_OK, "%s", PQerrorMessage(c));
    PQclear(PQexec(c, "set client_min_messages = error"));
    return c;
}

/* One value of one row; -1: an error, whose SQLSTATE goes to `state`. */
static long ask(PGconn *c, const char *sql, char state[6])
{
    PGresult *r = PQexec(c, sql);
    long n = -1;
    state[0] = '\0';
    if (PQresultStatus(r) == PGRES_TUPLES_OK)
        n = PQntuples(r) && PQnfields(r) ? strtol(PQgetvalue(r, 0, 0), NULL, 10) : 0;
    else if (PQresultStatus(r) == PGRES_COMMAND_OK) n = strtol(PQcmdTuples(r), NULL, 10);
    else snprintf(state, 6, "%s", PQresultErrorField(r, PG_DIAG_SQLSTATE));
    PQclear(r);
    return n;
}

static long value(PGconn *c, const char *sql)
{
    char state[6];
    long n = ask(c, sql, state);
    ck_assert_msg(n >= 0, "%s: %s", sql, PQerrorMessage(c));
    return n;
}

static void begin(PGconn *c, const struct cot_house_id *house, const char *reach)
{
    char sql[400], hex[33];
    sodium_bin2hex(hex, sizeof hex, house->b, sizeof house->b);
    snprintf(sql, sizeof sql, "begin; select set_config('cot.house', '%s', true), set_config('cot.farm', '%s', true)",
             hex, reach);
    PQclear(PQexec(c, sql));
}

static void reach_of(const struct cot_id *id, char out[65])
{
    sodium_bin2hex(out, 65, id->b, sizeof id->b);
}

static const char *const tables[] = {"ledger",       "seal",       "house_head", "device_head",
                                     "house_secret", "invitation", "joined"};
#define TABLES (sizeof tables / sizeof tables[0])

/* Without saying whose it is a transaction sees and adds nothing, in any table. */
START_TEST(test_nothing_without_a_house)
{
    PGconn *c = open_as("cotyledger_run");
    char sql[100], state[6];
    for (size_t i = 0; i < TABLES; i++) {
        snprintf(sql, sizeof sql, "select count(*) from %s", tables[i]);
        ck_assert_int_eq(value(c, sql), 0);
    }
    ck_assert_int_eq(value(c, "select count(*) from ledger_outline(0, 1000)"), 0);
    ck_assert_int_eq(value(c, "select count(*) from head_lock('H')"), 0);
    ck_assert_int_eq(ask(c, "select head_move('H', 1, 1, '\\x00')", state), -1);
    ck_assert_int_eq(ask(c, "select house_found(sha256('x'))", state), -1);
    PQfinish(c);
}
END_TEST

/* With a house but no reach: heads, but no entry, no secret. */
START_TEST(test_nothing_without_a_reach)
{
    PGconn *c = open_as("cotyledger_run");
    begin(c, &one.house, "");
    ck_assert_int_eq(value(c, "select count(*) from ledger"), 0);
    ck_assert_int_eq(value(c, "select count(*) from house_secret"), 0);
    ck_assert_int_eq(value(c, "select count(*) from invitation"), 0);
    ck_assert_int_eq(value(c, "select count(*) from joined"), 0);
    PQfinish(c);
}
END_TEST

/* Each house sees its own rows only, whatever a statement asks for. */
START_TEST(test_no_other_house)
{
    PGconn *c = open_as("cotyledger_run");
    const struct cot_device *who[] = {&one, &two};
    for (int i = 0; i < 2; i++) {
        char hex[33], sql[200];
        sodium_bin2hex(hex, sizeof hex, who[!i]->house.b, 16);
        begin(c, &who[i]->house, "*");
        for (size_t k = 0; k < TABLES; k++) {
            snprintf(sql, sizeof sql, "select count(*) from %s where house = '\\x%s'", tables[k], hex);
            ck_assert_int_eq(value(c, sql), 0);
            snprintf(sql, sizeof sql, "select count(distinct house) from %s", tables[k]);
            ck_assert_int_eq(value(c, sql), 1);
        }
        PQclear(PQexec(c, "rollback"));
    }
    PQfinish(c);
}
END_TEST

/* A farm's reach: its rows and the catalogue; digests of all, words of none else; no secrets. */
START_TEST(test_a_farms_reach)
{
    PGconn *c = open_as("cotyledger_run");
    char reach[65], sql[200];
    reach_of(&farm, reach);
    begin(c, &one.house, "*");
    long all = value(c, "select count(*) from ledger");
    ck_assert_int_gt(value(c, "select count(*) from ledger where scope = 'H'"), 0);
    PQclear(PQexec(c, "rollback"));
    begin(c, &one.house, reach);
    ck_assert_int_eq(value(c, "select count(*) from ledger where scope = 'H'"), 0);
    snprintf(sql, sizeof sql, "select count(*) from ledger where scope not in ('C', '\\x%s')", reach);
    ck_assert_int_eq(value(c, sql), 0);
    ck_assert_int_gt(value(c, "select count(*) from ledger where scope = 'C'"), 0);
    snprintf(sql, sizeof sql, "select count(*) from ledger where scope = '\\x%s'", reach);
    ck_assert_int_gt(value(c, sql), 0);
    ck_assert_int_eq(value(c, "select count(*) from ledger_outline(0, 1000)"), all);
    ck_assert_int_eq(value(c, "select count(*) from house_secret"), 0);
    ck_assert_int_eq(value(c, "select count(*) from invitation"), 0);
    ck_assert_int_eq(value(c, "select count(*) from joined"), 0);
    PQfinish(c);
}
END_TEST

/* A reach that is no farm's id is none. */
START_TEST(test_garbled_reach)
{
    static const char *const reaches[] = {"**", " *", "all", "48", "43", "zz", "''; select 1; --"};
    PGconn *c = open_as("cotyledger_run");
    for (size_t i = 0; i < sizeof reaches / sizeof reaches[0]; i++) {
        char *quoted, sql[200], hex[33];
        sodium_bin2hex(hex, sizeof hex, one.house.b, 16);
        quoted = PQescapeLiteral(c, reaches[i], strlen(reaches[i]));
        snprintf(sql, sizeof sql, "begin; select set_config('cot.house', '%s', true), set_config('cot.farm', %s, true)",
                 hex, quoted);
        PQclear(PQexec(c, sql));
        ck_assert_int_eq(value(c, "select count(*) from ledger"), 0);
        PQclear(PQexec(c, "rollback"));
        PQfreemem(quoted);
    }
    PQfinish(c);
}
END_TEST

static const char *insert_row(char *sql, size_t len, const struct cot_house_id *house, const char *scope)
{
    char hex[33];
    sodium_bin2hex(hex, sizeof hex, house->b, 16);
    snprintf(sql, len,
             "insert into ledger (house, position, receipt, device, number, scope, digest, chain, body) "
             "values ('\\x%s', 5000, 1, 'Q', 1, '\\x%s', sha256('a'), sha256('b'), '{}')",
             hex, scope);
    return sql;
}

/* What may be added, and what not: state 42501 is "new row violates row-level security policy" or "permission denied".
 */
START_TEST(test_adding)
{
    PGconn *c = open_as("cotyledger_run");
    char sql[600], state[6], reach[65], other[65];
    reach_of(&farm, reach);
    reach_of(&other_farm, other);
    const struct {
        const struct cot_house_id *as, *into;
        const char *reach, *scope;
        bool good;
    } cases[] = {
        {&one.house, &one.house, "*", "48", true},    {&one.house, &one.house, "*", reach, true},
        {&one.house, &two.house, "*", "48", false},   {&two.house, &one.house, "*", "43", false},
        {&one.house, &one.house, reach, reach, true}, {&one.house, &one.house, reach, other, false},
        {&one.house, &one.house, reach, "48", false}, {&one.house, &one.house, reach, "43", false},
        {&one.house, &one.house, "", "48", false},    {&one.house, &two.house, reach, reach, false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        begin(c, cases[i].as, cases[i].reach);
        long n = ask(c, insert_row(sql, sizeof sql, cases[i].into, cases[i].scope), state);
        ck_assert_msg((n == 1) == cases[i].good, "case %zu: %ld %s", i, n, PQerrorMessage(c));
        if (!cases[i].good) ck_assert_str_eq(state, "42501");
        PQclear(PQexec(c, "rollback"));
    }
    PQfinish(c);
}
END_TEST

/* Nothing is ever changed or removed by the run-time role, and it can give itself nothing. */
START_TEST(test_only_select_and_insert)
{
    static const char *const attempts[] = {"update ledger set body = '{}'",
                                           "delete from ledger",
                                           "truncate ledger",
                                           "update seal set seal = ''",
                                           "delete from seal",
                                           "update house_head set position = 0",
                                           "insert into house_head (house, chain) values (sha256('a'), sha256('b'))",
                                           "delete from house_head",
                                           "update device_head set number = 0",
                                           "insert into device_head values ('a', 'B', 1, 'c')",
                                           "update house_secret set seed = sha256('x')",
                                           "insert into house_secret values (sha256('a'), sha256('b'))",
                                           "update invitation set expires = 0",
                                           "delete from joined",
                                           "alter table ledger disable row level security",
                                           "drop table seal",
                                           "alter table ledger no force row level security",
                                           "create policy p on ledger using (true)",
                                           "set role cotyledger_owner",
                                           "create table public.mine (a int)",
                                           "create temporary table mine (a int)",
                                           "select house_restored()",
                                           "create schema mine",
                                           "alter role cotyledger_run bypassrls",
                                           "insert into schema_step values (99, 'x', 'y')",
                                           "create function f() returns int language sql as 'select 1'",
                                           "select pg_read_file('PG_VERSION')",
                                           "copy ledger to program 'cat'"};
    PGconn *c = open_as("cotyledger_run");
    char state[6];
    for (size_t i = 0; i < sizeof attempts / sizeof attempts[0]; i++) {
        begin(c, &one.house, "*");
        long n = ask(c, attempts[i], state);
        ck_assert_msg(n == -1 && strcmp(state, "42501") == 0, "%s: %ld %s", attempts[i], n, state);
        PQclear(PQexec(c, "rollback"));
    }
    PQfinish(c);
}
END_TEST

/* Heads move only to rows that are there, of that device, without a gap. */
START_TEST(test_heads_move_to_rows_only)
{
    PGconn *c = open_as("cotyledger_run");
    char sql[600], state[6];
    begin(c, &one.house, "*");
    long position = value(c, "select position from house_head");
    PQclear(PQexec(c, "rollback"));
    const struct {
        const char *name;
        long at, number;
        const char *device, *receipt;
    } cases[] = {{"no row", position + 1, 1, "Q", NULL},
                 {"a gap", position + 2, 1, "Q", "9999999999999"},
                 {"another device", position + 1, 1, "R", "9999999999999"},
                 {"another number", position + 1, 2, "Q", "9999999999999"},
                 {"an earlier receipt", position + 1, 1, "Q", "1"},
                 {"where it is", position, 1, "Q", NULL},
                 {"back", position - 1, 1, "Q", NULL}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char hex[33];
        sodium_bin2hex(hex, sizeof hex, one.house.b, 16);
        begin(c, &one.house, "*");
        snprintf(sql, sizeof sql,
                 "insert into ledger values ('\\x%s', %ld, %s, 'Q', 1, 'H', sha256('a'), sha256('b'), '{}')", hex,
                 cases[i].at, cases[i].receipt ? cases[i].receipt : "0");
        if (cases[i].receipt) ck_assert_int_eq(ask(c, sql, state), 1);
        snprintf(sql, sizeof sql, "select head_move('%s', %ld, %ld, sha256('j'))", cases[i].device, cases[i].at,
                 cases[i].number);
        ck_assert_msg(ask(c, sql, state) == -1, "%s", cases[i].name);
        PQclear(PQexec(c, "rollback"));
    }
    begin(c, &one.house, "*");
    char hex[33];
    sodium_bin2hex(hex, sizeof hex, one.house.b, 16);
    snprintf(sql, sizeof sql,
             "insert into ledger values ('\\x%s', %ld, 9999999999999, 'Q', 1, 'H', sha256('a'), sha256('b'), '{}')",
             hex, position + 1);
    ck_assert_int_eq(ask(c, sql, state), 1);
    snprintf(sql, sizeof sql, "select head_move('Q', %ld, 1, sha256('j'))", position + 1);
    ck_assert_int_eq(ask(c, sql, state), 0);
    ck_assert_int_eq(value(c, "select position from house_head"), position + 1);
    PQclear(PQexec(c, "rollback"));
    PQfinish(c);
}
END_TEST

/* The owner's role reads no entry either without saying whose, and its functions keep to the house. */
START_TEST(test_owner_is_bound_too)
{
    PGconn *c = open_as("cotyledger_owner");
    ck_assert_int_eq(value(c, "select count(*) from ledger"), 0);
    ck_assert_int_eq(value(c, "select count(*) from house_secret"), 0);
    ck_assert_int_eq(value(c, "select count(*) from house_head"), 2); /* it lists the houses */
    begin(c, &one.house, "*");
    ck_assert_int_eq(value(c, "select count(distinct house) from ledger"), 1);
    ck_assert_int_eq(value(c, "select count(*) from house_secret"), 0);
    PQfinish(c);
}
END_TEST

/* The roles are what they should be, and own what they should. */
START_TEST(test_roles)
{
    PGconn *c = open_as("cotyledger_run");
    ck_assert_int_eq(value(c,
                           "select count(*) from pg_roles where rolname in ('cotyledger_run', 'cotyledger_owner') and "
                           "(rolsuper or rolcreaterole or rolcreatedb or rolreplication or rolbypassrls)"),
                     0);
    ck_assert_int_eq(value(c, "select count(*) from pg_class where relowner = 'cotyledger_run'::regrole"), 0);
    ck_assert_int_eq(value(c, "select count(*) from pg_proc where proowner = 'cotyledger_run'::regrole"), 0);
    ck_assert_int_eq(value(c, "select count(*) from pg_auth_members where member = 'cotyledger_run'::regrole"), 0);
    ck_assert_int_eq(
        value(c, "select count(*) from pg_class where relnamespace = 'public'::regnamespace and relkind = 'r' and "
                 "relname <> 'schema_step' and not (relrowsecurity and relforcerowsecurity)"),
        0);
    PQclear(PQexec(c, "grant all on ledger to cotyledger_run")); /* only a warning, which grants nothing */
    ck_assert_int_eq(
        value(c,
              "select count(*) from unnest(array['update', 'delete', 'truncate', 'trigger', 'references']) p, "
              "unnest(array['ledger', 'seal', 'house_head', 'device_head', 'house_secret', 'invitation', 'joined']) t "
              "where has_table_privilege('cotyledger_run', t, p)"),
        0);
    /* Every function that runs as the owner says where it looks names up. */
    ck_assert_int_eq(value(c,
                           "select count(*) from pg_proc where pronamespace = 'public'::regnamespace and prosecdef and "
                           "not coalesce(proconfig::text like '%search_path=pg_catalog%', false)"),
                     0);
    ck_assert_int_gt(value(c, "select count(*) from pg_proc where pronamespace = 'public'::regnamespace and prosecdef"),
                     3);
    PQfinish(c);
}
END_TEST

/* The superuser that made the cluster cannot come in at all. */
START_TEST(test_superuser_is_locked_out)
{
    static const char *const roles[] = {"cotyledger_super", "postgres", "nobody"};
    for (size_t i = 0; i < 3; i++) {
        char info[200];
        cot_server_conninfo(&server, roles[i], info, sizeof info);
        cot_as_user(&server, true);
        PGconn *c = PQconnectdb(info);
        cot_as_user(&server, false);
        ck_assert_int_ne(PQstatus(c), CONNECTION_OK);
        PQfinish(c);
    }
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/rls");
    TCase *t = tcase_create("row-level security");
    tcase_set_timeout(t, 120);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_nothing_without_a_house);
    tcase_add_test(t, test_nothing_without_a_reach);
    tcase_add_test(t, test_no_other_house);
    tcase_add_test(t, test_a_farms_reach);
    tcase_add_test(t, test_garbled_reach);
    tcase_add_test(t, test_adding);
    tcase_add_test(t, test_only_select_and_insert);
    tcase_add_test(t, test_heads_move_to_rows_only);
    tcase_add_test(t, test_owner_is_bound_too);
    tcase_add_test(t, test_roles);
    tcase_add_test(t, test_superuser_is_locked_out);
    suite_add_tcase(s, t);
    return s;
}
