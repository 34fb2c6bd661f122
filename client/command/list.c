/* list: all things of one sort. */
#include "commands.h"

#include <string.h>

#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/lists.h"

const char cot_help_list[] = "Lists all things of one kind: farms, crops, varieties, formats, plates, lots,\n"
                             "places, raisings, planned (sowings), orders, batches, notes, stock or shut\n"
                             "(closed days, places out of use). Batches show what is likely there, what to\n"
                             "count on, and what is left to hand over; notes stand with the newest last.\n"
                             "\n"
                             "  --on DAY      batches, orders and notes as of this day (default: today)\n"
                             "  --csv         every field, for a spreadsheet; `cotyl import` reads it back\n"
                             "  --json        every field, for programs\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl list batches\n"
                             "  cotyl list varieties --csv >varieties.csv\n"
                             "  cotyl list notes\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

/* What is listed and is no thing: it has no fields to show, only what was said. */
typedef enum cot_err printer(struct cot_cli *cli, int32_t on, enum cot_form form);
static const struct {
    const char *word;
    printer *print;
} said[] = {
    {"notes", cot_notes_print}, {"note", cot_notes_print}, {"stock", cot_stock_print}, {"shut", cot_shut_print}};

static printer *said_by_word(const char *word)
{
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++)
        if (strcmp(said[i].word, word) == 0) return said[i].print;
    return NULL;
}

static enum cot_err misuse(struct cot_cli *cli, const char *word)
{
    char words[COT_FAULT_MAX];
    (void)cot_sort_misuse(cli, word, false);
    memcpy(words, cli->fault.hint, sizeof words);
    (void)cot_hint(&cli->fault, "%.900s, notes, stock, shut", words);
    return COT_USAGE;
}

enum cot_err cot_cmd_list(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    enum cot_form form;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 1, 1, &args);
    if (err != COT_OK) return err;
    const struct cot_sort *sort = cot_sort_by_word(args.word[0]);
    printer *print = said_by_word(args.word[0]);
    if (!sort && !print) err = misuse(cli, args.word[0]);
    if (err == COT_OK) err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK && print) err = print(cli, on, form);
    else if (err == COT_OK) err = cot_list_print(cli, sort, on, form);
    cot_args_free(&args);
    return err;
}
