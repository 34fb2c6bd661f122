/* Seeds in a cell, and how often a cell of so many seeds is usable. */
#include "cotyledger/core/sow.h"

#include <string.h>

#define SHAPES 4

/* Common practice, no source. */
static const struct cot_singling usual[][SHAPES] = {
    /*                     round     flat      angular   fluffy */
    [COT_SEED_RAW] = {{20, 30}, {40, 40}, {50, 50}, {80, 80}},
    [COT_SEED_GRADED] = {{15, 20}, {30, 30}, {40, 40}, {60, 60}},
    [COT_SEED_PELLETED] = {{10, 10}, {10, 10}, {10, 10}, {10, 10}},
    [COT_SEED_COATED] = {{15, 20}, {15, 20}, {15, 20}, {15, 20}},
    [COT_SEED_PRIMED] = {{20, 30}, {40, 40}, {50, 50}, {80, 80}},
    [COT_SEED_PLUG] = {{0, 0}, {0, 0}, {0, 0}, {0, 0}},
};
#define FORMS (sizeof usual / sizeof usual[0])

struct cot_singling cot_singling_usual(enum cot_seed_form form, enum cot_seed_shape shape)
{
    unsigned row = (unsigned)form < FORMS ? (unsigned)form : COT_SEED_RAW;
    unsigned column = (unsigned)shape < SHAPES ? (unsigned)shape : COT_SHAPE_FLAT;
    return usual[row][column];
}

static enum cot_err check(const struct cot_drop_known *k, struct cot_fault *fault)
{
    const struct cot_singling *s = &k->singling;
    if (k->seeds < 1 || k->seeds > COT_HOLES_MOST)
        return cot_fail(fault, COT_INVALID, "%lld seeds in a cell: between 1 and %d will do", (long long)k->seeds,
                        COT_HOLES_MOST);
    if (k->by_hand) return COT_OK;
    if (s->misses < 0 || s->misses > 1000 || s->twos < 0 || s->twos > 1000 || s->misses + s->twos > 1000)
        return cot_fail(fault, COT_INVALID,
                        "of a thousand drops %lld leave no seed and %lld leave two: together at most a thousand",
                        (long long)s->misses, (long long)s->twos);
    return COT_OK;
}

/* One more drop into the cell. */
static void add_drop(struct cot_drop *d, const double drop[static 3])
{
    for (int k = d->most + 2; k >= 0; k--) {
        double sum = 0;
        for (int n = 0; n <= 2; n++)
            if (k - n >= 0 && k - n <= d->most) sum += drop[n] * d->p[k - n];
        d->p[k] = sum;
    }
    d->most += 2;
}

enum cot_err cot_drop_of(const struct cot_drop_known *k, struct cot_drop *out, struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    enum cot_err err = check(k, fault);
    if (err != COT_OK) return err;
    if (k->by_hand) {
        out->most = (int)k->seeds;
        out->p[k->seeds] = 1;
        return COT_OK;
    }
    double none = (double)k->singling.misses / 1000, two = (double)k->singling.twos / 1000;
    double drop[3] = {none, (double)(1000 - k->singling.misses - k->singling.twos) / 1000, two};
    if (k->put_right) {
        drop[0] = 0;
        drop[1] = (double)(1000 - k->singling.twos) / 1000;
    }
    out->p[0] = 1;
    for (int64_t i = 0; i < k->seeds; i++) add_drop(out, drop);
    return COT_OK;
}

double cot_drop_mean(const struct cot_drop *d)
{
    double sum = 0;
    for (int k = 0; k <= d->most; k++) sum += k * d->p[k];
    return sum;
}

double cot_drop_variance(const struct cot_drop *d)
{
    double mean = cot_drop_mean(d), sum = 0;
    for (int k = 0; k <= d->most; k++) sum += d->p[k] * (k - mean) * (k - mean);
    return sum;
}

/* With one seed more a cell becomes usable when it had m - 1 plants and the seed gives one:
 * P(Bin(k, s) >= m) = P(Bin(k - 1, s) >= m) + s P(Bin(k - 1, s) = m - 1). All terms are positive. */
double cot_cell_usable(const void *cell, double s)
{
    const struct cot_cell *c = cell;
    int m = c->at_least < 1 ? 1 : c->at_least > COT_DROP_MOST ? COT_DROP_MOST + 1 : (int)c->at_least;
    double just = 1, enough = 0, sum = 0; /* P(Bin(k, s) = m - 1), P(Bin(k, s) >= m) */
    for (int i = 1; i < m; i++) just *= s;
    for (int k = m; k <= c->drop.most; k++) {
        enough += s * just;
        just *= (1 - s) * k / (k - m + 1);
        sum += c->drop.p[k] * enough;
    }
    return sum < 1 ? sum : 1;
}
