#include "thing.h"

#include <inttypes.h>
#include <string.h>

#include "cotyledger/core/place.h"
#include "cotyledger/wire/report.h"
#include "cotyledger/wire/sheet.h"
#include "advice.h"
#include "belief.h"
#include "benches.h"
#include "farm.h"
#include "hold.h"
#include "lists.h"
#include "planned.h"
#include "table.h"
#include "things.h"
#include "work.h"

static void put_count(struct cot_buf *out, const char *what, int64_t n, const char *one)
{
    char some[COT_SOME_TEXT];
    cot_put_pair(out, what, cot_some(n, one, some));
}

static void put_day(struct cot_buf *out, const char *what, int32_t day)
{
    char date[COT_DATE_TEXT];
    if (day != COT_DAY_NONE) cot_put_pair(out, what, cot_date(day, date));
}

/* The kind whose fields the thing has. */
static const struct cot_kind_row *kind_of(const struct cot_thing *t)
{
    return cot_kind_row(t->made->kind);
}

static size_t standing(const struct cot_thing *t, const struct cot_value *values[static COT_FACT_FIELDS_MAX])
{
    const struct cot_kind_row *kind = kind_of(t);
    size_t n = 0;
    for (unsigned i = 0; i < kind->field_count; i++) {
        const struct cot_value *v = cot_thing_value(t, kind->fields[i].field);
        if (v && v->type != COT_T_NONE && v->field != COT_F_KEY) values[n++] = v;
    }
    return n;
}

static void put_fields(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out)
{
    const struct cot_value *values[COT_FACT_FIELDS_MAX];
    size_t n = standing(t, values);
    const struct cot_thing *farm = cot_book_thing(cli->book, &t->farm);
    if (farm && farm != t) cot_put_pair(out, "farm", cot_thing_name(farm));
    for (size_t i = 0; i < n; i++) {
        struct cot_buf b = {0};
        char label[COT_LABEL_TEXT];
        if (values[i]->field == COT_F_NAME || values[i]->field == COT_F_CODE) continue; /* the heading says it */
        if (values[i]->field == COT_F_PINS) continue;                                   /* said in words below */
        cot_field_label((enum cot_field)values[i]->field, label);
        cot_field_words(cli->book, values[i], &b);
        if (b.failed) out->failed = true;
        else cot_put_pair(out, label, b.s);
        cot_buf_free(&b);
    }
}

static bool treated(struct cot_cli *cli, const struct cot_thing *t, const struct cot_stand *s)
{
    const struct cot_thing *lot = t->type == COT_THING_LOT ? t : s ? cot_book_thing(cli->book, &s->lot) : NULL;
    return lot && (cot_thing_int(lot, COT_F_TREATED, 0) || cot_thing_text(lot, COT_F_TREATMENT)[0]);
}

/* --- Batches -------------------------------------------------------------------------------------------------------
 */

static const char *basis_word(enum cot_stand_basis basis)
{
    switch (basis) {
    case COT_BASIS_NOTHING:
        return "nothing is known of its seed: any rate is as likely as another";
    case COT_BASIS_TEST:
        return "the lot's germination test";
    case COT_BASIS_LABEL:
        return "the label's percentage, from an assumed number of seeds";
    case COT_BASIS_LAWFUL:
        return "a guess: the crop's lowest lawful germination";
    case COT_BASIS_POTTED:
        return "a guess: potted on, about 98 of 100 take";
    }
    return "?";
}

