/* The plan of a season: a row a sowing, then what it takes, what is left out and why. */
#include "plan.h"

#include <inttypes.h>
#include <string.h>

#include "cotyledger/core/raising.h"
#include "hold.h"
#include "lists.h"
#include "work.h"

/* --- The mark ----------------------------------------------------------------------------------------------------- */

struct hash {
    uint64_t h;
};

/* FNV-1a (Fowler, Noll and Vo), 64 bits. */
static void mix(struct hash *h, const void *bytes, size_t len)
{
    const unsigned char *p = bytes;
    for (size_t i = 0; i < len; i++) h->h = (h->h ^ p[i]) * UINT64_C(0x100000001b3);
}

static void mix_int(struct hash *h, int64_t i)
{
    unsigned char b[8];
    for (int k = 0; k < 8; k++) b[k] = (unsigned char)((uint64_t)i >> (8 * k));
    mix(h, b, sizeof b);
}

static void mix_thing(struct hash *h, const struct cot_thing *t)
{
    if (t) mix(h, &t->id, sizeof t->id);
    mix_int(h, t != NULL);
}

void cot_plan_mark(const struct cot_season *s, char out[static COT_PLAN_MARK])
{
    static const char letters[] = "BCDFGHJKLMNPQRSTVWXZ"; /* no vowels: no words */
    struct hash h = {UINT64_C(0xcbf29ce484222325)};
    for (uint32_t i = 0; i < s->sowing_count; i++) {
        const struct cot_season_sowing *w = &s->sowing[i];
        mix_thing(&h, w->planned);
        mix_thing(&h, w->lot);
        mix_thing(&h, w->format);
        mix_thing(&h, w->plate);
        mix_thing(&h, w->chamber);
        mix_thing(&h, w->bench);
        mix_thing(&h, w->frame);
        mix_int(&h, w->change);
        mix_int(&h, w->trays);
        mix_int(&h, w->rows);
        mix_int(&h, w->shared);
        mix_int(&h, w->day);
        for (uint32_t k = 0; k < w->parts; k++) mix_thing(&h, s->line[s->part[w->first_part + k].line].line);
    }
    for (int i = 0; i < COT_PLAN_MARK - 1; i++) {
        out[i] = letters[h.h % 20];
        h.h /= 20;
    }
    out[COT_PLAN_MARK - 1] = '\0';
}

/* --- Sowings ------------------------------------------------------------------------------------------------------ */

static const struct cot_col sowing_cols[] = {
    {"sow_day", "Sow on", false, false},  {"week", NULL, false, false},     {"change", NULL, false, false},
    {"planned", NULL, false, false},      {"was_day", NULL, false, false},  {"crop", NULL, false, false},
    {"variety", "Variety", false, false}, {"lot", NULL, false, false},      {"format", "Tray", false, false},
    {"trays", NULL, true, false},         {"tray_rows", NULL, true, false}, {"shared", NULL, false, false},
    {"", "To sow", true, false},          {"seeds", NULL, true, false},     {"", "Lot", false, false},
    {"plate", NULL, false, false},        {"per_cell", NULL, true, false},  {"at_least", NULL, true, false},
    {"chamber", NULL, false, false},      {"bench", "Bench", false, false}, {"frame", NULL, false, false},
    {"up", NULL, false, false},           {"potted", NULL, false, false},   {"pot_format", NULL, false, false},
    {"pot_trays", NULL, true, false},     {"harden", NULL, false, false},   {"ready", NULL, false, false},
    {"past", NULL, false, false},         {"until", "Until", false, false}, {"plants", NULL, true, false},
    {"lines", NULL, true, false},         {"first", NULL, false, false},    {"last", NULL, false, false},
    {"retest", NULL, false, true},        {"pinned", NULL, false, true},    {"", "", false, false},
};

static const char *const change_words[] = {[COT_SEASON_KEPT] = "kept",
                                           [COT_SEASON_CHANGED] = "changed",
                                           [COT_SEASON_NEW] = "new",
                                           [COT_SEASON_DROPPED] = "dropped"};

static const char *name_or_null(const struct cot_thing *t)
{
    return t ? cot_thing_name(t) : NULL;
}

