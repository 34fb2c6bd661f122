/* The fill report as a page: one file by itself, no script, for a phone, a screen and paper. Nothing is told by colour
 * alone: verdicts are words and shapes, pictures have their words beside them.
 *
 * Colours: M. Okabe and K. Ito 2008, Color Universal Design; as given by B. Wong 2011, Nature Methods 8:441: bluish
 * green #009E73, orange #E69F00, vermillion #D55E00, blue #0072B2. */
#include "report_inner.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

static const char style[] =
    "*{box-sizing:border-box}"
    "body{font:16px/1.45 system-ui,sans-serif;color:#111;background:#fff;margin:0 auto;padding:1rem;max-width:62rem}"
    "h1{font-size:1.5rem;margin:0}h2{font-size:1.2rem;margin:2rem 0 .5rem;border-bottom:2px solid #111}"
    "p{margin:.4rem 0}bdi{overflow-wrap:anywhere}.headline{font-size:1.2rem;font-weight:600}.quiet{color:#444}"
    "table{border-collapse:collapse;width:100%;margin:.5rem 0}caption{text-align:left;color:#444;padding:.3rem 0}"
    "th,td{padding:.3rem .5rem;text-align:left;vertical-align:top;border-top:1px solid #bbb}"
    "thead th{border-top:0;border-bottom:2px solid #111;font-size:.85rem;vertical-align:bottom}"
    "th{font-weight:600}th .quiet{font-weight:400}time{white-space:nowrap}"
    ".n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}"
    ".more td{border-top:0;padding-top:0}.more ul{margin:.2rem 0 .4rem;padding-left:1.1rem;font-size:.9rem}"
    ".word{white-space:nowrap;font-weight:600}svg{max-width:100%;height:auto;display:block}"
    ".caution{border:2px solid #D55E00;padding:.4rem .6rem;margin:1rem 0}"
    "footer{margin-top:2rem;border-top:1px solid #111;font-size:.85rem;overflow-wrap:anywhere}"
    "@media (max-width:40rem){thead{position:absolute;left:-999em}"
    "table,caption,tbody,tr,th,td{display:block;width:100%}tr{border-top:1px solid #111;padding:.3rem 0}"
    "th,td,.n{border:0;padding:.1rem 0;text-align:left}td.n{display:inline-block;width:49%}tr.more{border-top:0}"
    "td[data-l]::before{content:attr(data-l) \": \";color:#444}}"
    "@media print{body{max-width:none;padding:0;font-size:10pt}@page{margin:12mm}table{font-size:8.5pt}"
    "th,td{padding:.15rem .3rem}.more ul{font-size:8.5pt}"
    "tr,.keep{break-inside:avoid}tr.more{break-before:avoid}h2{break-after:avoid}thead{display:table-header-group}"
    ".farm+.farm{break-before:page}}";

/* --- Words -------------------------------------------------------------------------------------------------------- */

/* Text that anybody may have typed: no markup in it, and no character that turns the page around. */
static void put_text(struct cot_buf *out, const char *s, size_t len)
{
    struct cot_buf safe = {0};
    cot_put_terminal(&safe, s, len);
    for (size_t i = 0; i < safe.len; i++) {
        char c = safe.s[i];
        if (c == '<') cot_buf_str(out, "&lt;");
        else if (c == '>') cot_buf_str(out, "&gt;");
        else if (c == '&') cot_buf_str(out, "&amp;");
        else if (c == '"') cot_buf_str(out, "&quot;");
        else cot_buf_put(out, &c, 1);
    }
    if (safe.failed) out->failed = true;
    cot_buf_free(&safe);
}

static void put_name(struct cot_buf *out, const struct cot_thing *t)
{
    const char *name = t ? cot_thing_name(t) : "?";
    cot_buf_str(out, "<bdi>");
    put_text(out, name, strlen(name));
    cot_buf_str(out, "</bdi>");
}

static void put_day(struct cot_buf *out, int32_t day)
{
    char text[COT_DAY_TEXT], week[COT_WEEK_TEXT];
    cot_day_text(day, text);
    cot_week_text(day, week);
    cot_buf_fmt(out, "<time datetime=\"%s\">%s</time> (%s)", text, text, strchr(week, 'W'));
}

static void put_cell(struct cot_buf *out, const char *label, int64_t n)
{
    cot_buf_fmt(out, "<td class=\"n\" data-l=\"%s\">%" PRId64 "</td>", label, n);
}

