/* Places, raising days, closings and stock. */
#include "cotyledger/core/place.h"

#include <stdlib.h>
#include <string.h>

#include "asked.h"
#include "cotyledger/core/stock.h"
#include "cotyledger/wire/sheet.h"
#include "lists.h"
#include "work.h"

/* --- Places ------------------------------------------------------------------------------------------------------- */

static const struct cot_col place_cols[] = {
    {"", "Place", false, false}, {"", "Sort", false, false},   {"", "Holds", true, false},
    {"", "Group", false, false}, {"", "In use", false, false},
};

/* "out of use until 2027-03-12", "from 2027-01-04", "until 2027-06-30", "yes". */
static void put_use(struct cot_table *t, const struct cot_days *days, const struct cot_thing *place, int32_t on)
{
    char from[COT_DAY_TEXT], until[COT_DAY_TEXT];
    int32_t first = (int32_t)cot_thing_int(place, COT_F_FROM, COT_DAY_NONE);
    int32_t last = (int32_t)cot_thing_int(place, COT_F_UNTIL, COT_DAY_NONE);
    const struct cot_closing *shut = cot_closed_by(days, place, on);
    if (first != COT_DAY_NONE) cot_day_text(first, from);
    if (shut || last != COT_DAY_NONE) cot_day_text(shut ? shut->until : last, until);
    if (shut) cot_table_fmt(t, "out of use until %s", until);
    else if (last != COT_DAY_NONE && last < on) cot_table_fmt(t, "no more since %s", until);
    else if (first != COT_DAY_NONE && first > on) cot_table_fmt(t, "from %s", from);
    else if (last != COT_DAY_NONE) cot_table_fmt(t, "until %s", until);
    else cot_table_text(t, "yes");
}

static void place_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    struct cot_days days;
    cot_table_text(t, cot_thing_name(thing));
    cot_table_field(cli, t, thing, COT_F_SORT);
    cot_table_field(cli, t, thing, COT_F_SPOTS);
    cot_table_field(cli, t, thing, COT_F_GROUP);
    if (cot_days_read(cli->book, &days) == COT_OK) put_use(t, &days, thing, on);
    else t->failed = true;
    cot_days_free(&days);
}

const struct cot_view cot_place_view = {COT_THING_PLACE, place_cols, sizeof place_cols / sizeof place_cols[0],
                                        place_row};

/* --- Raising days ------------------------------------------------------------------------------------------------- */

static const struct cot_col raising_cols[] = {
    {"", "Raising days", false, false}, {"", "Crop", false, false}, {"", "Format", false, false},
    {"", "Weeks", false, false},        {"", "Days", true, false},  {"", "Potted on", false, false},
};

static void raising_row(struct cot_cli *cli, struct cot_table *t, const struct cot_thing *thing, int32_t on)
{
    (void)on;
    int64_t pot = cot_thing_int(thing, COT_F_POT_DAYS, -1);
    cot_table_text(t, cot_thing_name(thing));
    cot_table_field(cli, t, thing, COT_F_CROP);
    if (cot_thing_value(thing, COT_F_FORMAT)) cot_table_field(cli, t, thing, COT_F_FORMAT);
    else cot_table_text(t, "any");
    if (cot_thing_value(thing, COT_F_FROM_WEEK)) cot_table_range(t, thing, COT_F_FROM_WEEK, COT_F_TO_WEEK);
    else cot_table_text(t, "all year");
    cot_table_range(t, thing, COT_F_TRAY_DAYS, COT_F_TRAY_DAYS_MAX);
    if (pot >= 0) cot_table_fmt(t, "%s, day %lld", cot_name_of(cli, thing, COT_F_POT_FORMAT), (long long)pot);
    else cot_table_text(t, NULL);
}

const struct cot_view cot_raising_view = {COT_THING_RAISING, raising_cols, sizeof raising_cols / sizeof raising_cols[0],
                                          raising_row};

/* --- Closings ----------------------------------------------------------------------------------------------------- */

static const struct cot_col shut_cols[] = {
    {"from", "From", false, false}, {"until", "Until", false, false}, {"", "What", false, false},
    {"place", NULL, false, false},  {"digest", NULL, false, false},   {"why", "Why", false, false},
};

