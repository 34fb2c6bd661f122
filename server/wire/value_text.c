/* Values as people read them. */
#include "value.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/unit.h"

/* `i` thousandths (or tenths) without trailing zeros: 25100 by 1000 is 25.1. */
static void put_parts(struct cot_buf *out, int64_t i, int64_t by)
{
    cot_buf_fmt(out, "%s%" PRId64, i < 0 ? "-" : "", (i < 0 ? -i : i) / by);
    int64_t rest = (i < 0 ? -i : i) % by;
    if (rest == 0) return;
    cot_buf_str(out, ".");
    while (rest > 0) {
        by /= 10;
        cot_buf_fmt(out, "%d", (int)(rest / by));
        rest %= by;
    }
}

/* Units that are shown as another, and their singular. */
static const struct shown {
    const char *of;
    int64_t by;
    const char *unit, *one;
} shown_table[] = {
    {"uL", 1000, "mL", "mL"},
    {"um", 1000, "mm", "mm"},
    {"mg", 1000, "g", "g"},
    {"per mille", 10, "%", "%"},
    {"plants", 1, "plants", "plant"},
    {"trays", 1, "trays", "tray"},
    {"days", 1, "days", "day"},
    {"seeds", 1, "seeds", "seed"},
    {"cells", 1, "cells", "cell"},
    {"rows", 1, "rows", "row"},
    {"columns", 1, "columns", "column"},
    {"minutes", 1, "minutes", "minute"},
    {"labels", 1, "labels", "label"},
    {"L", 1, "L", "L"},
    {"holes/cell", 1, "holes a cell", "hole a cell"},
    {"seeds/g", 1, "seeds a gram", "seed a gram"},
};

const char *cot_unit_metric(const char *unit)
{
    for (size_t k = 0; k < sizeof shown_table / sizeof shown_table[0]; k++)
        if (strcmp(shown_table[k].of, unit) == 0) return shown_table[k].unit;
    return "";
}

void cot_number_text(enum cot_field field, int64_t i, struct cot_buf *out)
{
    const char *unit = cot_field_row(field)->unit;
    for (size_t k = 0; k < sizeof shown_table / sizeof shown_table[0]; k++) {
        const struct shown *s = &shown_table[k];
        if (strcmp(s->of, unit) != 0) continue;
        put_parts(out, i, s->by);
        cot_buf_fmt(out, " %s", i == 1 ? s->one : s->unit);
        return;
    }
    cot_buf_fmt(out, "%" PRId64, i);
}

void cot_measure_text(struct cot_book *b, enum cot_field field, int64_t i, struct cot_buf *out)
{
    const struct cot_unit *u = cot_units_us(b) ? cot_unit_us(cot_field_row(field)->unit) : NULL;
    int64_t by = 1;
    if (!u) {
        cot_number_text(field, i, out);
        return;
    }
    for (int k = 0; k < u->places; k++) by *= 10;
    put_parts(out, cot_unit_shown(u, i), by);
    cot_buf_fmt(out, " %s", u->word);
}

static void put_ids(struct cot_book *b, const struct cot_value *v, struct cot_buf *out)
{
    for (uint32_t i = 0; i < v->len; i++) {
        const struct cot_thing *t =
            b && cot_value_thing((enum cot_field)v->field) ? cot_book_thing(b, &v->v.ids[i]) : NULL;
        char text[COT_ID_TEXT];
        cot_id_text(&v->v.ids[i], text);
        if (i > 0) cot_buf_str(out, ", ");
        if (t) cot_buf_str(out, cot_thing_name(t));
        else cot_buf_fmt(out, "%.8s...", text);
    }
}

static void put_counts(const struct cot_value *v, struct cot_buf *out)
{
    for (uint32_t i = 0; i < v->len; i++) {
        const struct cot_tray_count *c = &v->v.counts[i];
        const struct {
            int32_t n;
            const char *what;
        } part[] = {
            {c->looked, "looked at"}, {c->usable, "usable"},   {c->blanks, "blanks"},
            {c->culls, "culls"},      {c->doubles, "doubles"},
        };
        const char *before = "";
        cot_buf_fmt(out, "%stray %d: ", i > 0 ? "; " : "", c->tray);
        for (size_t k = 0; k < sizeof part / sizeof part[0]; k++) {
            if (part[k].n == COT_COUNT_UNKNOWN) continue;
            cot_buf_fmt(out, "%s%s %d", before, part[k].what, part[k].n);
            before = ", ";
        }
    }
}

/* Tray numbers, runs of them as spans: 1, 3-7. */
static void put_numbers(const struct cot_value *v, struct cot_buf *out)
{
    for (uint32_t i = 0; i < v->len;) {
        uint32_t last = i;
        while (last + 1 < v->len && v->v.numbers[last + 1] == v->v.numbers[last] + 1) last++;
        cot_buf_fmt(out, "%s%d", i > 0 ? ", " : "", v->v.numbers[i]);
        if (last > i) cot_buf_fmt(out, "-%d", v->v.numbers[last]);
        i = last + 1;
    }
}

/* Days of the week by name: nobody should have to know which one is the first. */
static void put_weekdays(const struct cot_value *v, struct cot_buf *out)
{
    static const char *const names[] = {"?", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    for (uint32_t i = 0; i < v->len; i++)
        cot_buf_fmt(out, "%s%s", i > 0 ? ", " : "",
                    names[v->v.numbers[i] >= 1 && v->v.numbers[i] <= 7 ? v->v.numbers[i] : 0]);
}

void cot_value_text(struct cot_book *b, const struct cot_value *v, struct cot_buf *out)
{
    char day[COT_DAY_TEXT], word[16];
    switch ((enum cot_type)v->type) {
    case COT_T_NONE:
        cot_buf_str(out, "none");
        break;
    case COT_T_INT:
        cot_measure_text(b, (enum cot_field)v->field, v->v.i, out);
        break;
    case COT_T_BOOL:
        cot_buf_str(out, v->v.i ? "yes" : "no");
        break;
    case COT_T_TEXT:
        cot_buf_put(out, v->v.text, v->len);
        break;
    case COT_T_DAY:
        cot_day_text((int32_t)v->v.i, day);
        cot_buf_str(out, day);
        break;
    case COT_T_WORD:
        cot_word_text((enum cot_field)v->field, (int)v->v.i, word);
        cot_buf_str(out, word);
        break;
    case COT_T_ID:
    case COT_T_IDS:
        put_ids(b, v, out);
        break;
    case COT_T_NUMBERS:
        if (v->field == COT_F_WORK_DAYS) put_weekdays(v, out);
        else put_numbers(v, out);
        break;
    case COT_T_TRAYS:
        put_counts(v, out);
        break;
    }
}
