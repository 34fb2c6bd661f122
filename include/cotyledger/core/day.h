/* Days, ISO weeks and times. A day is a count of days since 1970-01-01 (proleptic Gregorian calendar,
 * ISO 8601); no time zone, no clock. Valid days: 1900-01-01 to 2199-12-31. */
#ifndef COTYLEDGER_CORE_DAY_H
#define COTYLEDGER_CORE_DAY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define COT_DAY_MIN (-25567) /* 1900-01-01 */
#define COT_DAY_MAX 84005    /* 2199-12-31 */
#define COT_DAY_NONE INT32_MIN
#define COT_DAY_TEXT 11 /* "2027-03-29" and NUL */
#define COT_WEEK_TEXT 9 /* "2027-W13" and NUL */

int32_t cot_day_of(int year, int month, int mday); /* COT_DAY_NONE when there is no such date */
void cot_day_split(int32_t day, int *year, int *month, int *mday);
bool cot_day_parse(const char *s, size_t len, int32_t *day); /* exactly YYYY-MM-DD */
void cot_day_text(int32_t day, char out[static COT_DAY_TEXT]);

/* Parses a date in a stated format made of the letters D, M, Y and separators: "D.M.YYYY", "M/D/YY", "DD-MM-YYYY".
 * One or two of D and M stand for a number of one or two digits (exactly so many where another letter follows at once),
 * YYYY for four digits, YY for two: 2000 + n. */
bool cot_day_parse_as(const char *fmt, const char *s, size_t len, int32_t *day);

/* ISO 8601 week: 1..53, and the year it belongs to; weekday 1 = Monday .. 7. */
void cot_week_of(int32_t day, int *week_year, int *week, int *weekday);
int32_t cot_week_day(int week_year, int week, int weekday);                /* COT_DAY_NONE when there is no such week */
bool cot_week_parse(const char *s, size_t len, int *week_year, int *week); /* YYYY-Www */
void cot_week_text(int32_t day, char out[static COT_WEEK_TEXT]);

/* The day on which the instant `ms` (since 1970, UTC) falls, `offset` minutes east of UTC; COT_DAY_NONE when it is no
 * valid day. */
int32_t cot_day_at(int64_t ms, int offset);

#endif
