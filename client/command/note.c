/* note: a remark, about a batch, an order line, a farm, or nothing in particular. */
#include "commands.h"
#include "cotyledger/wire/sheet.h"
#include "work.h"

#include <string.h>

const char cot_help_note[] = "Writes a note. A note about an order line or a farm is seen by that farm too;\n"
                             "any other by the house's staff only.\n"
                             "\n"
                             "  --about CODE   a batch or an order line\n"
                             "  --farm FARM    a farm\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl note \"heating off from 2 to 5, 4 degrees on bench 3\"\n"
                             "  cotyl note \"roots round by Thursday\" --about A-0012-5\n"
                             "  cotyl note \"gate code changed\" --farm \"Alder Ford\"\n";

static const struct cot_opt opts[] = {{"about", "CODE", -1}, {"farm", "FARM", -1}, COT_OPT_END};

static enum cot_err find_about(struct cot_job *w)
{
    struct cot_cli *cli = w->cli;
    const char *about = cot_job_option(w, "about"), *name = cot_job_option(w, "farm");
    const struct cot_thing *t;
    enum cot_err err = COT_OK;
    if (about && name)
        return cot_misuse(cli, "give either --about or --farm: a line has its farm already, a batch has none");
    if (about) {
        err = cot_find_any(cli, about, &t);
        if (err == COT_OK) cot_job_about(w, t);
    }
    if (name) {
        err = cot_book_find(cli->book, COT_THING_FARM, name, &t, &cli->fault);
        if (err == COT_OK) cot_job_farm(w, &t->id);
    }
    return err;
}

enum cot_err cot_cmd_note(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    enum cot_err err = cot_job_start(&w, cli, COT_K_NOTE, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = find_about(&w);
    if (err != COT_OK) goto out;
    const char *text = w.args.word[0], *about = cot_job_option(&w, "about");
    err = cot_value_read(cli->book, &w.fact, COT_F_TEXT, text, strlen(text), NULL, w.args.keep, &cli->fault);
    if (err != COT_OK) (void)cot_within(&cli->fault, "the note");
    if (err == COT_OK) err = cot_job_record(&w);
    if (err != COT_OK) goto out;
    const char *farm = w.fact.has_farm && cli->me.part != COT_PART_BUYER ? cot_name_at(cli, &w.fact.farm) : "";
    cot_answer_line(&w.answer, "Noted%s%s: %s", about ? " about " : "", about ? cot_name_at(cli, &w.fact.about) : "",
                    cot_fact_value(&w.fact, COT_F_TEXT)->v.text);
    cot_answer_line(&w.answer, "Seen by the house's staff%s%s.",
                    farm[0]                          ? " and "
                    : cli->me.part == COT_PART_BUYER ? " and your farm"
                                                     : "",
                    farm);
out:
    return cot_job_end(&w, err);
}
