/* What every bench stands on: rows, medians, commands that are timed, a server and laptops of its own.
 *
 * A bench is a file tests/bench/NAME.c with cot_bench() in it. It prints rows `name value unit` on standard output by
 * bench_row, and what it is about to do on standard error by bench_say. A failed ck_assert ends it. All files are in
 * the folder that the environment's SCRATCH names, which the script removes.
 */
#ifndef COTYLEDGER_BENCH_H
#define COTYLEDGER_BENCH_H

#include <check.h>
#include <stdio.h>

#include "harness.h"

void cot_bench(void); /* the file's own */

/* As ck_assert, without the message that Check writes at each one that holds: for what is repeated or timed. */
#define BENCH_MUST(x) ((x) ? (void)0 : ck_abort_msg("%s", #x))

void bench_row(const char *name, double value, const char *unit);
void bench_say(const char *fmt, ...) COT_PRINTF(1, 2);
double bench_now(void); /* seconds, monotonic */
/* Of n figures, which are sorted on the way. */
double bench_median(double *v, size_t n);
double bench_quantile(double *v, size_t n, double q); /* nearest rank */
/* A number from the environment. */
long bench_number(const char *name, long otherwise);
/* Rows entries of the season's folder and the like; NULL ends the bench with words. */
const char *bench_env(const char *name);

#define BENCH_PATH 160
/* A path in the scratch folder. */
void bench_path(char out[static BENCH_PATH], const char *fmt, ...) COT_PRINTF(2, 3);
void bench_copy_dir(const char *from, const char *to);

/* --- Commands
 * ------------------------------------------------------------------------------------------------------------ */
/* Runs a program from its start to its end, output to nowhere; it must exit with 0. argv[0] is a path. In ms. */
double bench_command(const char *const *argv);
/* `cotyl --dir DIR ARGS`, up to 12 of them. */
double bench_cotyl(const char *dir, const char *const *args);
/* The most memory that the program held, kiB. */
long bench_peak(const char *const *argv);
#define BENCH_RUNS_MAX 200
/* Medians of two commands in turn, so that both meet the same moods of the machine. `prepare` (may be NULL) is called
 * before each run of the first. */
struct bench_pair {
    double ms, bare_ms;
};
struct bench_pair bench_two(size_t runs, const char *const *argv, const char *const *bare);

/* --- A server
 * --------------------------------------------------------------------------------------------------------------- */
/* Made in the scratch folder, started, and stopped at the end whatever happens. One a bench. */
struct cot_server *bench_server(const char *const *more);
/* A conninfo for raw SQL as the schema's owner. Connect between bench_as_user(true) and (false): the database knows
 * this system's users by name, and benches may run as root. */
void bench_conninfo(char *out, size_t len);
void bench_as_user(bool begin);
/* A house whose manager's laptop is in `dir` and has joined. */
void bench_house(const char *dir, const char *name);
/* The laptop in `dir` invites; the line goes into a file. */
void bench_invite(const char *dir, const char *name, const char *part, const char *file);
/* A second device of the house, of this program's own; a manager's. */
void bench_device(const char *dir, const char *name, struct cot_device *out);

#endif
