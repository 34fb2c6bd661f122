/* Lists for eyes choose columns that fit; lists for programs have every field. */
#include "lists.h"

#include <stdlib.h>
#include <string.h>

#include "asked.h"
#include "cotyledger/core/place.h"
#include "cotyledger/wire/sheet.h"
#include "work.h"

void cot_table_field(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, enum cot_field f)
{
    const struct cot_value *v = cot_thing_value(thing, f);
    struct cot_buf b = {0};
    if (v && v->type != COT_T_NONE) cot_value_text(cli->book, v, &b);
    if (b.failed) t->failed = true;
    cot_table_text(t, b.s);
    cot_buf_free(&b);
}

void cot_table_range(struct cot_table *t, const struct cot_thing *thing, enum cot_field low, enum cot_field high)
{
    int64_t a = cot_thing_int(thing, low, -1), b = cot_thing_int(thing, high, -1);
    if (a < 0 && b < 0) cot_table_text(t, NULL);
    else if (b < 0 || a == b) cot_table_fmt(t, "%lld", (long long)a);
    else if (a < 0) cot_table_fmt(t, "to %lld", (long long)b);
    else cot_table_fmt(t, "%lld to %lld", (long long)a, (long long)b);
}

/* --- For eyes ----------------------------------------------------------------------------------------------------- */

static const struct cot_col farm_cols[] = {
    {"", "Farm", false, false}, {"", "House's own", false, false}, {"", "Contact", false, false}};
static void farm_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    (void)on;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_text(t, cot_thing_int(thing, COT_F_OWN, 0) ? "yes" : "");
    cot_table_field(cli, t, thing, COT_F_CONTACT);
}

static const struct cot_col crop_cols[] = {
    {"", "Crop", false, false},     {"", "Days in tray", true, false}, {"", "Chamber days", true, false},
    {"", "Count day", true, false}, {"", "Emergence", true, false},    {"", "Usable", true, false},
};
static void crop_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    (void)on;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_range(t, thing, COT_F_TRAY_DAYS, COT_F_TRAY_DAYS_MAX);
    cot_table_range(t, thing, COT_F_CHAMBER_DAYS, COT_F_CHAMBER_DAYS);
    cot_table_range(t, thing, COT_F_COUNT_DAYS, COT_F_COUNT_DAYS);
    cot_table_field(cli, t, thing, COT_F_EMERGENCE);
    cot_table_field(cli, t, thing, COT_F_USABLE_SHARE);
}

static const struct cot_col variety_cols[] = {{"", "Variety", false, false}, {"", "Crop", false, false}};
static void variety_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    (void)on;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_field(cli, t, thing, COT_F_CROP);
}

static const struct cot_col format_cols[] = {
    {"", "Tray format", false, false}, {"", "Cells", true, false},  {"", "Rows x columns", true, false},
    {"", "Cell volume", true, false},  {"", "Length", true, false}, {"", "Width", true, false},
};
static void format_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    (void)on;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_int(t, cot_format_cells(thing));
    cot_table_fmt(t, "%lld x %lld", (long long)cot_thing_int(thing, COT_F_ROWS, 0),
                  (long long)cot_thing_int(thing, COT_F_COLS, 0));
    cot_table_field(cli, t, thing, COT_F_CELL_UL);
    cot_table_field(cli, t, thing, COT_F_LENGTH_UM);
    cot_table_field(cli, t, thing, COT_F_WIDTH_UM);
}

static const struct cot_col plate_cols[] = {
    {"", "Seeder plate", false, false},
    {"", "Cells at a drop", true, false},
    {"", "Holes a cell", true, false},
    {"", "Hole", true, false},
};
static void plate_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    (void)on;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_int(t, cot_thing_int(thing, COT_F_CELLS, 0));
    cot_table_int(t, cot_thing_int(thing, COT_F_HOLES, 0));
    cot_table_field(cli, t, thing, COT_F_HOLE_UM);
}

