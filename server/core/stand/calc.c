/* From counts, losses and what is known of the rate to the stand of one batch. */
#include "stand/sum.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "prob/prob.h"

int cot_place_order(const struct cot_place *x, const struct cot_place *y)
{
    if (x->t != y->t) return x->t < y->t ? -1 : 1;
    int c = strcmp(x->tag, y->tag);
    if (c != 0) return c;
    return x->number < y->number ? -1 : x->number > y->number;
}

static int work_cmp(const void *x, const void *y)
{
    const struct cot_work *a = x, *b = y;
    if (a->day != b->day) return a->day < b->day ? -1 : 1;
    return cot_place_order(&a->place, &b->place);
}

void cot_work_sort(struct cot_work *w, size_t n)
{
    if (n > 1) qsort(w, n, sizeof *w, work_cmp);
}

static int64_t at_most(int64_t x, int64_t most)
{
    return x < most ? x : most;
}

static int64_t not_below(int64_t x, int64_t least)
{
    return x > least ? x : least;
}

/* x * part / whole, rounded up, or down. */
static int64_t share_up(int64_t x, int64_t part, int64_t whole)
{
    return whole > 0 ? (x * part + whole - 1) / whole : 0;
}

static int64_t share_down(int64_t x, int64_t part, int64_t whole)
{
    return whole > 0 ? x * part / whole : 0;
}

/* Cells of tray i (from 0): all of them spread evenly. */
static int64_t cells_of(const struct cot_stand_in *in, int32_t i)
{
    return share_down(in->cells, i + 1, in->trays) - share_down(in->cells, i, in->trays);
}

static struct cot_tray *tray_by_number(struct cot_sum *s, int32_t number)
{
    return number >= 1 && number <= s->in->trays ? &s->tray[number - 1] : NULL;
}

static bool counted_since(const struct cot_tray *t, size_t index)
{
    return t->counted != COT_NEVER && t->counted > index;
}

/* A figure not taken follows from the others where it can; false when the count says nothing of the usable. */
static bool complete(struct cot_tray_count *c)
{
    if (c->usable == COT_COUNT_UNKNOWN && c->blanks != COT_COUNT_UNKNOWN && c->culls != COT_COUNT_UNKNOWN)
        c->usable = (int32_t)not_below((int64_t)c->looked - c->blanks - c->culls, 0);
    return c->looked > 0 && (c->usable != COT_COUNT_UNKNOWN || c->blanks != COT_COUNT_UNKNOWN);
}

static void put_count(struct cot_tray *t, const struct cot_tray_count *c, size_t index)
{
    struct cot_tray_count full = *c;
    if (!complete(&full)) return;
    t->c = full;
    t->counted = index;
}

/* What a count shows of `cells` cells. */
static void read_count(struct cot_tray *t, int64_t cells)
{
    if (t->c.usable != COT_COUNT_UNKNOWN) t->usable = t->c.usable;
    else t->survivors = not_below((int64_t)t->c.looked - t->c.blanks, 0);
    t->unseen = not_below(cells - t->c.looked, 0);
}

/* First walk: the latest count and loss of each tray, and the latest pooled count. */
static void latest(struct cot_sum *s)
{
    for (size_t i = 0; i < s->in->work_len; i++) {
        const struct cot_work *w = &s->in->work[i];
        if (w->what == COT_WORK_COUNT) {
            for (size_t k = 0; k < w->count_len; k++) {
                struct cot_tray *t = tray_by_number(s, w->counts[k].tray);
                if (t) put_count(t, &w->counts[k], i);
            }
        } else if (w->what == COT_WORK_POOLED) {
            put_count(&s->pool, &w->pooled, i);
            bool all = s->pool.counted == i && s->pool.c.looked >= s->in->cells;
            for (int32_t k = 0; all && k < s->in->trays; k++) s->tray[k].counted = COT_NEVER;
        } else if (w->what == COT_WORK_LOST && w->plants == COT_COUNT_UNKNOWN) {
            for (size_t k = 0; k < w->which_len; k++) {
                struct cot_tray *t = tray_by_number(s, w->which[k]);
                if (t) t->lost = i;
            }
        }
    }
}

static bool names(const struct cot_work *w, int32_t tray)
{
    for (size_t k = 0; k < w->which_len; k++)
        if (w->which[k] == tray) return true;
    return false;
}

