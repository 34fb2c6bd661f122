/* A planned sowing, and what was sown for it. */
#include "cotyledger/core/planned.h"

#include <string.h>

bool cot_pinned(const struct cot_thing *planned, enum cot_field f)
{
    const char *name = cot_field_row(f)->name, *p = cot_thing_text(planned, COT_F_PINS);
    size_t len = strlen(name);
    while (*p) {
        size_t n = strcspn(p, " ");
        if (n == len && memcmp(p, name, n) == 0) return true;
        p += n + (p[n] == ' ');
    }
    return false;
}

static bool same(const struct cot_thing *x, const struct cot_thing *y, enum cot_field f)
{
    const struct cot_id *a = cot_thing_id(x, f), *b = cot_thing_id(y, f);
    return a && b && cot_id_cmp(a, b) == 0;
}

static void add(const struct cot_thing *planned, const struct cot_thing *batch, struct cot_planned_done *out)
{
    int32_t day = (int32_t)cot_thing_int(batch, COT_F_DAY, COT_DAY_MAX);
    out->batches++;
    out->sown += cot_thing_int(batch, out->rows ? COT_F_TRAY_ROWS : COT_F_TRAYS, 0);
    if (out->first == COT_DAY_NONE || day < out->first) out->first = day;
    if (out->last == COT_DAY_NONE || day > out->last) out->last = day;
    if (!same(planned, batch, COT_F_LOT) || !same(planned, batch, COT_F_FORMAT)) out->other = true;
}

/* An old reference and the identity it stands for meet in the thing. */
static bool carries_out(struct cot_book *b, const struct cot_thing *batch, const struct cot_thing *planned)
{
    const struct cot_id *id = cot_thing_id(batch, COT_F_PLANNED);
    const struct cot_thing *t = id ? cot_book_thing(b, id) : NULL;
    return t && cot_id_cmp(&t->id, &planned->id) == 0;
}

static enum cot_planned_state state_of(const struct cot_thing *planned, const struct cot_planned_done *d, int32_t on)
{
    if (planned->gone && d->batches == 0) return COT_PLANNED_DROPPED;
    if (d->batches > 0) return d->sown >= d->planned ? COT_PLANNED_DONE : COT_PLANNED_PART;
    return d->day < on ? COT_PLANNED_LATE : COT_PLANNED_TO_COME;
}

enum cot_err cot_planned_read(struct cot_book *b, const struct cot_thing *planned, int32_t on,
                              struct cot_planned_done *out)
{
    size_t n;
    *out = (struct cot_planned_done){.first = COT_DAY_NONE, .last = COT_DAY_NONE};
    if (planned->type != COT_THING_PLANNED) return COT_NOT_FOUND;
    int64_t trays = cot_thing_int(planned, COT_F_TRAYS, 0);
    out->rows = trays == 0;
    out->planned = out->rows ? cot_thing_int(planned, COT_F_TRAY_ROWS, 0) : trays;
    out->day = (int32_t)cot_thing_int(planned, COT_F_SOW_DAY, COT_DAY_MAX);
    const struct cot_thing *const *all = cot_book_things(b, COT_THING_BATCH, &n);
    for (size_t i = 0; i < n; i++)
        if (!all[i]->gone && cot_thing_int(all[i], COT_F_DAY, COT_DAY_MAX) <= on && carries_out(b, all[i], planned))
            add(planned, all[i], out);
    out->state = state_of(planned, out, on);
    if (out->batches > 0) out->late = out->first - out->day;
    else if (out->state == COT_PLANNED_LATE) out->late = on - out->day;
    return COT_OK;
}
