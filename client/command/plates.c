/* plates: which seeder plate for a sowing, and which plates the planned season needs. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "cotyledger/core/planned.h"
#include "cotyledger/core/plates.h"
#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/lists.h"
#include "show/table.h"
#include "work.h"

const char cot_help_plates[] = "Says which seeder plate to take. A plate must have the tray's cells (or fill it\n"
                               "in several drops) and the cells' pattern; its holes should suit the seed.\n"
                               "\n"
                               "With LOT and FORMAT: the plates that fit, best first, with the cells they are\n"
                               "likely to miss and to fill twice. By hand, or with a plate that is masked, any\n"
                               "tray can be sown.\n"
                               "\n"
                               "Without: the fewest plates that serve every planned sowing to come, how many\n"
                               "each would serve, and how many sowings have none. Plates are dear; fewer are\n"
                               "enough than one for each sort of seed.\n"
                               "\n"
                               "  --per-cell N   seeds in a cell (default: 1)\n"
                               "  --on DAY       sowings planned from this day (default: today)\n"
                               "  --csv, --json  for spreadsheets and programs; see docs/reports.md\n"
                               "\n"
                               "Examples:\n"
                               "  cotyl plates RH-2601 128\n"
                               "  cotyl plates\n";

static const struct cot_opt opts[] = {
    {"per-cell", "N", COT_F_PER_CELL}, {"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

/* --- For one sowing ----------------------------------------------------------------------------------------------- */

static const struct cot_col offer_cols[] = {
    {"plate", "Plate", false, false},     {"drops", "Drops", true, false}, {"misses_permille", NULL, true, false},
    {"twos_permille", NULL, true, false}, {"", "Missed", true, false},     {"", "Twice", true, false},
    {"hole_off_um", NULL, true, false},   {"guessed", NULL, false, true},  {"", "", false, false},
};

/* "hole 0.12 mm too small; pattern not known; assumed". */
static void put_remark(struct cot_cli *cli, struct cot_table *t, const struct cot_plate_offer *o)
{
    struct cot_buf b = {0}, hole = {0};
    if (o->hole_off_um != 0) {
        cot_measure_text(cli->book, COT_F_HOLE_UM, o->hole_off_um < 0 ? -o->hole_off_um : o->hole_off_um, &hole);
        cot_buf_fmt(&b, "hole %s too %s", hole.s ? hole.s : "", o->hole_off_um < 0 ? "small" : "large");
    }
    if (o->fit == COT_PLATE_PATTERN_UNKNOWN) cot_buf_fmt(&b, "%spattern not known", b.len ? "; " : "");
    if (o->guessed) cot_buf_fmt(&b, "%sassumed", b.len ? "; " : "");
    if (b.failed || hole.failed) t->failed = true;
    cot_table_text(t, b.len ? b.s : NULL);
    cot_buf_free(&b);
    cot_buf_free(&hole);
}

static void offer_row(struct cot_cli *cli, struct cot_table *t, const struct cot_plate_offer *o,
                      const struct cot_thing *plate)
{
    cot_table_text(t, cot_thing_name(plate));
    cot_table_int(t, o->drops);
    cot_table_int(t, o->misses);
    cot_table_int(t, o->twos);
    cot_table_fmt(t, "%" PRId64 ".%" PRId64 " %%", o->misses / 10, o->misses % 10);
    cot_table_fmt(t, "%" PRId64 ".%" PRId64 " %%", o->twos / 10, o->twos % 10);
    cot_table_int(t, o->hole_off_um);
    cot_table_yes(t, o->guessed);
    put_remark(cli, t, o);
}

static enum cot_err show_offers(struct cot_cli *cli, const struct cot_thing *lot, const struct cot_thing *format,
                                int64_t per_cell, enum cot_form form)
{
    static const struct cot_thing *of[COT_PLATES_MOST];
    static struct cot_plate plate[COT_PLATES_MOST];
    static struct cot_plate_offer offer[COT_PLATES_MOST];
    struct cot_plate_wish wish;
    struct cot_table t;
    uint32_t plates = cot_plates_read(cli->book, of, plate);
    cot_plates_wish(cli->book, lot, format, per_cell, &wish);
    uint32_t n = cot_plate_offers(plate, plates, &wish, offer, COT_PLATES_MOST);
    cot_table_init(&t, offer_cols, sizeof offer_cols / sizeof offer_cols[0]);
    for (uint32_t i = 0; i < n; i++) offer_row(cli, &t, &offer[i], of[offer[i].plate]);
    enum cot_err err = cot_keyed_print(cli, &t, form, "No plate of the house fits: sow by hand, or mask another.");
    cot_table_free(&t);
    if (err == COT_OK && form == COT_FORM_TEXT && n > 0) puts("\nBy hand, or with a masked plate, it can be sown too.");
    return err;
}

static enum cot_err for_sowing(struct cot_cli *cli, const struct cot_args *a, enum cot_form form)
{
    const struct cot_thing *lot, *format;
    struct cot_fact f = {.kind = COT_K_SOWN};
    const char *typed = cot_args_value(a, opts, "per-cell");
    enum cot_err err = cot_book_find(cli->book, COT_THING_LOT, a->word[0], &lot, &cli->fault);
    if (err == COT_OK) err = cot_book_find(cli->book, COT_THING_FORMAT, a->word[1], &format, &cli->fault);
    if (err == COT_OK && typed)
        err = cot_value_read(cli->book, &f, COT_F_PER_CELL, typed, strlen(typed), NULL, a->keep, &cli->fault);
    return err == COT_OK ? show_offers(cli, lot, format, cot_fact_int(&f, COT_F_PER_CELL, 1), form) : err;
}