/* A shape and a word for each verdict. */
static void put_verdict(struct cot_buf *out, enum cot_fill_verdict v)
{
    static const char *const shape[] = {[COT_COVERED] = "<circle cx=\"8\" cy=\"8\" r=\"7\" fill=\"#009E73\"/>",
                                        [COT_IN_DOUBT] = "<path d=\"M8 1 15 8 8 15 1 8Z\" fill=\"#E69F00\"/>",
                                        [COT_SHORT] = "<path d=\"M8 1 15 15 1 15Z\" fill=\"#D55E00\"/>"};
    cot_buf_fmt(out,
                "<span class=\"word\"><svg width=\"16\" height=\"16\" viewBox=\"0 0 16 16\" aria-hidden=\"true\" "
                "style=\"display:inline;vertical-align:-2px\">%s</svg> %s</span>",
                shape[v], cot_fill_word(v));
}

/* --- Pictures ----------------------------------------------------------------------------------------------------- */

#define BAR_WIDTH 600
#define BAR_HEIGHT 26

static int along(int64_t n, int64_t most)
{
    return most > 0 ? (int)(n * BAR_WIDTH / most) : 0;
}

/* What is wanted as a frame, what is likely as a bar in it, what can be counted on as a mark below. */
static void put_bar(struct cot_buf *out, int64_t wanted, int64_t likely, int64_t count_on)
{
    int64_t most = wanted > likely ? wanted : likely;
    int w = along(wanted, most), l = along(likely, most), c = along(count_on, most);
    cot_buf_fmt(out,
                "<svg viewBox=\"-7 0 %d %d\" width=\"%d\" height=\"%d\" role=\"img\" aria-label=\"likely %" PRId64
                ", count on %" PRId64 ", of %" PRId64 " wanted\">",
                BAR_WIDTH + 14, BAR_HEIGHT, BAR_WIDTH / 2, BAR_HEIGHT / 2, likely, count_on, wanted);
    cot_buf_fmt(out, "<rect x=\"0\" y=\"4\" width=\"%d\" height=\"10\" fill=\"#0072B2\"/>", l);
    cot_buf_fmt(
        out, "<rect x=\"0\" y=\"1\" width=\"%d\" height=\"16\" fill=\"none\" stroke=\"#111\" stroke-width=\"2\"/>", w);
    cot_buf_fmt(out, "<path d=\"M%d 17 %d 25 %d 25Z\" fill=\"#111\"/></svg>", c, c - 6, c + 6);
}

/* --- Lines -------------------------------------------------------------------------------------------------------- */

/* The notes of the text, a point each; a line that is indented further goes on with the one before. */
static void put_notes(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    struct cot_buf text = {0};
    bool any = false;
    cot_report_notes(r, index, &text);
    for (size_t at = 0; !text.failed && at < text.len;) {
        size_t end = at, from = at;
        while (end < text.len && text.s[end] != '\n') end++;
        while (from < end && text.s[from] == ' ') from++;
        bool goes_on = any && from - at > 6;
        if (strncmp(text.s + from, "note: ", 6) == 0) from += 6;
        cot_buf_str(out, goes_on ? " " : any ? "</li><li>" : "<ul><li>");
        put_text(out, text.s + from, end - from);
        any = true;
        at = end + 1;
    }
    if (any) cot_buf_str(out, "</li></ul>");
    if (text.failed) out->failed = true;
    cot_buf_free(&text);
}

static void put_line(const struct cot_report *r, uint32_t index, struct cot_buf *out)
{
    const struct cot_fill_line *l = &r->fill->line[index];
    char chance[COT_CHANCE_TEXT];
    const char *ref = cot_thing_text(l->line, COT_F_REF);
    if (!cot_report_shows(r, index)) return;
    cot_chance_beside(cot_chance_told(r->fill, index), r->fill->confidence, chance);
    cot_buf_str(out, "<tr><th scope=\"row\">");
    put_name(out, l->variety);
    cot_buf_str(out, "<br><span class=\"quiet\">");
    put_name(out, l->line);
    if (ref[0]) cot_buf_str(out, ", your reference <bdi>");
    put_text(out, ref, strlen(ref));
    cot_buf_str(out, ref[0] ? "</bdi></span></th><td data-l=\"tray\">" : "</span></th><td data-l=\"tray\">");
    if (l->format) put_name(out, l->format);
    else cot_buf_str(out, "any");
    cot_buf_str(out, "</td><td data-l=\"collect\">");
    put_day(out, l->date);
    cot_buf_str(out, "</td>");
    put_cell(out, "wanted", l->wanted);
    put_cell(out, "handed over", l->handed);
    put_cell(out, "likely", l->likely);
    put_cell(out, "count on", l->count_on);
    cot_buf_fmt(out, "<td class=\"n\" data-l=\"chance to be full\">%s</td><td data-l=\"verdict\">", chance);
    put_verdict(out, l->verdict);
    if (l->short_by > 0) cot_buf_fmt(out, "<br>by %" PRId64, l->short_by);
    cot_buf_str(out, "</td></tr>\n");
    if (l->handed >= l->wanted && l->verdict == COT_COVERED) return; /* it is at the farm: nothing more to say */
    cot_buf_str(out, "<tr class=\"more\"><td colspan=\"9\">");
    put_bar(out, l->wanted, l->likely, l->count_on);
    put_notes(r, index, out);
    cot_buf_str(out, "</td></tr>\n");
}

