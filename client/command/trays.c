/* trays: how many to sow, or what can be promised of those there are. Records nothing. */
#include "commands.h"

#include <stdlib.h>

#include "show/asked.h"
#include "show/table.h"
#include "show/trays.h"
#include "work.h"

const char cot_help_trays[] = "Says how many trays to sow of a lot so that enough plants are fit to go, as\n"
                              "surely as the house wants; how many seeds that takes; and why it is more cells\n"
                              "than plants. Or the other way round: what can be promised of so many trays or\n"
                              "seeds. Nothing is recorded; no signal is needed.\n"
                              "\n"
                              "  --plants N       plants wanted (of cells with several: cells wanted)\n"
                              "  --trays N        or: what can be promised of so many trays\n"
                              "  --seeds N        or: of so many seeds\n"
                              "  --plate P        sown with this seeder plate\n"
                              "  --by-hand        sown by hand (what is meant when there is no --plate)\n"
                              "  --put-right      missed cells are filled by hand after the seeder\n"
                              "  --per-cell N     seeds in a cell (default: what the plate drops, else 1)\n"
                              "  --at-least N     several plants wanted in a cell: this many make it usable\n"
                              "  --batches N      sown on N days; batches of one lot share its germination\n"
                              "  --confidence %   how sure (default: the house's)\n"
                              "  --on-to FORMAT   potted on into larger cells of this format, one in each\n"
                              "  --on-to-trays N  with --trays and --on-to: larger trays\n"
                              "  --on DAY         day of the sowing (default: today)\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl trays RH-2601 128 --plants 500 --plate \"128 one-hole\"\n"
                              "  cotyl trays RH-2601 128 --trays 4 --plate \"128 one-hole\"\n"
                              "  cotyl trays CH-2602 128 --plants 400 --per-cell 8 --at-least 5 --by-hand\n"
                              "  cotyl trays KR-2601 128 --plants 90 --by-hand --on-to 50\n";

static const struct cot_opt opts[] = {
    {"plants", "N", COT_F_PLANTS},
    {"trays", "N", COT_F_TRAYS},
    {"seeds", "N", COT_F_STOCK_SEEDS},
    {"plate", "P", COT_F_PLATE},
    {"by-hand", NULL, -1},
    {"put-right", NULL, COT_F_PUT_RIGHT},
    {"per-cell", "N", COT_F_PER_CELL},
    {"at-least", "N", COT_F_AT_LEAST},
    {"batches", "N", -1},
    {"confidence", "%", COT_F_CONFIDENCE},
    {"on-to", "FORMAT", COT_F_FORMAT},
    {"on-to-trays", "N", -1},
    {"on", "DAY", -1},
    COT_OPT_END,
};

struct question {
    struct cot_cli *cli;
    struct cot_args args;
    struct cot_fact fact; /* options as values; never recorded */
    struct cot_trays t;
    int64_t trays, larger; /* given; 0: not */
};

static const char *option(const struct question *q, const char *name)
{
    return cot_args_value(&q->args, opts, name);
}

/* A whole number from 1 to `most`; 0 when the option is absent. */
static enum cot_err number(struct question *q, const char *name, int64_t most, int64_t *out)
{
    const char *s = option(q, name);
    char *end;
    *out = 0;
    if (!s) return COT_OK;
    long long n = strtoll(s, &end, 10);
    if (end != s && *end == '\0' && n >= 1 && n <= most) {
        *out = n;
        return COT_OK;
    }
    (void)cot_fail(&q->cli->fault, COT_INVALID, "--%s: \"%.40s\" is no such number", name, s);
    return cot_hint(&q->cli->fault, "write a whole number from 1 to %lld", (long long)most);
}

