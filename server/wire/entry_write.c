/* Writing an entry: header keys in the order of the protocol's page, body fields in order of enum cot_field. */
#include "inner.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/day.h"

static void put_key(struct cot_buf *b, const char *key, bool first)
{
    cot_buf_fmt(b, "%s\"%s\":", first ? "" : ",", key);
}

static void put_id(struct cot_buf *b, const struct cot_id *id)
{
    cot_buf_str(b, "\"");
    cot_put_b64(b, id->b, sizeof id->b);
    cot_buf_str(b, "\"");
}

static void put_optional(struct cot_buf *b, const char *key, bool has, const struct cot_id *id)
{
    if (!has) return;
    put_key(b, key, false);
    put_id(b, id);
}

static void put_header(struct cot_buf *b, const struct cot_fact *f)
{
    char house[COT_HOUSE_TEXT];
    cot_house_text(&f->house, house);
    cot_buf_fmt(
        b,
        "{\"v\":1,\"house\":\"%s\",\"device\":\"%s\",\"n\":%lld,\"clock\":[%lld,%lld],\"seen\":%lld,\"member\":", house,
        f->tag, (long long)f->number, (long long)f->clock, (long long)f->tick, (long long)f->seen);
    if (f->has_member) put_id(b, &f->member);
    else cot_buf_str(b, "\"\"");
    cot_buf_fmt(b, ",\"kind\":\"%s\"", f->kind == COT_K_UNKNOWN ? f->kind_name : cot_kind_row(f->kind)->name);
    put_optional(b, "about", f->has_about, &f->about);
    put_optional(b, "farm", f->has_farm, &f->farm);
    put_optional(b, "carries", f->has_carries, &f->carries);
    cot_buf_str(b, ",\"salt\":\"");
    cot_put_b64(b, f->salt, sizeof f->salt);
    cot_buf_str(b, "\",\"body\":{");
}

static void put_ids(struct cot_buf *b, const struct cot_value *v)
{
    for (uint32_t i = 0; i < v->len; i++) {
        cot_buf_str(b, i ? "," : "[");
        put_id(b, &v->v.ids[i]);
    }
    cot_buf_str(b, "]");
}

static void put_numbers(struct cot_buf *b, const struct cot_value *v)
{
    for (uint32_t i = 0; i < v->len; i++) cot_buf_fmt(b, "%s%d", i ? "," : "[", (int)v->v.numbers[i]);
    cot_buf_str(b, "]");
}

static void put_figure(struct cot_buf *b, const char *key, int32_t n)
{
    if (n != COT_COUNT_UNKNOWN) cot_buf_fmt(b, ",\"%s\":%d", key, (int)n);
}

static void put_trays(struct cot_buf *b, const struct cot_value *v)
{
    for (uint32_t i = 0; i < v->len; i++) {
        const struct cot_tray_count *c = &v->v.counts[i];
        cot_buf_fmt(b, "%s{\"tray\":%d", i ? "," : "[", (int)c->tray);
        put_figure(b, "looked", c->looked);
        put_figure(b, "usable", c->usable);
        put_figure(b, "blanks", c->blanks);
        put_figure(b, "culls", c->culls);
        put_figure(b, "doubles", c->doubles);
        cot_buf_str(b, "}");
    }
    cot_buf_str(b, "]");
}

static void put_quoted(struct cot_buf *b, const char *s)
{
    cot_buf_fmt(b, "\"%s\"", s);
}

static void put_value(struct cot_buf *b, const struct cot_value *v)
{
    char text[16];
    switch ((enum cot_type)v->type) {
    case COT_T_NONE:
        cot_buf_str(b, "null");
        break;
    case COT_T_INT:
        cot_buf_fmt(b, "%lld", (long long)v->v.i);
        break;
    case COT_T_BOOL:
        cot_buf_str(b, v->v.i ? "true" : "false");
        break;
    case COT_T_TEXT:
        cot_put_json(b, v->v.text, v->len);
        break;
    case COT_T_DAY:
        cot_day_text((int32_t)v->v.i, text);
        put_quoted(b, text);
        break;
    case COT_T_WORD:
        cot_word_text((enum cot_field)v->field, (int)v->v.i, text);
        put_quoted(b, text);
        break;
    case COT_T_ID:
        put_id(b, v->v.ids);
        break;
    case COT_T_IDS:
        put_ids(b, v);
        break;
    case COT_T_NUMBERS:
        put_numbers(b, v);
        break;
    case COT_T_TRAYS:
        put_trays(b, v);
        break;
    }
}

static enum cot_err put_entry(const struct cot_fact *f, struct cot_buf *out, struct cot_fault *fault)
{
    size_t start = out->len;
    put_header(out, f);
    for (unsigned i = 0; i < f->value_count; i++) {
        const struct cot_value *v = &f->value[i];
        const char *name = cot_field_row((enum cot_field)v->field)->name;
        if (v->type == COT_T_TEXT && !cot_utf8_valid(v->v.text, v->len))
            return cot_fail(fault, COT_INVALID, "%s: the text is not valid UTF-8", name);
        put_key(out, name, i == 0);
        put_value(out, v);
    }
    cot_buf_str(out, "}}");
    if (out->failed) return cot_fail(fault, COT_MEMORY, "out of memory");
    size_t len = out->len - start;
    if (len > COT_ENTRY_MAX)
        return cot_fail(fault, COT_TOO_LARGE, "the entry has %zu bytes; at most %d are allowed", len, COT_ENTRY_MAX);
    /* What we write must be what everybody reads: a text with a line break, say, must not get into a journal. */
    if (cot_lex_check(out->s + start, len, NULL) != COT_OK)
        return cot_fail(fault, COT_INVALID, "a text has a line break, a tab or another control character in it");
    return COT_OK;
}

enum cot_err cot_entry_write(const struct cot_fact *f, struct cot_buf *out, struct cot_fault *fault)
{
    size_t start = out->len;
    enum cot_err err = put_entry(f, out, fault);
    if (err && out->s) {
        out->len = start;
        out->s[start] = '\0';
    }
    return err;
}
