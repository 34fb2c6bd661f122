/* The list on the wall: a row a job. */
#include "today.h"

#include <inttypes.h>
#include <string.h>

#include "cotyledger/core/sow.h"
#include "lists.h"
#include "work.h"

#define HEAVY_TRAYS 20

static const struct {
    const char *word, *shown;
} sorts[] = {
    [COT_TODAY_TRAYS] = {"fill", "fill"},      [COT_TODAY_SOW] = {"sow", "sow"},
    [COT_TODAY_UP] = {"move_out", "move out"}, [COT_TODAY_COUNT] = {"count", "count"},
    [COT_TODAY_PATCH] = {"patch", "patch"},    [COT_TODAY_THIN] = {"thin", "thin"},
    [COT_TODAY_POT_ON] = {"pot_on", "pot on"}, [COT_TODAY_HARDEN] = {"harden", "harden off"},
    [COT_TODAY_PULL] = {"pull", "pull"},
};

const char *cot_today_word(enum cot_today_sort sort)
{
    return sorts[sort].word;
}

/* --- The mark ----------------------------------------------------------------------------------------------------- */

/* FNV-1a (Fowler, Noll and Vo), 64 bits. */
static uint64_t mix(uint64_t h, const void *bytes, size_t len)
{
    const unsigned char *p = bytes;
    for (size_t i = 0; i < len; i++) h = (h ^ p[i]) * UINT64_C(0x100000001b3);
    return h;
}

static uint64_t mix_thing(uint64_t h, const struct cot_thing *t)
{
    return t ? mix(h, &t->id, sizeof t->id) : h;
}

void cot_today_mark(const struct cot_today_job *j, char out[static COT_TODAY_MARK])
{
    static const char letters[] = "BCDFGHJKLMNPQRSTVWXZ"; /* no vowels: no words */
    const unsigned char sort = (unsigned char)j->sort;
    uint64_t h = mix(UINT64_C(0xcbf29ce484222325), &sort, 1);
    h = mix_thing(mix_thing(mix_thing(h, j->planned), j->batch), j->line);
    for (int i = 0; i < COT_TODAY_MARK - 1; i++) {
        out[i] = letters[h % 20];
        h /= 20;
    }
    out[j->sort == COT_TODAY_TRAYS ? 0 : COT_TODAY_MARK - 1] = '\0';
}

/* --- A row -------------------------------------------------------------------------------------------------------- */

static const struct cot_col cols[] = {
    {"mark", "", false, false},     {"", "Job", false, false},        {"job", NULL, false, false},
    {"due", NULL, false, false},    {"late_days", NULL, true, false}, {"", "Amount", true, false},
    {"", "What", false, false},     {"code", "Tag", false, false},    {"line", NULL, false, false},
    {"farm", NULL, false, false},   {"variety", NULL, false, false},  {"lot", NULL, false, false},
    {"format", NULL, false, false}, {"plate", NULL, false, false},    {"trays", NULL, true, false},
    {"rows", NULL, true, false},    {"plants", NULL, true, false},    {"per_cell", NULL, true, false},
    {"which", NULL, false, false},  {"bench", "Bench", false, false}, {"treated", NULL, false, true},
};

static const char *name_or_null(const struct cot_thing *t)
{
    return t ? cot_thing_name(t) : NULL;
}

static void put_count_or_null(struct cot_table *t, int64_t n)
{
    if (n > 0) cot_table_int(t, n);
    else cot_table_text(t, NULL);
}

static void put_amount(struct cot_table *t, const struct cot_today_job *j)
{
    const char *format = j->format ? cot_thing_name(j->format) : "?";
    if (j->sort == COT_TODAY_PATCH) cot_table_fmt(t, "%" PRId64 " plants", j->plants);
    else if (j->sort == COT_TODAY_THIN) cot_table_fmt(t, "%" PRId64 " cells", j->plants);
    else if (j->sort == COT_TODAY_COUNT && j->rows == 0)
        cot_table_fmt(t, "%" PRId64 " tray%s", j->trays, j->trays == 1 ? "" : "s");
    else if (j->rows > 0) cot_table_fmt(t, "%" PRId64 " row%s of %s", j->rows, j->rows == 1 ? "" : "s", format);
    else if (j->trays > 0) cot_table_fmt(t, "%" PRId64 " x %s", j->trays, format);
    else cot_table_text(t, format);
}

static void which_text(const struct cot_today_job *j, char *out, size_t size)
{
    size_t at = 0;
    out[0] = '\0';
    for (int32_t i = 0; i < j->which_count && at < size; i++)
        at += (size_t)snprintf(out + at, size - at, "%s%d", i ? "," : "", (int)j->which[i]);
}

