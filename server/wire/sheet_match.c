/* Holds a sheet's rows against the book: natural keys, and which fields change. */
#include "sheet_inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One row, or one thing of the book, under its key. */
struct keyed {
    const char *key;
    size_t len;
    size_t order; /* of the row in the file; of the thing by when it was made */
    struct cot_sheet_row *row;
    const struct cot_thing *thing;
    bool *taken;
};
struct keys {
    struct keyed *list;
    size_t count;
};

static int key_cmp(const struct keyed *x, const struct keyed *y)
{
    int c = memcmp(x->key, y->key, x->len < y->len ? x->len : y->len);
    return c != 0 ? c : (x->len > y->len) - (x->len < y->len);
}

static int by_key(const void *a, const void *b)
{
    const struct keyed *x = a, *y = b;
    int c = key_cmp(x, y);
    return c != 0 ? c : (x->order > y->order) - (x->order < y->order);
}

/* --- Keys --------------------------------------------------------------------------------------------------------- */

static void put_id(struct cot_buf *b, const struct cot_id *id)
{
    static const struct cot_id zero;
    cot_buf_put(b, id ? id : &zero, sizeof *id);
}

static void put_folded(struct cot_buf *b, const char *s, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        char c = s[i] >= 'A' && s[i] <= 'Z' ? (char)(s[i] + 32) : s[i];
        cot_buf_put(b, &c, 1);
    }
}

/* Takes the bytes of `b` as the key. */
static bool keep_key(struct cot_sheet_reader *r, struct cot_buf *b, struct keyed *out)
{
    out->key = b->failed ? NULL : cot_keep_text(r->out->arena, b->s, b->len);
    out->len = b->len;
    return out->key != NULL;
}

static enum cot_field parent_of(enum cot_kind kind)
{
    return kind == COT_K_VARIETY ? COT_F_CROP : kind == COT_K_LOT ? COT_F_VARIETY : COT_F_COUNT;
}

static void name_key(struct cot_buf *b, const struct cot_id *parent, const struct cot_value *name)
{
    put_id(b, parent);
    if (name && name->type == COT_T_TEXT) put_folded(b, name->v.text, name->len);
}

static void line_key(struct cot_buf *b, const struct cot_id *farm, const struct cot_id *variety,
                     const struct cot_id *format, int64_t date)
{
    put_id(b, farm);
    put_id(b, variety);
    put_id(b, format);
    cot_buf_put(b, &date, sizeof date);
}

/* A fact's id that is set and not cleared. */
static const struct cot_id *set_id(const struct cot_fact *f, enum cot_field field)
{
    const struct cot_value *v = cot_fact_value(f, field);
    return v && v->type == COT_T_ID ? v->v.ids : NULL;
}

static const struct cot_value *row_ref(const struct cot_sheet_row *row)
{
    const struct cot_value *v = cot_fact_value(&row->fact, COT_F_REF);
    return v && v->type == COT_T_TEXT ? v : NULL;
}

enum by { BY_NAME, BY_REF, BY_LINE };

static bool row_key(struct cot_sheet_reader *r, size_t i, enum by by, struct keyed *out)
{
    struct cot_buf b = {0};
    struct cot_sheet_row *row = &r->out->row[i];
    const struct cot_fact *f = &row->fact;
    if (by == BY_NAME) {
        enum cot_field parent = parent_of(r->o->kind);
        name_key(&b, parent == COT_F_COUNT ? NULL : set_id(f, parent), cot_fact_value(f, COT_F_NAME));
    } else if (by == BY_REF) {
        const struct cot_value *ref = row_ref(row);
        put_id(&b, &r->farm[i]->id);
        cot_buf_put(&b, ref->v.text, ref->len);
    } else {
        line_key(&b, &r->farm[i]->id, set_id(f, COT_F_VARIETY), set_id(f, COT_F_FORMAT),
                 cot_fact_int(f, COT_F_DATE, 0));
    }
    *out = (struct keyed){.order = i, .row = row};
    bool kept = keep_key(r, &b, out);
    cot_buf_free(&b);
    return kept;
}

