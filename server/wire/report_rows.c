/* The fill report for programs: CSV, a row a line; JSON. Columns and keys are described in docs/reports.md. */
#include "cotyledger/core/count.h"
#include "report_inner.h"

#include <inttypes.h>
#include <string.h>

static const char *name_or(const struct cot_thing *t, const char *otherwise)
{
    return t ? cot_thing_name(t) : otherwise;
}

static const char *ref_of(const struct cot_fill_line *l)
{
    const char *ref = cot_thing_text(l->line, COT_F_REF);
    return ref[0] ? ref : NULL;
}

/* "B-0012-7 300; B-0014-K 200 Green Harbour": the variety only where it is another than asked for. */
static void put_batches(const struct cot_report *r, uint32_t line, struct cot_json *j)
{
    struct cot_buf b = {0};
    uint32_t n, first = cot_report_allots(r->fill, line, &n);
    cot_buf_str(&b, "");
    for (uint32_t i = first; i < first + n; i++) {
        const struct cot_allot *a = &r->fill->allot[i];
        cot_buf_fmt(&b, "%s%s %" PRId64, i > first ? "; " : "", cot_thing_name(r->fill->batch[a->batch]), a->plants);
        if (a->substitute) cot_buf_fmt(&b, " %s", name_or(cot_report_variety(r, a), "?"));
    }
    if (b.failed) j->out->failed = true;
    else cot_csv_text(j, b.s ? b.s : "");
    cot_buf_free(&b);
}

static const char fill_columns[] =
    "version,farm,line,ref,variety,format,date,week,asked_date,wanted,promised,handed_over,likely,count_on,"
    "confidence,chance,verdict,short_by,waiting,declined,withdrawn,request,least,least_missed,treated_seed,batches,as_"
    "of,"
    "position,unsent,book,extra,unit,passed_over,count_batch,count_trays\r\n";

static void csv_line(const struct cot_report *r, uint32_t index, const char *farm, struct cot_buf *out)
{
    const struct cot_fill_line *l = &r->fill->line[index];
    struct cot_json j = {out, true};
    cot_csv_int(&j, COT_REPORT_VERSION);
    cot_csv_text(&j, farm);
    cot_csv_text(&j, cot_thing_name(l->line));
    cot_csv_text(&j, ref_of(l) ? ref_of(l) : "");
    cot_csv_text(&j, name_or(l->variety, ""));
    cot_csv_text(&j, name_or(l->format, "any"));
    cot_csv_day(&j, l->date);
    cot_csv_week(&j, l->date);
    cot_csv_day(&j, l->asked);
    cot_csv_int(&j, l->wanted);
    cot_csv_int(&j, l->promised);
    cot_csv_int(&j, l->handed);
    cot_csv_int(&j, l->likely);
    cot_csv_int(&j, l->count_on);
    cot_csv_share(&j, r->fill->confidence / 1000.0);
    cot_csv_share(&j, cot_chance_told(r->fill, index));
    cot_csv_text(&j, cot_fill_word(l->verdict));
    cot_csv_int(&j, l->short_by);
    cot_csv_int(&j, cot_report_waiting(l));
    cot_csv_int(&j, l->declined ? l->wanted - l->promised : 0);
    cot_csv_text(&j, l->line->gone ? "yes" : "no");
    cot_csv_text(&j, l->request ? "yes" : "no");
    cot_csv_int(&j, cot_thing_int(l->line, COT_F_LEAST, 0));
    cot_csv_text(&j, l->least_missed ? "yes" : "no");
    cot_csv_text(&j, cot_report_treated(r, index) ? "yes" : "no");
    put_batches(r, index, &j);
    cot_csv_day(&j, r->fill->on);
    cot_csv_int(&j, r->position);
    cot_csv_int(&j, r->unsent);
    cot_csv_text(&j, r->digest);
    cot_csv_int(&j, l->extra);
    cot_csv_int(&j, l->unit);
    cot_csv_text(&j, l->passed_over ? "yes" : "no");
    struct cot_count_line more;
    cot_count_for_line(r->fill, index, &more);
    cot_csv_text(&j, more.trays > 0 ? cot_thing_name(r->fill->batch[more.batch]) : "");
    cot_csv_int(&j, more.trays > 0 ? more.trays : 0);
    cot_buf_str(out, "\r\n");
}

