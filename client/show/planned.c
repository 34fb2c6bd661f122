#include "planned.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "asked.h"
#include "cotyledger/core/raising.h"
#include "cotyledger/core/sow.h"
#include "lists.h"
#include "table.h"
#include "work.h"

const char *cot_planned_state_word(enum cot_planned_state state)
{
    static const char *const words[] = {[COT_PLANNED_TO_COME] = "to_come",
                                        [COT_PLANNED_LATE] = "late",
                                        [COT_PLANNED_PART] = "part",
                                        [COT_PLANNED_DONE] = "done",
                                        [COT_PLANNED_DROPPED] = "dropped"};
    return words[state];
}

/* " 2 days late", or shorter " late"; nothing when it was on its day. */
static void put_late(int32_t late, bool brief, struct cot_buf *out)
{
    char some[COT_SOME_TEXT];
    if (late != 0 && brief) cot_buf_str(out, late > 0 ? " late" : " early");
    else if (late != 0) cot_buf_fmt(out, " %s %s", cot_some(abs(late), "day", some), late > 0 ? "late" : "early");
}

void cot_planned_words(const struct cot_planned_done *d, bool brief, struct cot_buf *out)
{
    const char *unit = d->rows ? "row" : "tray";
    char some[COT_SOME_TEXT];
    switch (d->state) {
    case COT_PLANNED_TO_COME:
        cot_buf_str(out, "to come");
        return;
    case COT_PLANNED_LATE:
        cot_buf_fmt(out, "%s late", cot_some(d->late, "day", some));
        return;
    case COT_PLANNED_DROPPED:
        cot_buf_str(out, "dropped");
        return;
    case COT_PLANNED_PART:
        cot_buf_fmt(out, "%" PRId64 " of %s sown", d->sown, cot_some(d->planned, unit, some));
        break;
    case COT_PLANNED_DONE:
        cot_buf_str(out, "sown");
        break;
    }
    put_late(d->late, brief, out);
    if (d->sown > d->planned && brief) cot_buf_fmt(out, ", %" PRId64 " more", d->sown - d->planned);
    else if (d->sown > d->planned) cot_buf_fmt(out, ", %s more", cot_some(d->sown - d->planned, unit, some));
    if (d->other && !brief) cot_buf_str(out, ", another lot or format");
}

/* --- The list ----------------------------------------------------------------------------------------------------- */

static const struct cot_col cols[] = {
    {"code", "Planned", false, false}, {"sow_day", "Sow on", false, false}, {"week", NULL, false, false},
    {"lot", "Lot", false, false},      {"format", NULL, false, false},      {"trays", NULL, true, false},
    {"tray_rows", NULL, true, false},  {"shared", NULL, false, false},      {"", "To sow", false, false},
    {"plate", NULL, false, false},     {"per_cell", NULL, true, false},     {"at_least", NULL, true, false},
    {"ready", NULL, false, false},     {"bench", "Bench", false, false},    {"lines", NULL, false, false},
    {"pins", NULL, false, false},      {"state", NULL, false, false},       {"sown", NULL, true, false},
    {"late_days", NULL, true, false},  {"", "State", false, false},
};

static void put_number(struct cot_table *t, const struct cot_thing *p, enum cot_field f)
{
    if (cot_thing_value(p, f)) cot_table_int(t, cot_thing_int(p, f, 0));
    else cot_table_text(t, NULL);
}

static void put_amount(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *p)
{
    int64_t trays = cot_thing_int(p, COT_F_TRAYS, 0), rows = cot_thing_int(p, COT_F_TRAY_ROWS, 0);
    const char *format = cot_name_of(cli, p, COT_F_FORMAT);
    if (trays > 0) cot_table_fmt(t, "%lld x %s", (long long)trays, format);
    else cot_table_fmt(t, "%lld rows, %s", (long long)rows, format);
}

static void put_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *p,
                    const struct cot_planned_done *d)
{
    char week[COT_WEEK_TEXT];
    struct cot_buf state = {0};
    cot_week_text(d->day, week);
    cot_planned_words(d, true, &state);
    cot_table_text(t, cot_thing_name(p));
    cot_table_day(t, d->day);
    cot_table_text(t, week);
    cot_table_field(cli, t, p, COT_F_LOT);
    cot_table_field(cli, t, p, COT_F_FORMAT);
    put_number(t, p, COT_F_TRAYS);
    put_number(t, p, COT_F_TRAY_ROWS);
    cot_table_field(cli, t, p, COT_F_SHARED);
    put_amount(cli, t, p);
    cot_table_field(cli, t, p, COT_F_PLATE);
    put_number(t, p, COT_F_PER_CELL);
    put_number(t, p, COT_F_AT_LEAST);
    cot_table_field(cli, t, p, COT_F_READY);
    cot_table_field(cli, t, p, COT_F_BENCH);
    cot_table_field(cli, t, p, COT_F_LINES);
    cot_table_text(t, cot_thing_value(p, COT_F_PINS) ? cot_thing_text(p, COT_F_PINS) : NULL);
    cot_table_text(t, cot_planned_state_word(d->state));
    cot_table_int(t, d->sown);
    cot_table_int(t, d->late);
    if (state.failed) t->failed = true;
    cot_table_text(t, state.s);
    cot_buf_free(&state);
}

