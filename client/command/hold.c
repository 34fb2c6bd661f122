/* hold and release: a batch that may not go out, or an order line whose farm cannot plant yet, and the end of either.
 */
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "cotyledger/core/hold.h"
#include "show/hold.h"
#include "work.h"

const char cot_help_hold[] = "Holds a batch back: until it is released, or past the day given, the reports\n"
                             "do not count on it for any order.\n"
                             "\n"
                             "Or holds an order line, for a farm that cannot plant yet: the house keeps its\n"
                             "plants until the day given, the day on which it collects then. What that\n"
                             "keeps, on which bench, until when the plants are fit in their tray, and who\n"
                             "else could take them is said first; --ask says it and records nothing. A\n"
                             "buyer may hold the farm's own lines; past a line's closing day the house\n"
                             "has to say yes.\n"
                             "\n"
                             "  --why TEXT    the reason: the next person wants to know (of a batch)\n"
                             "  --until DAY   last day of it (of a batch: else until `cotyl release`)\n"
                             "  --day DAY     the day the hold starts (default: today; of a batch)\n"
                             "  --ask         only say what the hold of a line would keep\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl hold A-0012-5 --why \"downy mildew? sample sent\" --until 2027-03-20\n"
                             "  cotyl hold C-0003-H --until 2027-04-19\n";

const char cot_help_release[] = "Ends the hold of a batch: the reports count on it again. Or of an order line:\n"
                                "the farm collects on its own day again.\n"
                                "\n"
                                "  --day DAY     the day it was released (default: today; of a batch)\n"
                                "  --note TEXT   anything worth knowing\n"
                                "\n"
                                "Example:\n"
                                "  cotyl release A-0012-5 --note \"sample was clean\"\n";

static const struct cot_opt hold_opts[] = {
    {"why", "TEXT", COT_F_WHY},
    {"until", "DAY", COT_F_UNTIL},
    {"day", "DAY", COT_F_DAY},
    {"ask", NULL, -1},
    COT_OPT_END,
};
static const struct cot_opt line_opts[] = {{"until", "DAY", COT_F_WAIT_UNTIL}, {"ask", NULL, -1}, COT_OPT_END};
static const struct cot_opt release_opts[] = {{"day", "DAY", COT_F_DAY}, {"note", "TEXT", COT_F_TEXT}, COT_OPT_END};
static const struct cot_opt release_line_opts[] = {{"note", "TEXT", COT_F_TEXT}, COT_OPT_END};

/* Whether the first word that is no option is the code of an order line; what is wrong with it is said later. */
static bool of_line(struct cot_cli *cli, int argc, char **argv)
{
    const struct cot_thing *t = NULL;
    struct cot_fault kept = cli->fault;
    for (int i = 1; i < argc && !t; i++)
        if (argv[i][0] != '-' && cot_find_any(cli, argv[i], &t) != COT_OK) t = NULL;
    cli->fault = kept;
    return t && t->type == COT_THING_LINE;
}

/* --- A batch ------------------------------------------------------------------------------------------------------ */

