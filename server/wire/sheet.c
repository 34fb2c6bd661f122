/* Reads a CSV file as things of one kind, cell by cell. */
#include "sheet_inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Copies at most size - 1 bytes, cut between characters. */
static void copy_text(char *to, size_t size, const char *from)
{
    size_t n = strlen(from);
    if (n >= size) {
        n = size - 1;
        while (n > 0 && ((unsigned char)from[n] & 0xC0) == 0x80) n--;
    }
    memcpy(to, from, n);
    to[n] = '\0';
}

enum cot_err cot_sheet_problem(struct cot_sheet_reader *r, size_t line, int column, const char *reason)
{
    struct cot_sheet *s = r->out;
    if (s->problem_total++ >= COT_SHEET_PROBLEMS_MAX) return COT_OK;
    if (s->problem_count == r->problem_cap) {
        size_t cap = r->problem_cap ? r->problem_cap * 2 : 16;
        struct cot_sheet_problem *grown = realloc(s->problem, cap * sizeof *grown);
        if (!grown) return cot_fail(r->fault, COT_MEMORY, "out of memory");
        s->problem = grown;
        r->problem_cap = cap;
    }
    struct cot_sheet_problem *p = &s->problem[s->problem_count++];
    *p = (struct cot_sheet_problem){.line = line, .column = (size_t)(column + 1)};
    bool headed = column >= 0 && (size_t)column < r->column_count;
    copy_text(p->heading, sizeof p->heading, headed ? r->column[column].heading : "");
    copy_text(p->reason, sizeof p->reason, reason);
    return COT_OK;
}

/* A value's fault becomes a problem of its cell; being out of memory stays a fault. */
static enum cot_err from_fault(struct cot_sheet_reader *r, size_t line, int column, const struct cot_fault *f)
{
    char reason[sizeof f->msg + sizeof f->hint + 3];
    if (f->code == COT_MEMORY || f->code == COT_INTERNAL) return cot_fail(r->fault, f->code, "%s", f->msg);
    snprintf(reason, sizeof reason, "%s%s%s", f->msg, f->hint[0] ? "; " : "", f->hint);
    return cot_sheet_problem(r, line, column, reason);
}

struct row {
    struct cot_sheet_reader *r;
    const struct cot_csv_record *record;
    struct cot_fact *fact;
    struct cot_reading how;
    size_t index; /* among the rows read */
};

static const char *cell(const struct row *w, int column)
{
    return column >= 0 && (size_t)column < w->record->count ? w->record->cell[column] : "";
}

/* The unit that stands behind a number in a cell, squeezed. */
static void unit_of_cell(const char *s, char out[static COT_SQUEEZED])
{
    cot_squeeze(s, strlen(s), out);
    size_t digits = strspn(out, "0123456789");
    memmove(out, out + digits, strlen(out + digits) + 1);
}

/* The field an open quantity is for: by the unit in the cell, the heading's, or the unit column's; COT_F_COUNT if none
 * says. */
static enum cot_field open_quantity(const struct row *w, int column, enum cot_field first, enum cot_field second,
                                    char unit[static COT_SQUEEZED])
{
    const struct cot_column *c = &w->r->column[column];
    const char *beside = cell(w, cot_column_of(w->r, COT_COL_UNIT));
    for (int from = 0; from < 3; from++) {
        if (from == 0) unit_of_cell(cell(w, column), unit);
        else if (from == 1) memcpy(unit, c->unit, COT_SQUEEZED);
        else cot_squeeze(beside, strlen(beside), unit);
        if (cot_unit_known(first, unit)) return first;
        if (cot_unit_known(second, unit)) return second;
    }
    unit[0] = '\0';
    return COT_F_COUNT;
}

static enum cot_err read_quantity(struct row *w, int column, char unit[static COT_SQUEEZED], enum cot_field *field)
{
    struct cot_sheet_reader *r = w->r;
    if (r->column[column].what == COT_COL_STOCK) {
        *field = open_quantity(w, column, COT_F_STOCK_SEEDS, COT_F_STOCK_MG, unit);
        if (*field != COT_F_COUNT) return COT_OK;
        return cot_sheet_problem(r, w->record->line, column, "seeds or grams? write it like 5000 seeds or 12.5 g");
    }
    *field = open_quantity(w, column, COT_F_PLANTS, COT_F_TRAYS, unit);
    if (*field != COT_F_COUNT) return COT_OK;
    if (cell(w, cot_column_of(r, COT_COL_UNIT))[0])
        return cot_sheet_problem(r, w->record->line, cot_column_of(r, COT_COL_UNIT), "write plants or trays");
    *field = COT_F_PLANTS;
    snprintf(r->out->note, sizeof r->out->note, "column %d, \"%.60s\", is read as plants; for trays write \"6 trays\"",
             column + 1, r->column[column].heading);
    return COT_OK;
}

