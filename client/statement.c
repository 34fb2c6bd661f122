/* Statements: opened strictly, kept as they were signed. And a buyer's part of a sync. */
#include "statement.h"

#include <jansson.h>
#include <string.h>

#include "cotyledger/wire/chain.h"
#include "sync/sync.h"

const char *cot_form_word(enum cot_form form)
{
    static const char *const words[] = {
        [COT_FORM_TEXT] = "text", [COT_FORM_CSV] = "csv", [COT_FORM_JSON] = "json", [COT_FORM_HTML] = "html"};
    return (unsigned)form < sizeof words / sizeof words[0] ? words[form] : words[0];
}

void cot_statement_free(struct cot_statement *s)
{
    cot_buf_free(&s->body);
}

static bool is_text(const json_t *o, const char *member, const char *want)
{
    const char *s = json_string_value(json_object_get(o, member));
    return s && strcmp(s, want) == 0;
}

static enum cot_err read_payload(struct cot_cli *cli, enum cot_form form, const json_t *o, struct cot_statement *out)
{
    char house[COT_HOUSE_TEXT], farm[COT_ID_TEXT];
    const char *on = json_string_value(json_object_get(o, "on")), *book = json_string_value(json_object_get(o, "book"));
    const json_t *body = json_object_get(o, "body");
    cot_house_text(&cli->me.house, house);
    cot_id_text(&cli->me.farm, farm);
    if (!is_text(o, "house", house) || !is_text(o, "farm", farm))
        return cot_fail(&cli->fault, COT_UNAUTHENTIC, "the statement is another house's or farm's");
    if (!is_text(o, "form", cot_form_word(form)) || !on || !cot_day_parse(on, strlen(on), &out->on) || !book ||
        strlen(book) >= sizeof out->book || !json_is_string(body))
        return cot_fail(&cli->fault, COT_MALFORMED, "the statement cannot be read");
    snprintf(out->book, sizeof out->book, "%s", book);
    out->epoch = json_integer_value(json_object_get(o, "epoch"));
    out->position = json_integer_value(json_object_get(o, "position"));
    cot_buf_put(&out->body, json_string_value(body), json_string_length(body));
    return out->body.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : COT_OK;
}

enum cot_err cot_statement_open(struct cot_cli *cli, enum cot_form form, const char *jws, size_t len,
                                struct cot_statement *out)
{
    struct cot_buf payload = {0};
    json_t *o = NULL;
    memset(out, 0, sizeof *out);
    enum cot_err e = cot_jws_open(COT_JWS_STATEMENT, jws, len, &cli->me.house_key, &payload, &cli->fault);
    if (e) {
        cot_within(&cli->fault, "the statement");
        goto out;
    }
    o = json_loadb(payload.s, payload.len, JSON_REJECT_DUPLICATES | JSON_ALLOW_NUL, NULL);
    e = json_is_object(o) ? read_payload(cli, form, o, out)
                          : cot_fail(&cli->fault, COT_MALFORMED, "the statement cannot be read");
    if (e) cot_statement_free(out);
out:
    json_decref(o);
    cot_buf_free(&payload);
    return e;
}

enum cot_err cot_statement_last(struct cot_cli *cli, enum cot_form form, struct cot_statement *out)
{
    struct cot_buf jws = {0};
    int32_t on;
    enum cot_err e = cot_journal_statement(cli->journal, cot_form_word(form), &on, &jws, &cli->fault);
    if (!e) e = cot_statement_open(cli, form, jws.s ? jws.s : "", jws.len, out);
    cot_buf_free(&jws);
    return e;
}