static enum cot_err check_words(struct question *q)
{
    struct cot_cli *cli = q->cli;
    bool trays = option(q, "trays"), seeds = option(q, "seeds"), plants = option(q, "plants");
    if (!trays && !seeds && !plants)
        return cot_misuse(cli, "say what is wanted, --plants N, or what there is, --trays N or --seeds N");
    if (trays && seeds) return cot_misuse(cli, "give either --trays or --seeds");
    if (option(q, "plate") && option(q, "by-hand")) return cot_misuse(cli, "give either --plate or --by-hand");
    if (option(q, "put-right") && !option(q, "plate"))
        return cot_misuse(cli, "--put-right goes with --plate: by hand no cell is missed");
    if (option(q, "on-to-trays") && !(option(q, "on-to") && trays))
        return cot_misuse(cli, "--on-to-trays goes with --trays and --on-to");
    if (option(q, "on-to") && seeds) return cot_misuse(cli, "--on-to goes with --plants or --trays, not with --seeds");
    if (option(q, "on-to") && trays && !option(q, "on-to-trays"))
        return cot_misuse(cli, "how many larger trays are there? --on-to-trays N");
    for (int i = 0; opts[i].name; i++) {
        const struct cot_value *v = opts[i].field < 0 ? NULL : cot_fact_value(&q->fact, (enum cot_field)opts[i].field);
        if (v && v->type == COT_T_NONE) return cot_misuse(cli, "--%s none: leave the option out instead", opts[i].name);
        bool amount = i < 3;
        if (v && amount && v->v.i < 1) return cot_fail(&cli->fault, COT_INVALID, "--%s: 1 or more", opts[i].name);
    }
    return COT_OK;
}

static enum cot_err find_things(struct question *q)
{
    struct cot_cli *cli = q->cli;
    struct cot_sow_asked *a = &q->t.asked;
    enum cot_err err = cot_book_find(cli->book, COT_THING_LOT, q->args.word[0], &a->lot, &cli->fault);
    if (err == COT_NOT_FOUND && !cli->fault.hint[0])
        return cot_hint(&cli->fault, "a seed lot is sown, not a variety: `cotyl list lots` shows them");
    if (err == COT_OK) err = cot_book_find(cli->book, COT_THING_FORMAT, q->args.word[1], &a->format, &cli->fault);
    if (err != COT_OK) return err;
    const struct cot_id *plate = cot_fact_id(&q->fact, COT_F_PLATE), *on_to = cot_fact_id(&q->fact, COT_F_FORMAT);
    a->plate = plate ? cot_book_thing(cli->book, plate) : NULL;
    q->t.on_to = on_to ? cot_book_thing(cli->book, on_to) : NULL;
    a->per_cell = cot_fact_int(&q->fact, COT_F_PER_CELL, 0);
    a->at_least = cot_fact_int(&q->fact, COT_F_AT_LEAST, 0);
    a->put_right = option(q, "put-right") != NULL;
    int64_t seeds = a->per_cell > 0 ? a->per_cell : a->plate ? cot_thing_int(a->plate, COT_F_HOLES, 1) : 1;
    char some[COT_SOME_TEXT];
    if (a->at_least <= seeds) return COT_OK;
    (void)cot_fail(&cli->fault, COT_INVALID, "--at-least: %lld plants cannot come of %s in a cell",
                   (long long)a->at_least, cot_some(seeds, "seed", some));
    return cot_hint(&cli->fault, "say how many seeds go into a cell: --per-cell N");
}

static enum cot_err read_question(struct question *q)
{
    struct cot_trays *t = &q->t;
    enum cot_err err = cot_args_fields(q->cli, &q->args, opts, &q->fact);
    if (err == COT_OK) err = check_words(q);
    if (err == COT_OK) err = number(q, "batches", COT_SOW_BATCHES_MOST, &t->asked.batches);
    if (err == COT_OK) err = number(q, "on-to-trays", COT_SOW_TRAYS_MOST, &q->larger);
    if (err == COT_OK) err = cot_day_asked(q->cli, &q->args, opts, "on", &t->on);
    if (err == COT_OK) err = find_things(q);
    if (err == COT_OK) err = cot_sow_read(q->cli->book, &t->asked, t->on, &t->sow, &t->found, &q->cli->fault);
    if (err != COT_OK) return err;
    q->trays = cot_fact_int(&q->fact, COT_F_TRAYS, 0);
    t->wanted = cot_fact_int(&q->fact, COT_F_PLANTS, 0);
    t->seeds_there = cot_fact_int(&q->fact, COT_F_STOCK_SEEDS, -1);
    t->confidence = (int32_t)cot_fact_int(&q->fact, COT_F_CONFIDENCE, t->found.confidence);
    t->given = q->trays > 0 || t->seeds_there >= 0;
    return COT_OK;
}

