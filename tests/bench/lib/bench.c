#include "bench.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <pwd.h>
#include <signal.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;
static struct cot_server server;

/* --- Rows
 * ------------------------------------------------------------------------------------------------------------------ */
void bench_row(const char *name, double value, const char *unit)
{
    int digits = value == 0 ? 0 : 3 - (int)floor(log10(fabs(value)));
    printf("%s %.*f %s\n", name, digits < 0 ? 0 : digits > 6 ? 6 : digits, value, unit);
    fflush(stdout);
}

void bench_say(const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    vfprintf(stderr, fmt, args);
    va_end(args);
    fputc('\n', stderr);
}

double bench_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double bench_median(double *v, size_t n)
{
    ck_assert_uint_gt(n, 0);
    qsort(v, n, sizeof *v, by_size);
    return n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

double bench_quantile(double *v, size_t n, double q)
{
    ck_assert_uint_gt(n, 0);
    qsort(v, n, sizeof *v, by_size);
    size_t rank = (size_t)ceil(q * (double)n);
    return v[rank ? rank - 1 : 0];
}

long bench_number(const char *name, long otherwise)
{
    const char *s = getenv(name);
    return s && *s ? strtol(s, NULL, 10) : otherwise;
}

const char *bench_env(const char *name)
{
    const char *s = getenv(name);
    ck_assert_msg(s && *s, "%s is not set: benches are run by tests/bench/run.sh", name);
    return s;
}

/* --- Files
 * ----------------------------------------------------------------------------------------------------------------- */
void bench_path(char out[static BENCH_PATH], const char *fmt, ...)
{
    va_list args;
    int n = snprintf(out, BENCH_PATH, "%s/", bench_env("SCRATCH"));
    va_start(args, fmt);
    int m = vsnprintf(out + n, (size_t)(BENCH_PATH - n), fmt, args);
    va_end(args);
    ck_assert_int_lt(n + m, BENCH_PATH);
}

void bench_copy_dir(const char *from, const char *to)
{
    bench_command((const char *const[]){"/bin/cp", "-a", from, to, NULL});
}

/* --- Commands
 * -------------------------------------------------------------------------------------------------------------- */
static void tell_failure(const char *const *argv, int status, const char *errors)
{
    char line[1000] = "";
    FILE *f = fopen(errors, "re");
    size_t n = f ? fread(line, 1, sizeof line - 1, f) : 0;
    line[n] = '\0';
    if (f) fclose(f);
    ck_abort_msg("%s %s %s ...: status %d: %s", argv[0], argv[1] ? argv[1] : "", argv[1] && argv[2] ? argv[2] : "",
                 status, line);
}

double bench_command(const char *const *argv)
{
    char errors[BENCH_PATH];
    posix_spawn_file_actions_t files;
    pid_t pid;
    int status;
    bench_path(errors, "said.%d", (int)getpid());
    posix_spawn_file_actions_init(&files);
    posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_addopen(&files, 1, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&files, 2, errors, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    double from = bench_now();
    int failed = posix_spawn(&pid, argv[0], &files, NULL, (char *const *)argv, environ);
    ck_assert_msg(failed == 0, "%s: %s", argv[0], strerror(failed));
    while (waitpid(pid, &status, 0) < 0) ck_assert_int_eq(errno, EINTR);
    double ms = (bench_now() - from) * 1e3;
    posix_spawn_file_actions_destroy(&files);
    if (status != 0) tell_failure(argv, status, errors);
    unlink(errors);
    return ms;
}

double bench_cotyl(const char *dir, const char *const *args)
{
    const char *argv[16] = {COTYL_PROGRAM, "--dir", dir};
    for (int n = 3; *args && n < 15; n++) argv[n] = *args++;
    return bench_command(argv);
}

long bench_peak(const char *const *argv)
{
    char file[BENCH_PATH];
    const char *all[20] = {BENCH_PEAK, file};
    long kib = 0;
    bench_path(file, "peak");
    for (int n = 2; *argv && n < 19; n++) all[n] = *argv++;
    bench_command(all);
    FILE *f = fopen(file, "re");
    ck_assert(f && fscanf(f, "%ld", &kib) == 1 && kib > 0);
    fclose(f);
    return kib;
}

struct bench_pair bench_two(size_t runs, const char *const *argv, const char *const *bare)
{
    double ms[BENCH_RUNS_MAX], bare_ms[BENCH_RUNS_MAX];
    ck_assert_uint_le(runs, BENCH_RUNS_MAX);
    bench_command(argv); /* the first finds cold files */
    bench_command(bare);
    for (size_t i = 0; i < runs; i++) {
        ms[i] = bench_command(argv);
        bare_ms[i] = bench_command(bare);
    }
    return (struct bench_pair){bench_median(ms, runs), bench_median(bare_ms, runs)};
}

/* --- A server
 * ---------------------------------------------------------------------------------------------------------------- */
struct cot_server *bench_server(const char *const *more)
{
    struct cot_server *s = &server;
    const char *scratch = bench_env("SCRATCH");
    memset(s, 0, sizeof *s);
    ck_assert_uint_lt(strlen(scratch), 50); /* a socket's path is short, and so is the harness's */
    snprintf(s->scratch, sizeof s->scratch, "%.50s/s-XXXXXX", scratch);
    ck_assert_ptr_nonnull(mkdtemp(s->scratch));
    ck_assert_int_eq(chmod(s->scratch, 0711), 0); /* cotyld gives up root before it comes here */
    snprintf(s->data, sizeof s->data, "%.60s/d", s->scratch);
    snprintf(s->log, sizeof s->log, "%.60s/log", s->scratch);
    bench_say("starting a server");
    ck_assert_msg(cot_server_start(s, more, NULL), "the server does not start: %s", cot_server_log(s));
    return s;
}

void bench_conninfo(char *out, size_t len)
{
    cot_server_conninfo(&server, "cotyledger_owner", out, len);
}

void bench_as_user(bool begin)
{
    struct stat st;
    if (getuid() != 0) return;
    ck_assert_int_eq(stat(server.data, &st), 0);
    if (begin) {
        const struct passwd *user = getpwuid(st.st_uid);
        ck_assert(user && setegid(user->pw_gid) == 0); /* the scratch folder lets its group through */
        ck_assert_int_eq(seteuid(st.st_uid), 0);
    } else {
        ck_assert_int_eq(seteuid(0), 0);
        ck_assert_int_eq(setegid(0), 0);
    }
}

static void write_file(const char *path, const char *text)
{
    FILE *f = fopen(path, "we");
    ck_assert_ptr_nonnull(f);
    ck_assert_int_ge(fputs(text, f), 0);
    ck_assert_int_eq(fclose(f), 0);
}

void bench_house(const char *dir, const char *name)
{
    char url[40], file[BENCH_PATH], *invitation = NULL;
    snprintf(url, sizeof url, "http://127.0.0.1:%d", server.port);
    snprintf(file, sizeof file, "%s.invitation", dir);
    ck_assert_int_eq(
        cot_server_command(&server, &invitation, COT_ARGS("--url", url, "new-house", name, "--manager", "Wren")), 0);
    write_file(file, invitation);
    free(invitation);
    bench_cotyl(dir, COT_ARGS("join", "--invitation", file, "--label", "office"));
}

void bench_invite(const char *dir, const char *name, const char *part, const char *file)
{
    bench_cotyl(dir, COT_ARGS("invite", name, "--part", part, "--out", file));
}

void bench_device(const char *dir, const char *name, struct cot_device *out)
{
    char file[BENCH_PATH], line[1000] = "";
    snprintf(file, sizeof file, "%s.%s", dir, name);
    bench_invite(dir, name, "manager", file);
    FILE *f = fopen(file, "re");
    ck_assert(f && fgets(line, sizeof line, f));
    fclose(f);
    ck_assert(cot_device_join(&server, line, out, NULL));
}

/* --- Running
 * -------------------------------------------------------------------------------------------------------------------
 */
START_TEST(whole_bench)
{
    cot_bench();
}
END_TEST

static void tell_failures(SRunner *runner)
{
    TestResult **all = srunner_failures(runner);
    for (int i = 0; i < srunner_ntests_failed(runner); i++)
        bench_say("%s:%d: %s", tr_lfile(all[i]), tr_lno(all[i]), tr_msg(all[i]));
    free(all);
}

int main(void)
{
    Suite *suite = suite_create("bench");
    TCase *one = tcase_create("bench");
    tcase_set_timeout(one, 0);
    tcase_add_test(one, whole_bench);
    suite_add_tcase(suite, one);
    SRunner *runner = srunner_create(suite);
    srunner_set_fork_status(runner, CK_NOFORK);
    srunner_run_all(runner, CK_SILENT);
    int failed = srunner_ntests_failed(runner);
    tell_failures(runner);
    srunner_free(runner);
    if (server.scratch[0]) {
        cot_server_stop(&server, SIGTERM);
        cot_server_remove(&server);
    }
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
