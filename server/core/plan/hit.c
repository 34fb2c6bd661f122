/* The fewest columns of which every row has one. */
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/plan.h"

#define DEPTH 64            /* columns chosen at most where branch and bound is tried */
#define DOMINANCE_MOST 4000 /* rows up to which supersets are looked for */
#define ONE (INT64_C(1) << 32)

struct work {
    struct cot_dayset *row; /* those that are left */
    uint32_t rows, words;
    uint64_t *column;    /* COT_PLAN_DAYS sets of rows */
    uint64_t *uncovered; /* DEPTH + 1 sets of rows */
    struct cot_dayset chosen, best;
    int32_t best_count;
    int64_t steps, most_steps;
};

static size_t words_of(uint32_t rows)
{
    return ((size_t)rows + 63) / 64;
}

size_t cot_hit_bytes(uint32_t rows)
{
    return (size_t)rows * sizeof(struct cot_dayset) + words_of(rows) * sizeof(uint64_t) * (COT_PLAN_DAYS + DEPTH + 1) +
           sizeof(uint64_t);
}

static int by_bits(const void *a, const void *b)
{
    const struct cot_dayset *x = a, *y = b;
    for (int k = 0; k < COT_DAYSET_WORDS; k++)
        if (x->word[k] != y->word[k]) return x->word[k] < y->word[k] ? -1 : 1;
    return 0;
}

static int by_last(const void *a, const void *b)
{
    int32_t x = cot_dayset_last(a), y = cot_dayset_last(b);
    return x != y ? (x < y ? -1 : 1) : by_bits(a, b);
}

static void take_rows(struct work *w, const struct cot_dayset *row, uint32_t rows)
{
    uint32_t n = 0, kept = 0;
    for (uint32_t i = 0; i < rows; i++)
        if (!cot_dayset_empty(&row[i])) w->row[n++] = row[i];
    qsort(w->row, n, sizeof *w->row, by_bits);
    for (uint32_t i = 0; i < n; i++)
        if (!i || by_bits(&w->row[i], &w->row[i - 1])) w->row[kept++] = w->row[i];
    w->rows = kept;
}

/* --- Runs --- */
static bool all_runs(const struct work *w)
{
    struct cot_dayset all = {0};
    for (uint32_t i = 0; i < w->rows; i++) cot_dayset_either(&all, &w->row[i]);
    for (uint32_t i = 0; i < w->rows; i++) {
        struct cot_dayset run = {0};
        cot_dayset_range(&run, cot_dayset_next(&w->row[i], 0), cot_dayset_last(&w->row[i]));
        cot_dayset_both(&run, &all);
        if (!cot_dayset_within(&run, &w->row[i])) return false;
    }
    return true;
}

static void stab(struct work *w, struct cot_hit *out)
{
    qsort(w->row, w->rows, sizeof *w->row, by_last);
    for (uint32_t i = 0; i < w->rows; i++) {
        if (cot_dayset_meet(&w->row[i], &out->chosen)) continue;
        cot_dayset_add(&out->chosen, cot_dayset_last(&w->row[i]));
        out->count++;
    }
    out->bound = out->count;
    out->proved = true;
}

/* --- Making it smaller --- */
static void make_columns(struct work *w)
{
    w->words = (uint32_t)words_of(w->rows);
    memset(w->column, 0, (size_t)COT_PLAN_DAYS * w->words * sizeof *w->column);
    for (uint32_t i = 0; i < w->rows; i++)
        for (int32_t c = cot_dayset_next(&w->row[i], 0); c >= 0; c = cot_dayset_next(&w->row[i], c + 1))
            w->column[(size_t)c * w->words + i / 64] |= UINT64_C(1) << (i % 64);
}

static bool rows_within(const uint64_t *a, const uint64_t *b, uint32_t words)
{
    for (uint32_t k = 0; k < words; k++)
        if (a[k] & ~b[k]) return false;
    return true;
}

/* A column whose rows all have one other column in common is not needed; of equal ones the first stays. */
static bool drop_columns(struct work *w)
{
    struct cot_dayset all = {0}, gone = {0};
    for (uint32_t i = 0; i < w->rows; i++) cot_dayset_either(&all, &w->row[i]);
    make_columns(w);
    for (int32_t c = cot_dayset_next(&all, 0); c >= 0; c = cot_dayset_next(&all, c + 1)) {
        const uint64_t *mine = &w->column[(size_t)c * w->words];
        for (int32_t o = cot_dayset_next(&all, 0); o >= 0; o = cot_dayset_next(&all, o + 1)) {
            const uint64_t *other = &w->column[(size_t)o * w->words];
            if (o == c || cot_dayset_have(&gone, o) || !rows_within(mine, other, w->words)) continue;
            if (o > c && rows_within(other, mine, w->words)) continue;
            cot_dayset_add(&gone, c);
            break;
        }
    }
    for (uint32_t i = 0; i < w->rows; i++)
        for (int k = 0; k < COT_DAYSET_WORDS; k++) w->row[i].word[k] &= ~gone.word[k];
    return !cot_dayset_empty(&gone);
}

