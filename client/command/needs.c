/* needs, shopping: what the planned sowings take, and what is to be bought by when. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "cotyledger/core/need.h"
#include "cotyledger/core/remedy.h"
#include "cotyledger/core/stock.h"
#include "cotyledger/wire/sheet.h"
#include "show/asked.h"
#include "show/lists.h"
#include "show/table.h"
#include "work.h"

const char cot_help_needs[] = "Says what the planned sowings to come take, week by week: trays, seed, growing\n"
                              "mix, labels and hours; then each lot of seed or plugs, the mix, the labels and\n"
                              "the trays against what is on hand (`cotyl stock`, `cotyl change lot`).\n"
                              "\n"
                              "Mix is the cells' volume and a fifth more, for what is pressed together and\n"
                              "spilt; hours go by `cotyl rule`, or are assumed. Seed is enough for the\n"
                              "house's confidence.\n"
                              "\n"
                              "  --on DAY       from this day (default: today)\n"
                              "  --until DAY    to this day (default: as far as is planned)\n"
                              "  --weeks        the weeks alone, with --csv or --json\n"
                              "  --csv, --json  for spreadsheets and programs; see docs/reports.md\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl needs\n"
                              "  cotyl needs --until 2027-03-31\n";

const char cot_help_shopping[] = "Lists what has to be bought for the planned sowings, by the last day on which it\n"
                                 "can be ordered: what is needed beyond what is on hand, less the days that a\n"
                                 "delivery takes. What nobody has counted is listed with all that is needed.\n"
                                 "\n"
                                 "  --delivery N   days from order to delivery (default: the rule; else 14)\n"
                                 "  --on DAY       from this day (default: today)\n"
                                 "  --until DAY    to this day (default: as far as is planned)\n"
                                 "  --csv, --json  for spreadsheets and programs; see docs/reports.md\n"
                                 "\n"
                                 "Examples:\n"
                                 "  cotyl shopping\n"
                                 "  cotyl shopping --delivery 21 --csv >shopping.csv\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1},   {"until", "DAY", -1},
                                      {"weeks", NULL, -1}, {"delivery", "N", COT_F_DELIVERY_DAYS},
                                      {"csv", NULL, -1},   COT_OPT_END};

/* --- Words -------------------------------------------------------------------------------------------------------- */

static const char *const words[] = {[COT_NEED_SEED] = "seed",
                                    [COT_NEED_PLUGS] = "plugs",
                                    [COT_NEED_MIX] = "mix",
                                    [COT_NEED_LABELS] = "labels",
                                    [COT_NEED_TRAYS] = "trays"};
static const char *const units[] = {[COT_NEED_SEED] = "seeds",
                                    [COT_NEED_PLUGS] = "plugs",
                                    [COT_NEED_MIX] = "L",
                                    [COT_NEED_LABELS] = "labels",
                                    [COT_NEED_TRAYS] = "trays"};

/* In the unit of people: litres of mix, rounded up. */
static int64_t in_unit(enum cot_need_what what, int64_t amount)
{
    return what == COT_NEED_MIX && amount > 0 ? (amount + 999999) / 1000000 : amount;
}

static void put_litres(struct cot_cli *cli, struct cot_table *t, int64_t ul)
{
    struct cot_buf b = {0};
    cot_measure_text(cli->book, COT_F_MIX_L, in_unit(COT_NEED_MIX, ul), &b);
    if (b.failed) t->failed = true;
    cot_table_text(t, b.s);
    cot_buf_free(&b);
}

static void put_item(struct cot_cli *cli, struct cot_table *t, const struct cot_need_item *i, int64_t amount)
{
    if (amount < 0) cot_table_text(t, "not counted");
    else if (i->what == COT_NEED_MIX) put_litres(cli, t, amount);
    else cot_table_fmt(t, "%" PRId64 " %s", amount, units[i->what]);
}

static void put_name(struct cot_table *t, const struct cot_need_item *i)
{
    if (i->what == COT_NEED_SEED || i->what == COT_NEED_PLUGS)
        cot_table_fmt(t, "%s, %s", i->variety ? cot_thing_name(i->variety) : "?", cot_thing_name(i->lot));
    else if (i->what == COT_NEED_TRAYS) cot_table_fmt(t, "trays of %s", cot_thing_name(i->format));
    else cot_table_text(t, i->what == COT_NEED_MIX ? "growing mix" : "labels");
}

static void put_weight(struct cot_cli *cli, struct cot_table *t, int64_t mg)
{
    struct cot_buf b = {0};
    if (mg > 0) cot_measure_text(cli->book, COT_F_STOCK_MG, (mg + 99) / 100 * 100, &b);
    if (b.failed) t->failed = true;
    cot_table_text(t, b.s);
    cot_buf_free(&b);
}

/* --- Weeks -------------------------------------------------------------------------------------------------------- */

