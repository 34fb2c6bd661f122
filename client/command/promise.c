/* promise, decline and withdraw: what becomes of an order line. */
#include "commands.h"
#include "cotyledger/core/fill.h"
#include "work.h"

#include <stdlib.h>
#include <string.h>

const char cot_help_promise[] = "Promises an order line: it gets its place in the queue. The number is what is\n"
                                "promised in all, not what is added: promise 400, later 500, and 500 stand.\n"
                                "\n"
                                "  --plants N    plants promised in all (default: all that is wanted);\n"
                                "                0 takes the promise back\n"
                                "  --date DAY    to collect on another day than was asked\n"
                                "  --note TEXT   a word to the farm\n"
                                "  --all         instead of LINE: every waiting line, in full\n"
                                "  --farm FARM   with --all: of this farm only\n"
                                "\n"
                                "Examples:\n"
                                "  cotyl promise C-0003-H\n"
                                "  cotyl promise C-0003-H --plants 400 --date 2027-04-08\n"
                                "  cotyl promise --all --farm \"Alder Ford\"\n";

const char cot_help_decline[] = "Says no to what is not promised of an order line. The farm sees it with the\n"
                                "reason.\n"
                                "\n"
                                "  --why TEXT    the reason\n"
                                "\n"
                                "Example:\n"
                                "  cotyl decline C-0003-H --why \"no bench space in week 14\"\n";

const char cot_help_withdraw[] = "Withdraws an order line: the farm does not want it any more.\n"
                                 "\n"
                                 "  --why TEXT    the reason\n"
                                 "\n"
                                 "Example:\n"
                                 "  cotyl withdraw C-0003-H --why \"field under water\"\n";

static const struct cot_opt promise_opts[] = {
    {"plants", "N", COT_F_PLANTS}, {"date", "DAY", COT_F_DATE},
    {"note", "TEXT", COT_F_TEXT},  {"all", NULL, -1},
    {"farm", "FARM", -1},          COT_OPT_END,
};
static const struct cot_opt why_opts[] = {{"why", "TEXT", COT_F_WHY}, COT_OPT_END};

/* "500 plants of Red Harbour in 128 square for Alder Ford, to collect 2027-04-05 (W14)" */
static void put_line(struct cot_cli *cli, const struct cot_thing *line, int32_t date, struct cot_buf *b)
{
    char text[COT_DATE_TEXT];
    cot_line_words(cli, line, b);
    if (cli->me.part != COT_PART_BUYER) cot_buf_fmt(b, " for %s", cot_name_at(cli, &line->farm));
    if (date != COT_DAY_NONE) cot_buf_fmt(b, ", to collect %s", cot_date(date, text));
}

static enum cot_err find_line(struct cot_job *w, const struct cot_thing **line)
{
    enum cot_err err = cot_job_coded(w, COT_THING_LINE, w->args.word[0], line);
    if (err != COT_OK || !(*line)->gone) return err;
    (void)cot_fail(&w->cli->fault, COT_INVALID, "%s: the line was withdrawn", w->code);
    return cot_hint(&w->cli->fault, "a farm that wants it after all orders again: `cotyl order`");
}

static enum cot_err check_promise(struct cot_job *w, const struct cot_thing *line)
{
    struct cot_cli *cli = w->cli;
    char asked[COT_DATE_TEXT], given[COT_DATE_TEXT];
    int64_t wanted = cot_line_wanted(cli, line), plants = cot_fact_int(&w->fact, COT_F_PLANTS, wanted);
    if (plants < 1 && !cot_fact_value(&w->fact, COT_F_PLANTS))
        return cot_misuse(cli, "say how many plants are promised: --plants N");
    if (plants == 0) cot_answer_warn(&w->answer, "%s has no place in the queue any more.", w->code);
    if (!cot_fact_set_int(&w->fact, COT_F_PLANTS, plants))
        return cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    if (wanted > 0 && plants > wanted)
        cot_answer_warn(&w->answer, "%s asks for %lld plants only.", w->code, (long long)wanted);
    int32_t date = (int32_t)cot_fact_int(&w->fact, COT_F_DATE, COT_DAY_NONE),
            on = (int32_t)cot_thing_int(line, COT_F_DATE, COT_DAY_NONE);
    int64_t early = cot_thing_int(line, COT_F_EARLY, 0), late = cot_thing_int(line, COT_F_LATE, 0);
    if (date != COT_DAY_NONE && on != COT_DAY_NONE && (date < on - early || date > on + late))
        cot_answer_warn(&w->answer,
                        "%s is not a day the farm said will do (%s, %lld days earlier, %lld later): talk to them.",
                        cot_date(date, given), cot_date(on, asked), (long long)early, (long long)late);
    return COT_OK;
}

static enum cot_err promise_one(struct cot_job *w)
{
    const struct cot_thing *line;
    char some[COT_SOME_TEXT];
    enum cot_err err = find_line(w, &line);
    if (err == COT_OK) err = check_promise(w, line);
    if (err == COT_OK) err = cot_job_record(w);
    if (err != COT_OK) return err;
    struct cot_buf b = {0};
    line = cot_book_thing(w->cli->book, &w->fact.about);
    int64_t asked = line ? cot_thing_int(line, COT_F_DATE, COT_DAY_NONE) : COT_DAY_NONE;
    if (line) put_line(w->cli, line, (int32_t)cot_fact_int(&w->fact, COT_F_DATE, asked), &b);
    cot_answer_line(&w->answer, "%s: %s promised in all. The line: %s.", w->code,
                    cot_some(cot_fact_int(&w->fact, COT_F_PLANTS, 0), "plant", some), b.s ? b.s : "");
    if (b.failed) w->answer.lines.failed = true;
    cot_buf_free(&b);
    return COT_OK;
}

