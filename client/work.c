#include "work.h"

#include "cotyledger/wire/report.h"

#include "cotyledger/core/place.h"
#include "show/things.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define BENCHES_NAMED 12 /* in a warning */

/* The day of the work: as given or today, with a warning where it looks like a slip. */
static enum cot_err take_day(struct cot_job *w)
{
    char date[COT_DATE_TEXT];
    w->day = w->today;
    const struct cot_value *given = cot_fact_value(&w->fact, COT_F_DAY);
    if (given) w->day = (int32_t)given->v.i;
    if (!given && !cot_fact_set_int(&w->fact, COT_F_DAY, w->today))
        return cot_fail(&w->cli->fault, COT_INTERNAL, "too many fields for one entry");
    if (w->day > w->today)
        cot_answer_warn(&w->answer, "%s is a day to come. If that is a slip: `cotyl take-back last`.",
                        cot_date(w->day, date));
    if (w->day < w->today - COT_JOB_BACK_DAYS)
        cot_answer_warn(&w->answer, "%s is %d days ago. If that is a slip: `cotyl take-back last`.",
                        cot_date(w->day, date), w->today - w->day);
    return COT_OK;
}

/* "none" clears a field of a thing there is; a new entry has nothing to clear. */
static enum cot_err refuse_none(struct cot_job *w)
{
    for (int i = 0; w->opts[i].name; i++)
        if (w->opts[i].field >= 0 && w->opts[i].value && w->args.value[i] && strcmp(w->args.value[i], "none") == 0)
            return cot_misuse(w->cli, "--%s none: leave the option out instead", w->opts[i].name);
    return COT_OK;
}

static enum cot_err start(struct cot_job *w, struct cot_cli *cli, enum cot_kind kind, int argc, char **argv,
                          const struct cot_opt *opts, int least, int most)
{
    memset(w, 0, sizeof *w);
    w->cli = cli;
    w->opts = opts;
    w->today = cot_today(cli);
    w->day = COT_DAY_NONE;
    w->fact.kind = kind;
    snprintf(w->fact.kind_name, sizeof w->fact.kind_name, "%s", cot_kind_row(kind)->name);
    return cot_args_read(cli, argc, argv, opts, least, most, &w->args);
}

enum cot_err cot_job_start(struct cot_job *w, struct cot_cli *cli, enum cot_kind kind, int argc, char **argv,
                           const struct cot_opt *opts, int least, int most)
{
    enum cot_err err = start(w, cli, kind, argc, argv, opts, least, most);
    if (err == COT_OK) err = refuse_none(w);
    if (err == COT_OK) err = cot_args_fields(cli, &w->args, opts, &w->fact);
    if (err == COT_OK && cot_kind_field(kind, COT_F_DAY)) err = take_day(w);
    return err;
}

enum cot_err cot_job_start_change(struct cot_job *w, struct cot_cli *cli, enum cot_kind kind, int argc, char **argv,
                                  const struct cot_opt *opts, int least, int most)
{
    enum cot_err err = start(w, cli, kind, argc, argv, opts, least, most);
    w->fact.has_about =
        true; /* which thing is found later; a change reads "any" and "none" otherwise than a new entry */
    return err == COT_OK ? cot_args_fields(cli, &w->args, opts, &w->fact) : err;
}

const char *cot_job_option(const struct cot_job *w, const char *name)
{
    return cot_args_value(&w->args, w->opts, name);
}

enum cot_err cot_job_record(struct cot_job *w)
{
    return cot_answer_record(w->cli, &w->answer, &w->fact, 1);
}

enum cot_err cot_job_end(struct cot_job *w, enum cot_err err)
{
    if (err == COT_OK) err = cot_answer_give(w->cli, &w->answer);
    cot_args_free(&w->args);
    cot_answer_free(&w->answer);
    return err;
}

void cot_job_farm(struct cot_job *w, const struct cot_id *farm)
{
    static const struct cot_id none;
    if (cot_id_cmp(farm, &none) == 0) return;
    w->fact.has_farm = true;
    w->fact.farm = *farm;
}

void cot_job_about(struct cot_job *w, const struct cot_thing *t)
{
    w->fact.has_about = true;
    w->fact.about = t->id;
    cot_job_farm(w, &t->farm);
}

