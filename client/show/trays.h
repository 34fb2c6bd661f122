/* How many trays to sow, for eyes and programs. */
#ifndef COTYL_SHOW_TRAYS_H
#define COTYL_SHOW_TRAYS_H

#include "client.h"
#include "cotyledger/core/sow.h"

struct cot_trays {
    struct cot_sow_asked asked;
    const struct cot_thing *on_to; /* format that the plants are potted on into; NULL: one stage */
    int32_t on;                    /* day of the sowing */
    int32_t confidence;            /* per mille */
    int64_t wanted;                /* 0: not said, what can be promised is asked for */
    int64_t seeds_there;           /* -1: the trays do not come of so many seeds */
    bool given;                    /* trays or seeds were given: what can be promised of them */
    struct cot_sow sow;
    struct cot_sow_found found;
    struct cot_sow_answer now, fewer, more; /* fewer.trays 0: there is none, or none was looked for */
    struct cot_sow_seeds seeds;
    struct cot_sow_parts parts; /* when trays were found */
    struct cot_pot_on to;
    bool by_footprint; /* `to` compares footprints, not trays */
    struct cot_pot_answer pot;
};

/* What had to be assumed, and what to look out for: a line each, ended by LF, raw. */
void cot_trays_assumed(const struct cot_trays *t, struct cot_buf *out);
void cot_trays_warnings(const struct cot_trays *t, struct cot_buf *out);
bool cot_trays_treated(const struct cot_trays *t);
/* A chance as it is told of at most `most` plants: rounded to 1 or 0 it is that only where it is certain. */
double cot_trays_chance(const struct cot_trays *t, double chance, int64_t most);
int64_t cot_trays_pot_most(const struct cot_trays *t); /* of two stages: the cells of the fewer */
/* "the seeder leaves 2.0 % of the cells without seed". `out` is put to. */
void cot_trays_cause(const struct cot_trays *t, enum cot_sow_cause c, struct cot_buf *out);
extern const char *const cot_trays_cause_key[COT_CAUSE_COUNT]; /* for programs */

/* Escaped, at most 80 columns. And one JSON object, see docs/reports.md. */
void cot_trays_put_text(const struct cot_trays *t, struct cot_buf *out);
void cot_trays_put_json(const struct cot_trays *t, struct cot_buf *out);

#endif
