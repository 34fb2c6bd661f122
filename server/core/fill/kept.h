/* What a reading found, group by group, so that a what-if shares out anew only the groups that it touches: batches that
 * lines or lots tie together, with those lines. A group whose batches, lines, claims, rule and number are as before
 * comes to the same figures, to the last, since nothing else goes into them. */
#ifndef COT_CORE_FILL_KEPT_H
#define COT_CORE_FILL_KEPT_H

#include "fill/reading.h"

struct cot_fill_kept {
    uint32_t groups;
    size_t *first; /* groups + 1: a group's words */
    uint64_t *word;
    size_t *line_first; /* groups + 1 */
    struct cot_prospect *prospect;
    struct cot_normals normals;
};

/* Keeps what r found in r->keep. MEMORY. */
COT_MUSTCHECK enum cot_err cot_kept_store(const struct cot_reading *r);
/* Fills the prospects of lines whose group is as in r->from, and r->known and r->wanted. MEMORY. */
COT_MUSTCHECK enum cot_err cot_kept_recall(struct cot_reading *r, uint32_t components);

#endif
