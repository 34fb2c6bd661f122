/* change: some fields of a thing that the book knows. The entry carries only what changes. */
#include "commands.h"
#include "cotyledger/wire/sheet.h"
#include "describe.h"
#include "planned.h"

#include <string.h>

const char cot_help_change[] = "Changes a thing: a farm, crop, variety, format, plate, lot, place or raising\n"
                               "days by its name, an order line or a planned sowing by its code. Only the\n"
                               "options given change; \"none\" takes a value away. The options are those of\n"
                               "`cotyl add`, with --name for a new name and yes or no after --treated,\n"
                               "--organic, --own, --withdrawn.\n"
                               "\n"
                               "  change line CODE   --variety V --plants N | --trays N --format F --on DAY\n"
                               "                     --early N --late N --least N --sub V,V --ref TEXT\n"
                               "                     --untreated yes|no --organic yes|no --own-seed yes|no\n"
                               "                     --priority N --closing DAY --note TEXT\n"
                               "\n"
                               "What you change of a planned sowing is pinned: kept as you said (--pins).\n"
                               "After a line's closing day a farm's change waits for the house's yes.\n"
                               "\n"
                               "Examples:\n"
                               "  cotyl change line C-0003-H --plants 500\n"
                               "  cotyl change lot RH-2601 --label-germ none --test-seeds 200 --test-germ 181\n"
                               "  cotyl change farm \"Alder Ford\" --contact \"ring before seven\"\n";

static bool same_value(const struct cot_value *a, const struct cot_value *b)
{
    if (!a || a->type == COT_T_NONE) return !b || b->type == COT_T_NONE;
    if (!b || a->type != b->type || a->len != b->len) return false;
    switch ((enum cot_type)a->type) {
    case COT_T_TEXT:
        return memcmp(a->v.text, b->v.text, a->len) == 0;
    case COT_T_ID:
    case COT_T_IDS:
        return memcmp(a->v.ids, b->v.ids, a->len * sizeof *a->v.ids) == 0;
    case COT_T_INT:
    case COT_T_BOOL:
    case COT_T_DAY:
    case COT_T_WORD:
        return a->v.i == b->v.i;
    case COT_T_NUMBERS:
        return memcmp(a->v.numbers, b->v.numbers, a->len * sizeof *a->v.numbers) == 0;
    case COT_T_TRAYS:
        return memcmp(a->v.counts, b->v.counts, a->len * sizeof *a->v.counts) == 0;
    case COT_T_NONE:
        break;
    }
    return false;
}

/* Leaves out what is so already. */
static void drop_same(struct cot_fact *f, const struct cot_thing *t)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < f->value_count; i++)
        if (!same_value(&f->value[i], cot_thing_value(t, (enum cot_field)f->value[i].field)))
            f->value[kept++] = f->value[i];
    f->value_count = kept;
}

/* A line is ordered in plants or in trays: the one given takes the other's place. */
static bool swap_measure(struct cot_fact *f, const struct cot_thing *line)
{
    static const enum cot_field pair[2] = {COT_F_PLANTS, COT_F_TRAYS};
    for (int i = 0; i < 2; i++)
        if (cot_fact_value(f, pair[i]) && !cot_fact_value(f, pair[!i]) && cot_thing_value(line, pair[!i]) &&
            !cot_fact_clear(f, pair[!i]))
            return false;
    return true;
}

