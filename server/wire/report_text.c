/* The fill report for reading: at most 80 columns, aligned, nothing told by colour. */
#include "cotyledger/core/count.h"
#include "cotyledger/core/raising.h"
#include "report_inner.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define INDENT "      "
#define FORMAT_COLUMNS 12 /* of a long format, beside a long variety */

static void end(struct cot_buf *out, size_t from)
{
    cot_put_line_end(out, from, COT_PAGE_WIDTH);
}

static void put_safe(struct cot_buf *out, const char *s)
{
    cot_put_terminal(out, s, strlen(s));
}

static void heading(struct cot_buf *out, const char *name, char under)
{
    struct cot_buf safe = {0};
    size_t from = out->len;
    put_safe(&safe, name);
    if (!safe.failed) cot_buf_put(out, safe.s, safe.len);
    end(out, from);
    size_t columns = safe.failed ? 0 : cot_text_columns(safe.s, safe.len);
    for (size_t i = 0; i < columns && i < COT_PAGE_WIDTH; i++) cot_buf_put(out, &under, 1);
    cot_buf_str(out, "\n");
    cot_buf_free(&safe);
}

/* "Red Harbour, 128 square" in `width` columns: a long variety is cut, so that the format can still be read. */
static void put_names(struct cot_buf *out, const struct cot_fill_line *l, size_t width)
{
    const char *variety = l->variety ? cot_thing_name(l->variety) : "?",
               *format = l->format ? cot_thing_name(l->format) : "any tray";
    size_t a = cot_text_columns(variety, strlen(variety)), b = cot_text_columns(format, strlen(format));
    struct cot_buf both = {0};
    if (a + 2 + b > width && b > FORMAT_COLUMNS) b = FORMAT_COLUMNS;
    if (a + 2 + b > width) a = width - 2 - b;
    cot_put_fit(&both, variety, strlen(variety), a);
    cot_buf_str(&both, ", ");
    cot_put_fit(&both, format, strlen(format), b);
    if (both.failed) out->failed = true;
    else cot_put_fit(out, both.s, both.len, width);
    cot_buf_free(&both);
}

static void line_rows(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    const struct cot_fill_line *l = &r->fill->line[index];
    char day[COT_DAY_TEXT], week[COT_WEEK_TEXT], chance[COT_CHANCE_TEXT];
    size_t from = out->len;
    cot_day_text(l->date, day);
    cot_week_text(l->date, week);
    cot_chance_beside(cot_chance_told(r->fill, index), r->fill->confidence, chance);
    const char *code = cot_thing_name(l->line);
    cot_put_fit(out, code, strlen(code), 14);
    cot_buf_str(out, "  ");
    put_names(out, l, 30);
    cot_buf_fmt(out, "  %s  %s  %s", day, week, cot_fill_word(l->verdict));
    end(out, from);
    from = out->len;
    cot_buf_fmt(out, "%10" PRId64 "%10" PRId64 "%13" PRId64 "%10" PRId64 "%10" PRId64 "%11s%10" PRId64, l->wanted,
                l->promised, l->handed, l->likely, l->count_on, chance, l->short_by);
    end(out, from);
}

/* How well the batch is known: a guess is shown as one. */
static void put_counted(const struct cot_stand *s, struct cot_buf *out)
{
    char day[COT_DAY_TEXT];
    if (s->counted == COT_DAY_NONE) {
        cot_buf_str(out, s->basis == COT_BASIS_NOTHING ? ", not counted yet, and nothing is known of its seed"
                                                       : ", not counted yet");
        return;
    }
    cot_day_text(s->counted, day);
    cot_buf_fmt(out, ", counted %s%s", day, s->provisional ? " (early)" : "");
}

