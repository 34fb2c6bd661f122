/* orders: the lines that farms asked for, and what became of them. */
#include "commands.h"

#include "show/asked.h"
#include "show/lists.h"

const char cot_help_orders[] = "Lists order lines with their code and state: waiting for the house's promise,\n"
                               "promised, declined or handed over (in part), withdrawn, and whether a change\n"
                               "was asked for.\n"
                               "\n"
                               "  --waiting     only those that wait for the house's word\n"
                               "  --on DAY      as of this day (default: today)\n"
                               "  --csv, --json for spreadsheets and programs\n"
                               "\n"
                               "Examples:\n"
                               "  cotyl orders --waiting\n"
                               "  cotyl orders \"Alder Ford\"\n";

static const struct cot_opt opts[] = {{"waiting", NULL, -1}, {"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

enum cot_err cot_cmd_orders(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    const struct cot_thing *farm = NULL;
    enum cot_form form;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 1, &args);
    if (err != COT_OK) return err;
    err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK && args.count == 1)
        err = cot_book_find(cli->book, COT_THING_FARM, args.word[0], &farm, &cli->fault);
    if (err == COT_OK) err = cot_lines_print(cli, farm, cot_args_value(&args, opts, "waiting") != NULL, on, form);
    cot_args_free(&args);
    return err;
}
