/* From a lot to a farm and back. */
#include "cotyledger/core/trace.h"

#include <stdlib.h>
#include <string.h>

#define STEPS_MOST 64 /* of potting on: a ring of parents, which nobody can sow, ends there */

struct tracing {
    struct cot_book *book;
    struct cot_trace *out;
    const struct cot_thing *const *batch;
    size_t batches, room;
    bool *in; /* per batch */
    struct cot_handover_row *handover;
    size_t handovers;
};

void cot_trace_free(struct cot_trace *t)
{
    free(t->lot);
    free(t->row);
    *t = (struct cot_trace){0};
}

static const struct cot_thing *named(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(b, id) : NULL;
}

const struct cot_thing *cot_trace_lot(struct cot_book *b, const struct cot_thing *batch)
{
    for (int i = 0; i < STEPS_MOST && batch; i++) {
        const struct cot_thing *lot = named(b, batch, COT_F_LOT);
        if (lot) return lot;
        batch = named(b, batch, COT_F_BATCH);
    }
    return NULL;
}

/* --- What belongs to it ------------------------------------------------------------------------------------------- */

static size_t number_of(const struct tracing *t, const struct cot_thing *batch)
{
    size_t i = 0;
    while (i < t->batches && t->batch[i] != batch) i++;
    return i;
}

/* The batch and those it was potted on from. */
static void mark_up(struct tracing *t, const struct cot_thing *batch)
{
    for (int i = 0; i < STEPS_MOST && batch; i++) {
        size_t n = number_of(t, batch);
        if (n < t->batches) t->in[n] = true;
        batch = named(t->book, batch, COT_F_BATCH);
    }
}

/* Those potted on from a marked batch, again and again. */
static void mark_down(struct tracing *t)
{
    for (bool more = true; more;) {
        more = false;
        for (size_t i = 0; i < t->batches; i++) {
            const struct cot_thing *parent = named(t->book, t->batch[i], COT_F_BATCH);
            size_t n = parent ? number_of(t, parent) : t->batches;
            if (t->in[i] || n == t->batches || !t->in[n]) continue;
            t->in[i] = more = true;
        }
    }
}

static bool wants(const struct cot_thing *of, const struct cot_handover_row *h)
{
    if (of->type == COT_THING_FARM) return h->farm == of;
    if (of->type == COT_THING_LINE) return h->line == of;
    return of->type == COT_THING_HANDOVER && h->handover == of;
}

static enum cot_err mark(struct tracing *t, const struct cot_thing *of, struct cot_fault *fault)
{
    switch (of->type) {
    case COT_THING_LOT:
        for (size_t i = 0; i < t->batches; i++) t->in[i] = named(t->book, t->batch[i], COT_F_LOT) == of;
        mark_down(t);
        return COT_OK;
    case COT_THING_BATCH:
        mark_up(t, of);
        mark_down(t);
        return COT_OK;
    case COT_THING_FARM:
    case COT_THING_LINE:
    case COT_THING_HANDOVER:
        for (size_t i = 0; i < t->handovers; i++)
            if (wants(of, &t->handover[i])) mark_up(t, t->handover[i].batch);
        return COT_OK;
    default:
        return cot_fail(fault, COT_INVALID, "a %s cannot be traced", cot_thing_word(of->type));
    }
}

/* --- Rows --------------------------------------------------------------------------------------------------------- */

static struct cot_trace_row *add(struct tracing *t, enum cot_trace_what what, int32_t day,
                                 const struct cot_thing *batch)
{
    struct cot_trace *o = t->out;
    if (o->rows == t->room) {
        size_t more = t->room ? 2 * t->room : 64;
        struct cot_trace_row *grown = realloc(o->row, more * sizeof *grown);
        if (!grown) return NULL;
        o->row = grown;
        t->room = more;
    }
    struct cot_trace_row *r = &o->row[o->rows++];
    const struct cot_thing *lot = cot_trace_lot(t->book, batch);
    *r = (struct cot_trace_row){.what = what,
                                .day = day,
                                .lot = lot,
                                .variety = named(t->book, lot, COT_F_VARIETY),
                                .batch = batch,
                                .parent = named(t->book, batch, COT_F_BATCH),
                                .shared = cot_thing_value(batch, COT_F_SHARED) != NULL};
    o->unknown = o->unknown || !lot;
    return r;
}

