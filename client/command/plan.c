/* plan: what is to be sown for the order book, and accepting it. */
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "commands.h"
#include "cotyledger/core/season.h"
#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/plan.h"
#include "show/table.h"
#include "work.h"

const char cot_help_plan[] = "Works out from the order book what is still to be sown: which lot in which tray,\n"
                             "how many trays, on which day, on which bench. Lines of one variety and tray are\n"
                             "sown together where their days allow it; sowing days are chosen so that chamber,\n"
                             "benches, frames and hands are enough and the benches are used evenly.\n"
                             "\n"
                             "Nothing is recorded until you accept: `--accept MARK` with the mark that was\n"
                             "shown. If anything has changed since, the new plan is shown instead. What is\n"
                             "planned already is kept as far as it is still needed, and what a person pinned\n"
                             "stays (`cotyl change planned CODE --sow-day DAY` pins a day).\n"
                             "\n"
                             "  --on DAY          plan from this day (default: today)\n"
                             "  --promised-only   leave out lines that wait for the house's promise\n"
                             "  --from-scratch    as if nothing were planned but what is pinned\n"
                             "  --each-alone      every line by itself: what planning them together saves\n"
                             "  --lines           show the order lines and what is planned for them\n"
                             "  --accept MARK     record the plan that was shown with this mark\n"
                             "  --csv, --json     for spreadsheets and programs; see docs/reports.md\n"
                             "\n"
                             "Grafting is not planned for. Amounts hold with the house's confidence.\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl plan\n"
                             "  cotyl plan --accept KXTBQ\n"
                             "  cotyl plan --on 2027-02-01 --csv >plan.csv\n";

static const struct cot_opt opts[] = {
    {"on", "DAY", -1},   {"promised-only", NULL, -1}, {"from-scratch", NULL, -1}, {"each-alone", NULL, -1},
    {"lines", NULL, -1}, {"accept", "MARK", -1},      {"csv", NULL, -1},          COT_OPT_END};

/* --- Accepting ---------------------------------------------------------------------------------------------------- */

static bool set_lines(struct cot_job *w, const struct cot_season *s, const struct cot_season_sowing *p,
                      struct cot_fact *f)
{
    uint32_t most = (uint32_t)cot_field_row(COT_F_LINES)->max, n = p->parts < most ? p->parts : most;
    struct cot_id *ids = n ? cot_keep_alloc(w->args.keep, n * sizeof *ids) : NULL;
    for (uint32_t k = 0; ids && k < n; k++) ids[k] = s->line[s->part[p->first_part + k].line].line->id;
    return n == 0 || (ids && cot_fact_set_ids(f, COT_F_LINES, ids, n));
}

static bool set_measure(struct cot_job *w, const struct cot_season_sowing *p, int32_t day, struct cot_fact *f)
{
    char name[40], date[COT_DAY_TEXT];
    if (p->rows == 0) return cot_fact_set_int(f, COT_F_TRAYS, p->trays);
    cot_day_text(day, date);
    snprintf(name, sizeof name, "%s " COT_SEASON_SHARED "%u", date, p->shared);
    char *kept = cot_keep_text(w->args.keep, name, strlen(name));
    return kept && cot_fact_set_int(f, COT_F_TRAY_ROWS, p->rows) &&
           cot_fact_set_text(f, COT_F_SHARED, kept, strlen(kept));
}

/* Names the place in the field; clears the field where there is none and the sowing named one. */
static bool set_place(const struct cot_thing *planned, const struct cot_thing *place, enum cot_field field,
                      struct cot_fact *f)
{
    const char *name = place ? cot_thing_name(place) : "", *was = planned ? cot_thing_text(planned, field) : "";
    if (strcmp(name, was) == 0) return true;
    return name[0] ? cot_fact_set_text(f, field, name, strlen(name)) : cot_fact_clear(f, field);
}

static bool set_places(const struct cot_season_sowing *p, struct cot_fact *f)
{
    return set_place(p->planned, p->chamber, COT_F_CHAMBER, f) && set_place(p->planned, p->bench, COT_F_BENCH, f) &&
           set_place(p->planned, p->frame, COT_F_FRAME, f);
}