static int by_day(const void *a, const void *b)
{
    const struct cot_thing *x = *(const struct cot_thing *const *)a, *y = *(const struct cot_thing *const *)b;
    int64_t i = cot_thing_int(x, COT_F_SOW_DAY, 0), k = cot_thing_int(y, COT_F_SOW_DAY, 0);
    if (i != k) return i < k ? -1 : 1;
    int c = strcmp(cot_thing_name(x), cot_thing_name(y));
    return c != 0 ? c : cot_id_cmp(&x->id, &y->id);
}

/* The last day on which it can be sown so that the line has its plants on its day, or as late as will do;
 * COT_DAY_NONE: not known. */
static int32_t sow_by(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill_line *l)
{
    struct cot_raising g;
    const struct cot_thing *lot = cot_thing_of(cli, t, COT_F_LOT);
    const struct cot_thing *variety = lot ? cot_thing_of(cli, lot, COT_F_VARIETY) : NULL;
    const struct cot_thing *crop = variety ? cot_thing_of(cli, variety, COT_F_CROP) : NULL;
    int32_t late = (int32_t)cot_thing_int(l->line, COT_F_LATE, 0);
    if (!crop || cot_lot_of_plugs(lot)) return COT_DAY_NONE;
    return cot_raising_back(cli->book, crop, cot_thing_of(cli, t, COT_F_FORMAT), l->date + late, &g);
}

/* "A-0001-B, Alder Ford, 2027-04-05 (W14): short by 120 plants; sow by 2027-03-01 (W09)". */
static void put_waiting(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill_line *l, bool done,
                        struct cot_buf *out)
{
    char date[COT_DATE_TEXT], some[COT_SOME_TEXT];
    int32_t by = done ? COT_DAY_NONE : sow_by(cli, t, l);
    cot_buf_fmt(out, "%s, %s, %s: ", cot_thing_name(l->line), l->farm ? cot_thing_name(l->farm) : "?",
                cot_date(l->date, date));
    if (l->short_by > 0) cot_buf_fmt(out, "short by %s", cot_some(l->short_by, "plant", some));
    else cot_buf_str(out, cot_fill_word(l->verdict));
    if (by != COT_DAY_NONE) cot_buf_fmt(out, "; sow by %s", cot_date(by, date));
}

/* Below the list: which lines wait for what is late or was sown in part. */
static enum cot_err print_late(struct cot_cli *cli, const struct cot_thing *const *all, size_t n, int32_t on)
{
    struct cot_fill fill = {0};
    struct cot_buf out = {0};
    bool read = false;
    enum cot_err err = COT_OK;
    for (size_t i = 0; err == COT_OK && i < n; i++) {
        struct cot_planned_done d;
        const struct cot_value *v = cot_thing_value(all[i], COT_F_LINES);
        if (!v || cot_planned_read(cli->book, all[i], on, &d) != COT_OK) continue;
        if (d.state != COT_PLANNED_LATE && d.state != COT_PLANNED_PART) continue;
        if (!read) err = cot_fill_read(cli->book, on, &fill);
        if (!read) cot_buf_str(&out, "\n");
        read = true;
        for (uint32_t k = 0; err == COT_OK && v->type == COT_T_IDS && k < v->len; k++) {
            const struct cot_fill_line *l = cot_fill_line_of(&fill, &v->v.ids[k]);
            struct cot_buf b = {0};
            if (!l || l->short_by == 0) continue;
            cot_buf_fmt(&b, "Waits for %s: ", cot_thing_name(all[i]));
            put_waiting(cli, all[i], l, false, &b);
            if (b.failed) out.failed = true;
            else cot_put_paragraph(&out, b.s, 0, 2);
            cot_buf_free(&b);
        }
    }
    if (err == COT_OK && (out.len > 1 || out.failed)) err = cot_print(cli, &out);
    else if (err != COT_OK) (void)cot_fail(&cli->fault, err, "unable to read the book");
    cot_buf_free(&out);
    cot_fill_free(&fill);
    return err;
}