static void put_seen(const struct cot_stand *s, struct cot_buf *out)
{
    char text[160];
    if (s->looked == 0) {
        cot_put_pair(out, "counted", "not yet");
        return;
    }
    put_day(out, "counted", s->counted);
    snprintf(text, sizeof text, "%" PRId64 " of %" PRId64 " cells, in %d of %d trays", s->looked, s->cells,
             s->trays_counted, s->trays);
    cot_put_pair(out, "looked at", text);
    if (s->bounded)
        snprintf(text, sizeof text,
                 "%" PRId64 " blanks; only blanks were counted in some trays: usable is at most the rest", s->blanks);
    else
        snprintf(text, sizeof text, "%" PRId64 " usable, %" PRId64 " blanks, %" PRId64 " cull%s, %" PRId64 " double%s",
                 s->usable, s->blanks, s->culls, s->culls == 1 ? "" : "s", s->doubles, s->doubles == 1 ? "" : "s");
    cot_put_pair(out, "seen", text);
    if (s->provisional) cot_put_pair(out, "", "counted before the crop's day for it: provisional");
    if (s->to_come > 0) put_count(out, "blanks yet to come", s->to_come, "cell");
    if (s->picked) cot_put_pair(out, "", "trays picked by eye: the others may be unlike them");
}

/* Where the rate of the cells not seen comes from. */
static void put_basis(const struct cot_stand *s, struct cot_buf *out)
{
    char text[120], some[COT_SOME_TEXT];
    cot_put_pair(out, "rate before counts", basis_word(s->basis));
    if (s->learned == 0) snprintf(text, sizeof text, "no other counted batch of the crop: assumptions");
    else snprintf(text, sizeof text, "%d other counted batch%s of the crop", s->learned, s->learned == 1 ? "" : "es");
    cot_put_pair(out, "and from", text);
    if (s->unseen == 0) return;
    snprintf(text, sizeof text, "%.0f %% usable expected of %s", 100 * s->rate, cot_some(s->unseen, "cell", some));
    cot_put_pair(out, "not looked at", text);
}

static void put_serves(const struct cot_thing *batch, const struct cot_fill *fill, struct cot_buf *out)
{
    for (uint32_t i = 0; i < fill->allot_count; i++) {
        const struct cot_allot *a = &fill->allot[i];
        if (fill->batch[a->batch] != batch) continue;
        const struct cot_fill_line *l = &fill->line[a->line];
        struct cot_buf b = {0};
        char date[COT_DATE_TEXT], some[COT_SOME_TEXT];
        cot_buf_fmt(&b, "%s for %s, %s, %s%s", cot_some(a->plants, "plant", some), cot_thing_name(l->line),
                    l->farm ? cot_thing_name(l->farm) : "?", cot_date(l->date, date),
                    a->substitute ? " (as a substitute)" : "");
        if (b.failed) out->failed = true;
        else cot_put_pair(out, "to serve", b.s);
        cot_buf_free(&b);
    }
}

static void put_stand(const struct cot_thing *batch, const struct cot_stand *s, const struct cot_fill *fill,
                      struct cot_buf *out)
{
    char odds[COT_ODDS_TEXT], text[80], some[COT_SOME_TEXT], date[COT_DATE_TEXT];
    cot_odds_text(fill->confidence, odds);
    cot_buf_fmt(out, "\nStand on %s\n", cot_date(fill->on, date));
    if (s->likely_today != s->likely) put_count(out, "likely today", s->likely_today, "plant");
    if (s->later > 0) put_count(out, "lost until ready", s->later, "plant");
    put_count(out, "likely", s->likely, "plant");
    snprintf(text, sizeof text, "%s (%s)", cot_some(s->count_on, "plant", some), odds);
    cot_put_pair(out, "count on", text);
    put_count(out, "cells", s->cells, "cell");
    put_seen(s, out);
    put_basis(s, out);
    if (s->out > 0) put_count(out, "handed over", s->out, "plant");
    if (s->back > 0) put_count(out, "brought back fit", s->back, "plant");
    if (s->lost > 0) put_count(out, "lost or potted on", s->lost, "plant");
    put_day(out, "ready", s->ready);
    put_day(out, "past use", s->past);
    if (s->held) cot_put_pair(out, "held", "yes: it serves no line until it is released");
    if (s->over) cot_put_pair(out, "look at this", "more went out than the counts explain; the stand was raised to it");
    put_serves(batch, fill, out);
    char advice[COT_ADVICE_TEXT];
    if (cot_advice_text(fill, batch, advice)) cot_put_pair(out, "to count", advice);
}

