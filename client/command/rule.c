/* rule: the house's settings. Made online, so that no two managers set them against each other unseen. */
#include "commands.h"
#include "cotyledger/wire/sheet.h"
#include "describe.h"

#include <string.h>

const char cot_help_rule[] = "Shows the house's rules, or sets them. Setting needs the server: the rules hold\n"
                             "for everybody at once.\n"
                             "\n"
                             "  --name TEXT          what the house is called\n"
                             "  --confidence %       how sure \"count on\" and \"covered\" are: 90% is 9 in 10\n"
                             "  --share WORD         how a shortage is shared: first (first promised, first\n"
                             "                       served), priority, or prorata\n"
                             "  --tray-means WORD    a tray ordered is a tray as sown, or its plants: plants\n"
                             "  --unit WORD          handed over in single plants, rows or whole trays:\n"
                             "                       plant, row or tray\n"
                             "  --closing-days N     days before collecting when a line closes for changes\n"
                             "  --utc-offset N       the house's time, minutes east of UTC\n"
                             "  --assumed-seeds N    seeds taken as tested where there is only a label\n"
                             "  --work-days DAYS     days of the week on which people work: mon-fri, or 1,3,5\n"
                             "  --trays-a-day N      trays that can be sown on a working day\n"
                             "  --test-age DAYS      germination tests as old as this are to be repeated\n"
                             "  --length-mm N, --width-mm N\n"
                             "                       the usual tray, which a place's spots are counted in\n"
                             "  --bag-l N            growing mix in a bag, for what is bought\n"
                             "  --delivery-days N    days from an order to its delivery\n"
                             "  --sowing-minutes N, --tray-minutes N\n"
                             "                       work for a sowing, and for each tray of it\n"
                             "  --units metric|us    how amounts are shown; both can always be typed (40 gal,\n"
                             "                       0.02 in, 1.5 oz, 25 ml)\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl rule\n"
                             "  cotyl rule --confidence 90% --closing-days 21\n";

/* What holds where the house has set nothing. */
static const struct {
    enum cot_field field;
    const char *usual;
} usual[] = {
    {COT_F_CONFIDENCE, "90 % (as usual)"},      {COT_F_SHARE, "first (as usual)"},
    {COT_F_TRAY_MEANS, "sown (as usual)"},      {COT_F_CLOSING_DAYS, "the crop's days in the tray"},
    {COT_F_UTC_OFFSET, "0 min (as usual)"},     {COT_F_ASSUMED_SEEDS, "100 seeds (as usual)"},
    {COT_F_WORK_DAYS, "Mon to Fri (as usual)"}, {COT_F_TRAYS_A_DAY, "not said"},
    {COT_F_UNIT, "plant (as usual)"},           {COT_F_TEST_AGE, "never"},
    {COT_F_LENGTH_UM, "540 mm (as usual)"},     {COT_F_WIDTH_UM, "280 mm (as usual)"},
    {COT_F_UNITS, "metric (as usual)"},         {COT_F_BAG_L, "not said"},
    {COT_F_DELIVERY_DAYS, "14 days (assumed)"}, {COT_F_SOWING_MINUTES, "30 min (assumed)"},
    {COT_F_TRAY_MINUTES, "4 min (assumed)"},
};

static void put_usual(enum cot_field field, struct cot_buf *out)
{
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
        if (usual[i].field == field) cot_buf_str(out, usual[i].usual);
}

/* A field's own words, where they are not too long and say what the rule means. */
static const char *label_of(enum cot_field field)
{
    if (field == COT_F_LENGTH_UM) return "length of the usual tray";
    if (field == COT_F_WIDTH_UM) return "width of the usual tray";
    if (field == COT_F_WORK_DAYS) return "working days";
    if (field == COT_F_UNIT) return "what is handed over in";
    return cot_field_row(field)->what;
}

static enum cot_err show_rules(struct cot_cli *cli)
{
    const struct cot_thing *house = cot_book_house(cli->book);
    const struct cot_kind_row *row = cot_kind_row(COT_K_RULE);
    struct cot_buf out = {0}, text = {0};
    enum cot_err err = COT_OK;
    if (!house) return cot_fail(&cli->fault, COT_NOT_FOUND, "nothing of the house is here yet: `cotyl sync` first");
    if (cli->json) cot_buf_str(&out, "{");
    for (unsigned i = 0; i < row->field_count; i++) {
        enum cot_field field = row->fields[i].field;
        const struct cot_value *v = cot_thing_value(house, field);
        cot_buf_clear(&text);
        if (v && v->type != COT_T_NONE) cot_value_text(cli->book, v, &text);
        if (!cli->json) {
            cot_buf_fmt(&out, "%-46s ", label_of(field));
            if (text.len) cot_put_terminal(&out, text.s, text.len);
            else put_usual(field, &out);
            cot_buf_str(&out, "\n");
            continue;
        }
        cot_buf_fmt(&out, "%s\"%s\":", i ? "," : "", cot_field_row(field)->name);
        if (v && v->type == COT_T_INT) cot_buf_fmt(&out, "%lld", (long long)v->v.i);
        else if (text.len > 0) cot_put_json(&out, text.s, text.len);
        else cot_buf_str(&out, "null");
    }
    if (cli->json) cot_buf_str(&out, "}\n");
    if (out.failed || text.failed) err = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    else if (fputs(out.s, stdout) < 0) err = cot_fail(&cli->fault, COT_IO, "unable to write to standard output");
    cot_buf_free(&out);
    cot_buf_free(&text);
    return err;
}

/* The second sync may be cut: then the entry waits here and takes effect when it gets there. */
static void send(struct cot_job *w)
{
    if (cot_sync_now(w->cli, true) == COT_OK) return;
    cot_answer_warn(&w->answer, "not sent yet (%s): the rule holds when `cotyl sync` has sent it.", w->cli->fault.msg);
    memset(&w->cli->fault, 0, sizeof w->cli->fault);
}

enum cot_err cot_cmd_rule(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w = {0};
    struct cot_describe d;
    struct cot_buf fields = {0};
    cot_describe_options(&d, COT_K_RULE, true);
    enum cot_err err = cot_job_start_change(&w, cli, COT_K_RULE, argc, argv, d.opt, 0, 0);
    if (err != COT_OK) goto out;
    if (w.fact.value_count == 0) {
        cot_args_free(&w.args);
        return show_rules(cli);
    }
    err = cot_sync_now(cli, true);
    if (err != COT_OK) goto out;
    const struct cot_thing *house = cot_book_house(cli->book);
    if (!house) err = cot_fail(&cli->fault, COT_NOT_FOUND, "nothing of the house is here yet: `cotyl sync` first");
    if (err != COT_OK) goto out;
    cot_job_about(&w, house);
    err = cot_job_record(&w);
    if (err != COT_OK) goto out;
    cot_describe_fields(cli, &w.fact, COT_F_COUNT, &fields);
    cot_answer_line(&w.answer, "House rule: %s.", fields.s ? fields.s : "");
    send(&w);
out:
    cot_buf_free(&fields);
    return cot_job_end(&w, err);
}
