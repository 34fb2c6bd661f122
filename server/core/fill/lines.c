/* Order lines and their promises, read from the book. */
#include "fill/lines.h"

#include <stdlib.h>
#include <string.h>

#include "stand/stand.h"

enum { TRAY_MEANS_SOWN, TRAY_MEANS_PLANTS }; /* in the order of the field's words */

void cot_lines_free(struct cot_lines *l)
{
    free(l->line);
    free(l->chunk);
    *l = (struct cot_lines){0};
}

static const struct cot_thing *thing_of(struct cot_book *b, const struct cot_id *id)
{
    return id ? cot_book_thing(b, id) : NULL;
}

static int64_t plants_of_tray(struct cot_book *b, const struct cot_thing *format)
{
    if (!format) return 0;
    const struct cot_thing *house = cot_book_house(b);
    int64_t sown = cot_thing_int(format, COT_F_ROWS, 0) * cot_thing_int(format, COT_F_COLS, 0);
    bool plants = house && cot_thing_int(house, COT_F_TRAY_MEANS, TRAY_MEANS_SOWN) == TRAY_MEANS_PLANTS;
    return plants ? cot_thing_int(format, COT_F_TRAY_PLANTS, sown) : sown;
}

static bool says(const struct cot_fact *f, enum cot_field field)
{
    const struct cot_value *v = cot_fact_value(f, field);
    return v && v->type != COT_T_NONE;
}

/* What the entries about a line say together. */
struct told {
    bool request;
    int32_t promised_date;
    struct cot_said *said;
    size_t said_count;
};

static void hear(const struct cot_note *note, struct told *t)
{
    const struct cot_fact *f = note->fact;
    if (note->verdict == COT_REQUEST) t->request = true;
    if (note->verdict != COT_BOOKED) return;
    if (f->kind == COT_K_LINE && says(f, COT_F_DATE)) t->promised_date = COT_DAY_NONE; /* asked for anew and accepted */
    if (f->kind == COT_K_PROMISE && says(f, COT_F_DATE)) t->promised_date = (int32_t)cot_fact_int(f, COT_F_DATE, 0);
    if (f->kind != COT_K_PROMISE && f->kind != COT_K_DECLINED) return;
    t->said[t->said_count++] = (struct cot_said){
        .receipt = note->receipt > 0 ? note->receipt : INT64_MAX,
        .place = cot_place_of(note),
        .total = cot_fact_int(f, COT_F_PLANTS, 0),
        .refusal = f->kind == COT_K_DECLINED,
    };
}

static void read_asked(struct cot_book *b, const struct cot_thing *t, const struct told *told, struct cot_line_in *in)
{
    in->l.line = t;
    in->l.farm = cot_book_thing(b, &t->farm);
    in->farm_id = &t->farm;
    in->l.variety = thing_of(b, cot_thing_id(t, COT_F_VARIETY));
    in->l.format = thing_of(b, cot_thing_id(t, COT_F_FORMAT));
    in->l.asked = (int32_t)cot_thing_int(t, COT_F_DATE, COT_DAY_NONE);
    in->l.date = told->promised_date != COT_DAY_NONE ? told->promised_date : in->l.asked;
    int32_t waits = (int32_t)cot_thing_int(t, COT_F_WAIT_UNTIL, COT_DAY_NONE);
    if (waits > in->l.date) in->l.date = waits; /* the farm cannot plant before */
    in->l.wanted = cot_thing_int(t, COT_F_TRAYS, 0) * plants_of_tray(b, in->l.format);
    in->l.wanted += cot_thing_int(t, COT_F_PLANTS, 0); /* only one of the two stands */
    in->early = cot_thing_int(t, COT_F_EARLY, 0);
    in->late = cot_thing_int(t, COT_F_LATE, 0);
    in->least = cot_thing_int(t, COT_F_LEAST, 0);
    in->priority = cot_thing_int(t, COT_F_PRIORITY, COT_PRIORITY_NONE);
    in->gone = t->gone;
    in->untreated = cot_thing_int(t, COT_F_UNTREATED, 0) != 0;
    in->organic = cot_thing_int(t, COT_F_ORGANIC, 0) != 0;
    in->own_seed = cot_thing_int(t, COT_F_OWN_SEED, 0) != 0;
    const struct cot_value *subs = cot_thing_value(t, COT_F_SUBS);
    if (subs && subs->type == COT_T_IDS) {
        in->subs = subs->v.ids;
        in->sub_count = subs->len;
    }
}