/* A row that contains another is hit with it. */
static bool drop_rows(struct work *w)
{
    uint32_t before = w->rows, kept = 0;
    take_rows(w, w->row, w->rows);
    for (uint32_t i = 0; i < w->rows; i++) {
        bool needed = true;
        for (uint32_t j = 0; needed && j < w->rows; j++)
            if (j != i && cot_dayset_within(&w->row[j], &w->row[i])) needed = false;
        if (needed) w->column[kept++] = i; /* free until the columns are made anew */
    }
    for (uint32_t i = 0; i < kept; i++) w->row[i] = w->row[w->column[i]];
    w->rows = kept;
    return kept < before;
}

/* --- Bounds --- */
static bool row_open(const uint64_t *left, uint32_t i)
{
    return left[i / 64] >> (i % 64) & 1;
}

/* Rows without a common column need one each. */
static int32_t packed(const struct work *w, const uint64_t *left, const struct cot_dayset *allowed)
{
    struct cot_dayset used = {0};
    int32_t n = 0;
    for (uint32_t i = 0; i < w->rows; i++) {
        struct cot_dayset mine = w->row[i];
        if (!row_open(left, i)) continue;
        cot_dayset_both(&mine, allowed);
        if (cot_dayset_meet(&mine, &used)) continue;
        cot_dayset_either(&used, &mine);
        n++;
    }
    return n;
}

static int32_t covers(const struct work *w, const uint64_t *left, int32_t column)
{
    const uint64_t *c = &w->column[(size_t)column * w->words];
    int32_t n = 0;
    for (uint32_t k = 0; k < w->words; k++) n += __builtin_popcountll(c[k] & left[k]);
    return n;
}

static void count_all(const struct work *w, const uint64_t *left, const struct cot_dayset *allowed,
                      int32_t cover[static COT_PLAN_DAYS])
{
    for (int32_t c = cot_dayset_next(allowed, 0); c >= 0; c = cot_dayset_next(allowed, c + 1))
        cover[c] = covers(w, left, c);
}

/* What rows can pay when no column may earn more than 1 bounds the columns from below (weak duality): first 1 / (most
 * rows that one of its columns covers), then each row in turn what its columns may still earn. Also finds the row with
 * the fewest columns; -1 as bound: a row has none left. */
static int32_t priced(const struct work *w, const uint64_t *left, const struct cot_dayset *allowed,
                      const int32_t cover[static COT_PLAN_DAYS], uint32_t *narrow)
{
    int64_t paid = 0, may_earn[COT_PLAN_DAYS];
    int32_t fewest = INT32_MAX;
    for (int32_t c = 0; c < COT_PLAN_DAYS; c++) may_earn[c] = ONE;
    for (int turn = 0; turn < 2; turn++)
        for (uint32_t i = 0; i < w->rows; i++) {
            struct cot_dayset mine = w->row[i];
            int32_t most = 0, n = 0;
            int64_t pays = ONE;
            if (!row_open(left, i)) continue;
            cot_dayset_both(&mine, allowed);
            for (int32_t c = cot_dayset_next(&mine, 0); c >= 0; c = cot_dayset_next(&mine, c + 1), n++) {
                if (cover[c] > most) most = cover[c];
                if (may_earn[c] < pays) pays = may_earn[c];
            }
            if (!most) return -1;
            if (n < fewest) fewest = n, *narrow = i;
            if (turn == 0) pays = ONE / most;
            for (int32_t c = cot_dayset_next(&mine, 0); c >= 0; c = cot_dayset_next(&mine, c + 1)) may_earn[c] -= pays;
            paid += pays;
        }
    return (int32_t)((paid + ONE - 1) / ONE);
}

/* --- Greedy --- */
static bool any_left(const struct work *w, const uint64_t *left)
{
    for (uint32_t k = 0; k < w->words; k++)
        if (left[k]) return true;
    return false;
}

static void take(const struct work *w, const uint64_t *left, int32_t column, uint64_t *after)
{
    const uint64_t *c = &w->column[(size_t)column * w->words];
    for (uint32_t k = 0; k < w->words; k++) after[k] = left[k] & ~c[k];
}

static void drop_needless(const struct work *w, struct cot_dayset *set)
{
    for (int32_t c = cot_dayset_next(set, 0); c >= 0; c = cot_dayset_next(set, c + 1)) {
        struct cot_dayset without = *set;
        bool all = true;
        without.word[c / 64] &= ~(UINT64_C(1) << (c % 64));
        for (uint32_t i = 0; all && i < w->rows; i++) all = cot_dayset_meet(&w->row[i], &without);
        if (all) *set = without;
    }
}

