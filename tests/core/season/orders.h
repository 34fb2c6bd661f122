/* A house with an order book, made up: what the tests and the bench plan a season for. All figures are invented. The
 * includer has season.h, with rows enough for two a line and some 600 more. */
#ifndef COT_TESTS_CORE_SEASON_ORDERS_H
#define COT_TESTS_CORE_SEASON_ORDERS_H

#include "cotyledger/core/season.h"
#include "cotyledger/core/place.h"

#define ORDERS_ON 20822 /* 2027-01-04, a Monday */
#define ORDERS_FARMS 20
#define ORDERS_CROPS 12
#define ORDERS_FORMATS 5
#define ORDERS_VARIETIES 1000
#define ORDERS_PLACES 500

struct orders {
    struct season s;
    struct cot_id farm[ORDERS_FARMS], crop[ORDERS_CROPS], format[ORDERS_FORMATS], variety[ORDERS_VARIETIES];
    int crop_of[ORDERS_VARIETIES];
    char text[ORDERS_VARIETIES + ORDERS_PLACES][16];
    int texts, varieties;
};

static inline const char *orders_text(struct orders *o, const char *what, int n)
{
    char *text = o->text[o->texts++];
    snprintf(text, sizeof o->text[0], "%s %d", what, n);
    return text;
}

static inline void orders_catalogue(struct orders *o, struct dice *d)
{
    static const char *const farms[ORDERS_FARMS] = {"Ford",  "Quay", "Lane",  "Reach", "Weir",  "Lock", "Bank",
                                                    "Mill",  "Hide", "Croft", "Holt",  "Fen",   "Moor", "Leat",
                                                    "Pound", "Gate", "Ridge", "Combe", "Garth", "Slade"};
    static const char *const crops[ORDERS_CROPS] = {"Crop A", "Crop B", "Crop C", "Crop D", "Crop E", "Crop F",
                                                    "Crop G", "Crop H", "Crop I", "Crop J", "Crop K", "Crop L"};
    static const struct {
        const char *name;
        int rows, cols;
    } formats[ORDERS_FORMATS] = {{"50", 5, 10}, {"72", 6, 12}, {"128", 8, 16}, {"200", 10, 20}, {"288", 12, 24}};
    for (int i = 0; i < ORDERS_FARMS; i++) o->farm[i] = add_named(&o->s, COT_K_FARM, farms[i]);
    for (int i = 0; i < ORDERS_FORMATS; i++)
        o->format[i] = add_format(&o->s, formats[i].name, formats[i].rows, formats[i].cols);
    for (int i = 0; i < ORDERS_FORMATS; i++) {
        make(&o->s, COT_K_PLATE);
        name(&o->s, COT_F_NAME, formats[i].name);
        say(&o->s, COT_F_CELLS, formats[i].rows * formats[i].cols);
        say(&o->s, COT_F_HOLES, 1);
        done(&o->s);
    }
    for (int i = 0; i < ORDERS_CROPS; i++) {
        int days = 7 * (int)dice_int(d, 4, 9);
        start_crop(&o->s, crops[i], days, days + (int)dice_int(d, 7, 14));
        say(&o->s, COT_F_CHAMBER_DAYS, dice_int(d, 2, 5));
        say(&o->s, COT_F_HARDEN_DAYS, i % 2 ? 7 : 0);
        name(&o->s, COT_F_GROUP, i % 3 ? "cool" : "warm");
        o->crop[i] = *done(&o->s);
    }
    /* One crop is sown in plugs and potted on. */
    make(&o->s, COT_K_RAISING);
    name(&o->s, COT_F_NAME, "potted on");
    point(&o->s, COT_F_CROP, &o->crop[0]);
    point(&o->s, COT_F_FORMAT, &o->format[4]);
    say(&o->s, COT_F_TRAY_DAYS, 56);
    say(&o->s, COT_F_TRAY_DAYS_MAX, 70);
    say(&o->s, COT_F_POT_DAYS, 28);
    point(&o->s, COT_F_POT_FORMAT, &o->format[0]);
    done(&o->s);
    for (int i = 0; i < o->varieties; i++) {
        o->crop_of[i] = (int)dice_int(d, 0, ORDERS_CROPS - 1);
        o->variety[i] = add_variety(&o->s, orders_text(o, "Variety", i), &o->crop[o->crop_of[i]]);
        start_lot(&o->s, o->text[o->texts - 1], &o->variety[i], 340 + (int)dice_int(d, 0, 50));
        done(&o->s);
    }
}

