/* What a what-if would change, for reading and for programs. The same on both sides. */
#include "report_inner.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define INDENT "    "

static const char *name_or(const struct cot_thing *t, const char *otherwise)
{
    return t ? cot_thing_name(t) : otherwise;
}

static void put_safe(struct cot_buf *out, const char *s)
{
    cot_put_terminal(out, s, strlen(s));
}

static void end(struct cot_buf *out, size_t from)
{
    cot_put_line_end(out, from, COT_PAGE_WIDTH);
}

/* --- For reading
 * ------------------------------------------------------------------------------------------------------ */

/* "What if Alder Ford ordered 300 plants of Red Harbour in 128 square, to collect 2027-04-05?" */
static void put_question(const struct cot_if_line *l, struct cot_buf *out)
{
    struct cot_buf b = {0};
    char day[COT_DAY_TEXT];
    cot_buf_str(&b, "What if ");
    put_safe(&b, l->line ? cot_thing_name(l->line) : name_or(l->farm, "a farm"));
    if (l->withdrawn) {
        cot_buf_str(&b, " were withdrawn?");
    } else {
        cot_day_text(l->date, day);
        cot_buf_fmt(&b, " %s %" PRId64 " plant%s of ", l->line ? "were" : "ordered", l->plants,
                    l->plants == 1 ? "" : "s");
        put_safe(&b, name_or(l->variety, "?"));
        cot_buf_str(&b, " in ");
        put_safe(&b, name_or(l->format, "any tray"));
        cot_buf_fmt(&b, ", to collect %s?", day);
    }
    cot_put_broken(out, &b, 0, 2);
    cot_buf_free(&b);
}

/* "    now     covered           500       500       500   over 99 %" */
static void put_figures(const char *when, const struct cot_fill *f, uint32_t line, struct cot_buf *out)
{
    char chance[COT_CHANCE_TEXT];
    size_t from = out->len;
    cot_buf_fmt(out, INDENT "%-8s", when);
    if (line == COT_NO_LINE) {
        cot_buf_str(out, "nothing more is wanted");
    } else {
        const struct cot_fill_line *l = &f->line[line];
        cot_chance_beside(cot_chance_told(f, line), f->confidence, chance);
        cot_buf_fmt(out, "%-10s%10" PRId64 "%10" PRId64 "%10" PRId64 "%12s", cot_fill_word(l->verdict), l->wanted,
                    l->likely, l->count_on, chance);
    }
    end(out, from);
}

static void put_line(const struct cot_effect *e, const struct cot_moved *m, struct cot_buf *out)
{
    const struct cot_fill_line *l = m->after != COT_NO_LINE ? &e->after.line[m->after] : &e->before.line[m->before];
    char day[COT_DAY_TEXT];
    const char *code = l->line ? cot_thing_name(l->line) : "(new line)";
    const char *farm = name_or(l->farm, "?");
    size_t from = out->len;
    struct cot_buf what = {0};
    cot_day_text(l->date, day);
    cot_put_fit(out, code, strlen(code), 14);
    cot_buf_str(out, "  ");
    cot_put_fit(out, farm, strlen(farm), 18);
    cot_buf_str(out, "  ");
    cot_buf_fmt(&what, "%s, %s", name_or(l->variety, "?"), name_or(l->format, "any tray"));
    if (what.failed) out->failed = true;
    else cot_put_fit(out, what.s, what.len, 32);
    cot_buf_free(&what);
    cot_buf_fmt(out, "  %s", day);
    end(out, from);
    if (m->before != COT_NO_LINE) put_figures("now", &e->before, m->before, out);
    put_figures("then", &e->after, m->after, out);
}

static void put_sum(const struct cot_effect *e, bool buyer, struct cot_buf *out)
{
    cot_buf_str(out, "\n");
    if (e->moved_count == 0) cot_buf_fmt(out, "No line%s would change.\n", buyer ? " of your farm" : "");
    if (e->harmed > 0)
        cot_buf_fmt(out, "%" PRIu32 " line%s would be worse off.\n", e->harmed, e->harmed == 1 ? "" : "s");
    if (e->rescued > 0)
        cot_buf_fmt(out, "%" PRIu32 " line%s would be covered that %s not now.\n", e->rescued,
                    e->rescued == 1 ? "" : "s", e->rescued == 1 ? "is" : "are");
    if (e->moved_count > 0 && e->harmed == 0 && !buyer) cot_buf_str(out, "No other line would be worse off.\n");
    cot_buf_str(out, "Nothing is recorded, and nothing is promised by this.\n");
}