static void put_what(struct cot_table *t, const struct cot_today_job *j)
{
    const char *variety = j->variety ? cot_thing_name(j->variety) : "";
    const char *lot = j->lot ? cot_thing_name(j->lot) : "";
    char which[COT_TODAY_WHICH * 8];
    which_text(j, which, sizeof which);
    switch (j->sort) {
    case COT_TODAY_TRAYS:
        cot_table_text(t, "with mix, pressed");
        break;
    case COT_TODAY_SOW:
        if (cot_lot_of_plugs(j->lot)) cot_table_fmt(t, "plugs of %s, %s", variety, lot);
        else if (j->per_cell > 1) cot_table_fmt(t, "%s, %s, %" PRId64 " seeds a cell", variety, lot, j->per_cell);
        else cot_table_fmt(t, "%s, %s", variety, lot);
        break;
    case COT_TODAY_COUNT:
        if (j->which_count == 0) cot_table_fmt(t, "all of them: %s", variety);
        else
            cot_table_fmt(t, "%stray%s %s: %s", j->again ? "more, " : "", j->which_count == 1 ? "" : "s", which,
                          variety);
        break;
    case COT_TODAY_PULL:
        cot_table_fmt(t, "%s, %" PRId64 " %s", cot_thing_name(j->farm), j->plants, variety);
        break;
    case COT_TODAY_POT_ON:
        cot_table_fmt(t, "%s, %" PRId64 " plants", variety, j->plants);
        break;
    case COT_TODAY_UP:
    case COT_TODAY_PATCH:
    case COT_TODAY_THIN:
    case COT_TODAY_HARDEN:
        cot_table_text(t, variety);
        break;
    }
}

static void job_row(struct cot_table *t, const struct cot_today_job *j)
{
    char mark[COT_TODAY_MARK], which[COT_TODAY_WHICH * 8], due[COT_DAY_TEXT];
    cot_today_mark(j, mark);
    which_text(j, which, sizeof which);
    cot_day_text(j->day, due);
    cot_table_text(t, mark[0] ? mark : NULL);
    if (j->late > 0) cot_table_fmt(t, "%s (%s)", sorts[j->sort].shown, due + 5);
    else cot_table_text(t, sorts[j->sort].shown);
    cot_table_text(t, sorts[j->sort].word);
    cot_table_day(t, j->day);
    cot_table_int(t, j->late);
    put_amount(t, j);
    put_what(t, j);
    cot_table_text(t, j->planned ? cot_thing_name(j->planned) : name_or_null(j->batch));
    cot_table_text(t, name_or_null(j->line));
    cot_table_text(t, name_or_null(j->farm));
    cot_table_text(t, name_or_null(j->variety));
    cot_table_text(t, name_or_null(j->lot));
    cot_table_text(t, name_or_null(j->format));
    cot_table_text(t, name_or_null(j->plate));
    put_count_or_null(t, j->trays);
    put_count_or_null(t, j->rows);
    put_count_or_null(t, j->plants);
    put_count_or_null(t, j->per_cell);
    cot_table_text(t, which[0] ? which : NULL);
    cot_table_text(t, j->bench[0] ? j->bench : NULL);
    cot_table_yes(t, j->treated);
}

/* A plate that is put on stands above the sowings by it. */
static void plate_row(struct cot_table *t, const struct cot_thing *plate)
{
    for (size_t c = 0; c < sizeof cols / sizeof cols[0]; c++) {
        if (cols[c].heading && strcmp(cols[c].heading, "Job") == 0) cot_table_text(t, plate ? "put on" : "by hand");
        else if (cols[c].heading && strcmp(cols[c].heading, "What") == 0 && plate)
            cot_table_fmt(t, "plate %s", cot_thing_name(plate));
        else cot_table_text(t, NULL);
    }
}

/* --- The list ----------------------------------------------------------------------------------------------------- */

static int32_t listed_on(const struct cot_today *t, const struct cot_today_job *j)
{
    return j->day < t->from ? t->from : j->day;
}

static void put_day(struct cot_buf *out, int32_t day)
{
    static const char *const names[] = {"",         "Monday", "Tuesday",  "Wednesday",
                                        "Thursday", "Friday", "Saturday", "Sunday"};
    char date[COT_DATE_TEXT];
    int year, week, weekday;
    cot_week_of(day, &year, &week, &weekday);
    cot_buf_fmt(out, "%s, %s\n", names[weekday], cot_date(day, date));
}

/* The first job after i that is listed on another day. */
static size_t day_end(const struct cot_today *t, size_t i)
{
    int32_t day = listed_on(t, &t->job[i]);
    while (i < t->jobs && listed_on(t, &t->job[i]) == day) i++;
    return i;
}

/* Jobs from .. to - 1, the late ones or the others; for eyes the plates between them. */
static void put_jobs(const struct cot_today *t, size_t from, size_t to, bool late, struct cot_table *table)
{
    const struct cot_thing *plate = NULL;
    bool any = false;
    for (size_t i = from; i < to; i++) {
        const struct cot_today_job *j = &t->job[i];
        if ((j->late > 0) != late) continue;
        if (j->sort == COT_TODAY_SOW && (!any || j->plate != plate)) plate_row(table, j->plate);
        if (j->sort == COT_TODAY_SOW) {
            plate = j->plate;
            any = true;
        }
        job_row(table, j);
    }
}

