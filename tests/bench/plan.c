/* Planning: years of made-up orders through windows, groups and levelling. Time is that of the processor; gaps say how
 * far above the bound the highest use of the benches is at most. */
#define SEASON_ROWS 40000
#include "../core/season.h"
#include "../core/plan/year.h"
#include "../core/season/orders.h"

#include <math.h>
#include <time.h>

#include "bench.h"
#include "cotyledger/core/plate.h"

#define YEARS 9

static double cpu(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static void row(const char *what, uint32_t n, const char *more, double value, const char *unit)
{
    char name[60];
    snprintf(name, sizeof name, "plan/%s_%u%s", what, (unsigned)n, more);
    bench_row(name, value, unit);
}

/* --- Levelling: a batch for each line, the hardest case --- */
struct measured {
    double seconds, gap; /* percent */
};

static struct measured level(const struct year *y, struct cot_level *got)
{
    void *space = malloc(cot_level_bytes(&y->ask));
    double from = cpu();
    BENCH_MUST(cot_level_plan(&y->ask, space, got, NULL) == COT_OK);
    double seconds = cpu() - from;
    free(space);
    return (struct measured){seconds, (double)got->gap / 10000};
}

static void levels(const char *what, uint32_t n, int64_t slack, size_t years)
{
    double seconds[YEARS], gap[YEARS], gave_way = 0;
    struct cot_level got = {.day = malloc(n * sizeof(int32_t))};
    for (size_t i = 0; i < years; i++) {
        struct dice d = {1000 + i};
        struct year *y = year_make(n, &d, slack);
        struct measured m = level(y, &got);
        seconds[i] = m.seconds;
        gap[i] = m.gap;
        gave_way += got.gave_way;
        year_free(y);
    }
    row(what, n, "", bench_median(seconds, years), "s");
    row(what, n, "_worst", seconds[years - 1], "s"); /* they are sorted now */
    row(what, n, "_gap", bench_median(gap, years), "%");
    row(what, n, "_gap_worst", gap[years - 1], "%");
    if (slack < 1000) row(what, n, "_gave_way", gave_way / (double)years, "batches");
    free(got.day);
}

/* After the year was planned a part of the benches is out of use for two weeks: they hold a twentieth less than was
 * planned for them. */
static void replan(uint32_t n)
{
    struct dice d = {7};
    struct year *y = year_make(n, &d, 1000);
    struct cot_level got = {.day = malloc(n * sizeof(int32_t))};
    int64_t use[YEAR_DAYS];
    level(y, &got);
    cot_level_use(&y->ask, got.day, YEAR_BENCH, use);
    for (uint32_t i = 0; i < n; i++) y->batch[i].standing = got.day[i];
    for (int i = 60; i < 74; i++) y->room[YEAR_BENCH][i] = use[i] * 95 / 100;
    y->ask.keep_close = true;
    row("replan", n, "", level(y, &got).seconds, "s");
    row("replan", n, "_moved", (double)got.moved, "batches");
    row("replan", n, "_gave_way", (double)got.gave_way, "batches");
    free(got.day);
    year_free(y);
}

/* --- Windows and groups --- */
static void raise_plainly(void *ctx, int32_t day, struct cot_raise *out)
{
    (void)day;
    *out = *(const struct cot_raise *)ctx;
}

static int64_t trays_of(void *ctx, uint32_t lot, int64_t plants)
{
    (void)ctx;
    (void)lot;
    return (plants + 110) / 111;
}

static int64_t seeds_of(void *ctx, uint32_t lot, int64_t trays)
{
    (void)ctx;
    (void)lot;
    return trays * 128;
}

#define A_VARIETY 12 /* lines */
struct group_room {
    struct cot_group_line line[A_VARIETY];
    struct cot_group_batch batch[A_VARIETY * 3];
    struct cot_group_part part[A_VARIETY * 3];
    struct cot_group got;
};

static uint32_t one_variety(struct group_room *g, struct dice *d)
{
    const struct cot_calendar c = {20822, YEAR_DAYS, 31, NULL, 0};
    struct cot_raise r = {.chamber = (int32_t)dice_int(d, 2, 5), .ready = 7 * (int32_t)dice_int(d, 4, 8), .harden = 7};
    struct cot_group_lot lot = {dice_int(d, 0, 9000), INT32_MAX};
    struct cot_group_ask ask = {g->line, A_VARIETY, &lot, 1, trays_of, seeds_of, NULL, NULL, 0};
    r.past = r.ready + (int32_t)dice_int(d, 4, 10);
    for (int i = 0; i < A_VARIETY; i++) {
        struct cot_wish w = {c.first + year_date(d), (int32_t)dice_int(d, 0, 5), (int32_t)dice_int(d, 0, 5), c.first};
        struct cot_window window;
        BENCH_MUST(cot_window_of(&c, &w, raise_plainly, &r, &window, NULL) == COT_OK);
        g->line[i] = (struct cot_group_line){window.days, dice_int(d, 50, 2000)};
    }
    void *space = malloc(cot_group_bytes(A_VARIETY));
    g->got =
        (struct cot_group){.batch = g->batch, .batch_room = A_VARIETY * 3, .part = g->part, .part_room = A_VARIETY * 3};
    BENCH_MUST(cot_group_lines(&ask, space, &g->got, NULL) == COT_OK);
    free(space);
    return g->got.batches;
}

static void groups(uint32_t lines)
{
    struct dice d = {3};
    struct group_room *g = calloc(1, sizeof *g);
    uint32_t batches = 0;
    double from = cpu();
    for (uint32_t i = 0; i < lines; i += A_VARIETY) batches += one_variety(g, &d);
    row("group", lines, "", cpu() - from, "s");
    row("group", lines, "_batches", batches, "batches");
    free(g);
}

/* --- Plates: forty, five formats, sowings that suit a few of them each --- */
static void plates(uint32_t sowings)
{
    struct dice d = {5};
    struct cot_dayset *usable = calloc(sowings, sizeof *usable);
    struct cot_plate_share share[40];
    struct cot_hit h;
    uint32_t without;
    void *space = malloc(cot_plate_season_bytes(sowings));
    for (uint32_t i = 0; i < sowings; i++) {
        int32_t format = (int32_t)dice_int(&d, 0, 4);
        for (int k = 0; k < 4; k++) cot_dayset_add(&usable[i], format * 8 + (int32_t)dice_int(&d, 0, 7));
    }
    double from = cpu();
    BENCH_MUST(cot_plate_season(usable, sowings, 40, space, share, &without, &h, NULL) == COT_OK);
    row("plates", sowings, "", cpu() - from, "s");
    row("plates", sowings, "_needed", h.count, "plates");
    row("plates", sowings, "_bound", h.bound, "plates");
    free(usable);
    free(space);
}

/* --- A whole book: from the order book to sowings, days and places --- */
static double plan_book(struct cot_book *b, const struct cot_season_ask *ask, struct cot_season *p)
{
    double from = cpu();
    BENCH_MUST(cot_season_plan(b, ask, p, NULL) == COT_OK);
    return cpu() - from;
}

static double seasons(uint32_t n, size_t years)
{
    double seconds[YEARS], gap[YEARS], peak[YEARS], bound[YEARS], trays = 0, sowings = 0, changes = 0, covered = 0;
    for (size_t i = 0; i < years; i++) {
        struct dice d = {500 + i};
        struct orders *o = orders_new(n, &d);
        struct cot_book *b = season_book(&o->s, NULL);
        struct cot_season p;
        seconds[i] = plan_book(b, &(struct cot_season_ask){.on = ORDERS_ON}, &p);
        gap[i] = (double)p.gap / 10000;
        peak[i] = (double)p.peak / 10000;
        bound[i] = (double)p.bound / 10000;
        trays += (double)p.trays;
        sowings += p.kept + p.changed + p.fresh;
        changes += (double)p.plate_changes;
        covered += 100.0 * p.covered / p.line_count;
        cot_season_free(&p);
        cot_book_free(b);
        orders_free(o);
    }
    double middle = bench_median(seconds, years);
    row("season", n, "", middle, "s");
    row("season", n, "_peak", bench_median(peak, years), "%");
    row("season", n, "_bound", bench_median(bound, years), "%");
    row("season", n, "_gap", bench_median(gap, years), "%");
    row("season", n, "_trays", trays / (double)years, "trays");
    row("season", n, "_sowings", sowings / (double)years, "sowings");
    row("season", n, "_plate_changes", changes / (double)years, "changes");
    row("season", n, "_covered", covered / (double)years, "%");
    return middle;
}

/* The plan is accepted, a tenth more of orders come a fortnight later. */
static void replan_book(uint32_t n)
{
    struct dice d = {600};
    struct orders *o = orders_new(n, &d);
    struct cot_book *first = season_book(&o->s, NULL), *b; /* the first has the names that the planned sowings carry */
    struct cot_season p, afresh;
    plan_book(first, &(struct cot_season_ask){.on = ORDERS_ON}, &p);
    orders_accept(o, &p);
    cot_season_free(&p);
    for (uint32_t i = 0; i < n / 10; i++) (void)orders_line(o, &d);
    b = season_book(&o->s, NULL);
    const struct cot_season_ask later = {.on = ORDERS_ON + 14}, anew = {.on = ORDERS_ON + 14, .from_scratch = true};
    row("season_again", n, "", plan_book(b, &later, &p), "s");
    row("season_again", n, "_moved", p.moved, "sowings");
    row("season_again", n, "_kept", p.kept, "sowings");
    row("season_again", n, "_peak", (double)p.peak / 10000, "%");
    row("season_again", n, "_covered", p.covered, "lines");
    plan_book(b, &anew, &afresh);
    row("season_again", n, "_peak_afresh", (double)afresh.peak / 10000, "%");
    row("season_again", n, "_covered_afresh", afresh.covered, "lines");
    cot_season_free(&p);
    cot_season_free(&afresh);
    cot_book_free(b);
    cot_book_free(first);
    orders_free(o);
}

/* What planning lines together saves. */
static void together(uint32_t n)
{
    static const char *const names[] = {"together", "each_alone"};
    for (int alone = 0; alone < 2; alone++) {
        struct dice d = {700};
        struct orders *o = orders_new(n, &d);
        struct cot_book *b = season_book(&o->s, NULL);
        struct cot_season p;
        plan_book(b, &(struct cot_season_ask){.on = ORDERS_ON, .from_scratch = true, .each_alone = alone == 1}, &p);
        row(names[alone], n, "_sowings", p.kept + p.changed + p.fresh, "sowings");
        row(names[alone], n, "_trays", (double)p.trays, "trays");
        row(names[alone], n, "_seeds", (double)p.seeds, "seeds");
        row(names[alone], n, "_peak_spots", (double)p.bench_peak, "spots");
        row(names[alone], n, "_plate_changes", (double)p.plate_changes, "changes");
        row(names[alone], n, "_covered", p.covered, "lines");
        cot_season_free(&p);
        cot_book_free(b);
        orders_free(o);
    }
}

static void books(void)
{
    const uint32_t sizes[] = {100, 300, 1000, 3000, 10000};
    double seconds[5];
    for (size_t i = 0; i < 5; i++) {
        bench_say("plan: a book of %u lines", (unsigned)sizes[i]);
        seconds[i] = seasons(sizes[i], sizes[i] > 1000 ? 1 : 3);
    }
    bench_row("plan/season_growth", log(seconds[4] / seconds[0]) / log(100), "exponent");
    replan_book(1000);
    replan_book(3000);
    together(1000);
}

void cot_bench(void)
{
    const uint32_t sizes[] = {100, 300, 1000, 3000, 10000};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        bench_say("plan: %u lines", (unsigned)sizes[i]);
        levels("level", sizes[i], 1000, sizes[i] > 3000 ? 3 : YEARS);
    }
    bench_say("plan: more orders than benches");
    levels("too_full", 1000, 600, YEARS);
    levels("too_full", 3000, 600, 3);
    replan(1000);
    replan(3000);
    groups(3000);
    groups(9996);
    plates(300);
    plates(3000);
    books();
}
