/* Inside of the book: rows packed into one arena, and what has been judged of them.
 *
 * Every digest that occurs, as an entry or as a reference, has one slot. A slot whose entry carries another digest is
 * an alias of that digest's slot, so that old and new references meet. `root` of an entry is the slot of its identity.
 * For each root the entries that name it hang in a list, in order of place once tidied.
 *
 * Judging has two steps an entry: its base (permission, references, sense) and its final verdict (base, then answers,
 * then takings back). The steps form no circle, because a digest can only name what was written before it; the one
 * exception, entries that carry a digest nobody has seen, is looked for (carry.c).
 */
#ifndef COT_CORE_BOOK_IN_H
#define COT_CORE_BOOK_IN_H

#include "book/arena.h"
#include "book/memo.h"
#include "cotyledger/core/book.h"

enum {                       /* entry.bits: what it is */
       COT_E_FLAW = 1,       /* the blob starts with kind name and flaw */
       COT_E_BY_RECEIPT = 2, /* its place goes by the receipt: a buyer's, the house's own, an admin row */
       COT_E_TWICE = 4,      /* another entry of the same identity counts */
       COT_E_RING = 8,       /* names itself in a circle */
       COT_E_HARD = 16,      /* queried for a reason that no answer can mend */
       COT_E_HAS_ABOUT = 32,
       COT_E_HAS_FARM = 64,
       COT_E_HAS_MEMBER = 128
};
enum { /* entry.marks: where judging is */
       COT_M_DIRTY = 1,
       COT_M_BASE = 2, /* base is known */
       COT_M_FINAL = 4,
       COT_M_BASE_OPEN = 8,
       COT_M_FINAL_OPEN = 16,
       COT_M_ANSWERED = 32 /* booked because a manager said so */
};

enum cot_why {
    COT_WHY_NONE,
    COT_WHY_FLAW,
    COT_WHY_TWICE,
    COT_WHY_RING,
    COT_WHY_HOUSE,
    COT_WHY_NO_DEVICE,
    COT_WHY_CLOSED,
    COT_WHY_NOT_HERS,
    COT_WHY_PART,
    COT_WHY_OTHER_FARM,
    COT_WHY_MISSING,
    COT_WHY_WRONG,
    COT_WHY_GONE,
    COT_WHY_UNBOOKED,
    COT_WHY_FARM_MISMATCH,
    COT_WHY_NAME_FARM,
    COT_WHY_TRAY_CELLS,
    COT_WHY_NO_TRAY,
    COT_WHY_POOLED,
    COT_WHY_ROWS,
    COT_WHY_NO_AMOUNT,
    COT_WHY_NOTHING,
    COT_WHY_NOT_OWN,
    COT_WHY_NEVER_BACK,
    COT_WHY_AFTER_CLOSING,
    COT_WHY_BY_HAND,
    COT_WHY_TAG_USED,
    COT_WHY_PART_FIXED,
    COT_WHY_SECOND_HOUSE,
    COT_WHY_ONLINE,
    COT_WHY_COUNT
};

struct cot_entry {
    int64_t position, receipt, clock, seen, number;
    int64_t since;       /* the highest position that its base verdict rests on */
    const uint8_t *blob; /* packed values */
    uint32_t tag;        /* letters, first highest */
    int32_t tick;
    uint32_t slot, carries, about, farm, member; /* slots; 0: none */
    uint32_t copy;                               /* its fact in the readings */
    union {
        uint32_t other; /* entry: of a clash, twin, or the one that counts */
        int32_t detail; /* of the reason */
    };
    uint8_t kind, house, value_count, bits;
    uint8_t marks, base, verdict, why;
    uint8_t why_type, flags, part, spare; /* part of its member then */
};

enum { COT_S_ALIAS = 1, COT_S_UNTIDY = 2, COT_S_SWEPT = 4 };
struct cot_slot {
    struct cot_id id;
    uint32_t own;         /* entry with this digest */
    uint32_t winner;      /* entry that counts for this identity; of an alias: the slot it stands for */
    uint32_t first, last; /* mentions */
    uint32_t special;     /* of them the changes, answers and takings back, in no order */
    uint32_t reading;     /* its thing in the readings */
    uint32_t bits;
};
struct cot_mention {
    uint32_t entry, next;
};

struct cot_device_in {
    uint32_t tag, entry, member; /* member: root slot */
    int64_t joined, closed;      /* positions */
    struct cot_id key;
};
struct cot_part_in {
    int64_t position;
    int part;
};
struct cot_member_in {
    uint32_t root, farm;
    struct cot_part_in *parts; /* in order of position */
    uint32_t part_count;
};
struct cot_rule_in {
    int64_t position;
    int offset, closing;
}; /* as they stand from there on; closing -1: not set */
struct cot_admin {
    struct cot_device_in *device; /* sorted by tag */
    struct cot_member_in *member; /* sorted by root */
    struct cot_rule_in *rule;     /* in order of position */
    uint32_t devices, members, rules;
    uint32_t house; /* entry */
    int64_t house_position;
    struct cot_arena arena;
};