static bool says_none(const char *s)
{
    return cot_same_name(s, "none");
}

/* Whether a cell that should name something says that the row is a sum of the others. */
static bool says_total(const char *s)
{
    static const char *const words[] = {"total",  "totals",        "subtotal", "grandtotal", "sum",   "summe",
                                        "gesamt", "zwischensumme", "totaux",   "soustotal",  "somme", "totaal",
                                        "som"};
    char squeezed[COT_SQUEEZED];
    cot_squeeze(s, strlen(s), squeezed);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i], squeezed) == 0) return true;
    return false;
}

/* "0.84" above which stands "%" would be 0.84 %; more likely it is 84 %, so a sign is asked for by the value's reader.
 */
static enum cot_err read_field(struct row *w, int column, enum cot_field field, const char *unit)
{
    struct cot_fault fault = {0};
    const char *s = cell(w, column);
    w->how.unit = unit;
    if (says_none(s)) {
        bool fits = cot_fact_clear(w->fact, field);
        return fits ? COT_OK : cot_fail(w->r->fault, COT_INTERNAL, "too many fields in one row");
    }
    enum cot_err err = cot_value_read_in(w->r->book, w->fact, field, s, strlen(s), &w->how, w->r->out->arena, &fault);
    return err == COT_OK ? COT_OK : from_fault(w->r, w->record->line, column, &fault);
}

static enum cot_err read_name_column(struct row *w, int column, enum cot_thing_type type, const struct cot_thing **out)
{
    struct cot_fault fault = {0};
    *out = NULL;
    if (cell(w, column)[0] == '\0') return COT_OK;
    enum cot_err err = cot_name_find(w->r->book, type, cell(w, column), NULL, out, &fault);
    return err == COT_OK ? COT_OK : from_fault(w->r, w->record->line, column, &fault);
}

static enum cot_err read_code_column(struct row *w, int column)
{
    char code[COT_CODE_TEXT];
    const char *s = cell(w, column);
    if (cot_code_read(s, strlen(s), code) != COT_CODE_GOOD)
        return cot_sheet_problem(w->r, w->record->line, column,
                                 "this is no code of a line; leave it empty for a new line");
    w->r->code[w->index] = cot_keep_text(w->r->out->arena, code, strlen(code));
    return w->r->code[w->index] ? COT_OK : cot_fail(w->r->fault, COT_MEMORY, "out of memory");
}

static enum cot_err read_cell(struct row *w, int column)
{
    const struct cot_column *c = &w->r->column[column];
    char unit[COT_SQUEEZED];
    enum cot_field field;
    if (cell(w, column)[0] == '\0') return COT_OK;
    switch (c->what) {
    case COT_COL_BLANK:
        return cot_sheet_problem(w->r, w->record->line, column,
                                 "there is no heading above this; give the column one, or empty it");
    case COT_COL_CODE:
        return read_code_column(w, column);
    case COT_COL_FARM:
    case COT_COL_CROP: /* read before the others */
    case COT_COL_UNIT:
        return COT_OK;
    case COT_COL_QUANTITY:
    case COT_COL_STOCK: {
        size_t before = w->r->out->problem_total;
        enum cot_err err = read_quantity(w, column, unit, &field);
        if (err != COT_OK || w->r->out->problem_total > before) return err;
        return read_field(w, column, field, unit);
    }
    default:
        return read_field(w, column, (enum cot_field)c->what, c->unit);
    }
}

