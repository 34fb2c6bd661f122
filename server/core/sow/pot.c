/* Two stages: plugs potted on into larger cells. */
#include <math.h>

#include "cotyledger/core/prob.h"
#include "sow/calc.h"

#define TAKE_SLICES 6

/* What is the same for every pair of trays. */
struct two {
    const struct cot_sow *plugs;
    const struct cot_pot_on *to;
    struct cot_sow first;        /* the plugs' stage, without the later loss */
    struct cot_sow_moments plug; /* of its cells */
    struct cot_sow_moments take; /* of a plug potted on, the later loss taken off */
    int64_t wanted;
    int32_t confidence;
};

static enum cot_err check(const struct cot_sow *plugs, const struct cot_pot_on *to, struct cot_fault *fault)
{
    enum cot_err err = cot_sow_check(plugs, fault);
    if (err != COT_OK) return err;
    bool take = to->take_a >= 0.5 && to->take_a <= 1e9 && to->take_b >= 0.5 && to->take_b <= 1e9;
    if (!take)
        return cot_fail(fault, COT_INVALID, "share that takes Beta(%g, %g): each between 0.5 and 1e9 will do",
                        to->take_a, to->take_b);
    if (to->tray_cells < 1 || to->tray_cells > 40000)
        return cot_fail(fault, COT_INVALID, "%lld cells in a larger tray: between 1 and 40000 will do",
                        (long long)to->tray_cells);
    if (!(to->plug_room > 0 && to->plug_room < 1e12 && to->room > 0 && to->room < 1e12))
        return cot_fail(fault, COT_INVALID, "bench %g and %g that a tray takes: more than 0 will do", to->plug_room,
                        to->room);
    return COT_OK;
}

static void start(struct two *w, const struct cot_sow *plugs, const struct cot_pot_on *to, int64_t wanted,
                  int32_t confidence)
{
    *w = (struct two){.plugs = plugs, .to = to, .first = *plugs, .wanted = wanted, .confidence = confidence};
    w->first.later = 0;
    struct cot_odds take;
    cot_sow_moments_of(&w->first, &w->plug);
    cot_odds_of_seed(to->take_a, to->take_b, 1, &take);
    cot_slices_of(&take, 0, NULL, plugs->later, TAKE_SLICES, &w->take);
}

/* Plants in the end of `trays` larger trays full of plugs. */
static void full_trays(const struct two *w, int64_t trays, struct cot_plants *out)
{
    double cells = (double)trays * (double)w->to->tray_cells;
    cot_plants_of(&w->take, w->plugs->spread.rho_weight, trays * w->to->tray_cells, w->to->tray_cells, cells * cells,
                  out);
}

/* P(at least `wanted` of n plugs take) for n = wanted, wanted + 1, ...: with one plug more there are enough when there
 * were wanted - 1 and it takes. `just` is P(wanted - 1 of n take). */
struct takes {
    double a, b, just, enough;
    int64_t n, wanted;
};

static struct takes takes_start(double a, double b, int64_t wanted)
{
    struct takes t = {.a = a, .b = b, .n = wanted - 1, .wanted = wanted};
    t.just = wanted > 1 ? cot_betabinom_pmf(wanted - 1, a, b, wanted - 1) : 1;
    return t;
}

static void takes_next(struct takes *t)
{
    double n = (double)t->n, just = (double)t->wanted - 1, all = t->a + t->b + n;
    t->enough += t->just * ((t->a + just) / all);
    t->just *= (n + 1) / (n + 1 - just) * ((t->b + n - just) / all);
    t->n++;
}

static double plugs_step(double n, double a, double b, double k)
{
    return ((n - k) * (k + a)) / ((k + 1) * (n - k - 1 + b));
}

/* P(plants >= wanted) at one rho, over slices of both stages' rates at once: over plugs from `wanted` to the larger
 * cells, and all that are more than those. What hangs on one stage alone is worked out once for all of the other. */
struct both {
    double term[COT_SOW_SLICES], rest[COT_SOW_SLICES]; /* P(n plugs); P(as many as the larger cells, or more) */
    struct takes take[TAKE_SLICES];
    double sum[COT_SOW_SLICES][TAKE_SLICES];
};

static void both_start(struct both *b, const struct cot_plants *plug, const struct cot_plants *take, int g,
                       int64_t last, int64_t wanted)
{
    *b = (struct both){.term = {0}};
    for (int i = 0; i < COT_SOW_SLICES; i++) {
        const struct cot_mix_part *p = &plug->part[COT_SOW_GROUPS * i + g];
        if (!(p->weight > 0)) continue;
        b->term[i] = cot_betabinom_pmf(plug->cells, p->a, p->b, wanted);
        b->rest[i] = 1 - cot_betabinom_le(plug->cells, p->a, p->b, last - 1);
    }
    for (int i = 0; i < TAKE_SLICES; i++) {
        const struct cot_mix_part *t = &take->part[COT_SOW_GROUPS * i + g];
        if (t->weight > 0) b->take[i] = takes_start(t->a, t->b, wanted);
    }
}

