#include "cotyledger/wire/asking.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cotyledger/core/day.h"
#include "cotyledger/wire/entry.h"

#define ID_COLUMNS 43 /* of an identity in base64url */

static const enum cot_field fields[] = {
    COT_F_VARIETY, COT_F_PLANTS, COT_F_TRAYS,     COT_F_FORMAT,  COT_F_DATE,     COT_F_EARLY,    COT_F_LATE,
    COT_F_LEAST,   COT_F_SUBS,   COT_F_UNTREATED, COT_F_ORGANIC, COT_F_OWN_SEED, COT_F_PRIORITY,
};
#define FIELDS (sizeof fields / sizeof fields[0])

/* --- Putting --------------------------------------------------------------------------------------------------------
 */
static void put_value(const struct cot_value *v, struct cot_buf *out)
{
    char text[COT_ID_TEXT], day[COT_DAY_TEXT];
    switch (v->type) {
    case COT_T_ID:
    case COT_T_IDS:
        for (uint32_t i = 0; i < v->len && i < COT_IF_SUBS_MOST; i++) {
            cot_id_text(&v->v.ids[i], text);
            cot_buf_str(out, text);
        }
        break;
    case COT_T_DAY:
        cot_day_text((int32_t)v->v.i, day);
        cot_buf_str(out, day);
        break;
    case COT_T_NONE:
        cot_buf_str(out, "none");
        break;
    default:
        cot_buf_fmt(out, "%" PRId64, v->v.i);
    }
}

void cot_if_query_put(const struct cot_fact *f, bool withdrawn, struct cot_buf *out)
{
    char line[COT_ID_TEXT];
    if (f->has_about) {
        cot_id_text(&f->about, line);
        cot_buf_fmt(out, "&line=%s", line);
    }
    if (withdrawn) cot_buf_str(out, "&withdrawn=1");
    for (size_t i = 0; i < FIELDS; i++) {
        const struct cot_value *v = cot_fact_value(f, fields[i]);
        if (!v) continue;
        cot_buf_fmt(out, "&%s=", cot_field_row(fields[i])->name);
        put_value(v, out);
    }
}

/* --- Reading --------------------------------------------------------------------------------------------------------
 */
struct given {
    const char *name, *value;
    size_t len;
};

static bool find(const char *query, const char *name, struct given *g)
{
    size_t n = strlen(name);
    *g = (struct given){.name = name};
    for (const char *p = query; *p;) {
        size_t all = strcspn(p, "&");
        if (all > n && memcmp(p, name, n) == 0 && p[n] == '=') {
            g->value = p + n + 1;
            g->len = all - n - 1;
            return true;
        }
        p += all + (p[all] == '&');
    }
    return false;
}

static bool is(const struct given *g, const char *word)
{
    return g->len == strlen(word) && memcmp(g->value, word, g->len) == 0;
}

static enum cot_err malformed(const struct given *g, const char *should, struct cot_fault *fault)
{
    return cot_fail(fault, COT_MALFORMED, "query: %s must be %s", g->name, should);
}

static bool read_number(const struct given *g, int64_t *out)
{
    int64_t n = 0;
    if (g->len < 1 || g->len > 15) return false;
    for (size_t i = 0; i < g->len; i++) {
        if (g->value[i] < '0' || g->value[i] > '9') return false;
        n = n * 10 + (g->value[i] - '0');
    }
    *out = n;
    return true;
}

static enum cot_err take_number(const struct given *g, enum cot_field f, struct cot_if_query *out,
                                struct cot_fault *fault)
{
    const struct cot_field_row *row = cot_field_row(f);
    char range[80];
    int64_t n;
    snprintf(range, sizeof range, "a whole number from %" PRId64 " to %" PRId64, row->min, row->max);
    if (!read_number(g, &n) || n < row->min || n > row->max) return malformed(g, range, fault);
    return cot_fact_set_int(&out->fact, f, n) ? COT_OK : cot_fail(fault, COT_INTERNAL, "too many fields");
}

static enum cot_err take_ids(const struct given *g, enum cot_field f, struct cot_id *id, size_t most,
                             struct cot_if_query *out, struct cot_fault *fault)
{
    size_t n = g->len / ID_COLUMNS;
    if (n < 1 || n > most || g->len % ID_COLUMNS != 0)
        return malformed(g, most == 1 ? "43 characters of base64url" : "1 to 8 times 43 characters of base64url",
                         fault);
    for (size_t i = 0; i < n; i++)
        if (!cot_id_parse(g->value + i * ID_COLUMNS, ID_COLUMNS, &id[i]))
            return malformed(g, "43 characters of base64url each", fault);
    return cot_fact_set_ids(&out->fact, f, id, n) ? COT_OK : cot_fail(fault, COT_INTERNAL, "too many fields");
}

static enum cot_err take(const struct given *g, enum cot_field f, struct cot_if_query *out, struct cot_fault *fault)
{
    int32_t day;
    if (is(g, "none")) return cot_fact_clear(&out->fact, f) ? COT_OK : cot_fail(fault, COT_INTERNAL, "too many fields");
    switch (cot_field_row(f)->type) {
    case COT_T_ID:
        return take_ids(g, f, f == COT_F_VARIETY ? &out->variety : &out->format, 1, out, fault);
    case COT_T_IDS:
        return take_ids(g, f, out->subs, COT_IF_SUBS_MOST, out, fault);
    case COT_T_DAY:
        if (!cot_day_parse(g->value, g->len, &day)) return malformed(g, "a day like 2027-03-29", fault);
        return cot_fact_set_int(&out->fact, f, day) ? COT_OK : cot_fail(fault, COT_INTERNAL, "too many fields");
    default:
        return take_number(g, f, out, fault);
    }
}

enum cot_err cot_if_query_read(const char *query, struct cot_if_query *out, struct cot_fault *fault)
{
    struct given g;
    *out = (struct cot_if_query){.fact.kind = COT_K_LINE};
    snprintf(out->fact.kind_name, sizeof out->fact.kind_name, "%s", cot_kind_row(COT_K_LINE)->name);
    if (find(query, "line", &g)) {
        out->fact.has_about = true;
        if (!cot_id_parse(g.value, g.len, &out->fact.about)) return malformed(&g, "43 characters of base64url", fault);
    }
    if (find(query, "withdrawn", &g)) {
        out->withdrawn = true;
        if (!is(&g, "1")) return malformed(&g, "1, or not there", fault);
    }
    enum cot_err err = COT_OK;
    for (size_t i = 0; err == COT_OK && i < FIELDS; i++)
        if (find(query, cot_field_row(fields[i])->name, &g)) err = take(&g, fields[i], out, fault);
    return err;
}
