/* An order line as people type it: what `order` records and `what-if` only asks. */
#ifndef COTYL_ASKED_LINE_H
#define COTYL_ASKED_LINE_H

#include "args.h"

/* clang-format off */
#define COT_ASKED_LINE_OPTS \
    {"plants", "N", COT_F_PLANTS}, \
    {"trays", "N", COT_F_TRAYS}, \
    {"on", "DAY", COT_F_DATE}, \
    {"early", "N", COT_F_EARLY}, \
    {"late", "N", COT_F_LATE}, \
    {"format", "F|any", COT_F_FORMAT}, \
    {"least", "N", COT_F_LEAST}, \
    {"sub", "V,V", -1}, \
    {"untreated", NULL, COT_F_UNTREATED}, \
    {"organic", NULL, COT_F_ORGANIC}, \
    {"own-seed", NULL, COT_F_OWN_SEED}, \
    {"priority", "N", COT_F_PRIORITY}
/* clang-format on */

/* --sub may be repeated, which a table of options does not know: takes them out of argv and joins their values by
 * commas. The caller frees `subs`. */
void cot_take_subs(struct cot_buf *subs, int *argc, char **argv);
/* Those into the fact; none: nothing. */
COT_MUSTCHECK enum cot_err cot_subs_put(struct cot_cli *cli, const struct cot_buf *subs, void *keep,
                                        struct cot_fact *f);
/* The words [FARM] VARIETY into the fact: a buyer's farm is the own, staff name one (NOT_ALLOWED, and what
 * cot_book_find says; `a` has 1 or 2 words, for staff 2). */
COT_MUSTCHECK enum cot_err cot_whose_what(struct cot_cli *cli, const struct cot_args *a, struct cot_fact *f);

#endif
