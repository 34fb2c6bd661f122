/* How many more trays of a batch to count. */
#include "advice.h"

#include <inttypes.h>
#include <string.h>

#include "cotyledger/wire/sheet.h"
#include "work.h"

static bool advice_of(const struct cot_fill *fill, const struct cot_thing *batch, struct cot_count_advice *a)
{
    for (uint32_t k = 0; k < fill->batch_count; k++)
        if (fill->batch[k] == batch) return cot_count_advise(fill, k, a) == COT_OK && a->lines > 0;
    return false;
}

bool cot_advice_text(const struct cot_fill *fill, const struct cot_thing *batch, char out[static COT_ADVICE_TEXT])
{
    struct cot_count_advice a;
    char some[COT_SOME_TEXT];
    if (!advice_of(fill, batch, &a)) return false;
    if (a.trays > 0 && a.line)
        snprintf(out, COT_ADVICE_TEXT, "count %s: then %s (%s) is probably settled",
                 cot_some(a.trays, "more tray", some), a.line->line ? cot_thing_name(a.line->line) : "a line",
                 a.line->farm ? cot_thing_name(a.line->farm) : "?");
    else if (a.trays > 0)
        snprintf(out, COT_ADVICE_TEXT, "count one more tray: it may change what is said of a line (%.0f %%)",
                 100 * a.changes);
    else if (a.trays == COT_COUNT_NEVER)
        snprintf(out, COT_ADVICE_TEXT, "all trays are counted; what may still be lost leaves a line in doubt");
    else snprintf(out, COT_ADVICE_TEXT, "enough counted: one more tray would hardly change a line");
    return true;
}

void cot_advice_json(const struct cot_fill *fill, const struct cot_thing *batch, struct cot_buf *out)
{
    struct cot_count_advice a;
    if (!advice_of(fill, batch, &a)) return;
    cot_buf_fmt(out, ",\"count_more\":{\"left\":%" PRId64 ",\"trays\":", a.left);
    if (a.trays == COT_COUNT_NEVER) cot_buf_str(out, "null");
    else cot_buf_fmt(out, "%" PRId64, a.trays);
    cot_buf_str(out, ",\"line\":");
    const char *name = a.line && a.line->line ? cot_thing_name(a.line->line) : NULL;
    if (name) cot_put_json(out, name, strlen(name));
    else cot_buf_str(out, "null");
    cot_buf_fmt(out, ",\"changes\":%.3f}", a.changes);
}
