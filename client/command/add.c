/* add: a farm, crop, variety, tray format, seeder plate, seed lot, place, raising days or planned sowing that the book
 * does not know yet. */
#include "commands.h"
#include "cotyledger/wire/sheet.h"
#include "describe.h"
#include "planned.h"

#include <string.h>
#include <strings.h>

const char cot_help_add[] = "Adds a thing that orders and sowings can then name.\n"
                            "\n"
                            "  add farm NAME      --contact TEXT --own (the house's own fields)\n"
                            "  add crop NAME      --latin TEXT --seeds-per-g N --tray-days N\n"
                            "                     --tray-days-max N --chamber-days N --count-days N\n"
                            "                     --harden-days N --emergence % --usable-share %\n"
                            "                     --min-germ % --shape WORD --emerge-days N --later-loss %\n"
                            "                     --group TEXT --source TEXT\n"
                            "  add variety NAME   --crop CROP\n"
                            "  add format NAME    --rows N --cols N --cell-ml N --length-mm N --width-mm N\n"
                            "                     --pattern TEXT --tray-plants N --source TEXT\n"
                            "  add plate NAME     --cells N --holes N --hole-mm N --pattern TEXT\n"
                            "                     --misses % --twos % (of its drops, as you counted them)\n"
                            "  add lot NAME       --variety VARIETY --form raw|graded|pelleted|coated|primed|\n"
                            "                     plug (young plants) --supplier TEXT\n"
                            "                     --test-seeds N --test-germ N, or --label-germ %\n"
                            "                     --replicates \"96 94 97 95\" --test-day DAY\n"
                            "                     --seeds-per-g N --stock-seeds N\n"
                            "                     --stock-g N --treated --treatment TEXT --organic\n"
                            "                     --owner FARM --use-by DAY --withdrawn\n"
                            "  add place NAME     --sort chamber|bench|frame --spots N --group TEXT\n"
                            "                     --celsius N --from DAY --until DAY --note TEXT\n"
                            "  add raising NAME   --crop CROP --format F --from-week N --to-week N\n"
                            "                     --tray-days N --tray-days-max N --chamber-days N\n"
                            "                     --pot-days N --pot-format F --source TEXT\n"
                            "  add planned        --lot LOT --format F --trays N, or --rows N --shared NAME\n"
                            "                     --sow-day DAY --ready DAY --plate P --per-cell N\n"
                            "                     --at-least N --chamber B --bench B --frame B\n"
                            "                     --lines CODE,CODE --pins WORDS --note TEXT\n"
                            "\n"
                            "A tested lot is worth more than a label: give the seeds tested and how many\n"
                            "germinated. `cotyl import` takes many at once from a spreadsheet.\n"
                            "A place holds so many trays of the usual size (`cotyl rule`); a frame is a\n"
                            "cold frame. Raising days say how long a crop stands in its tray, for one\n"
                            "format or season if given (ISO weeks of sowing; 40 to 9 is a winter); the\n"
                            "closest that fits a sowing holds, and without any the crop's own days.\n"
                            "A planned sowing gets a code; `cotyl sow --planned CODE` carries it out. What\n"
                            "you give yourself is pinned: kept as you said (--pins none: nothing is).\n"
                            "\n"
                            "Examples:\n"
                            "  cotyl add farm \"Alder Ford\" --contact \"gate code from Wren\"\n"
                            "  cotyl add variety \"Red Harbour\" --crop Lettuce\n"
                            "  cotyl add format \"128 square\" --rows 8 --cols 16 --cell-ml 25.1\n"
                            "  cotyl add plate \"128 one-hole\" --cells 128 --holes 1 --hole-mm 0.5\n"
                            "  cotyl add lot RH-2601 --variety \"Red Harbour\" --form pelleted \\\n"
                            "      --test-seeds 400 --test-germ 372\n"
                            "  cotyl add place \"bench 3\" --sort bench --spots 40 --group cool\n"
                            "  cotyl add raising \"Lettuce in winter\" --crop Lettuce --from-week 40 \\\n"
                            "      --to-week 9 --tray-days 42\n"
                            "  cotyl add planned --lot RH-2601 --format 128 --trays 6 --sow-day 2027-03-29\n";

/* The parent within which a name of this kind must be alone: a variety's crop, a lot's variety. */
static enum cot_field parent_field(enum cot_kind kind)
{
    return kind == COT_K_VARIETY ? COT_F_CROP : kind == COT_K_LOT ? COT_F_VARIETY : COT_F_COUNT;
}

/* A thing of that name, without regard to ASCII case, within the same parent. */
static const struct cot_thing *same_name(struct cot_job *w, const char *name)
{
    size_t n;
    enum cot_field parent = parent_field(w->fact.kind);
    const struct cot_id *within = parent == COT_F_COUNT ? NULL : cot_fact_id(&w->fact, parent);
    const struct cot_thing *const *all = cot_book_things(w->cli->book, cot_kind_row(w->fact.kind)->makes, &n);
    for (size_t i = 0; i < n; i++) {
        if (all[i]->gone || strcasecmp(cot_thing_name(all[i]), name) != 0) continue;
        const struct cot_id *its = within ? cot_thing_id(all[i], parent) : NULL;
        if (!within || (its && cot_id_cmp(its, within) == 0)) return all[i];
    }
    return NULL;
}

