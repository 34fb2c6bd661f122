/* Numbers as people type them: "1,200", "25.1 ml", "84 %". What can be read in two ways is refused with words. */
#include "value.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Units a number may carry, beside the unit of the field; `each` is how many of the field's unit one of them is. */
static const struct unit {
    const char *of, *word; /* the word squeezed */
    double each;
} units[] = {
    {"uL", "ml", 1000},
    {"uL", "millilitre", 1000},
    {"uL", "milliliter", 1000},
    {"uL", "millilitres", 1000},
    {"uL", "milliliters", 1000},
    {"uL", "cc", 1000},
    {"uL", "ccm", 1000},
    {"uL", "cm3", 1000},
    {"uL", "cm\xc2\xb3", 1000},
    {"uL", "l", 1000000},
    {"uL", "litre", 1000000},
    {"uL", "liter", 1000000},
    {"uL", "litres", 1000000},
    {"uL", "liters", 1000000},
    {"uL", "ul", 1},
    {"uL", "\xc2\xb5l", 1},
    {"uL", "\xce\xbcl", 1},
    {"uL", "cuin", 16387.064},
    {"uL", "in3", 16387.064},
    {"uL", "in\xc2\xb3", 16387.064},
    {"uL", "cubicinch", 16387.064},
    {"uL", "cubicinches", 16387.064},
    {"um", "mm", 1000},
    {"um", "cm", 10000},
    {"um", "m", 1000000},
    {"um", "um", 1},
    {"um", "\xc2\xb5m", 1},
    {"um", "\xce\xbcm", 1},
    {"um", "in", 25400},
    {"um", "inch", 25400},
    {"um", "inches", 25400},
    {"mg", "g", 1000},
    {"mg", "gr", 1000},
    {"mg", "gram", 1000},
    {"mg", "grams", 1000},
    {"mg", "kg", 1000000},
    {"mg", "mg", 1},
    {"mg", "oz", 28349.523125},
    {"mg", "lb", 453592.37},
    {"mg", "lbs", 453592.37},
    {"per mille", "%", 10},
    {"per mille", "percent", 10},
    {"per mille", "pct", 10},
    {"per mille", "\xe2\x80\xb0", 1},
    {"per mille", "permille", 1},
    {"days", "d", 1},
    {"days", "day", 1},
    {"days", "days", 1},
    {"days", "week", 7},
    {"days", "weeks", 7},
    {"days", "wk", 7},
    {"days", "wks", 7},
    {"plants", "plant", 1},
    {"plants", "plants", 1},
    {"plants", "seedlings", 1},
    {"plants", "starts", 1},
    {"plants", "transplants", 1},
    {"trays", "tray", 1},
    {"trays", "trays", 1},
    {"trays", "flats", 1},
    {"trays", "flat", 1},
    {"seeds", "seed", 1},
    {"seeds", "seeds", 1},
    {"cells", "cell", 1},
    {"cells", "cells", 1},
    {"rows", "row", 1},
    {"rows", "rows", 1},
    {"columns", "column", 1},
    {"columns", "columns", 1},
    {"columns", "cols", 1},
    {"seeds/g", "seedsg", 1},
    {"seeds/g", "g", 1},
    {"seeds/g", "seedsperg", 1},
    {"seeds/g", "perg", 1},
    {"seeds/g", "seeds", 1},
    {"holes/cell", "hole", 1},
    {"holes/cell", "holes", 1},
    {"holes/cell", "holescell", 1},
    {"holes/cell", "holesacell", 1},
    {"holes/cell", "holeacell", 1},
    {"seeds/g", "seedsagram", 1},
    {"seeds/g", "seedagram", 1},
    {"labels", "label", 1},
    {"labels", "labels", 1},
    {"L", "l", 1},
    {"L", "litre", 1},
    {"L", "liter", 1},
    {"L", "litres", 1},
    {"L", "liters", 1},
    {"L", "m3", 1000},
    {"L", "m\xc2\xb3", 1000},
    {"L", "gal", 3.785411784},
    {"L", "gallon", 3.785411784},
    {"L", "gallons", 3.785411784},
    {"L", "usgal", 3.785411784},
    {"L", "usgallons", 3.785411784},
    {"L", "cuft", 28.316846592},
    {"L", "ft3", 28.316846592},
    {"L", "ft\xc2\xb3", 28.316846592},
    {"L", "cubicfoot", 28.316846592},
    {"L", "cubicfeet", 28.316846592},
    {"L", "cuyd", 764.554857984},
    {"L", "yd3", 764.554857984},
    {"minutes", "min", 1},
    {"minutes", "minute", 1},
    {"minutes", "minutes", 1},
};

