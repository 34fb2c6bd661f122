#include "hold.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "work.h"

static void put(struct cot_buf *out, size_t indent, const char *fmt, ...) COT_PRINTF(3, 4);
static void put(struct cot_buf *out, size_t indent, const char *fmt, ...)
{
    char text[512];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    for (size_t i = 0; i < indent; i++) cot_buf_str(out, " ");
    cot_put_paragraph(out, text, indent, indent + 2);
}

/* ", fit until 2027-04-24 (W16)", and what to do when that is before the farm comes. */
static void fit_words(const struct cot_hold *h, const struct cot_hold_part *p, char *out, size_t size)
{
    char date[COT_DATE_TEXT];
    if (p->fit == COT_DAY_NONE) snprintf(out, size, "; how long it stays fit in its tray is not known");
    else if (p->fit >= h->until) snprintf(out, size, "; fit in its tray until %s", cot_date(p->fit, date));
    else
        snprintf(out, size, "; fit in its tray until %s only: pot it on, let another take it, or sow again",
                 cot_date(p->fit, date));
}

static void put_part(const struct cot_hold *h, const struct cot_hold_part *p, struct cot_buf *out)
{
    char plants[COT_SOME_TEXT], trays[COT_SOME_TEXT], spots[COT_SOME_TEXT], fit[160];
    fit_words(h, p, fit, sizeof fit);
    put(out, 2, "%s from %s, %s (%s)%s%s%s", cot_some(p->plants, "plant", plants), cot_thing_name(p->batch),
        cot_some(p->trays, "tray", trays), cot_some(p->spots, "spot", spots), p->bench[0] ? " on " : "", p->bench, fit);
}

void cot_hold_put(const struct cot_hold *h, struct cot_buf *out)
{
    char from[COT_DATE_TEXT], until[COT_DATE_TEXT], some[COT_SOME_TEXT];
    put(out, 0, "%s, %s: collects on %s in place of %s.", cot_thing_name(h->line),
        h->farm ? cot_thing_name(h->farm) : "?", cot_date(h->until, until), cot_date(h->date, from));
    if (h->parts == 0) put(out, 2, "No batch serves it yet: what is planned for it is sown for the later day.");
    for (int i = 0; i < h->parts; i++) put_part(h, &h->part[i], out);
    if (h->kept < h->plants)
        put(out, 2, "Of %s likely to come to it, %" PRId64 " are by then.", cot_some(h->plants, "plant", some),
            h->kept);
    for (int i = 0; i < h->takers; i++) {
        const struct cot_hold_taker *t = &h->taker[i];
        put(out, 2, "%s could take %s of them for %s on %s.", t->farm ? cot_thing_name(t->farm) : "?",
            cot_some(t->plants, "plant", some), cot_thing_name(t->line), cot_date(t->date, from));
    }
    if (h->takers == 0 && h->parts > 0) put(out, 2, "Nobody else lacks these plants.");
}

enum cot_err cot_holds_put(struct cot_cli *cli, int32_t on, struct cot_buf *out)
{
    size_t n;
    bool any = false;
    enum cot_err err = COT_OK;
    const struct cot_thing *const *line = cot_book_things(cli->book, COT_THING_LINE, &n);
    for (size_t i = 0; err == COT_OK && i < n; i++) {
        struct cot_hold h;
        int32_t until = (int32_t)cot_thing_int(line[i], COT_F_WAIT_UNTIL, COT_DAY_NONE);
        if (line[i]->gone || until < on) continue;
        err = cot_hold_read(cli->book, on, line[i], until, &h, &cli->fault);
        if (err != COT_OK || (h.plants == 0 && h.parts == 0)) continue;
        if (!any) cot_buf_str(out, "\nKept for farms that cannot plant yet:\n");
        any = true;
        cot_hold_put(&h, out);
    }
    return err;
}
