/* The fill report: what goes into it, whatever its form. */
#include "report_inner.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

enum cot_err cot_report_start(struct cot_book *book, struct cot_book *view, struct cot_report *out)
{
    int64_t rows;
    *out = (struct cot_report){.book = book};
    const struct cot_thing *house = cot_book_house(book);
    out->house = house ? cot_thing_name(house) : "";
    cot_book_size(view, &rows, &out->unsent, &out->position);
    return cot_book_digest(view, out->digest);
}

/* Allotments are sorted by line: a binary search for the first. */
uint32_t cot_report_allots(const struct cot_fill *f, uint32_t line, uint32_t *n)
{
    uint32_t low = 0, high = f->allot_count;
    while (low < high) {
        uint32_t mid = low + (high - low) / 2;
        if (f->allot[mid].line < line) low = mid + 1;
        else high = mid;
    }
    *n = 0;
    while (low + *n < f->allot_count && f->allot[low + *n].line == line) (*n)++;
    return low;
}

const struct cot_thing *cot_report_variety(const struct cot_report *r, const struct cot_allot *a)
{
    return cot_book_thing(r->book, &r->fill->stand[a->batch].variety);
}

bool cot_report_treated(const struct cot_report *r, uint32_t line)
{
    uint32_t n, first = cot_report_allots(r->fill, line, &n);
    for (uint32_t i = first; i < first + n; i++) {
        const struct cot_thing *lot = cot_book_thing(r->book, &r->fill->stand[r->fill->allot[i].batch].lot);
        if (lot && cot_thing_int(lot, COT_F_TREATED, 0)) return true;
    }
    return false;
}

double cot_chance_told(const struct cot_fill *f, uint32_t line)
{
    const struct cot_fill_line *l = &f->line[line];
    uint32_t n;
    (void)cot_report_allots(f, line, &n);
    if (l->chance >= 1 && l->handed < l->wanted) return 1 - 1e-9;
    if (l->chance <= 0 && n > 0 && l->promised >= l->wanted) return 1e-9;
    return l->chance;
}

int64_t cot_report_waiting(const struct cot_fill_line *l)
{
    return l->waiting && l->wanted > l->promised ? l->wanted - l->promised : 0;
}

void cot_report_add(const struct cot_report *r, const struct cot_fill_farm *farm, struct cot_report_sum *sum)
{
    sum->lines += farm->line_count;
    sum->covered += farm->covered;
    sum->in_doubt += farm->in_doubt;
    sum->short_ += farm->short_;
    for (uint32_t i = farm->first_line; i < farm->first_line + farm->line_count; i++) {
        if (r->fill->line[i].verdict == COT_SHORT) sum->short_by += r->fill->line[i].short_by;
        sum->miss += 1 - cot_chance_told(r->fill, i);
    }
}

bool cot_report_shows(const struct cot_report *r, uint32_t line)
{
    return !r->only_short || r->fill->line[line].verdict != COT_COVERED;
}

void cot_report_headline(const struct cot_report_sum *s, struct cot_buf *out)
{
    if (s->lines == 0) cot_buf_str(out, "No lines.");
    else if (s->covered == s->lines && s->lines == 1) cot_buf_str(out, "The one line is covered.");
    else if (s->covered == s->lines) cot_buf_fmt(out, "All %" PRIu32 " lines are covered.", s->lines);
    if (s->covered == s->lines) return;
    cot_buf_fmt(out, "%" PRIu32 " of %" PRIu32 " line%s covered", s->covered, s->lines,
                s->lines == 1     ? " is"
                : s->covered == 1 ? "s is"
                                  : "s are");
    if (s->in_doubt > 0) cot_buf_fmt(out, ", %" PRIu32 " in doubt", s->in_doubt);
    if (s->short_ > 0)
        cot_buf_fmt(out, ", %" PRIu32 " short by %" PRId64 " plant%s%s", s->short_, s->short_by,
                    s->short_by == 1 ? "" : "s", s->short_ > 1 ? " together" : "");
    cot_buf_str(out, ".");
}

static int shortest_first(const void *a, const void *b)
{
    const struct cot_report_ranked *x = a, *y = b;
    if (x->sum.short_by != y->sum.short_by) return x->sum.short_by > y->sum.short_by ? -1 : 1;
    if (x->sum.in_doubt != y->sum.in_doubt) return x->sum.in_doubt > y->sum.in_doubt ? -1 : 1;
    int c = strcmp(cot_thing_name(x->farm->farm), cot_thing_name(y->farm->farm));
    return c != 0 ? c : cot_id_cmp(&x->farm->farm->id, &y->farm->farm->id);
}

struct cot_report_ranked *cot_report_rank(const struct cot_report *r, struct cot_report_sum *all)
{
    struct cot_report_ranked *list = calloc(r->farm_count + 1, sizeof *list);
    for (uint32_t i = 0; list && i < r->farm_count; i++) {
        list[i].farm = &r->farm[i];
        cot_report_add(r, &r->farm[i], &list[i].sum);
        cot_report_add(r, &r->farm[i], all);
    }
    if (list && r->farm_count > 1) qsort(list, r->farm_count, sizeof *list, shortest_first);
    return list;
}

/* The farms to report: the one asked for, or all. */
static void choose(struct cot_report *r, const struct cot_id *farm)
{
    const struct cot_fill *f = r->fill;
    r->overview = farm == NULL;
    r->farm = f->farm;
    r->farm_count = farm ? 0 : f->farm_count;
    for (uint32_t i = 0; farm && i < f->farm_count; i++) {
        if (cot_id_cmp(&f->farm[i].farm->id, farm) != 0) continue;
        r->farm = &f->farm[i];
        r->farm_count = 1;
    }
    if (farm && r->farm_count == 0) r->missing = cot_book_thing(r->book, farm);
}

static enum cot_err write_report(struct cot_report *r, const struct cot_fill *f, const struct cot_id *farm,
                                 enum cot_form form, struct cot_buf *out)
{
    static void (*const write[])(const struct cot_report *, struct cot_buf *) = {
        [COT_FORM_TEXT] = cot_report_fill_text,
        [COT_FORM_CSV] = cot_report_fill_csv,
        [COT_FORM_JSON] = cot_report_fill_json,
        [COT_FORM_HTML] = cot_report_fill_html,
    };
    r->fill = f;
    choose(r, farm);
    write[form](r, out);
    return out->failed ? COT_MEMORY : COT_OK;
}

enum cot_err cot_report_fill_seen(const struct cot_fill *f, struct cot_book *b, const struct cot_id *farm,
                                  enum cot_form form, struct cot_book *view, struct cot_buf *out)
{
    struct cot_report r;
    enum cot_err err = cot_report_start(b, view, &r);
    return err != COT_OK ? err : write_report(&r, f, farm, form, out);
}

enum cot_err cot_report_fill(const struct cot_fill *f, struct cot_book *b, const struct cot_id *farm,
                             enum cot_form form, struct cot_buf *out)
{
    return cot_report_fill_seen(f, b, farm, form, b, out);
}

enum cot_err cot_report_fill_short(const struct cot_fill *f, struct cot_book *b, const struct cot_id *farm,
                                   enum cot_form form, struct cot_buf *out)
{
    struct cot_report r;
    enum cot_err err = cot_report_start(b, b, &r);
    if (err != COT_OK) return err;
    r.only_short = true;
    return write_report(&r, f, farm, form, out);
}
