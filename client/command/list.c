/* list: all things of one sort. */
#include "commands.h"

#include <string.h>

#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/lists.h"

const char cot_help_list[] = "Lists all things of one kind: farms, crops, varieties, formats, plates, lots,\n"
                             "orders or batches. Batches show what is likely there, and what to count on.\n"
                             "\n"
                             "  --on DAY      batches and orders as of this day (default: today)\n"
                             "  --csv         every field, for a spreadsheet; `cotyl import` reads it back\n"
                             "  --json        every field, for programs\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl list batches\n"
                             "  cotyl list varieties --csv >varieties.csv\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

enum cot_err cot_cmd_list(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    enum cot_form form;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 1, 1, &args);
    if (err != COT_OK) return err;
    const struct cot_sort *sort = cot_sort_by_word(args.word[0]);
    if (!sort) err = cot_sort_misuse(cli, args.word[0], false);
    if (err == COT_OK) err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK) err = cot_list_print(cli, sort, on, form);
    cot_args_free(&args);
    return err;
}
