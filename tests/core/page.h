/* The worked examples of docs/arithmetic.md: computed again, and they must stand there word for word. */
#ifndef COT_TESTS_CORE_PAGE_H
#define COT_TESTS_CORE_PAGE_H

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "../main.h"
#include "cotyledger/core/err.h"

static char example_text[4096]; /* the example as computed */
static size_t example_used;

COT_PRINTF(1, 2) static inline void put(const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    example_used += (size_t)vsnprintf(example_text + example_used, sizeof example_text - example_used, fmt, args);
    va_end(args);
    ck_assert_uint_lt(example_used, sizeof example_text);
}

/* What stands on the page between the markers of an example. */
static inline void compare(const char *example)
{
    static char page[400000];
    char marker[80];
    FILE *f = fopen(COT_TESTS_DIR "/../docs/arithmetic.md", "rb");
    ck_assert_ptr_nonnull(f);
    size_t n = fread(page, 1, sizeof page - 1, f);
    fclose(f);
    ck_assert_uint_lt(n, sizeof page - 1);
    page[n] = '\0';
    snprintf(marker, sizeof marker, "<!-- example %s -->\n```\n", example);
    char *start = strstr(page, marker);
    ck_assert_msg(start != NULL, "docs/arithmetic.md has no example %s; it should read:\n%s", example, example_text);
    start += strlen(marker);
    char *end = strstr(start, "```\n<!-- end -->");
    ck_assert_msg(end != NULL, "example %s has no end", example);
    *end = '\0';
    ck_assert_msg(strcmp(start, example_text) == 0, "example %s on the page differs; it should read:\n%s", example,
                  example_text);
}

#endif
