/* Whether an entry's fields fit its kind: the kind table first, then sense within the entry itself. */
#include "cotyledger/core/check.h"
#include "cotyledger/core/day.h"
#include "cotyledger/core/err.h"
#include "cotyledger/core/fact.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define FLAW_MAX 160
#define TRAY_CELLS_MAX 4000 /* larger than any tray in the trade; catches rows and columns of a misread sheet */
#define TRAY_NUMBER_MAX 100000

/* Writes the flaw; false, so that a check can `return flawed(...)`. */
static bool flawed(char *flaw, const char *fmt, ...) COT_PRINTF(2, 3);
static bool flawed(char *flaw, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    if (vsnprintf(flaw, FLAW_MAX, fmt, args) < 0) flaw[0] = '\0';
    va_end(args);
    return false;
}

/* --- One field ------------------------------------------------------------------------------------------------ */
static const char *type_wanted(enum cot_type t)
{
    switch (t) {
    case COT_T_INT:
        return "a whole number";
    case COT_T_BOOL:
        return "yes or no";
    case COT_T_TEXT:
        return "text";
    case COT_T_DAY:
        return "a day such as 2027-03-29";
    case COT_T_WORD:
        return "one of its words";
    case COT_T_ID:
        return "the thing itself";
    case COT_T_IDS:
        return "a list of things";
    case COT_T_NUMBERS:
        return "tray numbers";
    case COT_T_TRAYS:
        return "figures by tray";
    case COT_T_NONE:
        break;
    }
    return "nothing";
}

static bool check_number(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (v->v.i >= row->min && v->v.i <= row->max) return true;
    return flawed(flaw, "%s: %" PRId64 "%s%s will not do; %" PRId64 " to %" PRId64 " will", row->what, v->v.i,
                  row->unit[0] ? " " : "", row->unit, row->min, row->max);
}

static bool check_word(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (v->v.i >= row->min && v->v.i <= row->max) return true;
    return flawed(flaw, "%s: one of %s will do", row->what, row->unit);
}

static bool check_day(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (v->v.i >= COT_DAY_MIN && v->v.i <= COT_DAY_MAX) return true;
    return flawed(flaw, "%s: a day from 1900-01-01 to 2199-12-31 will do", row->what);
}

static bool check_text(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (v->len >= row->min && v->len <= row->max) return true;
    return flawed(flaw, "%s: %u bytes will not do; %" PRId64 " to %" PRId64 " will", row->what, (unsigned)v->len,
                  row->min, row->max);
}

static bool check_list(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (v->len >= row->min && v->len <= row->max) return true;
    return flawed(flaw, "%s: %u of them will not do; %" PRId64 " to %" PRId64 " will", row->what, (unsigned)v->len,
                  row->min, row->max);
}

static bool check_ids(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (!check_list(v, row, flaw)) return false;
    for (uint32_t i = 0; i < v->len; i++)
        for (uint32_t j = 0; j < i; j++)
            if (cot_id_cmp(&v->v.ids[i], &v->v.ids[j]) == 0)
                return flawed(flaw, "%s: the same one is named twice", row->what);
    return true;
}

static bool tray_follows(int32_t tray, int32_t before, const char *what, char *flaw)
{
    if (tray < 1 || tray > TRAY_NUMBER_MAX)
        return flawed(flaw, "%s: no tray can have the number %" PRId32 "; trays are numbered from 1", what, tray);
    if (tray > before) return true;
    return flawed(flaw, "%s: tray %" PRId32 " stands twice or out of order; name each once, lowest first", what, tray);
}

static bool check_numbers(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (!check_list(v, row, flaw)) return false;
    for (uint32_t i = 0; i < v->len; i++)
        if (!tray_follows(v->v.numbers[i], i ? v->v.numbers[i - 1] : 0, row->what, flaw)) return false;
    return true;
}