/* A code of another sort of thing: says so instead of "not found". */
static bool other_sort(struct cot_cli *cli, enum cot_thing_type wanted, const char *code)
{
    static const struct {
        enum cot_thing_type type;
        const char *one, *of;
    } coded[] = {
        {COT_THING_LINE, "an order line", "an order line's"},
        {COT_THING_BATCH, "a batch", "a batch's"},
        {COT_THING_PLANNED, "a planned sowing", "a planned sowing's"},
    };
    const struct cot_thing *t;
    for (size_t i = 0; i < sizeof coded / sizeof coded[0]; i++) {
        if (coded[i].type == wanted || cot_book_find(cli->book, coded[i].type, code, &t, NULL) != COT_OK) continue;
        const char *of = "";
        for (size_t k = 0; k < sizeof coded / sizeof coded[0]; k++)
            if (coded[k].type == wanted) of = coded[k].of;
        (void)cot_fail(&cli->fault, COT_NOT_FOUND, "%s is the code of %s, and %s is wanted here", code, coded[i].one,
                       of);
        (void)cot_hint(&cli->fault, "`cotyl show %s` says what it is", code);
        return true;
    }
    return false;
}

enum cot_err cot_find_coded(struct cot_cli *cli, enum cot_thing_type type, const char *typed,
                            const struct cot_thing **out)
{
    char code[COT_CODE_TEXT];
    enum cot_code_state state = cot_code_read(typed, strlen(typed), code);
    if (state == COT_CODE_CHECK) {
        (void)cot_fail(&cli->fault, COT_INVALID, "%s: the check character does not fit", typed);
        return cot_hint(&cli->fault, "look at the tag again: a character is wrong, or two are swapped");
    }
    if (state == COT_CODE_SHAPE) { /* the start of a code is not enough: only its last character catches a slip */
        (void)cot_fail(&cli->fault, COT_INVALID, "\"%.60s\" is no whole code", typed);
        return cot_hint(&cli->fault, "write it with its last character, as %s shows it, such as A-0012-5",
                        type == COT_THING_LINE      ? "`cotyl orders`"
                        : type == COT_THING_PLANNED ? "`cotyl list planned`"
                                                    : "the tag");
    }
    if (other_sort(cli, type, code)) return cli->fault.code;
    enum cot_err err = cot_book_find(cli->book, type, code, out, &cli->fault);
    if (err == COT_NOT_FOUND && cli->fault.hint[0] == '\0')
        (void)cot_hint(&cli->fault, "`cotyl sync` fetches what other laptops recorded");
    return err;
}

enum cot_err cot_find_any(struct cot_cli *cli, const char *typed, const struct cot_thing **out)
{
    char code[COT_CODE_TEXT];
    bool good = cot_code_read(typed, strlen(typed), code) == COT_CODE_GOOD;
    if (good && cot_book_find(cli->book, COT_THING_BATCH, code, out, NULL) == COT_OK) return COT_OK;
    if (good && cot_book_find(cli->book, COT_THING_LINE, code, out, NULL) == COT_OK) return COT_OK;
    if (good && cot_book_find(cli->book, COT_THING_PLANNED, code, out, NULL) == COT_OK) return COT_OK;
    if (!good) return cot_find_coded(cli, COT_THING_BATCH, typed, out);
    (void)cot_fail(&cli->fault, COT_NOT_FOUND, "there is no batch and no order line %s here", code);
    return cot_hint(&cli->fault, "`cotyl sync` fetches what other laptops recorded");
}

enum cot_err cot_job_coded(struct cot_job *w, enum cot_thing_type type, const char *typed, const struct cot_thing **out)
{
    enum cot_err err = cot_find_coded(w->cli, type, typed, out);
    if (err != COT_OK) return err;
    cot_job_about(w, *out);
    snprintf(w->code, sizeof w->code, "%s", cot_thing_name(*out));
    return COT_OK;
}

enum cot_err cot_job_batch(struct cot_job *w, const char *typed, const struct cot_thing **out)
{
    char day[COT_DATE_TEXT], sown[COT_DATE_TEXT];
    enum cot_err err = cot_job_coded(w, COT_THING_BATCH, typed, out);
    if (err != COT_OK) return err;
    int64_t made = cot_thing_int(*out, COT_F_DAY, COT_DAY_NONE);
    if (made != COT_DAY_NONE && w->day < made)
        cot_answer_warn(&w->answer, "%s is before %s was %s (%s).", cot_date(w->day, day), cot_thing_name(*out),
                        (*out)->made->kind == COT_K_POTTED ? "potted on" : "sown", cot_date((int32_t)made, sown));
    return COT_OK;
}

