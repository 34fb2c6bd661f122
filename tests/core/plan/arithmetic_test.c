/* docs/arithmetic.md, "Planning": its worked examples are computed here again, and must stand there word for word. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../page.h"
#include "cotyledger/core/day.h"
#include "cotyledger/core/plate.h"

/* --- Windows --- */
static const struct cot_raise leafy = {.chamber = 3, .ready = 35, .past = 45, .harden = 7};

static void as_leafy(void *ctx, int32_t day, struct cot_raise *out)
{
    (void)ctx;
    (void)day;
    *out = leafy;
}

static struct cot_calendar spring(void)
{
    return (struct cot_calendar){cot_day_of(2027, 1, 4), 182, 31, NULL, 0};
}

static const char *word(const struct cot_wish *w, const struct cot_stages *s, bool works)
{
    if (s->past < w->date - w->early) return "past use by then";
    if (s->ready > w->date + w->late) return "ready too late";
    return works ? "good" : "nobody there";
}

static bool put_day(const struct cot_calendar *c, const struct cot_wish *w, int32_t day)
{
    static const char *const name[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    char sown[COT_DAY_TEXT], ready[COT_DAY_TEXT], past[COT_DAY_TEXT];
    int year, week, weekday, up;
    struct cot_stages s;
    bool works = cot_raise_stages(c, &leafy, day, &s);
    cot_week_of(day, &year, &week, &weekday);
    cot_week_of(s.up, &year, &week, &up);
    cot_day_text(day, sown);
    cot_day_text(s.ready, ready);
    cot_day_text(s.past, past);
    const char *what = word(w, &s, works);
    put("%s %s  up %s  ready %s  past use %s  %s\n", name[weekday - 1], sown, name[up - 1], ready, past, what);
    return strcmp(what, "good") == 0;
}

START_TEST(window)
{
    struct cot_calendar c = spring();
    struct cot_wish w = {cot_day_of(2027, 4, 16), 0, 0, c.first};
    struct cot_window out;
    ck_assert_int_eq(cot_window_of(&c, &w, as_leafy, NULL, &out, NULL), COT_OK);
    for (int32_t d = cot_day_of(2027, 3, 1); d <= cot_day_of(2027, 3, 15); d++)
        if (cot_calendar_works(&c, d)) ck_assert_int_eq(put_day(&c, &w, d), cot_dayset_have(&out.days, d - c.first));
    compare("window");
}
END_TEST

/* --- Levelling --- */
#define BATCHES 8

struct plan {
    struct cot_level_batch batch[BATCHES];
    struct cot_use use[BATCHES];
    struct cot_resource bench;
    int64_t room[60], use_of[60];
    struct cot_level_ask ask;
    int32_t day[BATCHES];
    struct cot_level got;
};

/* Eight batches of 60 trays, 28 days on the bench; each has the ten working days of two weeks to choose from. */
static void eight_batches(struct plan *p)
{
    for (int i = 0; i < 60; i++) p->room[i] = 400;
    p->bench = (struct cot_resource){p->room, true};
    for (int32_t i = 0; i < BATCHES; i++) {
        p->use[i] = (struct cot_use){0, 3, 3 + 28, 0, 60, NULL, NULL};
        p->batch[i] = (struct cot_level_batch){&p->use[i], 1, {{0}}, -1, -1, (uint32_t)i + 1};
        for (int32_t d = i / 2 * 7; d < i / 2 * 7 + 12; d++)
            if (d % 7 < 5) cot_dayset_add(&p->batch[i].days, d);
    }
    p->ask = (struct cot_level_ask){60, &p->bench, 1, p->batch, BATCHES, false, 0};
    p->got.day = p->day;
}

static int64_t most_of(struct plan *p)
{
    int64_t most = 0;
    cot_level_use(&p->ask, p->day, 0, p->use_of);
    for (int i = 0; i < 60; i++)
        if (p->use_of[i] > most) most = p->use_of[i];
    return most;
}

START_TEST(levelled)
{
    static struct plan p;
    eight_batches(&p);
    void *space = malloc(cot_level_bytes(&p.ask));
    for (int i = 0; i < BATCHES; i++) p.day[i] = cot_dayset_last(&p.batch[i].days);
    put("every batch sown on its last day     %4lld trays on the fullest day\n", (long long)most_of(&p));
    for (int i = 0; i < BATCHES; i++) p.day[i] = cot_dayset_next(&p.batch[i].days, 0);
    put("every batch sown on its first day    %4lld trays on the fullest day\n", (long long)most_of(&p));
    ck_assert_int_eq(cot_level_plan(&p.ask, space, &p.got, NULL), COT_OK);
    put("as planned                           %4lld trays on the fullest day\n", (long long)most_of(&p));
    put("no plan has fewer than               %4lld trays on its fullest day\n",
        (long long)(p.got.bound * 400 / 1000000));
    free(space);
    compare("levelled");
}
END_TEST

START_TEST(holes)
{
    static const struct {
        const char *what;
        int64_t seeds_per_g;
        enum cot_seed_form form;
        enum cot_seed_shape shape;
    } row[] = {{"raw, round, 300 seeds in a gram", 300, COT_SEED_RAW, COT_SHAPE_ROUND},
               {"raw, flat, 900 seeds in a gram", 900, COT_SEED_RAW, COT_SHAPE_FLAT},
               {"pelleted, 60 pellets in a gram", 60, COT_SEED_PELLETED, COT_SHAPE_FLAT}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct cot_hole_range r = cot_hole_range(row[i].seeds_per_g, row[i].form, row[i].shape);
        put("%-33s about %.1f mm across   hole %.2f to %.2f mm\n", row[i].what,
            (double)cot_seed_um(row[i].seeds_per_g) / 1000, (double)r.low / 1000, (double)r.high / 1000);
    }
    compare("holes");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("core/plan/arithmetic");
    TCase *t = tcase_create("arithmetic");
    tcase_add_test(t, window);
    tcase_add_test(t, levelled);
    tcase_add_test(t, holes);
    suite_add_tcase(s, t);
    return s;
}
