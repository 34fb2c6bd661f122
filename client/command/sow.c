/* sow: trays, or rows of a shared tray, from one lot on one day. */
#include "commands.h"

#include "cotyledger/core/planned.h"
#include "cotyledger/wire/sheet.h"
#include "planned.h"
#include "sowing.h"
#include "work.h"

#include <stdlib.h>
#include <string.h>

const char cot_help_sow[] = "Records a sowing and gives it the code for its tag. Offline; safe on the disk\n"
                            "before the prompt returns. Trays are numbered 1, 2, 3 ... from the tag.\n"
                            "\n"
                            "  --planned CODE   it carries out this planned sowing: what is not said is taken\n"
                            "                   from there, and LOT and FORMAT may be left out\n"
                            "  --trays N        trays sown\n"
                            "  --rows N         or: rows of a shared tray, with\n"
                            "  --shared NAME    the shared tray's name\n"
                            "  --plate P        sown with this seeder plate\n"
                            "  --by-hand        sown by hand (what is meant when there is no --plate)\n"
                            "  --put-right      missed cells were filled by hand after the seeder\n"
                            "  --per-cell N     seeds in a cell (default: what the plate drops, else 1)\n"
                            "  --at-least N     several plants wanted in a cell: this many make it usable\n"
                            "  --ready DAY      expected ready, if not after the crop's usual days\n"
                            "  --bench B        where it stands\n"
                            "  --day DAY        the day it was sown (default: today)\n"
                            "  --note TEXT      anything worth knowing\n"
                            "\n"
                            "Examples:\n"
                            "  cotyl sow RH-2601 \"128 square\" --trays 6 --plate \"128 one-hole\" --bench 3\n"
                            "  cotyl sow CH-2602 128 --trays 4 --per-cell 8 --at-least 5 --by-hand\n"
                            "  cotyl sow TM-2601 128 --rows 4 --shared \"tomatoes mixed\"\n"
                            "  cotyl sow --planned A-0006-1\n";

static const struct cot_opt opts[] = {
    {"planned", "CODE", -1},
    {"trays", "N", COT_F_TRAYS},
    {"rows", "N", COT_F_TRAY_ROWS},
    {"shared", "NAME", COT_F_SHARED},
    {"plate", "P", COT_F_PLATE},
    {"by-hand", NULL, -1},
    {"put-right", NULL, COT_F_PUT_RIGHT},
    {"per-cell", "N", COT_F_PER_CELL},
    {"at-least", "N", COT_F_AT_LEAST},
    {"ready", "DAY", COT_F_READY},
    {"bench", "B", COT_F_BENCH},
    {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT},
    COT_OPT_END,
};

struct sowing {
    struct cot_job w;
    const struct cot_thing *lot, *format, *plate, *crop, *planned;
};

static bool has(const struct cot_job *w, enum cot_field f)
{
    return cot_fact_value(&w->fact, f) != NULL;
}

/* A value of the plan that was not said; its bytes are the book's until the next entry, so they are copied. */
static bool take_value(struct cot_job *w, const struct cot_thing *planned, enum cot_field f)
{
    const struct cot_value *v = has(w, f) ? NULL : cot_thing_value(planned, f);
    if (!v) return true;
    if (v->type == COT_T_INT || v->type == COT_T_DAY) return cot_fact_set_int(&w->fact, f, v->v.i);
    if (v->type == COT_T_TEXT) {
        char *copy = cot_keep_text(w->args.keep, v->v.text, v->len);
        return copy && cot_fact_set_text(&w->fact, f, copy, v->len);
    }
    struct cot_id *copy = cot_keep_alloc(w->args.keep, sizeof *copy);
    if (!copy) return false;
    *copy = *v->v.ids;
    return cot_fact_set_ids(&w->fact, f, copy, 1);
}

