#include "cpu.h"

#include <ctype.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

struct process {
    long parent;
    double own, ended_children;
};

static bool read_process(long pid, struct process *out)
{
    char path[60], line[1000] = "";
    unsigned long user, sys, child_user, child_sys;
    snprintf(path, sizeof path, "/proc/%ld/stat", pid);
    FILE *f = fopen(path, "re");
    bool good = f && fgets(line, sizeof line, f);
    if (f) fclose(f);
    const char *at = good ? strrchr(line, ')') : NULL; /* a name may hold anything */
    if (!at || sscanf(at + 1, " %*c %ld %*d %*d %*d %*d %*u %*u %*u %*u %*u %lu %lu %lu %lu", &out->parent, &user, &sys,
                      &child_user, &child_sys) != 5)
        return false;
    double tick = (double)sysconf(_SC_CLK_TCK);
    out->own = (double)(user + sys) / tick;
    out->ended_children = (double)(child_user + child_sys) / tick;
    return true;
}

/* The sum over the children of a process; *child receives one of them. */
static double children(long of, long *child)
{
    double sum = 0;
    struct process p;
    DIR *proc = opendir("/proc");
    for (struct dirent *e; proc && (e = readdir(proc));) {
        long pid = isdigit((unsigned char)e->d_name[0]) ? strtol(e->d_name, NULL, 10) : 0;
        if (!pid || !read_process(pid, &p) || p.parent != of) continue;
        sum += p.own;
        *child = pid;
    }
    if (proc) closedir(proc);
    return sum;
}

struct bench_cpu bench_cpu(const struct cot_server *s)
{
    struct process server = {0}, postmaster = {0};
    struct timespec own;
    long database = 0, backend = 0;
    read_process(s->pid, &server);
    children(s->pid, &database);
    double sum = database ? children(database, &backend) : 0;
    if (database) read_process(database, &postmaster);
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &own);
    return (struct bench_cpu){server.own, sum + postmaster.own + postmaster.ended_children,
                              (double)own.tv_sec + (double)own.tv_nsec / 1e9};
}