/* Figures of one tray, or of a pooled count: `where` is "tray 3" or "the count". Unknown figures are negative. */
static bool check_figures(const struct cot_tray_count *c, const char *where, char *flaw)
{
    int64_t known = 0;
    const int32_t part[3] = {c->usable, c->blanks, c->culls};
    bool all = true;
    for (int i = 0; i < 3; i++) {
        if (part[i] < 0) all = false;
        else known += part[i];
    }
    if (c->usable < 0 && c->blanks < 0)
        return flawed(flaw, "%s: neither usable nor blanks were counted; give one of them", where);
    if (c->looked >= 0 && all && known != c->looked)
        return flawed(flaw, "%s: usable + blanks + culls = %" PRId64 ", but %" PRId32 " cells were looked at", where,
                      known, c->looked);
    if (c->looked >= 0 && known > c->looked)
        return flawed(flaw, "%s: %" PRId64 " cells counted, but only %" PRId32 " looked at", where, known, c->looked);
    if (c->doubles >= 0 && c->usable >= 0 && c->doubles > c->usable)
        return flawed(flaw,
                      "%s: %" PRId32 " doubles, but only %" PRId32 " usable; doubles are counted among the usable",
                      where, c->doubles, c->usable);
    if (c->doubles >= 0 && c->looked >= 0 && c->doubles > c->looked)
        return flawed(flaw, "%s: %" PRId32 " doubles, but only %" PRId32 " cells looked at", where, c->doubles,
                      c->looked);
    return true;
}

static bool check_counts(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (!check_list(v, row, flaw)) return false;
    for (uint32_t i = 0; i < v->len; i++) {
        const struct cot_tray_count *c = &v->v.counts[i];
        char where[32];
        snprintf(where, sizeof where, "tray %" PRId32, c->tray);
        if (!tray_follows(c->tray, i ? v->v.counts[i - 1].tray : 0, row->what, flaw)) return false;
        const int32_t figure[5] = {c->looked, c->usable, c->blanks, c->culls, c->doubles};
        for (int k = 0; k < 5; k++)
            if (figure[k] < COT_COUNT_UNKNOWN || figure[k] > 1000000)
                return flawed(flaw, "%s: %" PRId32 " cells will not do; 0 to 1000000 will", where, figure[k]);
        if (c->looked == 0) return flawed(flaw, "%s: no cells were looked at", where);
        if (!check_figures(c, where, flaw)) return false;
    }
    return true;
}

static bool check_value(const struct cot_value *v, const struct cot_field_row *row, char *flaw)
{
    if (v->type != row->type) return flawed(flaw, "%s: %s is wanted", row->what, type_wanted(row->type));
    switch (row->type) {
    case COT_T_INT:
        return check_number(v, row, flaw);
    case COT_T_BOOL:
    case COT_T_WORD:
        return check_word(v, row, flaw);
    case COT_T_TEXT:
        return check_text(v, row, flaw);
    case COT_T_DAY:
        return check_day(v, row, flaw);
    case COT_T_ID:
        return v->len == 1 || flawed(flaw, "%s: one is wanted", row->what);
    case COT_T_IDS:
        return check_ids(v, row, flaw);
    case COT_T_NUMBERS:
        return check_numbers(v, row, flaw);
    case COT_T_TRAYS:
        return check_counts(v, row, flaw);
    case COT_T_NONE:
        break;
    }
    return flawed(flaw, "%s: cannot be read", row->what);
}

/* --- The header and the table ---------------------------------------------------------------------------------- */
static bool is_change(const struct cot_fact *f)
{
    const struct cot_kind_row *row = cot_kind_row(f->kind);
    return f->kind == COT_K_RULE ||
           (f->has_about && row->makes != COT_THING_NONE && (row->flags & COT_KIND_ABOUT_OPTIONAL));
}

static bool check_header(const struct cot_fact *f, const struct cot_kind_row *row, char *flaw)
{
    if (f->has_about && row->about == COT_THING_NONE) return flawed(flaw, "%s: is about no other thing", row->what);
    bool optional = (row->flags & COT_KIND_ABOUT_OPTIONAL) || f->kind == COT_K_RULE;
    if (!f->has_about && row->about != COT_THING_NONE && !optional)
        return flawed(flaw, "%s: does not say which %s it is about", row->what, cot_thing_word(row->about));
    if (row->see != COT_SEE_FARM) return true;
    if (f->kind == COT_K_FARM) {
        if (!f->has_about && f->has_farm) return flawed(flaw, "a new farm belongs to no other farm");
        if (f->has_about && (!f->has_farm || cot_id_cmp(&f->about, &f->farm) != 0))
            return flawed(flaw, "a change of a farm names that farm as its farm");
        return true;
    }
    return f->has_farm || flawed(flaw, "%s: does not say of which farm", row->what);
}

static bool required(const struct cot_fact *f, enum cot_field field)
{
    const struct cot_kind_field *k = cot_kind_field(f->kind, field);
    return (k && k->required) || (f->kind == COT_K_RULE && field == COT_F_NAME);
}

