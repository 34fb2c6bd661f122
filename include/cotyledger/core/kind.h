/* The kinds of entry and the fields they carry: one table that drives decoding, writing, checking, importing,
 * command-line options and the protocol's page. */
#ifndef COTYLEDGER_CORE_KIND_H
#define COTYLEDGER_CORE_KIND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Types of a field's value, on the wire and in memory. Every field of a change may also be null: cleared. */
enum cot_type {
    COT_T_NONE = 0, /* null: the field is cleared */
    COT_T_INT,      /* integer in min..max */
    COT_T_BOOL,
    COT_T_TEXT,    /* 1..max bytes of UTF-8 */
    COT_T_DAY,     /* "YYYY-MM-DD"; a day number in memory */
    COT_T_WORD,    /* one of `words`; its index in memory */
    COT_T_ID,      /* 43 characters of base64url: a thing's identity, or a public key */
    COT_T_IDS,     /* array of 1..max identities */
    COT_T_NUMBERS, /* array of 1..max tray numbers, ascending */
    COT_T_TRAYS    /* array of 1..max stand-count figures, see struct cot_tray_count */
};

/* X(NAME, "wire name", type, min, max, "unit or words separated by |", "what it is") */
/* clang-format off */
#define COT_FIELDS(X) \
    X(NAME, "name", TEXT, 1, 120, "", "name") \
    X(CODE, "code", TEXT, 8, 16, "", "code on the tag") \
    X(REF, "ref", TEXT, 1, 60, "", "the farm's own reference") \
    X(CONTACT, "contact", TEXT, 1, 300, "", "how to reach the farm") \
    X(OWN, "own", BOOL, 0, 1, "", "the house's own fields") \
    X(PART, "part", WORD, 0, 3, "manager|hand|buyer|auditor", "part") \
    X(MEMBER, "member", ID, 0, 0, "", "member") \
    X(KEY, "key", ID, 0, 0, "", "public key (Ed25519)") \
    X(TAG, "tag", TEXT, 1, 4, "", "device tag") \
    X(LABEL, "label", TEXT, 1, 80, "", "what people call the device") \
    X(RULES, "rules", INT, 1, 1000000, "", "rules version") \
    X(AS, "as", WORD, 0, 1, "booked|aside", "answer") \
    X(CONFIDENCE, "confidence", INT, 500, 999, "per mille", "confidence the house works with") \
    X(SHARE, "share", WORD, 0, 2, "first|priority|prorata", "how a shortage is shared") \
    X(TRAY_MEANS, "tray_means", WORD, 0, 1, "sown|plants", "what a tray ordered means") \
    X(CLOSING_DAYS, "closing_days", INT, 0, 365, "days", "days before collecting when a line closes") \
    X(UTC_OFFSET, "utc_offset", INT, -840, 840, "minutes", "the house's time, east of UTC") \
    X(ASSUMED_SEEDS, "assumed_seeds", INT, 10, 10000, "seeds", "seeds assumed tested where only a label says") \
    X(CROP, "crop", ID, 0, 0, "", "crop") \
    X(LATIN, "latin", TEXT, 1, 120, "", "botanical name") \
    X(SEEDS_PER_G, "seeds_per_g", INT, 1, 100000, "seeds/g", "raw seeds in a gram") \
    X(TRAY_DAYS, "tray_days", INT, 1, 365, "days", "days from sowing to ready") \
    X(TRAY_DAYS_MAX, "tray_days_max", INT, 1, 365, "days", "days from sowing until past use") \
    X(CHAMBER_DAYS, "chamber_days", INT, 0, 60, "days", "days in the germination chamber") \
    X(COUNT_DAYS, "count_days", INT, 0, 90, "days", "days from sowing to the stand count") \
    X(HARDEN_DAYS, "harden_days", INT, 0, 60, "days", "days of hardening off") \
    X(EMERGENCE, "emergence", INT, 1, 1000, "per mille", "emergence in the house relative to the test") \
    X(USABLE_SHARE, "usable_share", INT, 1, 1000, "per mille", "share of emerged plants fit to go") \
    X(MIN_GERM, "min_germ", INT, 1, 1000, "per mille", "lowest lawful germination") \
    X(SOURCE, "source", TEXT, 1, 400, "", "where the figures come from") \
    X(VARIETY, "variety", ID, 0, 0, "", "variety") \
    X(ROWS, "rows", INT, 1, 200, "rows", "rows of cells") \
    X(COLS, "cols", INT, 1, 200, "columns", "columns of cells") \
    X(CELL_UL, "cell_ul", INT, 100, 10000000, "uL", "cell volume") \
    X(LENGTH_UM, "length_um", INT, 10000, 3000000, "um", "tray length") \
    X(WIDTH_UM, "width_um", INT, 10000, 3000000, "um", "tray width") \
    X(PATTERN, "pattern", TEXT, 1, 40, "", "cell pattern") \
    X(TRAY_PLANTS, "tray_plants", INT, 1, 40000, "plants", "plants that a tray ordered means") \
    X(CELLS, "cells", INT, 1, 40000, "cells", "cells filled at one drop") \
    X(HOLES, "holes", INT, 1, 30, "holes/cell", "holes for a cell") \
    X(HOLE_UM, "hole_um", INT, 50, 10000, "um", "hole size") \
    X(FORM, "form", WORD, 0, 5, "raw|graded|pelleted|coated|primed|plug", "seed form") \
    X(TREATED, "treated", BOOL, 0, 1, "", "treated seed") \
    X(TREATMENT, "treatment", TEXT, 1, 200, "", "what it is treated with") \
    X(ORGANIC, "organic", BOOL, 0, 1, "", "organic seed") \
    X(OWNER, "owner", ID, 0, 0, "", "farm whose own seed it is") \
    X(TEST_SEEDS, "test_seeds", INT, 1, 100000, "seeds", "seeds tested") \
    X(TEST_GERM, "test_germ", INT, 0, 100000, "seeds", "of which germinated") \
    X(LABEL_GERM, "label_germ", INT, 0, 1000, "per mille", "germination on the label") \
    X(TEST_DAY, "test_day", DAY, 0, 0, "", "day of the test") \
    X(STOCK_SEEDS, "stock_seeds", INT, 0, 1000000000, "seeds", "seeds on hand when it was written down") \
    X(STOCK_MG, "stock_mg", INT, 0, 1000000000, "mg", "seed weight on hand when it was written down") \
    X(USE_BY, "use_by", DAY, 0, 0, "", "use by") \
    X(WITHDRAWN, "withdrawn", BOOL, 0, 1, "", "withdrawn lot") \
    X(PLANTS, "plants", INT, 0, 10000000, "plants", "plants") \
    X(TRAYS, "trays", INT, 0, 100000, "trays", "trays") \
    X(FORMAT, "format", ID, 0, 0, "", "tray format") \
    X(DATE, "date", DAY, 0, 0, "", "collecting date") \
    X(EARLY, "early", INT, 0, 60, "days", "days earlier will do") \
    X(LATE, "late", INT, 0, 60, "days", "days later will do") \
    X(LEAST, "least", INT, 0, 10000000, "plants", "the least worth having") \
    X(SUBS, "subs", IDS, 1, 8, "", "varieties that will do instead, best first") \
    X(UNTREATED, "untreated", BOOL, 0, 1, "", "untreated seed only") \
    X(OWN_SEED, "own_seed", BOOL, 0, 1, "", "from the farm's own seed only") \
    X(PRIORITY, "priority", INT, 1, 9, "", "priority, 1 first") \
    X(CLOSING, "closing", DAY, 0, 0, "", "last day for changes") \
    X(WHY, "why", TEXT, 1, 300, "", "why") \
    X(TEXT, "text", TEXT, 1, 2000, "", "what was noted") \
    X(LOT, "lot", ID, 0, 0, "", "seed lot") \
    X(PLATE, "plate", ID, 0, 0, "", "seeder plate; none: sown by hand") \
    X(PER_CELL, "per_cell", INT, 1, 30, "seeds", "seeds in a cell") \
    X(AT_LEAST, "at_least", INT, 1, 30, "plants", "plants that make a multi-sown cell usable") \
    X(TRAY_ROWS, "tray_rows", INT, 1, 200, "rows", "rows sown of a shared tray") \
    X(SHARED, "shared", TEXT, 1, 40, "", "name of the shared tray") \
    X(DAY, "day", DAY, 0, 0, "", "day it was done") \
    X(READY, "ready", DAY, 0, 0, "", "expected ready") \
    X(BENCH, "bench", TEXT, 1, 40, "", "bench") \
    X(BATCH, "batch", ID, 0, 0, "", "batch") \
    X(LOST, "lost", INT, 0, 10000000, "plants", "plants lost in the work") \
    X(COUNTS, "counts", TRAYS, 1, 200, "", "figures of the trays counted") \
    X(LOOKED, "looked", INT, 1, 10000000, "cells", "cells looked at") \
    X(USABLE, "usable", INT, 0, 10000000, "cells", "usable") \
    X(BLANKS, "blanks", INT, 0, 10000000, "cells", "blanks") \
    X(CULLS, "culls", INT, 0, 10000000, "cells", "culls") \
    X(DOUBLES, "doubles", INT, 0, 10000000, "cells", "doubles") \
    X(WHICH, "which", NUMBERS, 1, 400, "", "tray numbers") \
    X(WERE_USABLE, "were_usable", BOOL, 0, 1, "", "were they usable") \
    X(UNTIL, "until", DAY, 0, 0, "", "until") \
    X(LINE, "line", ID, 0, 0, "", "order line") \
    X(OWED, "owed", INT, 0, 100000, "trays", "empty trays owed") \
    X(UNIT, "unit", WORD, 0, 2, "plant|row|tray", "what is handed over in: single plants, rows, whole trays") \
    X(SHAPE, "shape", WORD, 0, 3, "round|flat|angular|fluffy", "shape of the raw seed") \
    X(EMERGE_DAYS, "emerge_days", INT, 1, 90, "days", "days from sowing until half have emerged") \
    X(LATER_LOSS, "later_loss", INT, 0, 999, "per mille", "plants lost between stand count and collecting") \
    X(MISSES, "misses", INT, 0, 1000, "per mille", "drops of the plate that leave no seed, as the house found them") \
    X(TWOS, "twos", INT, 0, 1000, "per mille", "drops of the plate that leave two seeds or more, as found") \
    X(PUT_RIGHT, "put_right", BOOL, 0, 1, "", "missed cells filled by hand after the seeder") \
    X(REPLICATES, "replicates", TEXT, 1, 120, "", "seeds germinated in each replicate of the test") \
    X(PICKED, "picked", BOOL, 0, 1, "", "the trays were picked by eye, not drawn") \
    X(SORT, "sort", WORD, 0, 2, "chamber|bench|frame", "sort") \
    X(SPOTS, "spots", INT, 1, 100000, "trays", "space") \
    X(GROUP, "group", TEXT, 1, 40, "", "temperature group") \
    X(FROM, "from", DAY, 0, 0, "", "from") \
    X(FROM_WEEK, "from_week", INT, 1, 53, "", "from ISO week") \
    X(TO_WEEK, "to_week", INT, 1, 53, "", "to ISO week") \
    X(POT_DAYS, "pot_days", INT, 1, 365, "days", "days to potting on") \
    X(POT_FORMAT, "pot_format", ID, 0, 0, "", "potted on to") \
    X(WORK_DAYS, "work_days", NUMBERS, 1, 7, "", "working days, 1 is Monday") \
    X(TRAYS_A_DAY, "trays_a_day", INT, 1, 100000, "trays", "trays sown on a working day") \
    X(TEST_AGE, "test_age", INT, 1, 3650, "days", "age at which a lot is tested again") \
    X(MIX_L, "mix_l", INT, 0, 10000000, "L", "growing mix on hand") \
    X(LABELS, "labels", INT, 0, 100000000, "labels", "labels on hand") \
    X(SOW_DAY, "sow_day", DAY, 0, 0, "", "day to sow") \
    X(LINES, "lines", IDS, 1, 120, "", "serves") \
    X(PINS, "pins", TEXT, 1, 120, "", "pinned") \
    X(PLANNED, "planned", ID, 0, 0, "", "carries out") \
    X(UNITS, "units", WORD, 0, 1, "metric|us", "units of measure") \
    X(CHAMBER, "chamber", TEXT, 1, 40, "", "germination chamber") \
    X(FRAME, "frame", TEXT, 1, 40, "", "cold frame") \
    X(WAIT_UNTIL, "wait_until", DAY, 0, 0, "", "kept by the house until") \
    X(CELSIUS, "celsius", INT, 0, 50, "C", "temperature") \
    X(BAG_L, "bag_l", INT, 1, 10000, "L", "growing mix in a bag") \
    X(DELIVERY_DAYS, "delivery_days", INT, 0, 365, "days", "days from an order to its delivery") \
    X(SOWING_MINUTES, "sowing_minutes", INT, 0, 600, "min", "work for a sowing, whatever its trays") \
    X(TRAY_MINUTES, "tray_minutes", INT, 0, 600, "min", "work for a tray") \
    X(SUPPLIER, "supplier", TEXT, 1, 120, "", "from whom it is bought")
