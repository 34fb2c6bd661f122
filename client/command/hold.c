/* hold and release: a batch that may not go out, and its end. */
#include "commands.h"
#include "work.h"

const char cot_help_hold[] = "Holds a batch back: until it is released, or past the day given, the reports\n"
                             "do not count on it for any order.\n"
                             "\n"
                             "  --why TEXT    the reason: the next person wants to know\n"
                             "  --until DAY   held up to this day (default: until `cotyl release`)\n"
                             "  --day DAY     the day the hold starts (default: today)\n"
                             "\n"
                             "Example:\n"
                             "  cotyl hold A-0012-5 --why \"downy mildew? sample sent\" --until 2027-03-20\n";

const char cot_help_release[] = "Ends the hold of a batch: the reports count on it again.\n"
                                "\n"
                                "  --day DAY     the day it was released (default: today)\n"
                                "  --note TEXT   anything worth knowing\n"
                                "\n"
                                "Example:\n"
                                "  cotyl release A-0012-5 --note \"sample was clean\"\n";

static const struct cot_opt hold_opts[] = {
    {"why", "TEXT", COT_F_WHY},
    {"until", "DAY", COT_F_UNTIL},
    {"day", "DAY", COT_F_DAY},
    COT_OPT_END,
};
static const struct cot_opt release_opts[] = {{"day", "DAY", COT_F_DAY}, {"note", "TEXT", COT_F_TEXT}, COT_OPT_END};

enum cot_err cot_cmd_hold(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *batch;
    char from[COT_DATE_TEXT], until[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&w, cli, COT_K_HELD, argc, argv, hold_opts, 1, 1);
    if (err == COT_OK) err = cot_job_batch(&w, w.args.word[0], &batch);
    if (err == COT_OK && !cot_job_option(&w, "why")) err = cot_misuse(cli, "say why it is held: --why TEXT");
    int32_t end = (int32_t)cot_fact_int(&w.fact, COT_F_UNTIL, COT_DAY_NONE);
    if (err == COT_OK && end != COT_DAY_NONE && end < w.day) {
        (void)cot_fail(&cli->fault, COT_INVALID, "--until: %s is before the hold starts (%s)", cot_date(end, until),
                       cot_date(w.day, from));
        err = cot_hint(&cli->fault, "give a later day, or leave --until out to hold it until `cotyl release`");
    }
    if (err == COT_OK) err = cot_job_record(&w);
    if (err == COT_OK)
        cot_answer_line(&w.answer, "%s is held from %s %s%s: %s. No order counts on it until then.", w.code,
                        cot_date(w.day, from), end == COT_DAY_NONE ? "until `cotyl release`" : "until ",
                        end == COT_DAY_NONE ? "" : cot_date(end, until), cot_job_option(&w, "why"));
    return cot_job_end(&w, err);
}

enum cot_err cot_cmd_release(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    struct cot_stand stand;
    const struct cot_thing *batch;
    char date[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&w, cli, COT_K_RELEASED, argc, argv, release_opts, 1, 1);
    if (err == COT_OK) err = cot_job_batch(&w, w.args.word[0], &batch);
    if (err == COT_OK && cot_stand_read(cli->book, batch, w.day, &stand) == COT_OK && !stand.held)
        cot_answer_warn(&w.answer, "%s was not held.", cot_thing_name(batch));
    if (err == COT_OK) err = cot_job_record(&w);
    if (err == COT_OK)
        cot_answer_line(&w.answer, "%s is released from %s: orders may count on it.", w.code, cot_date(w.day, date));
    return cot_job_end(&w, err);
}
