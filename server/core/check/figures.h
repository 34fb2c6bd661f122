/* What the counts of a batch can be used for: figures that nothing was lost from, patched into or taken out of before,
 * of trays that were drawn, not picked by eye. */
#ifndef COT_CORE_CHECK_FIGURES_H
#define COT_CORE_CHECK_FIGURES_H

#include "cotyledger/core/check.h"

struct cot_check_figures {
    struct cot_check_tray *tray; /* by number */
    size_t trays;
    int64_t sampled, looked, usable; /* trays and cells, in `tray` or in the pooled count that stands in for it */
    bool early;                      /* counted before `count_day`; later counts come first */
};
/* The latest usable figures of each tray by day `on`. MEMORY; free in any case. */
COT_MUSTCHECK enum cot_err cot_check_figures_read(struct cot_book *b, const struct cot_thing *batch, int32_t on,
                                                  int32_t count_day, struct cot_check_figures *out);
void cot_check_figures_free(struct cot_check_figures *f);

#endif
