/* Bad input at every door of a running house: pages, seals, requests, spreadsheets, command lines. Each is refused with
 * its documented code and words that say where and what, and the ledger afterwards is the one before, to the byte.
 * Command lines that need no server stand in tests/client/bad_input_test.c. */
#include <check.h>
#include <libpq-fe.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "e2e.h"
#include "main.h"

static struct cot_device device, buyer;
static struct cot_id farm;
static struct laptop office;
static char office_house[23];

static void setup(void)
{
    e2e_start();
    cot_found(&e2e_server, "Mill Pond", &device);
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford");
    farm = cot_device_write(&device, &f);
    cot_device_invite(&device, "Teal", COT_PART_BUYER, &farm, &buyer);
    e2e_house(&office, office_house, NULL);
}

/* --- The ledger's bytes
 * ------------------------------------------------------------------------------------------------------ */

static void ask(PGconn *c, const char *sql, char *out, size_t len)
{
    PGresult *r = PQexec(c, sql);
    ck_assert_msg(PQresultStatus(r) == PGRES_TUPLES_OK, "%s: %s", sql, PQerrorMessage(c));
    if (out) snprintf(out, len, "%s", PQgetvalue(r, 0, 0));
    PQclear(r);
}

/* One text for all that the server keeps of a house. */
static void fingerprint(const struct cot_house_id *house, char out[static 300])
{
    static const char *const tables[] = {"ledger",       "seal",       "house_head", "device_head",
                                         "house_secret", "invitation", "joined"};
    char info[200], hex[33], sql[300];
    size_t at = 0;
    cot_server_conninfo(&e2e_server, "cotyledger_run", info, sizeof info);
    cot_as_user(&e2e_server, true);
    PGconn *c = PQconnectdb(info);
    cot_as_user(&e2e_server, false);
    ck_assert_msg(PQstatus(c) == CONNECTION_OK, "%s", PQerrorMessage(c));
    sodium_bin2hex(hex, sizeof hex, house->b, sizeof house->b);
    snprintf(sql, sizeof sql, "select set_config('cot.house', '%s', false), set_config('cot.farm', '*', false)", hex);
    ask(c, sql, NULL, 0);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        char sum[40];
        snprintf(sql, sizeof sql, "select coalesce(md5(string_agg(t::text, '|' order by t::text)), '-') from %s t",
                 tables[i]);
        ask(c, sql, sum, sizeof sum);
        at += (size_t)snprintf(out + at, 300 - at, "%s ", sum);
    }
    PQfinish(c);
}

/* --- Pages
 * ------------------------------------------------------------------------------------------------------------------------
 */

