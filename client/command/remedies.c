/* remedies: what can still be done for lines that are short or in doubt. */
#include "commands.h"
#include "cotyledger/wire/report.h"
#include "show/asked.h"
#include "show/progress.h"
#include "show/table.h"
#include "work.h"

const char cot_help_remedies[] = "Shows what can still be done for every order line that is short or in doubt: sow\n"
                                 "again (from which lot, how many trays, by when), patch blanks, release what is\n"
                                 "held, take plants to spare if the farm says yes, share, buy in. Each with the\n"
                                 "last day for it, the work it makes, and the chance of the line afterwards, with\n"
                                 "the whole fill read again as if it were done. Nothing is recorded. It needs no\n"
                                 "signal.\n"
                                 "\n"
                                 "  LINE          of this order line only\n"
                                 "  --farm FARM   of one farm's lines\n"
                                 "  --on DAY      with what is known on this day (default: today)\n"
                                 "\n"
                                 "Examples:\n"
                                 "  cotyl remedies\n"
                                 "  cotyl remedies C-0003-H\n"
                                 "  cotyl remedies --farm \"Alder Ford\" --json\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"farm", "FARM", -1}, COT_OPT_END};

struct choice {
    const struct cot_thing *farm, *line;
    int32_t on;
};

static enum cot_err read_choice(struct cot_cli *cli, const struct cot_args *args, struct choice *c)
{
    const char *farm = cot_args_value(args, opts, "farm");
    *c = (struct choice){0};
    if (cli->me.part == COT_PART_BUYER)
        return cot_fail(&cli->fault, COT_NOT_ALLOWED,
                        "remedies are the house's to choose: `cotyl fill` shows your lines");
    if (farm && args->count > 0) return cot_misuse(cli, "give either LINE or --farm: a line has its farm already");
    enum cot_err err = cot_day_asked(cli, args, opts, "on", &c->on);
    if (err == COT_OK && farm) err = cot_book_find(cli->book, COT_THING_FARM, farm, &c->farm, &cli->fault);
    if (err == COT_OK && args->count > 0) err = cot_find_coded(cli, COT_THING_LINE, args->word[0], &c->line);
    return err;
}

static enum cot_err show(struct cot_cli *cli, const struct choice *c)
{
    struct cot_remedies m;
    struct cot_buf out = {0};
    struct cot_progress p;
    cot_progress_start(&p, "working out remedies", "lines", cli->json);
    enum cot_err err = cot_remedies_read_telling(cli->book, c->on, c->farm ? &c->farm->id : NULL,
                                                 c->line ? &c->line->id : NULL, cot_progress_tell, &p, &m, &cli->fault);
    cot_progress_end(&p);
    if (err != COT_OK) return err;
    err = cot_report_remedies(&m, cli->book, cli->json ? COT_FORM_JSON : COT_FORM_TEXT, &out);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "unable to write the remedies: %s", cot_err_row(err)->title);
    else err = cot_print(cli, &out);
    cot_buf_free(&out);
    cot_remedies_free(&m);
    return err;
}

enum cot_err cot_cmd_remedies(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    struct choice c;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 1, &args);
    if (err != COT_OK) return err;
    err = read_choice(cli, &args, &c);
    if (err == COT_OK) err = show(cli, &c);
    cot_args_free(&args);
    return err;
}