static void put_germination(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *lot)
{
    int64_t tested = cot_thing_int(lot, COT_F_TEST_SEEDS, 0), up = cot_thing_int(lot, COT_F_TEST_GERM, 0);
    struct cot_buf b = {0};
    if (tested > 0) {
        cot_table_fmt(t, "%lld of %lld", (long long)up, (long long)tested);
        return;
    }
    const struct cot_value *label = cot_thing_value(lot, COT_F_LABEL_GERM);
    if (label && label->type == COT_T_INT) {
        cot_value_text(cli->book, label, &b);
        cot_buf_str(&b, " (label)");
    }
    if (b.failed) t->failed = true;
    cot_table_text(t, b.s);
    cot_buf_free(&b);
}

static void put_marks(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *lot, int32_t on)
{
    static const struct {
        enum cot_field f;
        const char *word;
    } marks[] = {
        {COT_F_WITHDRAWN, "withdrawn"},
        {COT_F_TREATED, "treated"},
        {COT_F_ORGANIC, "organic"},
    };
    struct cot_buf b = {0};
    for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
        if (cot_thing_int(lot, marks[i].f, 0)) cot_buf_fmt(&b, "%s%s", b.len ? ", " : "", marks[i].word);
    if (cot_test_old(cli->book, lot, on)) cot_buf_fmt(&b, "%stest again", b.len ? ", " : "");
    const char *owner = cot_name_of(cli, lot, COT_F_OWNER);
    if (owner[0]) cot_buf_fmt(&b, "%sof %s", b.len ? ", " : "", owner);
    if (b.failed) t->failed = true;
    cot_table_text(t, b.s);
    cot_buf_free(&b);
}

static const struct cot_col lot_cols[] = {
    {"", "Seed lot", false, false},  {"", "Variety", false, false}, {"", "Form", false, false},
    {"", "Germinated", true, false}, {"", "Stock", true, false},    {"", "Marks", false, false},
};
static void lot_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    bool seeds = cot_thing_value(thing, COT_F_STOCK_SEEDS) != NULL;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_field(cli, t, thing, COT_F_VARIETY);
    cot_table_field(cli, t, thing, COT_F_FORM);
    put_germination(cli, t, thing);
    cot_table_field(cli, t, thing, seeds ? COT_F_STOCK_SEEDS : COT_F_STOCK_MG);
    put_marks(cli, t, thing, on);
}

#define VIEW(type, name)                                                                                               \
    {                                                                                                                  \
        type, name##_cols, sizeof name##_cols / sizeof name##_cols[0], name##_row                                      \
    }
static const struct cot_view own_views[] = {
    VIEW(COT_THING_FARM, farm),     VIEW(COT_THING_CROP, crop),   VIEW(COT_THING_VARIETY, variety),
    VIEW(COT_THING_FORMAT, format), VIEW(COT_THING_PLATE, plate), VIEW(COT_THING_LOT, lot),
};

static const struct cot_view *view_of(enum cot_thing_type type)
{
    const struct cot_view *others[] = {&cot_place_view, &cot_raising_view};
    for (size_t i = 0; i < sizeof own_views / sizeof own_views[0]; i++)
        if (own_views[i].type == type) return &own_views[i];
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        if (others[i]->type == type) return others[i];
    return NULL;
}

static enum cot_err print_view(struct cot_cli *cli, const struct cot_sort *sort, const struct cot_thing *const *things,
                               size_t n, int32_t on)
{
    struct cot_table t;
    char none[60];
    const struct cot_view *view = view_of(sort->type);
    if (!view) return cot_fail(&cli->fault, COT_INTERNAL, "a sort of things without a list");
    cot_table_init(&t, view->col, view->cols);
    for (size_t i = 0; i < n; i++) view->row(cli, &t, things[i], on);
    snprintf(none, sizeof none, "There are no %s yet.", sort->plural);
    enum cot_err err = cot_table_print(cli, &t, COT_FORM_TEXT, none);
    cot_table_free(&t);
    return err;
}

/* --- For programs ------------------------------------------------------------------------------------------------- */