static inline void orders_place(struct orders *o, enum cot_place_sort sort, const char *group, int64_t spots, int n)
{
    make(&o->s, COT_K_PLACE);
    name(&o->s, COT_F_NAME,
         orders_text(o,
                     sort == COT_PLACE_BENCH   ? "bench"
                     : sort == COT_PLACE_FRAME ? "frame"
                                               : "chamber",
                     n));
    say(&o->s, COT_F_SORT, sort);
    say(&o->s, COT_F_SPOTS, spots);
    if (group) name(&o->s, COT_F_GROUP, group);
    done(&o->s);
}

/* Room as the lines want it, with something to spare. */
static inline void orders_places(struct orders *o, uint32_t lines)
{
    int64_t benches = 7 * (int64_t)lines / 100 + 2, each = 7 * (int64_t)lines / benches + 60;
    if (benches > 300) benches = 300, each = 7 * (int64_t)lines / 300 + 60;
    for (int i = 0; i < benches; i++) orders_place(o, COT_PLACE_BENCH, i % 5 < 2 ? "warm" : "cool", each, i);
    for (int i = 0; i < 4; i++) orders_place(o, COT_PLACE_CHAMBER, i % 2 ? "warm" : "cool", (int64_t)lines + 100, i);
    for (int i = 0; i < 4; i++) orders_place(o, COT_PLACE_FRAME, NULL, 2 * (int64_t)lines + 200, i);
    make(&o->s, COT_K_RULE);
    about(&o->s, &o->s.row[0].digest);
    say(&o->s, COT_F_TRAYS_A_DAY, (int64_t)lines + 200);
    season_put(&o->s, true, true);
}

static inline struct cot_id orders_line(struct orders *o, struct dice *d)
{
    int v = (int)dice_int(d, 0, o->varieties - 1), around = dice_int(d, 0, 9) < 6 ? 105 : 145;
    int plants = (int)dice_int(d, 40, 400) * (int)dice_int(d, 1, 4);
    const struct cot_id *farm = &o->farm[dice_int(d, 0, ORDERS_FARMS - 1)];
    int32_t date = ORDERS_ON + around + (int32_t)(dice_int(d, -20, 20) + dice_int(d, -20, 20)) / 2;
    start_line(&o->s, farm, &o->variety[v], plants, date);
    point(&o->s, COT_F_FORMAT,
          o->crop_of[v] == 0 ? &o->format[0] : &o->format[(v + (int)dice_int(d, 0, 1)) % ORDERS_FORMATS]);
    say(&o->s, COT_F_EARLY, dice_int(d, 0, 7));
    say(&o->s, COT_F_LATE, dice_int(d, 0, 7));
    struct cot_id line = *done(&o->s);
    promise(&o->s, &line, farm, plants);
    return line;
}

/* A house with so many lines; a variety for a dozen of them. */
static inline struct orders *orders_new(uint32_t lines, struct dice *d)
{
    struct orders *o = calloc(1, sizeof *o);
    ck_assert_ptr_nonnull(o);
    season_new(&o->s, 1);
    o->varieties = (int)(lines / 12 < 4 ? 4 : lines / 12 > ORDERS_VARIETIES ? ORDERS_VARIETIES : lines / 12);
    orders_catalogue(o, d);
    orders_places(o, lines);
    for (uint32_t i = 0; i < lines; i++) (void)orders_line(o, d);
    return o;
}

static inline void orders_free(struct orders *o)
{
    season_free(&o->s);
    free(o);
}

/* Accepts a plan: sowings that it makes anew become planned ones. */
static inline void orders_accept(struct orders *o, const struct cot_season *p)
{
    struct season *s = &o->s;
    for (uint32_t i = 0; i < p->sowing_count; i++) {
        const struct cot_season_sowing *w = &p->sowing[i];
        if (w->change != COT_SEASON_NEW || w->day == COT_DAY_NONE || !w->lot || w->rows > 0) continue;
        make(s, COT_K_PLANNED);
        new_code(s);
        point(s, COT_F_LOT, &w->lot->id);
        point(s, COT_F_FORMAT, &w->format->id);
        say(s, COT_F_TRAYS, w->trays);
        say(s, COT_F_SOW_DAY, w->day);
        if (w->chamber) name(s, COT_F_CHAMBER, cot_thing_text(w->chamber, COT_F_NAME));
        if (w->bench) name(s, COT_F_BENCH, cot_thing_text(w->bench, COT_F_NAME));
        if (w->frame) name(s, COT_F_FRAME, cot_thing_text(w->frame, COT_F_NAME));
        struct cot_id *ids = &s->kept[s->kept_count];
        uint32_t n = w->parts < 120 ? w->parts : 120;
        for (uint32_t k = 0; k < n; k++) s->kept[s->kept_count++] = p->line[p->part[w->first_part + k].line].line->id;
        ck_assert(cot_fact_set_ids(&s->next, COT_F_LINES, ids, n));
        done(s);
    }
}

#endif
