/* Reading one batch from the book. */
#ifndef COT_CORE_STAND_READ_H
#define COT_CORE_STAND_READ_H

#include "cotyledger/core/sow.h"
#include "stand/stand.h"

/* Things a batch hangs on. */
struct cot_around {
    const struct cot_thing *batch, *parent, *lot, *variety, *crop, *format, *plate;
};
void cot_look_around(struct cot_book *b, const struct cot_thing *batch, struct cot_around *a);
void cot_look_around_lot(struct cot_book *b, const struct cot_thing *lot, struct cot_around *a);

bool cot_grown(const struct cot_around *a); /* its cells were filled with plants: potted on, or plugs bought in */
int64_t cot_int_of(const struct cot_thing *t, enum cot_field f, int64_t otherwise);        /* t NULL: otherwise */
void cot_read_days(struct cot_book *b, const struct cot_around *a, struct cot_stand *out); /* ready, past, from sown */
enum cot_stand_basis cot_lot_odds(const struct cot_around *a, int64_t assumed_seeds, struct cot_odds *out);

/* The stand's input but for the rate before, the weights of rho and emergence; `in` points into the rest, which must
 * not move. The caller frees `work` in any case. Fills sown, ready, past, trays of *out. MEMORY. */
struct cot_in_read {
    struct cot_stand_in in;
    struct cot_cell cell;
    struct cot_work *work;
};
COT_MUSTCHECK enum cot_err cot_stand_in_read(const struct cot_stand_shared *s, const struct cot_around *a,
                                             struct cot_in_read *r, struct cot_stand *out);

#endif
