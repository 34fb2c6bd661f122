/* count: the stand of a batch, tray by tray or pooled. */
#include "commands.h"
#include "count_read.h"
#include "cotyledger/wire/sheet.h"
#include "show/advice.h"
#include "show/belief.h"
#include "work.h"

#include <stdlib.h>
#include <string.h>

const char cot_help_count[] = "Records a stand count. Looked at = usable + blanks + culls; doubles are among\n"
                              "the usable. A tray counted again replaces its earlier figures. Draw the trays\n"
                              "at random, and look at whole trays where you can.\n"
                              "\n"
                              "  TRAY:LOOKED/USABLE/BLANKS/CULLS/DOUBLES   a tray; ? for a figure not taken\n"
                              "  TRAY:blanks=N                     only blanks, of the whole tray\n"
                              "  TRAY:looked=N,usable=N,...        figures by name\n"
                              "\n"
                              "  --tray N      the same in options; repeat --tray for the next tray\n"
                              "  --looked N    cells looked at\n"
                              "  --usable N    fit to hand over on the collecting day\n"
                              "  --blanks N    empty cells\n"
                              "  --culls N     plants not fit to go\n"
                              "  --doubles N   usable cells with more plants than wanted\n"
                              "  --trays N     without --tray: the figures of so many trays together\n"
                              "  --picked      the trays were picked by eye, not drawn: the report says so\n"
                              "  --day DAY     the day of the count (default: today)\n"
                              "  --note TEXT   anything worth knowing\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl count A-0012-5 3:128/118/8/2/1 5:128/121/6/1/0\n"
                              "  cotyl count A-0012-5 3:blanks=5 6:blanks=9\n"
                              "  cotyl count A-0012-5 --tray 3 --looked 128 --usable 118 --blanks 8 --culls 2\n"
                              "  cotyl count A-0012-5 --trays 4 --looked 512 --usable 470 --blanks 30\n";

/* The grouped options are taken out before the table is used; they stand in it for hints and for the pooled form. */
static const struct cot_opt opts[] = {
    {"tray", "N", -1},
    {"looked", "N", -1},
    {"usable", "N", -1},
    {"blanks", "N", -1},
    {"culls", "N", -1},
    {"doubles", "N", -1},
    {"trays", "N", COT_F_TRAYS},
    {"picked", NULL, COT_F_PICKED},
    {"day", "DAY", COT_F_DAY},
    {"note", "TEXT", COT_F_TEXT},
    COT_OPT_END,
};

struct counting {
    struct cot_job w;
    const struct cot_thing *batch;
    struct cot_tray_count tray[COT_COUNT_TRAYS_MAX];
    size_t count;
    struct cot_tray_count pooled;
    bool has_pooled;
};

static void unknown_figures(struct cot_tray_count *c)
{
    for (int i = 0; i < COT_FIGURES; i++) *cot_figure(c, i) = COT_COUNT_UNKNOWN;
}

static enum cot_err too_many(struct cot_cli *cli)
{
    (void)cot_fail(&cli->fault, COT_TOO_LARGE, "more than %d trays in one count", COT_COUNT_TRAYS_MAX);
    return cot_hint(&cli->fault, "record them in two counts of the same day");
}

/* One option of a group: `--tray` starts the next tray, a figure belongs to the tray before it, or to the pooled count.
 */
static enum cot_err take_grouped(struct counting *c, struct cot_cli *cli, const char *name, size_t len,
                                 const char *value)
{
    if (len == 4 && memcmp(name, "tray", 4) == 0) {
        if (c->count == COT_COUNT_TRAYS_MAX) return too_many(cli);
        struct cot_tray_count *t = &c->tray[c->count++];
        unknown_figures(t);
        enum cot_err err = cot_tray_read(value, strlen(value), &t->tray, &cli->fault);
        return err == COT_OK ? err : cot_within(&cli->fault, "--tray");
    }
    char where[24];
    int i = cot_figure_index(name, len);
    struct cot_tray_count *of = c->count > 0 ? &c->tray[c->count - 1] : &c->pooled;
    snprintf(where, sizeof where, "--%s", cot_figure_name[i]);
    if (*cot_figure(of, i) != COT_COUNT_UNKNOWN) {
        (void)cot_misuse(cli, "%s is given twice for one tray", where);
        return cot_hint(&cli->fault, "begin the next tray with --tray N");
    }
    c->has_pooled = c->has_pooled || of == &c->pooled;
    return cot_figure_read(value, strlen(value), where, cot_figure(of, i), &cli->fault);
}

