/* bring-back: plants of a hand-over that came back. */
#include "commands.h"
#include "cotyledger/core/fill.h"
#include "entries.h"
#include "work.h"

#include <stdlib.h>
#include <string.h>

const char cot_help_bring_back[] = "Records plants of a hand-over that came back or were refused. Usable plants\n"
                                   "stand in their batch again; with --unusable they are gone.\n"
                                   "\n"
                                   "The hand-over is named by the code of its order line, or, when the line had\n"
                                   "several, by the first characters that are then shown.\n"
                                   "\n"
                                   "  --plants N    plants that came back\n"
                                   "  --trays N     trays that came back\n"
                                   "  --unusable    they can't be handed over again\n"
                                   "  --why TEXT    the reason\n"
                                   "  --day DAY     the day they came back (default: today)\n"
                                   "\n"
                                   "Example:\n"
                                   "  cotyl bring-back C-0003-H --plants 60 --unusable --why \"frosted on the way\"\n";

static const struct cot_opt opts[] = {
    {"plants", "N", COT_F_PLANTS}, {"trays", "N", COT_F_TRAYS}, {"unusable", NULL, -1},
    {"why", "TEXT", COT_F_WHY},    {"day", "DAY", COT_F_DAY},   COT_OPT_END,
};

struct bringing {
    struct cot_job w;
    struct cot_handover_row *rows, *row; /* row: the hand-over that is meant */
    size_t count;
};

/* Lists the hand-overs of a line in the hint, for the next try. */
static enum cot_err several(struct bringing *b, const struct cot_thing *line, size_t fits)
{
    struct cot_fault *fault = &b->w.cli->fault;
    struct cot_buf list = {0};
    (void)cot_fail(fault, fits ? COT_AMBIGUOUS : COT_NOT_FOUND, "%s had %s", cot_thing_name(line),
                   fits ? "several hand-overs: say which" : "no hand-over yet");
    for (size_t i = 0; i < b->count && fits > 0; i++) {
        char id[COT_ID_TEXT], day[COT_DAY_TEXT];
        if (b->rows[i].line != line) continue;
        cot_id_text(&b->rows[i].handover->id, id);
        cot_day_text(b->rows[i].day, day);
        cot_buf_fmt(&list, "%s%.10s (%s, %lld plants of %s)", list.len ? ", " : "", id, day,
                    (long long)b->rows[i].plants, b->rows[i].batch ? cot_thing_name(b->rows[i].batch) : "?");
    }
    if (fits > 0) (void)cot_hint(fault, "name one by its first characters: %s", list.s ? list.s : "");
    else (void)cot_hint(fault, "`cotyl handovers` lists what went out");
    cot_buf_free(&list);
    return fault->code;
}

static enum cot_err by_line(struct bringing *b, const char *typed)
{
    const struct cot_thing *line;
    size_t fits = 0;
    enum cot_err err = cot_find_coded(b->w.cli, COT_THING_LINE, typed, &line);
    if (err != COT_OK) return err;
    for (size_t i = 0; i < b->count; i++) {
        if (b->rows[i].line != line) continue;
        b->row = &b->rows[i];
        fits++;
    }
    return fits == 1 ? COT_OK : several(b, line, fits);
}

static enum cot_err by_digest(struct bringing *b, const char *typed)
{
    struct cot_id id;
    enum cot_err err = cot_digest_find(b->w.cli, typed, &id);
    if (err != COT_OK) return err;
    for (size_t i = 0; i < b->count; i++)
        if (cot_id_cmp(&b->rows[i].handover->id, &id) == 0) b->row = &b->rows[i];
    if (b->row) return COT_OK;
    (void)cot_fail(&b->w.cli->fault, COT_NOT_FOUND, "%.20s is no hand-over that stands", typed);
    return cot_hint(&b->w.cli->fault, "name the order line by its code");
}

static enum cot_err find_handover(struct bringing *b)
{
    struct cot_job *w = &b->w;
    char code[COT_CODE_TEXT];
    const char *typed = w->args.word[0];
    enum cot_err err = cot_handovers_read(w->cli->book, w->day > w->today ? w->day : w->today, &b->rows, &b->count);
    if (err != COT_OK)
        return cot_fail(&w->cli->fault, err, "unable to read the hand-overs: %s", cot_err_row(err)->title);
    err = cot_code_read(typed, strlen(typed), code) == COT_CODE_SHAPE ? by_digest(b, typed) : by_line(b, typed);
    if (err == COT_OK) cot_job_about(w, b->row->handover);
    if (err == COT_OK && b->row->farm) cot_job_farm(w, &b->row->farm->id);
    return err;
}

static enum cot_err check_sense(struct bringing *b)
{
    struct cot_job *w = &b->w;
    char back[COT_DATE_TEXT], out[COT_DATE_TEXT];
    int64_t plants = cot_fact_int(&w->fact, COT_F_PLANTS, 0), left = b->row->plants - b->row->refused - b->row->back;
    if (plants < 1) return cot_misuse(w->cli, "say how many plants came back: --plants N, 1 or more");
    if (!cot_job_option(w, "why")) return cot_misuse(w->cli, "say why they came back: --why TEXT");
    if (plants > left)
        cot_answer_warn(&w->answer,
                        "only %lld plants of this hand-over are still out: the reports count no more than these back.",
                        (long long)left);
    if (w->day < b->row->day)
        cot_answer_warn(&w->answer, "%s is before the hand-over of %s.", cot_date(w->day, back),
                        cot_date(b->row->day, out));
    if (cot_job_option(w, "unusable") && !cot_fact_set_int(&w->fact, COT_F_WERE_USABLE, 0))
        return cot_fail(&w->cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

enum cot_err cot_cmd_bring_back(struct cot_cli *cli, int argc, char **argv)
{
    struct bringing b = {0};
    char line[COT_CODE_TEXT] = "", batch[COT_CODE_TEXT] = "", some[COT_SOME_TEXT], date[COT_DATE_TEXT],
         out_on[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&b.w, cli, COT_K_BACK, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = find_handover(&b);
    if (err == COT_OK) err = check_sense(&b);
    if (err != COT_OK) goto out;
    if (b.row->line) snprintf(line, sizeof line, "%s", cot_thing_name(b.row->line));
    if (b.row->batch) snprintf(batch, sizeof batch, "%s", cot_thing_name(b.row->batch));
    cot_date(b.row->day, out_on);
    err = cot_job_record(&b.w);
    if (err != COT_OK) goto out;
    cot_answer_line(&b.w.answer, "%s: %s of the hand-over of %s came back on %s: %s.", line,
                    cot_some(cot_fact_int(&b.w.fact, COT_F_PLANTS, 0), "plant", some), out_on, cot_date(b.w.day, date),
                    cot_job_option(&b.w, "why"));
    if (cot_job_option(&b.w, "unusable"))
        cot_answer_line(&b.w.answer, "They are gone; the line is short by them again.");
    else cot_answer_line(&b.w.answer, "They stand in %s again.", batch);
out:
    free(b.rows);
    return cot_job_end(&b.w, err);
}