static bool thing_key(struct cot_sheet_reader *r, const struct cot_thing *t, enum by by, struct keyed *out)
{
    struct cot_buf b = {0};
    if (by == BY_NAME) {
        enum cot_field parent = parent_of(r->o->kind);
        name_key(&b, parent == COT_F_COUNT ? NULL : cot_thing_id(t, parent), cot_thing_value(t, COT_F_NAME));
    } else if (by == BY_REF) {
        const struct cot_value *ref = cot_thing_value(t, COT_F_REF);
        put_id(&b, &t->farm);
        cot_buf_put(&b, ref->v.text, ref->len);
    } else {
        line_key(&b, &t->farm, cot_thing_id(t, COT_F_VARIETY), cot_thing_id(t, COT_F_FORMAT),
                 cot_thing_int(t, COT_F_DATE, 0));
    }
    out->thing = t;
    bool kept = keep_key(r, &b, out);
    cot_buf_free(&b);
    return kept;
}

/* --- The book's side ------------------------------------------------------------------------------------------------
 */

static int by_making(const void *a, const void *b)
{
    const struct cot_fact *x = (*(const struct cot_thing *const *)a)->made,
                          *y = (*(const struct cot_thing *const *)b)->made;
    if (x->clock != y->clock) return x->clock < y->clock ? -1 : 1;
    if (x->tick != y->tick) return x->tick < y->tick ? -1 : 1;
    int c = strcmp(x->tag, y->tag);
    return c != 0 ? c : (x->number > y->number) - (x->number < y->number);
}

struct stock { /* the things that rows may turn out to be, oldest first */
    const struct cot_thing **thing;
    bool *taken;
    size_t count;
};

static enum cot_err read_stock(struct cot_sheet_reader *r, struct stock *s)
{
    size_t n;
    const struct cot_thing *const *all = cot_book_things(r->book, cot_kind_row(r->o->kind)->makes, &n);
    s->thing = calloc(n + 1, sizeof *s->thing);
    s->taken = calloc(n + 1, sizeof *s->taken);
    if (!s->thing || !s->taken) return cot_fail(r->fault, COT_MEMORY, "out of memory");
    for (size_t i = 0; i < n; i++)
        if (!all[i]->gone) s->thing[s->count++] = all[i];
    qsort(s->thing, s->count, sizeof *s->thing, by_making);
    return COT_OK;
}

static bool has_key(const struct cot_thing *t, enum by by)
{
    const struct cot_value *ref = cot_thing_value(t, COT_F_REF);
    return by != BY_REF || (ref && ref->type == COT_T_TEXT);
}

static enum cot_err stock_keys(struct cot_sheet_reader *r, const struct stock *s, enum by by, struct keys *out)
{
    out->list = calloc(s->count + 1, sizeof *out->list);
    if (!out->list) return cot_fail(r->fault, COT_MEMORY, "out of memory");
    for (size_t i = 0; i < s->count; i++) {
        struct keyed *k = &out->list[out->count];
        if (s->taken[i] || !has_key(s->thing[i], by)) continue;
        *k = (struct keyed){.order = i, .taken = &s->taken[i]};
        if (!thing_key(r, s->thing[i], by, k)) return cot_fail(r->fault, COT_MEMORY, "out of memory");
        out->count++;
    }
    qsort(out->list, out->count, sizeof *out->list, by_key);
    return COT_OK;
}

/* --- Matching -------------------------------------------------------------------------------------------------------
 */

static bool row_goes_by(struct cot_sheet_reader *r, size_t i, enum by by)
{
    if (r->out->row[i].thing) return false; /* found by its code */
    if (by == BY_NAME) return true;
    return r->farm[i] && (by == BY_REF) == (row_ref(&r->out->row[i]) != NULL);
}

static enum cot_err row_keys(struct cot_sheet_reader *r, enum by by, struct keys *out)
{
    out->list = calloc(r->out->row_count + 1, sizeof *out->list);
    if (!out->list) return cot_fail(r->fault, COT_MEMORY, "out of memory");
    for (size_t i = 0; i < r->out->row_count; i++) {
        if (!row_goes_by(r, i, by)) continue;
        if (!row_key(r, i, by, &out->list[out->count])) return cot_fail(r->fault, COT_MEMORY, "out of memory");
        out->count++;
    }
    qsort(out->list, out->count, sizeof *out->list, by_key);
    return COT_OK;
}

static enum cot_err twice(struct cot_sheet_reader *r, const struct keyed *first, const struct keyed *again, enum by by)
{
    char reason[120];
    snprintf(reason, sizeof reason, "the same %s stands on line %zu already", by == BY_REF ? "reference" : "name",
             first->row->line);
    return cot_sheet_problem(r, again->row->line, cot_column_of(r, by == BY_REF ? COT_F_REF : COT_F_NAME), reason);
}

