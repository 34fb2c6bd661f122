/* What each line gets when the rule meets every possible supply. */
#ifndef COT_CORE_FILL_CHANCE_H
#define COT_CORE_FILL_CHANCE_H

#include "fill/share.h"
#include "fill/supplies.h"

/* Per wish of the whole sharing. */
struct cot_prospect {
    double full;   /* probability that it gets all it needs */
    int64_t holds; /* plants to come that hold with the confidence */
};
/* Lines of a farm counted together: in supply i, farm f gets base[f] + sum[f * N + i] plants, and lacking[f * N + i]
 * (or never[f]) says that one of its lines does not get all it needs. */
struct cot_party {
    int64_t *base, *sum;
    bool *never, *lacking;
};
struct cot_chance_task {
    const struct cot_sharing *whole; /* each wish has a line of its net to itself; shared out when this begins */
    const uint32_t *component;       /* per batch, as in supplies.h */
    uint32_t components;
    const struct cot_supplies *supplies;
    int32_t confidence;            /* per mille */
    const uint32_t *farm_of;       /* per wish */
    struct cot_prospect *prospect; /* per wish: filled */
    struct cot_party farm;         /* cleared by the caller: added to */
    uint32_t *batch_lacking; /* per batch: supplies in which a line with plants of it does not get all it needs; cleared
                                by the caller */
    const bool *known;       /* per component: its prospects stand already; NULL: none is known */
    bool prospects_only;     /* farms and batches are not counted, and may be NULL but for farm.never */
};
/* MEMORY. */
COT_MUSTCHECK enum cot_err cot_chances(const struct cot_chance_task *t);

#endif
