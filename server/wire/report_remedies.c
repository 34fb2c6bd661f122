/* What can be done for lines that are short or in doubt, for reading and for programs. */
#include "report_inner.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const char *name_or(const struct cot_thing *t, const char *otherwise)
{
    return t ? cot_thing_name(t) : otherwise;
}

/* A sentence made of words and names; names are escaped for the terminal. */
static void put_name(struct cot_buf *b, const struct cot_thing *t)
{
    const char *name = name_or(t, "?");
    cot_put_terminal(b, name, strlen(name));
}

static void put_some(struct cot_buf *b, int64_t n, const char *one)
{
    cot_buf_fmt(b, "%" PRId64 " %s%s", n, one, n == 1 ? "" : "s");
}

static void put_day(struct cot_buf *b, int32_t day)
{
    char text[COT_DAY_TEXT], week[COT_WEEK_TEXT];
    cot_day_text(day, text);
    cot_week_text(day, week);
    cot_buf_fmt(b, "%s (%s)", text, week + 5); /* the week without its year: "W09" */
}

/* "Red Harbour in 128 square" */
static void put_sort(struct cot_buf *b, const struct cot_remedy *r)
{
    put_name(b, r->variety);
    cot_buf_str(b, " in ");
    if (r->format) put_name(b, r->format);
    else cot_buf_str(b, "any tray");
}

/* --- What to do, in words -------------------------------------------------------------------------------------------
 */
static void say_promise(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Promise it: ");
    put_some(b, r->plants, "plant");
    cot_buf_fmt(b, " wait%s for the house's word, and nothing queues for %s before.", r->plants == 1 ? "s" : "",
                r->plants == 1 ? "it" : "them");
}

static void say_release(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Look through ");
    put_name(b, r->batch);
    cot_buf_str(b, ", which is held, and release it if it is fit to go: ");
    put_sort(b, r);
    cot_buf_str(b, ".");
}

static void say_patch(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Patch ");
    put_some(b, r->plants, "blank");
    cot_buf_str(b, " of ");
    put_name(b, r->batch);
    cot_buf_str(b, " with seedlings from its doubles; moved later they do not catch up.");
}

static void say_resow(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Sow ");
    put_some(b, r->trays, "tray");
    cot_buf_str(b, " of ");
    put_name(b, r->format);
    cot_buf_str(b, " from lot ");
    put_name(b, r->lot);
    cot_buf_str(b, " (");
    put_name(b, r->variety);
    cot_buf_str(b, "). It takes about ");
    put_some(b, r->seeds, "seed");
    if (r->on_hand >= 0) cot_buf_fmt(b, "; %" PRId64 " are left.", r->on_hand);
    else cot_buf_str(b, "; how many are left is not known.");
}

static void say_spare(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_fmt(b, " ");
    put_some(b, r->plants, "plant");
    cot_buf_str(b, " to spare of ");
    put_name(b, r->batch);
    cot_buf_str(b, ".");
}

static void say_format(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Ask the farm whether ");
    put_name(b, r->format);
    cot_buf_str(b, " will do as well:");
    say_spare(r, b);
}

static void say_variety(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Ask the farm whether ");
    put_name(b, r->variety);
    cot_buf_str(b, " will do instead:");
    say_spare(r, b);
}

static void say_other_day(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Ask the farm whether ");
    put_day(b, r->ready);
    cot_buf_str(b, " will do as well:");
    say_spare(r, b);
}

static void say_share(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Share what there is in proportion, not by the house's rule: ");
    put_some(b, r->plants, "plant");
    cot_buf_str(b, " more for this line, fewer for others.");
}

static void say_buy(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "Buy in ");
    put_some(b, r->plants, "plant");
    cot_buf_str(b, " of ");
    put_sort(b, r);
    if (r->by < r->ready) cot_buf_str(b, ": plugs to grow on (a few more: not all take), or plants fit to go by ");
    else cot_buf_str(b, ", fit to go and here by ");
    put_day(b, r->ready);
    cot_buf_str(b, ". From whom is not known here.");
}