/* --- For the season ----------------------------------------------------------------------------------------------- */

struct season {
    const struct cot_thing *of[COT_PLATES_MOST];
    struct cot_plate plate[COT_PLATES_MOST];
    struct cot_plate_share share[COT_PLATES_MOST];
    uint32_t plates, sowings, without;
    struct cot_dayset *usable;
    struct cot_hit got;
};

static void add_sowing(struct cot_cli *cli, struct season *s, const struct cot_thing *planned)
{
    struct cot_plate_offer offer[COT_PLATES_MOST];
    struct cot_plate_wish wish;
    const struct cot_thing *lot = cot_thing_of(cli, planned, COT_F_LOT),
                           *format = cot_thing_of(cli, planned, COT_F_FORMAT);
    if (!lot || !format) return;
    cot_plates_wish(cli->book, lot, format, cot_thing_int(planned, COT_F_PER_CELL, 1), &wish);
    uint32_t n = cot_plate_offers(s->plate, s->plates, &wish, offer, COT_PLATES_MOST);
    for (uint32_t i = 0; i < n; i++)
        if (offer[i].plate < COT_PLAN_DAYS) cot_dayset_add(&s->usable[s->sowings], (int32_t)offer[i].plate);
    s->sowings++;
}

static enum cot_err read_season(struct cot_cli *cli, struct season *s, int32_t on)
{
    size_t n;
    const struct cot_thing *const *planned = cot_book_things(cli->book, COT_THING_PLANNED, &n);
    s->plates = cot_plates_read(cli->book, s->of, s->plate);
    s->usable = calloc(n + 1, sizeof *s->usable);
    for (size_t i = 0; s->usable && i < n; i++) {
        struct cot_planned_done done;
        if (planned[i]->gone || cot_planned_read(cli->book, planned[i], on, &done) != COT_OK) continue;
        if (done.batches == 0 && s->sowings < COT_HIT_ROWS) add_sowing(cli, s, planned[i]);
    }
    void *space = malloc(cot_plate_season_bytes(s->sowings) + 1);
    enum cot_err err = s->usable && space ? COT_OK : cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (err == COT_OK)
        err = cot_plate_season(s->usable, s->sowings, s->plates, space, s->share, &s->without, &s->got, &cli->fault);
    free(space);
    return err;
}

static const struct cot_col season_cols[] = {
    {"plate", "Plate", false, false},  {"needed", NULL, false, true},   {"", "Needed", false, false},
    {"serves", "Serves", true, false}, {"alone", "Alone", true, false}, {"could", "Could serve", true, false},
};

static enum cot_err put_season(struct cot_cli *cli, const struct season *s, enum cot_form form)
{
    struct cot_table t;
    cot_table_init(&t, season_cols, sizeof season_cols / sizeof season_cols[0]);
    for (uint32_t i = 0; i < s->plates; i++) {
        bool needed = cot_dayset_have(&s->got.chosen, (int32_t)i);
        cot_table_text(&t, cot_thing_name(s->of[i]));
        cot_table_yes(&t, needed);
        cot_table_text(&t, needed ? "yes" : "no");
        cot_table_int(&t, s->share[i].serves);
        cot_table_int(&t, s->share[i].alone);
        cot_table_int(&t, s->share[i].could);
    }
    enum cot_err err = cot_keyed_print(cli, &t, form, "The house has no plates yet: everything is sown by hand.");
    cot_table_free(&t);
    return err;
}

static void put_sum(const struct season *s)
{
    char sowings[COT_SOME_TEXT], plates[COT_SOME_TEXT];
    printf("\n%s planned: %s %s enough for those that have one", cot_some(s->sowings, "sowing", sowings),
           cot_some(s->got.count, "plate", plates), s->got.count == 1 ? "is" : "are");
    if (s->got.proved) puts("; fewer are not.");
    else printf("; no fewer than %d could be.\n", (int)s->got.bound);
    if (s->without > 0)
        printf("No plate of the house fits %s: by hand, or a plate to buy.\n", cot_some(s->without, "sowing", sowings));
}

static enum cot_err for_season(struct cot_cli *cli, int32_t on, enum cot_form form)
{
    struct season *s = calloc(1, sizeof *s);
    enum cot_err err = s ? COT_OK : cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (err == COT_OK) err = read_season(cli, s, on);
    if (err == COT_OK) err = put_season(cli, s, form);
    if (err == COT_OK && form == COT_FORM_TEXT) put_sum(s);
    if (s) free(s->usable);
    free(s);
    return err;
}

enum cot_err cot_cmd_plates(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    enum cot_form form;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 2, &args);
    if (err != COT_OK) return err;
    err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK && cli->me.part == COT_PART_BUYER)
        err = cot_fail(&cli->fault, COT_NOT_ALLOWED, "plates are the house's: `cotyl orders` shows your lines");
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK && args.count == 1) err = cot_misuse(cli, "say the tray format too, or neither lot nor format");
    if (err == COT_OK) err = args.count == 2 ? for_sowing(cli, &args, form) : for_season(cli, on, form);
    cot_args_free(&args);
    return err;
}