/* What of a good entry is replaced by what. The seal is made anew over the spoilt bytes: only the grammar can tell. */
struct bad_entry {
    const char *find, *put;
    enum cot_err err;
    const char *says;
};
static const struct bad_entry entries[] = {
    {"{\"v\":1", "{\"v\":2", COT_MALFORMED, "v"},
    {"{\"v\":1", "{\"v\":\"1\"", COT_MALFORMED, "v"},
    {"{\"v\":1", "{\"v\":1.0", COT_MALFORMED, "integer"},
    {"{\"v\":1", "{\"v\":01", COT_MALFORMED, "leading zeros"},
    {"{\"v\":1", "{\"v\":1,\"v\":1", COT_MALFORMED, "duplicate"},
    {"{\"v\":1", "{\"w\":1", COT_MALFORMED, "v"},
    {"{\"v\":1", "{ \"v\":1", COT_MALFORMED, "blank"},
    {"{\"v\":1", "[{\"v\":1", COT_MALFORMED, "byte"},
    {"\"n\":1,", "\"n\":0,", COT_MALFORMED, "n"},
    {"\"n\":1,", "\"n\":-1,", COT_MALFORMED, "n"},
    {"\"n\":1,", "\"n\":-0,", COT_MALFORMED, "-0"},
    {"\"n\":1,", "\"n\":2,", COT_MALFORMED, "another house, device or number"},
    {"\"n\":1,", "\"n\":9007199254740992,", COT_MALFORMED, "2^53"},
    {"\"n\":1,", "\"n\":1e0,", COT_MALFORMED, "integer"},
    {"\"n\":1,", "\"n\":true,", COT_MALFORMED, "n"},
    {"\"n\":1,", "", COT_MALFORMED, "n"},
    {"\"clock\":[", "\"clock\":[[", COT_MALFORMED, "byte"},
    {"\"clock\":[", "\"clock\":[-1,", COT_MALFORMED, "clock"},
    {"\"clock\":[", "\"clock\":[0,0,", COT_MALFORMED, "clock"},
    {"\"seen\":", "\"seen\":-1", COT_MALFORMED, "seen"},
    {"\"device\":\"", "\"device\":\"a", COT_MALFORMED, "device"},
    {"\"device\":\"", "\"device\":\"ZZZ", COT_MALFORMED, "another house, device or number"},
    {"\"house\":\"", "\"house\":\"=", COT_MALFORMED, "house"},
    {"\"member\":\"", "\"member\":\"-", COT_MALFORMED, "member"},
    {"\"salt\":\"", "\"salt\":\"A", COT_MALFORMED, "salt"},
    {"\"salt\":", "\"pepper\":", COT_MALFORMED, "salt"},
    {"\"kind\":\"note\"", "\"kind\":\"NOTE\"", COT_MALFORMED, "kind"},
    {"\"kind\":\"note\"", "\"kind\":\"\"", COT_MALFORMED, "kind"},
    {"\"kind\":\"note\"", "\"kind\":7", COT_MALFORMED, "kind"},
    {"\"body\":{", "\"body\":[{", COT_MALFORMED, "byte"},
    {"\"body\":{", "\"bodies\":{", COT_MALFORMED, "body"},
    {"\"body\":{", "\"about\":\"short\",\"body\":{", COT_MALFORMED, "about"},
    {"\"body\":{", "\"farm\":12,\"body\":{", COT_MALFORMED, "farm"},
    {"\"body\":{", "\"body\":{\"deep\":[[[[[[[[1]]]]]]]],", COT_MALFORMED, "deep"},
    {"the north door", "the north\tdoor", COT_MALFORMED, "control character"},
    {"the north door", "the north\\u0007door", COT_MALFORMED, "control character"},
    {"the north door", "the north\\ndoor", COT_MALFORMED, "control character"},
    {"the north door", "the north\\ud800 door", COT_MALFORMED, "surrogate"},
    {"the north door", "the north \xC0\xAF door", COT_MALFORMED, "UTF-8"},
    {"the north door", "the north \xED\xA0\x80 door", COT_MALFORMED, "UTF-8"},
    {"the north door", "the north \xFF door", COT_MALFORMED, "UTF-8"},
    {"the north door", "the north \\x door", COT_MALFORMED, "escape"},
    {"the north door", "the north \" door", COT_MALFORMED, "byte"},
    {"}}", "}", COT_MALFORMED, "byte"},
    {"}}", "}}}", COT_MALFORMED, "byte"},
    {"}}", "}} ", COT_MALFORMED, "blank"},
    {"}}", "},}", COT_MALFORMED, "byte"},
};

static void replace(struct cot_buf *out, const char *line, const char *find, const char *put)
{
    const char *at = strstr(line, find);
    ck_assert_msg(at != NULL, "no %s in %s", find, line);
    cot_buf_put(out, line, (size_t)(at - line));
    cot_buf_str(out, put);
    cot_buf_str(out, at + strlen(find));
}

static void good_entry(struct cot_device *d, struct cot_buf *out)
{
    struct cot_fact f = cot_fact_note("the north door sticks");
    struct cot_fault fault = {0};
    f.house = d->house;
    memcpy(f.tag, d->tag, sizeof f.tag);
    f.number = 1;
    f.clock = 1806307200000;
    f.has_member = true;
    f.member = d->member;
    ck_assert_msg(cot_entry_write(&f, out, &fault) == COT_OK, "%s", fault.msg);
}

/* A page of one line, sealed as number `n` of the device. */
static void seal_line(const struct cot_device *d, int64_t n, const char *line, size_t len, struct cot_buf *page)
{
    struct cot_seal seal = {.house = d->house, .first = n, .last = n, .before = d->chain, .after = d->chain};
    struct cot_id digest;
    struct cot_buf jws = {0};
    memcpy(seal.tag, d->tag, sizeof seal.tag);
    cot_digest(line, len, &digest);
    cot_chain_next(&seal.after, n, &digest);
    cot_seal_sign(&seal, &d->key, &jws);
    cot_page_start(page, jws.s, jws.len);
    cot_buf_put(page, line, len);
    cot_buf_str(page, "\n");
    cot_buf_free(&jws);
}

