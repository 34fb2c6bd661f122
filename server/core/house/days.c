/* Closings and working days. */
#include "cotyledger/core/place.h"

#include <stdlib.h>

#define LOOK_DAYS 366 /* further than this nobody plans by working days */

static int by_days(const void *a, const void *b)
{
    const struct cot_closing *x = a, *y = b;
    if (x->from != y->from) return x->from < y->from ? -1 : 1;
    if (x->until != y->until) return x->until < y->until ? -1 : 1;
    return cot_id_cmp(&x->entry, &y->entry);
}

static void read_weekdays(struct cot_book *b, struct cot_days *out)
{
    const struct cot_thing *house = cot_book_house(b);
    const struct cot_value *v = house ? cot_thing_value(house, COT_F_WORK_DAYS) : NULL;
    out->said = v && v->type == COT_T_NUMBERS && v->len > 0;
    out->weekdays = out->said ? 0 : COT_WEEKDAYS_USUAL;
    for (uint32_t i = 0; out->said && i < v->len; i++)
        if (v->v.numbers[i] >= 1 && v->v.numbers[i] <= 7) out->weekdays |= 1u << (v->v.numbers[i] - 1);
}

/* False: it closes a place that is not there (any more). */
static bool read_closing(struct cot_book *b, const struct cot_note *note, struct cot_closing *c)
{
    const struct cot_fact *f = note->fact;
    const struct cot_value *why = cot_fact_value(f, COT_F_WHY);
    *c = (struct cot_closing){.entry = note->digest, .why = why && why->type == COT_T_TEXT ? why->v.text : ""};
    c->from = (int32_t)cot_fact_int(f, COT_F_FROM, COT_DAY_MAX);
    c->until = (int32_t)cot_fact_int(f, COT_F_UNTIL, c->from);
    if (!f->has_about) return true;
    c->place = cot_book_thing(b, &f->about);
    return c->place && !c->place->gone;
}

enum cot_err cot_days_read(struct cot_book *b, struct cot_days *out)
{
    size_t n;
    *out = (struct cot_days){0};
    read_weekdays(b, out);
    const struct cot_note *note = cot_book_of_kind(b, COT_K_SHUT, &n);
    if (n == 0) return COT_OK;
    out->closing = malloc(n * sizeof *out->closing);
    if (!out->closing) return COT_MEMORY;
    for (size_t i = 0; i < n; i++)
        if (read_closing(b, &note[i], &out->closing[out->closings])) out->closings++;
    if (out->closings > 1) qsort(out->closing, out->closings, sizeof *out->closing, by_days);
    return COT_OK;
}

void cot_days_free(struct cot_days *d)
{
    free(d->closing);
    *d = (struct cot_days){0};
}

const struct cot_closing *cot_closed_by(const struct cot_days *d, const struct cot_thing *place, int32_t day)
{
    for (size_t i = 0; i < d->closings && d->closing[i].from <= day; i++) {
        const struct cot_closing *c = &d->closing[i];
        bool meant = place ? c->place && cot_id_cmp(&c->place->id, &place->id) == 0 : c->place == NULL;
        if (meant && day <= c->until) return c;
    }
    return NULL;
}

bool cot_working_day(const struct cot_days *d, int32_t day)
{
    int year, week, weekday;
    if (day < COT_DAY_MIN || day > COT_DAY_MAX) return false;
    cot_week_of(day, &year, &week, &weekday);
    return (d->weekdays >> (weekday - 1) & 1u) && !cot_closed_by(d, NULL, day);
}

static int32_t look(const struct cot_days *d, int32_t day, int step)
{
    for (int i = 0; i <= LOOK_DAYS; i++, day += step)
        if (cot_working_day(d, day)) return day;
    return COT_DAY_NONE;
}

int32_t cot_working_before(const struct cot_days *d, int32_t day)
{
    return day < COT_DAY_MIN || day > COT_DAY_MAX ? COT_DAY_NONE : look(d, day, -1);
}

int32_t cot_working_after(const struct cot_days *d, int32_t day)
{
    return day < COT_DAY_MIN || day > COT_DAY_MAX ? COT_DAY_NONE : look(d, day, 1);
}

bool cot_place_open(const struct cot_days *d, const struct cot_thing *place, int32_t day)
{
    if (place->gone || day < cot_thing_int(place, COT_F_FROM, COT_DAY_MIN)) return false;
    return day <= cot_thing_int(place, COT_F_UNTIL, COT_DAY_MAX) && !cot_closed_by(d, place, day);
}
