/* Stand-count figures as a person types them. A figure that was not taken is COT_COUNT_UNKNOWN; nothing is made up. */
#ifndef COTYL_COUNT_READ_H
#define COTYL_COUNT_READ_H

#include "cotyledger/core/err.h"
#include "cotyledger/core/fact.h"

#define COT_COUNT_TRAYS_MAX 200
#define COT_FIGURES 5

/* The figures in their order: looked, usable, blanks, culls, doubles. */
extern const char *const cot_figure_name[COT_FIGURES];
int32_t *cot_figure(struct cot_tray_count *c, int i);
/* Index of "looked", "blanks" ...; -1. */
int cot_figure_index(const char *name, size_t len);

/* A whole number of cells, or "?" for not taken. INVALID names `where` and the text. */
COT_MUSTCHECK enum cot_err cot_figure_read(const char *s, size_t len, const char *where, int32_t *out,
                                           struct cot_fault *fault);
/* A tray number, 1 or more. */
COT_MUSTCHECK enum cot_err cot_tray_read(const char *s, size_t len, int32_t *out, struct cot_fault *fault);

/* The short forms: "3:72/66/4/2/1" (tray:looked/usable/blanks/culls/doubles, "?" not taken) and "3:blanks=5,culls=1".
 * INVALID says what is wrong with which part. */
COT_MUSTCHECK enum cot_err cot_count_short(const char *word, struct cot_tray_count *out, struct cot_fault *fault);

/* What follows from the figures given and from nothing else: with usable, blanks and culls all taken, looked at is
 * their sum; with neither looked at nor usable given it is all `cells` of the tray; usable is looked - blanks - culls
 * when culls were taken. INVALID when it cannot be known how many cells were looked at, when more were than there are
 * (`cells`; 0: not known), or when the parts are more than the whole. `where`: "tray 3", "the count". */
COT_MUSTCHECK enum cot_err cot_count_complete(struct cot_tray_count *c, int64_t cells, const char *where,
                                              struct cot_fault *fault);

#endif