static bool make_new(struct cot_job *w, const struct cot_season *s, const struct cot_season_sowing *p,
                     struct cot_fact *f)
{
    *f = (struct cot_fact){.kind = COT_K_PLANNED};
    return cot_fact_set_ids(f, COT_F_LOT, &p->lot->id, 1) && cot_fact_set_ids(f, COT_F_FORMAT, &p->format->id, 1) &&
           set_measure(w, p, p->day, f) && (!p->plate || cot_fact_set_ids(f, COT_F_PLATE, &p->plate->id, 1)) &&
           cot_fact_set_int(f, COT_F_PER_CELL, p->per_cell) &&
           (p->at_least <= 1 || cot_fact_set_int(f, COT_F_AT_LEAST, p->at_least)) &&
           cot_fact_set_int(f, COT_F_SOW_DAY, p->day) && cot_fact_set_int(f, COT_F_READY, p->stages.ready) &&
           set_places(p, f) && set_lines(w, s, p, f);
}

/* Only what differs from what is planned. */
static bool make_change(struct cot_job *w, const struct cot_season *s, const struct cot_season_sowing *p,
                        struct cot_fact *f)
{
    const struct cot_thing *t = p->planned;
    *f = (struct cot_fact){.kind = COT_K_PLANNED, .has_about = true, .about = t->id};
    bool ok = true;
    if (p->day != p->was_day)
        ok = cot_fact_set_int(f, COT_F_SOW_DAY, p->day) && cot_fact_set_int(f, COT_F_READY, p->stages.ready);
    if (ok && p->rows == 0 && p->trays + p->sown != cot_thing_int(t, COT_F_TRAYS, 0))
        ok = cot_fact_set_int(f, COT_F_TRAYS, p->trays + p->sown);
    if (ok && (f->value_count > 0 || cot_season_other_place(p))) ok = set_places(p, f);
    return ok && (f->value_count == 0 || set_lines(w, s, p, f));
}

struct taking {
    struct cot_fact *fact;
    size_t count;
    uint32_t to_buy, fresh, changed, dropped, unnamed; /* unnamed: lines beyond what an entry can name */
};

static bool take(struct cot_job *w, const struct cot_season *s, const struct cot_season_sowing *p, struct taking *t)
{
    struct cot_fact *f = &t->fact[t->count];
    bool ok = true;
    if (p->change == COT_SEASON_DROPPED) {
        *f = (struct cot_fact){.kind = COT_K_DROPPED, .has_about = true, .about = p->planned->id};
        t->dropped++;
    } else if (p->day == COT_DAY_NONE) {
        return true;
    } else if (p->planned) {
        ok = make_change(w, s, p, f);
        if (f->value_count == 0) return ok;
        t->changed++;
    } else if (!p->lot) {
        t->to_buy++;
        return true;
    } else {
        ok = make_new(w, s, p, f);
        t->fresh++;
    }
    int64_t most = cot_field_row(COT_F_LINES)->max;
    if (p->change != COT_SEASON_DROPPED && p->parts > most) t->unnamed += p->parts - (uint32_t)most;
    t->count++;
    return ok;
}