static void refused(const struct cot_reply *r, enum cot_err err, const char *says, const char *what)
{
    ck_assert_msg(cot_reply_code(r) == err && r->status == cot_err_row(err)->http_status, "%s: status %d: %s", what,
                  r->status, r->body);
    ck_assert_str_eq(r->type, "application/problem+json");
    ck_assert_msg(strstr(r->body, says) != NULL, "%s: no \"%s\" in %s", what, says, r->body);
}

/* A device that has written nothing yet. */
static struct cot_device fresh(void)
{
    struct cot_device d;
    struct cot_device manager = device;
    char name[40];
    snprintf(name, sizeof name, "Hand %d", (int)randombytes_uniform(1u << 30));
    cot_device_invite(&manager, name, COT_PART_HAND, NULL, &d);
    return d;
}

static struct cot_device hand;
static void setup_pages(void)
{
    setup();
    hand = fresh();
}

START_TEST(entry_outside_the_grammar)
{
    const struct bad_entry *b = &entries[_i];
    char before[300], after[300];
    struct cot_buf line = {0}, bad = {0}, page = {0};
    struct cot_reply r;
    good_entry(&hand, &line);
    replace(&bad, line.s, b->find, b->put);
    seal_line(&hand, 1, bad.s, bad.len, &page);
    fingerprint(&hand.house, before);
    ck_assert(cot_send(&hand, &page, &r));
    refused(&r, b->err, b->says, b->put);
    fingerprint(&hand.house, after);
    ck_assert_str_eq(before, after);
    cot_reply_free(&r);
    cot_buf_free(&line);
    cot_buf_free(&bad);
    cot_buf_free(&page);
}
END_TEST

/* The page's own bytes: find and put in the whole page, after the sealing. */
static const struct bad_entry pages[] = {
    {"{\"seal\":\"", "{\"sale\":\"", COT_MALFORMED, "line 1"},
    {"{\"seal\":\"", "{\"seal\": \"", COT_MALFORMED, "line 1"},
    {"{\"seal\":\"", "", COT_MALFORMED, "line 1"},
    {"{\"seal\":\"", "{\"seal\":\"A", COT_MALFORMED, "seal"},
    {"\"}\n", "A\"}\n", COT_MALFORMED, "seal"},
    {"\"}\n", "\"}\n\n", COT_MALFORMED, "entry"},
    {"\"}\n", "\"}\r\n", COT_MALFORMED, "line 1"},
    {"\"}\n", "\"}", COT_MALFORMED, "line 1"},
    {"}}\n", "}}", COT_MALFORMED, "sealed"},
    {"}}\n", "}}\r\n", COT_MALFORMED, "blank"},
    {"}}\n", "}}\n\n", COT_MALFORMED, "after the last entry"},
    {"}}\n", "}}\n{}\n", COT_MALFORMED, "after the last entry"},
    {"the north door", "the south door", COT_UNAUTHENTIC, "not the ones that were sealed"},
};

START_TEST(page_spoilt_on_the_way)
{
    const struct bad_entry *b = &pages[_i];
    char before[300], after[300];
    struct cot_buf line = {0}, page = {0}, bad = {0};
    struct cot_reply r;
    good_entry(&hand, &line);
    seal_line(&hand, 1, line.s, line.len, &page);
    replace(&bad, page.s, b->find, b->put);
    fingerprint(&hand.house, before);
    ck_assert(cot_send(&hand, &bad, &r));
    refused(&r, b->err, b->says, b->put);
    fingerprint(&hand.house, after);
    ck_assert_str_eq(before, after);
    cot_reply_free(&r);
    cot_buf_free(&line);
    cot_buf_free(&page);
    cot_buf_free(&bad);
}
END_TEST

/* --- Requests
 * --------------------------------------------------------------------------------------------------------------------
 */

