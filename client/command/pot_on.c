/* pot-on: plants of a batch moved to larger cells; makes a batch of their own. */
#include "commands.h"
#include "work.h"

const char cot_help_pot_on[] = "Records plants of a batch moved on into larger cells. They leave the old batch\n"
                               "and become a batch of their own, with a code for its tag.\n"
                               "\n"
                               "  --trays N     trays filled\n"
                               "  --plants N    plants set into them\n"
                               "  --lost N      plants lost in the work (taken off the old batch too)\n"
                               "  --ready DAY   expected ready\n"
                               "  --bench B     where it stands\n"
                               "  --day DAY     the day it was done (default: today)\n"
                               "  --note TEXT   anything worth knowing\n"
                               "\n"
                               "Example:\n"
                               "  cotyl pot-on A-0012-5 \"50 round\" --trays 8 --plants 400 --lost 6\n";

static const struct cot_opt opts[] = {
    {"trays", "N", COT_F_TRAYS},  {"plants", "N", COT_F_PLANTS},
    {"lost", "N", COT_F_LOST},    {"ready", "DAY", COT_F_READY},
    {"bench", "B", COT_F_BENCH},  {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT}, COT_OPT_END,
};

/* Fills the fact's things; the parent is a field here, not what the entry is about. */
static enum cot_err find_things(struct cot_job *w, const struct cot_thing **parent, const struct cot_thing **format)
{
    enum cot_err err = cot_job_batch(w, w->args.word[0], parent);
    if (err == COT_OK) err = cot_book_find(w->cli->book, COT_THING_FORMAT, w->args.word[1], format, &w->cli->fault);
    if (err != COT_OK) return err;
    w->fact.has_about = false;
    w->fact.has_farm = false;
    if (!cot_fact_set_ids(&w->fact, COT_F_BATCH, &(*parent)->id, 1) ||
        !cot_fact_set_ids(&w->fact, COT_F_FORMAT, &(*format)->id, 1))
        return cot_fail(&w->cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

static enum cot_err check_sense(struct cot_job *w, const struct cot_thing *parent, const struct cot_thing *format)
{
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT], day[COT_DATE_TEXT];
    int64_t trays = cot_fact_int(&w->fact, COT_F_TRAYS, 0), plants = cot_fact_int(&w->fact, COT_F_PLANTS, 0);
    int64_t cells = trays * cot_format_cells(format);
    int32_t ready = (int32_t)cot_fact_int(&w->fact, COT_F_READY, COT_DAY_NONE);
    if (trays < 1 || plants < 1)
        return cot_misuse(w->cli, "say how much was potted on: --trays N --plants N, each 1 or more");
    if (plants > cells) {
        (void)cot_fail(&w->cli->fault, COT_INVALID,
                       "--plants: %lld plants do not go into %s of %s, which have %lld cells", (long long)plants,
                       cot_some(trays, "tray", some), cot_thing_name(format), (long long)cells);
        return cot_hint(&w->cli->fault, "count in cells: a cell with several plants is one");
    }
    if (ready != COT_DAY_NONE && ready < w->day)
        return cot_fail(&w->cli->fault, COT_INVALID, "--ready: %s is before the day of potting on, %s",
                        cot_date(ready, date), cot_date(w->day, day));
    cot_warn_stand(w, parent, plants + cot_fact_int(&w->fact, COT_F_LOST, 0), "potted on or lost");
    return COT_OK;
}

static void answer(struct cot_job *w)
{
    char some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    const struct cot_recorded *r = &w->answer.recorded[0];
    const struct cot_thing *batch = cot_book_thing(w->cli->book, &r->digest);
    struct cot_buf b = {0};
    cot_some(cot_fact_int(&w->fact, COT_F_PLANTS, 0), "plant", some);
    if (batch) cot_batch_words(w->cli, batch, &b);
    cot_answer_line(&w->answer, "%s: %s in %s, potted on %s.", r->code, some, b.s ? b.s : "", cot_date(w->day, date));
    cot_buf_clear(&b);
    if (batch) cot_ready_words(w, batch, &b);
    if (b.len > 0) cot_answer_line(&w->answer, "%s", b.s);
    if (b.failed) w->answer.lines.failed = true;
    cot_buf_free(&b);
}

enum cot_err cot_cmd_pot_on(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    const struct cot_thing *parent, *format;
    enum cot_err err = cot_job_start(&w, cli, COT_K_POTTED, argc, argv, opts, 2, 2);
    if (err == COT_OK) err = find_things(&w, &parent, &format);
    if (err == COT_OK) err = check_sense(&w, parent, format);
    if (err != COT_OK) goto out;
    cot_caution_mix(&w);
    err = cot_job_record(&w);
    if (err == COT_OK) answer(&w);
out:
    return cot_job_end(&w, err);
}