/* The unit that a plain number of a measured field has; such fields take decimals and are rounded to the field's own
 * unit. */
static const struct measured {
    const char *of, *plain, *like;
} measured[] = {
    {"uL", "ml", "25.1 ml"},
    {"um", "mm", "540 mm"},
    {"mg", "g", "12.5 g"},
    {"per mille", "", "84 % or 0.84"},
};

static const struct measured *find_measured(const char *unit)
{
    for (size_t i = 0; i < sizeof measured / sizeof measured[0]; i++)
        if (strcmp(measured[i].of, unit) == 0) return &measured[i];
    return NULL;
}

static const struct unit *find_unit(const char *of, const char *word)
{
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(units[i].of, of) == 0 && strcmp(units[i].word, word) == 0) return &units[i];
    return NULL;
}

bool cot_unit_known(enum cot_field field, const char *word)
{
    return find_unit(cot_field_row(field)->unit, word) != NULL;
}

/* --- The figure itself ------------------------------------------------------------------------------------------ */

struct figure {
    int64_t mantissa; /* of the whole without its marks */
    int places;       /* digits behind the decimal mark */
    bool negative;
    bool two_ways; /* one mark with three digits behind it: mantissa/1000 or mantissa */
    char mark;     /* the last mark, 0 if none */
};

/* Blanks of every width become ' ', the typographic apostrophe and minus their plain ones; false when it does not fit.
 */
static bool plain_text(const char *s, size_t len, char *out, size_t size)
{
    static const struct {
        const char *from;
        char to;
    } map[] = {
        {"\xc2\xa0", ' '}, {"\xe2\x80\xaf", ' '}, {"\xe2\x80\x89", ' '}, {"\xe2\x80\x99", '\''}, {"\xe2\x88\x92", '-'},
    };
    size_t n = 0;
    for (size_t i = 0; i < len;) {
        if (n + 2 > size) return false;
        size_t taken = 1;
        out[n] = s[i];
        for (size_t m = 0; m < sizeof map / sizeof map[0]; m++) {
            size_t from = strlen(map[m].from);
            if (len - i < from || memcmp(s + i, map[m].from, from) != 0) continue;
            out[n] = map[m].to;
            taken = from;
        }
        n++;
        i += taken;
    }
    while (n > 0 && out[n - 1] == ' ') n--;
    out[n] = '\0';
    memmove(out, out + strspn(out, " "), n + 1 - strspn(out, " "));
    return true;
}

#define GROUPS_MAX 8
struct groups {
    int count;
    int digits[GROUPS_MAX];
    char mark[GROUPS_MAX]; /* mark[i] stands before group i */
};

/* Splits "1 200,5" into groups of digits and the marks between them. */
static bool split_groups(const char *s, size_t len, struct groups *g, struct figure *out)
{
    *g = (struct groups){.count = 1};
    int digits = 0;
    for (size_t i = 0; i < len; i++) {
        if (s[i] >= '0' && s[i] <= '9') {
            if (++digits > 15) return false;
            out->mantissa = out->mantissa * 10 + (s[i] - '0');
            g->digits[g->count - 1]++;
        } else {
            if (!strchr(" ,.'", s[i]) || g->count == GROUPS_MAX) return false;
            g->mark[g->count++] = s[i];
        }
    }
    return digits > 0;
}

