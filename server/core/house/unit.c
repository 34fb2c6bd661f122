/* US customary units. */
#include "cotyledger/core/unit.h"

#include <string.h>

static const struct cot_unit table[] = {
    {"uL", "cu in", 2048383, 125, 2},
    {"um", "in", 25400, 1, 3},
    {"mg", "oz", 45359237, 1600, 3},
    {"L", "gal", 473176473, 125000000, 0},
};

const struct cot_unit *cot_unit_us(const char *of)
{
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (strcmp(table[i].of, of) == 0) return &table[i];
    return NULL;
}

static int64_t parts(const struct cot_unit *u)
{
    int64_t n = 1;
    for (int i = 0; i < u->places; i++) n *= 10;
    return n;
}

int64_t cot_unit_shown(const struct cot_unit *u, int64_t metric)
{
    return (2 * parts(u) * metric * u->den + u->num) / (2 * u->num);
}

int64_t cot_unit_back(const struct cot_unit *u, int64_t shown)
{
    int64_t by = parts(u) * u->den;
    return (2 * shown * u->num + by) / (2 * by);
}

bool cot_units_us(struct cot_book *b)
{
    const struct cot_thing *house = b ? cot_book_house(b) : NULL;
    return house && cot_thing_int(house, COT_F_UNITS, COT_UNITS_METRIC) == COT_UNITS_US;
}
