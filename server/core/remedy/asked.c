/* From an order line that nobody made to a what-if. */
#include <string.h>

#include "remedy/in.h"

enum { TRAY_MEANS_SOWN, TRAY_MEANS_PLANTS }; /* in the order of the field's words */

int64_t cot_tray_plants(struct cot_book *b, const struct cot_thing *format)
{
    if (!format) return 0;
    const struct cot_thing *house = cot_book_house(b);
    int64_t sown = cot_thing_int(format, COT_F_ROWS, 0) * cot_thing_int(format, COT_F_COLS, 0);
    bool plants = house && cot_thing_int(house, COT_F_TRAY_MEANS, TRAY_MEANS_SOWN) == TRAY_MEANS_PLANTS;
    return plants ? cot_thing_int(format, COT_F_TRAY_PLANTS, sown) : sown;
}

/* The thing of that type which a field of the entry names; `out` stays when the entry does not have the field, and is
 * NULL when it clears it. */
static enum cot_err take_thing(struct cot_book *b, const struct cot_fact *f, enum cot_field field,
                               enum cot_thing_type type, const struct cot_thing **out, struct cot_fault *fault)
{
    const struct cot_value *v = cot_fact_value(f, field);
    if (!v) return COT_OK;
    *out = v->type == COT_T_ID ? cot_book_thing(b, v->v.ids) : NULL;
    if (v->type != COT_T_ID || (*out && (*out)->type == type && !(*out)->gone)) return COT_OK;
    return cot_fail(fault, COT_NOT_FOUND, "what if: there is no such %s", cot_thing_word(type));
}

static void take_int(const struct cot_fact *f, enum cot_field field, int64_t *out)
{
    if (cot_fact_value(f, field)) *out = cot_fact_int(f, field, 0);
}

static void take_bool(const struct cot_fact *f, enum cot_field field, bool *out)
{
    if (cot_fact_value(f, field)) *out = cot_fact_int(f, field, 0) != 0;
}

static enum cot_err take_subs(struct cot_book *b, const struct cot_fact *f, struct cot_if_line *out,
                              struct cot_fault *fault)
{
    const struct cot_value *v = cot_fact_value(f, COT_F_SUBS);
    if (!v) return COT_OK;
    out->subs = v->type == COT_T_IDS ? v->v.ids : NULL;
    out->sub_count = v->type == COT_T_IDS ? v->len : 0;
    for (uint32_t i = 0; i < out->sub_count; i++) {
        const struct cot_thing *t = cot_book_thing(b, &out->subs[i]);
        if (!t || t->type != COT_THING_VARIETY)
            return cot_fail(fault, COT_NOT_FOUND, "what if: there is no such variety");
    }
    return COT_OK;
}

static enum cot_err take_amount(struct cot_book *b, const struct cot_fact *f, struct cot_if_line *out,
                                struct cot_fault *fault)
{
    int64_t trays = cot_fact_int(f, COT_F_TRAYS, 0);
    take_int(f, COT_F_PLANTS, &out->plants);
    if (trays == 0) return COT_OK;
    int64_t plants = cot_tray_plants(b, out->format);
    if (plants < 1) {
        (void)cot_fail(fault, COT_INVALID, "what if: so many trays, of which tray format?");
        return cot_hint(fault, "name the format, or say how many plants");
    }
    out->plants = trays * plants;
    return COT_OK;
}

static enum cot_err take_fields(struct cot_book *b, const struct cot_fact *f, struct cot_if_line *out,
                                struct cot_fault *fault)
{
    enum cot_err err = take_thing(b, f, COT_F_VARIETY, COT_THING_VARIETY, &out->variety, fault);
    if (err == COT_OK) err = take_thing(b, f, COT_F_FORMAT, COT_THING_FORMAT, &out->format, fault);
    if (err == COT_OK) err = take_subs(b, f, out, fault);
    if (err == COT_OK) err = take_amount(b, f, out, fault);
    if (cot_fact_value(f, COT_F_DATE)) out->date = (int32_t)cot_fact_int(f, COT_F_DATE, 0);
    take_int(f, COT_F_EARLY, &out->early);
    take_int(f, COT_F_LATE, &out->late);
    take_int(f, COT_F_LEAST, &out->least);
    take_int(f, COT_F_PRIORITY, &out->priority);
    take_bool(f, COT_F_UNTREATED, &out->untreated);
    take_bool(f, COT_F_ORGANIC, &out->organic);
    take_bool(f, COT_F_OWN_SEED, &out->own_seed);
    return err;
}

static enum cot_err find_line(struct cot_book *b, const struct cot_fact *f, struct cot_if_line *out,
                              struct cot_fault *fault)
{
    const struct cot_thing *line = cot_book_thing(b, &f->about);
    if (!line || line->type != COT_THING_LINE)
        return cot_fail(fault, COT_NOT_FOUND, "what if: there is no such order line");
    enum cot_err err = cot_if_line_of(b, line, out);
    return err == COT_OK ? err : cot_fail(fault, err, "what if: unable to read the order line");
}

/* The same sense as an entry's, but for what nobody has given it yet: a code, and the farm of a standing line. */
static bool sensible(const struct cot_fact *f, char flaw[static 160])
{
    struct cot_fact probe = *f;
    char code[COT_CODE_TEXT];
    cot_code_make("A", 1, code);
    if (f->has_about) probe.has_farm = true;
    else if (!cot_fact_value(f, COT_F_CODE) && !cot_fact_set_text(&probe, COT_F_CODE, code, strlen(code))) return false;
    return cot_fact_check(&probe, flaw);
}

enum cot_err cot_if_line_read(struct cot_book *b, const struct cot_fact *f, bool withdrawn, struct cot_if_line *out,
                              struct cot_fault *fault)
{
    char flaw[160] = "";
    enum cot_err err = COT_OK;
    *out = (struct cot_if_line){0};
    if (f->kind != COT_K_LINE || (withdrawn && !f->has_about))
        return cot_fail(fault, COT_INVALID, "what if: name the line that is withdrawn");
    if (withdrawn && f->value_count > 0)
        return cot_fail(fault, COT_INVALID, "what if: a line that is withdrawn has nothing else to change");
    if (!withdrawn && !sensible(f, flaw)) return cot_fail(fault, COT_INVALID, "what if: %s", flaw);
    if (f->has_about) err = find_line(b, f, out, fault);
    if (err != COT_OK || withdrawn) {
        out->withdrawn = withdrawn;
        return err;
    }
    if (!f->has_about) out->farm = f->has_farm ? cot_book_thing(b, &f->farm) : NULL;
    if (!out->farm || out->farm->type != COT_THING_FARM)
        return cot_fail(fault, COT_NOT_FOUND, "what if: there is no such farm");
    return take_fields(b, f, out, fault);
}