/* Plants lost from tray i less those patched into it before `index`, each entry's spread evenly. */
static double gone_before(const struct cot_sum *s, int32_t i, size_t index)
{
    double gone = 0;
    for (size_t k = 0; k < index; k++) {
        const struct cot_work *w = &s->in->work[k];
        if (w->plants == COT_COUNT_UNKNOWN || (w->which_len > 0 && !names(w, i + 1))) continue;
        double part = w->which_len > 0 ? 1.0 / (double)w->which_len : (double)cells_of(s->in, i) / (double)s->in->cells;
        if (w->what == COT_WORK_PATCHED) gone -= (double)w->plants * part;
        else if (w->were_usable) gone += (double)w->plants * part;
    }
    return gone;
}

/* Figures of the count, and what it teaches of the rate. `cells`: those the count can speak for. */
static void learn(struct cot_sum *s, struct cot_stand *out, struct cot_tray *t, int64_t cells)
{
    const struct cot_tray_count *c = &t->c;
    int64_t looked = at_most(c->looked, cells);
    out->looked += c->looked;
    out->picked = out->picked || s->in->work[t->counted].picked;
    if (c->blanks != COT_COUNT_UNKNOWN) out->blanks += c->blanks;
    if (c->culls != COT_COUNT_UNKNOWN) out->culls += c->culls;
    if (c->doubles != COT_COUNT_UNKNOWN) out->doubles += c->doubles;
    if (c->usable == COT_COUNT_UNKNOWN) {
        int64_t survivors = not_below((int64_t)c->looked - c->blanks, 0);
        out->usable += survivors;
        out->bounded = true;
        t->looked = (double)looked;
        t->fit = (double)at_most(survivors, looked) * s->in->usable_share;
    } else {
        out->usable += c->usable;
        t->looked = (double)not_below(looked, c->usable);
        t->fit = (double)c->usable;
        if (c->culls != COT_COUNT_UNKNOWN) {
            out->sa += (double)c->usable;
            out->sb += (double)c->culls;
        }
    }
    s->a += t->fit;
    s->b += t->looked - t->fit;
}

static void learn_told(struct cot_sum *s, struct cot_stand *out, struct cot_tray *t, int64_t cells, double gone)
{
    t->gone = gone;
    learn(s, out, t, cells);
    s->told.fit += t->fit;
    s->told.looked += t->looked;
    s->told.gone += gone;
}

/* Counts of trays that nothing was lost from or patched into teach the rate first; the others are held against it. */
static void learn_trays(struct cot_sum *s, struct cot_stand *out)
{
    for (int32_t i = 0; i < s->in->trays; i++) {
        struct cot_tray *t = &s->tray[i];
        if (t->counted == COT_NEVER) continue;
        int64_t cells = cells_of(s->in, i);
        t->gone = gone_before(s, i, t->counted) * (double)at_most(t->c.looked, cells) / (double)(cells > 0 ? cells : 1);
        t->early = s->in->work[t->counted].day < s->in->count_day;
        if (t->gone == 0) learn(s, out, t, cells);
        out->trays_counted++;
    }
    s->told.a = s->a;
    s->told.b = s->b;
    for (int32_t i = 0; i < s->in->trays; i++) {
        struct cot_tray *t = &s->tray[i];
        if (t->counted != COT_NEVER && t->gone != 0) learn_told(s, out, t, cells_of(s->in, i), t->gone);
    }
}

static double between(double low, double high, double x)
{
    return x < low ? low : x > high ? high : x;
}

/* Plants gone are taken off the cells not seen by themselves, so the counts that show it must not teach it once more:
 * the rate is learned from them as they would have been before, as far as they are that much off the rate held without
 * them, give or take one standard deviation (of the beta-binomial). */
static void learn_back(struct cot_sum *s)
{
    struct cot_told *t = &s->told;
    double n = t->looked, rate = t->a / (t->a + t->b);
    double spread = sqrt(n * rate * (1 - rate) * (t->a + t->b + n) / (t->a + t->b + 1)), off = rate * n - t->fit;
    double more = t->gone > 0 ? between(0, t->gone, off + spread) : between(t->gone, 0, off - spread);
    t->more = between(-t->fit, n - t->fit, more);
    s->a += t->more;
    s->b -= t->more;
}