/* A share of 1 % or less keeps its sign in CSV: `import` would not know whether 0.5 is a fraction. */
static bool wants_sign(const struct cot_value *v, enum cot_form form)
{
    const char *unit = cot_field_row((enum cot_field)v->field)->unit;
    return form == COT_FORM_CSV && v->type == COT_T_INT && v->v.i > 0 && v->v.i <= 10 && strcmp(unit, "per mille") == 0;
}

static enum cot_err print_fields(struct cot_cli *cli, const struct cot_sort *sort,
                                 const struct cot_thing *const *things, size_t n, enum cot_form form)
{
    const struct cot_kind_row *kind = cot_kind_row(sort->kind);
    char keys[COT_FACT_FIELDS_MAX][COT_KEY_TEXT];
    struct cot_col col[COT_FACT_FIELDS_MAX];
    struct cot_table t;
    for (unsigned i = 0; i < kind->field_count; i++) {
        enum cot_field f = kind->fields[i].field;
        cot_field_key(f, keys[i]);
        col[i] = (struct cot_col){keys[i], keys[i], cot_field_is_number(f), cot_field_row(f)->type == COT_T_BOOL};
    }
    cot_table_init(&t, col, kind->field_count);
    for (size_t k = 0; k < n; k++) {
        for (unsigned i = 0; i < kind->field_count; i++) {
            const struct cot_value *v = cot_thing_value(things[k], kind->fields[i].field);
            struct cot_buf b = {0};
            if (v && v->type != COT_T_NONE && wants_sign(v, form)) cot_value_text(cli->book, v, &b);
            else if (v && v->type != COT_T_NONE) cot_field_plain(cli->book, v, &b);
            if (b.failed) t.failed = true;
            cot_table_text(&t, b.s);
            cot_buf_free(&b);
        }
    }
    enum cot_err err = cot_table_print(cli, &t, form, "");
    cot_table_free(&t);
    return err;
}

/* --- Batches ------------------------------------------------------------------------------------------------------ */

static const struct cot_col batch_cols[] = {
    {"batch", "Batch", false, false},  {"variety", "Variety", false, false},  {"format", NULL, false, false},
    {"trays", NULL, true, false},      {"", "Trays", false, false},           {"lot", NULL, false, false},
    {"parent", NULL, false, false},    {"sown", NULL, false, false},          {"ready", "Ready", false, false},
    {"past", NULL, false, false},      {"cells", NULL, true, false},          {"counted", NULL, false, false},
    {"likely", "Likely", true, false}, {"count_on", "Count on", true, false}, {"handed_over", NULL, true, false},
    {"left", NULL, true, false},       {"held", NULL, false, true},           {"provisional", NULL, false, true},
    {"", "Note", false, false},
};

static const char *name_at(struct cot_cli *cli, const struct cot_id *id)
{
    const char *name = cot_name_at(cli, id);
    return name[0] ? name : NULL;
}

static int64_t left_of(const struct cot_stand *s)
{
    return s->likely > s->out ? s->likely - s->out : 0;
}

/* What is left stands here for eyes: a column of its own would cut the names short. */
static void put_batch_note(struct cot_cli *cli, struct cot_table *t, const struct cot_stand *s, int32_t on)
{
    const struct cot_thing *lot = cot_book_thing(cli->book, &s->lot);
    if (lot && cot_thing_int(lot, COT_F_WITHDRAWN, 0)) cot_table_text(t, "lot withdrawn");
    else if (s->out > 0 && left_of(s) == 0) cot_table_text(t, "all out");
    else if (s->past != COT_DAY_NONE && s->past < on) cot_table_text(t, "past use");
    else if (s->held) cot_table_text(t, "held");
    else if (s->out > 0) cot_table_fmt(t, "%lld left", (long long)left_of(s));
    else if (s->counted == COT_DAY_NONE) cot_table_text(t, "not counted");
    else cot_table_text(t, s->provisional ? "early count" : NULL);
}

