#include "planned.h"

#include <string.h>

#include "cotyledger/core/place.h"
#include "cotyledger/core/planned.h"
#include "cotyledger/wire/sheet.h"
#include "sowing.h"

static bool said(const struct cot_fact *f, enum cot_field field)
{
    const struct cot_value *v = cot_fact_value(f, field);
    return v && v->type != COT_T_NONE;
}

/* Clears what the thing has and the change does not speak of. */
static bool give_way(struct cot_fact *f, const struct cot_thing *t, enum cot_field field)
{
    return cot_fact_value(f, field) || !cot_thing_value(t, field) || cot_fact_clear(f, field);
}

static bool swap_measure(struct cot_fact *f, const struct cot_thing *t)
{
    if (said(f, COT_F_TRAYS)) return give_way(f, t, COT_F_TRAY_ROWS) && give_way(f, t, COT_F_SHARED);
    return !said(f, COT_F_TRAY_ROWS) || give_way(f, t, COT_F_TRAYS);
}

static void leave_out(struct cot_fact *f, enum cot_field field)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < f->value_count; i++)
        if (f->value[i].field != field) f->value[kept++] = f->value[i];
    f->value_count = kept;
}

static bool pin(struct cot_job *w, const struct cot_thing *t)
{
    const struct cot_kind_row *row = cot_kind_row(COT_K_PLANNED);
    struct cot_buf pins = {0};
    for (unsigned i = 0; i < row->field_count; i++) {
        enum cot_field f = row->fields[i].field;
        bool given = cot_fact_value(&w->fact, f) && f != COT_F_TEXT;
        if (given || (t && cot_pinned(t, f))) cot_buf_fmt(&pins, "%s%s", pins.len ? " " : "", cot_field_row(f)->name);
    }
    char *kept = pins.failed || !pins.s ? NULL : cot_keep_text(w->args.keep, pins.s, pins.len);
    size_t len = pins.len;
    cot_buf_free(&pins);
    return len == 0 || (kept && cot_fact_set_text(&w->fact, COT_F_PINS, kept, len));
}

static const struct cot_value *said_or_stands(const struct cot_job *w, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_value *v = cot_fact_value(&w->fact, f);
    return v || !t ? v : cot_thing_value(t, f);
}

static const struct cot_thing *named_by(const struct cot_job *w, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_value *v = said_or_stands(w, t, f);
    return v && v->type == COT_T_ID ? cot_book_thing(w->cli->book, v->v.ids) : NULL;
}

static int64_t number_of(const struct cot_job *w, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_value *v = said_or_stands(w, t, f);
    return v && v->type != COT_T_NONE ? v->v.i : 0;
}

/* A day that is past, or on which nobody works. */
static void warn_day(struct cot_job *w, int32_t day)
{
    char date[COT_DATE_TEXT], next[COT_DATE_TEXT];
    struct cot_days days;
    if (!cot_fact_value(&w->fact, COT_F_SOW_DAY)) return;
    if (day < w->today) cot_answer_warn(&w->answer, "%s is past.", cot_date(day, date));
    if (cot_days_read(w->cli->book, &days) == COT_OK && !cot_working_day(&days, day)) {
        int32_t after = cot_working_after(&days, day);
        cot_answer_warn(&w->answer, "nobody works on %s%s%s.", cot_date(day, date),
                        after == COT_DAY_NONE ? "" : "; the next working day is ",
                        after == COT_DAY_NONE ? "" : cot_date(after, next));
    }
    cot_days_free(&days);
}

static void warn(struct cot_job *w, const struct cot_thing *t)
{
    int32_t day = (int32_t)number_of(w, t, COT_F_SOW_DAY);
    warn_day(w, day);
    cot_warn_sowing(w, &(struct cot_sowing_words){.lot = named_by(w, t, COT_F_LOT),
                                                  .format = named_by(w, t, COT_F_FORMAT),
                                                  .plate = named_by(w, t, COT_F_PLATE),
                                                  .trays = number_of(w, t, COT_F_TRAYS),
                                                  .rows = number_of(w, t, COT_F_TRAY_ROWS),
                                                  .per_cell = number_of(w, t, COT_F_PER_CELL),
                                                  .day = day});
}

enum cot_err cot_planned_prepare(struct cot_job *w, const struct cot_thing *t)
{
    struct cot_fault *fault = &w->cli->fault;
    const struct cot_value *pins = cot_fact_value(&w->fact, COT_F_PINS);
    if (t && t->gone) {
        (void)cot_fail(fault, COT_INVALID, "%s: the planned sowing was dropped", cot_thing_name(t));
        return cot_hint(fault, "`cotyl add planned` plans another");
    }
    if (t && !swap_measure(&w->fact, t)) return cot_fail(fault, COT_INTERNAL, "too many fields for one entry");
    if (w->fact.value_count > 0) warn(w, t);
    if (!t && pins && pins->type == COT_T_NONE) {
        leave_out(&w->fact, COT_F_PINS);
        return COT_OK;
    }
    if (pins || w->fact.value_count == 0) return COT_OK;
    return pin(w, t) ? COT_OK : cot_fail(fault, COT_MEMORY, "out of memory");
}

enum cot_err cot_planned_find(struct cot_job *w, const char *typed, const struct cot_thing **out)
{
    enum cot_err err = cot_find_coded(w->cli, COT_THING_PLANNED, typed, out);
    if (err == COT_OK && (*out)->gone)
        cot_answer_warn(&w->answer, "the planned sowing %s was dropped.", cot_thing_name(*out));
    return err;
}
