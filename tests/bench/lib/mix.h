/* The demo season's entries, written anew as often as wanted: the same kinds, fields and references in the same order,
 * under other digests. What comes out is the mix of work that a season has. */
#ifndef COTYLEDGER_BENCH_MIX_H
#define COTYLEDGER_BENCH_MIX_H

#include "harness.h"

struct bench_mix_row {
    int64_t position, receipt;
    struct cot_id digest;
    char *line;
    size_t len;
    enum cot_kind kind;
    char tag[COT_TAG_MAX + 1];
};
struct bench_mix {
    struct bench_mix_row *row; /* in order of position */
    size_t count;
    uint32_t *by_digest; /* rows in order of digest */
    int32_t last_day;    /* the latest day in any entry that tells of work done */
};
/* Reads the ledger of the laptop that played the season (SEASON/laptops/office). */
void bench_mix_load(struct bench_mix *m);
void bench_mix_free(struct bench_mix *m);

/* One writing of the season after the other. */
struct bench_walk {
    const struct bench_mix *mix;
    struct cot_decoder *decoder;
    struct cot_id *now; /* by row: its digest in this writing */
    bool *has;          /* by row: it has one */
    int32_t shift;      /* added to every day */
    bool again;         /* the season has been written before */
    size_t at;          /* next row */
    int64_t codes;      /* given out */
    struct cot_id ids[64];
    unsigned ids_used;
    char code[COT_CODE_TEXT];
};
void bench_walk_open(struct bench_walk *w, const struct bench_mix *m);
void bench_walk_close(struct bench_walk *w);
/* The season's days end at or before today, whole weeks away from where they were. */
void bench_walk_today(struct bench_walk *w);
/* The next entry that one staff device can write: not of the house's members and devices. Only kind, about, farm and
 * fields are filled, codes are given anew under `tag`; good until the next call. Past the end the season begins again.
 */
void bench_walk_next(struct bench_walk *w, const char *tag, struct cot_fact *out);
/* What that entry's digest became. */
void bench_walk_made(struct bench_walk *w, const struct cot_id *digest);
/* The fact of row i with its references as they are in this writing; all of its header as it was. */
void bench_walk_fact(struct bench_walk *w, size_t i, struct cot_fact *out);

#endif