/* --- Every waiting line
 * -------------------------------------------------------------------------------------------------- */

struct waiting {
    struct cot_fact *facts;
    size_t count;
    int64_t plants;
    struct cot_buf lines;
};

static bool wants_promise(const struct cot_fill_line *l, const struct cot_thing *farm)
{
    return l->waiting && !l->declined && !l->line->gone && l->wanted > 0 &&
           (!farm || cot_id_cmp(&l->line->farm, &farm->id) == 0);
}

static void take_line(struct cot_job *w, const struct cot_fill_line *l, struct waiting *all)
{
    struct cot_fact *f = &all->facts[all->count];
    char date[COT_DATE_TEXT];
    *f = w->fact;
    f->has_about = f->has_farm = true;
    f->about = l->line->id;
    f->farm = l->line->farm;
    if (!cot_fact_set_int(f, COT_F_PLANTS, l->wanted)) return;
    cot_buf_fmt(&all->lines, "  %s  %lld plants of %s, %s, %s\n", cot_thing_name(l->line), (long long)l->wanted,
                cot_name_of(w->cli, l->line, COT_F_VARIETY), cot_name_at(w->cli, &l->line->farm),
                cot_date(l->date, date));
    all->plants += l->wanted;
    all->count++;
}

static enum cot_err record_all(struct cot_job *w, struct waiting *all)
{
    char lines[COT_SOME_TEXT], plants[COT_SOME_TEXT];
    if (all->lines.failed) return cot_fail(&w->cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    if (all->count == 0) {
        cot_answer_line(&w->answer, "No line waits for a promise.");
        return COT_OK;
    }
    enum cot_err err = cot_answer_record(w->cli, &w->answer, all->facts, all->count);
    if (err != COT_OK) return err;
    cot_answer_line(&w->answer, "Promised %s in full, %s:", cot_some((int64_t)all->count, "line", lines),
                    cot_some(all->plants, "plant", plants));
    cot_buf_put(&w->answer.lines, all->lines.s, all->lines.len);
    return COT_OK;
}

static enum cot_err promise_all(struct cot_job *w)
{
    struct cot_cli *cli = w->cli;
    struct waiting all = {0};
    struct cot_fill fill = {0};
    const struct cot_thing *farm = NULL;
    const char *name = cot_job_option(w, "farm");
    enum cot_err err = COT_OK;
    if (cot_job_option(w, "plants") || cot_job_option(w, "date"))
        return cot_misuse(cli, "--all promises every waiting line as it was asked: leave out --plants and --date");
    if (name) err = cot_book_find(cli->book, COT_THING_FARM, name, &farm, &cli->fault);
    if (err != COT_OK) return err;
    err = cot_fill_read(cli->book, w->today, &fill);
    if (err != COT_OK) return cot_fail(&cli->fault, err, "unable to read the order lines: %s", cot_err_row(err)->title);
    all.facts = calloc(fill.line_count + 1, sizeof *all.facts);
    if (!all.facts) err = cot_fail(&cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    for (uint32_t i = 0; err == COT_OK && i < fill.line_count; i++)
        if (wants_promise(&fill.line[i], farm)) take_line(w, &fill.line[i], &all);
    cot_fill_free(&fill);
    if (err == COT_OK) err = record_all(w, &all);
    cot_buf_free(&all.lines);
    free(all.facts);
    return err;
}

enum cot_err cot_cmd_promise(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    enum cot_err err = cot_job_start(&w, cli, COT_K_PROMISE, argc, argv, promise_opts, 0, 1);
    if (err != COT_OK) goto out;
    bool all = cot_job_option(&w, "all") != NULL;
    if (all && w.args.count > 0) err = cot_misuse(cli, "give either a line or --all, not both");
    else if (!all && w.args.count == 0) err = cot_misuse(cli, "say which line is promised, by its code, or --all");
    else if (!all && cot_job_option(&w, "farm")) err = cot_misuse(cli, "--farm goes with --all");
    else err = all ? promise_all(&w) : promise_one(&w);
out:
    return cot_job_end(&w, err);
}

static enum cot_err end_line(struct cot_cli *cli, enum cot_kind kind, const char *done, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *line;
    struct cot_buf b = {0};
    enum cot_err err = cot_job_start(&w, cli, kind, argc, argv, why_opts, 1, 1);
    if (err == COT_OK) err = find_line(&w, &line);
    if (err != COT_OK) goto out;
    put_line(cli, line, (int32_t)cot_thing_int(line, COT_F_DATE, COT_DAY_NONE), &b);
    err = cot_job_record(&w);
    const char *why = cot_job_option(&w, "why");
    if (err == COT_OK)
        cot_answer_line(&w.answer, "%s: %s: %s%s%s.", w.code, done, b.s ? b.s : "", why ? ": " : "", why ? why : "");
    if (b.failed) w.answer.lines.failed = true;
out:
    cot_buf_free(&b);
    return cot_job_end(&w, err);
}

enum cot_err cot_cmd_withdraw(struct cot_cli *cli, int argc, char **argv)
{
    return end_line(cli, COT_K_WITHDRAWN, "withdrawn", argc, argv);
}

enum cot_err cot_cmd_decline(struct cot_cli *cli, int argc, char **argv)
{
    return end_line(cli, COT_K_DECLINED, "declined what is not promised", argc, argv);
}
