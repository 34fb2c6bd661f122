/* empties: empty trays that a farm brought back. */
#include "commands.h"
#include "work.h"

const char cot_help_empties[] = "Records empty trays that a farm brought back.\n"
                                "\n"
                                "  --trays N     how many\n"
                                "  --format F    of which tray format\n"
                                "  --day DAY     the day they came back (default: today)\n"
                                "  --note TEXT   anything worth knowing\n"
                                "\n"
                                "Example:\n"
                                "  cotyl empties \"Alder Ford\" --trays 12 --format \"128 square\"\n";

static const struct cot_opt opts[] = {
    {"trays", "N", COT_F_TRAYS},
    {"format", "F", COT_F_FORMAT},
    {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT},
    COT_OPT_END,
};

enum cot_err cot_cmd_empties(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *farm;
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&w, cli, COT_K_EMPTIES, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = cot_book_find(cli->book, COT_THING_FARM, w.args.word[0], &farm, &cli->fault);
    if (err == COT_OK && cot_fact_int(&w.fact, COT_F_TRAYS, 0) < 1)
        err = cot_misuse(cli, "say how many empty trays came back: --trays N, 1 or more");
    if (err != COT_OK) goto out;
    cot_job_farm(&w, &farm->id);
    err = cot_job_record(&w);
    if (err != COT_OK) goto out;
    const char *format = cot_name_at(cli, cot_fact_id(&w.fact, COT_F_FORMAT));
    cot_answer_line(&w.answer, "%s brought back %s%s%s on %s.", cot_name_at(cli, &w.fact.farm),
                    cot_some(cot_fact_int(&w.fact, COT_F_TRAYS, 0), "empty tray", some), format[0] ? " of " : "",
                    format, cot_date(w.day, date));
out:
    return cot_job_end(&w, err);
}