/* clang-format on */

enum cot_field {
#define COT_X(N, w, t, lo, hi, u, d) COT_F_##N,
    COT_FIELDS(COT_X)
#undef COT_X
        COT_F_COUNT
};

struct cot_field_row {
    const char *name;
    enum cot_type type;
    int64_t min, max;
    const char *unit; /* the unit, or a T_WORD's words separated by '|' */
    const char *what;
};
const struct cot_field_row *cot_field_row(enum cot_field f);
bool cot_field_by_name(const char *name, size_t len, enum cot_field *f);
/* Index of a word among a T_WORD field's words; -1 if none. And the word of an index ("?" if none). */
int cot_word_index(enum cot_field f, const char *word, size_t len);
void cot_word_text(enum cot_field f, int index, char out[static 16]);

/* What entries are about. */
enum cot_thing_type {
    COT_THING_NONE = 0,
    COT_THING_HOUSE,
    COT_THING_MEMBER,
    COT_THING_DEVICE,
    COT_THING_FARM,
    COT_THING_CROP,
    COT_THING_VARIETY,
    COT_THING_FORMAT,
    COT_THING_PLATE,
    COT_THING_LOT,
    COT_THING_LINE,
    COT_THING_BATCH,
    COT_THING_HANDOVER,
    COT_THING_ENTRY, /* any entry, whatever it made */
    COT_THING_PLACE,
    COT_THING_RAISING,
    COT_THING_PLANNED,
    COT_THING_COUNT
};
const char *cot_thing_word(enum cot_thing_type t); /* "farm", "order line", ... */