static void both_next(struct both *b, const struct cot_plants *plug, const struct cot_plants *take, int g, int64_t n)
{
    for (int i = 0; i < TAKE_SLICES; i++)
        if (take->part[COT_SOW_GROUPS * i + g].weight > 0) takes_next(&b->take[i]);
    for (int k = 0; k < COT_SOW_SLICES; k++) {
        const struct cot_mix_part *p = &plug->part[COT_SOW_GROUPS * k + g];
        if (!(p->weight > 0)) continue;
        for (int i = 0; i < TAKE_SLICES; i++) b->sum[k][i] += b->term[k] * b->take[i].enough;
        b->term[k] *= plugs_step((double)plug->cells, p->a, p->b, (double)n);
    }
}

static double chance_of_group(const struct cot_plants *plug, const struct cot_plants *take, int g, int64_t wanted)
{
    struct both b;
    double sum = 0;
    int64_t last = plug->cells < take->cells ? plug->cells : take->cells;
    if (last < wanted) return 0;
    both_start(&b, plug, take, g, last, wanted);
    for (int64_t n = wanted; n < last; n++) both_next(&b, plug, take, g, n);
    for (int i = 0; i < TAKE_SLICES; i++)
        if (take->part[COT_SOW_GROUPS * i + g].weight > 0) takes_next(&b.take[i]);
    for (int i = 0; i < COT_SOW_SLICES * TAKE_SLICES; i++) {
        const struct cot_mix_part *p = &plug->part[COT_SOW_GROUPS * (i / TAKE_SLICES) + g];
        const struct cot_mix_part *t = &take->part[COT_SOW_GROUPS * (i % TAKE_SLICES) + g];
        double rest = b.rest[i / TAKE_SLICES] > 0 ? b.rest[i / TAKE_SLICES] : 0;
        if (p->weight > 0 && t->weight > 0)
            sum += p->weight * t->weight *
                   (b.sum[i / TAKE_SLICES][i % TAKE_SLICES] + rest * b.take[i % TAKE_SLICES].enough);
    }
    return sum;
}

/* Trays of both stages are unequal by the same rho; the rates of the two stages have nothing to do with each other. */
static double chance_of(const struct cot_plants *plug, const struct cot_plants *take, int64_t wanted)
{
    double sum = 0;
    for (int g = 0; g < COT_SOW_GROUPS; g++) {
        double group = 0;
        for (int t = 0; t < TAKE_SLICES; t++) group += take->part[COT_SOW_GROUPS * t + g].weight;
        if (group > 0) sum += chance_of_group(plug, take, g, wanted) / group;
    }
    return cot_round9(sum < 1 ? sum : 1);
}

/* --- One pair of trays -------------------------------------------------------------------------------------------- */
struct pair {
    struct cot_plants plug, take;
    int32_t confidence;
};

static bool not_sure(const void *context, int64_t plants)
{
    const struct pair *p = context;
    return !cot_sure(chance_of(&p->plug, &p->take, plants), p->confidence);
}

static int64_t most_plants(struct pair *p, int32_t confidence)
{
    int64_t plugs = cot_plants_count_on(&p->plug, confidence), cells = p->take.cells;
    p->confidence = confidence;
    return cot_fewest(1, cells, plugs < cells ? plugs : cells, not_sure, p) - 1;
}

static void answer(const struct two *w, int64_t plug_trays, int64_t trays, struct cot_pot_answer *out)
{
    struct pair p;
    cot_plants_of_trays(&w->first, &w->plug, plug_trays, &p.plug);
    full_trays(w, trays, &p.take);
    *out = (struct cot_pot_answer){.plug_trays = plug_trays,
                                   .trays = trays,
                                   .chance = w->wanted > 0 ? chance_of(&p.plug, &p.take, w->wanted) : 1,
                                   .plugs_likely = cot_plants_likely(&p.plug),
                                   .plugs_count_on = cot_plants_count_on(&p.plug, w->confidence)};
    out->likely = most_plants(&p, 500);
    out->count_on = most_plants(&p, w->confidence);
}

static enum cot_err check_size(int64_t trays, int64_t tray_cells, struct cot_fault *fault)
{
    enum cot_err err = cot_sow_check_trays(trays, fault);
    if (err != COT_OK || trays * tray_cells <= COT_POT_CELLS_MOST) return err;
    return cot_fail(fault, COT_TOO_LARGE, "%lld trays of %lld cells: potting on is reckoned for up to %d cells",
                    (long long)trays, (long long)tray_cells, COT_POT_CELLS_MOST);
}

enum cot_err cot_pot_promise(const struct cot_sow *plugs, int64_t plug_trays, const struct cot_pot_on *to,
                             int64_t trays, int64_t wanted, int32_t confidence, struct cot_pot_answer *out,
                             struct cot_fault *fault)
{
    struct two w;
    enum cot_err err = check(plugs, to, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted == 0 ? 1 : wanted, confidence, fault);
    if (err == COT_OK) err = check_size(plug_trays, plugs->tray_cells, fault);
    if (err == COT_OK) err = check_size(trays, to->tray_cells, fault);
    if (err != COT_OK) return err;
    start(&w, plugs, to, wanted, confidence);
    answer(&w, plug_trays, trays, out);
    return COT_OK;
}