static void (*const say[COT_REMEDY_COUNT])(const struct cot_remedy *r, struct cot_buf *b) = {
    [COT_REMEDY_PROMISE] = say_promise, [COT_REMEDY_RELEASE] = say_release, [COT_REMEDY_PATCH] = say_patch,
    [COT_REMEDY_RESOW] = say_resow,     [COT_REMEDY_FORMAT] = say_format,   [COT_REMEDY_VARIETY] = say_variety,
    [COT_REMEDY_DAY] = say_other_day,   [COT_REMEDY_SHARE] = say_share,     [COT_REMEDY_BUY_IN] = say_buy,
};

/* --- For reading ----------------------------------------------------------------------------------------------------
 */

/* A chance that the fill made by sums over supplies is never quite 0 or 1 while plants are still to come. */
static void put_then(const struct cot_remedies *m, const struct cot_remedy *r, struct cot_buf *b)
{
    const struct cot_fill_line *l = &m->fill.line[r->line];
    char chance[COT_CHANCE_TEXT];
    if (!r->worked_out) {
        cot_buf_str(b, "What it would do was not worked out here: name the line.");
        return;
    }
    double told = r->chance >= 1 ? 1 - 1e-9 : r->chance <= 0 && r->likely > 0 ? 1e-9 : r->chance;
    cot_chance_beside(told, m->fill.confidence, chance);
    cot_buf_fmt(b, "Then %s: likely %" PRId64 " of %" PRId64 ", count on %" PRId64 ", chance %s.",
                cot_fill_word(r->verdict), r->likely, l->wanted, r->count_on, chance);
    uint32_t others = r->rescued - (r->rescued > 0 && r->verdict == COT_COVERED);
    if (others > 0) cot_buf_fmt(b, " %" PRIu32 " other line%s would be covered.", others, others == 1 ? "" : "s");
    if (r->harmed > 0)
        cot_buf_fmt(b, " %" PRIu32 " other line%s would be worse off.", r->harmed, r->harmed == 1 ? "" : "s");
}

static void put_needs(const struct cot_remedy *r, struct cot_buf *b)
{
    cot_buf_str(b, "By ");
    put_day(b, r->by);
    cot_buf_fmt(b, "; about %" PRId64 " minute%s of work (assumed)", r->minutes, r->minutes == 1 ? "" : "s");
    if (r->promise_first) cot_buf_str(b, "; promise the line first");
    else if (r->managers_yes) cot_buf_str(b, "; a manager's word");
    if (r->buyers_yes) cot_buf_str(b, "; needs the farm's yes");
    if (r->guess) cot_buf_str(b, "; a guess: not counted or tested");
    cot_buf_str(b, ".");
}

static void remedy_part(const struct cot_remedies *m, const struct cot_remedy *r, unsigned number, struct cot_buf *out)
{
    struct cot_buf what = {0}, then = {0}, needs = {0};
    cot_buf_fmt(&what, "%u. ", number);
    say[r->kind](r, &what);
    put_then(m, r, &then);
    put_needs(r, &needs);
    cot_put_broken(out, &what, 2, 5);
    cot_put_broken(out, &then, 5, 5);
    cot_put_broken(out, &needs, 5, 5);
    if (r->treated) {
        cot_buf_clear(&what);
        cot_buf_str(&what, "Caution: " COT_CAUTION_TREATED ".");
        cot_put_broken(out, &what, 5, 5);
    }
    cot_buf_free(&what);
    cot_buf_free(&then);
    cot_buf_free(&needs);
}

static void line_part(const struct cot_remedies *m, uint32_t index, uint32_t *next, struct cot_buf *out)
{
    const struct cot_fill_line *l = &m->fill.line[index];
    struct cot_buf head = {0}, state = {0};
    char chance[COT_CHANCE_TEXT];
    put_name(&head, l->line);
    cot_buf_str(&head, ", ");
    put_name(&head, l->farm);
    cot_buf_fmt(&head, ": %" PRId64 " of ", l->wanted);
    put_name(&head, l->variety);
    cot_buf_str(&head, " in ");
    if (l->format) put_name(&head, l->format);
    else cot_buf_str(&head, "any tray");
    cot_buf_str(&head, " for ");
    put_day(&head, l->date);
    cot_put_broken(out, &head, 0, 2);
    cot_chance_beside(cot_chance_told(&m->fill, index), m->fill.confidence, chance);
    cot_buf_fmt(&state, "%s: likely %" PRId64 ", count on %" PRId64 ", chance %s%s", cot_fill_word(l->verdict),
                l->likely, l->count_on, chance, l->waiting ? "; not promised yet" : "");
    cot_put_broken(out, &state, 2, 4);
    unsigned number = 0;
    for (; *next < m->remedy_count && m->remedy[*next].line == index; ++*next)
        remedy_part(m, &m->remedy[*next], ++number, out);
    if (number == 0 && l->verdict == COT_COVERED) cot_buf_str(out, "  Nothing needs to be done.\n");
    else if (number == 0) cot_buf_str(out, "  Nothing was found that would help in time.\n");
    cot_buf_str(out, "\n");
    cot_buf_free(&head);
    cot_buf_free(&state);
}