static void start_left(const struct work *w)
{
    memset(w->uncovered, 0, w->words * sizeof *w->uncovered);
    for (uint32_t i = 0; i < w->rows; i++) w->uncovered[i / 64] |= UINT64_C(1) << (i % 64);
}

static void greedy(struct work *w)
{
    uint64_t *left = w->uncovered;
    start_left(w);
    w->best = (struct cot_dayset){0};
    while (any_left(w, left)) {
        int32_t best = 0, most = -1;
        for (int32_t c = 0; c < COT_PLAN_DAYS; c++) {
            int32_t n = covers(w, left, c);
            if (n > most) most = n, best = c;
        }
        cot_dayset_add(&w->best, best);
        take(w, left, best, left);
    }
    drop_needless(w, &w->best);
    w->best_count = cot_dayset_count(&w->best);
    start_left(w);
}

/* --- Branch and bound --- */
static int32_t most_covering(const struct cot_dayset *of, const int32_t cover[static COT_PLAN_DAYS])
{
    int32_t best = -1;
    for (int32_t c = cot_dayset_next(of, 0); c >= 0; c = cot_dayset_next(of, c + 1))
        if (best < 0 || cover[c] > cover[best]) best = c;
    return best;
}

static void search(struct work *w, int32_t depth, struct cot_dayset allowed)
{
    uint64_t *left = &w->uncovered[(size_t)depth * w->words];
    int32_t cover[COT_PLAN_DAYS], bound;
    uint32_t narrow = 0;
    if (!any_left(w, left)) {
        if (depth < w->best_count) w->best_count = depth, w->best = w->chosen;
        return;
    }
    w->steps += w->rows;
    if (depth + 1 >= w->best_count || w->steps > w->most_steps) return;
    count_all(w, left, &allowed, cover);
    bound = priced(w, left, &allowed, cover, &narrow);
    if (bound < 0 || depth + bound >= w->best_count || depth + packed(w, left, &allowed) >= w->best_count) return;
    struct cot_dayset branch = w->row[narrow];
    cot_dayset_both(&branch, &allowed);
    while (!cot_dayset_empty(&branch)) {
        int32_t c = most_covering(&branch, cover);
        uint64_t bit = UINT64_C(1) << (c % 64);
        w->chosen.word[c / 64] |= bit;
        take(w, left, c, left + w->words);
        search(w, depth + 1, allowed);
        w->chosen.word[c / 64] &= ~bit;
        branch.word[c / 64] &= ~bit;
        allowed.word[c / 64] &= ~bit; /* solutions with c have been seen */
    }
}

static void prove(struct work *w, struct cot_hit *out)
{
    struct cot_dayset all = {0};
    int32_t cover[COT_PLAN_DAYS], bound;
    uint32_t narrow = 0;
    for (uint32_t i = 0; i < w->rows; i++) cot_dayset_either(&all, &w->row[i]);
    w->most_steps = cot_dayset_count(&all) <= COT_HIT_FEW ? INT64_C(10) * COT_HIT_STEPS : COT_HIT_STEPS;
    greedy(w);
    count_all(w, w->uncovered, &all, cover);
    bound = priced(w, w->uncovered, &all, cover, &narrow);
    int32_t apart = packed(w, w->uncovered, &all);
    out->bound = bound > apart ? bound : apart;
    bool tried = out->bound < w->best_count && w->best_count <= DEPTH;
    if (tried) search(w, 0, all);
    out->chosen = w->best;
    out->count = w->best_count;
    if (tried && w->steps <= w->most_steps) out->bound = out->count;
    out->proved = out->bound == out->count;
}

enum cot_err cot_hit_all(const struct cot_dayset *row, uint32_t rows, void *space, struct cot_hit *out,
                         struct cot_fault *fault)
{
    struct work w = {.row = space};
    *out = (struct cot_hit){0};
    if (rows > COT_HIT_ROWS)
        return cot_fail(fault, COT_INVALID, "%u to be served at once; at most %d can be", (unsigned)rows, COT_HIT_ROWS);
    w.column = (uint64_t *)(void *)(w.row + rows);
    w.uncovered = w.column + words_of(rows) * COT_PLAN_DAYS;
    take_rows(&w, row, rows);
    if (all_runs(&w)) {
        stab(&w, out);
        return COT_OK;
    }
    bool smaller = w.rows <= DOMINANCE_MOST;
    for (int round = 0; smaller && round < 8; round++) {
        smaller = drop_rows(&w);
        smaller |= drop_columns(&w);
    }
    make_columns(&w);
    prove(&w, out);
    return COT_OK;
}
