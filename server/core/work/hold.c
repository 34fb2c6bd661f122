/* What a hold keeps: the fill on the line's own day, on the later one, and without the line. */
#include "cotyledger/core/hold.h"

#include "cotyledger/core/stays.h"

/* The day promised, or else asked for, whatever the farm waits for. */
static enum cot_err own_day(struct cot_book *b, const struct cot_thing *line, int32_t *day)
{
    size_t n;
    *day = (int32_t)cot_thing_int(line, COT_F_DATE, COT_DAY_NONE);
    const struct cot_note *note = cot_book_history(b, &line->id, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *f = note[i].verdict == COT_BOOKED ? note[i].fact : NULL;
        const struct cot_value *v = f ? cot_fact_value(f, COT_F_DATE) : NULL;
        if (v && v->type == COT_T_DAY && (f->kind == COT_K_LINE || f->kind == COT_K_PROMISE)) *day = (int32_t)v->v.i;
    }
    return *day == COT_DAY_NONE ? COT_INVALID : COT_OK;
}

static enum cot_err fill_with(struct cot_book *b, int32_t on, const struct cot_if_line *line, struct cot_fill *out,
                              struct cot_fault *fault)
{
    const struct cot_what_if change = {.line = line};
    return cot_fill_read_if(b, on, &change, out, fault);
}

static int64_t to_come(const struct cot_fill *f, const struct cot_thing *line)
{
    const struct cot_fill_line *l = cot_fill_line_of(f, &line->id);
    return l ? l->allotted : 0;
}

/* Into a list of `most` by falling plants; NULL: it is less than all of a full list. */
static int place_for(int64_t plants, const int64_t *have, int n, int most)
{
    int at = n;
    while (at > 0 && have[at - 1] < plants) at--;
    return at < most ? at : -1;
}

static void add_part(struct cot_book *b, const struct cot_fill *f, const struct cot_allot *a, struct cot_hold *out)
{
    const struct cot_stand *s = &f->stand[a->batch];
    struct cot_stood stood[COT_STOOD_MOST];
    int64_t have[COT_HOLD_PARTS];
    for (int i = 0; i < out->parts; i++) have[i] = out->part[i].plants;
    int at = f->batch[a->batch] ? place_for(a->plants, have, out->parts, COT_HOLD_PARTS) : -1;
    if (at < 0) return;
    if (out->parts < COT_HOLD_PARTS) out->parts++;
    for (int i = out->parts - 1; i > at; i--) out->part[i] = out->part[i - 1];
    int64_t trays = s->trays > 0 ? s->trays : 1, most = 0;
    if (s->likely > 0) trays = (a->plants * trays + s->likely - 1) / s->likely;
    int parts = cot_stood_read(b, f->batch[a->batch], s->trays > 0 ? s->trays : 1, f->on, stood);
    for (int i = 1; i < parts; i++)
        if (stood[i].trays > stood[most].trays) most = i;
    out->part[at] =
        (struct cot_hold_part){f->batch[a->batch],
                               a->plants,
                               trays,
                               cot_trays_spots(cot_book_thing(b, &s->format), cot_usual_footprint(b), trays),
                               stood[most].bench,
                               s->past};
}

static void add_taker(const struct cot_fill_line *l, int64_t plants, struct cot_hold *out)
{
    int64_t have[COT_HOLD_TAKERS];
    for (int i = 0; i < out->takers; i++) have[i] = out->taker[i].plants;
    int at = place_for(plants, have, out->takers, COT_HOLD_TAKERS);
    if (at < 0) return;
    if (out->takers < COT_HOLD_TAKERS) out->takers++;
    for (int i = out->takers - 1; i > at; i--) out->taker[i] = out->taker[i - 1];
    out->taker[at] = (struct cot_hold_taker){l->line, l->farm, l->date, plants};
}

/* Lines that have more when this one has nothing. */
static void find_takers(const struct cot_fill *now, const struct cot_fill *without, struct cot_hold *out)
{
    for (uint32_t i = 0; i < without->line_count; i++) {
        const struct cot_fill_line *l = &without->line[i], *had = l->line ? cot_fill_line_of(now, &l->line->id) : NULL;
        if (had && l->line != out->line && l->allotted > had->allotted) add_taker(l, l->allotted - had->allotted, out);
    }
}

enum cot_err cot_hold_read(struct cot_book *b, int32_t on, const struct cot_thing *line, int32_t until,
                           struct cot_hold *out, struct cot_fault *fault)
{
    struct cot_if_line as_is, later, none;
    struct cot_fill now = {0}, then = {0}, without = {0};
    *out = (struct cot_hold){.line = line, .until = until};
    if (line->type != COT_THING_LINE || line->gone) return cot_fail(fault, COT_INVALID, "there is no such order line");
    out->farm = cot_book_thing(b, &line->farm);
    enum cot_err err = own_day(b, line, &out->date);
    if (err == COT_OK) err = cot_if_line_of(b, line, &as_is);
    if (err != COT_OK) return err;
    as_is.date = out->date;
    later = none = as_is;
    later.date = until > out->date ? until : out->date;
    none.withdrawn = true;
    err = fill_with(b, on, &as_is, &now, fault);
    if (err == COT_OK) err = fill_with(b, on, &later, &then, fault);
    if (err == COT_OK) err = fill_with(b, on, &none, &without, fault);
    for (uint32_t i = 0; err == COT_OK && i < now.allot_count; i++)
        if (now.line[now.allot[i].line].line == line) add_part(b, &now, &now.allot[i], out);
    if (err == COT_OK) {
        out->plants = to_come(&now, line);
        out->kept = to_come(&then, line);
        find_takers(&now, &without, out);
    }
    cot_fill_free(&now);
    cot_fill_free(&then);
    cot_fill_free(&without);
    return err;
}