/* Work with mix and with trays, once for all. */
static void cautions(const struct cot_remedies *m, struct cot_buf *out)
{
    bool mix = false, lift = false;
    for (uint32_t i = 0; i < m->remedy_count; i++) {
        mix = mix || m->remedy[i].kind == COT_REMEDY_RESOW || m->remedy[i].kind == COT_REMEDY_PATCH;
        lift = lift || m->remedy[i].kind == COT_REMEDY_RESOW || m->remedy[i].kind == COT_REMEDY_BUY_IN;
    }
    struct cot_buf b = {0};
    if (mix) cot_buf_str(&b, "Caution: " COT_CAUTION_MIX ".");
    if (mix) cot_put_broken(out, &b, 0, 2);
    cot_buf_clear(&b);
    if (lift) cot_buf_str(&b, "Caution: " COT_CAUTION_LIFT ".");
    if (lift) cot_put_broken(out, &b, 0, 2);
    cot_buf_free(&b);
    if (mix || lift) cot_buf_str(out, "\n");
}

static void write_text(const struct cot_report *r, const struct cot_remedies *m, struct cot_buf *out)
{
    char day[COT_DAY_TEXT], week[COT_WEEK_TEXT], odds[COT_ODDS_TEXT];
    cot_day_text(m->fill.on, day);
    cot_week_text(m->fill.on, week);
    cot_odds_text(m->fill.confidence, odds);
    size_t from = out->len;
    cot_buf_str(out, "Remedies of ");
    cot_put_terminal(out, r->house, strlen(r->house));
    cot_put_line_end(out, from, COT_PAGE_WIDTH);
    cot_buf_fmt(out, "as of %s (%s); \"count on\" holds %s times; figures in plants\n", day, week, odds);
    uint32_t next = 0;
    if (m->line_count == 0 && m->asked != UINT32_MAX) {
        cot_buf_str(out, "\n");
        line_part(m, m->asked, &next, out);
    } else if (m->line_count == 0) {
        cot_buf_str(out, "\nNo line is short or in doubt that could still be helped.\n\n");
    } else {
        cot_buf_str(out, "most lines rescued for an hour of work first\n\n");
        for (uint32_t i = 0; i < m->line_count; i++) line_part(m, m->line[i], &next, out);
        cautions(m, out);
    }
    cot_report_foot(r, m->fill.on, out);
}

/* --- For programs ---------------------------------------------------------------------------------------------------
 */
static void json_known(struct cot_json *j, const char *key, int64_t value, bool known)
{
    if (known) {
        cot_json_int(j, key, value);
        return;
    }
    cot_json_key(j, key);
    cot_buf_str(j->out, "null");
}

static void json_after(const struct cot_remedy *r, struct cot_json *outer)
{
    struct cot_json j = {outer->out, true};
    cot_json_key(outer, "after");
    if (!r->worked_out) {
        cot_buf_str(j.out, "null");
        return;
    }
    cot_buf_str(j.out, "{");
    cot_json_int(&j, "likely", r->likely);
    cot_json_int(&j, "count_on", r->count_on);
    cot_json_share(&j, "chance", r->chance);
    cot_json_text(&j, "verdict", cot_fill_word(r->verdict));
    cot_json_int(&j, "rescued", r->rescued);
    cot_json_int(&j, "harmed", r->harmed);
    cot_buf_str(j.out, "}");
}