/* What was not said stands in the plan. The day it is to be ready holds for its own day of sowing only. */
static bool take_values(struct cot_job *w, const struct cot_thing *planned)
{
    bool amount = has(w, COT_F_TRAYS) || has(w, COT_F_TRAY_ROWS);
    bool rows = cot_thing_int(planned, COT_F_TRAYS, 0) == 0;
    bool on_day = w->day == cot_thing_int(planned, COT_F_SOW_DAY, COT_DAY_NONE);
    bool ok = take_value(w, planned, COT_F_PER_CELL) && take_value(w, planned, COT_F_AT_LEAST) &&
              take_value(w, planned, COT_F_BENCH);
    if (ok && !amount && !rows) ok = take_value(w, planned, COT_F_TRAYS);
    if (ok && !amount && rows) ok = take_value(w, planned, COT_F_TRAY_ROWS) && take_value(w, planned, COT_F_SHARED);
    if (ok && !cot_job_option(w, "by-hand")) ok = take_value(w, planned, COT_F_PLATE);
    return ok && (!on_day || take_value(w, planned, COT_F_READY));
}

static enum cot_err take_plan(struct sowing *s)
{
    struct cot_job *w = &s->w;
    const char *code = cot_job_option(w, "planned");
    if (w->args.count == 1 || (w->args.count == 0 && !code))
        return cot_misuse(w->cli, "say from which lot into which tray format, or --planned CODE");
    if (!code) return COT_OK;
    enum cot_err err = cot_planned_find(w, code, &s->planned);
    if (err != COT_OK) return err;
    struct cot_id *id = cot_keep_alloc(w->args.keep, sizeof *id);
    if (id) *id = s->planned->id;
    if (!id || !cot_fact_set_ids(&w->fact, COT_F_PLANNED, id, 1) || !take_values(w, s->planned))
        return cot_fail(&w->cli->fault, COT_MEMORY, "out of memory");
    return COT_OK;
}

static enum cot_err check_words(struct cot_job *w)
{
    bool trays = has(w, COT_F_TRAYS), rows = has(w, COT_F_TRAY_ROWS);
    if (trays == rows) return cot_misuse(w->cli, "say what was sown: either --trays N, or --rows N --shared NAME");
    if (rows != has(w, COT_F_SHARED))
        return cot_misuse(w->cli, "--rows and --shared go together: so many rows of the shared tray NAME");
    if (trays && cot_fact_int(&w->fact, COT_F_TRAYS, 0) < 1) return cot_misuse(w->cli, "--trays: 1 or more");
    if (cot_job_option(w, "plate") && cot_job_option(w, "by-hand"))
        return cot_misuse(w->cli, "give either --plate or --by-hand");
    if (has(w, COT_F_PUT_RIGHT) && !has(w, COT_F_PLATE))
        return cot_misuse(w->cli, "--put-right goes with --plate: by hand no cell is missed");
    return COT_OK;
}

static enum cot_err find_named(struct sowing *s)
{
    struct cot_cli *cli = s->w.cli;
    enum cot_err err = cot_book_find(cli->book, COT_THING_LOT, s->w.args.word[0], &s->lot, &cli->fault);
    if (err == COT_NOT_FOUND && !cli->fault.hint[0])
        return cot_hint(&cli->fault, "a seed lot is sown, not a variety: `cotyl list lots` shows them");
    if (err == COT_OK) err = cot_book_find(cli->book, COT_THING_FORMAT, s->w.args.word[1], &s->format, &cli->fault);
    return err;
}

static enum cot_err find_planned(struct sowing *s)
{
    struct cot_cli *cli = s->w.cli;
    s->lot = cot_thing_of(cli, s->planned, COT_F_LOT);
    s->format = cot_thing_of(cli, s->planned, COT_F_FORMAT);
    if (s->lot && s->format) return COT_OK;
    (void)cot_fail(&cli->fault, COT_NOT_FOUND, "the lot or the tray format of %s is not here any more",
                   cot_thing_name(s->planned));
    return cot_hint(&cli->fault, "name them: sow LOT FORMAT --planned %s", cot_thing_name(s->planned));
}