static bool check_fields(const struct cot_fact *f, const struct cot_kind_row *row, char *flaw)
{
    bool change = is_change(f);
    for (unsigned i = 0; i < f->value_count; i++) {
        const struct cot_value *v = &f->value[i];
        const struct cot_field_row *field = cot_field_row((enum cot_field)v->field);
        if (!field) return flawed(flaw, "%s: has a field that this version does not know", row->what);
        if (!cot_kind_field(f->kind, (enum cot_field)v->field))
            return flawed(flaw, "%s: has no field \"%s\"", row->what, field->name);
        if (i && v->field <= f->value[i - 1].field)
            return flawed(flaw, "%s: stands twice or out of order", field->what);
        if (v->type != COT_T_NONE) {
            if (!check_value(v, field, flaw)) return false;
        } else if (!change) {
            return flawed(flaw, "%s: there is nothing to clear; leave it out", field->what);
        } else if (required(f, (enum cot_field)v->field)) {
            return flawed(flaw, "%s: cannot be cleared, only changed", field->what);
        }
    }
    if (change) return f->value_count > 0 || flawed(flaw, "%s: changes nothing; give at least one field", row->what);
    for (unsigned i = 0; i < row->field_count; i++)
        if (row->fields[i].required && !cot_fact_value(f, row->fields[i].field))
            return flawed(flaw, "%s: %s (\"%s\") is missing", row->what, cot_field_row(row->fields[i].field)->what,
                          cot_field_row(row->fields[i].field)->name);
    return true;
}

/* --- Sense within one entry ------------------------------------------------------------------------------------ */
static bool has(const struct cot_fact *f, enum cot_field field)
{
    const struct cot_value *v = cot_fact_value(f, field);
    return v && v->type != COT_T_NONE;
}

/* a <= b when both are there. */
static bool check_order(const struct cot_fact *f, enum cot_field a, enum cot_field b, char *flaw)
{
    if (!has(f, a) || !has(f, b)) return true;
    int64_t x = cot_fact_int(f, a, 0), y = cot_fact_int(f, b, 0);
    if (x <= y) return true;
    const struct cot_field_row *ra = cot_field_row(a), *rb = cot_field_row(b);
    if (ra->type == COT_T_DAY) {
        char tx[COT_DAY_TEXT], ty[COT_DAY_TEXT];
        cot_day_text((int32_t)x, tx);
        cot_day_text((int32_t)y, ty);
        return flawed(flaw, "%s %s lies after %s %s", ra->what, tx, rb->what, ty);
    }
    return flawed(flaw, "%s (%" PRId64 ") is more than %s (%" PRId64 ")", ra->what, x, rb->what, y);
}

static bool sense_code(const struct cot_fact *f, char *flaw)
{
    const struct cot_value *v = cot_fact_value(f, COT_F_CODE);
    if (!v || v->type != COT_T_TEXT) return true;
    char code[COT_CODE_TEXT];
    switch (cot_code_read(v->v.text, v->len, code)) {
    case COT_CODE_GOOD:
        if (strlen(code) == v->len && memcmp(code, v->v.text, v->len) == 0) return true;
        return flawed(flaw, "code on the tag: %.*s is to be written %s", (int)v->len, v->v.text, code);
    case COT_CODE_CHECK:
        return flawed(flaw, "code on the tag: %.*s is mistyped, its last character does not fit", (int)v->len,
                      v->v.text);
    case COT_CODE_SHAPE:
        break;
    }
    return flawed(flaw, "code on the tag: %.*s is no code such as B-0417-K", (int)v->len, v->v.text);
}

static bool sense_device(const struct cot_fact *f, char *flaw)
{
    const struct cot_value *v = cot_fact_value(f, COT_F_TAG);
    if (cot_tag_valid(v->v.text, v->len)) return true;
    return flawed(flaw, "device tag: 1 to 4 letters A to Z will do");
}

static bool sense_member(const struct cot_fact *f, char *flaw)
{
    if (!has(f, COT_F_PART) || f->has_about) return true;
    bool buyer = cot_fact_int(f, COT_F_PART, 0) == COT_PART_BUYER;
    if (buyer && !f->has_farm) return flawed(flaw, "a buyer is of one farm: name the farm");
    if (!buyer && f->has_farm) return flawed(flaw, "only a buyer is of one farm: leave the farm out");
    return true;
}

