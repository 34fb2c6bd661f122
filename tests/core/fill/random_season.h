/* A season drawn at random, of a small house: its rules, batches, counts, lines, promises and hand-overs; and all
 * figures of a fill as one number. */
#ifndef COT_TESTS_CORE_RANDOM_SEASON_H
#define COT_TESTS_CORE_RANDOM_SEASON_H

#include <math.h>

#include "cotyledger/core/fill.h"
#include "../season.h"

#define SOWN 20900        /* 2027-03-23 */
#define READY (SOWN + 28) /* past use after SOWN + 35 */

static struct season s;
static struct cot_id crop, red, green, format, other_format, lot, alder, birch;
static struct cot_book *book;
static struct cot_fill fill;

static void setup(void)
{
    season_new(&s, 2);
    start_crop(&s, "Lettuce", 28, 35);
    say(&s, COT_F_LATER_LOSS, 0); /* what was counted stays */
    crop = *done(&s);
    red = add_variety(&s, "Red Harbour", &crop);
    green = add_variety(&s, "Green Harbour", &crop);
    format = add_format(&s, "72 square", 6, 12);
    other_format = add_format(&s, "128 square", 8, 16);
    start_lot(&s, "RH-1", &red, 372);
    lot = *done(&s);
    alder = add_named(&s, COT_K_FARM, "Alder Ford");
    birch = add_named(&s, COT_K_FARM, "Birch Lane");
    book = NULL;
    memset(&fill, 0, sizeof fill);
}

static void teardown(void)
{
    cot_fill_free(&fill);
    cot_book_free(book);
    season_free(&s);
}

static uint64_t mix(uint64_t h, int64_t x)
{
    return (h ^ (uint64_t)x) * UINT64_C(1099511628211);
}

static uint64_t mix_id(uint64_t h, const struct cot_id *id)
{
    for (size_t i = 0; i < sizeof id->b; i++) h = mix(h, id->b[i]);
    return h;
}

/* All figures of a fill as one number. */
static uint64_t fingerprint(const struct cot_fill *f)
{
    uint64_t h = UINT64_C(14695981039346656037);
    for (uint32_t i = 0; i < f->line_count; i++) {
        const struct cot_fill_line *l = &f->line[i];
        const int64_t figures[] = {l->date,     l->asked,        l->wanted,
                                   l->promised, l->handed,       l->allotted,
                                   l->likely,   l->count_on,     llrint(l->chance * 1e9),
                                   l->verdict,  l->short_by,     l->waiting,
                                   l->request,  l->least_missed, l->declined,
                                   l->extra,    l->unit,         l->passed_over};
        h = mix_id(h, &l->line->id);
        for (size_t k = 0; k < sizeof figures / sizeof figures[0]; k++) h = mix(h, figures[k]);
    }
    for (uint32_t i = 0; i < f->batch_count; i++) {
        const struct cot_stand *t = &f->stand[i];
        const int64_t figures[] = {t->cells, t->looked, t->usable, t->unseen,   t->fixed, t->lost,
                                   t->out,   t->back,   t->likely, t->count_on, t->over};
        h = mix(mix(mix_id(h, &t->batch), f->serves[i].left), llrint(f->serves[i].chance * 1e9));
        for (size_t k = 0; k < sizeof figures / sizeof figures[0]; k++) h = mix(h, figures[k]);
    }
    for (uint32_t i = 0; i < f->allot_count; i++)
        h = mix(mix(mix(mix(h, f->allot[i].line), f->allot[i].batch), f->allot[i].plants), f->allot[i].substitute);
    for (uint32_t i = 0; i < f->farm_count; i++) {
        const struct cot_fill_farm *k = &f->farm[i];
        const int64_t figures[] = {k->likely, k->count_on, k->own_left, llrint(k->chance * 1e9),
                                   llrint(k->misses * 1e9)};
        h = mix_id(h, &k->farm->id);
        for (size_t n = 0; n < sizeof figures / sizeof figures[0]; n++) h = mix(h, figures[n]);
    }
    return h;
}

static struct cot_id batches_made[16], lines_made[24];
static struct cot_tray_count tray_counts[200];

