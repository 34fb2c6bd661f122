/* Hand-overs, for whoever writes the invoice: text, CSV, JSON. */
#include "report_inner.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

static const char *name_or(const struct cot_thing *t, const char *otherwise)
{
    return t ? cot_thing_name(t) : otherwise;
}

static int64_t kept(const struct cot_handover_row *h)
{
    return h->plants - h->refused - h->back;
}

static void end(struct cot_buf *out, size_t from)
{
    cot_put_line_end(out, from, COT_PAGE_WIDTH);
}

static void fit(struct cot_buf *out, const char *s, size_t width)
{
    cot_put_fit(out, s, strlen(s), width);
    cot_buf_str(out, "  ");
}

static void text_row(const struct cot_handover_row *h, struct cot_buf *out)
{
    struct cot_buf both = {0};
    char day[COT_DAY_TEXT];
    size_t from = out->len;
    cot_day_text(h->day, day);
    cot_buf_fmt(out, "%s  ", day);
    fit(out, name_or(h->line, "?"), 14);
    fit(out, name_or(h->batch, "?"), 14);
    fit(out, name_or(h->farm, "?"), 34);
    end(out, from);
    cot_buf_fmt(&both, "%s, %s", name_or(h->variety, "?"), name_or(h->format, "?"));
    from = out->len;
    cot_buf_str(out, "    ");
    if (both.failed) out->failed = true;
    else cot_put_fit(out, both.s, both.len, 34);
    cot_buf_fmt(out, "%7" PRId64 "%9" PRId64 "%9" PRId64 "%8" PRId64 "%7" PRId64, h->trays, h->plants, h->refused,
                h->back, h->owed);
    end(out, from);
    cot_buf_free(&both);
}

struct farm_sum {
    const struct cot_thing *farm;
    int64_t trays, plants, kept, owed;
};

static int by_farm(const void *a, const void *b)
{
    const struct farm_sum *x = a, *y = b;
    int c = strcmp(name_or(x->farm, ""), name_or(y->farm, ""));
    if (c != 0 || !x->farm || !y->farm) return c;
    return cot_id_cmp(&x->farm->id, &y->farm->id);
}

/* Rows to sums, one a farm; how many. */
static size_t sum_farms(const struct cot_handover_row *rows, size_t n, struct farm_sum *sum)
{
    size_t farms = 0;
    for (size_t i = 0; i < n; i++)
        sum[i] = (struct farm_sum){rows[i].farm, rows[i].trays, rows[i].plants, kept(&rows[i]), rows[i].owed};
    qsort(sum, n, sizeof *sum, by_farm);
    for (size_t i = 0; i < n; i++) {
        if (farms == 0 || by_farm(&sum[farms - 1], &sum[i]) != 0) {
            sum[farms++] = sum[i];
            continue;
        }
        struct farm_sum *s = &sum[farms - 1];
        s->trays += sum[i].trays;
        s->plants += sum[i].plants;
        s->kept += sum[i].kept;
        s->owed += sum[i].owed;
    }
    return farms;
}

static void text_sums(const struct cot_handover_row *rows, size_t n, struct cot_buf *out)
{
    struct farm_sum *sum = calloc(n + 1, sizeof *sum);
    if (!sum) {
        out->failed = true;
        return;
    }
    size_t farms = sum_farms(rows, n, sum);
    cot_buf_str(out, "\nFarm                                     trays    plants      kept  owed trays\n");
    for (size_t i = 0; i < farms; i++) {
        size_t from = out->len;
        cot_put_fit(out, name_or(sum[i].farm, "?"), strlen(name_or(sum[i].farm, "?")), 36);
        cot_buf_fmt(out, "%10" PRId64 "%10" PRId64 "%10" PRId64 "%12" PRId64, sum[i].trays, sum[i].plants, sum[i].kept,
                    sum[i].owed);
        end(out, from);
    }
    free(sum);
}

static void write_text(const struct cot_report *r, const struct cot_handover_row *rows, size_t n, int32_t on,
                       struct cot_buf *out)
{
    char day[COT_DAY_TEXT];
    size_t from = out->len;
    cot_day_text(on, day);
    cot_buf_str(out, "Hand-overs of ");
    cot_put_terminal(out, r->house, strlen(r->house));
    end(out, from);
    cot_buf_fmt(out, "up to %s; refused: brought back unfit; back: brought back fit to go\n\n", day);
    if (n == 0) cot_buf_str(out, "None.\n");
    if (n > 0)
        cot_buf_str(out, "Day         Line            Batch           Farm\n"
                         "    Variety, tray format              trays   plants  refused    back   owed\n");
    for (size_t i = 0; i < n; i++) text_row(&rows[i], out);
    if (n > 0) text_sums(rows, n, out);
    cot_buf_str(out, "\n");
    cot_report_foot(r, on, out);
}

