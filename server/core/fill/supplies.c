/* Spreading supplies. */
#include "fill/supplies.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/prob.h"
#include "fill/levels.h"
#include "stand/calc.h"

#define N COT_FILL_LEVELS
#define NOBODY UINT32_MAX
#define LEVELS 1023 /* levels of a batch among others: theirs blur its steps */
#define GRID COT_PHI_GRID
#define REACH 5.0 /* of the table of Phi, either way */
#define BLOCK 64  /* points that are worked out together */

/* Scratch of one spreading. */
struct spread {
    const struct cot_stand *stand;
    uint32_t batches;
    uint32_t *group;    /* per batch, by union; the least batch of it */
    uint32_t *lot_axis; /* per batch: place of its lot among the group's axes */
    uint32_t *member;   /* batches of one group */
    double *load;       /* per batch: shared */
    double *swing;      /* per batch: about one standard deviation of its plants */
    double *axis;       /* the reflection's vector */
    double *at;         /* [axis * BLOCK + point]: some points */
    int64_t *levels;
    uint16_t *sole_level; /* [k * COT_SOLE_LEVELS + level]: point of the k-th batch that stands alone */
    int32_t *level_of;    /* per batch: LEVELS of them */
    uint16_t *order;      /* per axis: N levels of the lattice */
    uint16_t *level;      /* per member of a group: its level of N at each point */
    uint32_t below[N];    /* points at lower levels of one member, and those placed so far */
    const struct cot_normals *normals;
    struct cot_normals own;
};

void cot_supplies_free(struct cot_supplies *s)
{
    free(s->at);
    free(s->sole);
    free(s->sole_points);
    free(s->sole_before);
    free(s->sole_of);
    free(s->point);
    *s = (struct cot_supplies){0};
}

static void spread_free(struct spread *s)
{
    free(s->group);
    free(s->lot_axis);
    free(s->member);
    free(s->load);
    free(s->swing);
    free(s->axis);
    free(s->at);
    free(s->levels);
    free(s->sole_level);
    free(s->level_of);
    free(s->order);
    free(s->level);
}

static bool reserve(struct spread *s, struct cot_supplies *out, uint32_t sole)
{
    size_t n = (size_t)s->batches + 1;
    s->group = calloc(n, sizeof *s->group);
    s->lot_axis = calloc(n, sizeof *s->lot_axis);
    s->member = calloc(n, sizeof *s->member);
    s->load = calloc(n, sizeof *s->load);
    s->swing = calloc(n, sizeof *s->swing);
    s->axis = calloc(2 * n, sizeof *s->axis);
    s->at = calloc(2 * n * BLOCK, sizeof *s->at);
    s->levels = calloc(COT_SOLE_WEIGHT, sizeof *s->levels);
    s->sole_level = calloc(((size_t)sole + 1) * COT_SOLE_LEVELS, sizeof *s->sole_level);
    s->level_of = calloc(n * LEVELS, sizeof *s->level_of);
    s->order = calloc(2 * n * N + BLOCK, sizeof *s->order);
    s->level = calloc(n * N, sizeof *s->level);
    out->at = calloc(n * N, sizeof *out->at);
    out->sole = calloc(((size_t)sole + 1) * COT_SOLE_LEVELS, sizeof *out->sole);
    out->sole_of = calloc(n, sizeof *out->sole_of);
    out->sole_points = calloc((size_t)sole + 1, sizeof *out->sole_points);
    out->sole_before = calloc(((size_t)sole + 1) * (COT_SOLE_LEVELS + 1), sizeof *out->sole_before);
    out->point = calloc(((size_t)sole + 1) * N, sizeof *out->point);
    return s->group && s->lot_axis && s->member && s->load && s->swing && s->axis && s->at && s->levels &&
           s->sole_level && s->level_of && s->order && s->level && out->at && out->sole && out->sole_points &&
           out->sole_before && out->sole_of && out->point;
}

/* --- Normals and levels ------------------------------------------------------------------------------------------ */

/* To 1e-9: what follows is sums and products, the same on every machine. */
static double rounded(double z)
{
    return floor(z * 1e9 + 0.5) / 1e9;
}

void cot_normals_make(struct cot_normals *out)
{
    for (int i = 0; i <= N / 2; i++) {
        out->normal[i] = rounded(cot_phi_inv((2 * i + 1) / (2.0 * N)));
        out->normal[N - 1 - i] = -out->normal[i];
    }
    for (int i = 0; i <= GRID; i++) out->phi[i] = cot_round9(cot_phi(REACH * (2.0 * i / GRID - 1)));
}