/* The house's rules: of sharing, of units, its confidence. */
static void random_rules(struct dice *d)
{
    make(&s, COT_K_RULE);
    about(&s, &s.row[0].digest);
    say(&s, COT_F_SHARE, dice_int(d, 0, 2));
    int64_t unit = dice_int(d, 0, 4);
    say(&s, COT_F_UNIT, unit > 2 ? 0 : unit);
    say(&s, COT_F_CONFIDENCE, dice_int(d, 0, 1) ? 900 : 950);
    done(&s);
}

static void random_season(struct dice *d, uint64_t ids)
{
    size_t counts = 0;
    const struct cot_id *varieties[] = {&red, &green}, *formats[] = {&format, &other_format},
                        *farms[] = {&alder, &birch};
    teardown();
    setup();
    s.dice.s = ids;
    random_rules(d);
    start_lot(&s, "GH-1", &green, 350);
    say(&s, COT_F_ORGANIC, dice_int(d, 0, 1));
    struct cot_id green_lot = *done(&s);
    start_lot(&s, "RH-2", &red, 360);
    point(&s, COT_F_OWNER, &birch);
    struct cot_id birch_lot = *done(&s);
    int batches = (int)dice_int(d, 1, 10);
    int lines = (int)dice_int(d, 1, 20);
    for (int i = 0; i < batches; i++) {
        /* One draw a statement: the order of arguments is the compiler's own. */
        const struct cot_id *of_lot = dice_int(d, 0, 1) ? &lot : &green_lot;
        if (dice_int(d, 0, 5) == 0) of_lot = &birch_lot;
        const struct cot_id *of_format = formats[dice_int(d, 0, 1)];
        int trays = (int)dice_int(d, 1, 8);
        int32_t day = SOWN + (int32_t)dice_int(d, 0, 9);
        start_sown(&s, of_lot, of_format, trays, day);
        batches_made[i] = *done(&s);
        for (int64_t k = dice_int(d, 0, 2); k > 0; k--) {
            int32_t usable = (int32_t)dice_int(d, 40, 70);
            tray_counts[counts] = (struct cot_tray_count){(int32_t)k, 72, usable, 72 - usable, 0, COT_COUNT_UNKNOWN};
            make(&s, COT_K_COUNT);
            about(&s, &batches_made[i]);
            say(&s, COT_F_DAY, SOWN + 24);
            ck_assert(cot_fact_set_counts(&s.next, COT_F_COUNTS, &tray_counts[counts++], 1));
            if (k <= trays) done(&s);
        }
    }
    for (int i = 0; i < lines; i++) {
        int64_t farm = dice_int(d, 0, 1);
        int64_t variety = dice_int(d, 0, 1);
        int plants = (int)dice_int(d, 20, 300);
        int32_t day = READY + (int32_t)dice_int(d, 0, 8);
        start_line(&s, farms[farm], varieties[variety], plants, day);
        say(&s, COT_F_LATE, dice_int(d, 0, 6));
        say(&s, COT_F_EARLY, dice_int(d, 0, 3));
        if (dice_int(d, 0, 2) == 0) point(&s, COT_F_FORMAT, formats[dice_int(d, 0, 1)]);
        if (dice_int(d, 0, 2) == 0) point(&s, COT_F_SUBS, varieties[1 - variety]);
        if (dice_int(d, 0, 3) == 0) say(&s, COT_F_LEAST, dice_int(d, 1, plants));
        if (dice_int(d, 0, 1) == 0) say(&s, COT_F_PRIORITY, dice_int(d, 1, 4));
        lines_made[i] = *done(&s);
        for (int64_t k = dice_int(d, 0, 2); k > 0; k--)
            promise(&s, &lines_made[i], farms[farm], (int)dice_int(d, 10, 300));
        if (dice_int(d, 0, 4) > 0) continue;
        const struct cot_id *from = &batches_made[dice_int(d, 0, batches - 1)];
        plants = (int)dice_int(d, 1, 60);
        hand_over(&s, &lines_made[i], farms[farm], from, plants, READY);
    }
}

#endif