static void served_by(const struct cot_report *r, uint32_t line, struct cot_buf *out)
{
    uint32_t n, first = cot_report_allots(r->fill, line, &n);
    for (uint32_t i = first; i < first + n; i++) {
        const struct cot_allot *a = &r->fill->allot[i];
        size_t from = out->len;
        cot_buf_fmt(out, INDENT "%" PRId64 " plant%s from ", a->plants, a->plants == 1 ? "" : "s");
        put_safe(out, cot_thing_name(r->fill->batch[a->batch]));
        const struct cot_thing *variety = a->substitute ? cot_report_variety(r, a) : NULL;
        if (a->substitute) cot_buf_str(out, ", instead: ");
        if (a->substitute) put_safe(out, variety ? cot_thing_name(variety) : "another variety");
        put_counted(&r->fill->stand[a->batch], out);
        end(out, from);
        if (a->extra == 0) continue;
        from = out->len;
        cot_buf_fmt(out, INDENT "  and %" PRId64 " more that nobody wants, to make it whole", a->extra);
        end(out, from);
    }
}

static void note(struct cot_buf *out, const char *text)
{
    size_t from = out->len;
    cot_buf_fmt(out, INDENT "%s", text);
    end(out, from);
}

/* A batch of the line's own variety and format, from seed that the line takes. */
static bool same_sort(const struct cot_fill_line *l, const struct cot_stand *s)
{
    static const struct cot_id house;
    bool own = cot_id_cmp(&s->owner, &house) != 0;
    if (cot_thing_int(l->line, COT_F_UNTREATED, 0) && !s->untreated) return false;
    if (cot_thing_int(l->line, COT_F_ORGANIC, 0) && !s->organic) return false;
    if (own ? cot_id_cmp(&s->owner, &l->line->farm) != 0 : cot_thing_int(l->line, COT_F_OWN_SEED, 0) != 0) return false;
    if (!l->variety || cot_id_cmp(&s->variety, &l->variety->id) != 0) return false;
    return !l->format || cot_id_cmp(&s->format, &l->format->id) == 0;
}

/* And there on its days. */
static bool grown_for(const struct cot_fill_line *l, const struct cot_stand *s)
{
    int64_t early = cot_thing_int(l->line, COT_F_EARLY, 0), late = cot_thing_int(l->line, COT_F_LATE, 0);
    if (!same_sort(l, s)) return false;
    return s->ready <= l->date + late && (s->past == COT_DAY_NONE || s->past >= l->date - early);
}

/* What is lacking, and until when it can be sown. */
static void sow_by(const struct cot_report *r, const struct cot_fill_line *l, const char *lack, struct cot_buf *out)
{
    const struct cot_id *id = l->variety ? cot_thing_id(l->variety, COT_F_CROP) : NULL;
    const struct cot_thing *crop = id ? cot_book_thing(r->book, id) : NULL;
    struct cot_raising raising;
    int32_t latest = l->date + (int32_t)cot_thing_int(l->line, COT_F_LATE, 0);
    int32_t last = cot_raising_back(r->book, crop, l->format, latest, &raising);
    char text[120], day[COT_DAY_TEXT];
    if (last != COT_DAY_NONE) cot_day_text(last, day);
    if (last == COT_DAY_NONE) snprintf(text, sizeof text, "note: %s", lack);
    else if (last < r->fill->on) snprintf(text, sizeof text, "note: %s; the last day to sow was %s", lack, day);
    else snprintf(text, sizeof text, "note: %s; sow by %s", lack, day);
    note(out, text);
}

/* Batches of a line's own variety and format that it gets nothing from. */
struct unused {
    bool too_old;   /* past use before its day */
    bool held;      /* each is named in a note */
    bool elsewhere; /* there are plants on its day, and other lines get them */
    bool lost;      /* nothing is left of it */
};

static struct unused look_for(const struct cot_report *r, const struct cot_fill_line *l, struct cot_buf *out)
{
    struct unused u = {0};
    for (uint32_t i = 0; i < r->fill->batch_count; i++) {
        const struct cot_stand *s = &r->fill->stand[i];
        bool past = same_sort(l, s) && s->past != COT_DAY_NONE && s->past < l->date;
        if (past && s->past >= r->fill->on) u.too_old = true;
        if (!grown_for(l, s)) continue;
        if (!s->held) {
            *(s->likely > s->out ? &u.elsewhere : &u.lost) = true;
            continue;
        }
        size_t from = out->len;
        u.held = true;
        cot_buf_str(out, INDENT "note: ");
        put_safe(out, cot_thing_name(r->fill->batch[i]));
        cot_buf_str(out, " would serve it, but is held");
        end(out, from);
    }
    return u;
}

