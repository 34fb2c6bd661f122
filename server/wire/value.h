/* Values as people type them: what the readers of one value share. */
#ifndef COTYLEDGER_WIRE_VALUE_H
#define COTYLEDGER_WIRE_VALUE_H

#include "cotyledger/wire/sheet.h"

/* `text` in quotes, made safe to show and cut to about 40 characters. */
#define COT_QUOTED 400
void cot_quote(const char *s, size_t len, char out[static COT_QUOTED]);

/* Letters and digits of `s` alone: ASCII lower case, accented letters of Latin-1 without their accent, everything else
 * dropped but other letters kept as they are; cut to fit. "Cell volume" and "cell_volume" are both "cellvolume". */
#define COT_SQUEEZED 64
void cot_squeeze(const char *s, size_t len, char out[static COT_SQUEEZED]);

/* A number of the field's unit. `unit` is what the heading said ("ml", "%"), "" when it said nothing; a unit in the
 * cell goes first. Fault without the field's name. */
COT_MUSTCHECK enum cot_err cot_number_read(enum cot_field field, const char *s, size_t len, const char *unit,
                                           int64_t *out, struct cot_fault *fault);
/* What a field's unit is shown as ("mL" of "uL"); "" when as nothing. */
const char *cot_unit_metric(const char *unit);
/* Whether it ends in a figure: no unit stands behind it. */
bool cot_number_bare(const char *s, size_t len);
/* Whether the squeezed word is a unit that numbers of this field may carry. */
bool cot_unit_known(enum cot_field field, const char *word);

/* How a value is read when it stands in a sheet. */
struct cot_reading {
    const char *date_format;   /* NULL: ISO only */
    const char *unit;          /* the heading's, squeezed; "" if none */
    bool whole_names;          /* names are written in full; their start alone will not do */
    const struct cot_id *crop; /* varieties are of this crop; NULL: of any */
};
/* cot_value_read, with a fault without the field's name. */
COT_MUSTCHECK enum cot_err cot_value_read_in(struct cot_book *b, struct cot_fact *f, enum cot_field field,
                                             const char *s, size_t len, const struct cot_reading *how, void *arena,
                                             struct cot_fault *fault);

/* Names alike, ASCII case aside. */
bool cot_same_name(const char *a, const char *b);
/* The thing of that name, written in full (ASCII case aside). NOT_FOUND names the nearest; AMBIGUOUS says what to add.
 */
COT_MUSTCHECK enum cot_err cot_name_find(struct cot_book *b, enum cot_thing_type type, const char *name,
                                         const struct cot_id *crop, const struct cot_thing **out,
                                         struct cot_fault *fault);

/* The type of thing a field names; COT_THING_NONE for a key or a field of another type. */
enum cot_thing_type cot_value_thing(enum cot_field field);

#endif
