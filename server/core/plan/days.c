/* Sets of days, and the days on which people work. */
#include <assert.h>

#include "cotyledger/core/day.h"
#include "cotyledger/core/plan.h"

void cot_dayset_add(struct cot_dayset *s, int32_t i)
{
    assert(i >= 0 && i < COT_PLAN_DAYS);
    s->word[i / 64] |= UINT64_C(1) << (i % 64);
}

void cot_dayset_range(struct cot_dayset *s, int32_t from, int32_t to)
{
    if (from < 0) from = 0;
    if (to > COT_PLAN_DAYS - 1) to = COT_PLAN_DAYS - 1;
    for (int32_t i = from; i <= to; i++) cot_dayset_add(s, i);
}

bool cot_dayset_have(const struct cot_dayset *s, int32_t i)
{
    return i >= 0 && i < COT_PLAN_DAYS && (s->word[i / 64] >> (i % 64) & 1);
}

bool cot_dayset_empty(const struct cot_dayset *s)
{
    for (int w = 0; w < COT_DAYSET_WORDS; w++)
        if (s->word[w]) return false;
    return true;
}

int32_t cot_dayset_count(const struct cot_dayset *s)
{
    int32_t n = 0;
    for (int w = 0; w < COT_DAYSET_WORDS; w++) n += __builtin_popcountll(s->word[w]);
    return n;
}

int32_t cot_dayset_next(const struct cot_dayset *s, int32_t from)
{
    if (from < 0) from = 0;
    if (from >= COT_PLAN_DAYS) return -1;
    int w = from / 64;
    uint64_t rest = s->word[w] & (UINT64_MAX << (from % 64));
    while (!rest) {
        if (++w == COT_DAYSET_WORDS) return -1;
        rest = s->word[w];
    }
    return w * 64 + __builtin_ctzll(rest);
}

int32_t cot_dayset_last(const struct cot_dayset *s)
{
    for (int w = COT_DAYSET_WORDS; w-- > 0;)
        if (s->word[w]) return w * 64 + 63 - __builtin_clzll(s->word[w]);
    return -1;
}

void cot_dayset_both(struct cot_dayset *s, const struct cot_dayset *other)
{
    for (int w = 0; w < COT_DAYSET_WORDS; w++) s->word[w] &= other->word[w];
}

void cot_dayset_either(struct cot_dayset *s, const struct cot_dayset *other)
{
    for (int w = 0; w < COT_DAYSET_WORDS; w++) s->word[w] |= other->word[w];
}

bool cot_dayset_within(const struct cot_dayset *s, const struct cot_dayset *other)
{
    for (int w = 0; w < COT_DAYSET_WORDS; w++)
        if (s->word[w] & ~other->word[w]) return false;
    return true;
}

bool cot_dayset_meet(const struct cot_dayset *s, const struct cot_dayset *other)
{
    for (int w = 0; w < COT_DAYSET_WORDS; w++)
        if (s->word[w] & other->word[w]) return true;
    return false;
}

static bool is_closed(const struct cot_calendar *c, int32_t day)
{
    size_t low = 0, high = c->closed_count;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (c->closed[mid] < day) low = mid + 1;
        else high = mid;
    }
    return low < c->closed_count && c->closed[low] == day;
}

bool cot_calendar_works(const struct cot_calendar *c, int32_t day)
{
    int weekday = (int)(((int64_t)day + 3) % 7); /* 1970-01-01 was a Thursday */
    if (weekday < 0) weekday += 7;
    return (c->weekdays >> weekday & 1) && !is_closed(c, day);
}

void cot_calendar_working(const struct cot_calendar *c, struct cot_dayset *out)
{
    *out = (struct cot_dayset){0};
    for (int32_t i = 0; i < c->days && i < COT_PLAN_DAYS; i++)
        if (cot_calendar_works(c, c->first + i)) cot_dayset_add(out, i);
}