static bool sense_crop(const struct cot_fact *f, char *flaw)
{
    return check_order(f, COT_F_TRAY_DAYS, COT_F_TRAY_DAYS_MAX, flaw) &&
           check_order(f, COT_F_CHAMBER_DAYS, COT_F_TRAY_DAYS, flaw) &&
           check_order(f, COT_F_COUNT_DAYS, COT_F_TRAY_DAYS, flaw) &&
           check_order(f, COT_F_HARDEN_DAYS, COT_F_TRAY_DAYS, flaw);
}

/* The number that a name is; -1: it is more than a number. */
static int64_t bare_number(const struct cot_value *v)
{
    int64_t n = 0;
    if (!v || v->type != COT_T_TEXT || v->len == 0 || v->len > 6) return -1;
    for (uint32_t i = 0; i < v->len; i++) {
        if (v->v.text[i] < '0' || v->v.text[i] > '9') return -1;
        n = 10 * n + (v->v.text[i] - '0');
    }
    return n;
}

static bool sense_format(const struct cot_fact *f, char *flaw)
{
    int64_t rows = cot_fact_int(f, COT_F_ROWS, 1), cols = cot_fact_int(f, COT_F_COLS, 1), cells = rows * cols;
    int64_t said = has(f, COT_F_ROWS) && has(f, COT_F_COLS) ? bare_number(cot_fact_value(f, COT_F_NAME)) : -1;
    if (cells > TRAY_CELLS_MAX)
        return flawed(flaw, "rows x columns make %" PRId64 " cells; a tray of at most %d cells will do", cells,
                      TRAY_CELLS_MAX);
    if (said < 0 || said == cells) return true;
    return flawed(flaw,
                  "the name says %" PRId64 " cells, %" PRId64 " rows x %" PRId64 " columns make %" PRId64
                  ": mend the figures, or give it a name that is no bare number",
                  said, rows, cols, cells);
}

/* Replicates within themselves, and with what the same entry says of the test. */
static bool sense_replicates(const struct cot_fact *f, char *flaw)
{
    const struct cot_value *v = cot_fact_value(f, COT_F_REPLICATES);
    struct cot_replicates r;
    struct cot_fault fault;
    if (!v || v->type != COT_T_TEXT) return true;
    if (cot_replicates_read(v->v.text, v->len, &r, &fault) == COT_OK &&
        cot_replicates_fit(&r, cot_fact_int(f, COT_F_TEST_SEEDS, -1), cot_fact_int(f, COT_F_TEST_GERM, -1), &fault) ==
            COT_OK)
        return true;
    return flawed(flaw, "%s", fault.msg);
}

static bool sense_lot(const struct cot_fact *f, char *flaw)
{
    if (!f->has_about && has(f, COT_F_TEST_SEEDS) != has(f, COT_F_TEST_GERM))
        return flawed(flaw, "seeds tested and seeds germinated belong together: give both or neither");
    return check_order(f, COT_F_TEST_GERM, COT_F_TEST_SEEDS, flaw) && sense_replicates(f, flaw);
}

static bool sense_line(const struct cot_fact *f, char *flaw)
{
    bool plants = has(f, COT_F_PLANTS), trays = has(f, COT_F_TRAYS);
    if (plants && trays) return flawed(flaw, "plants and trays: give one of them, not both");
    if (!f->has_about && !plants && !trays) return flawed(flaw, "plants or trays: say how many are wanted");
    if (!f->has_about && trays && !has(f, COT_F_FORMAT)) return flawed(flaw, "trays: say of which tray format");
    if ((plants && cot_fact_int(f, COT_F_PLANTS, 0) == 0) || (trays && cot_fact_int(f, COT_F_TRAYS, 0) == 0))
        return flawed(flaw, "an order of nothing: withdraw the line instead");
    const struct cot_value *subs = cot_fact_value(f, COT_F_SUBS);
    const struct cot_id *variety = cot_fact_id(f, COT_F_VARIETY);
    for (uint32_t i = 0; subs && variety && subs->type == COT_T_IDS && i < subs->len; i++)
        if (cot_id_cmp(&subs->v.ids[i], variety) == 0) return flawed(flaw, "a variety is no substitute for itself");
    return check_order(f, COT_F_LEAST, COT_F_PLANTS, flaw) && check_order(f, COT_F_CLOSING, COT_F_DATE, flaw) &&
           check_order(f, COT_F_DATE, COT_F_WAIT_UNTIL, flaw);
}

