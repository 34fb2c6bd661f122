/* Trays to sow, what can be promised of them, and the seeds they take. */
#include <math.h>

#include "cotyledger/core/prob.h"
#include "sow/calc.h"

/* --- What is asked ------------------------------------------------------------------------------------------------ */
static bool share(double x)
{
    return x > 0 && x <= 1;
}

static bool size(double x)
{
    return x >= 0 && x <= 100;
}

static bool spread_ok(const struct cot_spread *p)
{
    double sum = 0;
    for (int r = 0; r < COT_RHO_POINTS; r++) {
        if (!share(p->rho_weight[r]) && p->rho_weight[r] != 0) return false;
        sum += p->rho_weight[r];
    }
    return fabs(sum - 1) < 1e-6 && size(fabs(p->shift)) && size(p->shift_sd) && size(p->between);
}

static bool germ_ok(double a)
{
    return a >= 0.5 && a <= 1e9;
}

enum cot_err cot_sow_check(const struct cot_sow *s, struct cot_fault *fault)
{
    if (!germ_ok(s->germ_a) || !germ_ok(s->germ_b))
        return cot_fail(fault, COT_INVALID, "germination Beta(%g, %g): each between 0.5 and 1e9 will do", s->germ_a,
                        s->germ_b);
    if (!share(s->emerge) || !share(s->fit) || !(s->later >= 0 && s->later <= 0.9))
        return cot_fail(fault, COT_INVALID,
                        "shares %g, %g, %g: the first two above 0 and at most 1, the third from 0 to 0.9 will do",
                        s->emerge, s->fit, s->later);
    bool common = !s->learned || (fabs(s->common.mean) <= 100 && size(s->common.sd));
    if (!spread_ok(&s->spread) || !common)
        return cot_fail(fault, COT_INVALID, "the spread of batches and trays makes no sense");
    if (s->tray_cells < 1 || s->tray_cells > 40000)
        return cot_fail(fault, COT_INVALID, "%lld cells in a tray: between 1 and 40000 will do",
                        (long long)s->tray_cells);
    if (s->batches < 1 || s->batches > COT_SOW_BATCHES_MOST)
        return cot_fail(fault, COT_INVALID, "%lld batches: between 1 and %d will do", (long long)s->batches,
                        COT_SOW_BATCHES_MOST);
    if (!(cot_cell_usable(&s->cell, 1) > 0))
        return cot_fail(fault, COT_INVALID, "no cell can have %lld plants: not so many seeds drop into one",
                        (long long)s->cell.at_least);
    return COT_OK;
}

enum cot_err cot_sow_check_asked(int64_t wanted, int32_t confidence, struct cot_fault *fault)
{
    if (wanted < 1 || wanted > COT_SOW_PLANTS_MOST)
        return cot_fail(fault, COT_INVALID, "%lld plants wanted: between 1 and %d will do", (long long)wanted,
                        COT_SOW_PLANTS_MOST);
    if (confidence < 500 || confidence > 999)
        return cot_fail(fault, COT_INVALID, "confidence %ld per mille: between 500 and 999 will do", (long)confidence);
    return COT_OK;
}

enum cot_err cot_sow_check_trays(int64_t trays, struct cot_fault *fault)
{
    if (trays >= 1 && trays <= COT_SOW_TRAYS_MOST) return COT_OK;
    return cot_fail(fault, COT_INVALID, "%lld trays: between 1 and %d will do", (long long)trays, COT_SOW_TRAYS_MOST);
}

/* --- Plants ------------------------------------------------------------------------------------------------------- */
enum cot_err cot_sow_plants(const struct cot_sow *s, int64_t trays, struct cot_plants *out, struct cot_fault *fault)
{
    struct cot_sow_moments m;
    enum cot_err err = cot_sow_check(s, fault);
    if (err == COT_OK) err = cot_sow_check_trays(trays, fault);
    if (err != COT_OK) return err;
    cot_sow_moments_of(s, &m);
    cot_plants_of_trays(s, &m, trays, out);
    return COT_OK;
}

static void answer(const struct cot_plants *plants, int64_t trays, int64_t wanted, int32_t confidence,
                   struct cot_sow_answer *out)
{
    *out = (struct cot_sow_answer){.trays = trays,
                                   .chance = cot_plants_ge(plants, wanted),
                                   .likely = cot_plants_likely(plants),
                                   .count_on = cot_plants_count_on(plants, confidence)};
}

struct asked {
    const struct cot_sow *sow;
    const struct cot_sow_moments *moments;
    int64_t wanted;
    int32_t confidence;
};

static bool trays_do(const void *context, int64_t trays)
{
    const struct asked *a = context;
    struct cot_plants plants;
    if (trays * a->sow->tray_cells < a->wanted) return false;
    cot_plants_of_trays(a->sow, a->moments, trays, &plants);
    return cot_sure(cot_plants_ge(&plants, a->wanted), a->confidence);
}

