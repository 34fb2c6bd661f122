/* A fact: one decoded entry. cot_wire makes it from bytes and bytes from it; cot_book folds it. */
#ifndef COTYLEDGER_CORE_FACT_H
#define COTYLEDGER_CORE_FACT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cotyledger/core/code.h"
#include "cotyledger/core/kind.h"

struct cot_id {
    uint8_t b[32];
}; /* digest of an entry: a thing's identity; also a public key */
struct cot_house_id {
    uint8_t b[16];
};

#define COT_COUNT_UNKNOWN (-1)
/* One tray's stand count. Looked at = usable + blanks + culls. Figures not taken are COT_COUNT_UNKNOWN: only blanks
 * counted, say. Wire form: {"tray":3,"looked":72,"usable":66,"blanks":4,"culls":2,"doubles":1}. */
struct cot_tray_count {
    int32_t tray; /* 1..N in the batch */
    int32_t looked, usable, blanks, culls, doubles;
};

struct cot_value {
    uint8_t field; /* enum cot_field */
    uint8_t type;  /* enum cot_type; COT_T_NONE: the change clears the field */
    uint32_t len;  /* bytes of text, or members of an array */
    union {
        int64_t i; /* INT, BOOL, DAY, WORD */
        const char *text;
        const struct cot_id *ids; /* ID (len 1), IDS */
        const int32_t *numbers;
        const struct cot_tray_count *counts;
    } v;
};

#define COT_FACT_FIELDS_MAX 40

/* Pointers belong to whoever made the fact (the wire's scratch arena, or the caller) and need only live through the
 * call that takes it: the book copies what it keeps. */
struct cot_fact {
    enum cot_kind kind;
    char kind_name[32];
    char tag[COT_TAG_MAX + 1]; /* device */
    int64_t number;            /* 1.. in the device's journal */
    int64_t clock;             /* ms since 1970 */
    int32_t tick;
    int64_t seen; /* ledger position known when it was made */
    struct cot_house_id house;
    bool has_member, has_about, has_farm, has_carries;
    struct cot_id member, about, farm, carries;
    uint8_t salt[16];
    char flaw[160]; /* not empty: in the grammar, but not understood (unknown kind, wrong field): to be queried */
    unsigned value_count;
    struct cot_value value[COT_FACT_FIELDS_MAX]; /* in order of enum cot_field */
};

const struct cot_value *cot_fact_value(const struct cot_fact *f, enum cot_field field);  /* NULL if absent */
int64_t cot_fact_int(const struct cot_fact *f, enum cot_field field, int64_t otherwise); /* INT BOOL DAY WORD */
const struct cot_id *cot_fact_id(const struct cot_fact *f, enum cot_field field);        /* NULL if absent */

/* Builders: insert or replace, keeping the order; false when full. Text, ids and arrays are borrowed. */
bool cot_fact_set_int(struct cot_fact *f, enum cot_field field, int64_t i);
bool cot_fact_set_text(struct cot_fact *f, enum cot_field field, const char *text, size_t len);
bool cot_fact_set_ids(struct cot_fact *f, enum cot_field field, const struct cot_id *ids, size_t n);
bool cot_fact_set_numbers(struct cot_fact *f, enum cot_field field, const int32_t *numbers, size_t n);
bool cot_fact_set_counts(struct cot_fact *f, enum cot_field field, const struct cot_tray_count *counts, size_t n);
bool cot_fact_clear(struct cot_fact *f, enum cot_field field);

/* Scope of a row: what `cot_scope_rule` makes of this entry. For COT_SCOPE_FARM, *farm is the farm (`digest` is the
 * entry's own digest, needed when it makes a farm). Unknown kinds: HOUSE, or FARM if the header names one. */
enum cot_scope { COT_SCOPE_HOUSE, COT_SCOPE_CATALOGUE, COT_SCOPE_FARM };
enum cot_scope cot_fact_scope(const struct cot_fact *f, const struct cot_id *digest, struct cot_id *farm);

/* Whether the fields fit the kind, by the kind table and by sense within the entry itself (usable + blanks + culls =
 * looked at; rows x columns within limits; early window not negative ...). Writes the first flaw as words: field,
 * value, what would do. Clients call it before they append; the decoder calls it to fill `flaw`. */
bool cot_fact_check(const struct cot_fact *f, char flaw[static 160]);

int cot_id_cmp(const struct cot_id *a, const struct cot_id *b);

#endif