/* Level 0 .. N - 1 of a normal; Phi by its table, within 1e-5. */
static inline uint32_t level_at(const struct spread *s, double z)
{
    const double *phi = s->normals->phi;
    double x = (z / REACH + 1) * (GRID / 2.0), u;
    if (!(x > 0)) return 0;
    if (x >= GRID) return N - 1;
    int i = (int)x;
    u = (phi[i] + (phi[i + 1] - phi[i]) * (x - i)) * N;
    return u >= N ? N - 1 : (uint32_t)u;
}

static int32_t to_come(const struct cot_stand *s, int64_t plants)
{
    int64_t n = plants - s->out;
    return n < 0 ? 0 : n > INT32_MAX ? INT32_MAX : (int32_t)n;
}

/* Puts down the figures of s->levels, `n` of them and each of the same weight, once each with the sum of their weights.
 * False when there are too many. */
static bool put_points(struct spread *s, const struct cot_stand *t, uint32_t k, uint32_t n, struct cot_supplies *out)
{
    int32_t *to = out->sole + (size_t)k * COT_SOLE_LEVELS;
    uint32_t *before = out->sole_before + (size_t)k * (COT_SOLE_LEVELS + 1), points = 0;
    uint16_t *level = s->sole_level + (size_t)k * COT_SOLE_LEVELS;
    for (uint32_t i = 0; i < n; i++) {
        int32_t plants = to_come(t, s->levels[i]);
        if (points == 0 || plants != to[points - 1]) {
            if (points == COT_SOLE_LEVELS) return false;
            before[points] = i * (COT_SOLE_WEIGHT / n);
            to[points++] = plants;
        }
        level[(uint64_t)i * COT_SOLE_LEVELS / n] = (uint16_t)(points - 1);
    }
    before[points] = COT_SOLE_WEIGHT;
    out->sole_points[k] = points;
    return true;
}

/* A batch alone: by all its levels, or by few when it may have more figures than there is room for. */
static enum cot_err read_sole(struct spread *s, const struct cot_stand *t, uint32_t k, struct cot_supplies *out)
{
    if (cot_stand_levels(t, COT_SOLE_WEIGHT, s->levels) != COT_OK) return COT_MEMORY;
    if (put_points(s, t, k, COT_SOLE_WEIGHT, out)) return COT_OK;
    if (cot_stand_levels(t, COT_SOLE_LEVELS, s->levels) != COT_OK) return COT_MEMORY;
    (void)put_points(s, t, k, COT_SOLE_LEVELS, out);
    return COT_OK;
}

/* The batch's levels. */
static enum cot_err read_levels(struct spread *s, uint32_t b, struct cot_supplies *out)
{
    const struct cot_stand *t = &s->stand[b];
    s->load[b] = t->shared > 0 && t->shared <= 1 ? t->shared : 0;
    if (out->sole_of[b] != NOBODY && read_sole(s, t, out->sole_of[b], out) != COT_OK) return COT_MEMORY;
    if (cot_stand_levels(t, LEVELS, s->levels) != COT_OK) return COT_MEMORY;
    s->swing[b] = (double)(s->levels[LEVELS * 21 / 25] - s->levels[LEVELS * 4 / 25]) / 2 + 1e-3;
    for (int i = 0; i < LEVELS; i++) s->level_of[(size_t)b * LEVELS + (size_t)i] = to_come(t, s->levels[i]);
    return COT_OK;
}

/* --- Groups ------------------------------------------------------------------------------------------------------- */

static uint32_t root_of(uint32_t *group, uint32_t b)
{
    while (group[b] != b) b = group[b] = group[group[b]];
    return b;
}

static void unite(uint32_t *group, uint32_t a, uint32_t b)
{
    a = root_of(group, a);
    b = root_of(group, b);
    if (a < b) group[b] = a;
    else group[a] = b;
}

static bool same_lot(const struct spread *s, uint32_t a, uint32_t b)
{
    return s->load[a] > 0 && s->load[b] > 0 && cot_id_cmp(&s->stand[a].lot, &s->stand[b].lot) == 0;
}

