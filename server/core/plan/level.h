/* What the files of the levelling share. A cell is a resource on a day: resource x days + day. */
#ifndef COT_CORE_PLAN_LEVEL_H
#define COT_CORE_PLAN_LEVEL_H

#include "cotyledger/core/plan.h"

#define COT_LV_STEPS 512 /* of the table, from empty to the mark */
#define COT_LV_TABLE (2 * COT_LV_STEPS)
#define COT_LV_MILLION 1000000

struct cot_lv_score { /* the less the better, in this order */
    int64_t over;     /* spots and days over the room */
    int64_t moved;    /* batches off their standing day; 0 unless that counts */
    int64_t cost;     /* smooth: high use is dear */
};

struct cot_lv {
    const struct cot_level_ask *ask;
    int32_t days, cells;
    int64_t *room; /* of each cell; -1: no limit */
    int64_t *load;
    int64_t *mark;  /* use that costs COT_LV_ONE: the peak's share of a levelled room, or all of another */
    int64_t *ratio; /* 2^41 / mark */
    int64_t *price; /* of a spot, summed up: cells + resources */
    int64_t *kept;  /* prices of one cell each */
    int64_t *reply; /* load when each batch takes its cheapest day; sums first */
    int32_t *day, *best;
    uint32_t *order;
    int64_t *key;                    /* one a batch, to sort by */
    int32_t *distinct;               /* plates of each day */
    uint16_t *plates;                /* batches of a plate on a day: days x COT_LEVEL_PLATES */
    int64_t table[COT_LV_TABLE + 2]; /* cost by use */
    uint64_t dice;
    bool moves_count;
    int64_t bound; /* the highest so far, parts in a million */
};

/* --- Cost (level_cost.c) */
bool cot_lv_span(const struct cot_lv *w, const struct cot_use *u, int32_t day, int32_t *from, int32_t *to);
void cot_lv_put(struct cot_lv *w, uint32_t batch, int32_t day, int64_t sign); /* adds to the load, or takes off */
void cot_lv_reload(struct cot_lv *w);                                         /* the load of w->day */
/* The cost grows as use to the power p; the peak is put at `peak` parts in a million. */
void cot_lv_shape(struct cot_lv *w, int p, int64_t peak);
/* What a batch that is not in the load would add. */
struct cot_lv_score cot_lv_would(struct cot_lv *w, uint32_t batch, int32_t day);
bool cot_lv_stands(const struct cot_lv *w, uint32_t batch, int32_t cell); /* uses it on its day */
bool cot_lv_less(const struct cot_lv_score *a, const struct cot_lv_score *b);
int64_t cot_lv_over(const struct cot_lv *w); /* of the whole load */
int64_t cot_lv_moved(const struct cot_lv *w);
/* Highest use of a levelled room, parts in a million, rounded up; *cell (may be NULL): where, -1: nowhere. */
int64_t cot_lv_peak(const struct cot_lv *w, int32_t *cell);
int64_t cot_lv_share(int64_t use, int64_t room); /* parts in a million, rounded up */

/* --- Search (level_search.c) */
uint32_t cot_lv_pass(struct cot_lv *w); /* every batch to its best day; how many moved */
int32_t cot_lv_cheapest(struct cot_lv *w, uint32_t batch, int32_t stays, struct cot_lv_score *least);
/* From w->day to a better plan, and the bound beside it. `effort`: passes for each power. */
void cot_lv_search(struct cot_lv *w, int32_t effort);

/* --- Bound (level_bound.c): raises w->bound */
void cot_lv_bound_here(struct cot_lv *w, int p); /* by prices read from the load */
void cot_lv_bound_more(struct cot_lv *w, int32_t rounds);

/* --- What gives way, and what would do (level_fit.c) */
void cot_lv_lacks(const struct cot_lv *w, struct cot_level *out);
void cot_lv_give_way(struct cot_lv *w);
void cot_lv_put_back(struct cot_lv *w); /* whatever fits as the others stand, in queue order */

/* --- Plates and slack, without more overflow or peak (level_tidy.c) */
void cot_lv_tidy(struct cot_lv *w);
int64_t cot_lv_plate_changes(struct cot_lv *w);

#endif