struct cot_line_run { /* a line's closing facts while its entries are judged in order of place */
    uint32_t root, mention;
    int64_t date, closing, since;
    uint32_t variety;
};

struct cot_cell {
    uint32_t slot, hash;
}; /* the hash beside it: most looks need not touch the slot */
struct cot_reading;
struct cot_copy {
    const struct cot_fact *fact;
    uint32_t entry;
};

struct cot_book {
    struct cot_arena arena; /* packed rows */
    struct cot_vec entries, slots, mentions;
    struct cot_cell *table; /* open addressing */
    uint32_t table_size;
    bool farm_view;
    struct cot_id farm;
    struct cot_house_id houses[255];
    uint32_t house_count;
    int64_t unsent, position;

    struct cot_list admin_rows, carriers, rings, dirty, stack, swept, catalogue, unsent_rows;
    struct cot_list makers[COT_THING_COUNT]; /* entries that make a thing of the type */
    struct cot_admin admin;
    uint32_t settled;         /* entries below have been swept */
    int64_t settled_position; /* highest of them */
    bool admin_stale, all_stale, carriers_stale, unsettled;
    struct cot_line_run run;
    struct cot_memos memos; /* of one settling, and until the next */

    struct cot_arena readings; /* all below live in it; dropped by the next put */
    bool read_anything, flags_read, as_written;
    struct cot_reading **reading;
    uint32_t reading_count, reading_cap;
    struct cot_copy *copy; /* facts unpacked for readers */
    uint32_t copy_count, copy_cap;
    const struct cot_thing **things[COT_THING_COUNT];
    size_t thing_count[COT_THING_COUNT];
    bool things_read[COT_THING_COUNT];
    struct cot_note *notes;
    size_t note_count;
    bool notes_read;
};

static inline struct cot_entry *cot_entry_at(const struct cot_book *b, uint32_t i)
{
    return cot_vec_at(&b->entries, i);
}
static inline struct cot_slot *cot_slot_at(const struct cot_book *b, uint32_t i)
{
    return cot_vec_at(&b->slots, i);
}
static inline struct cot_mention *cot_mention_at(const struct cot_book *b, uint32_t i)
{
    return cot_vec_at(&b->mentions, i);
}
static inline uint32_t cot_entry_index(const struct cot_book *b, const struct cot_entry *e)
{
    return cot_slot_at(b, e->slot)->own;
}

/* ids.c */
uint32_t cot_intern(struct cot_book *b, const struct cot_id *id);       /* 0 when out of memory */
uint32_t cot_lookup(const struct cot_book *b, const struct cot_id *id); /* 0: never seen */
uint32_t cot_root(const struct cot_book *b, uint32_t slot);
static inline uint32_t cot_root_of(const struct cot_book *b, const struct cot_entry *e)
{
    return cot_root(b, e->slot);
}
static inline uint32_t cot_winner(const struct cot_book *b, uint32_t slot)
{
    return cot_slot_at(b, cot_root(b, slot))->winner;
}
bool cot_alias(struct cot_book *b, uint32_t slot, uint32_t to);          /* false: it would be an alias of itself */
void cot_mention_add(struct cot_book *b, uint32_t slot, uint32_t entry); /* room has been reserved */
void cot_untidy(struct cot_book *b, const struct cot_entry *e);          /* its place has changed */
bool cot_tidy(struct cot_book *b, uint32_t root); /* mentions in order of place; false when out of memory */
int cot_place_cmp(const struct cot_book *b, const struct cot_entry *x, const struct cot_entry *y);
int64_t cot_place_time(const struct cot_entry *e);
uint32_t cot_tag_pack(const char *tag);
void cot_tag_text(uint32_t packed, char out[static COT_TAG_MAX + 1]);

/* pack.c: values as bytes. */
struct cot_packed { /* one value, decoded in place */
    uint8_t field, type;
    uint32_t len;
    int64_t i;
    const char *text;     /* TEXT */
    const uint8_t *bytes; /* ID: slot or key; IDS, NUMBERS, TRAYS: packed members */
};
struct cot_packed_at {
    const uint8_t *at;
    unsigned left;
};
size_t cot_pack_most(const struct cot_fact *f); /* cot_pack writes no more than this */
/* `ref`: slots of the identities in the values, in order. Returns the bytes written. */
size_t cot_pack(const struct cot_fact *f, const uint32_t *ref, uint8_t *out, uint8_t *value_count);
struct cot_packed_at cot_packed_start(const struct cot_entry *e);
bool cot_packed_next(struct cot_packed_at *it, struct cot_packed *out);
bool cot_packed_find(const struct cot_entry *e, enum cot_field field,
                     struct cot_packed *out); /* false: absent or cleared */