static void write_text(const struct cot_report *r, const struct cot_effect *e, const struct cot_what_if *change,
                       bool buyer, struct cot_buf *out)
{
    char day[COT_DAY_TEXT], week[COT_WEEK_TEXT], odds[COT_ODDS_TEXT];
    cot_day_text(e->after.on, day);
    cot_week_text(e->after.on, week);
    cot_odds_text(e->after.confidence, odds);
    put_question(change->line, out);
    cot_buf_fmt(out, "as of %s (%s); \"count on\" holds %s times; figures in plants\n\n", day, week, odds);
    if (e->moved_count > 0)
        cot_buf_str(out, "Line            Farm                Variety, tray format              Collect\n"
                         "            Verdict       Wanted    Likely  Count on      Chance\n");
    for (uint32_t i = 0; i < e->moved_count; i++) put_line(e, &e->moved[i], out);
    put_sum(e, buyer, out);
    cot_buf_str(out, "\n");
    cot_report_foot(r, e->after.on, out);
}

/* --- For programs
 * ----------------------------------------------------------------------------------------------------- */
static void json_figures(struct cot_json *j, const char *key, const struct cot_fill *f, uint32_t line)
{
    cot_json_key(j, key);
    if (line == COT_NO_LINE) {
        cot_buf_str(j->out, "null");
        return;
    }
    const struct cot_fill_line *l = &f->line[line];
    struct cot_json in = {j->out, true};
    cot_buf_str(j->out, "{");
    cot_json_int(&in, "wanted", l->wanted);
    cot_json_int(&in, "promised", l->promised);
    cot_json_int(&in, "likely", l->likely);
    cot_json_int(&in, "count_on", l->count_on);
    cot_json_share(&in, "chance", cot_chance_told(f, line));
    cot_json_text(&in, "verdict", cot_fill_word(l->verdict));
    cot_json_int(&in, "short_by", l->short_by);
    cot_buf_str(j->out, "}");
}

static void json_line(const struct cot_effect *e, const struct cot_moved *m, const struct cot_if_line *changed,
                      struct cot_buf *out)
{
    const struct cot_fill_line *l = m->after != COT_NO_LINE ? &e->after.line[m->after] : &e->before.line[m->before];
    struct cot_json j = {out, true};
    cot_buf_str(out, "{");
    cot_json_text(&j, "line", name_or(l->line, NULL));
    cot_json_bool(&j, "changed", l->line == changed->line);
    cot_json_text(&j, "farm", name_or(l->farm, NULL));
    cot_json_text(&j, "variety", name_or(l->variety, NULL));
    cot_json_text(&j, "format", name_or(l->format, NULL));
    cot_json_day(&j, "date", l->date);
    json_figures(&j, "before", &e->before, m->before);
    json_figures(&j, "after", &e->after, m->after);
    cot_buf_str(out, "}");
}

static void json_change(const struct cot_if_line *l, struct cot_json *outer)
{
    struct cot_json j = {outer->out, true};
    cot_json_key(outer, "change");
    cot_buf_str(j.out, "{");
    cot_json_text(&j, "line", name_or(l->line, NULL));
    cot_json_bool(&j, "withdrawn", l->withdrawn);
    if (!l->withdrawn) {
        cot_json_text(&j, "farm", name_or(l->farm, NULL));
        cot_json_text(&j, "variety", name_or(l->variety, NULL));
        cot_json_text(&j, "format", name_or(l->format, NULL));
        cot_json_day(&j, "date", l->date);
        cot_json_int(&j, "plants", l->plants);
    }
    cot_buf_str(j.out, "}");
}

static void write_json(const struct cot_report *r, const struct cot_effect *e, const struct cot_what_if *change,
                       struct cot_buf *out)
{
    struct cot_json j = {out, true};
    cot_buf_str(out, "{");
    cot_json_text(&j, "report", "what-if");
    cot_json_int(&j, "version", COT_REPORT_VERSION);
    cot_json_text(&j, "house", r->house);
    cot_json_day(&j, "as_of", e->after.on);
    cot_json_week(&j, "as_of_week", e->after.on);
    cot_json_share(&j, "confidence", e->after.confidence / 1000.0);
    json_change(change->line, &j);
    cot_json_key(&j, "lines");
    cot_buf_str(out, "[");
    for (uint32_t i = 0; i < e->moved_count; i++) {
        cot_buf_str(out, i > 0 ? ",\n" : "\n");
        json_line(e, &e->moved[i], change->line, out);
    }
    cot_buf_str(out, "]");
    cot_json_int(&j, "rescued", e->rescued);
    cot_json_int(&j, "harmed", e->harmed);
    cot_json_int(&j, "position", r->position);
    cot_json_int(&j, "unsent", r->unsent);
    cot_json_text(&j, "book", r->digest);
    cot_buf_str(out, "}\n");
}

enum cot_err cot_report_what_if(const struct cot_effect *e, const struct cot_what_if *change, struct cot_book *b,
                                struct cot_book *view, enum cot_form form, struct cot_buf *out)
{
    struct cot_report r;
    if (form == COT_FORM_CSV || !change->line) return COT_INVALID;
    enum cot_err err = cot_report_start(b, view, &r);
    if (err != COT_OK) return err;
    if (form == COT_FORM_JSON) write_json(&r, e, change, out);
    else write_text(&r, e, change, b != view, out);
    return out->failed ? COT_MEMORY : COT_OK;
}
