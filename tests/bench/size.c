/* Programs without their symbols, and the memory that they hold: the client's at its most, the server's at rest. */
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "mix.h"
#include "bench.h"

static void program(const char *name, const char *path)
{
    char copy[BENCH_PATH];
    struct stat st;
    bench_path(copy, "%s", name);
    bench_command((const char *const[]){"/usr/bin/strip", "-o", copy, path, NULL});
    ck_assert_int_eq(stat(copy, &st), 0);
    bench_row(name, (double)st.st_size / 1e6, "MB");
}

/* A line of /proc/PID/status, kiB. */
static long status_of(pid_t pid, const char *what)
{
    char path[60], line[200], format[40];
    long kib = 0;
    snprintf(path, sizeof path, "/proc/%d/status", (int)pid);
    snprintf(format, sizeof format, "%s:", what);
    FILE *f = fopen(path, "re");
    ck_assert_ptr_nonnull(f);
    while (fgets(line, sizeof line, f))
        if (strncmp(line, format, strlen(format)) == 0) kib = atol(line + strlen(format));
    fclose(f);
    ck_assert_int_gt(kib, 0);
    return kib;
}

static void memory(const char *name, const char *const *argv)
{
    bench_row(name, (double)bench_peak(argv) * 1.024e-3, "MB");
}

static void client(void)
{
    char from[300], dir[BENCH_PATH], day[COT_DAY_TEXT];
    struct bench_mix m;
    bench_mix_load(&m);
    cot_day_text(m.last_day, day);
    bench_mix_free(&m);
    snprintf(from, sizeof from, "%s/laptops/office", bench_env("SEASON"));
    bench_path(dir, "size");
    bench_copy_dir(from, dir);
    memory("memory_client_version", (const char *const[]){COTYL_PROGRAM, "--version", NULL});
    memory("memory_client_status", (const char *const[]){COTYL_PROGRAM, "--dir", dir, "status", NULL});
    memory("memory_client_fill", (const char *const[]){COTYL_PROGRAM, "--dir", dir, "fill", "--on", day, NULL});
}

void cot_bench(void)
{
    char office[BENCH_PATH];
    program("size_client", COTYL_PROGRAM);
    program("size_server", COTYLD_PROGRAM);
    client();
    struct cot_server *s = bench_server(NULL);
    bench_row("memory_server", (double)status_of(s->pid, "VmRSS") * 1.024e-3, "MB");
    bench_row("memory_server_own", (double)status_of(s->pid, "RssAnon") * 1.024e-3, "MB");
    bench_path(office, "office");
    bench_house(office, "Three Sluices");
    bench_row("memory_server_used", (double)status_of(s->pid, "VmRSS") * 1.024e-3, "MB");
}