int64_t cot_packed_int(const struct cot_entry *e, enum cot_field field, int64_t otherwise);
uint32_t cot_packed_slot(const struct cot_entry *e, enum cot_field field); /* 0: none */
uint32_t cot_packed_member(const struct cot_packed *p, uint32_t i);        /* slot of an ID or IDS */
struct cot_trays_at {
    const uint8_t *at;
    uint32_t left;
};
struct cot_trays_at cot_packed_trays(const struct cot_packed *p);
bool cot_packed_tray(struct cot_trays_at *it, struct cot_tray_count *out); /* TRAYS */
bool cot_packed_number(struct cot_trays_at *it, int32_t *out);             /* NUMBERS */
bool cot_packable(const struct cot_value *v); /* of the table's type, or a clearing: else it is left out */
const char *cot_packed_flaw(const struct cot_entry *e, const char **kind_name); /* "" when none */
bool cot_is_key(enum cot_field f);
/* Turns a packed value into one for readers; arrays are taken from the readings. */
bool cot_unpack(struct cot_book *b, const struct cot_packed *p, struct cot_value *out);
const struct cot_fact *cot_fact_of(struct cot_book *b, uint32_t entry); /* the book's copy; NULL when out of memory */

/* The fact with the digests as written, for another book; lives in `scratch` until the next call. */
const struct cot_fact *cot_fact_as_written(struct cot_book *b, uint32_t entry, struct cot_arena *scratch);

/* admin.c */
bool cot_admin_read(struct cot_book *b); /* judges the admin rows by position */
void cot_admin_free(struct cot_admin *a);
const struct cot_device_in *cot_device_find(const struct cot_book *b, uint32_t tag);
const struct cot_member_in *cot_member_find(const struct cot_book *b, uint32_t root);
int cot_member_part(const struct cot_member_in *m, int64_t before); /* -1: none yet */
int cot_rule_offset(const struct cot_book *b, int64_t before);
int cot_rule_closing(const struct cot_book *b, int64_t before); /* -1: not set */
/* Why the row may not be, by permission; COT_WHY_NONE when it may. Sets entry.part. */
enum cot_why cot_may(const struct cot_book *b, struct cot_entry *e);
static inline int64_t cot_judged_at(const struct cot_entry *e)
{
    return e->position > 0 ? e->position : INT64_MAX;
}

/* judge.c */
enum cot_thing_type cot_makes(const struct cot_entry *e);
enum cot_thing_type cot_field_thing(enum cot_field f); /* what a reference names; NONE for keys and the rest */
uint32_t cot_farm_of(const struct cot_book *b,
                     const struct cot_entry *e); /* root slot of the farm whose row it is; 0 */
bool cot_is_admin(const struct cot_entry *e);
bool cot_is_change(const struct cot_entry *e);      /* carries fields that land on the thing it is about */
bool cot_is_special(const struct cot_entry *e);     /* changes, withdraws, answers or takes back what it is about */
bool cot_judge(struct cot_book *b, uint32_t entry); /* up to its final verdict; false when out of memory */

/* sense.c: what cannot be of one entry whose references stand. */
enum cot_why cot_sense_of(const struct cot_book *b, const struct cot_entry *e, int32_t *detail);
/* Cells of a batch; of one of its trays; its trays (rows of a shared tray are one). 0 when not known here. */
struct cot_cells {
    int64_t all, tray, trays;
};
struct cot_cells cot_batch_cells(const struct cot_book *b, const struct cot_entry *batch);
/* The booked value of a field at the latest place, before `before` (NULL: of all); false when there is none. Making
 * first. */
bool cot_register(const struct cot_book *b, uint32_t root, enum cot_field field, const struct cot_entry *before,
                  struct cot_packed *out);

/* line.c: the closing day, and what waits for the house's word. */
enum cot_why cot_line_change(struct cot_book *b, struct cot_entry *e, int32_t *closing);
enum cot_why cot_line_back(const struct cot_book *b, const struct cot_entry *e, int32_t *closing);

/* carry.c */
bool cot_carry_read(struct cot_book *b);

/* settle.c */
bool cot_settle(struct cot_book *b); /* false when out of memory */
void cot_mark(struct cot_book *b, uint32_t entry);

/* read.c: things for readers. */
struct cot_reading {
    struct cot_thing thing;
    struct cot_book *book;
    uint32_t root;
    uint32_t value_count;
    uint64_t mask[2]; /* fields that stand */
    const struct cot_value *value;
    const struct cot_note *history;
    size_t history_count;
    bool history_read;
};
void cot_readings_drop(struct cot_book *b);
struct cot_reading *cot_reading_of(struct cot_book *b, uint32_t root); /* NULL: nothing there, or out of memory */
/* Booked changes of a thing in the order in which they land on it; *n of them. false when out of memory. */
bool cot_changes_of(struct cot_book *b, uint32_t root, struct cot_list *out);

/* flag.c */
bool cot_flags_read(struct cot_book *b);

/* note.c */
void cot_note_fill(struct cot_book *b, uint32_t entry, struct cot_note *out);
/* why.c */
void cot_why_text(const struct cot_book *b, const struct cot_entry *e, char *out, size_t cap);

#endif
