#include "help.h"

#include <string.h>
#include <strings.h>

#include "answer.h"
#include "commands.h"

void cot_help_put(FILE *out)
{
    fputs("cotyl keeps the book of a propagation house on this laptop, with or without a\nsignal.\n\n"
          "usage: cotyl [--dir DIR] [--json] COMMAND ...\n",
          out);
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        if (c->run) fprintf(out, "  %-14s %s\n", c->name, c->what);
        else fprintf(out, "\n%s\n", c->what);
    }
    fputs("\nFor every command:\n"
          "  --dir DIR      where this laptop keeps its data\n"
          "                 (else COTYL_DIR, else XDG_DATA_HOME/cotyledger)\n"
          "  --json         the answer as JSON; an error as one JSON line on stderr\n"
          "  --help         what a command does, its options, examples\n"
          "  --version\n",
          out);
}

void cot_help_put_command(const struct cot_command *c)
{
    struct cot_buf usage = {0}, b = {0};
    cot_buf_fmt(&usage, "usage: cotyl %s%s%s", c->name, c->args[0] ? " " : "", c->args);
    cot_put_wrapped(&b, usage.s ? usage.s : "", usage.len, 4);
    printf("%s\n%s", b.s ? b.s : "", c->help);
    if (c->help[0] && c->help[strlen(c->help) - 1] != '\n') putchar('\n');
    cot_buf_free(&usage);
    cot_buf_free(&b);
}

const struct cot_topic cot_topics[] = {
    {"codes", "what is on a tag, and how to type it",
     "Batches, order lines and planned sowings have a code such as A-0012-5: the\n"
     "letters of the laptop that gave it, a running number, and a last character that\n"
     "catches a slip of the finger. Write it on the tag. Small letters will do, and\n"
     "noughts before the number may be left out: a12-5 is A-0012-5.\n"
     "\n"
     "Other entries are named by the letters in brackets that `cotyl history` shows;\n"
     "the first eight are enough. `last` is the last thing this laptop recorded.\n"
     "\n"
     "Names may be cut short as long as only one fits. Crop/Variety and Variety/Lot\n"
     "tell like names apart.\n"},
    {"days", "how days and weeks are written",
     "Days are written year first, as ISO 8601 has them: 2027-03-29. Weeks are ISO\n"
     "weeks, 2027-W13; week 1 is the week of the year's first Thursday, and a week\n"
     "begins on Monday. Answers show both.\n"
     "\n"
     "Work is dated with --day, by which it counts from then on; reports are asked for\n"
     "a day with --on. Sheets may have other forms of a date when --dates says which.\n"},
    {"amounts", "numbers and units that can be typed",
     "Whole numbers of plants, trays, cells and seeds. Measures may carry their unit:\n"
     "25.1 ml, 1.5 in, 12 g, 40 gal; a house chooses which it is shown (`cotyl rule\n"
     "--units`). Shares are percent: 92 %, 92%, or 0.92.\n"
     "\n"
     "--plants, --trays and --rows tell what a number counts; one of them is enough.\n"},
    {NULL, NULL, NULL}};

const struct cot_topic *cot_topic_find(const char *name)
{
    for (const struct cot_topic *t = cot_topics; t->name; t++)
        if (strcasecmp(t->name, name) == 0) return t;
    return NULL;
}

/* The first error with a code stands for all that share it. */
void cot_help_put_exits(FILE *out)
{
    fputs("  0    it is done\n", out);
    for (int code = 1; code < 256; code++)
        for (int e = COT_OK + 1; e < COT_ERR_COUNT; e++) {
            const struct cot_err_row *row = cot_err_row((enum cot_err)e);
            if (row->exit_code != code) continue;
            fprintf(out, "  %-4d %s\n", code, row->title);
            break;
        }
}