static int64_t handed_of_line(const struct cot_handover *h, size_t n, const struct cot_id *line)
{
    int64_t handed = 0;
    for (size_t i = 0; i < n; i++)
        if (cot_id_cmp(&h[i].line, line) == 0) handed += h[i].plants - h[i].refused - h[i].back;
    return handed;
}

/* What a what-if makes of a line. */
static void read_changed(const struct cot_if_line *c, struct cot_line_in *in)
{
    in->l.farm = c->farm;
    in->farm_id = &c->farm->id;
    in->l.variety = c->variety;
    in->l.format = c->format;
    in->l.asked = in->l.date = c->date;
    in->l.wanted = c->plants;
    in->early = c->early;
    in->late = c->late;
    in->least = c->least;
    in->priority = c->priority > 0 ? c->priority : COT_PRIORITY_NONE;
    in->untreated = c->untreated;
    in->organic = c->organic;
    in->own_seed = c->own_seed;
    in->subs = c->subs;
    in->sub_count = c->sub_count;
}

/* Makes the line's chunks of what was said; what-ifs queue last. */
static void take_told(struct told *told, const struct cot_if_line *change, struct cot_line_in *in,
                      struct cot_lines *out)
{
    if (in->gone) { /* nothing more is wanted than what went out */
        in->l.wanted = in->l.promised = in->l.handed;
        told->said_count = 0;
    } else if (change) {
        told->said[told->said_count++] = (struct cot_said){
            .receipt = INT64_MAX, .place = {.t = INT64_MAX, .number = INT64_MAX}, .total = change->plants};
    }
    struct cot_chunk *chunk = out->chunk + out->chunk_count;
    size_t n = cot_chunks_make(told->said, told->said_count, in->l.wanted, in->l.handed, chunk, &in->l.promised);
    for (size_t i = 0; i < n; i++) chunk[i].line = out->line_count;
    if (in->gone) in->l.promised = in->l.handed;
    in->l.declined = told->said_count > 0 && told->said[told->said_count - 1].refusal;
    in->l.waiting = !in->l.declined && in->l.wanted > in->l.promised;
    in->l.request = told->request;
    out->chunk_count += n;
    out->line_count++;
}

/* Adds one line (t NULL: a new one of the what-if) and its chunks. */
static enum cot_err read_line(struct cot_book *b, const struct cot_thing *t, int64_t handed,
                              const struct cot_if_line *change, struct cot_lines *out)
{
    size_t notes = 0;
    const struct cot_note *note = t ? cot_book_history(b, &t->id, &notes) : NULL;
    struct told told = {.promised_date = COT_DAY_NONE};
    told.said = malloc((notes + 1) * sizeof *told.said);
    struct cot_chunk *chunk = realloc(out->chunk, (out->chunk_count + notes + 1) * sizeof *chunk);
    if (chunk) out->chunk = chunk;
    if (!told.said || !chunk) {
        free(told.said);
        return COT_MEMORY;
    }
    for (size_t i = 0; i < notes; i++) hear(&note[i], &told);

    struct cot_line_in *in = &out->line[out->line_count];
    *in = (struct cot_line_in){.l.handed = handed};
    if (t) read_asked(b, t, &told, in);
    if (change) {
        if (change->withdrawn) in->gone = true;
        else read_changed(change, in);
        out->if_line = out->line_count;
    }
    take_told(&told, change, in, out);
    free(told.said);
    return COT_OK;
}

static int name_cmp(const struct cot_thing *a, const struct cot_thing *b)
{
    return strcmp(a ? cot_thing_name(a) : "", b ? cot_thing_name(b) : "");
}

/* A line and where it stood before sorting. */
struct sorted {
    struct cot_line_in in;
    uint32_t was;
};