static void batch_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *batch,
                      const struct cot_stand *s, int32_t on)
{
    const char *format = name_at(cli, &s->format);
    cot_table_text(t, cot_thing_name(batch));
    cot_table_text(t, name_at(cli, &s->variety));
    cot_table_text(t, format);
    cot_table_int(t, s->trays);
    if (s->trays > 0) cot_table_fmt(t, "%d x %s", s->trays, format ? format : "?");
    else cot_table_fmt(t, "%lld rows, %s", (long long)cot_thing_int(batch, COT_F_TRAY_ROWS, 0), format ? format : "?");
    cot_table_text(t, name_at(cli, &s->lot));
    cot_table_text(t, name_at(cli, &s->parent));
    cot_table_day(t, s->sown);
    cot_table_day(t, s->ready);
    cot_table_day(t, s->past);
    cot_table_int(t, s->cells);
    cot_table_day(t, s->counted);
    cot_table_int(t, s->likely);
    cot_table_int(t, s->count_on);
    cot_table_int(t, s->out);
    cot_table_int(t, left_of(s));
    cot_table_yes(t, s->held);
    cot_table_yes(t, s->provisional);
    put_batch_note(cli, t, s, on);
}

#define KEYED_MOST 48 /* columns */

/* Programs get the columns with a key, eyes those with a heading. */
enum cot_err cot_keyed_print(struct cot_cli *cli, const struct cot_table *all, enum cot_form form, const char *none)
{
    struct cot_table t;
    struct cot_col col[KEYED_MOST];
    size_t n = 0;
    if (form == COT_FORM_TEXT) return cot_table_print(cli, all, form, none);
    for (size_t c = 0; c < all->cols; c++)
        if (all->col[c].key[0] && n < KEYED_MOST) col[n++] = all->col[c];
    cot_table_init(&t, col, n);
    for (size_t i = 0; i < all->count; i++)
        if (all->col[i % all->cols].key[0]) cot_table_text(&t, all->cell[i]);
    t.failed = t.failed || all->failed;
    enum cot_err err = cot_table_print(cli, &t, form, none);
    cot_table_free(&t);
    return err;
}

static enum cot_err print_batches(struct cot_cli *cli, const struct cot_thing *const *things, size_t n, int32_t on,
                                  enum cot_form form)
{
    struct cot_table t;
    struct cot_stands *stands;
    enum cot_err err = cot_stands_new(cli->book, on, &stands);
    cot_table_init(&t, batch_cols, sizeof batch_cols / sizeof batch_cols[0]);
    for (size_t i = 0; i < n && err == COT_OK; i++) {
        struct cot_stand s;
        err = cot_stands_read(stands, things[i], &s);
        if (err == COT_OK) batch_row(cli, &t, things[i], &s, on);
        else if (err == COT_NOT_FOUND) err = COT_OK; /* not there yet on that day */
    }
    cot_stands_free(stands);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "unable to read the stand of a batch");
    else err = cot_day_said(cli, on, form);
    if (err == COT_OK) err = cot_keyed_print(cli, &t, form, "There are no batches yet.");
    cot_table_free(&t);
    return err;
}

enum cot_err cot_list_print(struct cot_cli *cli, const struct cot_sort *sort, int32_t on, enum cot_form form)
{
    size_t n;
    if (sort->type == COT_THING_LINE) return cot_lines_print(cli, NULL, false, on, form);
    if (sort->type == COT_THING_PLANNED) return cot_planned_print(cli, on, form);
    const struct cot_thing **things = cot_things_sorted(cli->book, sort->type, &n);
    if (!things) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    enum cot_err err;
    if (sort->type == COT_THING_BATCH) err = print_batches(cli, things, n, on, form);
    else if (form == COT_FORM_TEXT) err = print_view(cli, sort, things, n, on);
    else err = print_fields(cli, sort, things, n, form);
    free(things);
    return err;
}

/* --- Order lines -------------------------------------------------------------------------------------------------- */

static const struct cot_col line_cols[] = {
    {"code", "Line", false, false},       {"farm", "Farm", false, false},     {"ref", NULL, false, false},
    {"variety", "Variety", false, false}, {"format", "Format", false, false}, {"date", "Collect", false, false},
    {"week", NULL, false, false},         {"asked_date", NULL, false, false}, {"wanted", "Wanted", true, false},
    {"promised", NULL, true, false},      {"handed_over", NULL, true, false}, {"state", "State", false, false},
    {"request", NULL, false, true},
};

