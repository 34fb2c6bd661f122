/* hand-over: plants of a batch go out for an order line. */
#include "commands.h"
#include "cotyledger/core/fill.h"
#include "work.h"

#include <stdlib.h>

const char cot_help_hand_over[] = "Records plants of a batch handed over for an order line. What went out went out:\n"
                                  "it is recorded, with a warning when less was expected there.\n"
                                  "\n"
                                  "  --plants N    plants handed over\n"
                                  "  --trays N     trays handed over; without --plants all their cells count\n"
                                  "  --owed N      empty trays the farm owes for it\n"
                                  "  --day DAY     the day it was handed over (default: today)\n"
                                  "  --note TEXT   anything worth knowing\n"
                                  "\n"
                                  "Examples:\n"
                                  "  cotyl hand-over C-0003-H A-0012-5 --plants 480 --trays 4 --owed 4\n"
                                  "  cotyl hand-over C-0003-H A-0012-5 --trays 4\n";

static const struct cot_opt opts[] = {
    {"plants", "N", COT_F_PLANTS}, {"trays", "N", COT_F_TRAYS},  {"owed", "N", COT_F_OWED},
    {"day", "DAY", COT_F_DAY},     {"note", "TEXT", COT_F_TEXT}, COT_OPT_END,
};

struct handing {
    struct cot_job w;
    const struct cot_thing *line, *batch;
    char line_code[COT_CODE_TEXT], batch_code[COT_CODE_TEXT];
    int64_t plants, trays, wanted, before; /* before: handed over for the line until now */
};

