/* Places, and how many trays they hold. */
#include "cotyledger/core/place.h"

#include <string.h>

int64_t cot_usual_footprint(struct cot_book *b)
{
    const struct cot_thing *house = cot_book_house(b);
    int64_t length = house ? cot_thing_int(house, COT_F_LENGTH_UM, 0) : 0;
    int64_t width = house ? cot_thing_int(house, COT_F_WIDTH_UM, 0) : 0;
    if (length <= 0 || width <= 0) return (int64_t)COT_USUAL_LENGTH_UM * COT_USUAL_WIDTH_UM;
    return length * width;
}

int64_t cot_tray_spots(const struct cot_thing *format, int64_t footprint)
{
    int64_t length = format ? cot_thing_int(format, COT_F_LENGTH_UM, 0) : 0;
    int64_t width = format ? cot_thing_int(format, COT_F_WIDTH_UM, 0) : 0;
    if (length <= 0 || width <= 0 || footprint <= 0) return 1000;
    int64_t spots = length * width / (footprint / 1000 > 0 ? footprint / 1000 : 1);
    return spots > 1000 ? spots : 1000;
}

int64_t cot_trays_spots(const struct cot_thing *format, int64_t footprint, int64_t trays)
{
    return trays > 0 ? (trays * cot_tray_spots(format, footprint) + 999) / 1000 : 0;
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c + 32) : c;
}

static bool same(const char *name, const char *s, size_t len)
{
    for (size_t i = 0; i < len; i++)
        if (lower(name[i]) != lower(s[i])) return false; /* a shorter name differs at its end */
    return name[len] == '\0';
}

bool cot_same_group(const char *a, const char *b)
{
    return same(a, b, strlen(b));
}

bool cot_place_takes(const struct cot_thing *place, const char *group)
{
    const char *of = cot_thing_text(place, COT_F_GROUP);
    return of[0] == '\0' || group[0] == '\0' || cot_same_group(of, group);
}

const struct cot_thing *cot_place_named(struct cot_book *b, const char *text)
{
    size_t n, len = strlen(text);
    while (len > 0 && *text == ' ') text++, len--;
    while (len > 0 && text[len - 1] == ' ') len--;
    const struct cot_thing *const *all = cot_book_things(b, COT_THING_PLACE, &n);
    for (size_t i = 0; i < n; i++)
        if (len > 0 && same(cot_thing_text(all[i], COT_F_NAME), text, len)) return all[i];
    return NULL;
}

int32_t cot_test_age(const struct cot_thing *lot, int32_t on)
{
    int64_t tested = cot_thing_int(lot, COT_F_TEST_DAY, COT_DAY_NONE);
    return tested == COT_DAY_NONE || tested > on ? -1 : (int32_t)(on - tested);
}

bool cot_test_old(struct cot_book *b, const struct cot_thing *lot, int32_t on)
{
    const struct cot_thing *house = cot_book_house(b);
    int64_t most = house ? cot_thing_int(house, COT_F_TEST_AGE, 0) : 0;
    return most > 0 && cot_test_age(lot, on) >= most;
}