static enum cot_err find_thing(struct cot_job *w, enum cot_kind kind, const struct cot_thing **t)
{
    struct cot_cli *cli = w->cli;
    enum cot_thing_type type = cot_kind_row(kind)->makes;
    const char *typed = w->args.word[1];
    bool coded = kind == COT_K_LINE || kind == COT_K_PLANNED;
    enum cot_err err =
        coded ? cot_find_coded(cli, type, typed, t) : cot_book_find(cli->book, type, typed, t, &cli->fault);
    if (err != COT_OK) return err;
    cot_job_about(w, *t);
    if (kind == COT_K_FARM) cot_job_farm(w, &(*t)->id);
    if (kind == COT_K_LINE && (*t)->gone)
        return cot_fail(&cli->fault, COT_INVALID, "change: the line %s was withdrawn", cot_thing_name(*t));
    if (kind == COT_K_PLANNED) return cot_planned_prepare(w, *t);
    if (kind == COT_K_LINE && !swap_measure(&w->fact, *t))
        return cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

static void put_change(struct cot_job *w, const struct cot_value *old, const struct cot_value *new, struct cot_buf *b)
{
    struct cot_value none = {.field = new->field, .type = COT_T_NONE};
    if (b->len > 0) cot_buf_str(b, ", ");
    cot_describe_field(w->cli, old ? old : &none, b);
    cot_buf_str(b, " -> ");
    if (new->type != COT_T_NONE) cot_value_text(w->cli->book, new, b);
    else cot_buf_str(b, "none");
}

/* "plants 400 -> 500", taken down before the entry is recorded, as the book then has the new value. */
static void put_changes(struct cot_job *w, const struct cot_thing *t, struct cot_buf *b)
{
    for (unsigned i = 0; i < w->fact.value_count; i++)
        put_change(w, cot_thing_value(t, (enum cot_field)w->fact.value[i].field), &w->fact.value[i], b);
}

static enum cot_err check_changes(struct cot_job *w, const struct cot_thing *t)
{
    unsigned given = w->fact.value_count;
    if (given == 0) return cot_misuse(w->cli, "say what changes: --OPTION VALUE, at least one");
    drop_same(&w->fact, t);
    if (w->fact.value_count > 0) return COT_OK;
    (void)cot_fail(&w->cli->fault, COT_INVALID, "change: %s has %s already: nothing to record", cot_thing_name(t),
                   given == 1 ? "that value" : "those values");
    return cot_hint(&w->cli->fault, "`cotyl show \"%s\"` shows what stands", cot_thing_name(t));
}

/* What would stand after the change, held together: a place's last day before its first, say. Of the kinds that have
 * been so from the start; older things may hold together no better than they were entered. */
static enum cot_err check_whole(struct cot_job *w, const struct cot_thing *t)
{
    const struct cot_kind_row *row = cot_kind_row(w->fact.kind);
    struct cot_fact whole = w->fact;
    char flaw[160];
    if (t->type != COT_THING_PLACE && t->type != COT_THING_RAISING && t->type != COT_THING_PLANNED &&
        t->type != COT_THING_FORMAT)
        return COT_OK;
    whole.has_about = false;
    whole.value_count = 0;
    for (int f = 0; f < COT_F_COUNT; f++) { /* values stand in this order */
        const struct cot_value *v = cot_fact_value(&w->fact, (enum cot_field)f);
        if (!v) v = cot_thing_value(t, (enum cot_field)f);
        if (v && v->type != COT_T_NONE) whole.value[whole.value_count++] = *v;
    }
    bool refused = !cot_fact_check(&w->fact, flaw); /* by itself: recording it says so */
    if (refused || cot_fact_check(&whole, flaw)) return COT_OK;
    return cot_fail(&w->cli->fault, COT_INVALID, "%s %s: %s", row->what, cot_thing_name(t), flaw);
}

enum cot_err cot_cmd_change(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w = {.cli = cli};
    struct cot_describe d;
    struct cot_buf changes = {0};
    const struct cot_thing *t;
    char name[128], day[COT_DATE_TEXT];
    enum cot_kind kind;
    enum cot_err err = cot_describe_kind(cli, cot_describe_word(argc, argv), true, &kind);
    if (err != COT_OK) return err;
    cot_describe_options(&d, kind, true);
    err = cot_job_start_change(&w, cli, kind, argc, argv, d.opt, 2, 2);
    if (err == COT_OK) err = find_thing(&w, kind, &t);
    if (err == COT_OK) err = check_changes(&w, t);
    if (err == COT_OK) err = check_whole(&w, t);
    if (err != COT_OK) goto out;
    snprintf(name, sizeof name, "%s", cot_thing_name(t));
    put_changes(&w, t, &changes);
    int32_t date = (int32_t)cot_fact_int(&w.fact, COT_F_DATE, COT_DAY_MAX);
    if (kind == COT_K_LINE && date < w.today) cot_answer_warn(&w.answer, "%s is past.", cot_date(date, day));
    err = cot_job_record(&w);
    if (err == COT_OK)
        cot_answer_line(&w.answer, "Changed %s %s: %s.", cot_kind_row(kind)->what, name, changes.s ? changes.s : "");
out:
    cot_buf_free(&changes);
    return cot_job_end(&w, err);
}