static enum cot_err find_things(struct handing *h)
{
    struct cot_job *w = &h->w;
    enum cot_err err = cot_job_batch(w, w->args.word[1], &h->batch);
    snprintf(h->batch_code, sizeof h->batch_code, "%s", w->code);
    if (err == COT_OK) err = cot_job_coded(w, COT_THING_LINE, w->args.word[0], &h->line);
    if (err != COT_OK) return err;
    snprintf(h->line_code, sizeof h->line_code, "%s", w->code);
    w->fact.has_about = false; /* both are fields here; the line's farm stays */
    if (!cot_fact_set_ids(&w->fact, COT_F_LINE, &h->line->id, 1) ||
        !cot_fact_set_ids(&w->fact, COT_F_BATCH, &h->batch->id, 1))
        return cot_fail(&w->cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

static enum cot_err read_amount(struct handing *h)
{
    struct cot_job *w = &h->w;
    bool trays = cot_job_option(w, "trays") != NULL, plants = cot_job_option(w, "plants") != NULL;
    h->trays = cot_fact_int(&w->fact, COT_F_TRAYS, 0);
    h->plants = cot_fact_int(&w->fact, COT_F_PLANTS, h->trays * cot_batch_tray_cells(w->cli, h->batch));
    if (!trays && !plants) return cot_misuse(w->cli, "say how much went out: --plants N, --trays N or both");
    if (trays && h->trays < 1) return cot_misuse(w->cli, "--trays: 1 or more");
    if (plants && h->plants < 1) return cot_misuse(w->cli, "--plants: 1 or more");
    if (h->plants < 1) {
        (void)cot_fail(&w->cli->fault, COT_INVALID, "the cells of a tray of %s are not known", h->batch_code);
        return cot_hint(&w->cli->fault, "say how many plants went out: --plants N");
    }
    if (!cot_fact_set_int(&w->fact, COT_F_PLANTS, h->plants))
        return cot_fail(&w->cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

/* Is the variety one the line asked for, or takes instead? */
static bool variety_fits(struct handing *h, const struct cot_thing *variety)
{
    const struct cot_id *asked = cot_thing_id(h->line, COT_F_VARIETY);
    const struct cot_value *subs = cot_thing_value(h->line, COT_F_SUBS);
    if (!variety || !asked || cot_id_cmp(asked, &variety->id) == 0) return true;
    for (uint32_t i = 0; subs && subs->type == COT_T_IDS && i < subs->len; i++)
        if (cot_id_cmp(&subs->v.ids[i], &variety->id) == 0) return true;
    return false;
}

static void warn_match(struct handing *h)
{
    struct cot_job *w = &h->w;
    const struct cot_thing *variety = cot_batch_variety(w->cli, h->batch);
    const struct cot_id *asked = cot_thing_id(h->line, COT_F_FORMAT), *has = cot_thing_id(h->batch, COT_F_FORMAT);
    if (!variety_fits(h, variety))
        cot_answer_warn(&w->answer, "%s is %s, and %s asks for %s.", h->batch_code, cot_thing_name(variety),
                        h->line_code, cot_name_of(w->cli, h->line, COT_F_VARIETY));
    if (asked && has && cot_id_cmp(asked, has) != 0)
        cot_answer_warn(&w->answer, "%s stands in %s, and %s asks for %s.", h->batch_code, cot_name_at(w->cli, has),
                        h->line_code, cot_name_at(w->cli, asked));
    if (h->line->gone) cot_answer_warn(&w->answer, "the line %s was withdrawn.", h->line_code);
}

/* What the line asked of the seed, and what the batch is of. */
static void warn_seed(struct handing *h, const struct cot_stand *stand)
{
    static const struct cot_id none;
    struct cot_answer *a = &h->w.answer;
    if (cot_thing_int(h->line, COT_F_UNTREATED, 0) && !stand->untreated)
        cot_answer_warn(a, "%s asks for untreated seed, and %s is of treated seed.", h->line_code, h->batch_code);
    if (cot_thing_int(h->line, COT_F_ORGANIC, 0) && !stand->organic)
        cot_answer_warn(a, "%s asks for organic seed, and %s is not.", h->line_code, h->batch_code);
    if (cot_id_cmp(&stand->owner, &none) != 0 && cot_id_cmp(&stand->owner, &h->line->farm) != 0)
        cot_answer_warn(a, "%s is of %s's own seed, and %s is another farm's line.", h->batch_code,
                        cot_name_at(h->w.cli, &stand->owner), h->line_code);
}

static void warn_batch(struct handing *h)
{
    struct cot_job *w = &h->w;
    struct cot_stand stand;
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    int64_t trays = cot_batch_trays(h->batch), cells = cot_batch_tray_cells(w->cli, h->batch);
    bool read = cot_stand_read(w->cli->book, h->batch, w->day, &stand) == COT_OK;
    if (read && stand.held)
        cot_answer_warn(&w->answer, "%s is held: `cotyl history %s` says why.", h->batch_code, h->batch_code);
    if (read) warn_seed(h, &stand);
    if (read && stand.past != COT_DAY_NONE && w->day > stand.past)
        cot_answer_warn(&w->answer, "%s was good until %s: look whether the plants are still fit to go.", h->batch_code,
                        cot_date(stand.past, date));
    if (trays > 0 && h->trays > trays)
        cot_answer_warn(&w->answer, "%s has %s only.", h->batch_code, cot_some(trays, "tray", some));
    if (h->trays > 0 && cells > 0 && h->plants > h->trays * cells)
        cot_answer_warn(&w->answer, "%lld plants are more than the %lld cells of %s.", (long long)h->plants,
                        (long long)(h->trays * cells), cot_some(h->trays, "tray", some));
    cot_warn_stand(w, h->batch, h->plants, "handed over");
}

/* What the line has had already, and whether this is more than it wants. */
static enum cot_err read_line(struct handing *h)
{
    struct cot_job *w = &h->w;
    struct cot_handover_row *rows;
    size_t n;
    enum cot_err err = cot_handovers_read(w->cli->book, w->day > w->today ? w->day : w->today, &rows, &n);
    if (err != COT_OK)
        return cot_fail(&w->cli->fault, err, "unable to read the hand-overs: %s", cot_err_row(err)->title);
    for (size_t i = 0; i < n; i++)
        if (rows[i].line == h->line) h->before += rows[i].plants - rows[i].refused - rows[i].back;
    free(rows);
    h->wanted = cot_line_wanted(w->cli, h->line);
    if (h->wanted > 0 && h->before + h->plants > h->wanted)
        cot_answer_warn(&w->answer, "%s asks for %lld plants and has now had %lld.", h->line_code, (long long)h->wanted,
                        (long long)(h->before + h->plants));
    return COT_OK;
}

static void answer(struct handing *h)
{
    struct cot_job *w = &h->w;
    char plants[COT_SOME_TEXT], trays[COT_SOME_TEXT], date[COT_DATE_TEXT];
    int64_t owed = cot_fact_int(&w->fact, COT_F_OWED, 0);
    cot_answer_line(&w->answer, "%s: %s%s%s of %s handed over to %s on %s: %lld of %lld plants.", h->line_code,
                    cot_some(h->plants, "plant", plants), h->trays > 0 ? ", " : "",
                    h->trays > 0 ? cot_some(h->trays, "tray", trays) : "", h->batch_code,
                    cot_name_at(w->cli, &w->fact.farm), cot_date(w->day, date), (long long)(h->before + h->plants),
                    (long long)h->wanted);
    if (!cot_job_option(w, "plants"))
        cot_answer_line(&w->answer, "Every cell of the trays was counted as a plant; --plants N says otherwise.");
    if (owed > 0) cot_answer_line(&w->answer, "The farm owes %s for it.", cot_some(owed, "empty tray", trays));
}

enum cot_err cot_cmd_hand_over(struct cot_cli *cli, int argc, char **argv)
{
    struct handing h = {0};
    enum cot_err err = cot_job_start(&h.w, cli, COT_K_HANDED, argc, argv, opts, 2, 2);
    if (err == COT_OK) err = find_things(&h);
    if (err == COT_OK) err = read_amount(&h);
    if (err == COT_OK) err = read_line(&h);
    if (err != COT_OK) goto out;
    warn_match(&h);
    warn_batch(&h);
    err = cot_job_record(&h.w);
    if (err == COT_OK) answer(&h);
out:
    return cot_job_end(&h.w, err);
}
