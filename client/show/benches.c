#include "benches.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "asked.h"
#include "cotyledger/wire/sheet.h"
#include "lists.h"
#include "work.h"

static const char *const sorts[] = {
    [COT_PLACE_CHAMBER] = "chamber", [COT_PLACE_BENCH] = "bench", [COT_PLACE_FRAME] = "cold frame"};

static enum cot_place_sort sort_of(const struct cot_thing *place)
{
    return (enum cot_place_sort)cot_thing_int(place, COT_F_SORT, COT_PLACE_BENCH);
}

static int32_t monday_of(int32_t day)
{
    int year, week, weekday;
    cot_week_of(day, &year, &week, &weekday);
    return day - weekday + 1;
}

/* The last day of so many weeks, the one of `on` among them. */
static int32_t last_of(const struct cot_benches *t, int weeks)
{
    return monday_of(t->on) + 7 * weeks - 1;
}

/* Fewest spots free, and most taken, from `from` to `to`. */
struct tightest {
    int64_t used, free;
};

static struct tightest tightest(const struct cot_benches *t, const struct cot_thing *place, int32_t from, int32_t to)
{
    struct tightest w = {0, INT64_MAX};
    for (int32_t day = from; day <= to; day++) {
        int64_t used = cot_benches_used(t, place, day), free = cot_benches_room(t, place, day) - used;
        if (used > w.used) w.used = used;
        if (free < w.free) w.free = free;
    }
    return w;
}

static int32_t week_from(const struct cot_benches *t, int number)
{
    int32_t monday = monday_of(t->on) + 7 * number;
    return monday > t->on ? monday : t->on;
}

/* --- All places --------------------------------------------------------------------------------------------------- */

static enum cot_err print_text(struct cot_cli *cli, const struct cot_benches *t, int weeks)
{
    static char heading[COT_BENCH_WEEKS][8];
    struct cot_col col[4 + COT_BENCH_WEEKS] = {{"place", "Place", false, false},
                                               {"sort", "Sort", false, false},
                                               {"spots", "Holds", true, false},
                                               {"free", "Free", true, false}};
    struct cot_table table;
    for (int w = 0; w < weeks; w++) {
        char week[COT_WEEK_TEXT];
        cot_week_text(week_from(t, w), week);
        snprintf(heading[w], sizeof heading[w], "%s", strchr(week, 'W'));
        col[4 + w] = (struct cot_col){heading[w], heading[w], true, false};
    }
    cot_table_init(&table, col, 4 + (size_t)weeks);
    for (size_t i = 0; i < t->places; i++) {
        const struct cot_thing *p = t->place[i];
        cot_table_text(&table, cot_thing_name(p));
        cot_table_text(&table, sorts[sort_of(p)]);
        cot_table_int(&table, cot_thing_int(p, COT_F_SPOTS, 0));
        cot_table_int(&table, tightest(t, p, t->on, t->on).free);
        for (int w = 0; w < weeks; w++)
            cot_table_int(&table, tightest(t, p, week_from(t, w), monday_of(t->on) + 7 * w + 6).free);
    }
    enum cot_err err =
        cot_table_print(cli, &table, COT_FORM_TEXT, "The house has no places yet: `cotyl add place` describes them.");
    cot_table_free(&table);
    return err;
}

static const struct cot_col week_cols[] = {
    {"place", NULL, false, false}, {"sort", NULL, false, false}, {"group", NULL, false, false},
    {"spots", NULL, true, false},  {"week", NULL, false, false}, {"from", NULL, false, false},
    {"to", NULL, false, false},    {"used", NULL, true, false},  {"free", NULL, true, false},
};

static enum cot_err print_rows(struct cot_cli *cli, const struct cot_benches *t, int weeks, enum cot_form form)
{
    struct cot_table table;
    cot_table_init(&table, week_cols, sizeof week_cols / sizeof week_cols[0]);
    for (size_t i = 0; i < t->places; i++)
        for (int w = 0; w < weeks; w++) {
            char week[COT_WEEK_TEXT];
            const struct cot_thing *p = t->place[i];
            int32_t from = week_from(t, w), to = monday_of(t->on) + 7 * w + 6;
            struct tightest at = tightest(t, p, from, to);
            cot_week_text(from, week);
            cot_table_text(&table, cot_thing_name(p));
            cot_table_text(&table, sorts[sort_of(p)]);
            cot_table_text(&table, cot_thing_text(p, COT_F_GROUP)[0] ? cot_thing_text(p, COT_F_GROUP) : NULL);
            cot_table_int(&table, cot_thing_int(p, COT_F_SPOTS, 0));
            cot_table_text(&table, week);
            cot_table_day(&table, from);
            cot_table_day(&table, to);
            cot_table_int(&table, at.used);
            cot_table_int(&table, at.free);
        }
    enum cot_err err = cot_keyed_print(cli, &table, form, "");
    cot_table_free(&table);
    return err;
}

