/* Cells, members and lines that every report is made of. */
#include "report_inner.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "inner.h"

bool cot_form_by_name(const char *name, enum cot_form *form)
{
    static const char *const names[] = {
        [COT_FORM_TEXT] = "text", [COT_FORM_CSV] = "csv", [COT_FORM_JSON] = "json", [COT_FORM_HTML] = "html"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (strcmp(names[i], name) != 0) continue;
        *form = (enum cot_form)i;
        return true;
    }
    return false;
}

void cot_odds_text(int32_t permille, char out[static COT_ODDS_TEXT])
{
    int32_t a = permille, b = 1000;
    while (b != 0) {
        int32_t rest = a % b;
        a = b;
        b = rest;
    }
    if (a == 0) a = 1;
    snprintf(out, COT_ODDS_TEXT, "%" PRId32 " in %" PRId32, permille / a, 1000 / a);
}

void cot_chance_text(double p, char out[static COT_CHANCE_TEXT])
{
    int percent = (int)floor(p * 100 + 0.5);
    if (percent == 100 && p < 1) snprintf(out, COT_CHANCE_TEXT, "over 99 %%");
    else if (percent == 0 && p > 0) snprintf(out, COT_CHANCE_TEXT, "under 1 %%");
    else snprintf(out, COT_CHANCE_TEXT, "%d %%", percent);
}

void cot_chance_beside(double p, int32_t confidence, char out[static COT_CHANCE_TEXT])
{
    bool reached = cot_round9(p) >= cot_round9(confidence / 1000.0);
    cot_chance_text(p, out);
    if (!reached && floor(100 * p + 0.5) >= confidence / 10.0)
        snprintf(out, COT_CHANCE_TEXT, "%.1f %%", floor(1000 * p) / 10);
}

/* Bytes of the longest start of `s` that takes at most `width` columns; they, in *columns. */
static size_t start_that_fits(const char *s, size_t len, size_t width, size_t *columns)
{
    const char *p = s, *end = s + len;
    *columns = 0;
    while (p < end) {
        const char *start = p;
        if (cot_utf8_next(&p, end) == COT_UTF8_BAD) p++;
        size_t c = cot_text_columns(start, (size_t)(p - start));
        if (*columns + c > width) return (size_t)(start - s);
        *columns += c;
    }
    return len;
}

void cot_put_fit(struct cot_buf *b, const char *s, size_t len, size_t width)
{
    struct cot_buf safe = {0};
    size_t columns;
    cot_put_terminal(&safe, s, len);
    size_t fits = safe.failed ? 0 : start_that_fits(safe.s, safe.len, width, &columns);
    if (safe.failed) {
        b->failed = true;
    } else if (fits == safe.len) {
        cot_buf_put(b, safe.s, safe.len);
    } else {
        fits = start_that_fits(safe.s, safe.len, width > 0 ? width - 1 : 0, &columns);
        cot_buf_put(b, safe.s, fits);
        if (width > 0) cot_buf_str(b, "\xe2\x80\xa6");
        columns += width > 0;
    }
    for (; !b->failed && columns < width; columns++) cot_buf_put(b, " ", 1);
    cot_buf_free(&safe);
}

static void cut_back(struct cot_buf *b, size_t len)
{
    b->len = len;
    b->s[len] = '\0';
}

void cot_put_line_end(struct cot_buf *b, size_t from, size_t width)
{
    size_t columns;
    if (b->failed || b->len < from || !b->s) return;
    size_t len = b->len;
    while (len > from && b->s[len - 1] == ' ') len--;
    cut_back(b, len);
    if (start_that_fits(b->s + from, len - from, width, &columns) < len - from) {
        cut_back(b, from + start_that_fits(b->s + from, len - from, width - 1, &columns));
        cot_buf_str(b, "\xe2\x80\xa6");
    }
    cot_buf_str(b, "\n");
}

/* --- JSON ------------------------------------------------------------------------------------------------------- */

void cot_json_key(struct cot_json *j, const char *key)
{
    cot_buf_fmt(j->out, "%s\"%s\":", j->first ? "" : ",", key);
    j->first = false;
}

void cot_json_text(struct cot_json *j, const char *key, const char *value)
{
    cot_json_key(j, key);
    if (value) cot_put_json(j->out, value, strlen(value));
    else cot_buf_str(j->out, "null");
}

void cot_json_int(struct cot_json *j, const char *key, int64_t value)
{
    cot_json_key(j, key);
    cot_buf_fmt(j->out, "%" PRId64, value);
}

void cot_json_bool(struct cot_json *j, const char *key, bool value)
{
    cot_json_key(j, key);
    cot_buf_str(j->out, value ? "true" : "false");
}

/* Thousandths as a decimal without trailing zeros; no printf of reals, which a locale could turn. */
static void put_share(struct cot_buf *out, double p)
{
    int64_t m = (int64_t)floor(p * 1000 + 0.5);
    if (m >= 1000 && p < 1) m = 999;
    if (m <= 0 && p > 0) m = 1;
    cot_buf_fmt(out, "%" PRId64, m / 1000);
    int rest = (int)(m % 1000);
    if (rest == 0) return;
    int digits = rest % 100 == 0 ? 1 : rest % 10 == 0 ? 2 : 3;
    cot_buf_fmt(out, ".%0*d", digits, digits == 1 ? rest / 100 : digits == 2 ? rest / 10 : rest);
}

void cot_json_share(struct cot_json *j, const char *key, double p)
{
    cot_json_key(j, key);
    put_share(j->out, p);
}

void cot_json_day(struct cot_json *j, const char *key, int32_t day)
{
    char text[COT_DAY_TEXT];
    if (day != COT_DAY_NONE) cot_day_text(day, text);
    cot_json_text(j, key, day == COT_DAY_NONE ? NULL : text);
}

void cot_json_week(struct cot_json *j, const char *key, int32_t day)
{
    char text[COT_WEEK_TEXT];
    if (day != COT_DAY_NONE) cot_week_text(day, text);
    cot_json_text(j, key, day == COT_DAY_NONE ? NULL : text);
}

/* --- CSV -------------------------------------------------------------------------------------------------------- */

static void comma(struct cot_json *j)
{
    if (!j->first) cot_buf_str(j->out, ",");
    j->first = false;
}

void cot_csv_text(struct cot_json *j, const char *value)
{
    comma(j);
    cot_put_csv(j->out, value, strlen(value));
}

void cot_csv_int(struct cot_json *j, int64_t value)
{
    comma(j);
    cot_buf_fmt(j->out, "%" PRId64, value);
}

void cot_csv_share(struct cot_json *j, double p)
{
    comma(j);
    put_share(j->out, p);
}

void cot_csv_day(struct cot_json *j, int32_t day)
{
    char text[COT_DAY_TEXT] = "";
    if (day != COT_DAY_NONE) cot_day_text(day, text);
    cot_csv_text(j, text);
}

void cot_csv_week(struct cot_json *j, int32_t day)
{
    char text[COT_WEEK_TEXT] = "";
    if (day != COT_DAY_NONE) cot_week_text(day, text);
    cot_csv_text(j, text);
}