/* What is short or in doubt, at a glance. */
static void put_short(const struct cot_report *r, const struct cot_fill_farm *farm, struct cot_buf *out)
{
    bool any = false;
    for (uint32_t i = farm->first_line; i < farm->first_line + farm->line_count; i++) {
        const struct cot_fill_line *l = &r->fill->line[i];
        char chance[COT_CHANCE_TEXT];
        if (l->verdict == COT_COVERED) continue;
        if (!any) cot_buf_str(out, "<ul class=\"keep\">");
        any = true;
        cot_chance_beside(cot_chance_told(r->fill, i), r->fill->confidence, chance);
        cot_buf_str(out, "<li>");
        put_verdict(out, l->verdict);
        if (l->short_by > 0) cot_buf_fmt(out, " by %" PRId64, l->short_by);
        cot_buf_fmt(out, " of %" PRId64 ": ", l->wanted);
        put_name(out, l->variety);
        cot_buf_str(out, ", ");
        put_day(out, l->date);
        cot_buf_fmt(out, "; %s to be full</li>", chance);
    }
    if (any) cot_buf_str(out, "</ul>");
}

/* Headings of words stand left, those of numbers, from `words` to the one before `again`, right. */
static void put_heads(struct cot_buf *out, const char *const *head, size_t n, size_t words, size_t again)
{
    cot_buf_str(out, "<thead><tr>");
    for (size_t i = 0; i < n; i++)
        cot_buf_fmt(out, "<th scope=\"col\"%s>%s</th>", i < words || i >= again ? "" : " class=\"n\"", head[i]);
    cot_buf_str(out, "</tr></thead><tbody>\n");
}

/* --- Hand-overs --------------------------------------------------------------------------------------------------- */

static void put_handovers(const struct cot_report *r, const struct cot_thing *farm, struct cot_buf *out)
{
    static const char *const head[] = {"Day",    "Line",  "Variety",   "Batch",
                                       "Plants", "Trays", "Came back", "Empties owed"};
    struct cot_handover_row *rows;
    size_t n;
    bool any = false;
    if (cot_handovers_read(r->book, r->fill->on, &rows, &n) != COT_OK) {
        out->failed = true;
        return;
    }
    for (size_t i = 0; i < n; i++) {
        const struct cot_handover_row *h = &rows[i];
        if (!h->farm || cot_id_cmp(&h->farm->id, &farm->id) != 0) continue;
        if (!any) cot_buf_str(out, "<h3>Handed over</h3><table>");
        if (!any) put_heads(out, head, 8, 4, 8);
        any = true;
        cot_buf_str(out, "<tr><td data-l=\"day\">");
        put_day(out, h->day);
        cot_buf_str(out, "</td><td data-l=\"line\">");
        put_name(out, h->line);
        cot_buf_str(out, "</td><td data-l=\"variety\">");
        put_name(out, h->variety);
        cot_buf_str(out, "</td><td data-l=\"batch\">");
        put_name(out, h->batch);
        cot_buf_str(out, "</td>");
        put_cell(out, "plants", h->plants);
        put_cell(out, "trays", h->trays);
        put_cell(out, "came back", h->refused + h->back);
        put_cell(out, "empties owed", h->owed);
        cot_buf_str(out, "</tr>\n");
    }
    if (any) cot_buf_str(out, "</tbody></table>");
    free(rows);
}

/* --- A farm ------------------------------------------------------------------------------------------------------- */

static bool any_treated(const struct cot_report *r, const struct cot_fill_farm *farm)
{
    for (uint32_t i = farm->first_line; i < farm->first_line + farm->line_count; i++)
        if (cot_report_treated(r, i)) return true;
    return false;
}

static void put_headline(const struct cot_report_sum *sum, struct cot_buf *out)
{
    cot_buf_str(out, "<p class=\"headline\">");
    cot_report_headline(sum, out);
    cot_buf_str(out, "</p>");
}