/* Walks both lists, sorted by key: the k-th row of a key is the k-th thing of it. */
static enum cot_err join(struct cot_sheet_reader *r, struct keys *rows, struct keys *things, enum by by)
{
    enum cot_err err = COT_OK;
    size_t t = 0;
    for (size_t i = 0; i < rows->count && err == COT_OK; i++) {
        struct keyed *row = &rows->list[i];
        bool again = i > 0 && key_cmp(&rows->list[i - 1], row) == 0;
        if (again && by != BY_LINE) {
            err = twice(r, &rows->list[i - 1], row, by);
            continue;
        }
        while (t < things->count && key_cmp(&things->list[t], row) < 0) t++;
        if (t == things->count || key_cmp(&things->list[t], row) != 0) continue;
        row->row->thing = things->list[t].thing;
        *things->list[t].taken = true;
        t++;
    }
    return err;
}

static enum cot_err match_by(struct cot_sheet_reader *r, struct stock *stock, enum by by)
{
    struct keys rows = {0}, things = {0};
    enum cot_err err = row_keys(r, by, &rows);
    if (err == COT_OK) err = stock_keys(r, stock, by, &things);
    if (err == COT_OK) err = join(r, &rows, &things, by);
    free(rows.list);
    free(things.list);
    return err;
}

static enum cot_err match_codes(struct cot_sheet_reader *r, struct stock *s)
{
    int column = cot_column_of(r, COT_COL_CODE);
    for (size_t i = 0; i < r->out->row_count; i++) {
        struct cot_sheet_row *row = &r->out->row[i];
        const char *reason = r->code[i] ? "there is no such line in the book" : NULL;
        for (size_t k = 0; k < s->count && r->code[i]; k++) {
            if (strcmp(cot_thing_text(s->thing[k], COT_F_CODE), r->code[i]) != 0) continue;
            bool own = r->farm[i] && cot_id_cmp(&r->farm[i]->id, &s->thing[k]->farm) == 0;
            reason = !own ? "this line is of another farm" : s->taken[k] ? "this code stands in the file twice" : NULL;
            if (reason) break;
            row->thing = s->thing[k];
            s->taken[k] = true;
            break;
        }
        enum cot_err err = reason ? cot_sheet_problem(r, row->line, column, reason) : COT_OK;
        if (err != COT_OK) return err;
    }
    return COT_OK;
}

/* --- What changes ---------------------------------------------------------------------------------------------------
 */

static bool same_value(const struct cot_value *a, const struct cot_value *b)
{
    if (a->type != b->type) return false;
    switch ((enum cot_type)a->type) {
    case COT_T_NONE:
        return true;
    case COT_T_TEXT:
        return a->len == b->len && memcmp(a->v.text, b->v.text, a->len) == 0;
    case COT_T_ID:
    case COT_T_IDS:
        return a->len == b->len && memcmp(a->v.ids, b->v.ids, a->len * sizeof *a->v.ids) == 0;
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        return a->v.i == b->v.i;
    case COT_T_NUMBERS:
    case COT_T_TRAYS:
        break;
    }
    return false;
}

/* Whether the cell says what stands anyway; nothing said at all counts as no, or as cleared. */
static bool stands(const struct cot_thing *t, const struct cot_value *v)
{
    const struct cot_value *old = t ? cot_thing_value(t, (enum cot_field)v->field) : NULL;
    if (old && old->type == COT_T_NONE) old = NULL;
    if (!old) return v->type == COT_T_NONE || (v->type == COT_T_BOOL && v->v.i == 0);
    return same_value(old, v);
}

/* Plants or trays, seeds or weight: when the one comes, the other goes. */
static void clear_other(const struct cot_thing *t, struct cot_fact *f)
{
    static const enum cot_field pairs[][2] = {
        {COT_F_PLANTS, COT_F_TRAYS},
        {COT_F_TRAYS, COT_F_PLANTS},
        {COT_F_STOCK_SEEDS, COT_F_STOCK_MG},
        {COT_F_STOCK_MG, COT_F_STOCK_SEEDS},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        const struct cot_value *set = cot_fact_value(f, pairs[i][0]);
        const struct cot_value *old = cot_thing_value(t, pairs[i][1]);
        if (set && set->type == COT_T_INT && old && old->type == COT_T_INT && !cot_fact_value(f, pairs[i][1]))
            (void)cot_fact_clear(f, pairs[i][1]);
    }
}

static void keep_changed(struct cot_sheet_row *row, const struct cot_fact *said)
{
    struct cot_fact *f = &row->fact;
    f->value_count = 0;
    for (unsigned i = 0; i < said->value_count; i++) {
        bool name = row->thing && said->value[i].field == COT_F_NAME; /* it was found by it */
        if (!name && !stands(row->thing, &said->value[i])) f->value[f->value_count++] = said->value[i];
    }
}

