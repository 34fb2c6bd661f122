/* What was recorded about a thing, entry by entry. */
#include "thing.h"

#include <inttypes.h>
#include <string.h>

#include "cotyledger/wire/sheet.h"
#include "table.h"
#include "things.h"
#include "work.h"

static const char *verdict_word(enum cot_verdict v)
{
    switch (v) {
    case COT_BOOKED:
        return "booked";
    case COT_QUERIED:
        return "queried";
    case COT_REQUEST:
        return "request";
    case COT_ASIDE:
        return "left aside";
    case COT_TAKEN_BACK:
        return "taken back";
    case COT_TWICE:
        return "recorded twice";
    }
    return "?";
}

static const struct {
    unsigned flag;
    const char *word;
} flags[] = {
    {COT_FLAG_CLASH, "clash"},
    {COT_FLAG_TWIN, "twin"},
    {COT_FLAG_OVER, "over"},
    {COT_FLAG_SAME_CODE, "same-code"},
    {COT_FLAG_UNCLEAR_DAY, "unclear-day"},
};

/* The house's time of an entry: "2027-03-01 14:02". */
static void when(struct cot_cli *cli, const struct cot_fact *f, char out[static 24])
{
    const struct cot_thing *house = cot_book_house(cli->book);
    int offset = house ? (int)cot_thing_int(house, COT_F_UTC_OFFSET, 0) : 0;
    int64_t minutes = f->clock / 60000 + offset, minute = ((minutes % 1440) + 1440) % 1440;
    char day[COT_DAY_TEXT];
    cot_day_text(cot_day_at(f->clock, offset), day);
    snprintf(out, 24, "%s %02d:%02d", day, (int)(minute / 60), (int)(minute % 60));
}

/* "day 2027-03-01, plants 24, why: damping off": the fields as people read them. */
static void put_fields(struct cot_cli *cli, const struct cot_fact *f, struct cot_buf *out)
{
    for (unsigned i = 0; i < f->value_count; i++) {
        const struct cot_value *v = &f->value[i];
        char label[COT_LABEL_TEXT];
        if (v->field == COT_F_KEY || v->field == COT_F_CODE) continue;
        cot_field_label((enum cot_field)v->field, label);
        cot_buf_fmt(out, "%s%s: ", out->len > 0 ? "; " : "", label);
        cot_field_words(cli->book, v, out);
    }
}

static void put_below(struct cot_buf *out, const char *text)
{
    cot_buf_str(out, "    ");
    cot_put_paragraph(out, text, 4, 4);
}

static void put_entry_text(struct cot_cli *cli, const struct cot_note *n, struct cot_buf *out)
{
    char at[24], digest[COT_ID_TEXT];
    struct cot_buf line = {0}, fields = {0};
    const char *by = n->fact->has_member ? cot_name_at(cli, &n->fact->member) : "the house";
    when(cli, n->fact, at);
    cot_id_text(&n->digest, digest);
    cot_buf_fmt(&line, "%s  %s, by %s on %s  (%.10s)%s", at, cot_kind_row(n->fact->kind)->what, by[0] ? by : "?",
                n->fact->tag, digest, n->position > 0 ? "" : "  not sent yet");
    if (!line.failed) cot_put_paragraph(out, line.s, 0, 4);
    put_fields(cli, n->fact, &fields);
    if (fields.len > 0 && !fields.failed) put_below(out, fields.s);
    if (n->verdict != COT_BOOKED || n->flags != 0) {
        bool said = n->verdict == COT_TAKEN_BACK && n->reason[0]; /* the reason begins with the word */
        cot_buf_clear(&line);
        cot_buf_fmt(&line, "%s%s%s",
                    n->verdict == COT_BOOKED ? "look at this: "
                    : said                   ? ""
                                             : verdict_word(n->verdict),
                    n->verdict != COT_BOOKED && !said && n->reason[0] ? ": " : "", n->reason);
        if (!line.failed) put_below(out, line.s);
    }
    if (line.failed || fields.failed) out->failed = true;
    cot_buf_free(&line);
    cot_buf_free(&fields);
}

void cot_history_put_text(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out)
{
    size_t n;
    const struct cot_note *notes = cot_book_history(cli->book, &t->id, &n);
    for (size_t i = 0; i < n; i++)
        if (notes[i].fact) put_entry_text(cli, &notes[i], out);
}

static void put_text(struct cot_buf *out, const char *key, const char *s)
{
    cot_buf_fmt(out, ",\"%s\":", key);
    cot_put_json(out, s, strlen(s));
}

static void put_entry_json(struct cot_cli *cli, const struct cot_note *n, struct cot_buf *out)
{
    char digest[COT_ID_TEXT];
    const struct cot_value *values[COT_FACT_FIELDS_MAX];
    for (unsigned i = 0; i < n->fact->value_count; i++) values[i] = &n->fact->value[i];
    cot_id_text(&n->digest, digest);
    cot_buf_fmt(out, "{\"digest\":\"%s\",\"position\":%" PRId64 ",\"clock\":%" PRId64 ",\"number\":%" PRId64, digest,
                n->position, n->fact->clock, n->fact->number);
    put_text(out, "device", n->fact->tag);
    put_text(out, "member", n->fact->has_member ? cot_name_at(cli, &n->fact->member) : "");
    put_text(out, "kind", n->fact->kind_name);
    put_text(out, "verdict", verdict_word(n->verdict));
    cot_buf_str(out, ",\"flags\":[");
    bool first = true;
    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++) {
        if (!(n->flags & flags[i].flag)) continue;
        cot_buf_fmt(out, "%s\"%s\"", first ? "" : ",", flags[i].word);
        first = false;
    }
    cot_buf_str(out, "]");
    put_text(out, "reason", n->reason);
    cot_buf_str(out, ",\"fields\":");
    cot_fields_json(cli->book, values, n->fact->value_count, out);
    cot_buf_str(out, "}");
}

void cot_history_put_json(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out)
{
    size_t n;
    bool first = true;
    const struct cot_note *notes = cot_book_history(cli->book, &t->id, &n);
    cot_buf_str(out, "[");
    for (size_t i = 0; i < n; i++) {
        if (!notes[i].fact) continue;
        cot_buf_str(out, first ? "\n" : ",\n");
        put_entry_json(cli, &notes[i], out);
        first = false;
    }
    cot_buf_str(out, "]");
}