struct bad_request {
    bool by_buyer;
    const char *method, *path, *query, *type, *body;
    enum cot_err err;
    const char *says;
};
static const struct bad_request requests[] = {
    {false, "GET", "/v1/nothing", NULL, NULL, NULL, COT_NOT_FOUND, "GET /v1/nothing"},
    {false, "GET", "/v2/head", NULL, NULL, NULL, COT_NOT_FOUND, "GET /v2/head"},
    {false, "DELETE", "/v1/ledger", NULL, NULL, NULL, COT_NOT_FOUND, ""},
    {false, "POST", "/v1/head", NULL, NULL, "{}", COT_NOT_FOUND, ""},
    {false, "GET", "/v1/ledger", "", NULL, NULL, COT_MALFORMED, "after"},
    {false, "GET", "/v1/ledger", "after=", NULL, NULL, COT_MALFORMED, "after"},
    {false, "GET", "/v1/ledger", "after=one", NULL, NULL, COT_MALFORMED, "after"},
    {false, "GET", "/v1/ledger", "after=-1", NULL, NULL, COT_MALFORMED, "after"},
    {false, "GET", "/v1/ledger", "after=99999999999999999999", NULL, NULL, COT_MALFORMED, "after"},
    {false, "GET", "/v1/ledger", "after=0&limit=0", NULL, NULL, COT_MALFORMED, "limit"},
    {false, "GET", "/v1/ledger", "after=0&after=1", NULL, NULL, COT_MALFORMED, "after"},
    {false, "GET", "/v1/ledger", "after=0&since=1", NULL, NULL, COT_MALFORMED, "since"},
    {false, "GET", "/v1/chain", "at=999999", NULL, NULL, COT_NOT_FOUND, ""},
    {false, "GET", "/v1/chain", "", NULL, NULL, COT_MALFORMED, "at"},
    {false, "GET", "/v1/fill", "on=2027-02-30&form=text", NULL, NULL, COT_MALFORMED, "on"},
    {false, "GET", "/v1/fill", "on=tomorrow&form=text", NULL, NULL, COT_MALFORMED, "on"},
    {false, "GET", "/v1/fill", "on=2027-02-20&form=pdf", NULL, NULL, COT_MALFORMED, "form"},
    {false, "GET", "/v1/fill", "on=2027-02-20&form=text&farm=short", NULL, NULL, COT_MALFORMED, "farm"},
    {true, "GET", "/v1/fill", "on=2027-02-20&form=text&farm=AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", NULL, NULL,
     COT_NOT_ALLOWED, ""},
    {false, "POST", "/v1/pages", NULL, NULL, "", COT_MALFORMED, "seal"},
    {false, "POST", "/v1/pages", NULL, NULL, "\n", COT_MALFORMED, "line 1"},
    {false, "POST", "/v1/pages", NULL, NULL, "{\"seal\":\"x.y.z\"}\n", COT_MALFORMED, "seal"},
    {false, "POST", "/v1/pages", NULL, "text/plain", "x", COT_MALFORMED, "application/x-ndjson"},
    {false, "POST", "/v1/invitations", NULL, NULL, "", COT_MALFORMED, "JSON"},
    {false, "POST", "/v1/invitations", NULL, NULL, "{", COT_MALFORMED, "JSON"},
    {false, "POST", "/v1/invitations", NULL, NULL, "{}", COT_MALFORMED, "member"},
    {false, "POST", "/v1/invitations", NULL, NULL, "{\"member\":\"x\",\"hash\":\"y\",\"expires\":1}", COT_MALFORMED,
     "member"},
    {false, "POST", "/v1/invitations", NULL, NULL,
     "{\"member\":\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\",\"hash\":"
     "\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\",\"expires\":9999999999999}",
     COT_INVALID, "no such member"},
    {true, "POST", "/v1/invitations", NULL, NULL,
     "{\"member\":\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\",\"hash\":"
     "\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA\",\"expires\":9999999999999}",
     COT_NOT_ALLOWED, ""},
    {false, "POST", "/v1/join", NULL, NULL, "{\"proof\":\"x\",\"label\":\"y\"}", COT_MALFORMED, "join"},
    {false, "POST", "/v1/join", NULL, NULL, "[]", COT_MALFORMED, "JSON"},
    {false, "POST", "/v1/rejoin", NULL, NULL, "{\"label\":\"y\"}", COT_MALFORMED, "proof"},
};

