/* add: a farm, crop, variety, tray format, seeder plate or seed lot that the book does not know yet. */
#include "commands.h"
#include "cotyledger/wire/sheet.h"
#include "describe.h"

#include <string.h>
#include <strings.h>

const char cot_help_add[] = "Adds a thing that orders and sowings can then name.\n"
                            "\n"
                            "  add farm NAME      --contact TEXT --own (the house's own fields)\n"
                            "  add crop NAME      --latin TEXT --seeds-per-g N --tray-days N\n"
                            "                     --tray-days-max N --chamber-days N --count-days N\n"
                            "                     --harden-days N --emergence % --usable-share %\n"
                            "                     --min-germ % --source TEXT\n"
                            "  add variety NAME   --crop CROP\n"
                            "  add format NAME    --rows N --cols N --cell-ml N --length-mm N --width-mm N\n"
                            "                     --pattern TEXT --tray-plants N --source TEXT\n"
                            "  add plate NAME     --cells N --holes N --hole-mm N --pattern TEXT\n"
                            "  add lot NAME       --variety VARIETY --form raw|graded|pelleted|coated|primed\n"
                            "                     --test-seeds N --test-germ N, or --label-germ %\n"
                            "                     --test-day DAY --seeds-per-g N --stock-seeds N\n"
                            "                     --stock-g N --treated --treatment TEXT --organic\n"
                            "                     --owner FARM --use-by DAY\n"
                            "\n"
                            "A tested lot is worth more than a label: give the seeds tested and how many\n"
                            "germinated. `cotyl import` takes many at once from a spreadsheet.\n"
                            "\n"
                            "Examples:\n"
                            "  cotyl add farm \"Alder Ford\" --contact \"gate code from Wren\"\n"
                            "  cotyl add variety \"Red Harbour\" --crop Lettuce\n"
                            "  cotyl add format \"128 square\" --rows 8 --cols 16 --cell-ml 25.1\n"
                            "  cotyl add plate \"128 one-hole\" --cells 128 --holes 1 --hole-mm 0.5\n"
                            "  cotyl add lot RH-2601 --variety \"Red Harbour\" --form pelleted \\\n"
                            "      --test-seeds 400 --test-germ 372\n";

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
        if (!row->fields[i].required || field == COT_F_NAME || cot_fact_value(&w->fact, field)) continue;
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
    if (seeds == 0 && !cot_fact_value(&w->fact, COT_F_LABEL_GERM))
        cot_answer_warn(
            &w->answer,
            "no germination given: the reports have to guess. --test-seeds and --test-germ, or --label-germ, "
            "can be added with `cotyl change lot`.");
    if (cot_fact_int(&w->fact, COT_F_TREATED, 0) || cot_fact_value(&w->fact, COT_F_TREATMENT))
        cot_answer_caution(&w->answer,
                           "treated seed: keep it in its labelled bag, away from food and feed; gloves, no dust.");
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
    err = cot_job_start(&w, cli, kind, argc, argv, d.opt, 2, 2);
    if (err == COT_OK) err = check_missing(&w);
    if (err == COT_OK) err = take_name(&w, w.args.word[1]);
    if (err != COT_OK) goto out;
    if (kind == COT_K_LOT) warn_lot(&w);
    err = cot_job_record(&w);
    if (err != COT_OK) goto out;
    cot_describe_fields(cli, &w.fact, COT_F_NAME, &fields);
    cot_answer_line(&w.answer, "Added %s %s%s%s.", cot_kind_row(kind)->what,
                    cot_fact_value(&w.fact, COT_F_NAME)->v.text, fields.len ? ": " : "", fields.s ? fields.s : "");
out:
    cot_buf_free(&fields);
    return cot_job_end(&w, err);
}