static enum cot_err check_missing(struct cot_job *w)
{
    const struct cot_kind_row *row = cot_kind_row(w->fact.kind);
    for (unsigned i = 0; i < row->field_count; i++) {
        enum cot_field field = row->fields[i].field;
        if (!row->fields[i].required || field == COT_F_NAME || field == COT_F_CODE || cot_fact_value(&w->fact, field))
            continue;
        for (const struct cot_opt *o = w->opts; o->name; o++)
            if (o->field == (int)field)
                return cot_misuse(w->cli, "add %s: the %s is missing: --%s %s", row->name, cot_field_row(field)->what,
                                  o->name, o->value ? o->value : "");
    }
    return COT_OK;
}

static enum cot_err take_name(struct cot_job *w, const char *name)
{
    struct cot_cli *cli = w->cli;
    const struct cot_kind_row *row = cot_kind_row(w->fact.kind);
    enum cot_err err =
        cot_value_read(cli->book, &w->fact, COT_F_NAME, name, strlen(name), NULL, w->args.keep, &cli->fault);
    if (err != COT_OK) return cot_within(&cli->fault, "the name of the %s", row->what);
    const struct cot_thing *there = same_name(w, cot_fact_value(&w->fact, COT_F_NAME)->v.text);
    if (there) {
        (void)cot_fail(&cli->fault, COT_CONFLICT, "add: there is a %s \"%s\" already", row->what,
                       cot_thing_name(there));
        return cot_hint(&cli->fault, "`cotyl change %s \"%s\" ...` changes it; else give the new one another name",
                        row->name, cot_thing_name(there));
    }
    return COT_OK;
}

static void warn_lot(struct cot_job *w)
{
    int64_t seeds = cot_fact_int(&w->fact, COT_F_TEST_SEEDS, 0);
    if (seeds == 0 && cot_fact_value(&w->fact, COT_F_REPLICATES))
        cot_answer_warn(&w->answer, "replicates alone do not say of how many seeds: the reports have to guess. "
                                    "--test-seeds and --test-germ can be added with `cotyl change lot`.");
    else if (seeds == 0 && !cot_fact_value(&w->fact, COT_F_LABEL_GERM))
        cot_answer_warn(
            &w->answer,
            "no germination given: the reports have to guess. --test-seeds and --test-germ, or --label-germ, "
            "can be added with `cotyl change lot`.");
    if (cot_fact_int(&w->fact, COT_F_TREATED, 0) || cot_fact_value(&w->fact, COT_F_TREATMENT))
        cot_answer_caution(&w->answer,
                           "treated seed: keep it in its labelled bag, away from food and feed; gloves, no dust.");
}

/* "--pins none" says that nothing is pinned, as a change would say it. */
static enum cot_err start(struct cot_job *w, struct cot_cli *cli, int argc, char **argv, const struct cot_describe *d,
                          int words)
{
    if (d->kind != COT_K_PLANNED) return cot_job_start(w, cli, d->kind, argc, argv, d->opt, words, words);
    enum cot_err err = cot_job_start_change(w, cli, d->kind, argc, argv, d->opt, words, words);
    w->fact.has_about = false;
    return err;
}

enum cot_err cot_cmd_add(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w = {0};
    struct cot_describe d;
    struct cot_buf fields = {0};
    enum cot_kind kind;
    enum cot_err err = cot_describe_kind(cli, cot_describe_word(argc, argv), false, &kind);
    if (err != COT_OK) return err;
    cot_describe_options(&d, kind, false);
    int words = kind == COT_K_PLANNED ? 1 : 2; /* a planned sowing has a code for a name */
    err = start(&w, cli, argc, argv, &d, words);
    if (err == COT_OK) err = check_missing(&w);
    if (err == COT_OK && words == 2) err = take_name(&w, w.args.word[1]);
    if (err != COT_OK) goto out;
    if (kind == COT_K_LOT) warn_lot(&w);
    if (kind == COT_K_PLANNED) err = cot_planned_prepare(&w, NULL);
    if (err == COT_OK) err = cot_job_record(&w);
    if (err != COT_OK) goto out;
    enum cot_field called = kind == COT_K_PLANNED ? COT_F_CODE : COT_F_NAME;
    cot_describe_fields(cli, &w.fact, called, &fields);
    cot_answer_line(&w.answer, "Added %s %s%s%s.", cot_kind_row(kind)->what, cot_fact_value(&w.fact, called)->v.text,
                    fields.len ? ": " : "", fields.s ? fields.s : "");
out:
    cot_buf_free(&fields);
    return cot_job_end(&w, err);
}
