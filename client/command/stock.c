/* stock: growing mix, labels and trays on hand, as they were counted. */
#include "commands.h"
#include "cotyledger/core/stock.h"
#include "cotyledger/wire/sheet.h"
#include "work.h"

const char cot_help_stock[] = "Records what is on hand: growing mix, labels, or trays of one format. The\n"
                              "latest count stands; nothing is taken off for what was used since. Seed is\n"
                              "with its lot: `cotyl change lot LOT --stock-seeds N`.\n"
                              "\n"
                              "  --mix L       growing mix, in litres, or with its unit: 1.2m3, 40gal, 55cuft\n"
                              "  --labels N    labels\n"
                              "  --trays N     trays, with\n"
                              "  --format F    of which tray format\n"
                              "  --day DAY     the day they were counted (default: today)\n"
                              "  --note TEXT   anything worth knowing\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl stock --mix 1200\n"
                              "  cotyl stock --trays 340 --format \"128 square\"\n";

static const struct cot_opt opts[] = {
    {"mix", "L", COT_F_MIX_L},
    {"labels", "N", COT_F_LABELS},
    {"trays", "N", COT_F_TRAYS},
    {"format", "F", COT_F_FORMAT},
    {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT},
    COT_OPT_END,
};

static enum cot_err check_words(struct cot_job *w)
{
    bool trays = cot_job_option(w, "trays") != NULL, format = cot_job_option(w, "format") != NULL;
    int kinds = (cot_job_option(w, "mix") != NULL) + (cot_job_option(w, "labels") != NULL) + trays;
    if (kinds != 1) return cot_misuse(w->cli, "give one of --mix, --labels or --trays at a time");
    if (trays && !format) return cot_misuse(w->cli, "--trays: of which tray format? --format F");
    if (format && !trays) return cot_misuse(w->cli, "--format goes with --trays");
    return COT_OK;
}

static void answer(struct cot_job *w)
{
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    struct cot_buf mix = {0};
    cot_date(w->day, date);
    cot_measure_text(w->cli->book, COT_F_MIX_L, cot_fact_int(&w->fact, COT_F_MIX_L, 0), &mix);
    if (cot_job_option(w, "mix"))
        cot_answer_line(&w->answer, "On hand on %s: %s of growing mix.", date, mix.s ? mix.s : "");
    else if (cot_job_option(w, "labels"))
        cot_answer_line(&w->answer, "On hand on %s: %s.", date,
                        cot_some(cot_fact_int(&w->fact, COT_F_LABELS, 0), "label", some));
    else
        cot_answer_line(&w->answer, "On hand on %s: %s of %s.", date,
                        cot_some(cot_fact_int(&w->fact, COT_F_TRAYS, 0), "tray", some),
                        cot_name_at(w->cli, cot_fact_id(&w->fact, COT_F_FORMAT)));
    cot_buf_free(&mix);
}

enum cot_err cot_cmd_stock(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    enum cot_err err = cot_job_start(&w, cli, COT_K_STOCK, argc, argv, opts, 0, 0);
    if (err == COT_OK) err = check_words(&w);
    if (err == COT_OK) err = cot_job_record(&w);
    if (err == COT_OK) answer(&w);
    if (err == COT_OK && cot_job_option(&w, "mix")) cot_caution_mix(&w);
    return cot_job_end(&w, err);
}