/* --- Lines ---------------------------------------------------------------------------------------------------------
 */

/* What the batches behind the line promise. A buyer's laptop has no batches: the house's statement says it. */
static void put_supply(const struct cot_fill_line *l, const struct cot_fill *fill, struct cot_buf *out)
{
    char text[80], odds[COT_ODDS_TEXT], chance[COT_CHANCE_TEXT], some[COT_SOME_TEXT];
    cot_odds_text(fill->confidence, odds);
    cot_chance_beside(cot_chance_told(fill, (uint32_t)(l - fill->line)), fill->confidence, chance);
    put_count(out, "likely", l->likely, "plant");
    snprintf(text, sizeof text, "%s (%s)", cot_some(l->count_on, "plant", some), odds);
    cot_put_pair(out, "count on", text);
    cot_put_pair(out, "chance to be full", chance);
    cot_put_pair(out, "verdict", cot_fill_word(l->verdict));
    if (l->short_by > 0) put_count(out, "short by", l->short_by, "plant");
    for (uint32_t i = 0; i < fill->allot_count; i++) {
        const struct cot_allot *a = &fill->allot[i];
        if (&fill->line[a->line] != l) continue;
        snprintf(text, sizeof text, "%s from %s%s", cot_some(a->plants, "plant", some),
                 cot_thing_name(fill->batch[a->batch]), a->substitute ? " (a substitute)" : "");
        cot_put_pair(out, "served by", text);
    }
}

static void put_line_fill(const struct cot_thing *line, const struct cot_fill *fill, bool buyer, struct cot_buf *out)
{
    const struct cot_fill_line *l = cot_fill_line_of(fill, &line->id);
    char state[COT_STATE_TEXT], date[COT_DATE_TEXT];
    cot_line_state(l, state);
    cot_buf_fmt(out, "\nAs of %s\n", cot_date(fill->on, date));
    cot_put_pair(out, "state", state);
    if (!l) return;
    put_day(out, "to be collected", l->date);
    put_count(out, "wanted", l->wanted, "plant");
    put_count(out, "promised", l->promised, "plant");
    put_count(out, "handed over", l->handed, "plant");
    if (!buyer) put_supply(l, fill, out);
    else cot_put_pair(out, "how it will be filled", "`cotyl fill` says it, by the house's statement");
}

/* --- Places and lots ------------------------------------------------------------------------------------------------
 */

/* The days it is out of use that are not over. */
static void put_closings(struct cot_cli *cli, const struct cot_thing *place, int32_t on, struct cot_buf *out)
{
    struct cot_days days;
    if (cot_days_read(cli->book, &days) != COT_OK) out->failed = true;
    for (size_t i = 0; i < days.closings; i++) {
        const struct cot_closing *c = &days.closing[i];
        char from[COT_DATE_TEXT], until[COT_DATE_TEXT];
        struct cot_buf b = {0};
        if (c->place != place || c->until < on) continue;
        cot_buf_fmt(&b, "%s to %s%s%s", cot_date(c->from, from), cot_date(c->until, until), c->why[0] ? ": " : "",
                    c->why);
        if (b.failed) out->failed = true;
        else cot_put_pair(out, "out of use", b.s);
        cot_buf_free(&b);
    }
    cot_days_free(&days);
}

static void put_test_age(struct cot_cli *cli, const struct cot_thing *lot, int32_t on, struct cot_buf *out)
{
    char some[COT_SOME_TEXT], text[120];
    int32_t age = cot_test_age(lot, on);
    if (age < 0) return;
    bool old = cot_test_old(cli->book, lot, on);
    snprintf(text, sizeof text, "%s%s", cot_some(age, "day", some),
             old ? ": test it again, as the house's rule asks" : "");
    cot_put_pair(out, "age of the test", text);
}

