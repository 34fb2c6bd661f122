/* Which plate fits a tray, and which suits a seed. */
#include <string.h>

#include "cotyledger/core/plate.h"

#define MOST_CELLS 40000
#define MILLE 1000
/* 6 / (pi x 1.1) cm3: the cube of the diameter of a ball of one gram; in um3. */
#define BALL_OF_A_GRAM INT64_C(1736235000000)

static bool known(const char *pattern)
{
    return pattern && *pattern;
}

enum cot_plate_fit cot_plate_fits(const struct cot_plate *p, const struct cot_plate_format *f, int64_t *drops)
{
    *drops = 0;
    if (f->rows < 1 || f->cols < 1 || f->rows > MOST_CELLS || f->cols > MOST_CELLS) return COT_PLATE_OTHER_CELLS;
    int64_t cells = f->rows * f->cols;
    if (p->cells < 1 || cells > MOST_CELLS || cells % p->cells) return COT_PLATE_OTHER_CELLS;
    *drops = cells / p->cells;
    if (!known(p->pattern) || !known(f->pattern)) return COT_PLATE_PATTERN_UNKNOWN;
    return strcmp(p->pattern, f->pattern) ? COT_PLATE_OTHER_PATTERN : COT_PLATE_FITS;
}

int64_t cot_seed_um(int64_t seeds_per_g)
{
    int64_t low = 0, high = 20000; /* low's cube does, high's does not */
    if (seeds_per_g < 1 || seeds_per_g > 100000) return 0;
    while (high - low > 1) {
        int64_t mid = (low + high) / 2;
        if (mid * mid * mid <= BALL_OF_A_GRAM / seeds_per_g) low = mid;
        else high = mid;
    }
    return low;
}

/* Per mille of the diameter. Round seed and pellets sit well on a hole of half their size; flat and angular seed lies
 * on its narrow side, fluffy seed clings. Common practice, no source. */
static struct cot_hole_range shares(enum cot_seed_form form, enum cot_seed_shape shape)
{
    static const struct cot_hole_range by_shape[] = {[COT_SHAPE_ROUND] = {300, 600},
                                                     [COT_SHAPE_FLAT] = {250, 500},
                                                     [COT_SHAPE_ANGULAR] = {250, 500},
                                                     [COT_SHAPE_FLUFFY] = {200, 400}};
    if (form == COT_SEED_PELLETED || form == COT_SEED_COATED) return (struct cot_hole_range){350, 650};
    if (shape < COT_SHAPE_ROUND || shape > COT_SHAPE_FLUFFY) return by_shape[COT_SHAPE_FLAT];
    return by_shape[shape];
}

struct cot_hole_range cot_hole_range(int64_t seeds_per_g, enum cot_seed_form form, enum cot_seed_shape shape)
{
    struct cot_hole_range s = shares(form, shape);
    int64_t um = cot_seed_um(seeds_per_g);
    return (struct cot_hole_range){(s.low * um + MILLE - 1) / MILLE, s.high * um / MILLE};
}

static int64_t hole_off(const struct cot_plate *p, const struct cot_plate_wish *w)
{
    struct cot_hole_range r = cot_hole_range(w->seeds_per_g, w->form, w->shape);
    if (!r.high || p->hole_um <= 0) return 0;
    return p->hole_um < r.low ? p->hole_um - r.low : p->hole_um > r.high ? p->hole_um - r.high : 0;
}

static bool own_figures(const struct cot_plate *p)
{
    return p->misses >= 0 && p->twos >= 0 && p->misses + p->twos <= MILLE;
}

static void expect(const struct cot_plate *p, const struct cot_plate_wish *w, struct cot_plate_offer *o)
{
    struct cot_singling s = cot_singling_usual(w->form, w->shape);
    if (own_figures(p)) s = (struct cot_singling){p->misses, p->twos};
    o->hole_off_um = hole_off(p, w);
    o->guessed = !own_figures(p) || o->hole_off_um;
    int64_t um = cot_seed_um(w->seeds_per_g), far = o->hole_off_um < 0 ? -o->hole_off_um : o->hole_off_um;
    int64_t worse = um && far < 100000 ? COT_HOLE_COST * 100 * far / um : far ? MILLE : 0;
    int64_t most = MILLE - s.misses - s.twos;
    if (worse > most) worse = most;
    if (o->hole_off_um < 0) s.misses += worse;
    else s.twos += worse;
    o->misses = s.misses;
    o->twos = s.twos;
}

static bool before(const struct cot_plate_offer *a, const struct cot_plate_offer *b)
{
    if (a->fit != b->fit) return a->fit < b->fit;
    if (a->misses + a->twos != b->misses + b->twos) return a->misses + a->twos < b->misses + b->twos;
    if (a->drops != b->drops) return a->drops < b->drops;
    return a->plate < b->plate;
}

static void insert(struct cot_plate_offer *out, uint32_t n, uint32_t room, struct cot_plate_offer o)
{
    uint32_t i = n < room ? n : room;
    if (i == room && (!room || !before(&o, &out[room - 1]))) return;
    if (i == room) i--;
    for (; i > 0 && before(&o, &out[i - 1]); i--) out[i] = out[i - 1];
    out[i] = o;
}

uint32_t cot_plate_offers(const struct cot_plate *plate, uint32_t plates, const struct cot_plate_wish *w,
                          struct cot_plate_offer *out, uint32_t room)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < plates; i++) {
        struct cot_plate_offer o = {.plate = i};
        o.fit = cot_plate_fits(&plate[i], &w->format, &o.drops);
        if (o.fit > COT_PLATE_PATTERN_UNKNOWN || plate[i].holes < 1 || plate[i].holes != w->per_cell) continue;
        expect(&plate[i], w, &o);
        insert(out, n++, room, o);
    }
    return n;
}