/* About the trays whose mean less so many standard deviations is what is wanted: where to begin to look. */
static int64_t near(const struct asked *a)
{
    double sds = cot_phi_inv((double)a->confidence / 1000), trays = 1, mean, variance;
    struct cot_plants plants;
    for (int i = 0; i < 6; i++) {
        cot_plants_of_trays(a->sow, a->moments, (int64_t)trays, &plants);
        cot_plants_moments(&plants, &mean, &variance);
        trays += ((double)a->wanted - mean + sds * sqrt(variance)) / (mean / trays);
        if (!(trays >= 1)) trays = 1;
        if (trays > COT_SOW_TRAYS_MOST) trays = COT_SOW_TRAYS_MOST;
        trays = floor(trays);
    }
    return (int64_t)trays;
}

static enum cot_err fewest(const struct cot_sow *s, const struct cot_sow_moments *m, int64_t wanted, int32_t confidence,
                           int64_t *trays, struct cot_fault *fault)
{
    struct asked a = {s, m, wanted, confidence};
    *trays = cot_fewest(1, COT_SOW_TRAYS_MOST, near(&a), trays_do, &a);
    if (*trays <= COT_SOW_TRAYS_MOST) return COT_OK;
    return cot_fail(fault, COT_TOO_LARGE, "even %d trays would not surely have %lld plants", COT_SOW_TRAYS_MOST,
                    (long long)wanted);
}

enum cot_err cot_sow_fewest(const struct cot_sow *s, int64_t wanted, int32_t confidence, int64_t *trays,
                            struct cot_fault *fault)
{
    struct cot_sow_moments m;
    enum cot_err err = cot_sow_check(s, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted, confidence, fault);
    if (err != COT_OK) return err;
    cot_sow_moments_of(s, &m);
    return fewest(s, &m, wanted, confidence, trays, fault);
}

enum cot_err cot_sow_trays(const struct cot_sow *s, int64_t wanted, int32_t confidence, struct cot_sow_answer *out,
                           struct cot_fault *fault)
{
    struct cot_sow_moments m;
    struct cot_plants plants;
    int64_t trays;
    enum cot_err err = cot_sow_check(s, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted, confidence, fault);
    if (err != COT_OK) return err;
    cot_sow_moments_of(s, &m);
    err = fewest(s, &m, wanted, confidence, &trays, fault);
    if (err != COT_OK) return err;
    cot_plants_of_trays(s, &m, trays, &plants);
    answer(&plants, trays, wanted, confidence, out);
    return COT_OK;
}

enum cot_err cot_sow_promise(const struct cot_sow *s, int64_t trays, int64_t wanted, int32_t confidence,
                             struct cot_sow_answer *out, struct cot_fault *fault)
{
    struct cot_plants plants;
    enum cot_err err = cot_sow_plants(s, trays, &plants, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted == 0 ? 1 : wanted, confidence, fault);
    if (err == COT_OK) answer(&plants, trays, wanted, confidence, out);
    return err;
}

/* --- Seeds -------------------------------------------------------------------------------------------------------- */
static double up(double x)
{
    return -floor(-cot_round9(x));
}

static struct cot_sow_seeds seeds_of(const struct cot_drop *d, double cells, double sds)
{
    double mean = cells * cot_drop_mean(d), variance = cells * cot_drop_variance(d), most = cells * d->most;
    double enough = up(mean + sds * sqrt(variance));
    return (struct cot_sow_seeds){(int64_t)up(mean), (int64_t)(enough < most ? enough : most)};
}

enum cot_err cot_sow_seeds(const struct cot_sow *s, int64_t trays, int32_t confidence, struct cot_sow_seeds *out,
                           struct cot_fault *fault)
{
    enum cot_err err = cot_sow_check(s, fault);
    if (err == COT_OK) err = cot_sow_check_asked(1, confidence, fault);
    if (err == COT_OK) err = cot_sow_check_trays(trays, fault);
    if (err != COT_OK) return err;
    double cells = (double)trays * (double)s->tray_cells;
    *out = seeds_of(&s->cell.drop, cells, cot_phi_inv((double)confidence / 1000));
    return COT_OK;
}

struct seeds_there {
    const struct cot_sow *sow;
    int64_t seeds;
    double sds;
};

static bool too_few(const void *context, int64_t trays)
{
    const struct seeds_there *c = context;
    return seeds_of(&c->sow->cell.drop, (double)trays * (double)c->sow->tray_cells, c->sds).enough > c->seeds;
}

enum cot_err cot_sow_trays_of_seeds(const struct cot_sow *s, int64_t seeds, int32_t confidence, int64_t *trays,
                                    struct cot_fault *fault)
{
    enum cot_err err = cot_sow_check(s, fault);
    if (err == COT_OK) err = cot_sow_check_asked(1, confidence, fault);
    if (err != COT_OK) return err;
    if (seeds < 0) return cot_fail(fault, COT_INVALID, "%lld seeds: 0 or more will do", (long long)seeds);
    struct seeds_there c = {s, seeds, cot_phi_inv((double)confidence / 1000)};
    *trays = cot_fewest(1, COT_SOW_TRAYS_MOST, 1, too_few, &c) - 1;
    return COT_OK;
}
