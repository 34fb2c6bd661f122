/* What the commands that record have in common: options read into a fact, things found by what is on the tag, the day
 * the work was done, figures in words, and one way to end.
 *
 *     struct cot_job w;
 *     enum cot_err err = cot_job_start(&w, cli, COT_K_PATCHED, argc, argv, opts, 1, 1);
 *     ... find things, fill w.fact, cot_answer_warn(&w.answer, ...) ...
 *     if (err == COT_OK) err = cot_job_record(&w);
 *     ... cot_answer_line(&w.answer, ...) ...
 *     return cot_job_end(&w, err);
 *
 * Things found before the recording are not used after it (the book may move them): keep their id or name.
 */
#ifndef COTYL_WORK_H
#define COTYL_WORK_H

#include "answer.h"
#include "args.h"
#include "cotyledger/core/stand.h"

#define COT_JOB_BACK_DAYS 60 /* a day further back gets a warning */

struct cot_job {
    struct cot_cli *cli;
    const struct cot_opt *opts;
    struct cot_args args;
    struct cot_fact fact;
    struct cot_answer answer;
    int32_t today, day;       /* day: of a kind that has one */
    char code[COT_CODE_TEXT]; /* of the batch or line that was found last */
};

/* Reads the words and options into `w`; a kind with a day takes --day, or today, and warns of a day that is to come or
 * long past. Always end with cot_job_end, also after a failure. */
COT_MUSTCHECK enum cot_err cot_job_start(struct cot_job *w, struct cot_cli *cli, enum cot_kind kind, int argc,
                                         char **argv, const struct cot_opt *opts, int least, int most);
/* The same for a change of a thing, where "none" clears a field. */
COT_MUSTCHECK enum cot_err cot_job_start_change(struct cot_job *w, struct cot_cli *cli, enum cot_kind kind, int argc,
                                                char **argv, const struct cot_opt *opts, int least, int most);
/* Value of an option, NULL when absent. */
const char *cot_job_option(const struct cot_job *w, const char *name);
COT_MUSTCHECK enum cot_err cot_job_record(struct cot_job *w); /* the one fact in w->fact */
/* Prints the answer when err is COT_OK, frees, and returns what the command returns. */
COT_MUSTCHECK enum cot_err cot_job_end(struct cot_job *w, enum cot_err err);

/* The fact speaks of this thing, and of its farm where it has one. */
void cot_job_about(struct cot_job *w, const struct cot_thing *t);
void cot_job_farm(struct cot_job *w, const struct cot_id *farm);

/* Finds a batch or order line by its code. A mistyped check character and a code of the other sort get words of their
 * own. */
COT_MUSTCHECK enum cot_err cot_find_coded(struct cot_cli *cli, enum cot_thing_type type, const char *typed,
                                          const struct cot_thing **out);
/* The same, and the fact speaks of it. */
COT_MUSTCHECK enum cot_err cot_job_coded(struct cot_job *w, enum cot_thing_type type, const char *typed,
                                         const struct cot_thing **out);
/* A batch or an order line by its code. */
COT_MUSTCHECK enum cot_err cot_find_any(struct cot_cli *cli, const char *typed, const struct cot_thing **out);
/* A batch by its code; warns of a day before it was sown. */
COT_MUSTCHECK enum cot_err cot_job_batch(struct cot_job *w, const char *typed, const struct cot_thing **out);

/* Wrong use of a command: message, and a hint that shows its synopsis. */
enum cot_err cot_misuse(struct cot_cli *cli, const char *fmt, ...) COT_PRINTF(2, 3);

/* "6 trays", "1 tray"; "2027-02-15 (W07)". */
#define COT_SOME_TEXT 48
const char *cot_some(int64_t n, const char *one, char out[static COT_SOME_TEXT]);
#define COT_DATE_TEXT 24
const char *cot_date(int32_t day, char out[static COT_DATE_TEXT]);

/* Name of the thing with that identity (NULL: none); "" when unknown. */
const char *cot_name_at(struct cot_cli *cli, const struct cot_id *id);
/* Name of the thing that a field of `t` points to; "" when none or unknown. */
const char *cot_name_of(struct cot_cli *cli, const struct cot_thing *t, enum cot_field f);
const struct cot_thing *cot_thing_of(struct cot_cli *cli, const struct cot_thing *t, enum cot_field f);
/* The batch's variety, by its lot or its parents' lot; NULL when unknown. */
const struct cot_thing *cot_batch_variety(struct cot_cli *cli, const struct cot_thing *batch);
/* "6 trays of 128 square, Red Harbour from lot RH-2601". `out` is put to, not cleared. */
void cot_batch_words(struct cot_cli *cli, const struct cot_thing *batch, struct cot_buf *out);
/* "500 plants of Red Harbour in 128 square" or "any tray format". */
void cot_line_words(struct cot_cli *cli, const struct cot_thing *line, struct cot_buf *out);

/* Cells of one tray of the format (rows x columns); of one tray of the batch (the rows sown, of a shared tray); of the
 * whole batch. 0 when unknown. */
int64_t cot_format_cells(const struct cot_thing *format);
int64_t cot_batch_tray_cells(struct cot_cli *cli, const struct cot_thing *batch);
int64_t cot_batch_trays(const struct cot_thing *batch); /* 0: rows of a shared tray */
/* Plants that an order line asks for, trays turned into plants by the format; 0 when it cannot be known. */
int64_t cot_line_wanted(struct cot_cli *cli, const struct cot_thing *line);

/* Tray numbers as the fact has them ("3, 5") are trays of the batch: INVALID names the first that is not. */
COT_MUSTCHECK enum cot_err cot_check_which(struct cot_job *w, const struct cot_thing *batch);
/* Warns when more plants go than the stand of the batch still has on the day of the work. */
void cot_warn_stand(struct cot_job *w, const struct cot_thing *batch, int64_t plants, const char *verb);
/* "Expected ready 2027-03-22 (W12), good until 2027-04-05 (W14)." from the batch's stand; nothing when it is not known.
 */
void cot_ready_words(struct cot_job *w, const struct cot_thing *batch, struct cot_buf *out);
/* "bench 3" of a bench called 3; a place's own name as it is. */
#define COT_BENCH_TEXT 64
const char *cot_bench_words(struct cot_cli *cli, const char *bench, char out[static COT_BENCH_TEXT]);
/* Warns of a bench that is no place, when the house has described its places. */
void cot_warn_bench(struct cot_job *w);
/* The usual caution for work with growing mix. */
void cot_caution_mix(struct cot_job *w);

#endif
