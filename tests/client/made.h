/* A manager's laptop of a house with things in it, made once and copied for each test. */
#ifndef COT_TESTS_CLIENT_MADE_H
#define COT_TESTS_CLIENT_MADE_H

#include "fixture.h"
#include "main.h"

static struct cot_fixture f, made;

static inline void make_house(void)
{
    cot_fixture_start(&made, COT_PART_MANAGER);
    cot_fixture_play(&made, cot_fixture_house);
}

static inline void leave_house(void)
{
    cot_fixture_end(&made);
}

static inline void house(void)
{
    cot_fixture_copy(&f, &made);
}

static inline void leave(void)
{
    cot_fixture_end(&f);
}

static inline void says(const char *what)
{
    cot_fixture_says(&f, what);
}

static inline void warns(const char *what)
{
    cot_fixture_warns(&f, what);
}

static inline void entry_has(const char *what)
{
    cot_fixture_entry_has(&f, what);
}

#endif