static void put_over(const struct cot_benches *t, int32_t to, struct cot_buf *out)
{
    for (size_t i = 0; i < t->places; i++) {
        int64_t worst;
        char date[COT_DATE_TEXT], text[240], some[COT_SOME_TEXT];
        int32_t first = cot_benches_over(t, t->place[i], t->on, to, &worst);
        if (first == COT_DAY_NONE) continue;
        snprintf(text, sizeof text, "Too full: %s from %s, by up to %s.", cot_thing_name(t->place[i]),
                 cot_date(first, date), cot_some(worst, "spot", some));
        cot_put_paragraph(out, text, 0, 2);
    }
}

/* Batches that stand today where the house has no place of that name. */
static void put_elsewhere(const struct cot_benches *t, struct cot_buf *out)
{
    int64_t trays = 0, batches = 0;
    char some[COT_SOME_TEXT], more[COT_SOME_TEXT], text[240];
    for (size_t i = 0; i < t->stays; i++) {
        const struct cot_stay *s = &t->stay[i];
        if (s->place || !s->batch || s->from > t->on || s->to < t->on) continue;
        batches++;
        trays += s->trays;
    }
    if (batches == 0) return;
    snprintf(text, sizeof text, "%s (%s) at no place that the house has: `cotyl move` says where they stand.",
             cot_some(batches, "batch", some), cot_some(trays, "tray", more));
    cot_put_paragraph(out, text, 0, 2);
}

enum cot_err cot_benches_print(struct cot_cli *cli, const struct cot_benches *t, int weeks, enum cot_form form)
{
    struct cot_buf out = {0};
    if (form != COT_FORM_TEXT) return print_rows(cli, t, weeks, form);
    enum cot_err err = cot_day_said(cli, t->on, form);
    if (err == COT_OK && t->places > 0) puts("Free spots that day, and the fewest of each week:\n");
    if (err == COT_OK) err = print_text(cli, t, weeks);
    if (err != COT_OK) return err;
    cot_buf_str(&out, "\n");
    put_over(t, last_of(t, weeks), &out);
    put_elsewhere(t, &out);
    if (out.len > 1 || out.failed) err = cot_print(cli, &out);
    cot_buf_free(&out);
    return err;
}

/* --- One place ---------------------------------------------------------------------------------------------------- */

static const struct cot_col stay_cols[] = {
    {"code", "Tag", false, false},    {"planned", NULL, false, true},   {"variety", "Variety", false, false},
    {"format", "Tray", false, false}, {"trays", "Trays", true, false},  {"spots", "Spots", true, false},
    {"from", "From", false, false},   {"until", "Until", false, false}, {"", "", false, false},
};

static const struct cot_thing *what(const struct cot_stay *s)
{
    return s->batch ? s->batch : s->planned;
}

static const char *remark(const struct cot_stay *s)
{
    if (s->shares) return "shares a tray";
    if (s->planned) return s->late ? "planned, late" : "planned";
    return s->late ? "its days are over" : NULL;
}

enum cot_err cot_bench_print(struct cot_cli *cli, const struct cot_benches *t, const struct cot_thing *place, int weeks,
                             enum cot_form form)
{
    struct cot_table table;
    char some[COT_SOME_TEXT], least[COT_SOME_TEXT], text[200];
    struct cot_buf out = {0};
    int64_t room = cot_thing_int(place, COT_F_SPOTS, 0);
    enum cot_err err = cot_day_said(cli, t->on, form);
    if (err != COT_OK) return err;
    cot_table_init(&table, stay_cols, sizeof stay_cols / sizeof stay_cols[0]);
    for (size_t i = 0; i < t->stays; i++) {
        const struct cot_stay *s = &t->stay[i];
        if (s->place != place || s->from > last_of(t, weeks)) continue;
        cot_table_text(&table, cot_thing_name(what(s)));
        cot_table_yes(&table, s->planned != NULL);
        cot_table_text(&table, s->variety ? cot_thing_name(s->variety) : NULL);
        cot_table_text(&table, cot_thing_name(s->format));
        cot_table_int(&table, s->trays);
        cot_table_int(&table, s->shares ? 0 : s->spots);
        cot_table_day(&table, s->from);
        cot_table_day(&table, s->to);
        cot_table_text(&table, remark(s));
    }
    err = cot_keyed_print(cli, &table, form, "Nothing stands there, and nothing is planned.");
    cot_table_free(&table);
    if (err != COT_OK || form != COT_FORM_TEXT) return err;
    snprintf(text, sizeof text, "%s holds %s: %" PRId64 " free that day, %" PRId64 " on the fullest of the %s.",
             cot_thing_name(place), cot_some(room, "spot", some), tightest(t, place, t->on, t->on).free,
             tightest(t, place, t->on, last_of(t, weeks)).free, cot_some(weeks, "week", least));
    cot_buf_str(&out, "\n");
    cot_put_paragraph(&out, text, 0, 2);
    put_over(&(struct cot_benches){t->on, t->stay, t->stays, &place, 1, t->days}, last_of(t, weeks), &out);
    err = cot_print(cli, &out);
    cot_buf_free(&out);
    return err;
}