/* Moves the grouped options out of argv. The rest, `left` words of it, is for the table. */
static enum cot_err take_groups(struct counting *c, struct cot_cli *cli, int argc, char **argv, int *left)
{
    int kept = 1;
    unknown_figures(&c->pooled);
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--") == 0) {
            while (i < argc) argv[kept++] = argv[i++];
            break;
        }
        const char *name = strncmp(argv[i], "--", 2) == 0 ? argv[i] + 2 : "";
        size_t len = strcspn(name, "=");
        bool grouped = cot_figure_index(name, len) >= 0 || (len == 4 && memcmp(name, "tray", 4) == 0);
        const char *value = name[len] == '=' ? name + len + 1 : i + 1 < argc ? argv[i + 1] : NULL;
        if (!grouped || !value) {
            argv[kept++] = argv[i];
            continue;
        }
        enum cot_err err = take_grouped(c, cli, name, len, value);
        if (err != COT_OK) return err;
        i += name[len] != '=';
    }
    argv[kept] = NULL;
    *left = kept;
    return COT_OK;
}

static enum cot_err take_short(struct counting *c)
{
    for (int i = 1; i < c->w.args.count; i++) {
        if (c->count == COT_COUNT_TRAYS_MAX) return too_many(c->w.cli);
        enum cot_err err = cot_count_short(c->w.args.word[i], &c->tray[c->count++], &c->w.cli->fault);
        if (err != COT_OK) return err;
    }
    return COT_OK;
}

static int by_tray(const void *a, const void *b)
{
    const struct cot_tray_count *x = a, *y = b;
    return (x->tray > y->tray) - (x->tray < y->tray);
}

static enum cot_err check_trays(struct counting *c)
{
    struct cot_cli *cli = c->w.cli;
    char some[COT_SOME_TEXT];
    int64_t trays = cot_batch_trays(c->batch) > 0 ? cot_batch_trays(c->batch) : 1;
    int64_t cells = cot_batch_tray_cells(cli, c->batch);
    qsort(c->tray, c->count, sizeof c->tray[0], by_tray);
    for (size_t i = 0; i < c->count; i++) {
        struct cot_tray_count *t = &c->tray[i];
        char where[COT_CODE_TEXT + 24];
        snprintf(where, sizeof where, "%s tray %d", cot_thing_name(c->batch), t->tray);
        if (t->tray > trays) {
            (void)cot_fail(&cli->fault, COT_INVALID, "there is no tray %d: %s has %s", t->tray,
                           cot_thing_name(c->batch), cot_some(trays, "tray", some));
            return cot_hint(&cli->fault, "trays are numbered from 1 at the tag");
        }
        if (i > 0 && t[-1].tray == t->tray) {
            (void)cot_fail(&cli->fault, COT_INVALID, "%s is given twice", where);
            return cot_hint(&cli->fault, "one set of figures for each tray");
        }
        enum cot_err err = cot_count_complete(t, cells, where, &cli->fault);
        if (err != COT_OK) return err;
    }
    if (c->count > 0 && !cot_fact_set_counts(&c->w.fact, COT_F_COUNTS, c->tray, c->count))
        return cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    return COT_OK;
}

static enum cot_err check_pooled(struct counting *c)
{
    static const enum cot_field field[COT_FIGURES] = {COT_F_LOOKED, COT_F_USABLE, COT_F_BLANKS, COT_F_CULLS,
                                                      COT_F_DOUBLES};
    struct cot_cli *cli = c->w.cli;
    char some[COT_SOME_TEXT];
    bool said = cot_fact_value(&c->w.fact, COT_F_TRAYS) != NULL;
    int64_t has = cot_batch_trays(c->batch), trays = cot_fact_int(&c->w.fact, COT_F_TRAYS, has > 0 ? has : 1);
    if (said && (trays < 1 || trays > (has > 0 ? has : 1)))
        return cot_fail(&cli->fault, COT_INVALID, "--trays: %s has %s", cot_thing_name(c->batch),
                        cot_some(has > 0 ? has : 1, "tray", some));
    if (!said && c->pooled.looked < 0 && c->pooled.usable < 0) {
        (void)cot_misuse(cli, "in how many trays were these blanks?");
        return cot_hint(&cli->fault, "give --trays N, or --tray N for one tray");
    }
    enum cot_err err = cot_count_complete(&c->pooled, trays * cot_batch_tray_cells(cli, c->batch),
                                          cot_thing_name(c->batch), &cli->fault);
    for (int i = 0; err == COT_OK && i < COT_FIGURES; i++)
        if (*cot_figure(&c->pooled, i) >= 0 && !cot_fact_set_int(&c->w.fact, field[i], *cot_figure(&c->pooled, i)))
            err = cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
    return err;
}