/* Farm and crop of the row, which the other cells are read by. */
static enum cot_err read_setting(struct row *w)
{
    struct cot_sheet_reader *r = w->r;
    const struct cot_thing *crop, *farm = r->o->farm;
    int farm_column = cot_column_of(r, COT_COL_FARM), crop_column = cot_column_of(r, COT_COL_CROP);
    enum cot_err err = read_name_column(w, crop_column, COT_THING_CROP, &crop);
    if (err != COT_OK) return err;
    w->how.crop = crop ? &crop->id : NULL;
    if (r->o->kind != COT_K_LINE) return COT_OK;
    const struct cot_thing *named = NULL;
    size_t before = r->out->problem_total;
    err = read_name_column(w, farm_column, COT_THING_FARM, &named);
    if (err != COT_OK || r->out->problem_total > before) return err;
    if (named && farm && cot_id_cmp(&named->id, &farm->id) != 0)
        return cot_sheet_problem(r, w->record->line, farm_column, "another farm than the one these orders are for");
    if (!named && !farm) return cot_sheet_problem(r, w->record->line, farm_column, "whose order is it? name the farm");
    r->farm[w->index] = named ? named : farm;
    return COT_OK;
}

static enum cot_err check_shape(struct row *w, bool *stop)
{
    struct cot_sheet_reader *r = w->r;
    int named = cot_column_of(r, r->o->kind == COT_K_LINE ? COT_F_VARIETY : COT_F_NAME);
    for (size_t i = 0; i < w->record->count && !*stop; i++) {
        bool total = says_total(w->record->cell[i]) && ((int)i == named || i == 0);
        bool beyond = i >= r->column_count && w->record->len[i] > 0;
        *stop = total || beyond;
        if (!*stop) continue;
        return cot_sheet_problem(
            r, w->record->line, (int)i,
            total
                ? "this row looks like a total of the others; take it out of the file"
                : "the row has more cells than there are headings; put quotes around a cell that holds the separator");
    }
    return COT_OK;
}

static enum cot_err read_row(struct cot_sheet_reader *r, const struct cot_csv_record *record)
{
    size_t before = r->out->problem_total;
    struct cot_sheet_row *row = &r->out->row[r->out->row_count];
    *row = (struct cot_sheet_row){.line = record->line};
    row->fact.kind = r->o->kind;
    row->fact.has_about = true; /* so that "any" and "none" are kept as cleared until the row is matched */
    struct row w = {.r = r, .record = record, .fact = &row->fact, .index = r->out->row_count};
    w.how = (struct cot_reading){.date_format = r->o->date_format, .unit = "", .whole_names = true};
    bool stop = false;
    enum cot_err err = check_shape(&w, &stop);
    if (err != COT_OK || stop) return err;
    err = read_setting(&w);
    for (size_t i = 0; i < r->column_count && err == COT_OK; i++) err = read_cell(&w, (int)i);
    if (err == COT_OK && r->out->problem_total == before) r->out->row_count++;
    return err;
}

static int by_place(const void *a, const void *b)
{
    const struct cot_sheet_problem *x = a, *y = b;
    if (x->line != y->line) return x->line < y->line ? -1 : 1;
    return (x->column > y->column) - (x->column < y->column);
}

static enum cot_err read_rows(struct cot_sheet_reader *r)
{
    size_t n = cot_csv_count(r->csv);
    enum cot_err err = COT_OK;
    r->out->row = calloc(n, sizeof *r->out->row);
    r->farm = calloc(n, sizeof *r->farm);
    r->code = calloc(n, sizeof *r->code);
    if (!r->out->row || !r->farm || !r->code) return cot_fail(r->fault, COT_MEMORY, "out of memory");
    for (size_t i = 1; i < n && err == COT_OK; i++) err = read_row(r, cot_csv_record(r->csv, i));
    return err;
}

enum cot_err cot_sheet_read(struct cot_book *b, const struct cot_csv *csv, const struct cot_sheet_options *o,
                            struct cot_sheet *out, struct cot_fault *fault)
{
    struct cot_sheet_reader r = {.book = b, .csv = csv, .o = o, .out = out, .fault = fault};
    *out = (struct cot_sheet){.arena = cot_keep_new()};
    enum cot_err err = COT_MEMORY;
    if (!out->arena) {
        err = cot_fail(fault, COT_MEMORY, "out of memory");
        goto out;
    }
    err = cot_headings_read(&r);
    if (err == COT_OK) err = read_rows(&r);
    if (err == COT_OK) err = cot_sheet_match(&r);
    if (err == COT_OK && out->problem_total > 0) {
        qsort(out->problem, out->problem_count, sizeof *out->problem, by_place);
        out->row_count = 0;
    }
out:
    free(r.farm);
    free(r.code);
    if (err != COT_OK) cot_sheet_free(out);
    return err;
}

void cot_sheet_free(struct cot_sheet *s)
{
    free(s->row);
    free(s->problem);
    cot_keep_free(s->arena);
    *s = (struct cot_sheet){0};
}
