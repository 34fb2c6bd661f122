/* Running a request: authenticate once, run the route's resource, make the answer or the problem. */
#include "call.h"

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "cotyledger/wire/request.h"
#include "log.h"
#include "turns.h"

/* What went wrong inside is for the log, not for the other side. */
static void hide(struct cot_fault *fault)
{
    static const struct {
        enum cot_err code;
        enum cot_level level;
        const char *detail, *hint;
    } rows[] = {
        {COT_STORE, COT_LOG_ERROR, "the server was unable to do it", "its log says why"},
        {COT_NEWER, COT_LOG_ERROR, "the server was unable to do it", "its log says why"},
        {COT_MEMORY, COT_LOG_ERROR, "the server was unable to do it", "its log says why"},
        {COT_INTERNAL, COT_LOG_ERROR, "the server was unable to do it", "its log says why"},
        {COT_IO, COT_LOG_ERROR, "the server was unable to do it", "its log says why"},
        {COT_BUSY, COT_LOG_WARN, "the server is busy, starting or stopping", "try again in a moment"},
        {COT_TIMEOUT, COT_LOG_WARN, "it took longer than a request may", "try again in a moment"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (rows[i].code != fault->code) continue;
        cot_log_fault(rows[i].level, "unanswered", fault);
        cot_fail(fault, fault->code, "%s", rows[i].detail);
        cot_hint(fault, "%s", rows[i].hint);
        return;
    }
}

void cot_call_refuse(struct cot_call *c, struct cot_fault *fault)
{
    hide(fault);
    c->code = fault->code;
    c->status = cot_err_row(fault->code)->http_status;
    c->type = "application/problem+json";
    cot_buf_clear(&c->reply);
    cot_problem_write(fault, c->extra.len ? c->extra.s : NULL, &c->reply);
}

static enum cot_err run_in_turn(struct cot_call *c, struct cot_fault *fault)
{
    struct cot_turns *turns = c->http->turns;
    if (!(c->route->flags & COT_ROUTE_LONG)) return c->route->run(c, fault);
    if (!cot_turns_take(turns, &c->house, c->tag))
        return cot_fail(fault, COT_BUSY, "device %s has another question that is still being answered", c->tag);
    enum cot_err err = c->route->run(c, fault);
    cot_turns_give_back(turns, &c->house, c->tag);
    return err;
}

void cot_call_run(struct cot_call *c)
{
    struct cot_fault fault = {0};
    enum cot_err err = COT_OK;
    if (cot_ticks_ms() > c->deadline) err = cot_fail(&fault, COT_TIMEOUT, "the request waited too long");
    if (!err) err = cot_call_check_query(c, &fault);
    if (!err && c->route->type && (!c->header[COT_H_TYPE] || strcmp(c->header[COT_H_TYPE], c->route->type) != 0))
        err = cot_fail(&fault, COT_MALFORMED, "content type must be %s", c->route->type);
    if (!err && (c->route->flags & COT_ROUTE_SIGNED)) err = cot_call_authenticate(c, &fault);
    c->status = 200;
    c->type = "application/json";
    if (!err) err = run_in_turn(c, &fault);
    if (!err && c->reply.failed) err = cot_fail(&fault, COT_MEMORY, "out of memory");
    if (err) {
        fault.code = err;
        cot_call_refuse(c, &fault);
    }
}

static bool allowed(const struct cot_route *r, const char *name, size_t len)
{
    for (const char *p = r->params; *p;) {
        size_t n = strcspn(p, " ");
        if (n == len && memcmp(p, name, n) == 0) return true;
        p += n + (p[n] == ' ');
    }
    return false;
}

/* `name=value` pairs joined by '&', each name once, values without escapes: nothing that we take needs any. */
enum cot_err cot_call_check_query(const struct cot_call *c, struct cot_fault *fault)
{
    const char *p = c->query;
    while (*p) {
        size_t len = strcspn(p, "&"), name = strcspn(p, "=&");
        const char *first;
        size_t first_len;
        if (name >= len || !allowed(c->route, p, name))
            return cot_fail(fault, COT_MALFORMED, "query: no parameter \"%.*s\" here", (int)(name < 60 ? name : 60), p);
        char word[32];
        snprintf(word, sizeof word, "%.*s", (int)name, p);
        if (!cot_call_query(c, word, &first, &first_len) || first != p + name + 1)
            return cot_fail(fault, COT_MALFORMED, "query: %s is there twice", word);
        for (size_t i = name + 1; i < len; i++)
            if (!strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_", p[i]))
                return cot_fail(fault, COT_MALFORMED, "query: %s has a character that no value has", word);
        p += len + (p[len] == '&');
    }
    return COT_OK;
}

bool cot_call_query(const struct cot_call *c, const char *name, const char **value, size_t *len)
{
    size_t n = strlen(name);
    for (const char *p = c->query; *p;) {
        size_t all = strcspn(p, "&");
        if (all > n && memcmp(p, name, n) == 0 && p[n] == '=') {
            *value = p + n + 1;
            *len = all - n - 1;
            return true;
        }
        p += all + (p[all] == '&');
    }
    return false;
}

enum cot_err cot_call_query_int(const struct cot_call *c, const char *name, int64_t lo, int64_t hi, int64_t *out,
                                struct cot_fault *fault)
{
    const char *v;
    size_t len;
    if (!cot_call_query(c, name, &v, &len)) return COT_OK;
    int64_t n = 0;
    bool good = len >= 1 && len <= 16;
    for (size_t i = 0; good && i < len; i++) {
        good = v[i] >= '0' && v[i] <= '9';
        n = n * 10 + (v[i] - '0');
    }
    if (!good || n < lo || n > hi)
        return cot_fail(fault, COT_MALFORMED, "query: %s must be a whole number from %lld to %lld", name, (long long)lo,
                        (long long)hi);
    *out = n;
    return COT_OK;
}

static enum cot_err take_member(json_t *v, const struct cot_member *m, struct cot_fault *fault)
{
    if (m->type == COT_M_INT) {
        if (!json_is_integer(v)) return cot_fail(fault, COT_MALFORMED, "body: \"%s\" must be a whole number", m->name);
        *m->number = json_integer_value(v);
        return COT_OK;
    }
    if (!json_is_string(v)) return cot_fail(fault, COT_MALFORMED, "body: \"%s\" must be text", m->name);
    size_t len = json_string_length(v);
    if (len >= m->cap)
        return cot_fail(fault, COT_MALFORMED, "body: \"%s\" is longer than %zu bytes", m->name, m->cap - 1);
    memcpy(m->text, json_string_value(v), len + 1);
    return COT_OK;
}

enum cot_err cot_call_json(const struct cot_call *c, const struct cot_member *m, size_t n, struct cot_fault *fault)
{
    json_error_t e;
    json_t *o = json_loadb(c->body.s ? c->body.s : "", c->body.len, JSON_REJECT_DUPLICATES, &e);
    enum cot_err err = json_is_object(o) ? COT_OK : cot_fail(fault, COT_MALFORMED, "body: not a JSON object");
    size_t seen = 0;
    for (size_t i = 0; !err && i < n; i++) {
        json_t *v = json_object_get(o, m[i].name);
        if (v) seen++;
        if (v) err = take_member(v, &m[i], fault);
        else if (m[i].required) err = cot_fail(fault, COT_MALFORMED, "body: \"%s\" is missing", m[i].name);
    }
    if (!err && seen != json_object_size(o)) err = cot_fail(fault, COT_MALFORMED, "body: a member that is not known");
    json_decref(o);
    return err;
}
