#include "things.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/sheet.h"

static const struct cot_sort sorts[] = {
    {"farm", "farms", COT_THING_FARM, COT_K_FARM, true},
    {"crop", "crops", COT_THING_CROP, COT_K_CROP, true},
    {"variety", "varieties", COT_THING_VARIETY, COT_K_VARIETY, true},
    {"format", "formats", COT_THING_FORMAT, COT_K_FORMAT, true},
    {"plate", "plates", COT_THING_PLATE, COT_K_PLATE, true},
    {"lot", "lots", COT_THING_LOT, COT_K_LOT, true},
    {"place", "places", COT_THING_PLACE, COT_K_PLACE, true},
    {"raising", "raisings", COT_THING_RAISING, COT_K_RAISING, true},
    {"planned", "planned", COT_THING_PLANNED, COT_K_PLANNED, false},
    {"line", "lines", COT_THING_LINE, COT_K_LINE, false},
    {"order", "orders", COT_THING_LINE, COT_K_LINE, true},
    {"batch", "batches", COT_THING_BATCH, COT_K_UNKNOWN, false},
    {NULL, NULL, COT_THING_NONE, COT_K_UNKNOWN, false},
};

const struct cot_sort *cot_sorts(void)
{
    return sorts;
}

const struct cot_sort *cot_sort_by_word(const char *word)
{
    for (const struct cot_sort *s = sorts; s->word; s++)
        if (strcmp(s->word, word) == 0 || strcmp(s->plural, word) == 0) return s;
    return NULL;
}

enum cot_err cot_sort_misuse(struct cot_cli *cli, const char *word, bool sheets)
{
    struct cot_buf list = {0};
    for (const struct cot_sort *s = sorts; s->word; s++)
        if (!sheets || s->sheets) cot_buf_fmt(&list, "%s%s", list.len ? ", " : "", s->plural);
    (void)cot_fail(&cli->fault, COT_USAGE, "\"%.40s\" is nothing that can be %s", word,
                   sheets ? "imported" : "listed or shown");
    (void)cot_hint(&cli->fault, "one of: %s%s", list.s ? list.s : "", sheets ? ", catalogue" : "");
    cot_buf_free(&list);
    return COT_USAGE;
}

/* --- Finding ------------------------------------------------------------------------------------------------------ */

static enum cot_err find_coded(struct cot_cli *cli, const char *typed, const struct cot_thing **out)
{
    struct cot_fault fault = {0};
    if (cot_book_find(cli->book, COT_THING_BATCH, typed, out, &fault) == COT_OK) return COT_OK;
    if (cot_book_find(cli->book, COT_THING_PLANNED, typed, out, &fault) == COT_OK) return COT_OK;
    return cot_book_find(cli->book, COT_THING_LINE, typed, out, &cli->fault);
}

static enum cot_err several(struct cot_cli *cli, const char *typed, const struct cot_sort *first,
                            const struct cot_thing *a, const struct cot_sort *second, const struct cot_thing *b)
{
    (void)cot_fail(&cli->fault, COT_AMBIGUOUS, "\"%.60s\" names the %s \"%.60s\" and the %s \"%.60s\"", typed,
                   first->word, cot_thing_name(a), second->word, cot_thing_name(b));
    return cot_hint(&cli->fault, "say which: show %s \"%.60s\"", first->word, typed);
}

static enum cot_err not_found(struct cot_cli *cli, const char *typed, const char *near)
{
    (void)cot_fail(&cli->fault, COT_NOT_FOUND, "there is nothing called \"%.60s\"", typed);
    return cot_hint(&cli->fault, "%s", near[0] ? near : "`cotyl list` lists things by kind; codes look like B-0417-K");
}