static bool sense_sown(const struct cot_fact *f, char *flaw)
{
    bool trays = has(f, COT_F_TRAYS), rows = has(f, COT_F_TRAY_ROWS), shared = has(f, COT_F_SHARED);
    if (trays && (rows || shared))
        return flawed(flaw, "whole trays, or rows of a shared tray: give one of them, not both");
    if (!trays && !(rows && shared))
        return flawed(flaw, "say how many trays were sown, or how many rows of which shared tray");
    if (trays && cot_fact_int(f, COT_F_TRAYS, 0) == 0) return flawed(flaw, "trays: at least 1 must have been sown");
    return check_order(f, COT_F_DAY, COT_F_READY, flaw);
}

static bool sense_potted(const struct cot_fact *f, char *flaw)
{
    if (cot_fact_int(f, COT_F_TRAYS, 1) == 0) return flawed(flaw, "trays: at least 1 must have been filled");
    return check_order(f, COT_F_DAY, COT_F_READY, flaw);
}

static bool sense_count(const struct cot_fact *f, char *flaw)
{
    static const enum cot_field pooled[] = {COT_F_LOOKED, COT_F_USABLE, COT_F_BLANKS, COT_F_CULLS, COT_F_DOUBLES};
    bool any = has(f, COT_F_TRAYS);
    int32_t figure[5];
    for (int i = 0; i < 5; i++) {
        any = any || has(f, pooled[i]);
        figure[i] = (int32_t)cot_fact_int(f, pooled[i], COT_COUNT_UNKNOWN);
    }
    if (has(f, COT_F_COUNTS))
        return !any || flawed(flaw, "figures by tray, or of all trays together: give one of them, not both");
    if (!any) return flawed(flaw, "a stand count needs figures: cells looked at, usable, blanks, culls");
    if (figure[0] < 0) return flawed(flaw, "cells looked at: say how many");
    if (cot_fact_int(f, COT_F_TRAYS, 1) == 0) return flawed(flaw, "trays: at least 1 must have been looked at");
    struct cot_tray_count c = {1, figure[0], figure[1], figure[2], figure[3], figure[4]};
    return check_figures(&c, "the count", flaw);
}

static bool sense_lost(const struct cot_fact *f, char *flaw)
{
    const struct cot_value *which = cot_fact_value(f, COT_F_WHICH);
    if (!has(f, COT_F_TRAYS) && !has(f, COT_F_PLANTS) && !which)
        return flawed(flaw, "say how many plants or which trays were lost");
    int64_t trays = cot_fact_int(f, COT_F_TRAYS, -1);
    if (which && which->type == COT_T_NUMBERS && trays >= 0 && trays != (int64_t)which->len)
        return flawed(flaw, "%" PRId64 " trays were lost, but %u tray numbers are given", trays, (unsigned)which->len);
    return true;
}

static bool sense_held(const struct cot_fact *f, char *flaw)
{
    return check_order(f, COT_F_DAY, COT_F_UNTIL, flaw);
}

static bool sense_rule(const struct cot_fact *f, char *flaw)
{
    const struct cot_value *v = cot_fact_value(f, COT_F_WORK_DAYS);
    if (!v || v->type != COT_T_NUMBERS || v->v.numbers[v->len - 1] <= 7) return true;
    return flawed(flaw, "working days: %" PRId32 " is no day of the week; 1 (Monday) to 7 (Sunday) are",
                  v->v.numbers[v->len - 1]);
}

static bool sense_span(const struct cot_fact *f, char *flaw)
{
    return check_order(f, COT_F_FROM, COT_F_UNTIL, flaw);
}

static bool sense_raising(const struct cot_fact *f, char *flaw)
{
    static const enum cot_field figures[] = {COT_F_TRAY_DAYS, COT_F_TRAY_DAYS_MAX, COT_F_CHAMBER_DAYS, COT_F_POT_DAYS};
    bool any = f->has_about;
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) any = any || has(f, figures[i]);
    if (!any) return flawed(flaw, "raising days without a figure: say the days in the tray, or in the chamber");
    if (!f->has_about && has(f, COT_F_FROM_WEEK) != has(f, COT_F_TO_WEEK))
        return flawed(flaw, "a season has a first and a last week: give both or neither");
    if (!f->has_about && has(f, COT_F_POT_DAYS) != has(f, COT_F_POT_FORMAT))
        return flawed(flaw, "potting on: say after how many days, and to which tray format");
    const struct cot_id *from = cot_fact_id(f, COT_F_FORMAT), *to = cot_fact_id(f, COT_F_POT_FORMAT);
    if (has(f, COT_F_FORMAT) && has(f, COT_F_POT_FORMAT) && cot_id_cmp(from, to) == 0)
        return flawed(flaw, "potted on to the tray format that it was sown in");
    return check_order(f, COT_F_TRAY_DAYS, COT_F_TRAY_DAYS_MAX, flaw) &&
           check_order(f, COT_F_CHAMBER_DAYS, COT_F_TRAY_DAYS, flaw) &&
           check_order(f, COT_F_CHAMBER_DAYS, COT_F_POT_DAYS, flaw) &&
           check_order(f, COT_F_POT_DAYS, COT_F_TRAY_DAYS, flaw);
}