START_TEST(request_that_makes_no_sense)
{
    const struct bad_request *b = &requests[_i];
    char before[300], after[300], what[200];
    struct cot_reply r;
    snprintf(what, sizeof what, "%s %s?%s", b->method, b->path, b->query ? b->query : "");
    fingerprint(&device.house, before);
    ck_assert(cot_signed_call(b->by_buyer ? &buyer : &device, b->method, b->path, b->query, b->type, b->body,
                              b->body ? strlen(b->body) : 0, &r));
    refused(&r, b->err, b->says, what);
    fingerprint(&device.house, after);
    ck_assert_str_eq(before, after);
    cot_reply_free(&r);
}
END_TEST

/* --- Spreadsheets and command lines of a laptop that can sync
 * ------------------------------------------------------------------- */

struct bad_sheet {
    const char *import, *bytes;
    enum cot_err err;
    const char *says;
};
#define ORDERS "orders --farm \"Alder Ford\""
static const struct bad_sheet sheets[] = {
    {"farms", "", COT_MALFORMED, ""},
    {"farms", "\n\n", COT_MALFORMED, ""},
    {"farms", "Name\nOld Mill\n\"Weir", COT_MALFORMED, "line 3, column 1"},
    {"farms", "Name\nOld \"Mill\"\n", COT_MALFORMED, "line 2, column 5"},
    {"farms", "Name\n\"Old\" Mill\n", COT_MALFORMED, "line 2, column 7"},
    {"farms", "Name\nOld \xFF Mill\n", COT_MALFORMED, "UTF-8"},
    {"farms", "\xFF\xFEN\0a\0", COT_MALFORMED, "UTF-8"},
    {"farms", "Contact\nx\n", COT_MALFORMED, "name"},
    {"farms", "Name,Name\nOld Mill,Old Mill\n", COT_MALFORMED, "Name"},
    {"farms", "Name,Shoe size\nOld Mill,44\n", COT_MALFORMED, "Shoe size"},
    {"farms", "Name,Own\nOld Mill,perhaps\n", COT_INVALID, ":2:2"},
    {"farms", "Name\nOld Mill\nOld Mill\n", COT_INVALID, ":3"},
    {"varieties", "Name,Crop\nBlue Reed,Lettice\n", COT_INVALID, ":2:2"},
    {"varieties", "Name,Crop\nBlue Reed,\n", COT_INVALID, ":2"},
    {"formats", "Name,Rows,Columns\n72,six,12\n", COT_INVALID, ":2:2"},
    {"formats", "Name,Rows,Columns\n72,6,-12\n", COT_INVALID, ":2:3"},
    {"formats", "Name,Rows,Columns\n72,6\n", COT_INVALID, ":2"},
    {"lots", "Lot,Variety,Germination\nX1,Red Harbour,130 %\n", COT_INVALID, ":2:3"},
    {"lots", "Lot,Variety,Form\nX1,Red Harbour,round\n", COT_INVALID, ":2:3"},
    {"lots", "Lot,Variety\nX1,Rot Harbour\n", COT_INVALID, ":2:2"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,many,2027-04-05\n", COT_INVALID, ":2:2"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,-5,2027-04-05\n", COT_INVALID, ":2:2"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,1.5,2027-04-05\n", COT_INVALID, ":2:2"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,500,5 April\n", COT_INVALID, ":2:3"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,500,2027-02-30\n", COT_INVALID, ":2:3"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,500,05/04/2027\n", COT_INVALID, ":2:3"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,,2027-04-05\n", COT_INVALID, ":2"},
    {ORDERS, "Variety,Plants,Date\n,500,2027-04-05\n", COT_INVALID, ":2"},
    {ORDERS, "Variety,Plants,Date\nRed Harbour,500,2027-04-05\nTotal,500,\n", COT_INVALID, ":3"},
    {ORDERS, "Variety,Plants,Date,Format\nRed Harbour,500,2027-04-05,999\n", COT_INVALID, ":2:4"},
    {ORDERS, "Variety,Trays,Plants,Date,Format\nRed Harbour,5,500,2027-04-05,128\n", COT_INVALID, ":2"},
    {ORDERS, "Variety,Plants\nRed Harbour,500\n", COT_MALFORMED, "date"},
    {ORDERS " --dates D.M.YYYY", "Variety,Plants,Date\nRed Harbour,500,31.4.2027\n", COT_INVALID, ":2:3"},
    {"orders --farm \"Older Ford\"", "Variety,Plants,Date\nRed Harbour,500,2027-04-05\n", COT_NOT_FOUND, "Older Ford"},
    {"sheds", "Name\nx\n", COT_USAGE, "sheds"},
};

static const struct {
    const char *line;
    enum cot_err err;
    const char *says;
} lines[] = {
    {"import farms /nowhere/farms.csv", COT_NOT_FOUND, "/nowhere/farms.csv"},
    {"invite Sorrel --part gardener", COT_INVALID, "manager"},
    {"invite Sorrel --part buyer", COT_USAGE, "--farm"},
    {"invite Sorrel --part buyer --farm \"Older Ford\"", COT_NOT_FOUND, "Older Ford"},
    {"invite --part hand", COT_USAGE, "needs a name"},
    {"close ZZ", COT_NOT_FOUND, "ZZ"},
    {"end Nobody", COT_NOT_FOUND, "Nobody"},
    {"join --invitation /nowhere/invitation", COT_CONFLICT, "already"},
    {"answer A-0001-B --as maybe", COT_NOT_FOUND, "A-0001-B"},
    {"answer AAAAAAAA --as booked", COT_NOT_FOUND, "AAAAAAAA"},
    {"carry /nowhere/file", COT_NOT_FOUND, "/nowhere/file"},
    {"sync now", COT_USAGE, "usage"},
    {"fill --on 2027-99-01", COT_INVALID, "--on"},
    {"fill --farm \"Older Ford\"", COT_NOT_FOUND, "Older Ford"},
    {"fill --csv --json", COT_USAGE, ""},
};

static int64_t own_entries(void)
{
    const char *json = e2e_must(&office, "verify --json");
    return cot_json_int(json, strlen(json), "own");
}

/* Nothing is recorded here, and nothing reaches the server. */
static void unchanged(const char *line, enum cot_err err, const char *says)
{
    char before[300], after[300];
    struct cot_house_id house;
    ck_assert(cot_house_parse(office_house, 22, &house));
    fingerprint(&house, before);
    int64_t own = own_entries();
    e2e_refused(&office, line, err, says);
    ck_assert_int_eq(own_entries(), own);
    e2e_must(&office, "sync");
    fingerprint(&house, after);
    ck_assert_str_eq(before, after);
}

START_TEST(spreadsheet_with_a_mistake)
{
    const struct bad_sheet *b = &sheets[_i];
    char path[200], line[400];
    size_t len = _i == 6 ? 6 : strlen(b->bytes); /* UTF-16 has NULs */
    snprintf(path, sizeof path, "%s.csv", office.dir);
    FILE *f = fopen(path, "we");
    ck_assert_int_eq(fwrite(b->bytes, 1, len, f), len);
    fclose(f);
    snprintf(line, sizeof line, "import %s", b->import);
    char *rest = strchr(line + 7, ' ');
    char tail[200] = "";
    if (rest) {
        snprintf(tail, sizeof tail, "%s", rest);
        *rest = '\0';
    }
    snprintf(line + strlen(line), sizeof line - strlen(line), " %s%s", path, tail);
    unchanged(line, b->err, b->says);
}
END_TEST

START_TEST(command_that_makes_no_sense)
{
    unchanged(lines[_i].line, lines[_i].err, lines[_i].says);
}
END_TEST

#define COUNT(a) ((int)(sizeof(a) / sizeof(a)[0]))

static void add_cases(Suite *s, const char *name, const TTest *test, int n)
{
    TCase *t = tcase_create(name);
    tcase_set_timeout(t, 300);
    tcase_add_unchecked_fixture(t, setup_pages, e2e_stop);
    tcase_add_loop_test(t, test, 0, n);
    suite_add_tcase(s, t);
}

Suite *cot_suite(void)
{
    Suite *s = suite_create("bad input");
    add_cases(s, "entries", entry_outside_the_grammar, COUNT(entries));
    add_cases(s, "pages", page_spoilt_on_the_way, COUNT(pages));
    add_cases(s, "requests", request_that_makes_no_sense, COUNT(requests));
    add_cases(s, "sheets", spreadsheet_with_a_mistake, COUNT(sheets));
    add_cases(s, "lines", command_that_makes_no_sense, COUNT(lines));
    return s;
}
