/* patch and thin: plants set into blanks, plants taken out. */
#include "commands.h"
#include "work.h"

const char cot_help_patch[] = "Records that blanks of a batch were filled with plants.\n"
                              "\n"
                              "  --plants N    plants set in\n"
                              "  --which N,N   the trays patched, by number from the tag\n"
                              "  --day DAY     the day it was done (default: today)\n"
                              "  --note TEXT   anything worth knowing\n"
                              "\n"
                              "Example: 14 blanks of trays 3 and 5 filled\n"
                              "  cotyl patch A-0012-5 --plants 14 --which 3,5\n";

const char cot_help_thin[] = "Records that surplus plants were taken out of cells with doubles. The number\n"
                             "of usable cells stays as it is; plants lost are recorded with `cotyl lose`.\n"
                             "\n"
                             "  --plants N    plants taken out\n"
                             "  --which N,N   the trays thinned, by number from the tag\n"
                             "  --day DAY     the day it was done (default: today)\n"
                             "  --note TEXT   anything worth knowing\n"
                             "\n"
                             "Example:\n"
                             "  cotyl thin A-0012-5 --plants 9 --which 3\n";

static const struct cot_opt opts[] = {
    {"plants", "N", COT_F_PLANTS},
    {"which", "N,N", COT_F_WHICH},
    {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT},
    COT_OPT_END,
};

static enum cot_err record_plants(struct cot_cli *cli, enum cot_kind kind, const char *done, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *batch;
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    enum cot_err err = cot_job_start(&w, cli, kind, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = cot_job_batch(&w, w.args.word[0], &batch);
    if (err == COT_OK && cot_fact_int(&w.fact, COT_F_PLANTS, 0) < 1)
        err = cot_misuse(cli, "say how many plants: --plants N, 1 or more");
    if (err == COT_OK) err = cot_check_which(&w, batch);
    if (err == COT_OK) err = cot_job_record(&w);
    if (err == COT_OK)
        cot_answer_line(&w.answer, "%s: %s %s on %s.", w.code,
                        cot_some(cot_fact_int(&w.fact, COT_F_PLANTS, 0), "plant", some), done, cot_date(w.day, date));
    return cot_job_end(&w, err);
}

enum cot_err cot_cmd_patch(struct cot_cli *cli, int argc, char **argv)
{
    return record_plants(cli, COT_K_PATCHED, "set into blanks", argc, argv);
}

enum cot_err cot_cmd_thin(struct cot_cli *cli, int argc, char **argv)
{
    return record_plants(cli, COT_K_THINNED, "taken out of doubles", argc, argv);
}