/* --- Answers ------------------------------------------------------------------------------------------------------ */
static enum cot_err neighbours(struct cot_trays *t, struct cot_fault *fault)
{
    enum cot_err err = COT_OK;
    if (t->now.trays > 1) err = cot_sow_promise(&t->sow, t->now.trays - 1, t->wanted, t->confidence, &t->fewer, fault);
    if (err == COT_OK && t->now.trays < COT_SOW_TRAYS_MOST)
        err = cot_sow_promise(&t->sow, t->now.trays + 1, t->wanted, t->confidence, &t->more, fault);
    if (err == COT_OK) err = cot_sow_parts(&t->sow, t->wanted, t->confidence, t->now.trays, &t->parts, fault);
    return err;
}

/* Trays that so many seeds are enough for. */
static enum cot_err trays_of_seeds(struct question *q)
{
    struct cot_trays *t = &q->t;
    enum cot_err err = cot_sow_trays_of_seeds(&t->sow, t->seeds_there, t->confidence, &q->trays, &q->cli->fault);
    if (err != COT_OK || q->trays > 0) return err;
    return cot_fail(&q->cli->fault, COT_INVALID, "--seeds: %lld are not enough for one tray of %s",
                    (long long)t->seeds_there, cot_thing_name(t->asked.format));
}

static enum cot_err one_stage(struct question *q)
{
    struct cot_trays *t = &q->t;
    struct cot_fault *fault = &q->cli->fault;
    enum cot_err err = t->seeds_there >= 0 ? trays_of_seeds(q) : COT_OK;
    if (err != COT_OK) return err;
    if (t->given) {
        err = cot_sow_promise(&t->sow, q->trays, t->wanted, t->confidence, &t->now, fault);
    } else {
        err = cot_sow_trays(&t->sow, t->wanted, t->confidence, &t->now, fault);
        if (err == COT_OK) err = neighbours(t, fault);
    }
    if (err == COT_OK) err = cot_sow_seeds(&t->sow, t->now.trays, t->confidence, &t->seeds, fault);
    return err;
}

/* Each sowing is a tray at least. */
static enum cot_err check_batches(struct question *q)
{
    int64_t trays = q->t.on_to ? q->t.pot.plug_trays : q->t.now.trays;
    char some[COT_SOME_TEXT];
    if (trays >= q->t.sow.batches) return COT_OK;
    (void)cot_fail(&q->cli->fault, COT_INVALID, "--batches: %s cannot be sown on %lld days",
                   cot_some(trays, "tray", some), (long long)q->t.sow.batches);
    return cot_hint(&q->cli->fault, "at least a tray for each day: --batches %lld, or fewer", (long long)trays);
}

static double footprint(const struct cot_thing *format)
{
    return (double)cot_thing_int(format, COT_F_LENGTH_UM, 0) * (double)cot_thing_int(format, COT_F_WIDTH_UM, 0) / 1e6;
}

static enum cot_err two_stages(struct question *q)
{
    struct cot_trays *t = &q->t;
    double small = footprint(t->asked.format), large = footprint(t->on_to);
    t->by_footprint = small > 0 && large > 0;
    t->to = (struct cot_pot_on){.take_a = COT_TAKE_A,
                                .take_b = COT_TAKE_B,
                                .tray_cells = cot_format_cells(t->on_to),
                                .plug_room = t->by_footprint ? small : 1,
                                .room = t->by_footprint ? large : 1};
    struct cot_fault *fault = &q->cli->fault;
    enum cot_err err =
        t->given ? cot_pot_promise(&t->sow, q->trays, &t->to, q->larger, t->wanted, t->confidence, &t->pot, fault)
                 : cot_pot_trays(&t->sow, &t->to, t->wanted, t->confidence, &t->pot, fault);
    if (err == COT_OK) err = cot_sow_seeds(&t->sow, t->pot.plug_trays, t->confidence, &t->seeds, fault);
    return err;
}

static enum cot_err print(struct question *q)
{
    struct cot_buf out = {0};
    if (q->cli->json) cot_trays_put_json(&q->t, &out);
    else cot_trays_put_text(&q->t, &out);
    enum cot_err err = cot_print(q->cli, &out);
    cot_buf_free(&out);
    return err;
}

enum cot_err cot_cmd_trays(struct cot_cli *cli, int argc, char **argv)
{
    struct question q = {.cli = cli};
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 2, 2, &q.args);
    if (err != COT_OK) return err;
    err = read_question(&q);
    if (err == COT_OK) err = q.t.on_to ? two_stages(&q) : one_stage(&q);
    if (err == COT_OK) err = check_batches(&q);
    if (err == COT_OK) err = print(&q);
    cot_args_free(&q.args);
    return err;
}