void cot_report_fill_csv(const struct cot_report *r, struct cot_buf *out)
{
    cot_buf_str(out, fill_columns);
    for (uint32_t k = 0; k < r->farm_count; k++) {
        const struct cot_fill_farm *f = &r->farm[k];
        for (uint32_t i = f->first_line; i < f->first_line + f->line_count; i++)
            if (cot_report_shows(r, i)) csv_line(r, i, cot_thing_name(f->farm), out);
    }
}

/* --- JSON ------------------------------------------------------------------------------------------------------- */

static void json_batches(const struct cot_report *r, uint32_t line, struct cot_json *j)
{
    uint32_t n, first = cot_report_allots(r->fill, line, &n);
    cot_json_key(j, "batches");
    cot_buf_str(j->out, "[");
    for (uint32_t i = first; i < first + n; i++) {
        const struct cot_allot *a = &r->fill->allot[i];
        cot_buf_str(j->out, i > first ? ",{" : "{");
        struct cot_json b = {j->out, true};
        cot_json_text(&b, "batch", cot_thing_name(r->fill->batch[a->batch]));
        cot_json_int(&b, "plants", a->plants);
        cot_json_bool(&b, "substitute", a->substitute);
        cot_json_text(&b, "variety", name_or(cot_report_variety(r, a), NULL));
        cot_json_day(&b, "counted", r->fill->stand[a->batch].counted);
        cot_json_bool(&b, "provisional", r->fill->stand[a->batch].provisional);
        cot_json_int(&b, "extra", a->extra);
        cot_buf_str(j->out, "}");
    }
    cot_buf_str(j->out, "]");
}

static void json_line(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    const struct cot_fill_line *l = &r->fill->line[index];
    struct cot_json j = {out, true};
    cot_buf_str(out, "{");
    cot_json_text(&j, "line", cot_thing_name(l->line));
    cot_json_text(&j, "ref", ref_of(l));
    cot_json_text(&j, "variety", name_or(l->variety, NULL));
    cot_json_text(&j, "format", name_or(l->format, NULL));
    cot_json_day(&j, "date", l->date);
    cot_json_week(&j, "week", l->date);
    cot_json_day(&j, "asked_date", l->asked);
    cot_json_int(&j, "wanted", l->wanted);
    cot_json_int(&j, "promised", l->promised);
    cot_json_int(&j, "handed_over", l->handed);
    cot_json_int(&j, "likely", l->likely);
    cot_json_int(&j, "count_on", l->count_on);
    cot_json_share(&j, "chance", cot_chance_told(r->fill, index));
    cot_json_text(&j, "verdict", cot_fill_word(l->verdict));
    cot_json_int(&j, "short_by", l->short_by);
    cot_json_int(&j, "waiting", cot_report_waiting(l));
    cot_json_int(&j, "declined", l->declined ? l->wanted - l->promised : 0);
    cot_json_bool(&j, "withdrawn", l->line->gone);
    cot_json_bool(&j, "request", l->request);
    cot_json_int(&j, "least", cot_thing_int(l->line, COT_F_LEAST, 0));
    cot_json_bool(&j, "least_missed", l->least_missed);
    cot_json_bool(&j, "treated_seed", cot_report_treated(r, index));
    json_batches(r, index, &j);
    cot_json_int(&j, "extra", l->extra);
    cot_json_int(&j, "unit", l->unit);
    cot_json_bool(&j, "passed_over", l->passed_over);
    struct cot_count_line more;
    cot_count_for_line(r->fill, index, &more);
    cot_json_text(&j, "count_batch", more.trays > 0 ? cot_thing_name(r->fill->batch[more.batch]) : NULL);
    cot_json_int(&j, "count_trays", more.trays > 0 ? more.trays : 0);
    cot_buf_str(out, "}");
}

