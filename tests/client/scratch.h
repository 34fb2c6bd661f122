/* A scratch folder for one test, removed with all that is in it. */
#ifndef COT_TESTS_SCRATCH_H
#define COT_TESTS_SCRATCH_H

#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char scratch[64];

static int scratch_drop(const char *path, const struct stat *st, int type, struct FTW *at)
{
    (void)st;
    (void)type;
    (void)at;
    return remove(path);
}

static void scratch_make(void)
{
    snprintf(scratch, sizeof scratch, "/tmp/cot-test-XXXXXX");
    if (!mkdtemp(scratch)) abort();
}

static void scratch_remove(void)
{
    nftw(scratch, scratch_drop, 16, FTW_DEPTH | FTW_PHYS);
}

#endif
