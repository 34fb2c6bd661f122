#include "farm.h"

#include <inttypes.h>

#include "table.h"
#include "work.h"

/* Sums a field of a farm's booked entries of a kind. A buyer's laptop has no batches: only what the entries themselves
 * say can be read there too. */
static int64_t sum(struct cot_cli *cli, const struct cot_id *farm, int32_t on, enum cot_kind kind, enum cot_field f)
{
    size_t n;
    int64_t all = 0;
    const struct cot_note *notes = cot_book_of_kind(cli->book, kind, &n);
    for (size_t i = 0; i < n; i++) {
        const struct cot_fact *fact = notes[i].fact;
        if (!fact->has_farm || cot_id_cmp(&fact->farm, farm) != 0) continue;
        if (cot_fact_int(fact, COT_F_DAY, COT_DAY_MAX) <= on) all += cot_fact_int(fact, f, 0);
    }
    return all;
}

void cot_empties_read(struct cot_cli *cli, const struct cot_id *farm, int32_t on, struct cot_empties *out)
{
    out->owed = sum(cli, farm, on, COT_K_HANDED, COT_F_OWED);
    out->back = sum(cli, farm, on, COT_K_EMPTIES, COT_F_TRAYS);
}

void cot_farm_put_text(struct cot_cli *cli, const struct cot_thing *farm, int32_t on, struct cot_buf *out)
{
    struct cot_empties e;
    char date[COT_DATE_TEXT], owed[COT_SOME_TEXT], back[COT_SOME_TEXT];
    cot_empties_read(cli, &farm->id, on, &e);
    if (e.owed == 0 && e.back == 0) return;
    cot_buf_fmt(out, "\nEmpty trays on %s\n", cot_date(on, date));
    cot_put_pair(out, "owed for hand-overs", cot_some(e.owed, "tray", owed));
    cot_put_pair(out, "brought back", cot_some(e.back, "tray", back));
    if (e.back > e.owed) cot_put_pair(out, "brought back beyond owed", cot_some(e.back - e.owed, "tray", owed));
    else cot_put_pair(out, "still owed", cot_some(e.owed - e.back, "tray", owed));
}

void cot_farm_put_json(struct cot_cli *cli, const struct cot_thing *farm, int32_t on, struct cot_buf *out)
{
    struct cot_empties e;
    char day[COT_DAY_TEXT];
    cot_empties_read(cli, &farm->id, on, &e);
    cot_day_text(on, day);
    cot_buf_fmt(out,
                ",\"empties\":{\"on\":\"%s\",\"owed\":%" PRId64 ",\"back\":%" PRId64 ",\"still_owed\":%" PRId64 "}",
                day, e.owed, e.back, e.owed > e.back ? e.owed - e.back : 0);
}
