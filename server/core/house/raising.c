/* Raising days: which description holds for a sowing. */
#include "cotyledger/core/raising.h"

#include <math.h>
#include <string.h>

#include "cotyledger/core/emergence.h"
#include "cotyledger/core/place.h"
#include "cotyledger/core/prob.h"
#include "cotyledger/core/sow.h"

#define YEAR_FIRST 1
#define YEAR_LAST 53
#define BACK_DAYS 365 /* no tray is kept longer */

bool cot_season_holds(int from_week, int to_week, int32_t day)
{
    int year, week, weekday;
    if (day < COT_DAY_MIN || day > COT_DAY_MAX) return from_week == YEAR_FIRST && to_week >= YEAR_LAST - 1;
    cot_week_of(day, &year, &week, &weekday);
    if (to_week == YEAR_LAST - 1) to_week = YEAR_LAST;
    return from_week <= to_week ? week >= from_week && week <= to_week : week >= from_week || week <= to_week;
}

int cot_season_weeks(int from_week, int to_week)
{
    if (to_week == YEAR_LAST - 1) to_week = YEAR_LAST;
    return from_week <= to_week ? to_week - from_week + 1 : YEAR_LAST - from_week + 1 + to_week;
}

/* How close a description is to a sowing: a larger figure is closer; -1: it does not fit. */
struct fit {
    bool format;
    int weeks;
    int64_t position;
};

static bool names(const struct cot_thing *t, enum cot_field f, const struct cot_thing *what)
{
    const struct cot_id *id = cot_thing_id(t, f);
    return id && what && cot_id_cmp(id, &what->id) == 0;
}

static bool fits(struct cot_book *b, const struct cot_thing *r, const struct cot_thing *crop,
                 const struct cot_thing *format, int32_t day, struct fit *out)
{
    struct cot_note note;
    int from = (int)cot_thing_int(r, COT_F_FROM_WEEK, YEAR_FIRST), to = (int)cot_thing_int(r, COT_F_TO_WEEK, YEAR_LAST);
    out->format = cot_thing_id(r, COT_F_FORMAT) != NULL;
    out->weeks = cot_season_weeks(from, to);
    if (r->gone || !names(r, COT_F_CROP, crop) || (out->format && !names(r, COT_F_FORMAT, format))) return false;
    if (!cot_season_holds(from, to, day)) return false;
    out->position = cot_book_verdict(b, &r->id, &note) && note.position > 0 ? note.position : INT64_MAX;
    return true;
}

static bool closer(const struct fit *x, const struct fit *y)
{
    if (x->format != y->format) return x->format;
    if (x->weeks != y->weeks) return x->weeks < y->weeks;
    return x->position > y->position;
}

static const struct cot_thing *closest(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format,
                                       int32_t day)
{
    size_t n;
    struct fit best = {0}, this;
    const struct cot_thing *found = NULL;
    const struct cot_thing *const *all = cot_book_things(b, COT_THING_RAISING, &n);
    for (size_t i = 0; i < n; i++) {
        if (!fits(b, all[i], crop, format, day, &this) || (found && !closer(&this, &best))) continue;
        found = all[i];
        best = this;
    }
    return found;
}

static int32_t int_of(const struct cot_thing *t, enum cot_field f, int64_t otherwise)
{
    return (int32_t)(t ? cot_thing_int(t, f, otherwise) : otherwise);
}

/* The description's own longest; else as long after ready as the crop's own figures say. */
static int32_t longest(const struct cot_thing *by, const struct cot_thing *crop, int32_t days)
{
    int32_t own = int_of(by, COT_F_TRAY_DAYS_MAX, COT_RAISING_UNKNOWN);
    int32_t usual = int_of(crop, COT_F_TRAY_DAYS, COT_RAISING_UNKNOWN);
    int32_t most = int_of(crop, COT_F_TRAY_DAYS_MAX, COT_RAISING_UNKNOWN);
    if (own >= 0) return own > days ? own : days;
    if (days < 0 || usual < 0 || most < usual) return COT_RAISING_UNKNOWN;
    return days + most - usual;
}

/* The crop's chamber whose temperature is known: of its group before one of none, then by name. */
static const struct cot_thing *chamber_of(struct cot_book *b, const struct cot_thing *crop)
{
    size_t n;
    const struct cot_thing *best = NULL, *const *place = cot_book_things(b, COT_THING_PLACE, &n);
    const char *group = cot_thing_text(crop, COT_F_GROUP);
    bool best_own = false;
    for (size_t i = 0; i < n; i++) {
        if (place[i]->gone || cot_thing_int(place[i], COT_F_SORT, COT_PLACE_BENCH) != COT_PLACE_CHAMBER) continue;
        if (!cot_thing_value(place[i], COT_F_CELSIUS) || !cot_place_takes(place[i], group)) continue;
        bool own = cot_thing_text(place[i], COT_F_GROUP)[0] != '\0';
        if (best && (own != best_own ? best_own : strcmp(cot_thing_name(place[i]), cot_thing_name(best)) > 0)) continue;
        best = place[i];
        best_own = own;
    }
    return best;
}

