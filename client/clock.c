/* The laptop's clock, or the demo's. */
#include "client.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "clock.h"

/* "2027-03-29T06:30:00Z", the time of day optional down to the day alone. */
static bool parse_instant(const char *s, int64_t *ms)
{
    int32_t day;
    int h = 0, m = 0, sec = 0;
    size_t len = strcspn(s, "\r\n");
    if (len < 10 || !cot_day_parse(s, 10, &day)) return false;
    if (len > 10 && sscanf(s + 10, "T%2d:%2d:%2d", &h, &m, &sec) < 2) return false;
    if (h < 0 || h > 23 || m < 0 || m > 59 || sec < 0 || sec > 60) return false;
    *ms = ((int64_t)day * 86400 + h * 3600 + m * 60 + sec) * 1000;
    return true;
}

static bool demo_clock(int64_t *ms)
{
    const char *path = getenv("COTYLEDGER_DEMO_CLOCK");
    char line[64] = "";
    if (!path || !*path) return false;
    FILE *f = fopen(path, "re");
    if (!f) return false;
    char *got = fgets(line, sizeof line, f);
    fclose(f);
    return got && parse_instant(line, ms);
}

bool cot_demo_clock_set(void)
{
    int64_t ms;
    return demo_clock(&ms);
}

int64_t cot_now_ms(void)
{
    struct timespec t;
    int64_t ms;
    if (demo_clock(&ms)) return ms;
    clock_gettime(CLOCK_REALTIME, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Minutes east of UTC of this laptop; the demo's clock is UTC wherever it runs. */
static int local_offset(int64_t ms)
{
    time_t t = (time_t)(ms / 1000);
    struct tm tm;
    if (cot_demo_clock_set() || !localtime_r(&t, &tm)) return 0;
    return (int)(tm.tm_gmtoff / 60);
}

int cot_house_offset(struct cot_cli *cli)
{
    const struct cot_thing *house = cli->book ? cot_book_house(cli->book) : NULL;
    if (house && cot_thing_value(house, COT_F_UTC_OFFSET)) return (int)cot_thing_int(house, COT_F_UTC_OFFSET, 0);
    return local_offset(cot_now_ms());
}

int32_t cot_today(struct cot_cli *cli)
{
    return cot_day_at(cot_now_ms(), cot_house_offset(cli));
}

void cot_instant_text(int64_t ms, int offset, char out[static COT_INSTANT_TEXT])
{
    char day[COT_DAY_TEXT];
    int64_t local = ms + (int64_t)offset * 60000;
    int64_t in_day = ((local % 86400000) + 86400000) % 86400000;
    cot_day_text(cot_day_at(ms, offset), day);
    snprintf(out, COT_INSTANT_TEXT, "%s %02d:%02d", day, (int)(in_day / 3600000), (int)(in_day / 60000 % 60));
}