/* What is kept for a line whose farm cannot plant yet. */
static void put_hold(struct cot_cli *cli, const struct cot_thing *line, int32_t on, struct cot_buf *out)
{
    struct cot_hold h;
    int32_t until = (int32_t)cot_thing_int(line, COT_F_WAIT_UNTIL, COT_DAY_NONE);
    if (until < on || line->gone || cli->me.part == COT_PART_BUYER) return;
    if (cot_hold_read(cli->book, on, line, until, &h, NULL) != COT_OK) return;
    cot_buf_str(out, "\nKept for the farm\n");
    cot_hold_put(&h, out);
}

/* What stands where is read for what has a place alone; nothing of it when it cannot be read. */
static bool has_stays(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_benches *out)
{
    *out = (struct cot_benches){0};
    if (t->type != COT_THING_PLACE && t->type != COT_THING_BATCH && t->type != COT_THING_PLANNED) return false;
    return !t->gone && cot_benches_read(cli->book, on, out, NULL) == COT_OK;
}

static void put_stays(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    struct cot_benches benches;
    if (has_stays(cli, t, on, &benches)) {
        if (t->type == COT_THING_PLACE) cot_place_put_stays(&benches, t, out);
        else cot_thing_put_stays(&benches, t, out);
    }
    cot_benches_free(&benches);
}

static void json_stays(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    struct cot_benches benches;
    if (has_stays(cli, t, on, &benches)) cot_stays_json(&benches, t, out);
    cot_benches_free(&benches);
}

void cot_thing_put_text(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                        struct cot_buf *out)
{
    struct cot_stand stand;
    struct cot_buf head = {0};
    bool batch = t->type == COT_THING_BATCH && cot_stand_read(cli->book, t, fill->on, &stand) == COT_OK;
    cot_buf_fmt(&head, "%s, %s%s", cot_thing_name(t), cot_thing_word(t->type),
                t->gone ? " (withdrawn or taken back)" : "");
    if (head.failed) out->failed = true;
    else cot_put_paragraph(out, head.s, 0, 2);
    cot_buf_free(&head);
    put_fields(cli, t, out);
    if (batch) put_stand(t, &stand, fill, out);
    cot_check_put_text(cli, t, fill->on, out);
    if (t->type == COT_THING_LINE) put_line_fill(t, fill, cli->me.part == COT_PART_BUYER, out);
    if (t->type == COT_THING_LINE) put_hold(cli, t, fill->on, out);
    if (t->type == COT_THING_FARM) cot_farm_put_text(cli, t, fill->on, out);
    if (t->type == COT_THING_PLANNED) cot_planned_put_text(cli, t, fill, out);
    if (t->type == COT_THING_PLACE) put_closings(cli, t, fill->on, out);
    put_stays(cli, t, fill->on, out);
    if (t->type == COT_THING_LOT) put_test_age(cli, t, fill->on, out);
    if (treated(cli, t, batch ? &stand : NULL)) {
        cot_buf_str(out, "\n");
        cot_put_paragraph(out, "Caution: " COT_CAUTION_TREATED ".", 0, 2);
    }
    cot_buf_str(out, "\nHistory\n");
    cot_history_put_text(cli, t, out);
}

/* --- JSON ----------------------------------------------------------------------------------------------------------
 */

static void json_day(struct cot_buf *out, const char *key, int32_t day)
{
    char text[COT_DAY_TEXT];
    cot_buf_fmt(out, ",\"%s\":", key);
    if (day != COT_DAY_NONE) cot_day_text(day, text);
    if (day == COT_DAY_NONE) cot_buf_str(out, "null");
    else cot_buf_fmt(out, "\"%s\"", text);
}