static const struct cot_col week_cols[] = {
    {"week", "Week", false, false},  {"from", "From", false, false},    {"sowings", "Sowings", true, false},
    {"trays", "Trays", true, false}, {"seeds", "Seeds", true, false},   {"mix_l", NULL, true, false},
    {"", "Mix", true, false},        {"labels", "Labels", true, false}, {"minutes", NULL, true, false},
    {"", "Work", true, false},
};

static enum cot_err print_weeks(struct cot_cli *cli, const struct cot_needs *n, enum cot_form form)
{
    struct cot_table t;
    cot_table_init(&t, week_cols, sizeof week_cols / sizeof week_cols[0]);
    for (size_t i = 0; i < n->weeks; i++) {
        const struct cot_need_week *w = &n->week[i];
        char week[COT_WEEK_TEXT];
        cot_week_text(w->monday, week);
        cot_table_text(&t, week);
        cot_table_day(&t, w->monday);
        cot_table_int(&t, w->sowings);
        cot_table_int(&t, w->trays);
        cot_table_int(&t, w->seeds);
        cot_table_int(&t, in_unit(COT_NEED_MIX, w->mix_ul));
        put_litres(cli, &t, w->mix_ul);
        cot_table_int(&t, w->labels);
        cot_table_int(&t, w->minutes);
        cot_table_fmt(&t, "%" PRId64 " h", (w->minutes + 30) / 60);
    }
    enum cot_err err = cot_keyed_print(cli, &t, form, "No sowing is planned: `cotyl plan` plans them.");
    cot_table_free(&t);
    return err;
}

/* --- Items -------------------------------------------------------------------------------------------------------- */

static const struct cot_col item_cols[] = {
    {"what", NULL, false, false},    {"lot", NULL, false, false},
    {"variety", NULL, false, false}, {"format", NULL, false, false},
    {"", "What", false, false},      {"", "Needed", true, false},
    {"need", NULL, true, false},     {"unit", NULL, false, false},
    {"", "Weight", true, false},     {"mg", NULL, true, false},
    {"", "On hand", true, false},    {"on_hand", NULL, true, false},
    {"first", NULL, false, false},   {"short_on", "Short from", false, false},
    {"retest", NULL, false, true},
};

static void item_row(struct cot_cli *cli, struct cot_table *t, const struct cot_need_item *i)
{
    cot_table_text(t, words[i->what]);
    cot_table_text(t, i->lot ? cot_thing_name(i->lot) : NULL);
    cot_table_text(t, i->variety ? cot_thing_name(i->variety) : NULL);
    cot_table_text(t, i->format ? cot_thing_name(i->format) : NULL);
    put_name(t, i);
    put_item(cli, t, i, i->need);
    cot_table_int(t, in_unit(i->what, i->need));
    cot_table_text(t, units[i->what]);
    put_weight(cli, t, i->mg);
    if (i->mg > 0) cot_table_int(t, i->mg);
    else cot_table_text(t, NULL);
    put_item(cli, t, i, i->on_hand);
    if (i->on_hand >= 0) cot_table_int(t, in_unit(i->what, i->on_hand));
    else cot_table_text(t, NULL);
    cot_table_day(t, i->first);
    cot_table_day(t, i->short_on);
    cot_table_yes(t, i->retest);
}

static enum cot_err print_items(struct cot_cli *cli, const struct cot_needs *n, enum cot_form form)
{
    struct cot_table t;
    cot_table_init(&t, item_cols, sizeof item_cols / sizeof item_cols[0]);
    for (size_t i = 0; i < n->items; i++) item_row(cli, &t, &n->item[i]);
    enum cot_err err = cot_keyed_print(cli, &t, form, "Nothing is needed.");
    cot_table_free(&t);
    return err;
}

static void put_assumed(const struct cot_needs *n)
{
    printf("\nAssumed: %d %% more mix than the cells hold%s.\n", COT_NEED_MIX_MORE,
           n->minutes_said ? "" : "; the minutes");
    printf("Work: %lld minutes a sowing and %lld a tray.\n", (long long)n->sowing_minutes, (long long)n->tray_minutes);
    if (n->any_mix_unknown)
        puts("The cells of some trays have no volume: their mix is missing. `cotyl change format`.");
    for (size_t i = 0; i < n->items; i++)
        if (n->item[i].retest)
            printf("Lot %s: its germination test is old; test it again.\n", cot_thing_name(n->item[i].lot));
}

/* --- Shopping ----------------------------------------------------------------------------------------------------- */