static void put_to_sow(struct cot_table *t, const struct cot_season_sowing *s)
{
    if (s->rows > 0) cot_table_fmt(t, "%" PRId64 " row%s", s->rows, s->rows == 1 ? "" : "s");
    else cot_table_fmt(t, "%" PRId64, s->trays);
}

/* "new", "moved from 2027-02-01", "2 trays more", "pinned" ... */
static void put_remark(struct cot_table *t, const struct cot_season_sowing *s)
{
    char was[COT_DAY_TEXT] = "";
    int64_t had = s->planned ? cot_thing_int(s->planned, COT_F_TRAYS, 1) - s->sown : s->trays;
    if (s->was_day != COT_DAY_NONE) cot_day_text(s->was_day, was);
    if (s->change == COT_SEASON_DROPPED) cot_table_text(t, "drop");
    else if (s->change == COT_SEASON_NEW) cot_table_text(t, s->day == COT_DAY_NONE ? "no room" : "new");
    else if (s->day == COT_DAY_NONE) cot_table_text(t, "no room");
    else if (s->day != s->was_day) cot_table_fmt(t, "was %s", was + 5);
    else if (s->trays != had) cot_table_fmt(t, "was %" PRId64, had);
    else if (cot_season_other_place(s)) cot_table_text(t, "other place");
    else cot_table_text(t, s->pinned ? "pinned" : NULL);
}

static void put_day_or_none(struct cot_table *t, const struct cot_season_sowing *s, int32_t day)
{
    cot_table_day(t, s->day == COT_DAY_NONE ? COT_DAY_NONE : day);
}

static void sowing_row(struct cot_table *t, const struct cot_season_sowing *s)
{
    char week[COT_WEEK_TEXT];
    bool dropped = s->change == COT_SEASON_DROPPED;
    cot_table_day(t, s->day);
    if (s->day != COT_DAY_NONE) cot_week_text(s->day, week);
    cot_table_text(t, s->day != COT_DAY_NONE ? week : NULL);
    cot_table_text(t, s->day == COT_DAY_NONE && !dropped ? "no room" : change_words[s->change]);
    cot_table_text(t, name_or_null(s->planned));
    cot_table_day(t, s->was_day);
    cot_table_text(t, name_or_null(s->crop));
    cot_table_text(t, cot_thing_name(s->variety));
    cot_table_text(t, name_or_null(s->lot));
    cot_table_text(t, cot_thing_name(s->format));
    if (s->rows > 0) cot_table_text(t, NULL);
    else cot_table_int(t, s->trays);
    if (s->rows > 0) cot_table_int(t, s->rows);
    else cot_table_text(t, NULL);
    if (s->shared > 0) cot_table_fmt(t, "shared %u", s->shared);
    else cot_table_text(t, NULL);
    put_to_sow(t, s);
    cot_table_int(t, s->seeds);
    cot_table_text(t, s->lot ? cot_thing_name(s->lot) : "to buy");
    cot_table_text(t, name_or_null(s->plate));
    cot_table_int(t, s->per_cell);
    cot_table_int(t, s->at_least);
    cot_table_text(t, name_or_null(s->chamber));
    cot_table_text(t, name_or_null(s->bench));
    cot_table_text(t, name_or_null(s->frame));
    put_day_or_none(t, s, s->stages.up);
    put_day_or_none(t, s, s->pot_format ? s->stages.potted : COT_DAY_NONE);
    cot_table_text(t, name_or_null(s->pot_format));
    if (s->pot_format) cot_table_int(t, s->pot_trays);
    else cot_table_text(t, NULL);
    put_day_or_none(t, s, s->harden);
    put_day_or_none(t, s, s->stages.ready);
    put_day_or_none(t, s, s->stages.past);
    put_day_or_none(t, s, s->until > 0 ? s->until : COT_DAY_NONE);
    cot_table_int(t, s->plants);
    cot_table_int(t, s->parts);
    put_day_or_none(t, s, s->first);
    put_day_or_none(t, s, s->last);
    cot_table_yes(t, s->retest);
    cot_table_yes(t, s->pinned);
    put_remark(t, s);
}

