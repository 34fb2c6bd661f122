#include "reports.h"

#include <stdio.h>
#include <string.h>

#include "fold.h"

static const char *const form_names[] = {
    [COT_FORM_TEXT] = "text", [COT_FORM_CSV] = "csv", [COT_FORM_JSON] = "json", [COT_FORM_HTML] = "html"};

const char *cot_form_name(enum cot_form form)
{
    return form_names[form];
}

static enum cot_err digest_of(struct cot_book *b, char digest[static COT_BOOK_DIGEST_TEXT], struct cot_fault *fault)
{
    enum cot_err err = cot_book_digest(b, digest);
    return err ? cot_fail(fault, err, "unable to digest the book") : COT_OK;
}

static enum cot_err look_back(struct cot_session *s, const struct cot_id *farm, int64_t at, char *digest,
                              struct cot_fault *fault)
{
    struct cot_book *b = NULL;
    if (farm) cot_tx_narrow(s->tx, farm);
    cot_session_release(s);
    enum cot_err err = cot_book_upto(s->tx, &s->id, farm, at, &b, fault);
    if (!err) err = digest_of(b, digest, fault);
    cot_book_free(b);
    return err;
}

static enum cot_err digest_now(struct cot_session *s, const struct cot_id *farm, char *digest, struct cot_fault *fault)
{
    char question[80];
    char farm_text[COT_ID_TEXT] = "-";
    struct cot_book *b = cot_session_book(s);
    if (farm) cot_id_text(farm, farm_text);
    snprintf(question, sizeof question, "book %s", farm_text);
    size_t len;
    const char *known = cot_session_recall(s, question, &len);
    if (known) {
        snprintf(digest, COT_BOOK_DIGEST_TEXT, "%.*s", (int)len, known);
        return COT_OK;
    }
    enum cot_err err = farm ? cot_session_view(s, farm, &b, fault) : COT_OK;
    if (!err) err = digest_of(b, digest, fault);
    if (!err) cot_session_remember(s, question, digest, strlen(digest));
    return err;
}

enum cot_err cot_report_book(struct cot_session *s, int64_t at, char digest[static COT_BOOK_DIGEST_TEXT],
                             struct cot_fault *fault)
{
    const struct cot_id *farm = cot_session_is_buyer(s) ? &s->who.farm : NULL;
    if (at > s->head.position)
        return cot_fail(fault, COT_NOT_FOUND, "the ledger ends at position %lld", (long long)s->head.position);
    return at < 0 || at == s->head.position ? digest_now(s, farm, digest, fault)
                                            : look_back(s, farm, at, digest, fault);
}

enum cot_err cot_fill_body(struct cot_book *b, struct cot_book *view, int32_t on, const struct cot_id *farm,
                           enum cot_form form, struct cot_buf *out, struct cot_fault *fault)
{
    struct cot_fill fill;
    enum cot_err err = cot_fill_read(b, on, &fill);
    if (err) return cot_fail(fault, err, "unable to work out the fill");
    err = cot_report_fill_seen(&fill, b, farm, form, view, out);
    cot_fill_free(&fill);
    if (err || out->failed) return cot_fail(fault, err ? err : COT_MEMORY, "unable to write the fill report");
    return COT_OK;
}

static void put_payload(struct cot_session *s, const struct cot_id *farm, const char *day, enum cot_form form,
                        const char *digest, const struct cot_buf *body, struct cot_buf *out)
{
    char house[COT_HOUSE_TEXT], farm_text[COT_ID_TEXT];
    cot_house_text(&s->id, house);
    cot_buf_fmt(out, "{\"house\":\"%s\",\"farm\":", house);
    if (farm) {
        cot_id_text(farm, farm_text);
        cot_buf_fmt(out, "\"%s\"", farm_text);
    } else {
        cot_buf_str(out, "null");
    }
    cot_buf_fmt(out, ",\"on\":\"%s\",\"form\":\"%s\",\"epoch\":%lld,\"position\":%lld,\"book\":\"%s\",\"body\":", day,
                cot_form_name(form), (long long)s->head.epoch, (long long)s->head.position, digest);
    cot_put_json(out, body->s ? body->s : "", body->len);
    cot_buf_str(out, "}");
}