static const struct cot_col shopping_cols[] = {
    {"order_by", "Order by", false, false},
    {"what", NULL, false, false},
    {"lot", NULL, false, false},
    {"variety", NULL, false, false},
    {"format", NULL, false, false},
    {"", "What", false, false},
    {"", "To buy", true, false},
    {"amount", NULL, true, false},
    {"unit", NULL, false, false},
    {"needed_on", "Needed on", false, false},
    {"late", NULL, false, true},
    {"mg", NULL, true, false},
    {"bags", NULL, true, false},
    {"supplier", NULL, false, false},
    {"", "", false, false},
};

static bool to_buy(const struct cot_need_item *i)
{
    return i->on_hand < 0 || i->need > i->on_hand;
}

static int32_t needed_on(const struct cot_need_item *i)
{
    return i->short_on != COT_DAY_NONE ? i->short_on : i->first;
}

static int by_need(const void *x, const void *y)
{
    const struct cot_need_item *a = x, *b = y;
    if (needed_on(a) != needed_on(b)) return needed_on(a) < needed_on(b) ? -1 : 1;
    return a->what != b->what ? (a->what < b->what ? -1 : 1)
                              : strcmp(a->lot ? cot_thing_name(a->lot) : "", b->lot ? cot_thing_name(b->lot) : "");
}

/* Weight of so many of the seeds, in proportion; 0: not known. */
static int64_t weight_of(const struct cot_need_item *i, int64_t seeds)
{
    return i->seeds_per_g > 0 ? (seeds * 1000 + i->seeds_per_g - 1) / i->seeds_per_g : 0;
}

/* "too late to order; from Ferry Lane; 1.9 g; 12 bags of 70 L". */
static void put_words(struct cot_cli *cli, struct cot_table *t, const struct cot_need_item *i, int64_t mg, int64_t bags,
                      bool late)
{
    struct cot_buf b = {0};
    const char *supplier = i->lot ? cot_thing_text(i->lot, COT_F_SUPPLIER) : "";
    if (late) cot_buf_str(&b, "too late to order");
    else if (i->on_hand < 0) cot_buf_str(&b, "not counted");
    if (supplier[0]) cot_buf_fmt(&b, "%sfrom %s", b.len ? "; " : "", supplier);
    if (mg > 0) cot_buf_str(&b, b.len ? "; " : "");
    if (mg > 0) cot_measure_text(cli->book, COT_F_STOCK_MG, (mg + 99) / 100 * 100, &b);
    if (bags > 0) cot_buf_fmt(&b, "%s%lld bag%s", b.len ? "; " : "", (long long)bags, bags == 1 ? "" : "s");
    if (b.failed) t->failed = true;
    cot_table_text(t, b.len ? b.s : NULL);
    cot_buf_free(&b);
}

static void shopping_row(struct cot_cli *cli, struct cot_table *t, const struct cot_need_item *i, int32_t by,
                         int32_t on)
{
    int64_t amount = i->on_hand < 0 ? i->need : i->need - i->on_hand, mg = weight_of(i, amount);
    int64_t bag = cot_thing_int(cot_book_house(cli->book), COT_F_BAG_L, 0);
    int64_t bags = i->what == COT_NEED_MIX && bag > 0 ? (in_unit(i->what, amount) + bag - 1) / bag : 0;
    cot_table_day(t, by);
    cot_table_text(t, words[i->what]);
    cot_table_text(t, i->lot ? cot_thing_name(i->lot) : NULL);
    cot_table_text(t, i->variety ? cot_thing_name(i->variety) : NULL);
    cot_table_text(t, i->format ? cot_thing_name(i->format) : NULL);
    put_name(t, i);
    put_item(cli, t, i, amount);
    cot_table_int(t, in_unit(i->what, amount));
    cot_table_text(t, units[i->what]);
    cot_table_day(t, needed_on(i));
    cot_table_yes(t, by < on);
    if (mg > 0) cot_table_int(t, mg);
    else cot_table_text(t, NULL);
    if (bags > 0) cot_table_int(t, bags);
    else cot_table_text(t, NULL);
    cot_table_text(t,
                   i->lot && cot_thing_text(i->lot, COT_F_SUPPLIER)[0] ? cot_thing_text(i->lot, COT_F_SUPPLIER) : NULL);
    put_words(cli, t, i, mg, bags, by < on);
}

/* Below the list: what goes with it. */
static void put_under(struct cot_cli *cli, const struct cot_needs *n, int32_t delivery, bool assumed, size_t rows)
{
    int64_t bag = cot_thing_int(cot_book_house(cli->book), COT_F_BAG_L, 0);
    char some[COT_SOME_TEXT];
    if (rows > 0)
        printf("\nDelivery takes %s%s.\n", cot_some(delivery, "day", some),
               assumed ? " (assumed; `cotyl rule --delivery-days N` says otherwise)" : "");
    if (rows > 0 && bag == 0) puts("Bags of mix: `cotyl rule --bag-l N` says how much is in one.");
    for (size_t i = 0; i < n->items; i++) {
        char date[COT_DATE_TEXT];
        if (!n->item[i].retest) continue;
        printf("Test lot %s again before %s: its germination test is old.\n", cot_thing_name(n->item[i].lot),
               cot_date(n->item[i].first, date));
    }
    puts("Seed that no lot has is named by `cotyl plan`.");
}

