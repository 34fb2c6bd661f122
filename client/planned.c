#include "planned.h"

#include <string.h>

#include "cotyledger/core/planned.h"
#include "cotyledger/wire/sheet.h"

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

enum cot_err cot_planned_prepare(struct cot_job *w, const struct cot_thing *t)
{
    struct cot_fault *fault = &w->cli->fault;
    const struct cot_value *pins = cot_fact_value(&w->fact, COT_F_PINS);
    if (t && t->gone) {
        (void)cot_fail(fault, COT_INVALID, "%s: the planned sowing was dropped", cot_thing_name(t));
        return cot_hint(fault, "`cotyl add planned` plans another");
    }
    if (t && !swap_measure(&w->fact, t)) return cot_fail(fault, COT_INTERNAL, "too many fields for one entry");
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