static enum cot_err hold_batch(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *batch;
    char from[COT_DATE_TEXT], until[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&w, cli, COT_K_HELD, argc, argv, hold_opts, 1, 1);
    if (err == COT_OK) err = cot_job_batch(&w, w.args.word[0], &batch);
    if (err == COT_OK && cot_job_option(&w, "ask")) err = cot_misuse(cli, "--ask is for order lines");
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

static enum cot_err release_batch(struct cot_cli *cli, int argc, char **argv)
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

/* --- An order line ------------------------------------------------------------------------------------------------ */

static enum cot_err check_until(struct cot_job *w, const struct cot_thing *line)
{
    char until[COT_DATE_TEXT], date[COT_DATE_TEXT];
    int32_t end = (int32_t)cot_fact_int(&w->fact, COT_F_WAIT_UNTIL, COT_DAY_NONE);
    int32_t own = (int32_t)cot_thing_int(line, COT_F_DATE, COT_DAY_NONE);
    if (end == COT_DAY_NONE) return cot_misuse(w->cli, "say until when: --until DAY");
    if (end > own) return COT_OK;
    (void)cot_fail(&w->cli->fault, COT_INVALID, "--until: %s is not after the day it collects (%s)",
                   cot_date(end, until), cot_date(own, date));
    return cot_hint(&w->cli->fault,
                    "`cotyl release %s` ends a hold; `cotyl change line %s --on DAY` is for an earlier day", w->code,
                    w->code);
}

/* The house's own book says what is kept; a buyer's laptop has no batches. */
static enum cot_err tell_kept(struct cot_job *w, const struct cot_thing *line, struct cot_buf *out)
{
    struct cot_hold h;
    if (w->cli->me.part == COT_PART_BUYER) return COT_OK;
    int32_t end = (int32_t)cot_fact_int(&w->fact, COT_F_WAIT_UNTIL, COT_DAY_NONE);
    enum cot_err err = cot_hold_read(w->cli->book, w->today, line, end, &h, NULL);
    if (err == COT_OK) cot_hold_put(&h, out);
    return err == COT_INVALID ? COT_OK : err; /* trays of no format, say: it can be held all the same */
}

static enum cot_err hold_line(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *line;
    char until[COT_DATE_TEXT];
    struct cot_buf kept = {0};
    enum cot_err err = cot_job_start(&w, cli, COT_K_LINE, argc, argv, line_opts, 1, 1);
    if (err == COT_OK) err = cot_job_coded(&w, COT_THING_LINE, w.args.word[0], &line);
    if (err == COT_OK) err = check_until(&w, line);
    if (err == COT_OK) err = tell_kept(&w, line, &kept);
    if (err == COT_OK && !cli->json && kept.len > 0) err = cot_print(cli, &kept);
    bool ask = cot_job_option(&w, "ask") != NULL;
    if (err == COT_OK && !ask) err = cot_job_record(&w);
    if (err == COT_OK && ask) cot_answer_line(&w.answer, "Nothing was recorded.");
    else if (err == COT_OK)
        cot_answer_line(&w.answer, "%s is kept until %s.", w.code,
                        cot_date((int32_t)cot_fact_int(&w.fact, COT_F_WAIT_UNTIL, 0), until));
    cot_buf_free(&kept);
    return cot_job_end(&w, err);
}

static enum cot_err release_line(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *line = NULL;
    char date[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&w, cli, COT_K_LINE, argc, argv, release_line_opts, 1, 1);
    if (err == COT_OK) err = cot_job_coded(&w, COT_THING_LINE, w.args.word[0], &line);
    if (err == COT_OK && !cot_thing_value(line, COT_F_WAIT_UNTIL))
        err = cot_fail(&cli->fault, COT_INVALID, "%s is not held: nothing was recorded", w.code);
    int32_t own = err == COT_OK ? (int32_t)cot_thing_int(line, COT_F_DATE, 0) : 0;
    if (err == COT_OK && !cot_fact_clear(&w.fact, COT_F_WAIT_UNTIL)) err = COT_MEMORY;
    if (err == COT_OK) err = cot_job_record(&w);
    if (err == COT_OK)
        cot_answer_line(&w.answer, "%s is not held any more: it collects on %s.", w.code, cot_date(own, date));
    return cot_job_end(&w, err);
}

enum cot_err cot_cmd_hold(struct cot_cli *cli, int argc, char **argv)
{
    return of_line(cli, argc, argv) ? hold_line(cli, argc, argv) : hold_batch(cli, argc, argv);
}

enum cot_err cot_cmd_release(struct cot_cli *cli, int argc, char **argv)
{
    return of_line(cli, argc, argv) ? release_line(cli, argc, argv) : release_batch(cli, argc, argv);
}