/* Batches tied by a line, or by a lot that both hang on. */
static void find_groups(struct spread *s, const uint32_t *component)
{
    for (uint32_t b = 0; b < s->batches; b++) {
        double shared = s->stand[b].shared;
        s->load[b] = shared > 0 && shared <= 1 ? shared : 0;
        s->group[b] = b;
    }
    for (uint32_t b = 0; b < s->batches; b++)
        for (uint32_t a = 0; a < b && component[b] != NOBODY; a++)
            if (component[a] != NOBODY && (component[a] == component[b] || same_lot(s, a, b))) unite(s->group, a, b);
    for (uint32_t b = 0; b < s->batches; b++) s->group[b] = root_of(s->group, b);
}

/* Lists the group's batches and gives its lots axes after theirs. Returns how many batches; *axes: of both. */
static uint32_t list_group(struct spread *s, uint32_t group, const uint32_t *component, uint32_t *axes)
{
    uint32_t n = 0;
    for (uint32_t b = group; b < s->batches; b++)
        if (s->group[b] == group && component[b] != NOBODY) s->member[n++] = b;
    *axes = n;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t b = s->member[i], k = 0;
        if (s->load[b] <= 0) continue;
        while (k < i && !same_lot(s, b, s->member[k])) k++;
        s->lot_axis[b] = k < i ? s->lot_axis[s->member[k]] : (*axes)++;
    }
    return n;
}

static double own_part(double load)
{
    return sqrt(1 - load * load);
}

/* The reflection that takes the first axis to the direction of the whole: its vector v, and 2 / v.v (0: none needed).
 */
static double reflection(struct spread *s, uint32_t n, uint32_t axes)
{
    double square = 0, length = 0;
    for (uint32_t k = 0; k < axes; k++) s->axis[k] = 0;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t b = s->member[i];
        s->axis[i] += s->swing[b] * own_part(s->load[b]);
        if (s->load[b] > 0) s->axis[s->lot_axis[b]] += s->swing[b] * s->load[b];
    }
    for (uint32_t k = 0; k < axes; k++) length += s->axis[k] * s->axis[k];
    length = sqrt(length);
    for (uint32_t k = 0; k < axes; k++) s->axis[k] = (k == 0 ? 1 : 0) - s->axis[k] / length;
    for (uint32_t k = 0; k < axes; k++) square += s->axis[k] * s->axis[k];
    return square > 1e-12 ? 2 / square : 0;
}

/* The group's supplies i .. i + n - 1. Whole blocks are worked out, as that is faster; what is past n counts for
 * nothing.
 */
static void spread_block(struct spread *s, uint32_t i, uint32_t n, uint32_t members, uint32_t axes, double twice)
{
    const double *normal = s->normals->normal;
    double along[BLOCK] = {0}, z[BLOCK];
    for (uint32_t k = 0; k < axes; k++) {
        const uint16_t *order = s->order + (size_t)k * N + i;
        double *at = s->at + (size_t)k * BLOCK, axis = s->axis[k];
        for (uint32_t j = 0; j < BLOCK; j++) at[j] = normal[order[j]];
        for (uint32_t j = 0; j < BLOCK; j++) along[j] += axis * at[j];
    }
    for (uint32_t j = 0; j < BLOCK; j++) along[j] *= twice;
    for (uint32_t k = 0; k < axes; k++) {
        double *at = s->at + (size_t)k * BLOCK, axis = s->axis[k];
        for (uint32_t j = 0; j < BLOCK; j++) at[j] -= along[j] * axis;
    }
    for (uint32_t m = 0; m < members; m++) {
        uint32_t b = s->member[m];
        double load = s->load[b], own = own_part(load);
        const double *at = s->at + (size_t)m * BLOCK, *lot = s->at + (size_t)s->lot_axis[b] * BLOCK;
        if (load > 0)
            for (uint32_t j = 0; j < BLOCK; j++) z[j] = own * at[j] + load * lot[j];
        else
            for (uint32_t j = 0; j < BLOCK; j++) z[j] = own * at[j];
        for (uint32_t j = 0; j < n; j++) s->level[(size_t)m * N + i + j] = (uint16_t)level_at(s, z[j]);
    }
}

/* The turned points no longer pass through each of a batch's levels once. They are put in order of its level and take
 * those in turn: so each batch by itself is spread evenly, whatever it has in common with others. */
