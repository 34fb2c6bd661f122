/* Days and ISO weeks by whole-number arithmetic: no tables, no clock, no time zone. */
#include "cotyledger/core/day.h"

#include <stddef.h>
#include <string.h>

#define MS_PER_DAY INT64_C(86400000)

static int64_t floor_div(int64_t a, int64_t b)
{
    int64_t q = a / b;
    return q - ((a % b != 0) && ((a < 0) != (b < 0)));
}

static bool leap(int year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int month_days(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return days[month - 1] + (month == 2 && leap(year));
}

/* Day number of 1 January: 365 a year and the leap days before it. */
static int32_t year_start(int year)
{
    int y = year - 1;
    return 365 * (year - 1970) + (y / 4 - y / 100 + y / 400) - (1969 / 4 - 1969 / 100 + 1969 / 400);
}

static bool in_range(int64_t day)
{
    return day >= COT_DAY_MIN && day <= COT_DAY_MAX;
}

int32_t cot_day_of(int year, int month, int mday)
{
    if (year < 1900 || year > 2199 || month < 1 || month > 12) return COT_DAY_NONE;
    if (mday < 1 || mday > month_days(year, month)) return COT_DAY_NONE;
    int32_t day = year_start(year) + mday - 1;
    for (int m = 1; m < month; m++) day += month_days(year, m);
    return day;
}

/* A day outside the valid range is split as the nearest valid one, so that a caller's mistake cannot run away. */
void cot_day_split(int32_t day, int *year, int *month, int *mday)
{
    if (day < COT_DAY_MIN) day = COT_DAY_MIN;
    if (day > COT_DAY_MAX) day = COT_DAY_MAX;
    int y = 1970 + (int)floor_div(day, 366); /* never late; at most a few years early */
    while (year_start(y + 1) <= day) y++;
    while (year_start(y) > day) y--;
    int left = day - year_start(y), m = 1;
    while (left >= month_days(y, m)) left -= month_days(y, m++);
    *year = y;
    *month = m;
    *mday = left + 1;
}

/* Reads exactly `n` digits. */
static bool digits(const char *s, size_t n, int *out)
{
    int v = 0;
    for (size_t i = 0; i < n; i++) {
        if (s[i] < '0' || s[i] > '9') return false;
        v = v * 10 + (s[i] - '0');
    }
    *out = v;
    return true;
}

bool cot_day_parse(const char *s, size_t len, int32_t *day)
{
    int y, m, d;
    if (len != 10 || s[4] != '-' || s[7] != '-') return false;
    if (!digits(s, 4, &y) || !digits(s + 5, 2, &m) || !digits(s + 8, 2, &d)) return false;
    int32_t found = cot_day_of(y, m, d);
    if (found == COT_DAY_NONE) return false;
    *day = found;
    return true;
}

static void put_digits(char *out, int n, int v)
{
    for (int i = n - 1; i >= 0; i--, v /= 10) out[i] = (char)('0' + v % 10);
}

void cot_day_text(int32_t day, char out[static COT_DAY_TEXT])
{
    if (!in_range(day)) {
        memcpy(out, "no date", sizeof "no date");
        return;
    }
    int y, m, d;
    cot_day_split(day, &y, &m, &d);
    memcpy(out, "0000-00-00", COT_DAY_TEXT);
    put_digits(out, 4, y);
    put_digits(out + 5, 2, m);
    put_digits(out + 8, 2, d);
}

/* One number of a stated format. `run` letters in the format; `glued`: a letter follows, so the length is fixed. */
static bool read_part(char letter, size_t run, bool glued, const char **s, const char *end, int *out)
{
    size_t n = 0;
    while (*s + n < end && (*s)[n] >= '0' && (*s)[n] <= '9') n++;
    size_t take = n;
    if (letter == 'Y') {
        if (run != 2 && run != 4) return false;
        take = run;
    } else if (run > 2) {
        return false;
    } else if (glued) {
        take = run;
    }
    if (take == 0 || take > n || (letter != 'Y' && take > 2)) return false;
    if (!digits(*s, take, out)) return false;
    if (letter == 'Y' && run == 2) *out += 2000;
    *s += take;
    return true;
}

static bool format_letter(char c)
{
    return c == 'D' || c == 'M' || c == 'Y';
}

bool cot_day_parse_as(const char *fmt, const char *s, size_t len, int32_t *day)
{
    const char *end = s + len;
    int part[3] = {0, 0, 0}; /* day, month, year */
    bool seen[3] = {false, false, false};
    while (*fmt) {
        if (!format_letter(*fmt)) {
            if ((*fmt >= 'A' && *fmt <= 'Z') || (*fmt >= 'a' && *fmt <= 'z')) return false;
            if (s == end || *s++ != *fmt++) return false;
            continue;
        }
        char letter = *fmt;
        size_t run = strspn(fmt, (char[2]){letter, '\0'});
        int which = letter == 'D' ? 0 : letter == 'M' ? 1 : 2;
        fmt += run;
        if (seen[which] || !read_part(letter, run, format_letter(*fmt), &s, end, &part[which])) return false;
        seen[which] = true;
    }
    if (s != end || !seen[0] || !seen[1] || !seen[2]) return false;
    int32_t found = cot_day_of(part[2], part[1], part[0]);
    if (found == COT_DAY_NONE) return false;
    *day = found;
    return true;
}

/* 1 = Monday .. 7; 1970-01-01 was a Thursday. */
static int weekday_of(int32_t day)
{
    return (int)(((int64_t)day + 3) - 7 * floor_div((int64_t)day + 3, 7)) + 1;
}

/* Monday of week 1: the week that holds 4 January (ISO 8601). */
static int32_t first_monday(int week_year)
{
    int32_t fourth = year_start(week_year) + 3;
    return fourth - (weekday_of(fourth) - 1);
}

void cot_week_of(int32_t day, int *week_year, int *week, int *weekday)
{
    if (day < COT_DAY_MIN) day = COT_DAY_MIN;
    if (day > COT_DAY_MAX) day = COT_DAY_MAX;
    int y, m, d;
    cot_day_split(day, &y, &m, &d);
    if (day < first_monday(y)) y--;
    else if (day >= first_monday(y + 1)) y++;
    *week_year = y;
    *week = (day - first_monday(y)) / 7 + 1;
    *weekday = weekday_of(day);
}

int32_t cot_week_day(int week_year, int week, int weekday)
{
    if (week_year < 1900 || week_year > 2200 || week < 1 || week > 53 || weekday < 1 || weekday > 7)
        return COT_DAY_NONE;
    int32_t monday = first_monday(week_year) + 7 * (week - 1);
    if (monday >= first_monday(week_year + 1)) return COT_DAY_NONE;
    int32_t day = monday + weekday - 1;
    return in_range(day) ? day : COT_DAY_NONE;
}

bool cot_week_parse(const char *s, size_t len, int *week_year, int *week)
{
    int y, w;
    if (len != 8 || s[4] != '-' || s[5] != 'W') return false;
    if (!digits(s, 4, &y) || !digits(s + 6, 2, &w)) return false;
    /* A week may begin before or end after the valid days; its Thursday decides the year it belongs to. */
    if (cot_week_day(y, w, 4) == COT_DAY_NONE) return false;
    *week_year = y;
    *week = w;
    return true;
}

void cot_week_text(int32_t day, char out[static COT_WEEK_TEXT])
{
    if (!in_range(day)) {
        memcpy(out, "no week", sizeof "no week");
        return;
    }
    int y, w, d;
    cot_week_of(day, &y, &w, &d);
    memcpy(out, "0000-W00", COT_WEEK_TEXT);
    put_digits(out, 4, y);
    put_digits(out + 6, 2, w);
}

int32_t cot_day_at(int64_t ms, int offset)
{
    /* Whole days first, so that no instant overflows. */
    int64_t day = floor_div(ms, MS_PER_DAY), rest = ms % MS_PER_DAY;
    if (rest < 0) rest += MS_PER_DAY;
    day += floor_div(rest + (int64_t)offset * 60000, MS_PER_DAY);
    return in_range(day) ? (int32_t)day : COT_DAY_NONE;
}
