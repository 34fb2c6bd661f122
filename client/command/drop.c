/* drop: a planned sowing that is not wanted any more. */
#include "commands.h"
#include "work.h"

const char cot_help_drop[] = "Drops a planned sowing: it is not to be sown any more. What was sown for it\n"
                             "stands. `cotyl take-back last` takes the dropping back.\n"
                             "\n"
                             "  --why TEXT    the reason\n"
                             "\n"
                             "Example:\n"
                             "  cotyl drop A-0006-1 --why \"the farm buys its leeks in\"\n";

static const struct cot_opt opts[] = {{"why", "TEXT", COT_F_WHY}, COT_OPT_END};

static void answer(struct cot_job *w, const struct cot_thing *t)
{
    char date[COT_DATE_TEXT];
    const char *why = cot_job_option(w, "why");
    cot_answer_line(&w->answer, "%s: dropped: lot %s, to be sown %s%s%s.", w->code, cot_name_of(w->cli, t, COT_F_LOT),
                    cot_date((int32_t)cot_thing_int(t, COT_F_SOW_DAY, COT_DAY_NONE), date), why ? ": " : "",
                    why ? why : "");
}

enum cot_err cot_cmd_drop(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *t;
    enum cot_err err = cot_job_start(&w, cli, COT_K_DROPPED, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = cot_job_coded(&w, COT_THING_PLANNED, w.args.word[0], &t);
    if (err == COT_OK && t->gone) err = cot_fail(&cli->fault, COT_INVALID, "%s: it is dropped already", w.code);
    if (err == COT_OK) err = cot_job_record(&w);
    if (err == COT_OK) t = cot_book_thing(cli->book, &w.fact.about);
    if (err == COT_OK && t) answer(&w, t);
    return cot_job_end(&w, err);
}