/* A name of any sort: written in full goes before a start. */
static enum cot_err find_named(struct cot_cli *cli, const char *typed, const struct cot_thing **out)
{
    const struct cot_sort *found = NULL;
    char near[COT_FAULT_MAX] = "";
    bool exact = false;
    for (const struct cot_sort *s = sorts; s->word; s++) {
        struct cot_fault fault = {0};
        const struct cot_thing *t;
        if (s->type == COT_THING_LINE || s->type == COT_THING_BATCH || s->type == COT_THING_PLANNED) continue;
        enum cot_err err = cot_book_find(cli->book, s->type, typed, &t, &fault);
        if (err == COT_MEMORY) return cot_fail(&cli->fault, err, "out of memory");
        if (err == COT_NOT_FOUND && fault.hint[0] && !near[0]) memcpy(near, fault.hint, sizeof near);
        if (err == COT_AMBIGUOUS && !found) {
            cli->fault = fault;
            return err;
        }
        if (err != COT_OK) continue;
        bool whole = strcmp(cot_thing_name(t), typed) == 0;
        if (found && whole == exact) return several(cli, typed, found, *out, s, t);
        if (found && exact) continue;
        found = s;
        exact = whole;
        *out = t;
    }
    return found ? COT_OK : not_found(cli, typed, near);
}

enum cot_err cot_show_find(struct cot_cli *cli, const struct cot_sort *sort, const char *typed,
                           const struct cot_thing **out)
{
    char code[COT_CODE_TEXT];
    if (sort) return cot_book_find(cli->book, sort->type, typed, out, &cli->fault);
    enum cot_code_state state = cot_code_read(typed, strlen(typed), code);
    struct cot_fault coded = {0};
    if (state == COT_CODE_CHECK) {
        coded.code = cot_fail(&coded, COT_INVALID,
                              "code \"%.20s\" is mistyped: its last character does not fit the rest", typed);
        (void)cot_hint(&coded, "read it again from the tag");
    } else if (state == COT_CODE_GOOD) {
        if (find_coded(cli, typed, out) == COT_OK) return COT_OK;
        coded = cli->fault;
    }
    enum cot_err err = find_named(cli, typed, out);
    if (err == COT_NOT_FOUND && state != COT_CODE_SHAPE) {
        cli->fault = coded;
        return coded.code;
    }
    return err;
}

static int by_name(const void *a, const void *b)
{
    const struct cot_thing *x = *(const struct cot_thing *const *)a, *y = *(const struct cot_thing *const *)b;
    int c = strcmp(cot_thing_name(x), cot_thing_name(y));
    return c != 0 ? c : cot_id_cmp(&x->id, &y->id);
}

const struct cot_thing **cot_things_sorted(struct cot_book *b, enum cot_thing_type type, size_t *n)
{
    size_t all;
    const struct cot_thing *const *things = cot_book_things(b, type, &all);
    const struct cot_thing **out = calloc(all + 1, sizeof *out);
    *n = 0;
    if (!out) return NULL;
    for (size_t i = 0; i < all; i++)
        if (!things[i]->gone) out[(*n)++] = things[i];
    qsort(out, *n, sizeof *out, by_name);
    return out;
}

/* --- Fields for eyes ---------------------------------------------------------------------------------------------- */

void cot_field_label(enum cot_field f, char out[static COT_LABEL_TEXT])
{
    const char *what = cot_field_row(f)->what;
    snprintf(out, COT_LABEL_TEXT, "%.*s", (int)strcspn(what, ";,"), what);
}

void cot_field_words(struct cot_book *b, const struct cot_value *v, struct cot_buf *out)
{
    const struct cot_field_row *row = cot_field_row((enum cot_field)v->field);
    if (v->type == COT_T_INT && strcmp(row->unit, row->what) == 0) cot_field_plain(b, v, out);
    else cot_value_text(b, v, out);
}

/* --- Fields for programs ------------------------------------------------------------------------------------------ */

static const struct {
    const char *unit, *tail, *shown;
} scaled[] = {
    {"uL", "_ul", "_ml"},
    {"um", "_um", "_mm"},
    {"mg", "_mg", "_g"},
    {"per mille", "", "_percent"},
};