enum cot_err cot_pot_count_on(const struct cot_sow *plugs, int64_t plug_trays, const struct cot_pot_on *to,
                              int64_t trays, int32_t confidence, int64_t *count_on, struct cot_fault *fault)
{
    struct two w;
    struct pair p;
    enum cot_err err = check(plugs, to, fault);
    if (err == COT_OK) err = cot_sow_check_asked(1, confidence, fault);
    if (err == COT_OK) err = check_size(plug_trays, plugs->tray_cells, fault);
    if (err == COT_OK) err = check_size(trays, to->tray_cells, fault);
    if (err != COT_OK) return err;
    start(&w, plugs, to, 0, confidence);
    cot_plants_of_trays(&w.first, &w.plug, plug_trays, &p.plug);
    full_trays(&w, trays, &p.take);
    *count_on = most_plants(&p, confidence);
    return COT_OK;
}

/* --- The pair with the least bench -------------------------------------------------------------------------------- */
static bool full_trays_do(const void *context, int64_t trays)
{
    const struct two *w = context;
    struct cot_plants take;
    if (trays * w->to->tray_cells < w->wanted) return false;
    full_trays(w, trays, &take);
    return cot_sure(cot_plants_ge(&take, w->wanted), w->confidence);
}

struct plugs_for {
    const struct two *w;
    struct cot_plants take;
};

static bool plug_trays_do(const void *context, int64_t plug_trays)
{
    const struct plugs_for *c = context;
    struct cot_plants plug;
    cot_plants_of_trays(&c->w->first, &c->w->plug, plug_trays, &plug);
    return cot_sure(chance_of(&plug, &c->take, c->w->wanted), c->w->confidence);
}

static int64_t at_least_trays(int64_t plants, int64_t tray_cells)
{
    return (plants + tray_cells - 1) / tray_cells;
}

/* More larger trays need fewer plugs: so it goes on while the larger trays and the fewest plugs possible might still
 * take less bench than the best pair so far. */
static bool least_bench(const struct two *w, int64_t from, int64_t *plug_trays, int64_t *trays)
{
    const struct cot_pot_on *to = w->to;
    int64_t low = at_least_trays(w->wanted, w->first.tray_cells), most = COT_POT_CELLS_MOST / w->first.tray_cells;
    int64_t large_most = COT_POT_CELLS_MOST / to->tray_cells, guess = low + low / 4 + 1;
    double best = INFINITY;
    for (int64_t n = from; n <= large_most; n++) {
        double room = (double)n * to->room, left = floor((best - room) / to->plug_room);
        if (room + (double)low * to->plug_room >= best) break;
        struct plugs_for c = {.w = w};
        full_trays(w, n, &c.take);
        int64_t high = left < (double)most ? (int64_t)left : most;
        int64_t need = cot_fewest(low, high, guess, plug_trays_do, &c);
        if (need > high || room + (double)need * to->plug_room >= best) continue;
        best = room + (double)need * to->plug_room;
        *plug_trays = guess = need;
        *trays = n;
    }
    return best < INFINITY;
}

static enum cot_err fewest(const struct two *w, int64_t *plug_trays, int64_t *trays, struct cot_fault *fault)
{
    int64_t high = COT_POT_CELLS_MOST / w->to->tray_cells, low = at_least_trays(w->wanted, w->to->tray_cells);
    int64_t from = low <= high ? cot_fewest(low, high, low, full_trays_do, w) : high + 1;
    if (from <= high && least_bench(w, from, plug_trays, trays)) return COT_OK;
    return cot_fail(fault, COT_TOO_LARGE, "%lld plants potted on would need more than %d cells of one stage",
                    (long long)w->wanted, COT_POT_CELLS_MOST);
}

enum cot_err cot_pot_fewest(const struct cot_sow *plugs, const struct cot_pot_on *to, int64_t wanted,
                            int32_t confidence, int64_t *plug_trays, int64_t *trays, struct cot_fault *fault)
{
    struct two w;
    enum cot_err err = check(plugs, to, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted, confidence, fault);
    if (err != COT_OK) return err;
    start(&w, plugs, to, wanted, confidence);
    return fewest(&w, plug_trays, trays, fault);
}

enum cot_err cot_pot_trays(const struct cot_sow *plugs, const struct cot_pot_on *to, int64_t wanted, int32_t confidence,
                           struct cot_pot_answer *out, struct cot_fault *fault)
{
    struct two w;
    int64_t plug_trays = 0, trays = 0;
    enum cot_err err = check(plugs, to, fault);
    if (err == COT_OK) err = cot_sow_check_asked(wanted, confidence, fault);
    if (err != COT_OK) return err;
    start(&w, plugs, to, wanted, confidence);
    err = fewest(&w, &plug_trays, &trays, fault);
    if (err == COT_OK) answer(&w, plug_trays, trays, out);
    return err;
}