static const char columns[] =
    "version,day,week,farm,line,ref,batch,variety,format,trays,plants,refused,back,kept,owed,as_of,position,unsent,"
    "book\r\n";

static void csv_row(const struct cot_report *r, const struct cot_handover_row *h, int32_t on, struct cot_buf *out)
{
    struct cot_json j = {out, true};
    cot_csv_int(&j, COT_REPORT_VERSION);
    cot_csv_day(&j, h->day);
    cot_csv_week(&j, h->day);
    cot_csv_text(&j, name_or(h->farm, ""));
    cot_csv_text(&j, name_or(h->line, ""));
    cot_csv_text(&j, h->line ? cot_thing_text(h->line, COT_F_REF) : "");
    cot_csv_text(&j, name_or(h->batch, ""));
    cot_csv_text(&j, name_or(h->variety, ""));
    cot_csv_text(&j, name_or(h->format, ""));
    cot_csv_int(&j, h->trays);
    cot_csv_int(&j, h->plants);
    cot_csv_int(&j, h->refused);
    cot_csv_int(&j, h->back);
    cot_csv_int(&j, kept(h));
    cot_csv_int(&j, h->owed);
    cot_csv_day(&j, on);
    cot_csv_int(&j, r->position);
    cot_csv_int(&j, r->unsent);
    cot_csv_text(&j, r->digest);
    cot_buf_str(out, "\r\n");
}

static void json_row(const struct cot_handover_row *h, struct cot_buf *out)
{
    struct cot_json j = {out, true};
    const char *ref = h->line ? cot_thing_text(h->line, COT_F_REF) : "";
    cot_buf_str(out, "{");
    cot_json_day(&j, "day", h->day);
    cot_json_week(&j, "week", h->day);
    cot_json_text(&j, "farm", name_or(h->farm, NULL));
    cot_json_text(&j, "line", name_or(h->line, NULL));
    cot_json_text(&j, "ref", ref[0] ? ref : NULL);
    cot_json_text(&j, "batch", name_or(h->batch, NULL));
    cot_json_text(&j, "variety", name_or(h->variety, NULL));
    cot_json_text(&j, "format", name_or(h->format, NULL));
    cot_json_int(&j, "trays", h->trays);
    cot_json_int(&j, "plants", h->plants);
    cot_json_int(&j, "refused", h->refused);
    cot_json_int(&j, "back", h->back);
    cot_json_int(&j, "kept", kept(h));
    cot_json_int(&j, "owed", h->owed);
    cot_buf_str(out, "}");
}

static void write_json(const struct cot_report *r, const struct cot_handover_row *rows, size_t n, int32_t on,
                       struct cot_buf *out)
{
    struct cot_json j = {out, true};
    cot_buf_str(out, "{");
    cot_json_text(&j, "report", "handovers");
    cot_json_int(&j, "version", COT_REPORT_VERSION);
    cot_json_text(&j, "house", r->house);
    cot_json_day(&j, "as_of", on);
    cot_json_week(&j, "as_of_week", on);
    cot_json_key(&j, "handovers");
    cot_buf_str(out, "[");
    for (size_t i = 0; i < n; i++) {
        cot_buf_str(out, i > 0 ? ",\n" : "\n");
        json_row(&rows[i], out);
    }
    cot_buf_str(out, "]");
    cot_json_int(&j, "position", r->position);
    cot_json_int(&j, "unsent", r->unsent);
    cot_json_text(&j, "book", r->digest);
    cot_buf_str(out, "}\n");
}

enum cot_err cot_report_handovers(const struct cot_handover_row *rows, size_t n, struct cot_book *b, int32_t on,
                                  enum cot_form form, struct cot_buf *out)
{
    struct cot_report r;
    enum cot_err err = cot_report_start(b, b, &r);
    if (err != COT_OK) return err;
    if (form == COT_FORM_TEXT) write_text(&r, rows, n, on, out);
    else if (form == COT_FORM_JSON) write_json(&r, rows, n, on, out);
    else cot_buf_str(out, columns);
    for (size_t i = 0; i < n && form == COT_FORM_CSV; i++) csv_row(&r, &rows[i], on, out);
    return out->failed ? COT_MEMORY : COT_OK;
}
