/* Problem documents. */
#include "cotyledger/wire/request.h"

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "inner.h"

#define TYPE "urn:cotyledger:problem:"

static void put_member(struct cot_buf *out, const char *key, const char *text)
{
    cot_buf_fmt(out, ",\"%s\":", key);
    cot_put_json(out, text, strlen(text));
}

void cot_problem_write(const struct cot_fault *f, const char *extra, struct cot_buf *out)
{
    const struct cot_err_row *row = cot_err_row(f->code);
    cot_buf_fmt(out, "{\"type\":\"" TYPE "%s\"", row->name);
    put_member(out, "title", row->title);
    cot_buf_fmt(out, ",\"status\":%d", row->http_status);
    if (f->msg[0]) put_member(out, "detail", f->msg);
    if (f->hint[0]) put_member(out, "hint", f->hint);
    if (extra && extra[0]) cot_buf_fmt(out, ",%s", extra);
    cot_buf_str(out, "}");
}

static json_t *load(const char *json, size_t len)
{
    json_t *root = json_loadb(json, len, JSON_REJECT_DUPLICATES, NULL);
    if (json_is_object(root)) return root;
    json_decref(root);
    return NULL;
}

/* Copies a text member, cut between characters when it is too long. */
static void copy(const char *s, char *out, size_t out_len)
{
    const char *p = s, *end = s + strlen(s), *last = s;
    while (p < end && cot_utf8_next(&p, end) != COT_UTF8_BAD && (size_t)(p - s) < out_len) last = p;
    memcpy(out, s, (size_t)(last - s));
    out[last - s] = '\0';
}

void cot_problem_read(const char *json, size_t len, struct cot_fault *out)
{
    memset(out, 0, sizeof *out);
    json_t *root = load(json, len);
    const char *type = json_string_value(json_object_get(root, "type"));
    if (!type || strncmp(type, TYPE, strlen(TYPE)) != 0) {
        cot_fail(out, COT_NETWORK, "the answer is not one of this program's server");
        cot_hint(out, "check the server's address, and what stands between it and here");
    } else {
        const char *detail = json_string_value(json_object_get(root, "detail"));
        const char *hint = json_string_value(json_object_get(root, "hint"));
        out->code = cot_err_by_name(type + strlen(TYPE));
        if (out->code == COT_OK) out->code = COT_INTERNAL;
        copy(detail ? detail : cot_err_row(out->code)->title, out->msg, sizeof out->msg);
        copy(hint ? hint : "", out->hint, sizeof out->hint);
    }
    json_decref(root);
}

bool cot_problem_int(const char *json, size_t len, const char *member, int64_t *out)
{
    json_t *root = load(json, len);
    const json_t *v = json_object_get(root, member);
    bool found = json_is_integer(v);
    if (found) *out = json_integer_value(v);
    json_decref(root);
    return found;
}

bool cot_problem_text(const char *json, size_t len, const char *member, char *out, size_t out_len)
{
    json_t *root = load(json, len);
    const json_t *v = json_object_get(root, member);
    bool found = json_is_string(v) && json_string_length(v) < out_len;
    if (found) memcpy(out, json_string_value(v), json_string_length(v) + 1);
    json_decref(root);
    return found;
}
