/* move: a batch, or some of its trays, to another bench. */
#include "commands.h"
#include "cotyledger/wire/report.h"
#include "work.h"

#define HEAVY_TRAYS 20

const char cot_help_move[] = "Records that a batch, or some of its trays, stands on another bench.\n"
                             "\n"
                             "  --bench B     where it stands now\n"
                             "  --which N,N   only these trays, by number from the tag (default: all)\n"
                             "  --day DAY     the day it was moved (default: today)\n"
                             "  --note TEXT   anything worth knowing\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl move A-0012-5 --bench 4\n"
                             "  cotyl move A-0012-5 --bench \"cold frame 2\" --which 1,2\n";

static const struct cot_opt opts[] = {
    {"bench", "B", COT_F_BENCH},
    {"which", "N,N", COT_F_WHICH},
    {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT},
    COT_OPT_END,
};

static void answer(struct cot_job *w, int64_t trays)
{
    char date[COT_DATE_TEXT], some[COT_SOME_TEXT], where[COT_BENCH_TEXT];
    const char *which = cot_job_option(w, "which"), *bench = cot_job_option(w, "bench");
    cot_date(w->day, date);
    bench = cot_bench_words(w->cli, bench, where);
    if (which)
        cot_answer_line(&w->answer, "%s: %s %s on %s from %s.", w->code, trays == 1 ? "tray" : "trays", which, bench,
                        date);
    else
        cot_answer_line(&w->answer, "%s: %s on %s from %s.", w->code,
                        trays > 0 ? cot_some(trays, "tray", some) : "its rows of the shared tray", bench, date);
    if (trays >= HEAVY_TRAYS) cot_answer_caution(&w->answer, COT_CAUTION_LIFT ".");
}

enum cot_err cot_cmd_move(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *batch;
    enum cot_err err = cot_job_start(&w, cli, COT_K_MOVED, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = cot_job_batch(&w, w.args.word[0], &batch);
    if (err == COT_OK && !cot_job_option(&w, "bench")) err = cot_misuse(cli, "say where it stands now: --bench B");
    if (err == COT_OK) err = cot_check_which(&w, batch);
    if (err != COT_OK) goto out;
    const struct cot_value *which = cot_fact_value(&w.fact, COT_F_WHICH);
    int64_t trays = which ? (int64_t)which->len : cot_batch_trays(batch);
    cot_warn_bench(&w);
    err = cot_job_record(&w);
    if (err == COT_OK) answer(&w, trays);
out:
    return cot_job_end(&w, err);
}
