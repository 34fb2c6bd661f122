/* order: one order line, or one a week. */
#include "asked_line.h"
#include "commands.h"
#include "cotyledger/wire/sheet.h"
#include "work.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define WEEKS_MAX 106

const char cot_help_order[] = "Records what a farm orders: so many plants (or trays) of a variety by a day.\n"
                              "A farm's own people may leave FARM out.\n"
                              "\n"
                              "  --plants N          plants wanted, or\n"
                              "  --trays N           trays wanted (with --format)\n"
                              "  --on DAY            the day it is collected\n"
                              "  --format F          tray format; \"any\" or left out: whatever there is\n"
                              "  --early N --late N  days earlier or later that will do as well\n"
                              "  --least N           fewer plants than this are not worth having\n"
                              "  --sub V,V           varieties that will do instead, best first\n"
                              "  --untreated         untreated seed only\n"
                              "  --organic           organic seed only\n"
                              "  --own-seed          from the farm's own seed only\n"
                              "  --priority N        1 (first) to 9, where the house shares by priority\n"
                              "  --closing DAY       last day for changes\n"
                              "  --ref R             the farm's own reference\n"
                              "  --note TEXT         anything worth knowing\n"
                              "  --every week        one line a week: --from 2027-W14 --to 2027-W30\n"
                              "  --weekday DAY       with --every: Mon (default), Tue, Wed, Thu, Fri, Sat, Sun\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl order \"Alder Ford\" \"Red Harbour\" --plants 500 --format 128 \\\n"
                              "      --on 2027-04-05 --late 3\n"
                              "  cotyl order \"Alder Ford\" \"Red Harbour\" --plants 400 --every week \\\n"
                              "      --from 2027-W14 --to 2027-W30 --weekday Thu\n";

static const struct cot_opt opts[] = {
    COT_ASKED_LINE_OPTS,          {"ref", "R", COT_F_REF}, {"closing", "DAY", COT_F_CLOSING},
    {"note", "TEXT", COT_F_TEXT}, {"every", "week", -1},   {"from", "YYYY-Www", -1},
    {"to", "YYYY-Www", -1},       {"weekday", "DAY", -1},  COT_OPT_END,
};

struct ordering {
    struct cot_job w;
    struct cot_buf subs; /* names, parted by commas */
    int32_t day[WEEKS_MAX];
    size_t days;
};

static enum cot_err read_week(struct cot_job *w, const char *name, int *year, int *week)
{
    const char *s = cot_job_option(w, name);
    if (!s) return cot_misuse(w->cli, "--every week needs --from and --to, such as --from 2027-W14 --to 2027-W30");
    if (cot_week_parse(s, strlen(s), year, week)) return COT_OK;
    (void)cot_fail(&w->cli->fault, COT_INVALID, "--%s: \"%.40s\" is no week", name, s);
    return cot_hint(&w->cli->fault, "write the year and the ISO week, such as 2027-W14");
}

static enum cot_err read_weekday(struct cot_job *w, int *weekday)
{
    static const char *const names[7] = {"Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"};
    const char *s = cot_job_option(w, "weekday");
    *weekday = 1;
    if (!s) return COT_OK;
    for (int i = 0; i < 7; i++) {
        *weekday = i + 1;
        if (strlen(s) >= 3 && strlen(s) <= strlen(names[i]) && strncasecmp(s, names[i], strlen(s)) == 0) return COT_OK;
    }
    (void)cot_fail(&w->cli->fault, COT_INVALID, "--weekday: \"%.40s\" is no day of the week", s);
    return cot_hint(&w->cli->fault, "write Mon, Tue, Wed, Thu, Fri, Sat or Sun");
}

static enum cot_err every_week(struct ordering *o)
{
    struct cot_job *w = &o->w;
    struct cot_fault *fault = &w->cli->fault;
    int year[2], week[2], weekday;
    if (strcmp(cot_job_option(w, "every"), "week") != 0) return cot_misuse(w->cli, "--every: only \"week\" is known");
    if (cot_job_option(w, "on")) return cot_misuse(w->cli, "give either --on or --every week, not both");
    if (cot_job_option(w, "closing"))
        return cot_misuse(w->cli, "--closing is one day: with --every week leave it out, or change single lines later");
    enum cot_err err = read_week(w, "from", &year[0], &week[0]);
    if (err == COT_OK) err = read_week(w, "to", &year[1], &week[1]);
    if (err == COT_OK) err = read_weekday(w, &weekday);
    if (err != COT_OK) return err;
    int32_t first = cot_week_day(year[0], week[0], weekday), last = cot_week_day(year[1], week[1], weekday);
    if (last < first) {
        (void)cot_fail(fault, COT_INVALID, "--to: the week is before --from");
        return cot_hint(fault, "give the first week with --from and the last with --to");
    }
    if ((last - first) / 7 + 1 > WEEKS_MAX)
        return cot_fail(fault, COT_TOO_LARGE, "--every week: %d lines at once; at most %d can be",
                        (last - first) / 7 + 1, WEEKS_MAX);
    for (int32_t d = first; d <= last; d += 7) o->day[o->days++] = d;
    return COT_OK;
}