static enum cot_err put_table(const struct cot_today *t, size_t from, size_t to, bool late, struct cot_buf *out)
{
    struct cot_table table;
    enum cot_err err = COT_OK;
    cot_table_init(&table, cols, sizeof cols / sizeof cols[0]);
    put_jobs(t, from, to, late, &table);
    if (cot_table_rows(&table) > 0) {
        cot_buf_str(out, late ? "\nLate, since the day named:\n\n" : "\n");
        err = cot_table_put(&table, COT_FORM_TEXT, "", out);
    }
    cot_table_free(&table);
    return err;
}

/* Trays that go through hands on the day of job i, whatever is done with them. */
static int64_t trays_of_day(const struct cot_today *t, size_t i)
{
    int64_t trays = 0;
    for (size_t k = 0; k < t->jobs; k++)
        if (listed_on(t, &t->job[k]) == listed_on(t, &t->job[i]) && t->job[k].sort != COT_TODAY_COUNT &&
            t->job[k].sort != COT_TODAY_PATCH && t->job[k].sort != COT_TODAY_THIN)
            trays += t->job[k].trays;
    return trays;
}

static void put_cautions(const struct cot_today *t, struct cot_buf *out)
{
    bool mix_work = false, treated = false, heavy = false;
    for (size_t i = 0; i < t->jobs; i++) {
        const struct cot_today_job *j = &t->job[i];
        mix_work = mix_work || j->sort == COT_TODAY_TRAYS || j->sort == COT_TODAY_POT_ON;
        treated = treated || j->treated;
        heavy = heavy || trays_of_day(t, i) >= HEAVY_TRAYS;
    }
    if (mix_work || treated || heavy) cot_buf_str(out, "\n");
    if (mix_work) cot_put_paragraph(out, "Caution: " COT_CAUTION_MIX ".", 0, 2);
    if (treated) cot_put_paragraph(out, "Caution: " COT_CAUTION_TREATED ".", 0, 2);
    if (heavy) cot_put_paragraph(out, "Caution: " COT_CAUTION_LIFT ".", 0, 2);
    if (heavy) cot_put_paragraph(out, "Caution: " COT_CAUTION_HEAT ".", 0, 2);
}

static enum cot_err put_text(const struct cot_today *t, struct cot_buf *out)
{
    enum cot_err err = COT_OK;
    if (t->jobs == 0) {
        put_day(out, t->from);
        cot_buf_str(out, "\nNothing is to be done.\n");
    }
    for (size_t i = 0, end; i < t->jobs && err == COT_OK; i = end) {
        if (i > 0) cot_buf_str(out, "\n");
        end = day_end(t, i);
        put_day(out, listed_on(t, &t->job[i]));
        err = put_table(t, i, end, true, out);
        if (err == COT_OK) err = put_table(t, i, end, false, out);
    }
    put_cautions(t, out);
    return err;
}

enum cot_err cot_today_print(struct cot_cli *cli, const struct cot_today *t, enum cot_form form)
{
    struct cot_buf out = {0};
    struct cot_table table;
    enum cot_err err = COT_OK;
    if (form != COT_FORM_TEXT) {
        cot_table_init(&table, cols, sizeof cols / sizeof cols[0]);
        for (size_t i = 0; i < t->jobs; i++) job_row(&table, &t->job[i]);
        err = cot_keyed_print(cli, &table, form, "");
        cot_table_free(&table);
        return err;
    }
    err = put_text(t, &out);
    if (err == COT_OK) err = cot_print(cli, &out);
    else (void)cot_fail(&cli->fault, err, "out of memory");
    cot_buf_free(&out);
    return err;
}

/* The row's words, its late day and its amount, without the columns that stand empty. */
enum cot_err cot_today_ask(struct cot_cli *cli, const struct cot_today_job *j)
{
    struct cot_table table;
    struct cot_buf out = {0};
    cot_table_init(&table, cols, sizeof cols / sizeof cols[0]);
    job_row(&table, j);
    for (size_t c = 0; !table.failed && c < table.count; c++) {
        const char *cell = cols[c].heading ? table.cell[c] : NULL;
        if (cell) cot_put_terminal(&out, cell, strlen(cell));
        if (cell) cot_buf_str(&out, "  ");
    }
    cot_buf_str(&out, "done? y, n, q: ");
    out.failed = out.failed || table.failed;
    cot_table_free(&table);
    enum cot_err err = cot_print(cli, &out);
    cot_buf_free(&out);
    if (fflush(stdout) != 0) err = COT_IO;
    return err;
}
