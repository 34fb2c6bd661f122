/* What stands where: the stays of everything, by place. */
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/stages.h"
#include "cotyledger/core/stays.h"

void cot_benches_free(struct cot_benches *t)
{
    free(t->stay);
    free(t->place);
    cot_days_free(&t->days);
    *t = (struct cot_benches){0};
}

static int64_t sort_of(const struct cot_thing *place)
{
    return cot_thing_int(place, COT_F_SORT, COT_PLACE_BENCH);
}

static int by_place(const void *x, const void *y)
{
    const struct cot_thing *a = *(const struct cot_thing *const *)x, *b = *(const struct cot_thing *const *)y;
    if (sort_of(a) != sort_of(b)) return sort_of(a) < sort_of(b) ? -1 : 1;
    int c = strcmp(cot_thing_name(a), cot_thing_name(b));
    return c != 0 ? c : cot_id_cmp(&a->id, &b->id);
}

static const struct cot_thing *what(const struct cot_stay *s)
{
    return s->batch ? s->batch : s->planned;
}

static int by_stay(const void *x, const void *y)
{
    const struct cot_stay *a = x, *b = y;
    if ((a->place == NULL) != (b->place == NULL)) return a->place ? -1 : 1;
    int c = a->place && a->place != b->place ? by_place(&a->place, &b->place) : 0;
    if (c == 0 && !a->place) c = a->sort != b->sort ? (a->sort < b->sort ? -1 : 1) : strcmp(a->said, b->said);
    if (c != 0) return c;
    if (a->from != b->from) return a->from < b->from ? -1 : 1;
    c = strcmp(cot_thing_name(what(a)), cot_thing_name(what(b)));
    if (c != 0) return c;
    return a->to != b->to ? (a->to < b->to ? -1 : 1) : cot_id_cmp(&what(a)->id, &what(b)->id);
}

static void add(struct cot_benches *t, const struct cot_stay *stay, int n)
{
    for (int i = 0; i < n; i++) t->stay[t->stays++] = stay[i];
}

static bool same_tray(const struct cot_stay *a, const struct cot_stay *b)
{
    const char *x = cot_thing_text(what(a), COT_F_SHARED), *y = cot_thing_text(what(b), COT_F_SHARED);
    return x[0] && a->place == b->place && a->sort == b->sort && a->format == b->format && strcmp(x, y) == 0 &&
           a->from <= b->to && b->from <= a->to;
}

/* Of rows in one shared tray the first stay has the spot. */
static void mark_shared(struct cot_benches *t)
{
    for (size_t i = 0; i < t->stays; i++)
        for (size_t k = 0; k < i && !t->stay[i].shares; k++)
            t->stay[i].shares = !t->stay[k].shares && same_tray(&t->stay[i], &t->stay[k]);
}

static enum cot_err fill_in(struct cot_book *b, const struct cot_fill *fill, struct cot_benches *out)
{
    size_t plans, places;
    struct cot_calendar c;
    int32_t *closed = NULL;
    struct cot_stay stay[COT_STAYS_MOST];
    const struct cot_thing *const *planned = cot_book_things(b, COT_THING_PLANNED, &plans);
    const struct cot_thing *const *place = cot_book_things(b, COT_THING_PLACE, &places);
    out->stay = malloc((((size_t)fill->batch_count + plans) * COT_STAYS_MOST + 1) * sizeof *out->stay);
    out->place = malloc((places + 1) * sizeof *out->place);
    enum cot_err err = out->stay && out->place ? cot_days_read(b, &out->days) : COT_MEMORY;
    if (err == COT_OK) err = cot_calendar_of(&out->days, fill->on, COT_PLAN_DAYS, &c, &closed);
    for (size_t i = 0; err == COT_OK && i < places; i++)
        if (!place[i]->gone) out->place[out->places++] = place[i];
    for (uint32_t k = 0; err == COT_OK && k < fill->batch_count; k++)
        add(out, stay, cot_stays_of_batch(b, fill, k, stay));
    for (size_t i = 0; err == COT_OK && i < plans; i++)
        add(out, stay, cot_stays_of_planned(b, fill, planned[i], &c, stay));
    free(closed);
    return err;
}

enum cot_err cot_benches_read(struct cot_book *b, int32_t on, struct cot_benches *out, struct cot_fault *fault)
{
    struct cot_fill fill = {0};
    *out = (struct cot_benches){.on = on};
    if (!cot_book_house(b)) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    enum cot_err err = cot_fill_read(b, on, &fill);
    if (err == COT_OK) err = fill_in(b, &fill, out);
    cot_fill_free(&fill);
    if (err != COT_OK) {
        cot_benches_free(out);
        return cot_fail(fault, err, "unable to read what stands where");
    }
    if (out->places > 1) qsort(out->place, out->places, sizeof *out->place, by_place);
    if (out->stays > 1) qsort(out->stay, out->stays, sizeof *out->stay, by_stay);
    mark_shared(out);
    return COT_OK;
}

int64_t cot_benches_used(const struct cot_benches *t, const struct cot_thing *place, int32_t day)
{
    int64_t used = 0;
    for (size_t i = 0; i < t->stays; i++) {
        const struct cot_stay *s = &t->stay[i];
        if (s->place == place && !s->shares && s->from <= day && day <= s->to) used += s->spots;
    }
    return used;
}

int64_t cot_benches_room(const struct cot_benches *t, const struct cot_thing *place, int32_t day)
{
    return cot_place_open(&t->days, place, day) ? cot_thing_int(place, COT_F_SPOTS, 0) : 0;
}

int32_t cot_benches_over(const struct cot_benches *t, const struct cot_thing *place, int32_t from, int32_t to,
                         int64_t *worst)
{
    int32_t first = COT_DAY_NONE;
    *worst = 0;
    for (int32_t day = from; day <= to; day++) {
        int64_t over = cot_benches_used(t, place, day) - cot_benches_room(t, place, day);
        if (over <= 0) continue;
        if (first == COT_DAY_NONE) first = day;
        if (over > *worst) *worst = over;
    }
    return first;
}
