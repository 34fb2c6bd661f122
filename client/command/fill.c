/* fill: which orders will be met, and how sure that is. Staff read it from their own book; buyers get the house's
 * signed statement, the last one when there is no signal. */
#include "commands.h"

#include <string.h>

#include "cotyledger/wire/report.h"
#include "aside.h"
#include "show/asked.h"
#include "show/lists.h"
#include "statement.h"

const char cot_help_fill[] = "Says for every order line how many plants are likely, how many to count on, and\n"
                             "the chance that the line will be full. Staff read it from the book on this\n"
                             "laptop, without a signal. Buyers see their own farm: the house's signed\n"
                             "statement, or the last one that was fetched.\n"
                             "\n"
                             "  --on DAY      as of this day (default: today)\n"
                             "  --farm FARM   one farm only\n"
                             "  --short       only lines that are short or in doubt (staff)\n"
                             "  --html        a page for a phone, a screen or paper, in one file by itself\n"
                             "  --csv, --json for spreadsheets and programs; see docs/reports.md\n"
                             "  --out FILE    into a file, whole or not at all\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl fill\n"
                             "  cotyl fill --farm \"Alder Ford\" --on 2027-03-01\n"
                             "  cotyl fill --farm \"Alder Ford\" --html --out alder.html\n"
                             "  cotyl fill --csv >fill.csv\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1},  {"farm", "FARM", -1}, {"short", NULL, -1}, {"csv", NULL, -1},
                                      {"html", NULL, -1}, {"out", "FILE", -1},  COT_OPT_END};

/* Not in the report, whose bytes are the same wherever it is made. */
static void show_way_on(const struct cot_fill *fill, const struct cot_thing *farm)
{
    for (uint32_t i = 0; i < fill->line_count; i++) {
        const struct cot_fill_line *l = &fill->line[i];
        if (l->verdict == COT_COVERED || (farm && l->farm != farm)) continue;
        fputs("`cotyl remedies` shows what can be done for lines that are not covered.\n", stderr);
        return;
    }
}

/* To standard output, or into the file that was named. */
static enum cot_err give(struct cot_cli *cli, const struct cot_buf *out, const char *file)
{
    if (!file) return cot_print(cli, out);
    if (out->failed) return cot_fail(&cli->fault, COT_MEMORY, "out of memory: nothing was written");
    enum cot_err err = cot_write_aside(cli, file, out->s, out->len);
    if (err == COT_OK) fprintf(stderr, "Written to %s.\n", file);
    return err;
}

static enum cot_err print_own(struct cot_cli *cli, int32_t on, const char *farm_name, bool only_short,
                              enum cot_form form, const char *file)
{
    struct cot_fill fill = {0};
    struct cot_buf out = {0};
    const struct cot_thing *farm = NULL;
    enum cot_err err = COT_OK;
    if (farm_name) err = cot_book_find(cli->book, COT_THING_FARM, farm_name, &farm, &cli->fault);
    if (err != COT_OK) return err;
    err = cot_fill_read(cli->book, on, &fill);
    if (err == COT_OK)
        err = (only_short ? cot_report_fill_short : cot_report_fill)(&fill, cli->book, farm ? &farm->id : NULL, form,
                                                                     &out);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "unable to make the fill report: %s", cot_err_row(err)->title);
    else err = give(cli, &out, file);
    if (err == COT_OK && form == COT_FORM_TEXT) show_way_on(&fill, farm);
    cot_buf_free(&out);
    cot_fill_free(&fill);
    return err;
}

/* The statement of the day when the server can be reached, else the last one, and words on stderr which day it speaks
 * of. */
static enum cot_err print_statement(struct cot_cli *cli, int32_t on, enum cot_form form, const char *file)
{
    struct cot_statement s = {0};
    char day[COT_DAY_TEXT];
    enum cot_err err = cot_statement_fetch(cli, on, form, &s);
    if (err == COT_NETWORK || err == COT_TIMEOUT || err == COT_BUSY) {
        struct cot_fault offline = cli->fault;
        cot_statement_free(&s);
        err = cot_statement_last(cli, form, &s);
        if (err != COT_OK) { /* none was fetched yet: what stands in the way is the net */
            cli->fault = offline;
            return offline.code;
        }
        cot_day_text(s.on, day);
        fprintf(stderr, "The server cannot be reached; this is the last statement\nfetched, as of %s.\n", day);
    }
    if (err == COT_OK) err = give(cli, &s.body, file);
    cot_statement_free(&s);
    return err;
}

static enum cot_err check_farm(struct cot_cli *cli, const char *name)
{
    const struct cot_thing *farm;
    if (!name) return COT_OK;
    enum cot_err err = cot_book_find(cli->book, COT_THING_FARM, name, &farm, &cli->fault);
    if (err != COT_OK || cot_id_cmp(&farm->id, &cli->me.farm) == 0) return err;
    return cot_fail(&cli->fault, COT_NOT_ALLOWED, "a buyer sees the own farm only");
}

enum cot_err cot_cmd_fill(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    enum cot_form form;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 0, &args);
    if (err != COT_OK) return err;
    const char *farm = cot_args_value(&args, opts, "farm");
    bool only_short = cot_args_value(&args, opts, "short") != NULL;
    const char *file = cot_args_value(&args, opts, "out"), *html = cot_args_value(&args, opts, "html");
    err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK && html && form != COT_FORM_TEXT)
        err = cot_fail(&cli->fault, COT_USAGE, "--html, --csv and --json: one of them");
    if (html) form = COT_FORM_HTML;
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err != COT_OK) goto out;
    if (cli->me.part == COT_PART_BUYER) {
        err = check_farm(cli, farm);
        if (err == COT_OK && only_short)
            err =
                cot_fail(&cli->fault, COT_USAGE, "--short is for staff: a buyer's statement is shown as it was signed");
        if (err == COT_OK) err = print_statement(cli, on, form, file);
    } else {
        err = print_own(cli, on, farm, only_short, form, file);
    }
out:
    cot_args_free(&args);
    return err;
}