enum cot_err cot_statement_fits(const struct cot_statement *st, const struct cot_stand_at *where,
                                struct cot_fault *fault)
{
    if (st->epoch == where->epoch && st->position >= where->position) return COT_OK;
    if (st->epoch > where->epoch) {
        cot_fail(fault, COT_CONFLICT, "the server was restored since this laptop's last sync");
        return cot_hint(fault, "sync, then ask again");
    }
    cot_fail(fault, COT_UNAUTHENTIC,
             "the statement is older than what this laptop has: of position %lld, and here is %lld",
             (long long)st->position, (long long)where->position);
    return cot_hint(fault, "somebody shows an old statement again; tell the house");
}

static enum cot_err fetch(struct cot_sync *s, int32_t on, enum cot_form form, struct cot_statement *out)
{
    char query[60], day[COT_DAY_TEXT];
    struct cot_cli *cli = s->cli;
    cot_day_text(on, day);
    snprintf(query, sizeof query, "on=%s&form=%s", day, cot_form_word(form));
    enum cot_err e = cot_sync_call(s, "GET", "/v1/fill", query, "", NULL, 0);
    if (!e) e = cot_statement_open(cli, form, s->answer.s ? s->answer.s : "", s->answer.len, out);
    if (e) return e;
    if (out->on != on) e = cot_fail(&cli->fault, COT_UNAUTHENTIC, "the statement is of another day than was asked");
    if (!e) e = cot_statement_fits(out, &s->where, &cli->fault);
    if (!e)
        e = cot_journal_put_statement(cli->journal, cot_form_word(form), on, s->answer.s, s->answer.len, &cli->fault);
    if (e) cot_statement_free(out);
    return e;
}

enum cot_err cot_statement_fetch(struct cot_cli *cli, int32_t on, enum cot_form form, struct cot_statement *out)
{
    struct cot_sync s;
    enum cot_err e = cot_sync_open(cli, false, &s);
    if (!e) e = cot_journal_where(cli->journal, &s.where, &cli->fault);
    if (!e) e = fetch(&s, on, form, out);
    cot_sync_close(&s);
    return e;
}

/* --- A buyer's part of a sync
 * ------------------------------------------------------------------------------------------------ */

static enum cot_err compare(struct cot_sync *s, const char *theirs)
{
    char ours[COT_BOOK_DIGEST_TEXT];
    struct cot_cli *cli = s->cli;
    enum cot_err e = cot_book_digest(cli->book, ours);
    if (e || strcmp(ours, theirs) == 0) return e;
    cot_fail(&cli->fault, COT_UNAUTHENTIC,
             "this laptop and the server read the same entries differently at position %lld: %s here, %s there",
             (long long)s->where.position, ours, theirs);
    return cot_hint(
        &cli->fault,
        "the entries are safe. Bring cotyl up to date; when they still differ, tell the house and trust neither "
        "report until it is found");
}

/* The server reads this farm's view too: both must come to the same book. */
static enum cot_err compare_books(struct cot_sync *s)
{
    char query[40], theirs[COT_BOOK_DIGEST_TEXT];
    struct cot_cli *cli = s->cli;
    snprintf(query, sizeof query, "at=%lld", (long long)s->where.position);
    enum cot_err e = cot_sync_call(s, "GET", "/v1/book", query, "", NULL, 0);
    if (e) return e;
    if (!cot_problem_text(s->answer.s ? s->answer.s : "", s->answer.len, "book", theirs, sizeof theirs))
        return cot_fail(&cli->fault, COT_NETWORK, "the server's book digest cannot be read");
    return compare(s, theirs);
}

enum cot_err cot_sync_buyer(struct cot_sync *s)
{
    struct cot_statement st;
    int32_t today = cot_today(s->cli);
    enum cot_err e = s->cli->book ? compare_books(s) : COT_OK;
    for (int form = COT_FORM_TEXT; !e && form <= COT_FORM_HTML; form++) {
        e = fetch(s, today, (enum cot_form)form, &st);
        if (e) break;
        /* Signed by the house: a server that keeps back rows of this farm cannot sign what is read without them. */
        if (s->cli->book && st.position == s->where.position) e = compare(s, st.book);
        cot_statement_free(&st);
    }
    return e;
}