/* Whether groups 0..last-1 are one to three digits and then threes, parted by one and the same mark. */
static bool thousands(const struct groups *g, int last)
{
    if (g->digits[0] < 1 || (last > 1 && g->digits[0] > 3)) return false;
    for (int i = 1; i < last; i++)
        if (g->digits[i] != 3 || g->mark[i] != g->mark[1]) return false;
    return true;
}

static bool read_figure(const char *s, size_t len, struct figure *out)
{
    struct groups g;
    *out = (struct figure){0};
    if (len > 0 && (*s == '-' || *s == '+')) {
        out->negative = *s == '-';
        s++;
        len--;
    }
    if (!split_groups(s, len, &g, out)) return false;
    if (g.count == 1) return true;
    int last = g.count - 1;
    out->mark = g.mark[last];
    bool decimal_mark = out->mark == ',' || out->mark == '.';
    bool one_kind = g.count == 2 || g.mark[last] == g.mark[1];
    if (one_kind && (g.count > 2 || !decimal_mark)) return thousands(&g, g.count);
    if (!decimal_mark || g.digits[last] < 1) return false;
    if (g.count > 2 && (!thousands(&g, last) || g.mark[1] == out->mark)) return false;
    out->places = g.digits[last];
    out->two_ways = g.count == 2 && g.digits[1] == 3 && g.digits[0] >= 1 && g.digits[0] <= 3 && *s != '0';
    return true;
}

static double figure_value(const struct figure *n)
{
    double by = 1; /* one division, so that 0.29 is the nearest double to it */
    for (int i = 0; i < n->places; i++) by *= 10;
    double v = (double)n->mantissa / by;
    return n->negative ? -v : v;
}

/* --- The figure in the field's unit ------------------------------------------------------------------------------ */

struct typed {
    enum cot_field field;
    const struct cot_field_row *row;
    char quoted[COT_QUOTED];
    struct figure figure;
    char word[COT_SQUEEZED]; /* unit in the cell, squeezed; "" if none */
    const char *heading;     /* unit of the heading */
    struct cot_fault *fault;
};

static enum cot_err refuse(const struct typed *t, const char *why, const char *todo)
{
    enum cot_err err = cot_fail(t->fault, COT_INVALID, "%s %s", t->quoted, why);
    (void)cot_hint(t->fault, "%s", todo);
    return err;
}

static const char *like(const struct typed *t)
{
    const struct measured *m = find_measured(t->row->unit);
    return m ? m->like : "400 or 1,200";
}

static enum cot_err check_range(const struct typed *t, double v, int64_t *out)
{
    struct cot_buf b = {0};
    double rounded = v < 0 ? -floor(-v + 0.5) : floor(v + 0.5);
    if (rounded >= (double)t->row->min && rounded <= (double)t->row->max) {
        *out = (int64_t)rounded;
        return COT_OK;
    }
    cot_number_text(t->field, t->row->min, &b);
    cot_buf_str(&b, " to ");
    cot_number_text(t->field, t->row->max, &b);
    enum cot_err err = cot_fail(t->fault, COT_INVALID, "%s is out of range", t->quoted);
    (void)cot_hint(t->fault, "it may be %s", b.failed ? "less" : b.s);
    cot_buf_free(&b);
    return err;
}

/* Per mille: "84 %" and "84" are percent, "0.84" is a fraction; a bare 1 could be either. */
static enum cot_err read_share(const struct typed *t, int64_t *out)
{
    double v = figure_value(&t->figure);
    bool fraction = false;
    if (t->word[0] == '\0' && v > 0 && v <= 1) {
        if (v == 1) return refuse(t, "can be read as 1 % or as 100 %", "write 1 % or 100 %");
        if (t->heading[0] != '\0')
            return refuse(t, "stands under a heading in percent", "write it with its sign, like 84 %");
        fraction = true;
    }
    const struct unit *u = find_unit(t->row->unit, t->word[0] ? t->word : "%");
    double permille = v * (fraction ? 1000 : u->each);
    if (permille > 1000) return refuse(t, "is over 100 %", "write it like 84 % or 0.84");
    return check_range(t, permille, out);
}

