/* list: all things of one sort. */
#include "commands.h"

#include <string.h>

#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/lists.h"

const char cot_help_list[] = "Lists all things of one kind: farms, crops, varieties, formats, plates, lots,\n"
                             "orders, batches or notes. Batches show what is likely there, what to count on,\n"
                             "and what is left to hand over; notes stand with the newest last.\n"
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

/* Notes are no things: they have no fields to show, only what was said. */
static bool is_notes(const char *word)
{
    return strcmp(word, "notes") == 0 || strcmp(word, "note") == 0;
}

static enum cot_err misuse(struct cot_cli *cli, const char *word)
{
    char words[COT_FAULT_MAX];
    (void)cot_sort_misuse(cli, word, false);
    memcpy(words, cli->fault.hint, sizeof words);
    (void)cot_hint(&cli->fault, "%.900s, notes", words);
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
    bool notes = is_notes(args.word[0]);
    if (!sort && !notes) err = misuse(cli, args.word[0]);
    if (err == COT_OK) err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK && notes) err = cot_notes_print(cli, on, form);
    else if (err == COT_OK) err = cot_list_print(cli, sort, on, form);
    cot_args_free(&args);
    return err;
}