/* --- Below the table ---------------------------------------------------------------------------------------------- */

static void put_line(struct cot_buf *out, const char *fmt, ...) COT_PRINTF(2, 3);
static void put_line(struct cot_buf *out, const char *fmt, ...)
{
    char text[512];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    cot_put_paragraph(out, text, 0, 2);
}

static void put_lacks(const struct cot_season *s, struct cot_buf *out)
{
    static const char *const sorts[] = {
        [COT_PLACE_CHAMBER] = "chamber", [COT_PLACE_BENCH] = "bench", [COT_PLACE_FRAME] = "cold frame"};
    if (s->lack_count > 0) put_line(out, "It would all fit with:");
    for (uint32_t i = 0; i < s->lack_count; i++) {
        const struct cot_season_lack *l = &s->lack[i];
        char from[COT_DAY_TEXT], to[COT_DAY_TEXT];
        cot_day_text(l->from, from);
        cot_day_text(l->to, to);
        if (l->sowing) put_line(out, "  %" PRId64 " trays more sown on a day, %s to %s", l->spots, from, to);
        else
            put_line(out, "  %" PRId64 " spots more in the %s%s%s, %s to %s", l->spots, l->group,
                     l->group[0] ? " " : "", sorts[l->sort], from, to);
    }
}

/* The house's format with the fewest cells that are more than these; NULL: none has more. */
static const struct cot_thing *smaller_cells(struct cot_cli *cli, const struct cot_thing *format)
{
    size_t n;
    int64_t cells = cot_format_cells(format), least = INT64_MAX;
    const struct cot_thing *found = NULL, *const *all = cot_book_things(cli->book, COT_THING_FORMAT, &n);
    for (size_t i = 0; i < n; i++) {
        int64_t has = cot_format_cells(all[i]);
        if (all[i]->gone || has <= cells || has >= least) continue;
        least = has;
        found = all[i];
    }
    return found;
}

/* Sowings that gave way would take less room in smaller cells. */
static void put_smaller(struct cot_cli *cli, const struct cot_season *s, struct cot_buf *out)
{
    bool any = false;
    for (uint32_t i = 0; i < s->sowing_count; i++) {
        const struct cot_season_sowing *w = &s->sowing[i];
        char lines[300] = "", some[COT_SOME_TEXT];
        if (w->day != COT_DAY_NONE || w->change == COT_SEASON_DROPPED || w->parts == 0) continue;
        const struct cot_thing *to = smaller_cells(cli, w->format);
        if (!to) continue;
        int64_t cells = cot_format_cells(to), trays = (w->trays * cot_format_cells(w->format) + cells - 1) / cells;
        if (trays >= w->trays) continue;
        for (uint32_t k = 0; k < w->parts && strlen(lines) < 240; k++)
            snprintf(lines + strlen(lines), sizeof lines - strlen(lines), "%s%s", k ? ", " : "",
                     cot_thing_name(s->line[s->part[w->first_part + k].line].line));
        if (!any) put_line(out, "Or, if the farms agree, with smaller cells:");
        any = true;
        put_line(out, "  %s in %s in place of %s, about %" PRId64 " in place of %s: %s", cot_thing_name(w->variety),
                 cot_thing_name(to), cot_thing_name(w->format), trays, cot_some(w->trays, "tray", some), lines);
    }
}

static bool has_chamber(struct cot_cli *cli)
{
    size_t n;
    const struct cot_thing *const *place = cot_book_things(cli->book, COT_THING_PLACE, &n);
    for (size_t i = 0; i < n; i++)
        if (!place[i]->gone && cot_thing_int(place[i], COT_F_SORT, COT_PLACE_BENCH) == COT_PLACE_CHAMBER) return true;
    return false;
}