static enum cot_err find_things(struct sowing *s)
{
    struct cot_cli *cli = s->w.cli;
    enum cot_err err = s->w.args.count == 2 ? find_named(s) : find_planned(s);
    if (err != COT_OK) return err;
    const struct cot_id *plate = cot_fact_id(&s->w.fact, COT_F_PLATE);
    s->plate = plate ? cot_book_thing(cli->book, plate) : NULL;
    s->crop = cot_thing_of(cli, cot_thing_of(cli, s->lot, COT_F_VARIETY), COT_F_CROP);
    if (!cot_fact_set_ids(&s->w.fact, COT_F_LOT, &s->lot->id, 1) ||
        !cot_fact_set_ids(&s->w.fact, COT_F_FORMAT, &s->format->id, 1))
        return cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

/* Seeds in a cell as said, else as the plate drops them; 1 by hand. */
static int64_t seeds_per_cell(const struct sowing *s)
{
    return cot_fact_int(&s->w.fact, COT_F_PER_CELL, s->plate ? cot_thing_int(s->plate, COT_F_HOLES, 1) : 1);
}

static enum cot_err check_sense(struct sowing *s)
{
    struct cot_cli *cli = s->w.cli;
    char some[COT_SOME_TEXT], ready[COT_DATE_TEXT], day[COT_DATE_TEXT];
    int64_t rows = cot_fact_int(&s->w.fact, COT_F_TRAY_ROWS, 0), has = cot_thing_int(s->format, COT_F_ROWS, 0);
    int64_t least = cot_fact_int(&s->w.fact, COT_F_AT_LEAST, 0);
    int32_t end = (int32_t)cot_fact_int(&s->w.fact, COT_F_READY, COT_DAY_NONE);
    if (rows > has)
        return cot_fail(&cli->fault, COT_INVALID, "--rows: a tray of %s has %s", cot_thing_name(s->format),
                        cot_some(has, "row", some));
    if (least > seeds_per_cell(s)) {
        (void)cot_fail(&cli->fault, COT_INVALID, "--at-least: %lld plants cannot come of %s in a cell",
                       (long long)least, cot_some(seeds_per_cell(s), "seed", some));
        return cot_hint(&cli->fault, "say how many seeds went into a cell: --per-cell N");
    }
    if (end != COT_DAY_NONE && end < s->w.day)
        return cot_fail(&cli->fault, COT_INVALID, "--ready: %s is before the sowing day, %s", cot_date(end, ready),
                        cot_date(s->w.day, day));
    return COT_OK;
}

/* What was sown in full before is not stopped, it may be meant; but it is told. */
static void warn_twice(struct sowing *s)
{
    struct cot_planned_done done;
    char some[COT_SOME_TEXT];
    if (cot_planned_read(s->w.cli->book, s->planned, s->w.today, &done) != COT_OK) return;
    if (done.batches > 0 && done.sown >= done.planned)
        cot_answer_warn(&s->w.answer,
                        "%s was carried out before, %s; what is sown now comes on top. If it is the same sowing: "
                        "`cotyl take-back last`.",
                        cot_thing_name(s->planned), cot_some(done.sown, done.rows ? "row" : "tray", some));
}

static void warn_plan(struct sowing *s)
{
    char date[COT_DATE_TEXT];
    if (!s->planned) return;
    warn_twice(s);
    const char *code = cot_thing_name(s->planned);
    int32_t day = (int32_t)cot_thing_int(s->planned, COT_F_SOW_DAY, s->w.day);
    const struct cot_id *lot = cot_thing_id(s->planned, COT_F_LOT), *format = cot_thing_id(s->planned, COT_F_FORMAT);
    if (lot && cot_id_cmp(lot, &s->lot->id) != 0)
        cot_answer_warn(&s->w.answer, "%s was planned from lot %s.", code, cot_name_at(s->w.cli, lot));
    if (format && cot_id_cmp(format, &s->format->id) != 0)
        cot_answer_warn(&s->w.answer, "%s was planned in %s.", code, cot_name_at(s->w.cli, format));
    if (day != s->w.day)
        cot_answer_line(&s->w.answer, "%s was planned for %s: %d day%s %s.", code, cot_date(day, date),
                        abs(s->w.day - day), abs(s->w.day - day) == 1 ? "" : "s", s->w.day < day ? "early" : "late");
}

static void caution_treated(struct sowing *s)
{
    const char *with = cot_thing_text(s->lot, COT_F_TREATMENT);
    if (cot_thing_int(s->lot, COT_F_TREATED, 0) || with[0])
        cot_answer_caution(
            &s->w.answer,
            "treated seed%s%s%s: gloves, no dust, wash your hands, keep it from food and feed. Follow the label "
            "and local rules.",
            with[0] ? " (" : "", with, with[0] ? ")" : "");
    cot_caution_mix(&s->w);
}

static void put_figures(struct sowing *s, int64_t seeds, struct cot_buf *b)
{
    char some[COT_SOME_TEXT], least[COT_SOME_TEXT];
    const struct cot_value *bench = cot_fact_value(&s->w.fact, COT_F_BENCH);
    int64_t at_least = cot_fact_int(&s->w.fact, COT_F_AT_LEAST, 0);
    const char *plate = cot_name_at(s->w.cli, cot_fact_id(&s->w.fact, COT_F_PLATE));
    if (plate[0]) cot_buf_fmt(b, ", by plate %s", plate);
    else cot_buf_str(b, ", by hand");
    if (cot_fact_int(&s->w.fact, COT_F_PUT_RIGHT, 0)) cot_buf_str(b, ", misses put right");
    cot_buf_fmt(b, ", %s a cell", cot_some(seeds, "seed", some));
    if (at_least > 0) cot_buf_fmt(b, " (usable with %s or more)", cot_some(at_least, "plant", least));
    char where[COT_BENCH_TEXT];
    if (bench) cot_buf_fmt(b, ", %s", cot_bench_words(s->w.cli, bench->v.text, where));
}

/* The line with what follows: the day of the stand count, the day it is expected ready. */
static void answer_next(struct sowing *s, const struct cot_thing *batch, int64_t count)
{
    char date[COT_DATE_TEXT];
    struct cot_buf b = {0};
    if (count > 0) cot_buf_fmt(&b, "Count the stand from %s. ", cot_date(s->w.day + (int32_t)count, date));
    cot_ready_words(&s->w, batch, &b);
    if (b.len > 0) cot_answer_line(&s->w.answer, "%s", b.s);
    if (b.failed) s->w.answer.lines.failed = true;
    cot_buf_free(&b);
}

static void answer(struct sowing *s, int64_t seeds, int64_t count)
{
    char date[COT_DATE_TEXT];
    const struct cot_recorded *r = &s->w.answer.recorded[0];
    const struct cot_thing *batch = cot_book_thing(s->w.cli->book, &r->digest);
    struct cot_buf b = {0};
    if (batch) cot_batch_words(s->w.cli, batch, &b);
    put_figures(s, seeds, &b);
    cot_answer_line(&s->w.answer, "%s: %s, sown %s.", r->code, b.s ? b.s : "", cot_date(s->w.day, date));
    if (b.failed) s->w.answer.lines.failed = true;
    cot_buf_free(&b);
    if (batch) answer_next(s, batch, count);
}

enum cot_err cot_cmd_sow(struct cot_cli *cli, int argc, char **argv)
{
    struct sowing s = {0};
    enum cot_err err = cot_job_start(&s.w, cli, COT_K_SOWN, argc, argv, opts, 0, 2);
    if (err == COT_OK) err = take_plan(&s);
    if (err == COT_OK) err = check_words(&s.w);
    if (err == COT_OK) err = find_things(&s);
    if (err == COT_OK) err = check_sense(&s);
    if (err != COT_OK) goto out;
    cot_warn_sowing(&s.w, &(struct cot_sowing_words){.lot = s.lot,
                                                     .format = s.format,
                                                     .plate = s.plate,
                                                     .trays = cot_fact_int(&s.w.fact, COT_F_TRAYS, 0),
                                                     .rows = cot_fact_int(&s.w.fact, COT_F_TRAY_ROWS, 0),
                                                     .per_cell = cot_fact_int(&s.w.fact, COT_F_PER_CELL, 0),
                                                     .day = s.w.day});
    warn_plan(&s);
    cot_warn_bench(&s.w);
    caution_treated(&s);
    int64_t seeds = seeds_per_cell(&s), count = s.crop ? cot_thing_int(s.crop, COT_F_COUNT_DAYS, 0) : 0;
    err = cot_job_record(&s.w);
    if (err == COT_OK) answer(&s, seeds, count);
out:
    return cot_job_end(&s.w, err);
}
