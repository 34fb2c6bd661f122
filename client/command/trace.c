/* trace: from a lot to every batch, farm and hand-over, and back. */
#include <inttypes.h>
#include <string.h>

#include "commands.h"
#include "cotyledger/core/trace.h"
#include "show/asked.h"
#include "show/lists.h"
#include "show/table.h"
#include "work.h"

const char cot_help_trace[] = "Says where seed went, for a recall or an inspection: from a lot (or a batch) to\n"
                              "every batch sown and potted on from it, what was handed over to whom and when,\n"
                              "what came back and what still stands; or from a farm, an order line or a\n"
                              "hand-over back to the batches and lots behind it. A lot that was withdrawn\n"
                              "(`cotyl change lot LOT --withdrawn yes`) is marked.\n"
                              "\n"
                              "  --on DAY       as known on this day (default: today)\n"
                              "  --csv, --json  for spreadsheets and programs; see docs/reports.md\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl trace RH-2601\n"
                              "  cotyl trace \"Alder Ford\"\n"
                              "  cotyl trace A-0012-5 --csv >trace.csv\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

static const struct cot_col cols[] = {
    {"lot", "Lot", false, false},      {"lot_withdrawn", NULL, false, true}, {"variety", NULL, false, false},
    {"day", "Day", false, false},      {"what", "What", false, false},       {"batch", "Batch", false, false},
    {"parent", NULL, false, false},    {"shared", NULL, false, true},        {"trays", "Trays", true, false},
    {"plants", "Plants", true, false}, {"farm", "Farm", false, false},       {"line", "Line", false, false},
    {"handover", NULL, false, false},
};

static const char *const words[] = {[COT_TRACE_SOWN] = "sown",
                                    [COT_TRACE_POTTED] = "potted on",
                                    [COT_TRACE_HANDED] = "handed over",
                                    [COT_TRACE_BACK] = "came back",
                                    [COT_TRACE_STANDS] = "still here"};

static const char *name_or_null(const struct cot_thing *t)
{
    return t ? cot_thing_name(t) : NULL;
}

static void trace_row(struct cot_table *t, const struct cot_trace_row *r)
{
    char digest[COT_ID_TEXT];
    if (r->handover) cot_id_text(&r->handover->id, digest);
    cot_table_text(t, name_or_null(r->lot));
    cot_table_yes(t, r->lot && cot_thing_int(r->lot, COT_F_WITHDRAWN, 0));
    cot_table_text(t, name_or_null(r->variety));
    cot_table_day(t, r->day);
    cot_table_text(t, words[r->what]);
    cot_table_text(t, cot_thing_name(r->batch));
    cot_table_text(t, name_or_null(r->parent));
    cot_table_yes(t, r->shared);
    if (r->trays > 0) cot_table_int(t, r->trays);
    else cot_table_text(t, NULL);
    if (r->plants > 0) cot_table_int(t, r->plants);
    else cot_table_text(t, NULL);
    cot_table_text(t, name_or_null(r->farm));
    cot_table_text(t, name_or_null(r->line));
    cot_table_text(t, r->handover ? digest : NULL);
}

/* --- Above and below the table, for eyes -------------------------------------------------------------------------- */

static void put_lot(struct cot_cli *cli, const struct cot_thing *lot, struct cot_buf *out)
{
    const char *treatment = cot_thing_text(lot, COT_F_TREATMENT);
    cot_buf_fmt(out, "Lot %s: %s", cot_thing_name(lot), cot_name_of(cli, lot, COT_F_VARIETY));
    if (cot_thing_int(lot, COT_F_ORGANIC, 0)) cot_buf_str(out, ", organic");
    if (treatment[0]) cot_buf_fmt(out, ", treated (%s)", treatment);
    else cot_buf_str(out, cot_thing_int(lot, COT_F_TREATED, 0) ? ", treated" : ", untreated");
    cot_buf_str(out, cot_thing_int(lot, COT_F_WITHDRAWN, 0) ? ". WITHDRAWN.\n" : ".\n");
}

static enum cot_err put_head(struct cot_cli *cli, const struct cot_trace *t)
{
    struct cot_buf raw = {0}, out = {0};
    for (size_t i = 0; i < t->lots; i++) put_lot(cli, t->lot[i], &raw);
    for (char *at = raw.s; at && *at;) {
        size_t len = strcspn(at, "\n");
        at[len] = '\0';
        cot_put_paragraph(&out, at, 0, 2);
        at += len + 1;
    }
    if (t->lots > 0) cot_buf_str(&out, "\n");
    enum cot_err err = raw.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : cot_print(cli, &out);
    cot_buf_free(&raw);
    cot_buf_free(&out);
    return err;
}

static void put_foot(const struct cot_trace *t)
{
    int64_t handed = 0, back = 0, here = 0;
    bool shared = false;
    for (size_t i = 0; i < t->rows; i++) {
        handed += t->row[i].what == COT_TRACE_HANDED ? t->row[i].plants : 0;
        back += t->row[i].what == COT_TRACE_BACK ? t->row[i].plants : 0;
        here += t->row[i].what == COT_TRACE_STANDS ? t->row[i].plants : 0;
        shared = shared || t->row[i].shared;
    }
    printf("\nHanded over: %" PRId64 " plants; came back: %" PRId64 "; likely still here: %" PRId64 ".\n", handed, back,
           here);
    if (shared) puts("Some stand in trays that other lots share: look at the whole tray.");
    if (t->unknown) puts("Of some batches the lot is not known.");
}

static enum cot_err print(struct cot_cli *cli, const struct cot_trace *t, enum cot_form form)
{
    struct cot_table table;
    enum cot_err err = cot_day_said(cli, t->on, form);
    if (err == COT_OK && form == COT_FORM_TEXT) err = put_head(cli, t);
    if (err != COT_OK) return err;
    cot_table_init(&table, cols, sizeof cols / sizeof cols[0]);
    for (size_t i = 0; i < t->rows; i++) trace_row(&table, &t->row[i]);
    err = cot_keyed_print(cli, &table, form, "Nothing was sown or handed over.");
    cot_table_free(&table);
    if (err == COT_OK && form == COT_FORM_TEXT && t->rows > 0) put_foot(t);
    return err;
}

enum cot_err cot_cmd_trace(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    struct cot_trace t = {0};
    enum cot_form form;
    const struct cot_thing *of;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 1, 1, &args);
    if (err != COT_OK) return err;
    err = cot_form_asked(cli, cot_args_value(&args, opts, "csv"), &form);
    if (err == COT_OK && cli->me.part == COT_PART_BUYER)
        err = cot_fail(
            &cli->fault, COT_NOT_ALLOWED,
            "the batches are the house's: `cotyl handovers` shows what your farm got, and the house can trace it");
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK) err = cot_book_find(cli->book, COT_THING_NONE, args.word[0], &of, &cli->fault);
    if (err == COT_OK) err = cot_trace_read(cli->book, of, on, &t, &cli->fault);
    if (err == COT_OK) err = print(cli, &t, form);
    cot_trace_free(&t);
    cot_args_free(&args);
    return err;
}