/* "1.250 g" is refused unless only one of its two readings is a possible one. */
static enum cot_err read_measure(struct typed *t, const struct measured *m, int64_t *out)
{
    const char *word = t->word[0] ? t->word : t->heading[0] ? t->heading : m->plain;
    const struct unit *u = find_unit(t->row->unit, word);
    double v = figure_value(&t->figure) * u->each;
    double other = (double)t->figure.mantissa * u->each;
    bool both = t->figure.two_ways && other <= (double)t->row->max && v >= (double)t->row->min;
    if (both) {
        enum cot_err err = cot_fail(t->fault, COT_INVALID, "%s can be read in two ways", t->quoted);
        int64_t whole = t->figure.mantissa / 1000, rest = t->figure.mantissa % 1000;
        (void)cot_hint(t->fault, "write %lld.%03lld0 or %lld", (long long)whole, (long long)rest,
                       (long long)t->figure.mantissa);
        return err;
    }
    return check_range(t, v >= (double)t->row->min || !t->figure.two_ways ? v : other, out);
}

static enum cot_err read_whole(struct typed *t, int64_t *out)
{
    const struct unit *u = find_unit(t->row->unit, t->word[0] ? t->word : t->heading);
    if (t->figure.two_ways && t->figure.mark == '.') {
        enum cot_err err = cot_fail(t->fault, COT_INVALID, "%s can be read in two ways", t->quoted);
        (void)cot_hint(t->fault, "write %lld if that is meant", (long long)t->figure.mantissa);
        return err;
    }
    if (t->figure.two_ways) t->figure.places = 0;
    double v = figure_value(&t->figure) * (u ? u->each : 1);
    bool converted = u && u->each != floor(u->each); /* rounded to the field's unit */
    if (v != floor(v) && !converted) return refuse(t, "is not a whole number", "write it like 400 or 1,200");
    return check_range(t, v, out);
}

bool cot_number_bare(const char *s, size_t len)
{
    return len > 0 && strchr("0123456789.,' ", s[len - 1]) != NULL;
}

enum cot_err cot_number_read(enum cot_field field, const char *s, size_t len, const char *unit, int64_t *out,
                             struct cot_fault *fault)
{
    struct typed t = {.field = field, .row = cot_field_row(field), .heading = unit, .fault = fault};
    char text[96], todo[96];
    cot_quote(s, len, t.quoted);
    snprintf(todo, sizeof todo, "write it like %s", like(&t));
    if (!plain_text(s, len, text, sizeof text)) return refuse(&t, "is no number", todo);
    size_t digits = strspn(text, "0123456789 ,.'+-"), end = digits;
    while (end > 0 && text[end - 1] == ' ') end--;
    if (!read_figure(text, end, &t.figure)) return refuse(&t, "is no number", todo);
    cot_squeeze(text + digits, strlen(text + digits), t.word);
    if (text[digits] == '"' && text[digits + 1] == '\0') snprintf(t.word, sizeof t.word, "in");
    if (text[digits] != '\0' && !find_unit(t.row->unit, t.word)) {
        enum cot_err err = cot_fail(fault, COT_INVALID, "%s has a unit that does not fit here", t.quoted);
        (void)cot_hint(fault, "%s", todo);
        return err;
    }
    const struct measured *m = find_measured(t.row->unit);
    if (!m) return read_whole(&t, out);
    return strcmp(m->of, "per mille") == 0 ? read_share(&t, out) : read_measure(&t, m, out);
}
