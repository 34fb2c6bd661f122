/* What stands where, for eyes and programs. */
#ifndef COTYL_SHOW_BENCHES_H
#define COTYL_SHOW_BENCHES_H

#include "cotyledger/core/stays.h"
#include "table.h"

#define COT_BENCH_WEEKS 6 /* shown side by side in 80 columns */

/* All places: what they hold, what is free today and, the fewest of each week, in the weeks to come; then what is too
 * full, and what stands at no place of the house. Programs get a row for each place and week. */
COT_MUSTCHECK enum cot_err cot_benches_print(struct cot_cli *cli, const struct cot_benches *t, int weeks,
                                             enum cot_form form);
/* One place: what stands there until the last of so many weeks ends. */
COT_MUSTCHECK enum cot_err cot_bench_print(struct cot_cli *cli, const struct cot_benches *t,
                                           const struct cot_thing *place, int weeks, enum cot_form form);

/* For `show`: a place's lines, and where a batch or a planned sowing stands and will stand. Nothing when there is
 * nothing to say. */
void cot_place_put_stays(const struct cot_benches *t, const struct cot_thing *place, struct cot_buf *out);
void cot_thing_put_stays(const struct cot_benches *t, const struct cot_thing *thing, struct cot_buf *out);
void cot_stays_json(const struct cot_benches *t, const struct cot_thing *thing, struct cot_buf *out);

#endif
