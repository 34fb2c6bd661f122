/* shut: days on which the house is closed, or a place out of use. */
#include "commands.h"
#include "cotyledger/core/place.h"
#include "work.h"

const char cot_help_shut[] = "Says on which days the house is closed: nobody sows, and no stack should come\n"
                             "up. With PLACE: on which days the place is out of use. `cotyl list shut` shows\n"
                             "them; what turns out otherwise is taken back and said anew.\n"
                             "\n"
                             "  --from DAY    the first day (default: today)\n"
                             "  --until DAY   the last day (default: that day alone)\n"
                             "  --why TEXT    the reason\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl shut --from 2027-04-05 --why \"holiday\"\n"
                             "  cotyl shut \"bench 3\" --from 2027-03-08 --until 2027-03-12 --why \"new heating\"\n";

static const struct cot_opt opts[] = {
    {"from", "DAY", COT_F_FROM}, {"until", "DAY", COT_F_UNTIL}, {"why", "TEXT", COT_F_WHY}, COT_OPT_END};

static enum cot_err find_place(struct cot_job *w, const struct cot_thing **place)
{
    struct cot_cli *cli = w->cli;
    *place = NULL;
    if (w->args.count == 0) return COT_OK;
    enum cot_err err = cot_book_find(cli->book, COT_THING_PLACE, w->args.word[0], place, &cli->fault);
    if (err == COT_NOT_FOUND && !cli->fault.hint[0])
        return cot_hint(&cli->fault, "`cotyl list places` shows them; without a name the house is meant");
    if (err == COT_OK) cot_job_about(w, *place);
    return err;
}

static void answer(struct cot_job *w, const char *place)
{
    char from[COT_DATE_TEXT], until[COT_DATE_TEXT];
    int32_t first = (int32_t)cot_fact_int(&w->fact, COT_F_FROM, w->today);
    int32_t last = (int32_t)cot_fact_int(&w->fact, COT_F_UNTIL, first);
    const char *what = place ? place : "The house", *how = place ? "out of use" : "closed";
    const char *why = cot_job_option(w, "why");
    cot_date(first, from);
    if (first == last)
        cot_answer_line(&w->answer, "%s: %s on %s%s%s.", what, how, from, why ? ": " : "", why ? why : "");
    else
        cot_answer_line(&w->answer, "%s: %s from %s to %s%s%s.", what, how, from, cot_date(last, until),
                        why ? ": " : "", why ? why : "");
    if (last < w->today) cot_answer_warn(&w->answer, "these days are over. If that is a slip: `cotyl take-back last`.");
}

enum cot_err cot_cmd_shut(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *place;
    char name[128] = "";
    enum cot_err err = cot_job_start(&w, cli, COT_K_SHUT, argc, argv, opts, 0, 1);
    if (err == COT_OK) err = find_place(&w, &place);
    if (err == COT_OK && !cot_fact_value(&w.fact, COT_F_FROM) && !cot_fact_set_int(&w.fact, COT_F_FROM, w.today))
        err = cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    if (err != COT_OK) goto out;
    if (place) snprintf(name, sizeof name, "%s", cot_thing_name(place));
    err = cot_job_record(&w);
    if (err == COT_OK) answer(&w, place ? name : NULL);
out:
    return cot_job_end(&w, err);
}
