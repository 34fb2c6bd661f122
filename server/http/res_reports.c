/* GET /v1/book: the digest of the server's reading. GET /v1/fill: the fill report, signed. GET /v1/what-if: what an
 * order would change. */
#include "call.h"

#include <stdio.h>

#include "cotyledger/core/day.h"
#include "cotyledger/wire/entry.h"
#include "reports.h"

enum cot_err cot_res_book(struct cot_call *c, struct cot_fault *fault)
{
    int64_t at = -1;
    struct cot_session s = {0};
    char digest[COT_BOOK_DIGEST_TEXT];
    enum cot_err err = cot_call_query_int(c, "at", 0, COT_INT_MAX, &at, fault);
    if (!err) err = cot_call_session(c, &s, fault);
    if (!err) err = cot_report_book(&s, at, digest, fault);
    if (!err)
        cot_buf_fmt(&c->reply, "{\"epoch\":%lld,\"position\":%lld,\"book\":\"%s\"}", (long long)s.head.epoch,
                    (long long)(at < 0 ? s.head.position : at), digest);
    cot_session_close(&s);
    return err;
}

struct wanted {
    int32_t on;
    enum cot_form form;
    bool has_farm;
    struct cot_id farm;
};

static enum cot_err read_wanted(struct cot_call *c, struct wanted *w, struct cot_fault *fault)
{
    const char *v;
    size_t len;
    char form[8] = "text";
    if (!cot_call_query(c, "on", &v, &len) || !cot_day_parse(v, len, &w->on))
        return cot_fail(fault, COT_MALFORMED, "query: on must be a day like 2027-03-29");
    if (cot_call_query(c, "form", &v, &len)) snprintf(form, sizeof form, "%.*s", (int)len, v);
    if (!cot_form_by_name(form, &w->form))
        return cot_fail(fault, COT_MALFORMED, "query: form must be text, csv or json");
    w->has_farm = cot_call_query(c, "farm", &v, &len);
    if (w->has_farm && !cot_id_parse(v, len, &w->farm))
        return cot_fail(fault, COT_MALFORMED, "query: farm must be 43 characters of base64url");
    return COT_OK;
}

enum cot_err cot_res_fill(struct cot_call *c, struct cot_fault *fault)
{
    struct wanted w = {.form = COT_FORM_TEXT};
    struct cot_session s = {0};
    enum cot_err err = read_wanted(c, &w, fault);
    if (!err) err = cot_call_session(c, &s, fault);
    if (!err) err = cot_fill_statement(&s, w.on, w.has_farm ? &w.farm : NULL, w.form, &c->reply, fault);
    cot_session_close(&s);
    c->type = "application/jose";
    return err;
}

enum cot_err cot_res_what_if(struct cot_call *c, struct cot_fault *fault)
{
    struct wanted w = {.form = COT_FORM_TEXT};
    struct cot_session s = {0};
    struct cot_if_query asked;
    enum cot_err err = read_wanted(c, &w, fault);
    if (!err && (w.form == COT_FORM_CSV || w.form == COT_FORM_HTML))
        err = cot_fail(fault, COT_MALFORMED, "query: form must be text or json here");
    if (!err) err = cot_if_query_read(c->query, &asked, fault);
    if (!err) {
        asked.fact.has_farm = w.has_farm;
        asked.fact.farm = w.farm;
        err = cot_call_session(c, &s, fault);
    }
    if (!err) err = cot_what_if_body(&s, w.on, &asked, w.form, &c->reply, fault);
    cot_session_close(&s);
    c->type = w.form == COT_FORM_JSON ? "application/json" : "text/plain; charset=utf-8";
    return err;
}