static enum cot_err print_shopping(struct cot_cli *cli, struct cot_needs *n, int32_t delivery, bool assumed,
                                   enum cot_form form)
{
    struct cot_table t;
    if (n->items > 1) qsort(n->item, n->items, sizeof *n->item, by_need);
    cot_table_init(&t, shopping_cols, sizeof shopping_cols / sizeof shopping_cols[0]);
    for (size_t i = 0; i < n->items; i++)
        if (to_buy(&n->item[i])) shopping_row(cli, &t, &n->item[i], needed_on(&n->item[i]) - delivery, n->from);
    enum cot_err err = cot_keyed_print(cli, &t, form, "Everything that is planned is on hand.");
    if (err == COT_OK && form == COT_FORM_TEXT) put_under(cli, n, delivery, assumed, cot_table_rows(&t));
    cot_table_free(&t);
    return err;
}

/* --- The commands ------------------------------------------------------------------------------------------------- */

struct asked {
    struct cot_args args;
    enum cot_form form;
    int32_t on, until, delivery;
    bool assumed; /* the delivery */
};

static enum cot_err read_asked(struct cot_cli *cli, int argc, char **argv, struct asked *a)
{
    struct cot_fact f = {.kind = COT_K_RULE};
    const struct cot_thing *house = cot_book_house(cli->book);
    *a = (struct asked){.delivery = COT_NEED_DELIVERY, .until = COT_DAY_MAX, .assumed = true};
    if (house && cot_thing_value(house, COT_F_DELIVERY_DAYS)) {
        a->delivery = (int32_t)cot_thing_int(house, COT_F_DELIVERY_DAYS, COT_NEED_DELIVERY);
        a->assumed = false;
    }
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 0, &a->args);
    if (err != COT_OK) return err;
    const char *delivery = cot_args_value(&a->args, opts, "delivery");
    err = cot_form_asked(cli, cot_args_value(&a->args, opts, "csv"), &a->form);
    if (err == COT_OK && cli->me.part == COT_PART_BUYER)
        err = cot_fail(&cli->fault, COT_NOT_ALLOWED, "materials are the house's: `cotyl orders` shows your lines");
    if (err == COT_OK) err = cot_day_asked(cli, &a->args, opts, "on", &a->on);
    if (err == COT_OK && cot_args_value(&a->args, opts, "until"))
        err = cot_day_asked(cli, &a->args, opts, "until", &a->until);
    if (err == COT_OK && a->until < a->on) err = cot_misuse(cli, "--until is before --on");
    if (err == COT_OK && delivery)
        err = cot_value_read(cli->book, &f, COT_F_DELIVERY_DAYS, delivery, strlen(delivery), NULL, a->args.keep,
                             &cli->fault);
    if (err == COT_OK && delivery) {
        a->delivery = (int32_t)cot_fact_int(&f, COT_F_DELIVERY_DAYS, COT_NEED_DELIVERY);
        a->assumed = false;
    }
    return err;
}

static enum cot_err print_needs(struct cot_cli *cli, const struct asked *a, struct cot_needs *n)
{
    bool weeks = cot_args_value(&a->args, opts, "weeks") != NULL;
    if (a->form != COT_FORM_TEXT) return weeks ? print_weeks(cli, n, a->form) : print_items(cli, n, a->form);
    enum cot_err err = cot_day_said(cli, a->on, a->form);
    if (err == COT_OK) err = print_weeks(cli, n, a->form);
    if (err != COT_OK || n->weeks == 0) return err;
    puts("");
    err = print_items(cli, n, a->form);
    if (err == COT_OK) put_assumed(n);
    return err;
}

static enum cot_err run(struct cot_cli *cli, int argc, char **argv, bool shopping)
{
    struct asked a;
    struct cot_needs n = {0};
    enum cot_err err = read_asked(cli, argc, argv, &a);
    if (err == COT_OK) err = cot_needs_read(cli->book, a.on, a.until, &n, &cli->fault);
    if (err == COT_OK && shopping) err = cot_day_said(cli, a.on, a.form);
    if (err == COT_OK)
        err = shopping ? print_shopping(cli, &n, a.delivery, a.assumed, a.form) : print_needs(cli, &a, &n);
    cot_needs_free(&n);
    cot_args_free(&a.args);
    return err;
}

enum cot_err cot_cmd_needs(struct cot_cli *cli, int argc, char **argv)
{
    return run(cli, argc, argv, false);
}

enum cot_err cot_cmd_shopping(struct cot_cli *cli, int argc, char **argv)
{
    return run(cli, argc, argv, true);
}
