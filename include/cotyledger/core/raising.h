/* Raising days: how long a crop stands in its tray, by crop, tray format and season.
 *
 * The house describes them as things of their own; each may name a format and a season, from one ISO week of sowing to
 * another, which may wrap the year (40 to 9). Of those that fit a sowing the closest holds: one that names the format
 * goes before one for any, then the shorter season before the longer, then the later described before the earlier. A
 * figure that it leaves out, and everything where none fits, is the crop's own. Chamber days that nobody said are those
 * of the table of emergence at the temperature of the crop's chamber, where the house gave it and the table has the
 * crop, whole days rounded up. */
#ifndef COTYLEDGER_CORE_RAISING_H
#define COTYLEDGER_CORE_RAISING_H

#include "cotyledger/core/book.h"

#define COT_RAISING_UNKNOWN (-1)

struct cot_raising {
    int32_t days;          /* from sowing to ready, both stages together when it is potted on; COT_RAISING_UNKNOWN */
    int32_t days_max;      /* from sowing until past use, never less than days; COT_RAISING_UNKNOWN */
    int32_t chamber;       /* of them in the germination chamber; COT_RAISING_UNKNOWN */
    bool chamber_by_table; /* nobody said: days to emergence at the chamber's temperature, as measured (emergence.h) */
    int32_t pot_days;      /* from sowing to potting on; COT_RAISING_UNKNOWN: it stays in its tray */
    const struct cot_thing *pot_format; /* the tray it is potted on to; NULL as pot_days */
    const struct cot_thing *by;         /* the raising days that hold; NULL: the crop's own */
    bool second;                        /* of a batch potted on: days and days_max count from its potting on */
};

/* What holds for a sowing of the crop (NULL: nothing is known) in the format (NULL: any) on the day. A description that
 * has days but no longest keeps the crop's own span between ready and past use. */
void cot_raising_of(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format, int32_t day,
                    struct cot_raising *out);

/* What holds for plugs bought in and set into the format on the day: the second stage of the raising days that pot the
 * crop on into it, which hold for a sowing so many days before; days count from the setting, nothing is in the chamber.
 * Unknown where no raising days do. */
void cot_raising_of_plugs(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format, int32_t day,
                          struct cot_raising *out);

/* The same for a batch: of the tray it stands in since its own day. Of one potted on from `parent` as its raising days
 * describe it (parent's crop, format and sowing day; into this format), the days count from the potting on: `second`.
 * Of any other potted on they are those of the crop, which nobody has said for a second stage. parent NULL: sown. */
void cot_raising_of_batch(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *batch,
                          const struct cot_thing *parent, struct cot_raising *out);

/* The latest sowing day from which plants are ready on `ready` or before, and what holds for it; COT_DAY_NONE when the
 * days are not known, or none of the 365 days before will do. */
int32_t cot_raising_back(struct cot_book *b, const struct cot_thing *crop, const struct cot_thing *format,
                         int32_t ready, struct cot_raising *out);

/* Whether the ISO week of the day lies in the season. A season that ends in week 52 takes a week 53 along. */
bool cot_season_holds(int from_week, int to_week, int32_t day);
/* Weeks of the season: 1 to 53. */
int cot_season_weeks(int from_week, int to_week);

#endif
