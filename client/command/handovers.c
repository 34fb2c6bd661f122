/* handovers: what went out to whom, for whoever writes the invoice. */
#include "commands.h"

#include <stdlib.h>

#include "cotyledger/wire/report.h"
#include "show/asked.h"
#include "show/lists.h"

const char cot_help_handovers[] = "Lists every hand-over: day, farm, line, batch, trays, plants, what was brought\n"
                                  "back, and empty trays owed. A buyer sees those of the own farm.\n"
                                  "\n"
                                  "  --on DAY      up to and with this day (default: today)\n"
                                  "  --csv, --json for spreadsheets and programs; see docs/reports.md\n"
                                  "\n"
                                  "Example:\n"
                                  "  cotyl handovers --csv >handovers.csv\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

static enum cot_err print(struct cot_cli *cli, int32_t on, enum cot_form form)
{
    struct cot_handover_row *rows = NULL;
    struct cot_buf out = {0};
    size_t n = 0;
    enum cot_err err = cot_handovers_read(cli->book, on, &rows, &n);
    if (err == COT_OK) err = cot_report_handovers(rows, n, cli->book, on, form, &out);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "unable to list the hand-overs: %s", cot_err_row(err)->title);
    else err = cot_print(cli, &out);
    cot_buf_free(&out);
    free(rows);
    return err;
}

enum cot_err cot_cmd_handovers(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    enum cot_form form;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 0, &args);
    if (err != COT_OK) return err;
    err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK) err = print(cli, on, form);
    cot_args_free(&args);
    return err;
}