static void json_stand(const struct cot_stand *s, int32_t on, struct cot_buf *out)
{
    const struct {
        const char *key;
        int64_t n;
    } figures[] = {
        {"likely", s->likely},
        {"count_on", s->count_on},
        {"trays", s->trays},
        {"trays_counted", s->trays_counted},
        {"cells", s->cells},
        {"looked", s->looked},
        {"usable", s->usable},
        {"blanks", s->blanks},
        {"culls", s->culls},
        {"doubles", s->doubles},
        {"handed_over", s->out},
        {"back", s->back},
        {"lost", s->lost},
        {"likely_today", s->likely_today},
        {"lost_until_ready", s->later},
        {"to_come", s->to_come},
        {"learned_from", s->learned},
    };
    char day[COT_DAY_TEXT];
    cot_day_text(on, day);
    cot_buf_fmt(out, ",\"stand\":{\"on\":\"%s\"", day);
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
        cot_buf_fmt(out, ",\"%s\":%" PRId64, figures[i].key, figures[i].n);
    json_day(out, "counted", s->counted);
    json_day(out, "ready", s->ready);
    json_day(out, "past", s->past);
    cot_buf_fmt(out, ",\"provisional\":%s,\"bounded\":%s,\"held\":%s,\"over\":%s,\"picked\":%s}",
                s->provisional ? "true" : "false", s->bounded ? "true" : "false", s->held ? "true" : "false",
                s->over ? "true" : "false", s->picked ? "true" : "false");
}

static void json_fill(const struct cot_thing *line, const struct cot_fill *fill, bool buyer, struct cot_buf *out)
{
    const struct cot_fill_line *l = cot_fill_line_of(fill, &line->id);
    char state[COT_STATE_TEXT], day[COT_DAY_TEXT];
    cot_line_state(l, state);
    cot_day_text(fill->on, day);
    cot_buf_fmt(out, ",\"fill\":{\"on\":\"%s\",\"state\":\"%s\"", day, state);
    if (l) {
        json_day(out, "date", l->date);
        cot_buf_fmt(out, ",\"wanted\":%" PRId64 ",\"promised\":%" PRId64 ",\"handed_over\":%" PRId64, l->wanted,
                    l->promised, l->handed);
        if (!buyer)
            cot_buf_fmt(out,
                        ",\"likely\":%" PRId64 ",\"count_on\":%" PRId64 ",\"verdict\":\"%s\",\"short_by\":%" PRId64,
                        l->likely, l->count_on, cot_fill_word(l->verdict), l->short_by);
    }
    cot_buf_str(out, "}");
}

void cot_thing_put_json(struct cot_cli *cli, const struct cot_thing *t, const struct cot_fill *fill,
                        struct cot_buf *out)
{
    const struct cot_value *values[COT_FACT_FIELDS_MAX];
    size_t n = standing(t, values);
    char id[COT_ID_TEXT];
    struct cot_stand stand;
    const char *name = cot_thing_name(t);
    cot_id_text(&t->id, id);
    cot_buf_fmt(out, "{\"sort\":\"%s\",\"id\":\"%s\",\"name\":", cot_thing_word(t->type), id);
    cot_put_json(out, name, strlen(name));
    cot_buf_fmt(out, ",\"gone\":%s,\"fields\":", t->gone ? "true" : "false");
    cot_fields_json(cli->book, values, n, out);
    if (t->type == COT_THING_BATCH && cot_stand_read(cli->book, t, fill->on, &stand) == COT_OK) {
        json_stand(&stand, fill->on, out);
        cot_advice_json(fill, t, out);
    }
    cot_check_put_json(cli, t, fill->on, out);
    if (t->type == COT_THING_LINE) json_fill(t, fill, cli->me.part == COT_PART_BUYER, out);
    if (t->type == COT_THING_FARM) cot_farm_put_json(cli, t, fill->on, out);
    if (t->type == COT_THING_PLANNED) cot_planned_put_json(cli, t, fill->on, out);
    json_stays(cli, t, fill->on, out);
    cot_buf_str(out, ",\"history\":");
    cot_history_put_json(cli, t, out);
    cot_buf_str(out, "}\n");
}