static void chamber_by_table(struct cot_book *b, const struct cot_thing *crop, struct cot_raising *out)
{
    double days;
    enum cot_emergence_basis basis;
    const char *name = crop ? cot_thing_name(crop) : "";
    const struct cot_thing *chamber = crop && cot_emergence_row(name) ? chamber_of(b, crop) : NULL;
    if (!chamber) return;
    double celsius = (double)cot_thing_int(chamber, COT_F_CELSIUS, 0);
    if (cot_emergence_days(name, celsius, &days, &basis, NULL) != COT_OK) return;
    out->chamber = (int32_t)ceil(cot_round9(days));
    out->chamber_by_table = true;
}

void cot_raising_of(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format, int32_t day,
                    struct cot_raising *out)
{
    const struct cot_thing *by = crop ? closest(b, crop, format, day) : NULL;
    *out = (struct cot_raising){.by = by, .pot_days = COT_RAISING_UNKNOWN};
    out->days = int_of(by, COT_F_TRAY_DAYS, int_of(crop, COT_F_TRAY_DAYS, COT_RAISING_UNKNOWN));
    out->days_max = longest(by, crop, out->days);
    out->chamber = int_of(by, COT_F_CHAMBER_DAYS, int_of(crop, COT_F_CHAMBER_DAYS, COT_RAISING_UNKNOWN));
    if (out->chamber == COT_RAISING_UNKNOWN) chamber_by_table(b, crop, out);
    const struct cot_id *to = by ? cot_thing_id(by, COT_F_POT_FORMAT) : NULL;
    int32_t pot_days = int_of(by, COT_F_POT_DAYS, COT_RAISING_UNKNOWN);
    if (!to || pot_days < 0) return;
    out->pot_format = cot_book_thing(b, to);
    if (out->pot_format) out->pot_days = pot_days;
}

static const struct cot_thing *linked(struct cot_book *b, const struct cot_thing *t, enum cot_field f)
{
    const struct cot_id *id = cot_thing_id(t, f);
    return id ? cot_book_thing(b, id) : NULL;
}

static void nothing_known(struct cot_raising *out)
{
    *out = (struct cot_raising){.days = COT_RAISING_UNKNOWN,
                                .days_max = COT_RAISING_UNKNOWN,
                                .chamber = COT_RAISING_UNKNOWN,
                                .pot_days = COT_RAISING_UNKNOWN};
}

/* Of one with two stages the second. */
static void second_stage(struct cot_raising *out)
{
    out->second = true;
    out->days -= out->pot_days;
    if (out->days_max != COT_RAISING_UNKNOWN) out->days_max -= out->pot_days;
    out->chamber = 0;
    out->chamber_by_table = false;
    out->pot_days = COT_RAISING_UNKNOWN;
    out->pot_format = NULL;
}

void cot_raising_of_plugs(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format, int32_t day,
                          struct cot_raising *out)
{
    size_t n;
    const struct cot_thing *const *all = cot_book_things(b, COT_THING_RAISING, &n);
    for (size_t i = 0; crop && format && i < n; i++) {
        if (all[i]->gone || !names(all[i], COT_F_CROP, crop) || !names(all[i], COT_F_POT_FORMAT, format)) continue;
        int32_t pot_days = int_of(all[i], COT_F_POT_DAYS, COT_RAISING_UNKNOWN);
        if (pot_days < 0 || day < COT_DAY_MIN + pot_days || day > COT_DAY_MAX) continue;
        cot_raising_of(b, crop, linked(b, all[i], COT_F_FORMAT), day - pot_days, out);
        if (out->by != all[i] || out->days <= out->pot_days) continue;
        second_stage(out);
        return;
    }
    nothing_known(out);
}

void cot_raising_of_batch(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *batch,
                          const struct cot_thing *parent, struct cot_raising *out)
{
    const struct cot_thing *first = parent ? parent : batch, *format = linked(b, batch, COT_F_FORMAT);
    if (!parent && cot_lot_of_plugs(linked(b, batch, COT_F_LOT))) {
        cot_raising_of_plugs(b, crop, format, int_of(batch, COT_F_DAY, COT_DAY_NONE), out);
        return;
    }
    cot_raising_of(b, crop, linked(b, first, COT_F_FORMAT), int_of(first, COT_F_DAY, COT_DAY_NONE), out);
    if (!parent) return;
    bool described = out->pot_format && format && cot_id_cmp(&out->pot_format->id, &format->id) == 0;
    int32_t before = out->pot_days;
    if (!described || out->days <= before) {
        cot_raising_of(b, crop, NULL, COT_DAY_NONE, out);
        return;
    }
    second_stage(out);
}

int32_t cot_raising_back(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format,
                         int32_t ready, struct cot_raising *out)
{
    for (int32_t day = ready; ready >= COT_DAY_MIN && ready <= COT_DAY_MAX && day >= ready - BACK_DAYS; day--) {
        cot_raising_of(b, crop, format, day, out);
        if (out->days != COT_RAISING_UNKNOWN && out->days <= ready - day) return day;
    }
    nothing_known(out);
    return COT_DAY_NONE;
}