static int line_cmp(const void *x, const void *y)
{
    const struct cot_line_in *a = &((const struct sorted *)x)->in, *b = &((const struct sorted *)y)->in;
    int c = name_cmp(a->l.farm, b->l.farm);
    if (c == 0) c = cot_id_cmp(a->farm_id, b->farm_id); /* two farms of one name stay apart */
    if (c == 0 && a->l.date != b->l.date) c = a->l.date < b->l.date ? -1 : 1;
    if (c == 0) c = name_cmp(a->l.variety, b->l.variety);
    if (c != 0 || !a->l.line || !b->l.line) return c != 0 ? c : !a->l.line - !b->l.line; /* a what-if's new line last */
    c = strcmp(cot_thing_text(a->l.line, COT_F_CODE), cot_thing_text(b->l.line, COT_F_CODE));
    return c != 0 ? c : cot_id_cmp(&a->l.line->id, &b->l.line->id);
}

static enum cot_err sort_lines(struct cot_lines *out)
{
    struct sorted *s = malloc((out->line_count + 1) * sizeof *s);
    uint32_t *now = malloc((out->line_count + 1) * sizeof *now);
    enum cot_err err = s && now ? COT_OK : COT_MEMORY;
    if (err != COT_OK) goto out;
    for (uint32_t i = 0; i < out->line_count; i++) s[i] = (struct sorted){out->line[i], i};
    if (out->line_count > 1) qsort(s, out->line_count, sizeof *s, line_cmp);
    for (uint32_t i = 0; i < out->line_count; i++) {
        out->line[i] = s[i].in;
        now[s[i].was] = i;
    }
    for (size_t i = 0; i < out->chunk_count; i++) out->chunk[i].line = now[out->chunk[i].line];
    if (out->if_line != UINT32_MAX) out->if_line = now[out->if_line];
    cot_chunks_sort(out->chunk, out->chunk_count);
out:
    free(s);
    free(now);
    return err;
}

enum cot_err cot_lines_read(struct cot_book *b, const struct cot_handover *h, size_t handovers,
                            const struct cot_if_line *change, struct cot_lines *out)
{
    size_t all;
    enum cot_err err = COT_OK;
    const struct cot_thing *const *things = cot_book_things(b, COT_THING_LINE, &all);
    *out = (struct cot_lines){.if_line = UINT32_MAX};
    out->line = malloc((all + 1) * sizeof *out->line);
    if (!out->line) return COT_MEMORY;
    for (size_t i = 0; i < all && err == COT_OK; i++) {
        int64_t handed = handed_of_line(h, handovers, &things[i]->id);
        if (things[i]->gone && handed == 0) continue;
        bool changed = change && change->line && cot_id_cmp(&change->line->id, &things[i]->id) == 0;
        err = read_line(b, things[i], handed, changed ? change : NULL, out);
    }
    if (err == COT_OK && change && !change->line) err = read_line(b, NULL, 0, change, out);
    return err == COT_OK ? sort_lines(out) : err;
}

enum cot_err cot_if_line_of(struct cot_book *b, const struct cot_thing *line, struct cot_if_line *out)
{
    struct cot_line_in in = {0};
    struct told told = {.promised_date = COT_DAY_NONE};
    size_t notes;
    *out = (struct cot_if_line){.line = line};
    if (!line || line->type != COT_THING_LINE) return COT_INVALID;
    const struct cot_note *note = cot_book_history(b, &line->id, &notes);
    told.said = malloc((notes + 1) * sizeof *told.said);
    if (!told.said) return COT_MEMORY;
    for (size_t i = 0; i < notes; i++) hear(&note[i], &told);
    free(told.said);
    read_asked(b, line, &told, &in);
    *out = (struct cot_if_line){
        .line = line,
        .withdrawn = line->gone,
        .farm = in.l.farm,
        .variety = in.l.variety,
        .format = in.l.format,
        .date = in.l.date,
        .early = in.early,
        .late = in.late,
        .plants = in.l.wanted,
        .least = in.least,
        .subs = in.subs,
        .sub_count = in.sub_count,
        .untreated = in.untreated,
        .organic = in.organic,
        .own_seed = in.own_seed,
        .priority = in.priority == COT_PRIORITY_NONE ? 0 : in.priority,
    };
    return COT_OK;
}
