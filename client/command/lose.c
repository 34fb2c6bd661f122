/* lose: plants or whole trays gone. */
#include "commands.h"
#include "work.h"

const char cot_help_lose[] = "Records plants or trays of a batch that are gone: dried out, eaten, dropped.\n"
                             "\n"
                             "  --plants N    this many plants\n"
                             "  --trays N     this many whole trays, no matter which\n"
                             "  --which N,N   these trays, by number from the tag; with --plants: in these\n"
                             "                trays\n"
                             "  --unusable    they were no usable plants before (blanks and culls thrown out)\n"
                             "  --why TEXT    what happened\n"
                             "  --day DAY     the day it happened (default: today)\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl lose A-0012-5 --plants 40 --why \"slugs on bench 3\"\n"
                             "  cotyl lose A-0012-5 --which 5 --why \"tray dropped\"\n";

static const struct cot_opt opts[] = {
    {"plants", "N", COT_F_PLANTS},
    {"trays", "N", COT_F_TRAYS},
    {"which", "N,N", COT_F_WHICH},
    {"unusable", NULL, -1},
    {"why", "TEXT", COT_F_WHY},
    {"day", "DAY", COT_F_DAY},
    COT_OPT_END,
};

static enum cot_err check_words(struct cot_job *w)
{
    const char *plants = cot_job_option(w, "plants"), *trays = cot_job_option(w, "trays"),
               *which = cot_job_option(w, "which");
    if (!plants && !trays && !which)
        return cot_misuse(w->cli, "say what was lost: --plants N, --trays N or --which 3,5");
    if (trays && (plants || which)) return cot_misuse(w->cli, "--trays goes alone: give either trays or plants");
    if (!cot_job_option(w, "why")) return cot_misuse(w->cli, "say what happened: --why TEXT");
    if (plants && cot_fact_int(&w->fact, COT_F_PLANTS, 0) < 1) return cot_misuse(w->cli, "--plants: 1 or more");
    if (trays && cot_fact_int(&w->fact, COT_F_TRAYS, 0) < 1) return cot_misuse(w->cli, "--trays: 1 or more");
    return COT_OK;
}

static void check_sense(struct cot_job *w, const struct cot_thing *batch)
{
    char some[COT_SOME_TEXT], has[COT_SOME_TEXT];
    int64_t trays = cot_fact_int(&w->fact, COT_F_TRAYS, 0), plants = cot_fact_int(&w->fact, COT_F_PLANTS, 0);
    if (trays > 0 && trays > cot_batch_trays(batch))
        cot_answer_warn(&w->answer, "%s lost, but %s was sown as %s. Recorded as it happened.",
                        cot_some(trays, "tray", some), cot_thing_name(batch),
                        cot_some(cot_batch_trays(batch), "tray", has));
    if (plants > 0 && !cot_job_option(w, "unusable")) cot_warn_stand(w, batch, plants, "lost");
}

static void answer(struct cot_job *w)
{
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    const char *which = cot_job_option(w, "which");
    int64_t trays = cot_fact_int(&w->fact, COT_F_TRAYS, 0), plants = cot_fact_int(&w->fact, COT_F_PLANTS, 0);
    const char *usable = cot_job_option(w, "unusable") ? " (not usable before)" : "";
    const char *why = cot_job_option(w, "why");
    cot_date(w->day, date);
    if (plants > 0)
        cot_answer_line(&w->answer, "%s: %s lost%s%s%s on %s: %s.", w->code, cot_some(plants, "plant", some),
                        which ? " in tray " : "", which ? which : "", usable, date, why);
    else if (trays > 0)
        cot_answer_line(&w->answer, "%s: %s lost%s on %s: %s.", w->code, cot_some(trays, "whole tray", some), usable,
                        date, why);
    else cot_answer_line(&w->answer, "%s: tray %s lost%s on %s: %s.", w->code, which, usable, date, why);
}

enum cot_err cot_cmd_lose(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *batch;
    enum cot_err err = cot_job_start(&w, cli, COT_K_LOST, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = check_words(&w);
    if (err == COT_OK) err = cot_job_batch(&w, w.args.word[0], &batch);
    if (err == COT_OK) err = cot_check_which(&w, batch);
    if (err == COT_OK && cot_job_option(&w, "unusable") && !cot_fact_set_int(&w.fact, COT_F_WERE_USABLE, 0))
        err = cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    if (err != COT_OK) goto out;
    check_sense(&w, batch);
    err = cot_job_record(&w);
    if (err == COT_OK) answer(&w);
out:
    return cot_job_end(&w, err);
}