/* Who may: bits. The house itself writes with its own key. */
enum { COT_BY_HOUSE = 1, COT_BY_MANAGER = 2, COT_BY_HAND = 4, COT_BY_BUYER = 8, COT_BY_STAFF = 6, COT_BY_ORDERER = 14 };
enum cot_part { COT_PART_MANAGER, COT_PART_HAND, COT_PART_BUYER, COT_PART_AUDITOR };

/* Who sees a row: a pure function of the entry's bytes.
 *   HOUSE      staff only
 *   CATALOGUE  everybody of the house
 *   FARM       the farm named in the header (for kind "farm" without `about`: the farm it makes), and staff
 *   FARM_OR_x  FARM when the header names a farm, else x */
enum cot_scope_rule {
    COT_SEE_HOUSE,
    COT_SEE_CATALOGUE,
    COT_SEE_FARM,
    COT_SEE_FARM_OR_HOUSE,
    COT_SEE_FARM_OR_CATALOGUE
};

enum {
    COT_KIND_ADMIN = 1, /* made online only; never taken back; judged by position alone */
    COT_KIND_PHYSICAL =
        2, /* happened in the world: stands whatever its quantity; may be carried over for a closed device */
    COT_KIND_ABOUT_OPTIONAL = 4, /* without `about` it makes a thing, with it it changes that thing */
};

