/* Appending to the own journal, for cot_record and for what carries entries over. */
#ifndef COTYL_RECORD_H
#define COTYL_RECORD_H

#include "client.h"

struct cot_own_head;

/* What the server's door would refuse, and what the house would never book: asked before an entry is appended, so that
 * no journal is blocked by one bad entry. `cli` gives part and farm. */
COT_MUSTCHECK enum cot_err cot_record_check(struct cot_cli *cli, const struct cot_fact *f);
/* Appends one fact within an open transaction: header filled, checked, written, chained. Moves `head`. The line's bytes
 * are left in `line` (cleared first). */
COT_MUSTCHECK enum cot_err cot_record_append(struct cot_cli *cli, const char *tag, struct cot_fact *f,
                                             struct cot_own_head *head, struct cot_buf *line, struct cot_id *digest);
/* Whether the fact makes a thing that carries a code. */
bool cot_record_coded(const struct cot_fact *f);
void cot_record_free_codes(struct cot_cli *cli);

#endif
