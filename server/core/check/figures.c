/* Counts of a batch, as they are fit for comparing. */
#include "check/figures.h"

#include <stdlib.h>

#define TRAYS_MOST 100000

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

/* The first day on which plants of the batch went out or were potted on: counts after it see fewer than came up. */
static int32_t first_taken(struct cot_book *b, const struct cot_thing *batch)
{
    static const enum cot_thing_type takers[] = {COT_THING_HANDOVER, COT_THING_BATCH};
    int32_t first = COT_DAY_MAX;
    for (int i = 0; i < 2; i++) {
        size_t n;
        const struct cot_thing *const *taker = cot_book_things(b, takers[i], &n);
        for (size_t k = 0; k < n; k++) {
            if (taker[k]->gone || linked(b, taker[k], COT_F_BATCH) != batch) continue;
            int64_t day = cot_thing_int(taker[k], COT_F_DAY, COT_DAY_MAX);
            if (day < first) first = (int32_t)day;
        }
    }
    return first;
}

/* A count, loss or patching: by day, then in order of place, which is that of the history. */
struct event {
    int32_t day;
    size_t at;
    const struct cot_fact *fact;
};

static int by_day(const void *x, const void *y)
{
    const struct event *a = x, *b = y;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    return (a->at > b->at) - (a->at < b->at);
}

static bool counts_or_changes(const struct cot_note *note)
{
    enum cot_kind k = note->fact->kind;
    return note->verdict == COT_BOOKED && (k == COT_K_COUNT || k == COT_K_LOST || k == COT_K_PATCHED);
}

struct gather {
    int32_t trays;               /* of the batch */
    int32_t from, last;          /* days whose counts are taken */
    struct cot_check_tray *seen; /* by number - 1; looked 0: not counted */
    bool *changed;               /* lost from or patched into before */
    bool any_changed;
    struct cot_check_figures pooled;
};

static void take_change(struct gather *g, const struct cot_fact *f)
{
    const struct cot_value *which = cot_fact_value(f, COT_F_WHICH);
    bool named = which && which->type == COT_T_NUMBERS;
    g->any_changed = true;
    for (int32_t i = 0; !named && i < g->trays; i++) g->changed[i] = true;
    for (uint32_t i = 0; named && i < which->len; i++)
        if (which->v.numbers[i] >= 1 && which->v.numbers[i] <= g->trays) g->changed[which->v.numbers[i] - 1] = true;
}

static bool sound(int64_t looked, int64_t usable)
{
    return looked > 0 && usable >= 0 && usable <= looked;
}

static void take_count(struct gather *g, const struct cot_fact *f)
{
    const struct cot_value *counts = cot_fact_value(f, COT_F_COUNTS);
    if (cot_fact_int(f, COT_F_PICKED, 0)) return;
    if (!counts || counts->type != COT_T_TRAYS) {
        int64_t looked = cot_fact_int(f, COT_F_LOOKED, 0), usable = cot_fact_int(f, COT_F_USABLE, COT_COUNT_UNKNOWN);
        int64_t trays = cot_fact_int(f, COT_F_TRAYS, g->trays);
        if (g->any_changed || !sound(looked, usable) || trays < 1) return;
        g->pooled =
            (struct cot_check_figures){.sampled = trays < looked ? trays : looked, .looked = looked, .usable = usable};
        return;
    }
    for (uint32_t i = 0; i < counts->len; i++) {
        const struct cot_tray_count *c = &counts->v.counts[i];
        if (c->tray < 1 || c->tray > g->trays || g->changed[c->tray - 1]) continue;
        if (!sound(c->looked, c->usable) || c->looked > COT_CHECK_CELLS_MOST) continue;
        g->seen[c->tray - 1] = (struct cot_check_tray){.tray = c->tray, .looked = c->looked, .usable = c->usable};
    }
}

static void take_all(struct gather *g, const struct event *event, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (event[i].fact->kind != COT_K_COUNT) take_change(g, event[i].fact);
        else if (event[i].day >= g->from && event[i].day <= g->last) take_count(g, event[i].fact);
    }
}

/* Moves what was gathered to *out; false when there is nothing. */
static bool settle(const struct gather *g, struct cot_check_figures *out)
{
    for (int32_t i = 0; i < g->trays; i++) {
        if (g->seen[i].looked == 0) continue;
        out->tray[out->trays++] = g->seen[i];
        out->looked += g->seen[i].looked;
        out->usable += g->seen[i].usable;
    }
    out->sampled = (int64_t)out->trays;
    if (out->trays > 0) return true;
    out->sampled = g->pooled.sampled;
    out->looked = g->pooled.looked;
    out->usable = g->pooled.usable;
    return out->sampled > 0;
}

static struct event *events_of(struct cot_book *b, const struct cot_thing *batch, int32_t on, size_t *n)
{
    size_t notes;
    const struct cot_note *note = cot_book_history(b, &batch->id, &notes);
    struct event *event = malloc((notes + 1) * sizeof *event);
    *n = 0;
    for (size_t i = 0; event && i < notes; i++) {
        int32_t day = (int32_t)cot_fact_int(note[i].fact, COT_F_DAY, COT_DAY_MAX);
        if (counts_or_changes(&note[i]) && day <= on) event[(*n)++] = (struct event){day, i, note[i].fact};
    }
    if (event && *n > 1) qsort(event, *n, sizeof *event, by_day);
    return event;
}

enum cot_err cot_check_figures_read(struct cot_book *b, const struct cot_thing *batch, int32_t on, int32_t count_day,
                                    struct cot_check_figures *out)
{
    int64_t trays = cot_thing_int(batch, COT_F_TRAYS, 0);
    size_t n;
    enum cot_err err = COT_MEMORY;
    *out = (struct cot_check_figures){0};
    struct gather g = {.trays = trays < 1            ? 1
                                : trays > TRAYS_MOST ? TRAYS_MOST
                                                     : (int32_t)trays,
                       .last = first_taken(b, batch)};
    struct event *event = events_of(b, batch, on, &n);
    for (int early = 0; early < 2; early++) {
        g.seen = calloc((size_t)g.trays, sizeof *g.seen);
        g.changed = calloc((size_t)g.trays, sizeof *g.changed);
        if (!out->tray) out->tray = calloc((size_t)g.trays, sizeof *out->tray);
        if (!event || !g.seen || !g.changed || !out->tray) goto out;
        g.from = early ? COT_DAY_MIN : count_day;
        g.any_changed = false;
        take_all(&g, event, n);
        if (settle(&g, out)) {
            out->early = early;
            break;
        }
        free(g.seen);
        free(g.changed);
        g.seen = NULL;
        g.changed = NULL;
    }
    err = COT_OK;
out:
    free(g.seen);
    free(g.changed);
    free(event);
    return err;
}

void cot_check_figures_free(struct cot_check_figures *f)
{
    free(f->tray);
    *f = (struct cot_check_figures){0};
}