static void put_in_order(struct spread *s, uint32_t m, struct cot_supplies *out)
{
    uint32_t b = s->member[m], k = out->sole_of[b], sum = 0, levels = k == NOBODY ? LEVELS : COT_SOLE_LEVELS;
    const uint16_t *level = s->level + (size_t)m * N;
    const int32_t *of = k == NOBODY ? s->level_of + (size_t)b * LEVELS : out->sole + (size_t)k * COT_SOLE_LEVELS;
    const uint16_t *point = k == NOBODY ? NULL : s->sole_level + (size_t)k * COT_SOLE_LEVELS;
    memset(s->below, 0, sizeof s->below);
    for (uint32_t i = 0; i < N; i++) s->below[level[i]]++;
    for (uint32_t l = 0; l < N; l++) {
        uint32_t here = s->below[l];
        s->below[l] = sum;
        sum += here;
    }
    for (uint32_t i = 0; i < N; i++) {
        uint32_t mine = s->below[level[i]]++ * levels / N;
        if (point) mine = out->point[(size_t)k * N + i] = point[mine];
        out->at[(size_t)b * N + i] = of[mine];
    }
}

static void spread_group(struct spread *s, uint32_t number, uint32_t n, uint32_t axes, struct cot_supplies *out)
{
    double twice = reflection(s, n, axes);
    uint16_t walk[N];
    cot_fill_order(number, walk);
    for (uint32_t k = 0; k < axes; k++) cot_fill_levels(number, walk, k, s->order + (size_t)k * N);
    for (uint32_t i = 0; i < N; i += BLOCK) spread_block(s, i, N - i < BLOCK ? N - i : BLOCK, n, axes, twice);
    for (uint32_t m = 0; m < n; m++) put_in_order(s, m, out);
}

/* --- All ---------------------------------------------------------------------------------------------------------- */

/* Numbers the batches that stand alone in their component; returns how many. `sole_of` may be NULL: only counted. */
static uint32_t find_sole(uint32_t batches, const uint32_t *component, uint32_t *sole_of)
{
    uint32_t n = 0;
    for (uint32_t b = 0; b < batches; b++) {
        bool sole = component[b] != NOBODY;
        for (uint32_t a = 0; a < batches && sole; a++) sole = a == b || component[a] != component[b];
        if (sole_of) sole_of[b] = sole ? n : NOBODY;
        n += sole;
    }
    return n;
}

enum cot_err cot_supplies_groups(const struct cot_stand *stand, uint32_t batches, const uint32_t *component,
                                 uint32_t *group)
{
    struct spread *s = calloc(1, sizeof *s);
    double *load = calloc((size_t)batches + 1, sizeof *load);
    enum cot_err err = s && load ? COT_OK : COT_MEMORY;
    if (err == COT_OK) {
        s->stand = stand;
        s->batches = batches;
        s->load = load;
        s->group = group;
        find_groups(s, component);
    }
    free(load);
    free(s);
    return err;
}

enum cot_err cot_supplies_spread(const struct cot_stand *stand, uint32_t batches, const uint32_t *component,
                                 struct cot_supplies *out)
{
    return cot_supplies_spread_some(stand, batches, component, NULL, NULL, out);
}

enum cot_err cot_supplies_spread_some(const struct cot_stand *stand, uint32_t batches, const uint32_t *component,
                                      const struct cot_normals *normals, const bool *wanted, struct cot_supplies *out)
{
    struct spread *s = calloc(1, sizeof *s);
    uint32_t number = 0, axes;
    enum cot_err err = COT_MEMORY;
    *out = (struct cot_supplies){.batches = batches};
    if (!s) return err;
    s->stand = stand;
    s->batches = batches;
    if (!reserve(s, out, find_sole(batches, component, NULL))) goto out;
    find_sole(batches, component, out->sole_of);
    s->normals = normals ? normals : &s->own;
    if (!normals) cot_normals_make(&s->own);
    err = COT_OK;
    for (uint32_t b = 0; b < batches && err == COT_OK; b++)
        if (component[b] != NOBODY && (!wanted || wanted[b])) err = read_levels(s, b, out);
    if (err != COT_OK) goto out;
    find_groups(s, component);
    for (uint32_t b = 0; b < batches; b++) {
        if (component[b] == NOBODY || s->group[b] != b) continue;
        uint32_t n = list_group(s, b, component, &axes), at = number++;
        if (!wanted || wanted[b]) spread_group(s, at, n, axes, out);
    }
out:
    spread_free(s);
    free(s);
    return err;
}