static void json_farm(const struct cot_report *r, const struct cot_fill_farm *f, struct cot_buf *out)
{
    struct cot_report_sum sum = {0};
    struct cot_json j = {out, true};
    cot_report_add(r, f, &sum);
    cot_buf_str(out, "{");
    cot_json_text(&j, "farm", cot_thing_name(f->farm));
    cot_json_int(&j, "covered", sum.covered);
    cot_json_int(&j, "in_doubt", sum.in_doubt);
    cot_json_int(&j, "short", sum.short_);
    cot_json_int(&j, "short_by", sum.short_by);
    cot_json_int(&j, "wanted", f->wanted);
    cot_json_int(&j, "handed_over", f->handed);
    cot_json_int(&j, "likely", f->likely);
    cot_json_int(&j, "count_on", f->count_on);
    cot_json_key(&j, "lines");
    cot_buf_str(out, "[");
    bool first = true;
    for (uint32_t i = f->first_line; i < f->first_line + f->line_count; i++) {
        if (!cot_report_shows(r, i)) continue;
        cot_buf_str(out, first ? "\n" : ",\n");
        json_line(r, i, out);
        first = false;
    }
    cot_buf_str(out, "]");
    cot_json_int(&j, "extra", f->extra);
    cot_json_int(&j, "own_seed_left", f->own_left);
    cot_json_share(&j, "chance", f->chance);
    cot_json_share(&j, "expect_to_miss", sum.miss);
    cot_buf_str(out, "}");
}

/* What each batch gives; for the house, since it tells of all farms. */
static void json_supply(const struct cot_report *r, struct cot_json *j)
{
    cot_json_key(j, "supply");
    cot_buf_str(j->out, "[");
    for (uint32_t i = 0; r->overview && i < r->fill->batch_count; i++) {
        const struct cot_fill_batch *s = &r->fill->serves[i];
        cot_buf_str(j->out, i > 0 ? ",\n{" : "\n{");
        struct cot_json b = {j->out, true};
        cot_json_text(&b, "batch", name_or(r->fill->batch[i], NULL));
        cot_json_int(&b, "lines", s->lines);
        cot_json_int(&b, "allotted", s->allotted);
        cot_json_int(&b, "extra", s->extra);
        cot_json_int(&b, "left", s->left);
        cot_json_int(&b, "count_on", s->count_on);
        cot_json_share(&b, "chance", s->chance);
        cot_buf_str(j->out, "}");
    }
    cot_buf_str(j->out, "]");
}

static const char *const share_words[] = {
    [COT_SHARE_FIRST] = "first", [COT_SHARE_PRIORITY] = "priority", [COT_SHARE_PRORATA] = "prorata"};

void cot_report_fill_json(const struct cot_report *r, struct cot_buf *out)
{
    struct cot_json j = {out, true};
    cot_buf_str(out, "{");
    cot_json_text(&j, "report", "fill");
    cot_json_int(&j, "version", COT_REPORT_VERSION);
    cot_json_text(&j, "house", r->house);
    cot_json_day(&j, "as_of", r->fill->on);
    cot_json_week(&j, "as_of_week", r->fill->on);
    cot_json_share(&j, "confidence", r->fill->confidence / 1000.0);
    cot_json_key(&j, "farms");
    cot_buf_str(out, "[");
    for (uint32_t i = 0; i < r->farm_count; i++) {
        cot_buf_str(out, i > 0 ? ",\n" : "\n");
        json_farm(r, &r->farm[i], out);
    }
    cot_buf_str(out, "]");
    cot_json_int(&j, "position", r->position);
    cot_json_int(&j, "unsent", r->unsent);
    cot_json_text(&j, "book", r->digest);
    cot_json_text(&j, "share", share_words[r->fill->share]);
    json_supply(r, &j);
    cot_buf_str(out, "}\n");
}
