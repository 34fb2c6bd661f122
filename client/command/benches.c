/* benches: what stands where, and what is free. */
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "cotyledger/core/stays.h"
#include "show/asked.h"
#include "show/benches.h"
#include "work.h"

const char cot_help_benches[] = "Says what stands where: for each chamber, bench and cold frame the spots it\n"
                                "holds, those free today, and the fewest free in each week to come, with what\n"
                                "is planned. With a place: what stands there and what will, from when until\n"
                                "when. A place with more on it than it holds is named.\n"
                                "\n"
                                "  --on DAY       as of this day (default: today)\n"
                                "  --weeks N      so many weeks ahead, 1 to 6 side by side, up to 52 with\n"
                                "                 --csv and --json or for one place (default: 6)\n"
                                "  --csv, --json  for spreadsheets and programs; see docs/reports.md\n"
                                "\n"
                                "Examples:\n"
                                "  cotyl benches\n"
                                "  cotyl benches \"bench 3\" --weeks 10\n";

#define WEEKS_MOST 52

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"weeks", "N", -1}, {"csv", NULL, -1}, COT_OPT_END};

static enum cot_err read_weeks(struct cot_cli *cli, const char *typed, bool many, int *weeks)
{
    char *end = NULL;
    long most = many ? WEEKS_MOST : COT_BENCH_WEEKS, n = typed ? strtol(typed, &end, 10) : COT_BENCH_WEEKS;
    *weeks = (int)n;
    if (!typed || (*typed && *end == '\0' && n >= 1 && n <= most)) return COT_OK;
    (void)cot_fail(&cli->fault, COT_INVALID, "--weeks: \"%.20s\" is not between 1 and %ld", typed, most);
    return most < WEEKS_MOST ? cot_hint(&cli->fault, "for one place, or with --csv or --json, up to %d", WEEKS_MOST)
                             : COT_INVALID;
}

enum cot_err cot_cmd_benches(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    struct cot_benches t = {0};
    const struct cot_thing *place = NULL;
    enum cot_form form;
    int32_t on;
    int weeks;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 1, &args);
    if (err != COT_OK) return err;
    err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK && cli->me.part == COT_PART_BUYER)
        err = cot_fail(&cli->fault, COT_NOT_ALLOWED, "the benches are the house's: `cotyl orders` shows your lines");
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK)
        err = read_weeks(cli, cot_args_value(&args, opts, "weeks"), args.count > 0 || form != COT_FORM_TEXT, &weeks);
    if (err == COT_OK && args.count > 0)
        err = cot_book_find(cli->book, COT_THING_PLACE, args.word[0], &place, &cli->fault);
    if (err == COT_OK) err = cot_benches_read(cli->book, on, &t, &cli->fault);
    if (err == COT_OK)
        err = place ? cot_bench_print(cli, &t, place, weeks, form) : cot_benches_print(cli, &t, weeks, form);
    cot_benches_free(&t);
    cot_args_free(&args);
    return err;
}