void cot_field_key(enum cot_field f, char out[static COT_KEY_TEXT])
{
    const struct cot_field_row *row = cot_field_row(f);
    size_t len = strlen(row->name);
    snprintf(out, COT_KEY_TEXT, "%s", row->name);
    for (size_t i = 0; i < sizeof scaled / sizeof scaled[0]; i++)
        if (strcmp(scaled[i].unit, row->unit) == 0)
            snprintf(out, COT_KEY_TEXT, "%.*s%s", (int)(len - strlen(scaled[i].tail)), row->name, scaled[i].shown);
}

bool cot_field_is_number(enum cot_field f)
{
    return cot_field_row(f)->type == COT_T_INT;
}

void cot_field_plain(struct cot_book *b, const struct cot_value *v, struct cot_buf *out)
{
    struct cot_buf text = {0};
    cot_value_text(b, v, &text);
    if (text.failed) out->failed = true;
    else if (v->type == COT_T_INT) cot_buf_put(out, text.s, strcspn(text.s, " "));
    else if (text.len > 0) cot_buf_put(out, text.s, text.len);
    else cot_buf_str(out, "");
    cot_buf_free(&text);
}

static void json_list(struct cot_book *b, const struct cot_value *v, struct cot_buf *out)
{
    cot_buf_str(out, "[");
    for (uint32_t i = 0; i < v->len; i++) {
        if (i > 0) cot_buf_str(out, ",");
        if (v->type == COT_T_NUMBERS) {
            cot_buf_fmt(out, "%d", v->v.numbers[i]);
        } else if (v->type == COT_T_TRAYS) {
            const struct cot_tray_count *c = &v->v.counts[i];
            cot_buf_fmt(out, "{\"tray\":%d", c->tray);
            if (c->looked >= 0) cot_buf_fmt(out, ",\"looked\":%d", c->looked);
            if (c->usable >= 0) cot_buf_fmt(out, ",\"usable\":%d", c->usable);
            if (c->blanks >= 0) cot_buf_fmt(out, ",\"blanks\":%d", c->blanks);
            if (c->culls >= 0) cot_buf_fmt(out, ",\"culls\":%d", c->culls);
            if (c->doubles >= 0) cot_buf_fmt(out, ",\"doubles\":%d", c->doubles);
            cot_buf_str(out, "}");
        } else {
            struct cot_value one = {.field = v->field, .type = COT_T_ID, .len = 1, .v.ids = &v->v.ids[i]};
            struct cot_buf name = {0};
            cot_value_text(b, &one, &name);
            if (name.failed) out->failed = true;
            else cot_put_json(out, name.s, name.len);
            cot_buf_free(&name);
        }
    }
    cot_buf_str(out, "]");
}

static void json_value(struct cot_book *b, const struct cot_value *v, struct cot_buf *out)
{
    struct cot_buf plain = {0};
    if (v->type == COT_T_NONE) {
        cot_buf_str(out, "null");
    } else if (v->type == COT_T_IDS || v->type == COT_T_NUMBERS || v->type == COT_T_TRAYS) {
        json_list(b, v, out);
    } else if (v->type == COT_T_BOOL) {
        cot_buf_str(out, v->v.i ? "true" : "false");
    } else {
        cot_field_plain(b, v, &plain);
        if (plain.failed) out->failed = true;
        else if (v->type == COT_T_INT) cot_buf_str(out, plain.s);
        else cot_put_json(out, plain.s, plain.len);
    }
    cot_buf_free(&plain);
}

void cot_fields_json(struct cot_book *b, const struct cot_value *const *values, size_t n, struct cot_buf *out)
{
    cot_buf_str(out, "{");
    for (size_t i = 0; i < n; i++) {
        char key[COT_KEY_TEXT];
        cot_field_key((enum cot_field)values[i]->field, key);
        cot_buf_fmt(out, "%s\"%s\":", i > 0 ? "," : "", key);
        json_value(b, values[i], out);
    }
    cot_buf_str(out, "}");
}