/* Why nothing at all is likely for a line whose day is to come. */
static void why_nothing(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    const struct cot_fill_line *l = &r->fill->line[index];
    if (l->likely > 0 || l->wanted == 0 || l->line->gone || l->declined || l->date < r->fill->on) return;
    struct unused u = look_for(r, l, out);
    if (u.held) return;
    if (u.elsewhere) {
        if (l->promised > 0) sow_by(r, l, "what is sown goes to other lines", out);
    } else if (u.lost) sow_by(r, l, "nothing is left of what was sown", out);
    else if (u.too_old) sow_by(r, l, "what is sown is past use by then", out);
    else sow_by(r, l, "nothing is sown for it yet", out);
}

/* What counting would do for a line in doubt, in the words of the count. */
static void count_more(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    struct cot_count_line c;
    cot_count_for_line(r->fill, index, &c);
    if (c.trays == COT_COUNT_NEVER) note(out, "note: all trays are counted; what may still be lost leaves it in doubt");
    if (c.trays < 1) return;
    size_t from = out->len;
    cot_buf_fmt(out, INDENT "note: count %" PRId64 "%s tray%s of ", c.trays,
                r->fill->stand[c.batch].counted != COT_DAY_NONE ? " more" : "", c.trays == 1 ? "" : "s");
    put_safe(out, cot_thing_name(r->fill->batch[c.batch]));
    cot_buf_str(out, ": then it is probably settled");
    end(out, from);
    if (c.several) note(out, "      (as if that batch alone were in doubt; count it first)");
}

static void notes(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    const struct cot_fill_line *l = &r->fill->line[index];
    char text[120], day[COT_DAY_TEXT];
    int64_t waiting = cot_report_waiting(l);
    if (l->asked != l->date) {
        cot_day_text(l->asked, day);
        snprintf(text, sizeof text, "note: asked for on %s, promised for the day above", day);
        note(out, text);
    }
    if (l->wanted == 0 && !l->line->gone) note(out, "note: ordered in trays, but it does not say of which tray format");
    if (l->line->gone) note(out, "note: withdrawn; only what was handed over stands");
    if (l->declined) {
        snprintf(text, sizeof text, "note: the house declined %" PRId64 " of the plants", l->wanted - l->promised);
        note(out, text);
    }
    if (waiting > 0) {
        snprintf(text, sizeof text, "note: %" PRId64 " plant%s the house's promise", waiting,
                 waiting == 1 ? " waits for" : "s wait for");
        note(out, text);
    }
    if (l->request) note(out, "note: a change waits for the house's word");
    why_nothing(r, index, out);
    count_more(r, index, out);
    if (l->passed_over) note(out, "note: less was there than is worth having to it, so it goes to others");
    if (l->least_missed) {
        snprintf(text, sizeof text, "note: likely is below the least worth having (%" PRId64 " plants)",
                 cot_thing_int(l->line, COT_F_LEAST, 0));
        note(out, text);
    }
    if (cot_report_treated(r, index)) {
        note(out, "caution: treated seed: gloves, wash hands, keep from food and feed;");
        note(out, "         follow the label and local rules");
    }
}

void cot_report_notes(const struct cot_report *r, uint32_t line, struct cot_buf *out)
{
    served_by(r, line, out);
    notes(r, line, out);
}

static void line_part(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    if (!cot_report_shows(r, index)) return;
    line_rows(r, index, out);
    cot_report_notes(r, index, out);
}