void cot_line_state(const struct cot_fill_line *l, char out[static COT_STATE_TEXT])
{
    const char *state = "withdrawn";
    if (l && !l->line->gone) {
        if (l->declined) state = l->promised > 0 ? "part declined" : "declined";
        else if (l->waiting) state = l->promised > 0 ? "part promised" : "waiting";
        else if (l->handed >= l->wanted && l->wanted > 0) state = "handed over";
        else state = l->handed > 0 ? "part handed over" : "promised";
    }
    snprintf(out, COT_STATE_TEXT, "%s%s", state, l && l->request ? ", change asked for" : "");
}

static void line_row(struct cot_table *t, const struct cot_fill_line *l)
{
    char state[COT_STATE_TEXT], week[COT_WEEK_TEXT];
    const char *ref = cot_thing_text(l->line, COT_F_REF);
    cot_line_state(l, state);
    if (l->request) snprintf(state, sizeof state, "change asked for"); /* the whole would be cut at 80 columns */
    cot_week_text(l->date, week);
    cot_table_text(t, cot_thing_name(l->line));
    cot_table_text(t, l->farm ? cot_thing_name(l->farm) : NULL);
    cot_table_text(t, ref[0] ? ref : NULL);
    cot_table_text(t, l->variety ? cot_thing_name(l->variety) : NULL);
    cot_table_text(t, l->format ? cot_thing_name(l->format) : "any");
    cot_table_day(t, l->date);
    cot_table_text(t, week);
    cot_table_day(t, l->asked);
    cot_table_int(t, l->wanted);
    cot_table_int(t, l->promised);
    cot_table_int(t, l->handed);
    cot_table_text(t, state);
    cot_table_yes(t, l->request);
}

/* A line withdrawn before anything was handed over is in no fill any more. */
static void withdrawn_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *line)
{
    struct cot_fill_line l = {
        .line = line,
        .farm = cot_book_thing(cli->book, &line->farm),
        .variety = cot_thing_of(cli, line, COT_F_VARIETY),
        .format = cot_thing_of(cli, line, COT_F_FORMAT),
        .wanted = cot_line_wanted(cli, line),
    };
    l.date = l.asked = (int32_t)cot_thing_int(line, COT_F_DATE, 0);
    line_row(t, &l);
}

static bool wanted_here(const struct cot_thing *line, const struct cot_thing *farm)
{
    return !farm || cot_id_cmp(&line->farm, &farm->id) == 0;
}

enum cot_err cot_lines_print(struct cot_cli *cli, const struct cot_thing *farm, bool waiting, int32_t on,
                             enum cot_form form)
{
    struct cot_fill fill;
    struct cot_table t;
    size_t n;
    enum cot_err err = cot_fill_read(cli->book, on, &fill);
    if (err != COT_OK) return cot_fail(&cli->fault, err, "unable to read the orders");
    cot_table_init(&t, line_cols, sizeof line_cols / sizeof line_cols[0]);
    for (uint32_t i = 0; i < fill.line_count; i++) {
        const struct cot_fill_line *l = &fill.line[i];
        if (wanted_here(l->line, farm) && (!waiting || l->waiting || l->request)) line_row(&t, l);
    }
    const struct cot_thing *const *all = cot_book_things(cli->book, COT_THING_LINE, &n);
    for (size_t i = 0; i < n && !waiting; i++)
        if (all[i]->gone && wanted_here(all[i], farm) && !cot_fill_line_of(&fill, &all[i]->id))
            withdrawn_row(cli, &t, all[i]);
    err = cot_day_said(cli, on, form);
    if (err == COT_OK)
        err = cot_table_print(cli, &t, form,
                              waiting ? "No line waits for the house's word." : "There are no orders yet.");
    cot_table_free(&t);
    cot_fill_free(&fill);
    return err;
}