enum cot_err cot_misuse(struct cot_cli *cli, const char *fmt, ...)
{
    char text[COT_FAULT_MAX];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    (void)cot_fail(&cli->fault, COT_USAGE, "%s", text);
    return cot_hint(&cli->fault, "`cotyl %s --help` shows how, with an example", cli->command->name);
}

const char *cot_some(int64_t n, const char *one, char out[static COT_SOME_TEXT])
{
    snprintf(out, COT_SOME_TEXT, "%lld %s%s", (long long)n, one, n == 1 ? "" : "s");
    return out;
}

const char *cot_date(int32_t day, char out[static COT_DATE_TEXT])
{
    char text[COT_DAY_TEXT], week[COT_WEEK_TEXT];
    cot_day_text(day, text);
    cot_week_text(day, week);
    bool same_year = memcmp(text, week, 5) == 0;
    snprintf(out, COT_DATE_TEXT, "%s (%s)", text, same_year ? week + 5 : week);
    return out;
}

const struct cot_thing *cot_thing_of(struct cot_cli *cli, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = t ? cot_thing_id(t, f) : NULL;
    return id ? cot_book_thing(cli->book, id) : NULL;
}

const char *cot_name_at(struct cot_cli *cli, const struct cot_id *id)
{
    const struct cot_thing *t = id ? cot_book_thing(cli->book, id) : NULL;
    return t ? cot_thing_name(t) : "";
}

const char *cot_name_of(struct cot_cli *cli, const struct cot_thing *t, enum cot_field f)
{
    return cot_name_at(cli, t ? cot_thing_id(t, f) : NULL);
}

/* The lot at the root of a chain of potting on; NULL when unknown. */
static const struct cot_thing *batch_lot(struct cot_cli *cli, const struct cot_thing *batch)
{
    for (int depth = 0; batch && depth < 16; depth++) {
        const struct cot_thing *lot = cot_thing_of(cli, batch, COT_F_LOT);
        if (lot) return lot;
        batch = cot_thing_of(cli, batch, COT_F_BATCH);
    }
    return NULL;
}

const struct cot_thing *cot_batch_variety(struct cot_cli *cli, const struct cot_thing *batch)
{
    return cot_thing_of(cli, batch_lot(cli, batch), COT_F_VARIETY);
}

void cot_batch_words(struct cot_cli *cli, const struct cot_thing *batch, struct cot_buf *out)
{
    char some[COT_SOME_TEXT];
    const struct cot_thing *variety = cot_batch_variety(cli, batch), *parent = cot_thing_of(cli, batch, COT_F_BATCH);
    int64_t rows = cot_thing_int(batch, COT_F_TRAY_ROWS, 0);
    const char *shared = cot_thing_text(batch, COT_F_SHARED);
    if (rows > 0)
        cot_buf_fmt(out, "%s of %sshared tray%s%s (%s)", cot_some(rows, "row", some), shared[0] ? "" : "a ",
                    shared[0] ? " " : "", shared, cot_name_of(cli, batch, COT_F_FORMAT));
    else
        cot_buf_fmt(out, "%s of %s", cot_some(cot_batch_trays(batch), "tray", some),
                    cot_name_of(cli, batch, COT_F_FORMAT));
    if (variety) cot_buf_fmt(out, ", %s", cot_thing_name(variety));
    if (parent) cot_buf_fmt(out, " from batch %s", cot_thing_name(parent));
    else cot_buf_fmt(out, " from lot %s", cot_name_of(cli, batch, COT_F_LOT));
}

void cot_line_words(struct cot_cli *cli, const struct cot_thing *line, struct cot_buf *out)
{
    char some[COT_SOME_TEXT];
    int64_t plants = cot_thing_int(line, COT_F_PLANTS, 0), trays = cot_thing_int(line, COT_F_TRAYS, 0);
    const char *format = cot_name_of(cli, line, COT_F_FORMAT);
    cot_buf_fmt(out, "%s of %s in %s",
                plants > 0 || trays == 0 ? cot_some(plants, "plant", some) : cot_some(trays, "tray", some),
                cot_name_of(cli, line, COT_F_VARIETY), format[0] ? format : "any tray format");
}

int64_t cot_format_cells(const struct cot_thing *format)
{
    return format ? cot_thing_int(format, COT_F_ROWS, 0) * cot_thing_int(format, COT_F_COLS, 0) : 0;
}