/* Where chamber days come from that the house did not say, once a crop. */
static void put_chamber_days(struct cot_cli *cli, const struct cot_season *s, struct cot_buf *out)
{
    struct cot_buf table = {0}, unknown = {0};
    for (uint32_t i = 0; has_chamber(cli) && i < s->sowing_count; i++) {
        const struct cot_season_sowing *w = &s->sowing[i];
        struct cot_raising g;
        bool first = w->day != COT_DAY_NONE;
        for (uint32_t k = 0; k < i && first; k++)
            first = s->sowing[k].crop != w->crop || s->sowing[k].day == COT_DAY_NONE;
        if (!first) continue;
        cot_raising_of(cli->book, w->crop, w->format, w->day, &g);
        if (g.chamber == COT_RAISING_UNKNOWN)
            cot_buf_fmt(&unknown, "%s%s", unknown.len ? ", " : "", cot_thing_name(w->crop));
        else if (g.chamber_by_table)
            cot_buf_fmt(&table, "%s%s %d", table.len ? ", " : "", cot_thing_name(w->crop), (int)g.chamber);
    }
    if (table.len) cot_buf_str(out, "Days in the chamber by the table of emergence, at its temperature:\n  ");
    if (table.len) cot_put_paragraph(out, table.s, 2, 2);
    if (unknown.len)
        cot_buf_str(out, "Nobody said their days in the chamber (`cotyl change crop`); planned without it:\n  ");
    if (unknown.len) cot_put_paragraph(out, unknown.s, 2, 2);
    if (table.failed || unknown.failed) out->failed = true;
    cot_buf_free(&table);
    cot_buf_free(&unknown);
}

/* Sowings for which no one place has room for all of their time, and pinned ones of a lot that was called back. */
static void put_odd(const struct cot_season *s, struct cot_buf *out)
{
    for (uint32_t i = 0; i < s->sowing_count; i++) {
        const struct cot_season_sowing *w = &s->sowing[i];
        char day[COT_DAY_TEXT];
        if (w->day == COT_DAY_NONE || w->change == COT_SEASON_DROPPED) continue;
        cot_day_text(w->day, day);
        if (!w->bench && s->bench_peak > 0)
            put_line(out, "%s, %s: no one bench has room for all of it; divide it, or name one.", day,
                     cot_thing_name(w->variety));
        if (w->pinned && w->lot && cot_thing_int(w->lot, COT_F_WITHDRAWN, 0))
            put_line(out, "%s, %s: pinned to lot %s, which was called back; change its lot, or drop it.",
                     cot_thing_name(w->planned), cot_thing_name(w->variety), cot_thing_name(w->lot));
    }
}

/* Seed that no lot has, by variety. */
static void put_to_buy(const struct cot_season *s, struct cot_buf *out)
{
    bool any = false;
    for (uint32_t i = 0; i < s->sowing_count; i++) {
        const struct cot_season_sowing *w = &s->sowing[i];
        int64_t seeds = 0;
        bool first = true;
        if (w->lot || w->day == COT_DAY_NONE) continue;
        for (uint32_t k = 0; k < s->sowing_count; k++) {
            const struct cot_season_sowing *o = &s->sowing[k];
            if (o->lot || o->day == COT_DAY_NONE || o->variety != w->variety) continue;
            if (k < i) first = false;
            seeds += o->seeds;
        }
        if (!first) continue;
        if (!any) put_line(out, "Seed to buy, before it can be planned for good:");
        any = true;
        put_line(out, "  %s: about %" PRId64 " seeds", cot_thing_name(w->variety), seeds);
    }
}

static void put_retests(const struct cot_season *s, struct cot_buf *out)
{
    for (uint32_t i = 0; i < s->sowing_count; i++) {
        bool first = s->sowing[i].retest && s->sowing[i].lot && s->sowing[i].change != COT_SEASON_DROPPED;
        for (uint32_t k = 0; k < i && first; k++) first = s->sowing[k].lot != s->sowing[i].lot;
        if (first)
            put_line(out, "Lot %s: its germination test is old; test it again before it is sown.",
                     cot_thing_name(s->sowing[i].lot));
    }
}

static void put_left_out(const struct cot_season *s, struct cot_buf *out)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < s->line_count; i++) n += s->line[i].planned < s->line[i].need;
    if (n == 0) return;
    put_line(out, "Not planned for in full (%u line%s):", n, n == 1 ? "" : "s");
    for (uint32_t i = 0; i < s->line_count; i++) {
        const struct cot_season_line *l = &s->line[i];
        char day[COT_DAY_TEXT];
        if (l->planned >= l->need) continue;
        cot_day_text(l->date, day);
        const char *why = cot_season_why_text(l->why);
        put_line(out, "  %s, %s: %s for %s, %" PRId64 " of %" PRId64 " plants%s%s", cot_thing_name(l->line),
                 cot_thing_name(l->farm), l->variety ? cot_thing_name(l->variety) : "?", day, l->planned, l->need,
                 why[0] ? ": " : "", why);
    }
}