static enum cot_err check_complete(struct cot_sheet_reader *r, const struct cot_sheet_row *row)
{
    const struct cot_kind_row *kind = cot_kind_row(r->o->kind);
    enum cot_err err = COT_OK;
    for (unsigned i = 0; i < kind->field_count && err == COT_OK; i++) {
        enum cot_field f = kind->fields[i].field;
        if (!kind->fields[i].required || f == COT_F_CODE || cot_fact_value(&row->fact, f)) continue;
        char reason[120];
        snprintf(reason, sizeof reason, "the %s is missing", cot_field_row(f)->what);
        err = cot_sheet_problem(r, row->line, cot_column_of(r, (int)f), reason);
    }
    bool counted = cot_fact_value(&row->fact, COT_F_PLANTS) || cot_fact_value(&row->fact, COT_F_TRAYS);
    if (err == COT_OK && r->o->kind == COT_K_LINE && !counted)
        err = cot_sheet_problem(r, row->line, -1, "how many plants or trays?");
    return err;
}

/* The thing as it would stand after the row, as an entry of its own: new, with a code where one is needed. */
static void put_together(const struct cot_thing *t, const struct cot_fact *change, char code[static COT_CODE_TEXT],
                         struct cot_fact *out)
{
    *out = *change;
    out->has_about = false;
    out->has_farm = change->has_farm && change->kind != COT_K_FARM;
    out->value_count = 0;
    for (int f = 0; f < COT_F_COUNT; f++) { /* values stand in this order */
        if (!cot_kind_field(change->kind, (enum cot_field)f)) continue;
        const struct cot_value *v = cot_fact_value(change, (enum cot_field)f);
        if (!v && t) v = cot_thing_value(t, (enum cot_field)f);
        if (v && v->type != COT_T_NONE) out->value[out->value_count++] = *v;
    }
    cot_code_make("A", 1, code);
    if (cot_kind_field(change->kind, COT_F_CODE)) (void)cot_fact_set_text(out, COT_F_CODE, code, strlen(code));
}

/* Sense across the cells of a row, and of the thing as it would then stand. */
static enum cot_err check_sense(struct cot_sheet_reader *r, const struct cot_sheet_row *row)
{
    char flaw[160], code[COT_CODE_TEXT];
    struct cot_fact whole;
    put_together(row->thing, &row->fact, code, &whole);
    if (row->what == COT_SHEET_CHANGE && !cot_fact_check(&row->fact, flaw))
        return cot_sheet_problem(r, row->line, -1, flaw);
    if (!cot_fact_check(&whole, flaw)) return cot_sheet_problem(r, row->line, -1, flaw);
    return COT_OK;
}

static enum cot_err settle(struct cot_sheet_reader *r, size_t i)
{
    struct cot_sheet_row *row = &r->out->row[i];
    struct cot_fact said = row->fact, *f = &row->fact;
    size_t before = r->out->problem_total;
    keep_changed(row, &said);
    f->has_about = row->thing != NULL;
    if (r->farm[i]) {
        f->has_farm = true;
        f->farm = r->farm[i]->id;
    }
    if (row->thing) {
        f->about = row->thing->id;
        if (r->o->kind == COT_K_FARM) f->farm = f->about, f->has_farm = true;
        clear_other(row->thing, f);
    }
    snprintf(f->kind_name, sizeof f->kind_name, "%s", cot_kind_row(f->kind)->name);
    row->what = !row->thing ? COT_SHEET_NEW : f->value_count > 0 ? COT_SHEET_CHANGE : COT_SHEET_SAME;
    enum cot_err err = row->thing ? COT_OK : check_complete(r, row);
    if (err != COT_OK || r->out->problem_total > before || row->what == COT_SHEET_SAME) return err;
    return check_sense(r, row);
}

enum cot_err cot_sheet_match(struct cot_sheet_reader *r)
{
    struct stock stock = {0};
    enum cot_err err = read_stock(r, &stock);
    if (err != COT_OK) goto out;
    if (r->o->kind == COT_K_LINE) {
        err = match_codes(r, &stock);
        if (err == COT_OK) err = match_by(r, &stock, BY_REF);
        if (err == COT_OK) err = match_by(r, &stock, BY_LINE);
    } else {
        err = match_by(r, &stock, BY_NAME);
    }
    for (size_t i = 0; i < r->out->row_count && err == COT_OK; i++) err = settle(r, i);
out:
    free(stock.thing);
    free(stock.taken);
    return err;
}