static void place_trays(struct cot_sum *s, struct cot_stand *out)
{
    learn_trays(s, out);
    for (int32_t i = 0; i < s->in->trays; i++) {
        struct cot_tray *t = &s->tray[i];
        t->unseen = cells_of(s->in, i);
        if (t->counted != COT_NEVER) read_count(t, t->unseen);
        s->usable += t->usable;
        s->survivors += t->survivors;
        s->unseen += t->unseen;
        s->live += s->in->tray_cells;
    }
}

/* A pooled count speaks for cells not counted by number, of trays that were there; what does not fit there was counted
 * by number too. */
static void place_pool(struct cot_sum *s, struct cot_stand *out)
{
    struct cot_tray *p = &s->pool;
    if (p->counted == COT_NEVER) return;
    int64_t room = 0;
    double gone = 0;
    for (int32_t i = 0; i < s->in->trays; i++) {
        const struct cot_tray *t = &s->tray[i];
        if (cot_tray_dead(t) && t->lost < p->counted) continue;
        room += t->unseen;
        if (t->unseen > 0) gone += gone_before(s, i, p->counted) * (double)t->unseen / (double)cells_of(s->in, i);
    }
    int64_t fit = at_most(p->c.looked, room);
    s->pool_room = room;
    struct cot_tray_count *c = &p->c, whole = p->c;
    c->looked = (int32_t)fit;
    if (whole.usable != COT_COUNT_UNKNOWN) c->usable = (int32_t)share_down(whole.usable, fit, whole.looked);
    if (whole.blanks != COT_COUNT_UNKNOWN) c->blanks = (int32_t)share_down(whole.blanks, fit, whole.looked);
    if (whole.culls != COT_COUNT_UNKNOWN) c->culls = (int32_t)share_down(whole.culls, fit, whole.looked);
    if (whole.doubles != COT_COUNT_UNKNOWN) c->doubles = (int32_t)share_down(whole.doubles, fit, whole.looked);
    read_count(p, fit);
    p->unseen = fit;
    p->early = s->in->work[p->counted].day < s->in->count_day;
    learn_told(s, out, p, fit, room > 0 ? gone * (double)fit / (double)room : 0);
    s->unseen -= fit;
    s->usable += p->usable;
    s->survivors += p->survivors;
}

/* Expected usable plants of cells not seen and survivors. */
static int64_t expected(const struct cot_sum *s, const struct cot_stand *out, int64_t unseen, int64_t survivors)
{
    double x = (double)unseen * (s->a / (s->a + s->b)) + (double)survivors * (out->sa / (out->sa + out->sb));
    return (int64_t)(x + 0.5);
}

static void take_off(struct cot_sum *s, const struct cot_stand *out, int64_t usable, int64_t survivors, int64_t unseen)
{
    s->usable -= usable;
    s->survivors = not_below(s->survivors - survivors, 0);
    s->unseen = not_below(s->unseen - unseen, 0);
    s->lost += usable + expected(s, out, unseen, survivors);
}

/* Takes the pool's share of `cells` not counted by number off, when those cells left after the pool was counted.
 * Returns how many of the cells were the pool's. */
static int64_t take_pool(struct cot_sum *s, const struct cot_stand *out, int64_t cells, size_t index)
{
    struct cot_tray *p = &s->pool;
    if (p->counted == COT_NEVER || p->counted > index || p->unseen == 0) return 0;
    int64_t all = s->unseen + p->unseen, mine = at_most(share_down(cells, p->unseen, all), p->unseen);
    int64_t usable = share_up(p->usable, mine, p->unseen), survivors = share_up(p->survivors, mine, p->unseen);
    take_off(s, out, usable, survivors, 0);
    p->usable -= usable;
    p->survivors -= survivors;
    p->unseen -= mine;
    return mine;
}

static void lose_tray(struct cot_sum *s, const struct cot_stand *out, struct cot_tray *t, size_t index)
{
    if (!t || t->lost != index || !cot_tray_dead(t)) return;
    int64_t pooled = take_pool(s, out, t->unseen, index);
    take_off(s, out, t->usable, t->survivors, not_below(t->unseen - pooled, 0));
    s->live -= s->in->tray_cells;
    t->usable = t->survivors = t->unseen = 0;
}

