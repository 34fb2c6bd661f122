#include "describe.h"

#include "cotyledger/wire/sheet.h"

#include <string.h>

static const enum cot_kind described[] = {COT_K_FARM, COT_K_CROP,  COT_K_VARIETY, COT_K_FORMAT,  COT_K_PLATE,
                                          COT_K_LOT,  COT_K_PLACE, COT_K_RAISING, COT_K_PLANNED, COT_K_LINE};

/* Fields that people name by another unit, or by another word, than the wire does. */
static const struct {
    enum cot_field field;
    const char *option, *value;
} spoken[] = {
    {COT_F_CELL_UL, "cell-ml", "ML"},
    {COT_F_LENGTH_UM, "length-mm", "MM"},
    {COT_F_WIDTH_UM, "width-mm", "MM"},
    {COT_F_HOLE_UM, "hole-mm", "MM"},
    {COT_F_STOCK_MG, "stock-g", "G"},
    {COT_F_SUBS, "sub", "VARIETY,VARIETY"},
    {COT_F_TEXT, "note", "TEXT"},
    {COT_F_DATE, "on", "DAY"},
    {COT_F_LABEL_GERM, "label-germ", "PERCENT"},
    {COT_F_MIN_GERM, "min-germ", "PERCENT"},
    {COT_F_EMERGENCE, "emergence", "PERCENT"},
    {COT_F_USABLE_SHARE, "usable-share", "PERCENT"},
    {COT_F_TRAY_ROWS, "rows", "N"},
    {COT_F_LINES, "lines", "CODE,CODE"},
    {COT_F_WORK_DAYS, "work-days", "MON-FRI"},
    {COT_F_FROM_WEEK, "from-week", "WEEK"},
    {COT_F_TO_WEEK, "to-week", "WEEK"},
    {COT_F_CONFIDENCE, "confidence", "PERCENT"},
};

const char *cot_describe_word(int argc, char **argv)
{
    return argc > 1 && strncmp(argv[1], "--", 2) != 0 ? argv[1] : NULL;
}

enum cot_err cot_describe_kind(struct cot_cli *cli, const char *word, bool lines, enum cot_kind *kind)
{
    size_t n = sizeof described / sizeof described[0] - !lines;
    for (size_t i = 0; word && i < n; i++) {
        *kind = described[i];
        if (strcmp(cot_kind_row(*kind)->name, word) == 0) return COT_OK;
    }
    if (word) (void)cot_fail(&cli->fault, COT_USAGE, "%s: there is no kind \"%.40s\"", cli->command->name, word);
    else (void)cot_fail(&cli->fault, COT_USAGE, "%s: say first what kind of thing it is", cli->command->name);
    return cot_hint(&cli->fault, "the kinds are farm, crop, variety, format, plate, lot, place, raising, planned%s",
                    lines ? ", line" : "");
}

/* "cell_ul" as an option: "cell-ul", or the spoken word. And the placeholder of its value. */
static const char *option_words(enum cot_field field, char name[static 24])
{
    static const char *const by_type[] = {
        [COT_T_INT] = "N",   [COT_T_BOOL] = "yes|no",   [COT_T_TEXT] = "TEXT",   [COT_T_DAY] = "DAY",
        [COT_T_ID] = "NAME", [COT_T_IDS] = "NAME,NAME", [COT_T_NUMBERS] = "N,N", [COT_T_TRAYS] = "N",
    };
    const struct cot_field_row *row = cot_field_row(field);
    for (size_t i = 0; i < sizeof spoken / sizeof spoken[0]; i++) {
        if (spoken[i].field != field) continue;
        snprintf(name, 24, "%s", spoken[i].option);
        return spoken[i].value;
    }
    snprintf(name, 24, "%s", row->name);
    for (char *p = name; *p; p++)
        if (*p == '_') *p = '-';
    return row->type == COT_T_WORD ? row->unit : by_type[row->type];
}

void cot_describe_options(struct cot_describe *d, enum cot_kind kind, bool change)
{
    const struct cot_kind_row *row = cot_kind_row(kind);
    unsigned n = 0;
    memset(d, 0, sizeof *d);
    d->kind = kind;
    d->word = row->name;
    for (unsigned i = 0; i < row->field_count && n < COT_DESCRIBE_OPTS; i++) {
        enum cot_field field = row->fields[i].field;
        if (field == COT_F_CODE || (field == COT_F_NAME && !change)) continue;
        const char *value = option_words(field, d->name[n]);
        bool flag = cot_field_row(field)->type == COT_T_BOOL && !change;
        d->opt[n] = (struct cot_opt){d->name[n], flag ? NULL : value, (int)field};
        n++;
    }
    d->opt[n] = (struct cot_opt)COT_OPT_END;
}

void cot_describe_field(struct cot_cli *cli, const struct cot_value *v, struct cot_buf *out)
{
    const struct cot_field_row *row = cot_field_row((enum cot_field)v->field);
    bool named = row->type == COT_T_INT && strcmp(row->what, row->unit) == 0; /* "plants 40 plants" says it twice */
    if (!named || v->type == COT_T_NONE) cot_buf_fmt(out, "%.*s ", (int)strcspn(row->what, ";"), row->what);
    if (v->type == COT_T_NONE) cot_buf_str(out, "none");
    else cot_value_text(cli->book, v, out);
}

void cot_describe_fields(struct cot_cli *cli, const struct cot_fact *f, enum cot_field skip, struct cot_buf *out)
{
    bool first = true;
    for (unsigned i = 0; i < f->value_count; i++) {
        if (f->value[i].field == skip) continue;
        if (!first) cot_buf_str(out, ", ");
        cot_describe_field(cli, &f->value[i], out);
        first = false;
    }
}
