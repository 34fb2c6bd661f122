/* what-if: who would gain and who would lose by an order, before it is promised. Staff read it from their own book;
 * buyers ask the server, which has the whole house's. Nothing is recorded. */
#include "asked_line.h"
#include "commands.h"
#include "cotyledger/wire/asking.h"
#include "cotyledger/wire/report.h"
#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/table.h"
#include "sync/sync.h"
#include "work.h"

#include <string.h>

const char cot_help_what_if[] = "Shows what an order would change before anybody promises it: which lines would\n"
                                "be worse off, or covered that are not now. Nothing is recorded. Without FARM and\n"
                                "VARIETY it is about an order line that there is: fewer or more plants, another\n"
                                "day, or none at all. Staff read it from the book on this laptop; a farm's own\n"
                                "people leave FARM out, and ask the house for their own lines.\n"
                                "\n"
                                "  --plants N          plants wanted, or\n"
                                "  --trays N           trays wanted (with --format)\n"
                                "  --on DAY            the day it is collected\n"
                                "  --withdrawn         the line would be withdrawn\n"
                                "  --format F          tray format; \"any\": whatever there is\n"
                                "  --early N --late N  days earlier or later that will do as well\n"
                                "  --least N           fewer plants than this are not worth having\n"
                                "  --sub V,V           varieties that will do instead, best first\n"
                                "  --untreated, --organic, --own-seed   as in `order`\n"
                                "  --priority N        1 (first) to 9, where the house shares by priority\n"
                                "  --as-of DAY         with what is known on this day (default: today)\n"
                                "\n"
                                "Examples:\n"
                                "  cotyl what-if \"Alder Ford\" \"Red Harbour\" --plants 300 --on 2027-04-05\n"
                                "  cotyl what-if C-0003-H --plants 800\n"
                                "  cotyl what-if C-0003-H --withdrawn\n";

static const struct cot_opt opts[] = {
    COT_ASKED_LINE_OPTS,
    {"withdrawn", NULL, -1},
    {"as-of", "DAY", -1},
    COT_OPT_END,
};

struct asking {
    struct cot_cli *cli;
    struct cot_args args;
    struct cot_fact fact; /* an order line that nobody makes */
    struct cot_buf subs;
    int32_t on;
    bool withdrawn, buyer;
};

static bool is_code(const char *typed)
{
    char code[COT_CODE_TEXT];
    return cot_code_read(typed, strlen(typed), code) != COT_CODE_SHAPE;
}

/* A standing line, by its code. */
static enum cot_err find_line(struct asking *a)
{
    const struct cot_thing *line;
    enum cot_err err = cot_find_coded(a->cli, COT_THING_LINE, a->args.word[0], &line);
    if (err != COT_OK) return err;
    a->fact.has_about = a->fact.has_farm = true;
    a->fact.about = line->id;
    a->fact.farm = line->farm;
    return COT_OK;
}

/* A new line. */
static enum cot_err find_things(struct asking *a)
{
    if (a->args.count == 1 && !a->buyer)
        return cot_misuse(a->cli, "name the farm and the variety, or the code of an order line");
    return cot_whose_what(a->cli, &a->args, &a->fact);
}

static enum cot_err check_sense(struct asking *a)
{
    struct cot_cli *cli = a->cli;
    bool plants = cot_args_value(&a->args, opts, "plants") != NULL,
         trays = cot_args_value(&a->args, opts, "trays") != NULL;
    bool on = cot_args_value(&a->args, opts, "on") != NULL;
    a->withdrawn = cot_args_value(&a->args, opts, "withdrawn") != NULL;
    if (plants && trays) return cot_misuse(cli, "say how much is wanted: either --plants N or --trays N");
    if (a->withdrawn && !a->fact.has_about) return cot_misuse(cli, "--withdrawn: name the order line by its code");
    if (a->withdrawn && (a->fact.value_count > 0 || a->subs.len > 0))
        return cot_misuse(cli, "--withdrawn stands alone: a line that is withdrawn has nothing else to change");
    if (a->fact.has_about && !a->withdrawn && a->fact.value_count == 0 && a->subs.len == 0)
        return cot_misuse(cli, "say what would change: --plants N, --on DAY, --withdrawn ...");
    if (!a->fact.has_about && (!(plants || trays) || !on))
        return cot_misuse(cli, "say how much and when: --plants N (or --trays N) and --on DAY");
    return COT_OK;
}

static enum cot_err read_asking(struct asking *a)
{
    struct cot_cli *cli = a->cli;
    a->fact.kind = COT_K_LINE;
    snprintf(a->fact.kind_name, sizeof a->fact.kind_name, "%s", cot_kind_row(COT_K_LINE)->name);
    enum cot_err err = a->args.count == 1 && is_code(a->args.word[0]) ? find_line(a) : find_things(a);
    if (err == COT_OK) err = cot_args_fields(cli, &a->args, opts, &a->fact);
    if (err == COT_OK) err = check_sense(a);
    if (err == COT_OK) err = cot_day_asked(cli, &a->args, opts, "as-of", &a->on);
    return err == COT_OK ? cot_subs_put(cli, &a->subs, a->args.keep, &a->fact) : err;
}

static enum cot_err answer_here(struct asking *a)
{
    struct cot_cli *cli = a->cli;
    struct cot_effect effect;
    struct cot_if_line line;
    struct cot_what_if change = {.line = &line};
    struct cot_buf out = {0};
    enum cot_err err = cot_if_line_read(cli->book, &a->fact, a->withdrawn, &line, &cli->fault);
    if (err == COT_OK) err = cot_effect_read(cli->book, a->on, &change, NULL, &effect, &cli->fault);
    if (err != COT_OK) return err;
    err = cot_report_what_if(&effect, &change, cli->book, cli->book, cli->json ? COT_FORM_JSON : COT_FORM_TEXT, &out);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "unable to write the answer: %s", cot_err_row(err)->title);
    else err = cot_print(cli, &out);
    cot_buf_free(&out);
    cot_effect_free(&effect);
    return err;
}

static enum cot_err ask_server(struct asking *a)
{
    struct cot_cli *cli = a->cli;
    struct cot_sync s;
    struct cot_buf query = {0};
    char day[COT_DAY_TEXT];
    cot_day_text(a->on, day);
    cot_buf_fmt(&query, "on=%s&form=%s", day, cli->json ? "json" : "text");
    cot_if_query_put(&a->fact, a->withdrawn, &query);
    enum cot_err err = cot_sync_open(cli, false, &s);
    if (err == COT_OK && query.failed) err = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (err == COT_OK) err = cot_sync_call(&s, "GET", "/v1/what-if", query.s, "", NULL, 0);
    if (err == COT_OK) err = cot_print(cli, &s.answer);
    if (err == COT_NETWORK || err == COT_TIMEOUT)
        (void)cot_hint(&cli->fault, "what a farm's order would change only the house can say: ask again with a signal");
    cot_sync_close(&s);
    cot_buf_free(&query);
    return err;
}

enum cot_err cot_cmd_what_if(struct cot_cli *cli, int argc, char **argv)
{
    struct asking a = {.cli = cli, .buyer = cli->me.part == COT_PART_BUYER};
    cot_take_subs(&a.subs, &argc, argv);
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 1, 2, &a.args);
    if (err == COT_OK) {
        err = read_asking(&a);
        if (err == COT_OK) err = a.buyer ? ask_server(&a) : answer_here(&a);
        cot_args_free(&a.args);
    }
    cot_buf_free(&a.subs);
    return err;
}