static void json_remedy(const struct cot_remedy *r, struct cot_buf *out)
{
    struct cot_json j = {out, true};
    bool sown = r->kind == COT_REMEDY_RESOW;
    cot_buf_str(out, "{");
    cot_json_text(&j, "remedy", cot_remedy_word(r->kind));
    cot_json_text(&j, "batch", name_or(r->batch, NULL));
    cot_json_text(&j, "lot", name_or(r->lot, NULL));
    cot_json_text(&j, "variety", name_or(r->variety, NULL));
    cot_json_text(&j, "format", name_or(r->format, NULL));
    cot_json_day(&j, "by", r->by);
    cot_json_day(&j, "ready", r->ready);
    cot_json_int(&j, "plants", r->plants);
    json_known(&j, "trays", r->trays, sown);
    json_known(&j, "seeds", r->seeds, sown);
    json_known(&j, "seeds_left", r->on_hand, sown && r->on_hand >= 0);
    cot_json_int(&j, "minutes", r->minutes);
    cot_json_bool(&j, "farms_yes", r->buyers_yes);
    cot_json_bool(&j, "managers_word", r->managers_yes);
    cot_json_bool(&j, "promise_first", r->promise_first);
    cot_json_bool(&j, "guess", r->guess);
    cot_json_bool(&j, "treated_seed", r->treated);
    json_after(r, &j);
    cot_buf_str(out, "}");
}

static void json_line(const struct cot_remedies *m, uint32_t index, uint32_t *next, struct cot_buf *out)
{
    const struct cot_fill_line *l = &m->fill.line[index];
    struct cot_json j = {out, true};
    cot_buf_str(out, "{");
    cot_json_text(&j, "line", name_or(l->line, NULL));
    cot_json_text(&j, "farm", name_or(l->farm, NULL));
    cot_json_text(&j, "variety", name_or(l->variety, NULL));
    cot_json_text(&j, "format", name_or(l->format, NULL));
    cot_json_day(&j, "date", l->date);
    cot_json_int(&j, "wanted", l->wanted);
    cot_json_int(&j, "promised", l->promised);
    cot_json_int(&j, "likely", l->likely);
    cot_json_int(&j, "count_on", l->count_on);
    cot_json_share(&j, "chance", cot_chance_told(&m->fill, index));
    cot_json_text(&j, "verdict", cot_fill_word(l->verdict));
    cot_json_int(&j, "short_by", l->short_by);
    cot_json_key(&j, "remedies");
    cot_buf_str(out, "[");
    for (bool first = true; *next < m->remedy_count && m->remedy[*next].line == index; ++*next, first = false) {
        cot_buf_str(out, first ? "\n" : ",\n");
        json_remedy(&m->remedy[*next], out);
    }
    cot_buf_str(out, "]}");
}

static void write_json(const struct cot_report *r, const struct cot_remedies *m, struct cot_buf *out)
{
    struct cot_json j = {out, true};
    uint32_t next = 0;
    cot_buf_str(out, "{");
    cot_json_text(&j, "report", "remedies");
    cot_json_int(&j, "version", COT_REPORT_VERSION);
    cot_json_text(&j, "house", r->house);
    cot_json_day(&j, "as_of", m->fill.on);
    cot_json_week(&j, "as_of_week", m->fill.on);
    cot_json_share(&j, "confidence", m->fill.confidence / 1000.0);
    cot_json_key(&j, "lines");
    cot_buf_str(out, "[");
    for (uint32_t i = 0; i < m->line_count; i++) {
        cot_buf_str(out, i > 0 ? ",\n" : "\n");
        json_line(m, m->line[i], &next, out);
    }
    cot_buf_str(out, "]");
    cot_json_int(&j, "position", r->position);
    cot_json_int(&j, "unsent", r->unsent);
    cot_json_text(&j, "book", r->digest);
    cot_buf_str(out, "}\n");
}

enum cot_err cot_report_remedies(const struct cot_remedies *m, struct cot_book *b, enum cot_form form,
                                 struct cot_buf *out)
{
    struct cot_report r;
    if (form == COT_FORM_CSV) return COT_INVALID;
    enum cot_err err = cot_report_start(b, b, &r);
    if (err != COT_OK) return err;
    if (form == COT_FORM_JSON) write_json(&r, m, out);
    else write_text(&r, m, out);
    return out->failed ? COT_MEMORY : COT_OK;
}
