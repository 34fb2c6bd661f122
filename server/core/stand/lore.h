/* What a house's counted batches of a crop teach of the next: how far batches of a lot differ, how the crop does in
 * this house, how far trays differ. Plain figures. */
#ifndef COT_CORE_STAND_LORE_H
#define COT_CORE_STAND_LORE_H

#include <stdbool.h>
#include <stddef.h>

#include "cotyledger/core/book.h"
#include "stand/post.h"

/* Who may be alike: batches of one crop, sown or potted on. */
struct cot_kin {
    struct cot_id crop, lot;
    bool potted;
};

/* A counted batch as a witness: its own data alone say x ~ N(x, v). */
struct cot_witness {
    struct cot_kin kin;
    struct cot_id batch;
    struct cot_odds lot; /* of its lot, before any count */
    double x, v;
    bool rate;                      /* x and v say something */
    bool rho;                       /* rho_log does: two trays or more */
    double rho_log[COT_RHO_POINTS]; /* log likelihood of its trays */
};
/* From a posterior and the prior it was made with: the prior divided out. */
void cot_witness_of(const struct cot_post *post, const struct cot_odds *before, size_t trays, struct cot_witness *out);

struct cot_lore;
/* Takes the witnesses (sorts them; they stay the caller's and must outlive the house). MEMORY. */
COT_MUSTCHECK enum cot_err cot_lore_new(struct cot_witness *w, size_t n, struct cot_lore **out);
void cot_lore_free(struct cot_lore *h);

struct cot_before {
    struct cot_odds common;   /* what all batches of the lot share */
    struct cot_odds x;        /* of the batch: the same and its own part */
    struct cot_spread spread; /* assumed where no other batch speaks */
};
/* Of a batch of this kin, its lot's odds given, the batch itself left out (NULL: a batch to come). */
void cot_lore_before(const struct cot_lore *h, const struct cot_kin *kin, const struct cot_odds *lot,
                     const struct cot_id *batch, struct cot_before *out);

/* How much the plants hang on what the lot's batches share, as cot_stand's `shared`: `own` the batch's witness,
 * `slope` plants for one on the log-odds scale, `sd` of the plants. */
double cot_shared_of(const struct cot_before *b, const struct cot_witness *own, double slope, double sd);

#endif