static void put_sums(const struct cot_season *s, struct cot_buf *out)
{
    uint32_t sowings = 0;
    for (uint32_t i = 0; i < s->sowing_count; i++) sowings += s->sowing[i].day != COT_DAY_NONE;
    put_line(out,
             "%u of %u lines are planned for in full: %u sowings, %" PRId64 " trays, about %" PRId64 " seeds, %" PRId64
             " plate change%s.",
             s->covered, s->line_count, sowings, s->trays, s->seeds, s->plate_changes,
             s->plate_changes == 1 ? "" : "s");
    if (s->peak_day != COT_DAY_NONE && s->peak > 0) {
        char day[COT_DAY_TEXT];
        cot_day_text(s->peak_day, day);
        put_line(out,
                 "The benches are fullest on %s, %" PRId64 " %% of the room of all or of one temperature group;"
                 " no plan of these sowings stays below %" PRId64 " %%.",
                 day, (s->peak + 9999) / 10000, s->bound / 10000);
    }
    if (s->kept + s->changed + s->dropped > 0)
        put_line(out, "Against what is planned now: %u kept, %u changed (%u on another day), %u new, %u dropped.",
                 s->kept, s->changed, s->moved, s->fresh, s->dropped);
}

enum cot_err cot_plan_print(struct cot_cli *cli, const struct cot_season *s, enum cot_form form)
{
    struct cot_table t;
    struct cot_buf out = {0};
    cot_table_init(&t, sowing_cols, sizeof sowing_cols / sizeof sowing_cols[0]);
    for (uint32_t i = 0; i < s->sowing_count; i++) sowing_row(&t, &s->sowing[i]);
    enum cot_err err = cot_keyed_print(cli, &t, form, "Nothing is to be sown.");
    cot_table_free(&t);
    if (err != COT_OK || form != COT_FORM_TEXT) return err;
    cot_buf_str(&out, "\n");
    put_sums(s, &out);
    put_lacks(s, &out);
    put_smaller(cli, s, &out);
    put_odd(s, &out);
    put_chamber_days(cli, s, &out);
    put_to_buy(s, &out);
    put_retests(s, &out);
    put_left_out(s, &out);
    err = cot_holds_put(cli, s->on, &out);
    if (err == COT_OK) err = cot_print(cli, &out);
    cot_buf_free(&out);
    return err;
}

/* --- Lines -------------------------------------------------------------------------------------------------------- */

static const struct cot_col line_cols[] = {
    {"code", "Line", false, false},      {"farm", "Farm", false, false}, {"variety", "Variety", false, false},
    {"format", "Tray", false, false},    {"date", "On", false, false},   {"need", "To grow", true, false},
    {"planned", "Planned", true, false}, {"why", NULL, false, false},
};

enum cot_err cot_plan_lines_print(struct cot_cli *cli, const struct cot_season *s, enum cot_form form)
{
    struct cot_table t;
    cot_table_init(&t, line_cols, sizeof line_cols / sizeof line_cols[0]);
    for (uint32_t i = 0; i < s->line_count; i++) {
        const struct cot_season_line *l = &s->line[i];
        const char *why = l->planned < l->need ? cot_season_why_text(l->why) : "";
        cot_table_text(&t, cot_thing_name(l->line));
        cot_table_text(&t, cot_thing_name(l->farm));
        cot_table_text(&t, name_or_null(l->variety));
        cot_table_text(&t, name_or_null(l->format));
        cot_table_day(&t, l->date);
        cot_table_int(&t, l->need);
        cot_table_int(&t, l->planned);
        cot_table_text(&t, why[0] ? why : NULL);
    }
    enum cot_err err = cot_keyed_print(cli, &t, form, "No line needs a sowing.");
    cot_table_free(&t);
    return err;
}