static enum cot_err check_forms(struct counting *c)
{
    bool trays = cot_job_option(&c->w, "trays") != NULL;
    if (c->count > 0 && (c->has_pooled || trays))
        return cot_misuse(c->w.cli,
                          "give figures by tray, or of several trays together (--trays N), not both in one count");
    if (c->count == 0 && !c->has_pooled) {
        (void)cot_misuse(c->w.cli, "a stand count needs figures");
        return cot_hint(&c->w.cli->fault, "such as: cotyl count %s 3:128/118/8/2/1", c->w.args.word[0]);
    }
    return c->count > 0 ? check_trays(c) : check_pooled(c);
}

static void put_figures(struct cot_buf *b, struct cot_tray_count *t)
{
    char some[COT_SOME_TEXT];
    static const char *const word[COT_FIGURES] = {"", "usable", "blank", "cull", "double"};
    cot_buf_fmt(b, "%s looked at", cot_some(t->looked, "cell", some));
    for (int i = 1; i < COT_FIGURES; i++)
        if (*cot_figure(t, i) >= 0)
            cot_buf_fmt(b, ", %d %s%s", *cot_figure(t, i), word[i], i > 1 && *cot_figure(t, i) != 1 ? "s" : "");
}

/* Whether to go on counting, for the lines that hang on the batch. */
static void advise(struct cot_job *w, const struct cot_thing *batch, int32_t on)
{
    struct cot_fill fill;
    char text[COT_ADVICE_TEXT];
    if (cot_fill_read(w->cli->book, on, &fill) == COT_OK && cot_advice_text(&fill, batch, text))
        cot_answer_line(&w->answer, "%c%s.", text[0] - 'a' + 'A', text + 1);
    cot_fill_free(&fill);
}

/* The figures repeated, then what the batch likely has now. */
static void answer(struct counting *c)
{
    char date[COT_DATE_TEXT], some[COT_SOME_TEXT];
    struct cot_stand stand;
    struct cot_job *w = &c->w;
    cot_answer_line(&w->answer, "%s: stand counted on %s.", w->code, cot_date(w->day, date));
    for (size_t i = 0; i < (c->count ? c->count : 1); i++) {
        struct cot_buf b = {0};
        struct cot_tray_count *t = c->count ? &c->tray[i] : &c->pooled;
        int64_t trays = cot_fact_int(&w->fact, COT_F_TRAYS, 0);
        if (c->count) cot_buf_fmt(&b, "tray %d: ", t->tray);
        else cot_buf_fmt(&b, "%s together: ", trays > 0 ? cot_some(trays, "tray", some) : "all trays");
        put_figures(&b, t);
        cot_answer_line(&w->answer, "  %s", b.s ? b.s : "");
        if (b.failed) w->answer.lines.failed = true;
        cot_buf_free(&b);
    }
    int32_t on = w->day > w->today ? w->day : w->today;
    const struct cot_thing *batch = cot_book_thing(w->cli->book, &w->fact.about);
    if (batch) cot_check_warn(w->cli, batch, on, c->tray, c->count, &w->answer);
    if (!batch || cot_stand_read(w->cli->book, batch, on, &stand) != COT_OK) return;
    cot_answer_line(&w->answer, "Likely %s in all; count on %lld.%s", cot_some(stand.likely, "usable plant", some),
                    (long long)stand.count_on,
                    stand.provisional ? " Early for a stand count: provisional, count again." : "");
    if (!stand.provisional) advise(w, batch, on);
}

enum cot_err cot_cmd_count(struct cot_cli *cli, int argc, char **argv)
{
    int left = 0;
    struct counting *c = calloc(1, sizeof *c);
    if (!c) return cot_fail(&cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    enum cot_err err = take_groups(c, cli, argc, argv, &left);
    if (err == COT_OK) err = cot_job_start(&c->w, cli, COT_K_COUNT, left, argv, opts, 1, 1 + COT_COUNT_TRAYS_MAX);
    if (err == COT_OK) err = cot_job_batch(&c->w, c->w.args.word[0], &c->batch);
    if (err == COT_OK) err = take_short(c);
    if (err == COT_OK) err = check_forms(c);
    if (err == COT_OK) err = cot_job_record(&c->w);
    if (err == COT_OK) answer(c);
    err = cot_job_end(&c->w, err);
    free(c);
    return err;
}
