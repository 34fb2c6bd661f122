/* Notes: all that were written, about something or about nothing in particular. */
#include "lists.h"

#include <string.h>

#include "asked.h"
#include "clock.h"
#include "work.h"

static const struct cot_col cols[] = {
    {"day", "Day", false, false},       {"farm", "Farm", false, false}, {"about", "About", false, false},
    {"by", "Written by", false, false}, {"device", NULL, false, false}, {"digest", NULL, false, false},
    {"text", NULL, false, false},
};

static const char *or_none(const char *s)
{
    return s[0] ? s : NULL;
}

static int32_t day_of(struct cot_cli *cli, const struct cot_note *n)
{
    return cot_day_at(n->fact->clock, cot_house_offset(cli));
}

static void put_row(struct cot_cli *cli, struct cot_table *t, const struct cot_note *n)
{
    char digest[COT_ID_TEXT];
    const struct cot_value *text = cot_fact_value(n->fact, COT_F_TEXT);
    cot_id_text(&n->digest, digest);
    cot_table_day(t, day_of(cli, n));
    cot_table_text(t, n->fact->has_farm ? or_none(cot_name_at(cli, &n->fact->farm)) : NULL);
    cot_table_text(t, n->fact->has_about ? or_none(cot_name_at(cli, &n->fact->about)) : NULL);
    cot_table_text(t, n->fact->has_member ? or_none(cot_name_at(cli, &n->fact->member)) : NULL);
    cot_table_text(t, n->fact->tag);
    cot_table_text(t, digest);
    cot_table_text(t, text && text->type == COT_T_TEXT ? text->v.text : NULL);
}

/* A note a paragraph: "2027-03-01 Wren, about A-0003-7, Alder Ford" and the words below. */
static void put_text(struct cot_cli *cli, const struct cot_note *n, struct cot_buf *out)
{
    char day[COT_DAY_TEXT];
    struct cot_buf head = {0};
    const struct cot_value *text = cot_fact_value(n->fact, COT_F_TEXT);
    const char *by = n->fact->has_member ? cot_name_at(cli, &n->fact->member) : "";
    const char *about = n->fact->has_about ? cot_name_at(cli, &n->fact->about) : "";
    const char *farm = n->fact->has_farm ? cot_name_at(cli, &n->fact->farm) : "";
    cot_day_text(day_of(cli, n), day);
    cot_buf_fmt(&head, "%s %s%s%s%s%s%s", day, by[0] ? by : "?", about[0] ? ", about " : "", about, farm[0] ? ", " : "",
                farm, n->position > 0 ? "" : ", not sent yet");
    if (head.failed) out->failed = true;
    else cot_put_paragraph(out, head.s, 0, 12);
    cot_buf_free(&head);
    cot_buf_str(out, "    ");
    cot_put_paragraph(out, text && text->type == COT_T_TEXT ? text->v.text : "", 4, 4);
}

enum cot_err cot_notes_print(struct cot_cli *cli, int32_t on, enum cot_form form)
{
    size_t n;
    struct cot_table t;
    struct cot_buf out = {0};
    const struct cot_note *notes = cot_book_of_kind(cli->book, COT_K_NOTE, &n);
    cot_table_init(&t, cols, sizeof cols / sizeof cols[0]);
    for (size_t i = 0; i < n; i++) {
        if (day_of(cli, &notes[i]) > on) continue;
        if (form == COT_FORM_TEXT) put_text(cli, &notes[i], &out);
        else put_row(cli, &t, &notes[i]);
    }
    enum cot_err err = cot_day_said(cli, on, form);
    if (err == COT_OK && form != COT_FORM_TEXT) err = cot_table_print(cli, &t, form, "");
    if (err == COT_OK && form == COT_FORM_TEXT) {
        if (out.len == 0) cot_buf_str(&out, "There are no notes yet.\n");
        err = cot_print(cli, &out);
    }
    cot_buf_free(&out);
    cot_table_free(&t);
    return err;
}