int64_t cot_batch_tray_cells(struct cot_cli *cli, const struct cot_thing *batch)
{
    const struct cot_thing *format = cot_thing_of(cli, batch, COT_F_FORMAT);
    int64_t rows = cot_thing_int(batch, COT_F_TRAY_ROWS, 0);
    if (format && rows > 0) return rows * cot_thing_int(format, COT_F_COLS, 0);
    return cot_format_cells(format);
}

int64_t cot_batch_trays(const struct cot_thing *batch)
{
    return cot_thing_int(batch, COT_F_TRAYS, 0);
}

int64_t cot_line_wanted(struct cot_cli *cli, const struct cot_thing *line)
{
    int64_t plants = cot_thing_int(line, COT_F_PLANTS, 0), trays = cot_thing_int(line, COT_F_TRAYS, 0);
    if (plants > 0 || trays == 0) return plants;
    return trays * cot_tray_plants(cli->book, cot_thing_of(cli, line, COT_F_FORMAT));
}

enum cot_err cot_check_which(struct cot_job *w, const struct cot_thing *batch)
{
    char some[COT_SOME_TEXT];
    const struct cot_value *which = cot_fact_value(&w->fact, COT_F_WHICH);
    int64_t trays = cot_batch_trays(batch) > 0 ? cot_batch_trays(batch) : 1;
    for (uint32_t i = 0; which && which->type == COT_T_NUMBERS && i < which->len; i++) {
        if (which->v.numbers[i] <= trays) continue;
        (void)cot_fail(&w->cli->fault, COT_INVALID, "--which: there is no tray %d: %s has %s", which->v.numbers[i],
                       cot_thing_name(batch), cot_some(trays, "tray", some));
        return cot_hint(&w->cli->fault, "trays are numbered from 1 at the tag");
    }
    return COT_OK;
}

void cot_warn_stand(struct cot_job *w, const struct cot_thing *batch, int64_t plants, const char *verb)
{
    struct cot_stand stand;
    int32_t on = w->day > w->today ? w->day : w->today;
    if (cot_stand_read(w->cli->book, batch, on, &stand) != COT_OK) return;
    int64_t there = stand.likely > stand.out ? stand.likely - stand.out : 0;
    char more[COT_SOME_TEXT], had[COT_SOME_TEXT];
    if (plants > there)
        cot_answer_warn(&w->answer,
                        "%s %s, but %s likely had %s left. Recorded as it happened; count the trays again if you can.",
                        cot_some(plants, "plant", more), verb, cot_thing_name(batch), cot_some(there, "plant", had));
}

void cot_ready_words(struct cot_job *w, const struct cot_thing *batch, struct cot_buf *out)
{
    struct cot_stand stand;
    char ready[COT_DATE_TEXT], past[COT_DATE_TEXT];
    if (cot_stand_read(w->cli->book, batch, w->day, &stand) != COT_OK || stand.ready == COT_DAY_NONE) return;
    cot_buf_fmt(out, "Expected ready %s", cot_date(stand.ready, ready));
    if (stand.past != COT_DAY_NONE) cot_buf_fmt(out, ", good until %s", cot_date(stand.past, past));
    cot_buf_str(out, ".");
}

void cot_caution_mix(struct cot_job *w)
{
    cot_answer_caution(&w->answer, COT_CAUTION_MIX ".");
}

const char *cot_bench_words(struct cot_cli *cli, const char *bench, char out[static COT_BENCH_TEXT])
{
    const struct cot_thing *place = cot_place_named(cli->book, bench);
    snprintf(out, COT_BENCH_TEXT, "%s%.40s", place || strncasecmp(bench, "bench", 5) == 0 ? "" : "bench ", bench);
    return out;
}

void cot_warn_bench(struct cot_job *w)
{
    size_t n;
    const struct cot_value *bench = cot_fact_value(&w->fact, COT_F_BENCH);
    const struct cot_thing **places = cot_things_sorted(w->cli->book, COT_THING_PLACE, &n);
    struct cot_buf names = {0};
    if (places && n > 0 && bench && bench->type == COT_T_TEXT && !cot_place_named(w->cli->book, bench->v.text)) {
        for (size_t i = 0; i < n && i < BENCHES_NAMED; i++)
            cot_buf_fmt(&names, "%s%s", i ? ", " : "", cot_thing_name(places[i]));
        cot_answer_warn(&w->answer, "there is no place called \"%s\"; it is kept as you said. The places are: %s%s.",
                        bench->v.text, names.s ? names.s : "", n > BENCHES_NAMED ? " ..." : "");
    }
    cot_buf_free(&names);
    free(places);
}