static void put_farm(const struct cot_report *r, const struct cot_fill_farm *farm, struct cot_buf *out)
{
    static const char *const head[] = {"Variety", "Tray",     "Collect", "Wanted", "Handed over",
                                       "Likely",  "Count on", "Chance",  "Verdict"};
    struct cot_report_sum sum = {0};
    char odds[COT_ODDS_TEXT];
    cot_odds_text(r->fill->confidence, odds);
    cot_report_add(r, farm, &sum);
    cot_buf_str(out, "<section class=\"farm\"><h2>");
    put_name(out, farm->farm);
    cot_buf_str(out, "</h2>");
    put_headline(&sum, out);
    cot_buf_fmt(out,
                "<p>In all %" PRId64 " plants wanted, %" PRId64 " handed over; likely %" PRId64 ", count on %" PRId64
                " (%s).</p>",
                farm->wanted, farm->handed, farm->likely, farm->count_on, odds);
    put_short(r, farm, out);
    cot_buf_str(out,
                "<table><caption>Plants. The frame is what is wanted, the bar what is likely, the mark below it what "
                "you can count on.</caption>");
    put_heads(out, head, 9, 3, 8);
    for (uint32_t i = farm->first_line; i < farm->first_line + farm->line_count; i++) put_line(r, i, out);
    cot_buf_str(out, "</tbody></table>");
    if (any_treated(r, farm)) cot_buf_str(out, "<p class=\"caution\">Caution: " COT_CAUTION_TREATED ".</p>");
    put_handovers(r, farm->farm, out);
    cot_buf_str(out, "</section>\n");
}

static void put_overview(const struct cot_report *r, struct cot_buf *out)
{
    static const char *const head[] = {
        "Farm, shortest first", "Likely of what is wanted", "Lines", "Covered", "In doubt", "Short", "Short by"};
    struct cot_report_sum all = {0};
    struct cot_report_ranked *list = cot_report_rank(r, &all);
    if (!list) {
        out->failed = true;
        return;
    }
    put_headline(&all, out);
    cot_buf_str(out, "<table>");
    put_heads(out, head, 7, 2, 7);
    for (uint32_t i = 0; i < r->farm_count; i++) {
        const struct cot_report_ranked *f = &list[i];
        cot_buf_str(out, "<tr><th scope=\"row\">");
        put_name(out, f->farm->farm);
        cot_buf_str(out, "</th><td>");
        put_bar(out, f->farm->wanted, f->farm->likely, f->farm->count_on);
        cot_buf_str(out, "</td>");
        put_cell(out, "lines", f->sum.lines);
        put_cell(out, "covered", f->sum.covered);
        put_cell(out, "in doubt", f->sum.in_doubt);
        put_cell(out, "short", f->sum.short_);
        put_cell(out, "short by", f->sum.short_by);
        cot_buf_str(out, "</tr>\n");
    }
    cot_buf_str(out, "</tbody></table>");
    free(list);
}

/* --- The page ----------------------------------------------------------------------------------------------------- */

/* Position and the digest's first characters: two who read the same aloud look at the same state. */
static void put_foot(const struct cot_report *r, struct cot_buf *out)
{
    const char *digest = strchr(r->digest, ':') ? strchr(r->digest, ':') + 1 : r->digest;
    cot_buf_str(out, "<footer><p>As of ");
    put_day(out, r->fill->on);
    cot_buf_fmt(out,
                ". Check code <strong>%" PRId64 "-%.8s</strong>: whoever sees the same code sees the same figures.</p>",
                r->position, digest);
    if (r->unsent > 0)
        cot_buf_fmt(out, "<p>%" PRId64 " entr%s not sent yet %s in the figures, not in the code.</p>", r->unsent,
                    r->unsent == 1 ? "y" : "ies", r->unsent == 1 ? "is" : "are");
    cot_buf_fmt(out, "<p class=\"quiet\">Ledger position %" PRId64 ", book %s</p></footer>\n", r->position, r->digest);
}

void cot_report_fill_html(const struct cot_report *r, struct cot_buf *out)
{
    const struct cot_thing *one = r->overview ? NULL : r->farm_count > 0 ? r->farm[0].farm : r->missing;
    cot_buf_str(out, "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
                     "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><title>");
    if (one) put_text(out, cot_thing_name(one), strlen(cot_thing_name(one)));
    cot_buf_str(out, one ? ": fill report of " : "Fill report of ");
    put_text(out, r->house, strlen(r->house));
    cot_buf_fmt(out, "</title><style>%s</style></head><body>\n<header><h1>Fill report of <bdi>", style);
    put_text(out, r->house, strlen(r->house));
    cot_buf_str(out, "</bdi></h1><p>As of ");
    put_day(out, r->fill->on);
    cot_buf_fmt(out, ".%s</p></header>\n<main>",
                r->only_short ? " Only lines that are short or in doubt are shown." : "");
    if (r->overview) put_overview(r, out);
    for (uint32_t i = 0; i < r->farm_count; i++) put_farm(r, &r->farm[i], out);
    if (r->missing) {
        cot_buf_str(out, "<section class=\"farm\"><h2>");
        put_name(out, r->missing);
        cot_buf_str(out, "</h2><p class=\"headline\">No lines.</p></section>");
    }
    cot_buf_str(out, "</main>\n");
    put_foot(r, out);
    cot_buf_str(out, "</body></html>\n");
}