static enum cot_err accept(struct cot_job *w, const struct cot_season *s)
{
    struct taking t = {.fact = calloc((size_t)s->sowing_count + 1, sizeof *t.fact)};
    bool ok = t.fact != NULL;
    char some[COT_SOME_TEXT];
    for (uint32_t i = 0; ok && i < s->sowing_count; i++) ok = take(w, s, &s->sowing[i], &t);
    enum cot_err err = ok ? COT_OK : cot_fail(&w->cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    if (ok && t.count > 0) err = cot_answer_record(w->cli, &w->answer, t.fact, t.count);
    free(t.fact);
    if (err != COT_OK) return err;
    if (t.count == 0) cot_answer_line(&w->answer, "Everything is planned so already: nothing was recorded.");
    else
        cot_answer_line(&w->answer, "Planned: %s new, %u changed, %u dropped. `cotyl list planned` shows them.",
                        cot_some(t.fresh, "sowing", some), t.changed, t.dropped);
    if (t.unnamed > 0)
        cot_answer_warn(&w->answer, "a sowing names %lld lines at most: %s served by one without being named.",
                        (long long)cot_field_row(COT_F_LINES)->max, cot_some(t.unnamed, "line", some));
    if (t.to_buy > 0)
        cot_answer_warn(&w->answer, "%s still without seed: plan again when the lot has been added.",
                        cot_some(t.to_buy, "sowing", some));
    return COT_OK;
}

/* --- The command -------------------------------------------------------------------------------------------------- */

static enum cot_err read_ask(struct cot_job *w, struct cot_season_ask *ask)
{
    enum cot_err err = cot_day_asked(w->cli, &w->args, opts, "on", &ask->on);
    ask->promised_only = cot_job_option(w, "promised-only") != NULL;
    ask->from_scratch = cot_job_option(w, "from-scratch") != NULL;
    ask->each_alone = cot_job_option(w, "each-alone") != NULL;
    if (err == COT_OK && ask->each_alone) ask->from_scratch = true;
    return err;
}

/* The command that records it, with the options that it was asked with. */
static void put_hint(struct cot_job *w, const char *mark)
{
    const char *on = cot_job_option(w, "on");
    printf("\nNothing is recorded by this. `cotyl plan%s%s%s%s --accept %s` records it.\n", on ? " --on " : "",
           on ? on : "", cot_job_option(w, "promised-only") ? " --promised-only" : "",
           cot_job_option(w, "from-scratch") ? " --from-scratch" : "", mark);
}

static enum cot_err show(struct cot_job *w, const struct cot_season *s, const char *mark)
{
    enum cot_form form;
    enum cot_err err = cot_form_asked(w->cli, cot_job_option(w, "csv"), &form);
    if (err == COT_OK) err = cot_day_said(w->cli, s->on, form);
    if (err != COT_OK) return err;
    if (cot_job_option(w, "lines")) return cot_plan_lines_print(w->cli, s, form);
    err = cot_plan_print(w->cli, s, form);
    if (err == COT_OK && form == COT_FORM_TEXT && mark && s->sowing_count > 0) put_hint(w, mark);
    return err;
}

static enum cot_err changed_since(struct cot_job *w, const struct cot_season *s, const char *typed, const char *mark)
{
    enum cot_err err = show(w, s, mark);
    if (err != COT_OK) return err;
    (void)cot_fail(&w->cli->fault, COT_CONFLICT, "the plan is not the one that was shown with %s: nothing was recorded",
                   typed);
    return cot_hint(&w->cli->fault, "look at the new one above; `cotyl plan --accept %s` records it", mark);
}

enum cot_err cot_cmd_plan(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    struct cot_season_ask ask = {0};
    struct cot_season s = {0};
    char mark[COT_PLAN_MARK];
    enum cot_err err = cot_job_start(&w, cli, COT_K_PLANNED, argc, argv, opts, 0, 0);
    if (err == COT_OK && cli->me.part == COT_PART_BUYER)
        err = cot_fail(&cli->fault, COT_NOT_ALLOWED, "the plan is the house's: `cotyl orders` shows your lines");
    if (err == COT_OK) err = read_ask(&w, &ask);
    if (err == COT_OK) err = cot_season_plan(cli->book, &ask, &s, &cli->fault);
    if (err != COT_OK) goto out;
    cot_plan_mark(&s, mark);
    const char *typed = cot_job_option(&w, "accept");
    if (typed && ask.each_alone) err = cot_misuse(cli, "--each-alone is for comparing: it is not recorded");
    else if (typed && strcasecmp(typed, mark) != 0) err = changed_since(&w, &s, typed, mark);
    else if (typed) err = accept(&w, &s);
    else err = show(&w, &s, ask.each_alone ? NULL : mark);
out:
    cot_season_free(&s);
    if (err == COT_OK && !cot_job_option(&w, "accept")) {
        cot_args_free(&w.args);
        return COT_OK;
    }
    return cot_job_end(&w, err);
}