/* Trays lost without numbers are some of those not counted since: each takes the average of them with it. */
static void lose_nameless(struct cot_sum *s, const struct cot_stand *out, int64_t trays, size_t index)
{
    int64_t there = 0, usable = 0, survivors = 0, unseen = 0;
    for (int32_t i = 0; i < s->in->trays; i++) {
        const struct cot_tray *t = &s->tray[i];
        if (cot_tray_dead(t) && t->lost <= index) continue;
        if (counted_since(t, index)) continue;
        there++;
        usable += t->usable;
        survivors += t->survivors;
        unseen += t->unseen;
    }
    int64_t gone = at_most(trays, there - s->nameless);
    if (gone <= 0) return;
    if (counted_since(&s->pool, index)) unseen = not_below(unseen - s->pool.unseen, 0);
    unseen = share_up(unseen, gone, there);
    int64_t before = s->lost, pooled = take_pool(s, out, unseen, index);
    usable = share_up(usable, gone, there);
    survivors = share_up(survivors, gone, there);
    unseen -= pooled;
    /* Of what was lost from these trays plant by plant before, their part has been taken off already. */
    int64_t taken = s->lost - before + usable + expected(s, out, unseen, survivors);
    int64_t already = at_most(s->loose * gone / (there - s->nameless), taken);
    s->loose -= already;
    take_off(s, out, usable - already, survivors, unseen);
    s->live -= gone * s->in->tray_cells;
    s->nameless += gone;
}

/* Cells of a tray whose later figure holds what was done at `index`: counted since, by number or in the pool, or thrown
 * out since, tray and all. */
static int64_t told_since(const struct cot_sum *s, int32_t i, size_t index)
{
    const struct cot_tray *t = &s->tray[i];
    int64_t cells = cells_of(s->in, i), told = 0;
    if (cot_tray_dead(t)) return cells;
    if (counted_since(t, index)) told = t->c.looked;
    if (counted_since(&s->pool, index)) told += share_down(t->unseen, s->pool.c.looked, s->pool_room);
    return at_most(told, cells);
}

/* Of plants lost or added in trays that were there: the part on cells not told of since, as part / whole. */
static void not_told_since(const struct cot_sum *s, const struct cot_work *w, size_t index, int64_t *part,
                           int64_t *whole)
{
    size_t trays = w->which_len > 0 ? w->which_len : (size_t)s->in->trays;
    *part = *whole = 0;
    for (size_t k = 0; k < trays; k++) {
        int32_t i = w->which_len > 0 ? w->which[k] - 1 : (int32_t)k;
        if (i < 0 || i >= s->in->trays || (cot_tray_dead(&s->tray[i]) && s->tray[i].lost < index)) continue;
        *whole += cells_of(s->in, i);
        *part += cells_of(s->in, i) - told_since(s, i, index);
    }
}

/* Blanks seen; where they were not told from culls, both. */
static int64_t blanks_in(const struct cot_tray_count *c)
{
    return c->blanks != COT_COUNT_UNKNOWN ? c->blanks : (int64_t)c->looked - c->usable;
}

static int64_t blanks_of_tray(const struct cot_tray *t, size_t index)
{
    return cot_tray_dead(t) || counted_since(t, index) || t->counted == COT_NEVER ? 0 : blanks_in(&t->c);
}

/* Blanks that a patching can have filled: those seen before it, and any among the cells not seen. */
static int64_t blanks_of_batch(const struct cot_sum *s, size_t index)
{
    int64_t room = s->unseen - s->patched;
    for (int32_t i = 0; i < s->in->trays; i++) room += blanks_of_tray(&s->tray[i], index);
    if (s->pool.counted != COT_NEVER && !counted_since(&s->pool, index)) room += blanks_in(&s->pool.c);
    return not_below(room, 0);
}

/* The same in the trays that it names, filled up one after the other; returns how many plants found room. */
static int64_t patch_named(struct cot_sum *s, const struct cot_work *w, int64_t plants, size_t index)
{
    int64_t left = plants;
    for (size_t k = 0; k < w->which_len; k++) {
        struct cot_tray *t = tray_by_number(s, w->which[k]);
        if (!t || cot_tray_dead(t) || counted_since(t, index)) continue;
        int64_t room = not_below(blanks_of_tray(t, index) + t->unseen - t->patched, 0), here = at_most(left, room);
        t->patched += here;
        left -= here;
    }
    return plants - left;
}