/* --- For `show` --------------------------------------------------------------------------------------------------- */

void cot_place_put_stays(const struct cot_benches *t, const struct cot_thing *place, struct cot_buf *out)
{
    char date[COT_DATE_TEXT], until[COT_DAY_TEXT], text[240], some[COT_SOME_TEXT];
    int64_t used = cot_benches_used(t, place, t->on), room = cot_benches_room(t, place, t->on);
    cot_buf_fmt(out, "\nStands there on %s\n", cot_date(t->on, date));
    for (size_t i = 0; i < t->stays; i++) {
        const struct cot_stay *s = &t->stay[i];
        if (s->place != place || s->from > t->on || s->to < t->on) continue;
        cot_day_text(s->to, until);
        snprintf(text, sizeof text, "%s of %s, %s, until %s%s%s", cot_some(s->trays, "tray", some),
                 cot_thing_name(s->format), s->variety ? cot_thing_name(s->variety) : "?", until, remark(s) ? ": " : "",
                 remark(s) ? remark(s) : "");
        cot_put_pair(out, cot_thing_name(what(s)), text);
    }
    snprintf(text, sizeof text, "%" PRId64 " of %s%s", room - used, cot_some(room, "spot", some),
             used > room ? ": too full" : "");
    cot_put_pair(out, "free", text);
}

static const char *place_words(const struct cot_stay *s)
{
    return s->place ? cot_thing_name(s->place) : s->said[0] ? s->said : sorts[s->sort];
}

static void put_stay(const struct cot_benches *t, const struct cot_stay *s, struct cot_buf *out)
{
    char from[COT_DAY_TEXT], to[COT_DAY_TEXT], text[240], some[COT_SOME_TEXT];
    cot_day_text(s->from, from);
    cot_day_text(s->to, to);
    bool now = s->from <= t->on && s->to >= t->on;
    snprintf(text, sizeof text, "%s, %s of %s, %s%s until %s%s", place_words(s), cot_some(s->trays, "tray", some),
             cot_thing_name(s->format), now ? "now" : "from ", now ? "" : from, to,
             s->late && s->batch ? ": its days are over" : "");
    cot_put_pair(out, now ? "stands" : "will stand", text);
}

void cot_thing_put_stays(const struct cot_benches *t, const struct cot_thing *thing, struct cot_buf *out)
{
    const struct cot_stay *own[COT_STAYS_MOST];
    size_t n = 0;
    for (size_t i = 0; i < t->stays && n < COT_STAYS_MOST; i++) {
        if (what(&t->stay[i]) != thing) continue;
        size_t at = n++;
        for (; at > 0 && own[at - 1]->from > t->stay[i].from; at--) own[at] = own[at - 1];
        own[at] = &t->stay[i];
    }
    for (size_t i = 0; i < n; i++) put_stay(t, own[i], out);
}

void cot_stays_json(const struct cot_benches *t, const struct cot_thing *thing, struct cot_buf *out)
{
    bool any = false;
    cot_buf_str(out, ",\"stays\":[");
    for (size_t i = 0; i < t->stays; i++) {
        const struct cot_stay *s = &t->stay[i];
        char from[COT_DAY_TEXT], to[COT_DAY_TEXT];
        if (thing->type == COT_THING_PLACE ? s->place != thing : what(s) != thing) continue;
        cot_day_text(s->from, from);
        cot_day_text(s->to, to);
        cot_buf_fmt(out, "%s{\"code\":\"%s\",\"planned\":%s,\"sort\":\"%s\",\"place\":", any ? "," : "",
                    cot_thing_name(what(s)), s->planned ? "true" : "false", sorts[s->sort]);
        if (s->place || s->said[0]) cot_put_json(out, place_words(s), strlen(place_words(s)));
        else cot_buf_str(out, "null");
        cot_buf_fmt(out, ",\"trays\":%" PRId64 ",\"spots\":%" PRId64 ",\"from\":\"%s\",\"until\":\"%s\"}", s->trays,
                    s->spots, from, to);
        any = true;
    }
    cot_buf_str(out, "]");
}