static bool add_batch(struct tracing *t, const struct cot_thing *batch, bool all)
{
    struct cot_stand s;
    bool potted = cot_thing_id(batch, COT_F_BATCH) != NULL;
    struct cot_trace_row *r = add(t, potted ? COT_TRACE_POTTED : COT_TRACE_SOWN,
                                  (int32_t)cot_thing_int(batch, COT_F_DAY, COT_DAY_NONE), batch);
    if (!r) return false;
    r->trays = cot_thing_int(batch, COT_F_TRAYS, 0);
    r->plants = cot_thing_int(batch, COT_F_PLANTS, 0);
    if (!all || cot_stand_read(t->book, batch, t->out->on, &s) != COT_OK || s.likely_today <= s.out) return true;
    if (!(r = add(t, COT_TRACE_STANDS, t->out->on, batch))) return false;
    r->plants = s.likely_today - s.out;
    return true;
}

static bool add_handover(struct tracing *t, const struct cot_handover_row *h)
{
    int64_t back = h->refused + h->back;
    for (int k = 0; k < 1 + (back > 0); k++) {
        struct cot_trace_row *r = add(t, k ? COT_TRACE_BACK : COT_TRACE_HANDED, h->day, h->batch);
        if (!r) return false;
        r->line = h->line;
        r->farm = h->farm;
        r->handover = h->handover;
        r->trays = k ? 0 : h->trays;
        r->plants = k ? back : h->plants;
    }
    return true;
}

static int by_lot(const void *x, const void *y)
{
    const struct cot_trace_row *a = x, *b = y;
    int c = strcmp(a->lot ? cot_thing_name(a->lot) : "", b->lot ? cot_thing_name(b->lot) : "");
    if (c != 0) return c;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    if (a->what != b->what) return a->what < b->what ? -1 : 1;
    c = strcmp(cot_thing_name(a->batch), cot_thing_name(b->batch));
    return c != 0 ? c : strcmp(a->line ? cot_thing_name(a->line) : "", b->line ? cot_thing_name(b->line) : "");
}

/* The lots of the rows, each once; of a lot that was never sown itself alone. */
static enum cot_err list_lots(struct tracing *t, const struct cot_thing *of)
{
    struct cot_trace *o = t->out;
    o->lot = malloc((o->rows + 1) * sizeof *o->lot);
    if (!o->lot) return COT_MEMORY;
    for (size_t i = 0; i < o->rows; i++)
        if (o->row[i].lot && (o->lots == 0 || o->lot[o->lots - 1] != o->row[i].lot)) o->lot[o->lots++] = o->row[i].lot;
    if (o->lots == 0 && of->type == COT_THING_LOT) o->lot[o->lots++] = of;
    return COT_OK;
}

static enum cot_err add_rows(struct tracing *t, const struct cot_thing *of)
{
    bool all = of->type == COT_THING_LOT || of->type == COT_THING_BATCH;
    for (size_t i = 0; i < t->batches; i++)
        if (t->in[i] && !add_batch(t, t->batch[i], all)) return COT_MEMORY;
    for (size_t i = 0; i < t->handovers; i++) {
        const struct cot_handover_row *h = &t->handover[i];
        size_t n = number_of(t, h->batch);
        bool mine = all ? n < t->batches && t->in[n] : wants(of, h);
        if (mine && !add_handover(t, h)) return COT_MEMORY;
    }
    if (t->out->rows > 1) qsort(t->out->row, t->out->rows, sizeof *t->out->row, by_lot);
    return list_lots(t, of);
}

enum cot_err cot_trace_read(struct cot_book *b, const struct cot_thing *of, int32_t on, struct cot_trace *out,
                            struct cot_fault *fault)
{
    struct tracing t = {.book = b, .out = out};
    *out = (struct cot_trace){.on = on};
    enum cot_err err = cot_handovers_read(b, on, &t.handover, &t.handovers);
    t.batch = cot_book_things(b, COT_THING_BATCH, &t.batches);
    t.in = calloc(t.batches + 1, sizeof *t.in);
    if (err == COT_OK && !t.in) err = COT_MEMORY;
    if (err == COT_OK) err = mark(&t, of, fault);
    if (err == COT_OK) err = add_rows(&t, of);
    free(t.in);
    free(t.handover);
    if (err != COT_OK) cot_trace_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}