enum cot_kind {
    COT_K_UNKNOWN = 0, /* from a newer client: kept and queried */
    COT_K_HOUSE,
    COT_K_RULE,
    COT_K_MEMBER,
    COT_K_DEVICE,
    COT_K_CLOSED,
    COT_K_ANSWER,
    COT_K_ERASED,
    COT_K_FARM,
    COT_K_CROP,
    COT_K_VARIETY,
    COT_K_FORMAT,
    COT_K_PLATE,
    COT_K_LOT,
    COT_K_LINE,
    COT_K_WITHDRAWN,
    COT_K_PROMISE,
    COT_K_DECLINED,
    COT_K_SOWN,
    COT_K_POTTED,
    COT_K_COUNT,
    COT_K_LOST,
    COT_K_PATCHED,
    COT_K_THINNED,
    COT_K_MOVED,
    COT_K_HELD,
    COT_K_RELEASED,
    COT_K_HANDED,
    COT_K_BACK,
    COT_K_EMPTIES,
    COT_K_NOTE,
    COT_K_TAKEN_BACK,
    COT_K_PLACE,
    COT_K_SHUT, /* a place out of use; without `about` the house is closed */
    COT_K_RAISING,
    COT_K_STOCK,
    COT_K_PLANNED,
    COT_K_DROPPED,
    COT_K_TOTAL
};

struct cot_kind_field {
    enum cot_field field;
    bool required;
}; /* required when the entry makes a thing or stands alone */
struct cot_kind_row {
    const char *name;          /* on the wire */
    enum cot_thing_type makes; /* COT_THING_NONE: makes nothing */
    enum cot_thing_type about; /* COT_THING_NONE: no `about` allowed */
    enum cot_scope_rule see;
    unsigned by; /* who may */
    unsigned flags;
    const struct cot_kind_field *fields;
    unsigned field_count;
    const char *what; /* for people: "sowing", "stand count" */
};
const struct cot_kind_row *cot_kind_row(enum cot_kind k);
enum cot_kind cot_kind_by_name(const char *name, size_t len); /* COT_K_UNKNOWN if none */
/* Row of field f within kind k, or NULL when the kind has no such field. */
const struct cot_kind_field *cot_kind_field(enum cot_kind k, enum cot_field f);

#endif
