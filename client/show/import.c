#include "import.h"

#include <string.h>

#include "table.h"
#include "things.h"

void cot_import_count(const struct cot_sheet *s, struct cot_import_sum *sum)
{
    for (size_t i = 0; i < s->row_count; i++) {
        sum->fresh += s->row[i].what == COT_SHEET_NEW;
        sum->changed += s->row[i].what == COT_SHEET_CHANGE;
        sum->same += s->row[i].what == COT_SHEET_SAME;
    }
}

void cot_import_sum_text(const struct cot_import_sum *sum, char out[static COT_IMPORT_SUM_TEXT])
{
    snprintf(out, COT_IMPORT_SUM_TEXT, "%zu new, %zu changed, %zu the same", sum->fresh, sum->changed, sum->same);
}

void cot_import_problems_text(const struct cot_sheet *s, const char *file, struct cot_buf *out)
{
    for (size_t i = 0; i < s->problem_count && i < COT_PROBLEMS_SHOWN; i++) {
        const struct cot_sheet_problem *p = &s->problem[i];
        cot_put_terminal(out, file, strlen(file));
        cot_buf_fmt(out, ":%zu:", p->line);
        if (p->column > 0) cot_buf_fmt(out, "%zu:", p->column); /* the row as a whole has no column */
        cot_buf_str(out, " ");
        if (p->heading[0]) {
            cot_put_terminal(out, p->heading, strlen(p->heading));
            cot_buf_str(out, ": ");
        }
        cot_put_terminal(out, p->reason, strlen(p->reason));
        cot_buf_str(out, "\n");
    }
    if (s->problem_total > COT_PROBLEMS_SHOWN)
        cot_buf_fmt(out, "and %zu more\n", s->problem_total - COT_PROBLEMS_SHOWN);
}

/* "plants: 400 plants, was 300 plants" */
static void put_field(struct cot_cli *cli, const struct cot_sheet_row *row, const struct cot_value *v,
                      struct cot_buf *out)
{
    const struct cot_value *old = row->thing ? cot_thing_value(row->thing, (enum cot_field)v->field) : NULL;
    char label[COT_LABEL_TEXT];
    cot_field_label((enum cot_field)v->field, label);
    cot_buf_fmt(out, "%s%s: ", out->len > 0 ? ", " : "", label);
    cot_field_words(cli->book, v, out);
    if (!row->thing) return;
    cot_buf_str(out, " (was ");
    if (old && old->type != COT_T_NONE) cot_field_words(cli->book, old, out);
    else cot_buf_str(out, "not said");
    cot_buf_str(out, ")");
}

void cot_import_rows_text(struct cot_cli *cli, const struct cot_sheet *s, struct cot_buf *out)
{
    for (size_t i = 0; i < s->row_count; i++) {
        const struct cot_sheet_row *row = &s->row[i];
        struct cot_buf fields = {0};
        if (row->what == COT_SHEET_SAME) continue;
        for (unsigned k = 0; k < row->fact.value_count; k++) put_field(cli, row, &row->fact.value[k], &fields);
        cot_buf_fmt(out, "%5zu  %s  ", row->line, row->what == COT_SHEET_NEW ? "new    " : "changed");
        struct cot_buf text = {0};
        if (row->thing) cot_buf_fmt(&text, "%s: ", cot_thing_name(row->thing));
        if (fields.s) cot_buf_str(&text, fields.s);
        if (text.failed || fields.failed) out->failed = true;
        else cot_put_paragraph(out, text.s ? text.s : "", 16, 16);
        cot_buf_free(&text);
        cot_buf_free(&fields);
    }
}

/* --- JSON ----------------------------------------------------------------------------------------------------------
 */

static void json_text(struct cot_buf *out, const char *key, const char *s)
{
    cot_buf_fmt(out, "\"%s\":", key);
    cot_put_json(out, s, strlen(s));
}

static void json_problems(const struct cot_sheet *s, struct cot_buf *out)
{
    for (size_t i = 0; i < s->problem_count; i++) {
        const struct cot_sheet_problem *p = &s->problem[i];
        cot_buf_fmt(out, "%s\n{\"line\":%zu,\"column\":%zu,", i > 0 ? "," : "", p->line, p->column);
        json_text(out, "heading", p->heading);
        cot_buf_str(out, ",");
        json_text(out, "reason", p->reason);
        cot_buf_str(out, "}");
    }
}

static void json_rows(struct cot_cli *cli, const struct cot_sheet *s, struct cot_buf *out)
{
    static const char *const words[] = {
        [COT_SHEET_NEW] = "new", [COT_SHEET_CHANGE] = "changed", [COT_SHEET_SAME] = "same"};
    for (size_t i = 0; i < s->row_count; i++) {
        const struct cot_sheet_row *row = &s->row[i];
        const struct cot_value *values[COT_FACT_FIELDS_MAX];
        for (unsigned k = 0; k < row->fact.value_count; k++) values[k] = &row->fact.value[k];
        cot_buf_fmt(out, "%s\n{\"line\":%zu,\"what\":\"%s\",", i > 0 ? "," : "", row->line, words[row->what]);
        if (row->thing) json_text(out, "thing", cot_thing_name(row->thing));
        else cot_buf_str(out, "\"thing\":null");
        cot_buf_str(out, ",\"fields\":");
        cot_fields_json(cli->book, values, row->fact.value_count, out);
        cot_buf_str(out, "}");
    }
}

void cot_import_json(struct cot_cli *cli, const struct cot_sheet *s, const char *file, struct cot_buf *out)
{
    struct cot_import_sum sum = {0};
    cot_import_count(s, &sum);
    cot_buf_str(out, "{");
    json_text(out, "file", file);
    cot_buf_fmt(out, ",\"new\":%zu,\"changed\":%zu,\"same\":%zu,", sum.fresh, sum.changed, sum.same);
    json_text(out, "note", s->note);
    cot_buf_str(out, ",\"problems\":[");
    json_problems(s, out);
    cot_buf_fmt(out, "],\"problem_total\":%zu,\"rows\":[", s->problem_total);
    json_rows(cli, s, out);
    cot_buf_str(out, "]}\n");
}