static bool sense_stock(const struct cot_fact *f, char *flaw)
{
    int kinds = has(f, COT_F_MIX_L) + has(f, COT_F_LABELS) + has(f, COT_F_TRAYS);
    if (kinds != 1) return flawed(flaw, "growing mix, labels, or trays: give exactly one of them");
    if (has(f, COT_F_TRAYS) != has(f, COT_F_FORMAT))
        return flawed(flaw, has(f, COT_F_TRAYS) ? "trays: say of which tray format"
                                                : "a tray format goes with trays only: leave it out");
    return true;
}

/* Pins name fields of a planned sowing. */
static bool sense_pins(const struct cot_fact *f, char *flaw)
{
    const struct cot_value *v = cot_fact_value(f, COT_F_PINS);
    if (!v || v->type != COT_T_TEXT) return true;
    for (const char *p = v->v.text, *end = p + v->len; p < end; p++) {
        enum cot_field field;
        const char *stop = memchr(p, ' ', (size_t)(end - p));
        size_t n = (size_t)((stop ? stop : end) - p);
        if (!cot_field_by_name(p, n, &field) || field == COT_F_PINS || !cot_kind_field(COT_K_PLANNED, field))
            return flawed(flaw, "pinned: a planned sowing has no field \"%.*s\"", n < 40 ? (int)n : 40, p);
        p += n;
    }
    return true;
}

static bool sense_planned(const struct cot_fact *f, char *flaw)
{
    bool trays = has(f, COT_F_TRAYS), rows = has(f, COT_F_TRAY_ROWS), shared = has(f, COT_F_SHARED);
    if (trays && (rows || shared))
        return flawed(flaw, "whole trays, or rows of a shared tray: give one of them, not both");
    if (!f->has_about && !trays && !(rows && shared))
        return flawed(flaw, "say how many trays are to be sown, or how many rows of which shared tray");
    if (trays && cot_fact_int(f, COT_F_TRAYS, 0) == 0)
        return flawed(flaw, "trays: at least 1; a planned sowing that is not wanted any more is dropped");
    return sense_pins(f, flaw) && check_order(f, COT_F_SOW_DAY, COT_F_READY, flaw);
}

typedef bool sense(const struct cot_fact *f, char *flaw);
static sense *const sense_table[COT_K_TOTAL] = {
    [COT_K_MEMBER] = sense_member, [COT_K_DEVICE] = sense_device,   [COT_K_CROP] = sense_crop,
    [COT_K_FORMAT] = sense_format, [COT_K_LOT] = sense_lot,         [COT_K_LINE] = sense_line,
    [COT_K_SOWN] = sense_sown,     [COT_K_POTTED] = sense_potted,   [COT_K_COUNT] = sense_count,
    [COT_K_LOST] = sense_lost,     [COT_K_HELD] = sense_held,       [COT_K_RULE] = sense_rule,
    [COT_K_PLACE] = sense_span,    [COT_K_SHUT] = sense_span,       [COT_K_RAISING] = sense_raising,
    [COT_K_STOCK] = sense_stock,   [COT_K_PLANNED] = sense_planned,
};

bool cot_fact_check(const struct cot_fact *f, char flaw[static FLAW_MAX])
{
    flaw[0] = '\0';
    if ((unsigned)f->kind >= COT_K_TOTAL || f->kind == COT_K_UNKNOWN)
        return flawed(flaw, "made by a newer version of the program");
    const struct cot_kind_row *row = cot_kind_row(f->kind);
    if (!check_header(f, row, flaw) || !check_fields(f, row, flaw)) return false;
    if (!sense_code(f, flaw)) return false;
    return !sense_table[f->kind] || sense_table[f->kind](f, flaw);
}