static void shut_row(struct cot_table *t, const struct cot_closing *c, int32_t on)
{
    char digest[COT_ID_TEXT];
    const char *place = c->place ? cot_thing_name(c->place) : NULL;
    cot_id_text(&c->entry, digest);
    cot_table_day(t, c->from);
    cot_table_day(t, c->until);
    cot_table_fmt(t, "%s%s", place ? place : "the house", c->until < on ? " (over)" : "");
    cot_table_text(t, place);
    cot_table_text(t, digest);
    cot_table_text(t, c->why[0] ? c->why : NULL);
}

enum cot_err cot_shut_print(struct cot_cli *cli, int32_t on, enum cot_form form)
{
    struct cot_table t;
    struct cot_days days;
    enum cot_err err = cot_days_read(cli->book, &days);
    cot_table_init(&t, shut_cols, sizeof shut_cols / sizeof shut_cols[0]);
    for (size_t i = 0; i < days.closings; i++) shut_row(&t, &days.closing[i], on);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "out of memory");
    else err = cot_day_said(cli, on, form);
    if (err == COT_OK)
        err = cot_keyed_print(cli, &t, form, "The house is closed on no day, and no place is out of use.");
    cot_table_free(&t);
    cot_days_free(&days);
    return err;
}

/* --- Stock -------------------------------------------------------------------------------------------------------- */

static const struct cot_col stock_cols[] = {
    {"what", NULL, false, false},     {"format", NULL, false, false},  {"", "On hand", false, false},
    {"amount", NULL, true, false},    {"", "Amount", true, false},     {"unit", NULL, false, false},
    {"day", "Counted", false, false}, {"age_days", NULL, true, false}, {"", "Ago", false, false},
};

/* The amount alone, mix in the house's own unit. */
static void put_amount(struct cot_cli *cli, struct cot_table *t, const struct cot_stock *s)
{
    struct cot_buf b = {0};
    if (s->what == COT_STOCK_MIX) cot_measure_text(cli->book, COT_F_MIX_L, s->amount, &b);
    else cot_buf_fmt(&b, "%lld", (long long)s->amount);
    if (b.failed) t->failed = true;
    cot_table_text(t, b.s);
    cot_buf_free(&b);
}

static void stock_row(struct cot_cli *cli, struct cot_table *t, const struct cot_stock *s, int32_t on)
{
    static const char *const words[] = {
        [COT_STOCK_MIX] = "mix", [COT_STOCK_LABELS] = "labels", [COT_STOCK_TRAYS] = "trays"};
    static const char *const names[] = {
        [COT_STOCK_MIX] = "growing mix", [COT_STOCK_LABELS] = "labels", [COT_STOCK_TRAYS] = "trays"};
    char ago[COT_SOME_TEXT];
    const char *format = s->format ? cot_thing_name(s->format) : NULL;
    cot_table_text(t, words[s->what]);
    cot_table_text(t, format);
    cot_table_fmt(t, "%s%s%s", names[s->what], format ? " of " : "", format ? format : "");
    cot_table_int(t, s->amount);
    put_amount(cli, t, s);
    cot_table_text(t, cot_stock_unit(s->what));
    cot_table_day(t, s->day);
    cot_table_int(t, on - s->day);
    cot_table_text(t, on == s->day ? "today" : cot_some(on - s->day, "day", ago));
}

enum cot_err cot_stock_print(struct cot_cli *cli, int32_t on, enum cot_form form)
{
    size_t n;
    struct cot_table t;
    struct cot_stock *list;
    enum cot_err err = cot_stock_read(cli->book, on, &list, &n);
    cot_table_init(&t, stock_cols, sizeof stock_cols / sizeof stock_cols[0]);
    for (size_t i = 0; i < n; i++) stock_row(cli, &t, &list[i], on);
    if (err != COT_OK) (void)cot_fail(&cli->fault, err, "out of memory");
    else err = cot_day_said(cli, on, form);
    if (err == COT_OK)
        err = cot_keyed_print(cli, &t, form, "Nothing was counted yet: `cotyl stock` records what is on hand.");
    cot_table_free(&t);
    free(list);
    return err;
}