static void lose(struct cot_sum *s, const struct cot_stand *out, const struct cot_work *w, size_t index)
{
    if (w->plants == COT_COUNT_UNKNOWN) {
        for (size_t k = 0; k < w->which_len; k++) lose_tray(s, out, tray_by_number(s, w->which[k]), index);
        if (w->which_len == 0) lose_nameless(s, out, w->trays, index);
        return;
    }
    if (!w->were_usable) return;
    int64_t part, whole;
    not_told_since(s, w, index, &part, &whole);
    int64_t plants = share_up(w->plants, part, whole);
    s->usable -= plants;
    s->lost += plants;
    s->loose += plants;
}

static void patch(struct cot_sum *s, const struct cot_work *w, size_t index)
{
    int64_t part, whole;
    not_told_since(s, w, index, &part, &whole);
    int64_t plants = at_most(share_down(w->plants, part, whole), blanks_of_batch(s, index));
    if (w->which_len > 0) plants = patch_named(s, w, plants, index);
    s->usable += plants;
    s->patched += plants;
    s->loose -= plants;
}

static int32_t latest_count_day(const struct cot_sum *s)
{
    int32_t day = s->pool.counted != COT_NEVER ? s->in->work[s->pool.counted].day : COT_DAY_NONE;
    for (int32_t i = 0; i < s->in->trays; i++) {
        size_t at = s->tray[i].counted;
        if (at != COT_NEVER && s->in->work[at].day > day) day = s->in->work[at].day;
    }
    return day;
}

static bool has_sense(const struct cot_stand_in *in)
{
    double sum = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        if (!(in->rho_weight[r] >= 0)) return false;
        sum += in->rho_weight[r];
    }
    return sum > 0.999 && sum < 1.001 && in->before.sd > 0 && in->before.sd < 1e3 && in->before.mean > -700 &&
           in->before.mean < 700 && in->trays >= 0 && in->cells >= 0 && in->tray_cells >= 0 &&
           (in->trays > 0 || in->cells == 0) && in->usable_share >= 0 && in->usable_share <= 1;
}

enum cot_err cot_stand_sum(const struct cot_stand_in *in, struct cot_stand *out, struct cot_learned *learned)
{
    struct cot_sum s = {.in = in, .pool = {.counted = COT_NEVER, .lost = COT_NEVER}};
    struct cot_learned own;
    if (!learned) learned = &own;
    *learned = (struct cot_learned){0};
    if (!has_sense(in)) return COT_INVALID;
    s.tray = calloc(in->trays > 0 ? (size_t)in->trays : 1, sizeof *s.tray);
    if (!s.tray) return COT_MEMORY;
    for (int32_t i = 0; i < in->trays; i++) s.tray[i].counted = s.tray[i].lost = COT_NEVER;

    out->cells = in->cells;
    cot_rate_beta(&in->before, in->usable, in->cell, &s.a, &s.b);
    out->sa = COT_SHARE_WEIGHT * in->usable_share;
    out->sb = COT_SHARE_WEIGHT * (1 - in->usable_share) + 1e-6;
    latest(&s);
    out->counted = latest_count_day(&s);
    place_trays(&s, out);
    place_pool(&s, out);
    learn_back(&s);
    /* Plants potted on stand in fewer cells than the trays have: those found in some trays are not in the others. */
    s.unseen = at_most(s.unseen, not_below(in->cells - s.usable - s.survivors, 0));
    for (size_t i = 0; i < in->work_len; i++) {
        if (in->work[i].what == COT_WORK_LOST) lose(&s, out, &in->work[i], i);
        else if (in->work[i].what == COT_WORK_PATCHED) patch(&s, &in->work[i], i);
    }
    out->unseen = s.unseen;
    out->survivors = s.survivors;
    out->fixed = s.usable;
    out->lost = s.lost;
    out->most = not_below(at_most(s.live, in->cells + s.patched), 0);
    enum cot_err err = cot_sum_rate(&s, out, learned);
    free(s.tray);
    return err;
}