static enum cot_err make_statement(struct cot_session *s, int32_t on, const char *day, const struct cot_id *farm,
                                   enum cot_form form, struct cot_buf *jws, struct cot_fault *fault)
{
    struct cot_buf body = {0}, payload = {0};
    const struct cot_keypair *key = NULL;
    char digest[COT_BOOK_DIGEST_TEXT];
    struct cot_book *view = cot_session_book(s);
    enum cot_err err = cot_session_key(s, &key, fault);
    /* A buyer's view narrows the transaction: nothing else is asked after it. */
    if (!err && cot_session_is_buyer(s)) err = cot_session_view(s, &s->who.farm, &view, fault);
    if (!err) err = cot_report_book(s, -1, digest, fault);
    if (!err) err = cot_fill_body(cot_session_book(s), view, on, farm, form, &body, fault);
    if (!err) {
        put_payload(s, farm, day, form, digest, &body, &payload);
        cot_jws_sign(COT_JWS_STATEMENT, payload.s, payload.len, key, jws);
        if (payload.failed || jws->failed) err = cot_fail(fault, COT_MEMORY, "out of memory");
    }
    cot_buf_free(&body);
    cot_buf_free(&payload);
    return err;
}

enum cot_err cot_fill_statement(struct cot_session *s, int32_t on, const struct cot_id *farm, enum cot_form form,
                                struct cot_buf *jws, struct cot_fault *fault)
{
    bool buyer = cot_session_is_buyer(s);
    if (buyer && farm && cot_id_cmp(farm, &s->who.farm) != 0)
        return cot_fail(fault, COT_NOT_ALLOWED, "a buyer sees its own farm's statement only");
    if (buyer) farm = &s->who.farm;
    const struct cot_thing *t = farm ? cot_book_thing(cot_session_book(s), farm) : NULL;
    if (farm && (!t || t->type != COT_THING_FARM)) return cot_fail(fault, COT_NOT_FOUND, "there is no such farm");
    char question[120], day[COT_DAY_TEXT], farm_text[COT_ID_TEXT] = "-";
    if (farm) cot_id_text(farm, farm_text);
    cot_day_text(on, day);
    snprintf(question, sizeof question, "fill %s %s %s %s", buyer ? "buyer" : "staff", farm_text, day,
             cot_form_name(form));
    size_t len;
    const char *known = cot_session_recall(s, question, &len);
    if (known) {
        cot_buf_put(jws, known, len);
        return jws->failed ? cot_fail(fault, COT_MEMORY, "out of memory") : COT_OK;
    }
    enum cot_err err = make_statement(s, on, day, farm, form, jws, fault);
    if (!err) cot_session_remember(s, question, jws->s, jws->len);
    return err;
}

/* --- What if ------------------------------------------------------------------------------------------------------ */

/* Whose line it is: a buyer's own, whatever is asked; for a standing line, the line's. */
static enum cot_err check_asked(struct cot_session *s, struct cot_if_query *asked, struct cot_fault *fault)
{
    struct cot_fact *f = &asked->fact;
    bool buyer = cot_session_is_buyer(s);
    if (buyer && f->has_farm && cot_id_cmp(&f->farm, &s->who.farm) != 0)
        return cot_fail(fault, COT_NOT_ALLOWED, "a buyer asks for its own farm only");
    const struct cot_thing *line = f->has_about ? cot_book_thing(cot_session_book(s), &f->about) : NULL;
    bool theirs = line && line->type == COT_THING_LINE && (!buyer || cot_id_cmp(&line->farm, &s->who.farm) == 0);
    if (f->has_about && !theirs) return cot_fail(fault, COT_NOT_FOUND, "there is no such order line");
    if (line) f->farm = line->farm;
    else if (buyer) f->farm = s->who.farm;
    f->has_farm = f->has_farm || line || buyer;
    return COT_OK;
}

enum cot_err cot_what_if_body(struct cot_session *s, int32_t on, struct cot_if_query *asked, enum cot_form form,
                              struct cot_buf *out, struct cot_fault *fault)
{
    struct cot_if_line line;
    struct cot_what_if change = {.line = &line};
    struct cot_effect effect;
    struct cot_book *book = cot_session_book(s), *view = book;
    const struct cot_id *farm = cot_session_is_buyer(s) ? &s->who.farm : NULL;
    enum cot_err err = check_asked(s, asked, fault);
    if (!err) err = cot_if_line_read(book, &asked->fact, asked->withdrawn, &line, fault);
    if (!err) err = cot_effect_read(book, on, &change, farm, &effect, fault);
    if (err) return err;
    if (farm) err = cot_session_view(s, farm, &view, fault);
    if (!err) {
        err = cot_report_what_if(&effect, &change, book, view, form, out);
        if (err) err = cot_fail(fault, err, "unable to write the answer");
    }
    cot_effect_free(&effect);
    return err;
}