enum cot_err cot_planned_print(struct cot_cli *cli, int32_t on, enum cot_form form)
{
    size_t n;
    struct cot_table t;
    const struct cot_thing **all = cot_things_sorted(cli->book, COT_THING_PLANNED, &n);
    if (!all) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    qsort(all, n, sizeof *all, by_day);
    cot_table_init(&t, cols, sizeof cols / sizeof cols[0]);
    for (size_t i = 0; i < n; i++) {
        struct cot_planned_done d;
        if (cot_planned_read(cli->book, all[i], on, &d) == COT_OK) put_row(cli, &t, all[i], &d);
    }
    enum cot_err err = cot_day_said(cli, on, form);
    if (err == COT_OK) err = cot_keyed_print(cli, &t, form, "There are no planned sowings.");
    if (err == COT_OK && form == COT_FORM_TEXT) err = print_late(cli, all, n, on);
    cot_table_free(&t);
    free(all);
    return err;
}

/* --- One ------------------------------------------------------------------------------------------------------------
 */

static void put_batches(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    size_t n;
    const struct cot_thing *const *all = cot_book_things(cli->book, COT_THING_BATCH, &n);
    for (size_t i = 0; i < n; i++) {
        char date[COT_DATE_TEXT];
        struct cot_buf b = {0};
        const struct cot_thing *plan = cot_thing_of(cli, all[i], COT_F_PLANNED);
        int32_t day = (int32_t)cot_thing_int(all[i], COT_F_DAY, COT_DAY_MAX);
        if (plan != t || all[i]->gone || day > on) continue;
        cot_buf_fmt(&b, "%s: ", cot_thing_name(all[i]));
        cot_batch_words(cli, all[i], &b);
        cot_buf_fmt(&b, ", %s", cot_date(day, date));
        if (b.failed) out->failed = true;
        else cot_put_pair(out, "sown for it", b.s);
        cot_buf_free(&b);
    }
}

/* Fields that the plan may not move, in people's words. */
static void put_pins(const struct cot_thing *t, struct cot_buf *out)
{
    const struct cot_kind_row *row = cot_kind_row(COT_K_PLANNED);
    struct cot_buf b = {0};
    for (unsigned i = 0; i < row->field_count; i++) {
        char label[COT_LABEL_TEXT];
        if (!cot_pinned(t, row->fields[i].field)) continue;
        cot_field_label(row->fields[i].field, label);
        cot_buf_fmt(&b, "%s%s", b.len ? ", " : "", label);
    }
    if (b.failed) out->failed = true;
    else cot_put_pair(out, "pinned, kept as you said", b.s);
    cot_buf_free(&b);
}

/* The lines that it is for, and how they stand as long as it is not sown, or as it was sown. */
static void put_lines(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                      const struct cot_planned_done *d, struct cot_buf *out)
{
    const struct cot_value *v = cot_thing_value(t, COT_F_LINES);
    bool done = d->state == COT_PLANNED_DONE || d->state == COT_PLANNED_DROPPED;
    for (uint32_t i = 0; v && v->type == COT_T_IDS && i < v->len; i++) {
        const struct cot_fill_line *l = cot_fill_line_of(fill, &v->v.ids[i]);
        struct cot_buf b = {0};
        if (!l) continue;
        put_waiting(cli, t, l, done, &b);
        if (b.failed) out->failed = true;
        else cot_put_pair(out, done ? "was for" : "waits for it", b.s);
        cot_buf_free(&b);
    }
}

void cot_planned_put_text(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                          struct cot_buf *out)
{
    int32_t on = fill->on;
    char date[COT_DATE_TEXT];
    struct cot_planned_done d;
    struct cot_buf state = {0};
    if (cot_planned_read(cli->book, t, on, &d) != COT_OK) return;
    cot_buf_fmt(out, "\nAs of %s\n", cot_date(on, date));
    cot_planned_words(&d, false, &state);
    if (state.failed) out->failed = true;
    else cot_put_pair(out, "state", state.s);
    cot_buf_free(&state);
    put_batches(cli, t, on, out);
    put_lines(cli, t, fill, &d, out);
    put_pins(t, out);
}

void cot_planned_put_json(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    char day[COT_DAY_TEXT];
    struct cot_planned_done d;
    if (cot_planned_read(cli->book, t, on, &d) != COT_OK) return;
    cot_day_text(on, day);
    cot_buf_fmt(out,
                ",\"done\":{\"on\":\"%s\",\"state\":\"%s\",\"unit\":\"%s\",\"planned\":%" PRId64 ",\"sown\":%" PRId64,
                day, cot_planned_state_word(d.state), d.rows ? "rows" : "trays", d.planned, d.sown);
    cot_buf_fmt(out, ",\"batches\":%d,\"late_days\":%d,\"other\":%s}", d.batches, d.late, d.other ? "true" : "false");
}
