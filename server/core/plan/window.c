/* From the collecting day back to the days on which a line may be sown. */
#include "cotyledger/core/day.h"
#include "cotyledger/core/plan.h"

static int32_t potting_day(const struct cot_calendar *c, const struct cot_raise *r, int32_t sown)
{
    for (int32_t d = sown + r->plug; d <= sown + r->plug_max; d++)
        if (cot_calendar_works(c, d)) return d;
    return COT_DAY_NONE;
}

bool cot_raise_stages(const struct cot_calendar *c, const struct cot_raise *r, int32_t day, struct cot_stages *out)
{
    int32_t counts_from = day;
    *out = (struct cot_stages){.sown = day, .up = day + r->chamber, .potted = COT_DAY_NONE};
    if (r->plug > 0) {
        out->potted = counts_from = potting_day(c, r, day);
        if (counts_from == COT_DAY_NONE) return false;
    }
    out->ready = counts_from + r->ready;
    out->past = counts_from + r->past;
    out->harden = out->ready - r->harden;
    return cot_calendar_works(c, day) && cot_calendar_works(c, out->up);
}

static enum cot_err check_raise(const struct cot_raise *r, int32_t day, struct cot_fault *fault)
{
    const char *what = NULL;
    if (r->chamber < 0 || r->chamber > 60) what = "chamber days are 0 to 60";
    else if (r->plug < 0 || r->plug_max < r->plug || r->plug_max > 365 || (!r->plug && r->plug_max))
        what = "days until potting on are 1 to 365, the most not below the least";
    else if (r->ready < 1 || r->past < r->ready || r->past > 365)
        what = "days until ready and until past use are 1 to 365, past use not before ready";
    else if (r->harden < 0 || r->harden > r->ready) what = "days of hardening off are among those until ready";
    else if (r->plug ? r->chamber > r->plug : r->chamber > r->ready)
        what = "chamber days end before potting on or ready";
    if (!what) return COT_OK;
    char text[COT_DAY_TEXT];
    cot_day_text(day, text);
    return cot_fail(fault, COT_INVALID, "sowing on %s: %s", text, what);
}

static enum cot_err check_wish(const struct cot_calendar *c, const struct cot_wish *w, struct cot_fault *fault)
{
    if (c->days < 1 || c->days > COT_PLAN_DAYS)
        return cot_fail(fault, COT_INVALID, "a plan covers 1 to %d days, not %d", COT_PLAN_DAYS, (int)c->days);
    if (c->first < COT_DAY_MIN || c->first > COT_DAY_MAX - 2 * COT_PLAN_DAYS)
        return cot_fail(fault, COT_INVALID, "the first day of the plan is out of range");
    if (!(c->weekdays & 127) || c->weekdays > 127)
        return cot_fail(fault, COT_INVALID, "no weekday is a working day: name at least one");
    for (size_t i = 1; i < c->closed_count; i++)
        if (c->closed[i] <= c->closed[i - 1])
            return cot_fail(fault, COT_INVALID, "closed days have to rise, each once");
    if (w->date < COT_DAY_MIN || w->date > COT_DAY_MAX)
        return cot_fail(fault, COT_INVALID, "the collecting day is out of range");
    if (w->early < 0 || w->early > 60 || w->late < 0 || w->late > 60)
        return cot_fail(fault, COT_INVALID, "days earlier and later that will do are 0 to 60");
    return COT_OK;
}

/* What is known of the days of the horizon that are not before `from`. */
struct seen {
    bool any, in_time; /* a day that can still be sown; one whose dates would do */
    bool early, late;  /* one that would be past use; one that would be ready too late */
};

static void look_at(const struct cot_calendar *c, const struct cot_wish *w, const struct cot_raise *r, int32_t i,
                    struct cot_window *out, struct seen *seen)
{
    struct cot_stages s;
    bool works = cot_raise_stages(c, r, c->first + i, &s);
    seen->any = true;
    if (r->plug > 0 && s.potted == COT_DAY_NONE) { /* as if people had worked, for the reason only */
        s.ready = s.sown + r->plug + r->ready;
        s.past = s.sown + r->plug + r->past;
    }
    if (s.ready > w->date + w->late) seen->late = true;
    else if (s.past < w->date - w->early) seen->early = true;
    else seen->in_time = true;
    if (works && s.ready <= w->date + w->late && s.past >= w->date - w->early) cot_dayset_add(&out->days, i);
}

static enum cot_window_why reason(const struct cot_window *out, const struct seen *seen)
{
    if (out->first >= 0) return COT_WINDOW_OPEN;
    if (seen->in_time) return COT_WINDOW_CLOSED;
    if (!seen->any || !seen->early) return COT_WINDOW_GONE;
    return seen->late ? COT_WINDOW_NEVER : COT_WINDOW_BEYOND;
}

enum cot_err cot_window_of(const struct cot_calendar *c, const struct cot_wish *w, cot_raise_on *raise, void *ctx,
                           struct cot_window *out, struct cot_fault *fault)
{
    struct seen seen = {0};
    enum cot_err err = check_wish(c, w, fault);
    *out = (struct cot_window){.first = -1, .last = -1, .why = COT_WINDOW_NEVER};
    if (err) return err;
    for (int32_t i = 0; i < c->days; i++) {
        struct cot_raise r = {0};
        if (c->first + i < w->from) continue;
        raise(ctx, c->first + i, &r);
        err = check_raise(&r, c->first + i, fault);
        if (err) return err;
        look_at(c, w, &r, i, out, &seen);
    }
    out->first = cot_dayset_next(&out->days, 0);
    out->last = cot_dayset_last(&out->days);
    out->why = reason(out, &seen);
    return COT_OK;
}