static void farm_part(const struct cot_report *r, const struct cot_fill_farm *farm, struct cot_buf *out)
{
    struct cot_report_sum sum = {0};
    char odds[COT_ODDS_TEXT];
    cot_report_add(r, farm, &sum);
    cot_odds_text(r->fill->confidence, odds);
    heading(out, cot_thing_name(farm->farm), '=');
    cot_report_headline(&sum, out);
    size_t from = out->len + 1;
    cot_buf_fmt(out, "\nIn all %" PRId64 " plants wanted, %" PRId64 " handed over; likely %" PRId64 ",", farm->wanted,
                farm->handed, farm->likely);
    end(out, from);
    cot_buf_fmt(out, "count on %" PRId64 " (%s).\n\n", farm->count_on, odds);
    if (farm->own_left > 0)
        cot_buf_fmt(out, "Of its own seed %" PRId64 " plants are likely to be left over.\n\n", farm->own_left);
    if (r->only_short && farm->covered == farm->line_count) return;
    cot_buf_str(out, "Line            Variety, tray format            Collect     Week      Verdict\n"
                     "    wanted  promised  handed over    likely  count on     chance  short by\n");
    for (uint32_t i = farm->first_line; i < farm->first_line + farm->line_count; i++) line_part(r, i, out);
    cot_buf_str(out, "\n");
}

/* --- The house's overview ------------------------------------------------------------------------------------- */

/* One decimal of a number that is not negative, by integers alone. */
static void put_tenth(struct cot_buf *out, double v)
{
    int64_t tenths = (int64_t)(v * 10 + 0.5);
    cot_buf_fmt(out, "%" PRId64 ".%d", tenths / 10, (int)(tenths % 10));
}

static void overview(const struct cot_report *r, struct cot_buf *out)
{
    struct cot_report_sum all = {0};
    struct cot_report_ranked *list = cot_report_rank(r, &all);
    if (!list) {
        out->failed = true;
        return;
    }
    heading(out, "All farms", '=');
    cot_report_headline(&all, out);
    if (all.lines > 0) {
        cot_buf_str(out, "\nBy the odds, ");
        put_tenth(out, all.miss);
        cot_buf_fmt(out, " of the %" PRIu32 " line%s will not be full.", all.lines, all.lines == 1 ? "" : "s");
    }
    cot_buf_str(out, "\n\nFarm, shortest first                 lines  covered  in doubt   short  short by\n");
    for (uint32_t i = 0; i < r->farm_count; i++) {
        const struct cot_report_ranked *f = &list[i];
        size_t from = out->len;
        const char *name = cot_thing_name(f->farm->farm);
        cot_put_fit(out, name, strlen(name), 34);
        cot_buf_fmt(out, "%8" PRIu32 "%9" PRIu32 "%10" PRIu32 "%8" PRIu32 "%10" PRId64, f->sum.lines, f->sum.covered,
                    f->sum.in_doubt, f->sum.short_, f->sum.short_by);
        end(out, from);
    }
    cot_buf_str(out, "\n");
    free(list);
}

void cot_report_foot(const struct cot_report *r, int32_t on, struct cot_buf *out)
{
    char day[COT_DAY_TEXT];
    cot_day_text(on, day);
    cot_buf_fmt(out, "As of %s. Ledger position %" PRId64 ", book %.10s; in full:\n", day, r->position, r->digest);
    cot_buf_fmt(out, "%s\n", r->digest);
    if (r->unsent > 0)
        cot_buf_fmt(out, "(%" PRId64 " entr%s not sent yet %s in the figures, not in the digest)\n", r->unsent,
                    r->unsent == 1 ? "y" : "ies", r->unsent == 1 ? "is" : "are");
}

void cot_report_fill_text(const struct cot_report *r, struct cot_buf *out)
{
    char day[COT_DAY_TEXT], week[COT_WEEK_TEXT], odds[COT_ODDS_TEXT];
    cot_day_text(r->fill->on, day);
    cot_week_text(r->fill->on, week);
    cot_odds_text(r->fill->confidence, odds);
    size_t from = out->len;
    cot_buf_str(out, "Fill report of ");
    put_safe(out, r->house);
    end(out, from);
    cot_buf_fmt(out, "as of %s (%s); \"count on\" holds %s times; figures in plants\n", day, week, odds);
    cot_buf_str(out, r->only_short ? "only lines that are short or in doubt are shown\n\n" : "\n");
    for (uint32_t i = 0; i < r->farm_count; i++) farm_part(r, &r->farm[i], out);
    if (r->missing) {
        heading(out, cot_thing_name(r->missing), '=');
        cot_buf_str(out, "No lines.\n\n");
    }
    if (r->overview) overview(r, out);
    cot_report_foot(r, r->fill->on, out);
}