static enum cot_err read_days(struct ordering *o)
{
    struct cot_job *w = &o->w;
    if (cot_job_option(w, "every")) return every_week(o);
    if (cot_job_option(w, "from") || cot_job_option(w, "to") || cot_job_option(w, "weekday"))
        return cot_misuse(w->cli, "--from, --to and --weekday go with --every week");
    if (!cot_job_option(w, "on"))
        return cot_misuse(w->cli, "say when it is collected: --on DAY, or --every week --from WEEK --to WEEK");
    o->day[o->days++] = (int32_t)cot_fact_int(&w->fact, COT_F_DATE, COT_DAY_NONE);
    return COT_OK;
}

static enum cot_err read_things(struct ordering *o)
{
    struct cot_job *w = &o->w;
    enum cot_err err = cot_whose_what(w->cli, &w->args, &w->fact);
    return err == COT_OK ? cot_subs_put(w->cli, &o->subs, w->args.keep, &w->fact) : err;
}

static enum cot_err check_sense(struct ordering *o)
{
    struct cot_job *w = &o->w;
    char date[COT_DATE_TEXT];
    if (!cot_job_option(w, "plants") == !cot_job_option(w, "trays"))
        return cot_misuse(w->cli, "say how much is wanted: either --plants N or --trays N");
    if (o->day[0] < w->today)
        cot_answer_warn(&w->answer, "%s is past. If that is a slip: `cotyl change line CODE --on DAY`.",
                        cot_date(o->day[0], date));
    return COT_OK;
}

static enum cot_err record(struct ordering *o)
{
    struct cot_fact *facts = calloc(o->days, sizeof *facts);
    enum cot_err err = facts ? COT_OK : cot_fail(&o->w.cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    for (size_t i = 0; err == COT_OK && i < o->days; i++) {
        facts[i] = o->w.fact;
        if (!cot_fact_set_int(&facts[i], COT_F_DATE, o->day[i]))
            err = cot_fail(&o->w.cli->fault, COT_INTERNAL, "too many fields for one entry");
    }
    if (err == COT_OK) err = cot_answer_record(o->w.cli, &o->w.answer, facts, o->days);
    free(facts);
    return err;
}

static void answer(struct ordering *o)
{
    struct cot_job *w = &o->w;
    char first[COT_DATE_TEXT], last[COT_DATE_TEXT];
    const struct cot_recorded *r = w->answer.recorded;
    const struct cot_thing *line = cot_book_thing(w->cli->book, &r[0].digest);
    const char *farm = w->cli->me.part == COT_PART_BUYER ? "" : cot_name_at(w->cli, &w->fact.farm);
    struct cot_buf b = {0};
    if (line) cot_line_words(w->cli, line, &b);
    if (farm[0]) cot_buf_fmt(&b, " for %s", farm);
    cot_date(o->day[0], first);
    if (o->days == 1) cot_answer_line(&w->answer, "%s: %s, to collect %s.", r[0].code, b.s ? b.s : "", first);
    else
        cot_answer_line(&w->answer, "%zu order lines, %s to %s, each %s, to collect every week from %s to %s.", o->days,
                        r[0].code, r[o->days - 1].code, b.s ? b.s : "", first, cot_date(o->day[o->days - 1], last));
    cot_answer_line(&w->answer, "%s for the house's promise.", o->days == 1 ? "It waits" : "They wait");
    if (b.failed) w->answer.lines.failed = true;
    cot_buf_free(&b);
}

enum cot_err cot_cmd_order(struct cot_cli *cli, int argc, char **argv)
{
    struct ordering *o = calloc(1, sizeof *o);
    int least = cli->me.part == COT_PART_BUYER ? 1 : 2;
    if (!o) return cot_fail(&cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    cot_take_subs(&o->subs, &argc, argv);
    enum cot_err err = cot_job_start(&o->w, cli, COT_K_LINE, argc, argv, opts, least, 2);
    if (err == COT_OK) err = read_things(o);
    if (err == COT_OK) err = read_days(o);
    if (err == COT_OK) err = check_sense(o);
    if (err == COT_OK) err = record(o);
    if (err == COT_OK) answer(o);
    err = cot_job_end(&o->w, err);
    cot_buf_free(&o->subs);
    free(o);
    return err;
}
