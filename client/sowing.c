#include "sowing.h"

#include <string.h>

#include "cotyledger/core/sow.h"

static void warn_plate(struct cot_job *w, const struct cot_sowing_words *s)
{
    int64_t cells = cot_format_cells(s->format), drop = cot_thing_int(s->plate, COT_F_CELLS, 0);
    const char *of_plate = cot_thing_text(s->plate, COT_F_PATTERN),
               *of_format = cot_thing_text(s->format, COT_F_PATTERN);
    if (drop > 0 && cells % drop != 0)
        cot_answer_warn(&w->answer,
                        "plate %s fills %lld cells at a drop, and a tray of %s has %lld cells: is it the right plate? "
                        "`cotyl plates \"%s\" \"%s\"` names those that fit.",
                        cot_thing_name(s->plate), (long long)drop, cot_thing_name(s->format), (long long)cells,
                        cot_thing_name(s->lot), cot_thing_name(s->format));
    else if (of_plate[0] && of_format[0] && strcmp(of_plate, of_format) != 0)
        cot_answer_warn(&w->answer, "plate %s has the cell pattern %s, format %s has %s: is it the right plate?",
                        cot_thing_name(s->plate), of_plate, cot_thing_name(s->format), of_format);
}

static void warn_lot(struct cot_job *w, const struct cot_sowing_words *s)
{
    char date[COT_DATE_TEXT];
    int32_t use_by = (int32_t)cot_thing_int(s->lot, COT_F_USE_BY, COT_DAY_NONE);
    if (use_by != COT_DAY_NONE && s->day > use_by)
        cot_answer_warn(&w->answer, "lot %s was to be used by %s.", cot_thing_name(s->lot), cot_date(use_by, date));
    if (cot_thing_int(s->lot, COT_F_WITHDRAWN, 0))
        cot_answer_warn(&w->answer, "lot %s is marked as withdrawn.", cot_thing_name(s->lot));
}

/* Against what was written down last, less what was sown since. */
static void warn_seed(struct cot_job *w, const struct cot_sowing_words *s)
{
    const struct cot_sow_asked asked = {.lot = s->lot, .format = s->format, .plate = s->plate, .per_cell = s->per_cell};
    struct cot_sow sow;
    struct cot_sow_found found;
    struct cot_sow_seeds seeds;
    if (cot_sow_read(w->cli->book, &asked, s->day > w->today ? w->today : s->day, &sow, &found, NULL) != COT_OK) return;
    if (s->rows > 0) sow.tray_cells = cot_thing_int(s->format, COT_F_COLS, 1);
    int64_t units = s->rows > 0 ? s->rows : s->trays;
    if (units < 1 || found.stock < 0) return;
    if (cot_sow_seeds(&sow, units, found.confidence, &seeds, NULL) != COT_OK || seeds.mean <= found.stock) return;
    const char *what = cot_lot_of_plugs(s->lot) ? "plug" : "seed";
    char left[COT_SOME_TEXT], takes[COT_SOME_TEXT];
    cot_answer_warn(&w->answer,
                    "lot %s has about %s left by the book, and this takes %s. `cotyl change lot` writes down "
                    "what there is.",
                    cot_thing_name(s->lot), found.stock > 0 ? cot_some(found.stock, what, left) : "none",
                    cot_some(seeds.mean, what, takes));
}

void cot_warn_sowing(struct cot_job *w, const struct cot_sowing_words *s)
{
    if (!s->lot || !s->format) return;
    if (s->plate) warn_plate(w, s);
    warn_lot(w, s);
    warn_seed(w, s);
}
