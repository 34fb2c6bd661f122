/* The table of kinds and fields. A new kind or field is added here and nowhere else; the order is frozen, since the
 * order of fields is the order in which entries are written. */
#include "cotyledger/core/kind.h"

#include <string.h>

static const struct cot_field_row field_table[COT_F_COUNT] = {
#define COT_X(N, w, t, lo, hi, u, d) [COT_F_##N] = {w, COT_T_##t, lo, hi, u, d},
    COT_FIELDS(COT_X)
#undef COT_X
};

#define NEED(N)                                                                                                        \
    {                                                                                                                  \
        COT_F_##N, true                                                                                                \
    }
#define MAY(N)                                                                                                         \
    {                                                                                                                  \
        COT_F_##N, false                                                                                               \
    }
#define FIELDS(kind) static const struct cot_kind_field kind##_fields[]

FIELDS(house) = {NEED(NAME), NEED(KEY), NEED(RULES)};
FIELDS(rule) = {MAY(NAME),          MAY(CONFIDENCE),     MAY(SHARE),       MAY(TRAY_MEANS), MAY(CLOSING_DAYS),
                MAY(UTC_OFFSET),    MAY(ASSUMED_SEEDS),  MAY(UNIT),        MAY(WORK_DAYS),  MAY(TRAYS_A_DAY),
                MAY(TEST_AGE),      MAY(LENGTH_UM),      MAY(WIDTH_UM),    MAY(UNITS),      MAY(BAG_L),
                MAY(DELIVERY_DAYS), MAY(SOWING_MINUTES), MAY(TRAY_MINUTES)};
FIELDS(member) = {NEED(NAME), NEED(PART)};
FIELDS(device) = {NEED(MEMBER), NEED(KEY), NEED(TAG), MAY(LABEL)};
FIELDS(closed) = {MAY(WHY)};
FIELDS(answer) = {NEED(AS), MAY(WHY)};
FIELDS(erased) = {MAY(WHY)};
FIELDS(farm) = {NEED(NAME), MAY(CONTACT), MAY(OWN)};
FIELDS(crop) = {NEED(NAME),         MAY(LATIN),        MAY(SEEDS_PER_G), MAY(TRAY_DAYS),
                MAY(TRAY_DAYS_MAX), MAY(CHAMBER_DAYS), MAY(COUNT_DAYS),  MAY(HARDEN_DAYS),
                MAY(EMERGENCE),     MAY(USABLE_SHARE), MAY(MIN_GERM),    MAY(SOURCE),
                MAY(SHAPE),         MAY(EMERGE_DAYS),  MAY(LATER_LOSS),  MAY(GROUP)};
FIELDS(variety) = {NEED(NAME), NEED(CROP)};
FIELDS(format) = {NEED(NAME),    NEED(ROWS),   NEED(COLS),       MAY(CELL_UL), MAY(LENGTH_UM),
                  MAY(WIDTH_UM), MAY(PATTERN), MAY(TRAY_PLANTS), MAY(SOURCE)};
FIELDS(plate) = {NEED(NAME), NEED(CELLS), NEED(HOLES), MAY(HOLE_UM), MAY(PATTERN), MAY(MISSES), MAY(TWOS)};
FIELDS(lot) = {NEED(NAME),       NEED(VARIETY),   MAY(FORM),      MAY(TREATED),    MAY(TREATMENT),  MAY(ORGANIC),
               MAY(OWNER),       MAY(TEST_SEEDS), MAY(TEST_GERM), MAY(LABEL_GERM), MAY(TEST_DAY),   MAY(SEEDS_PER_G),
               MAY(STOCK_SEEDS), MAY(STOCK_MG),   MAY(USE_BY),    MAY(WITHDRAWN),  MAY(REPLICATES), MAY(SUPPLIER)};
FIELDS(line) = {NEED(CODE),   NEED(VARIETY), MAY(PLANTS),   MAY(TRAYS),   MAY(FORMAT), NEED(DATE),
                MAY(EARLY),   MAY(LATE),     MAY(LEAST),    MAY(SUBS),    MAY(REF),    MAY(UNTREATED),
                MAY(ORGANIC), MAY(OWN_SEED), MAY(PRIORITY), MAY(CLOSING), MAY(TEXT),   MAY(WAIT_UNTIL)};
FIELDS(withdrawn) = {MAY(WHY)};
FIELDS(promise) = {NEED(PLANTS), MAY(DATE), MAY(TEXT)};
FIELDS(declined) = {MAY(WHY)};
FIELDS(sown) = {NEED(CODE),  NEED(LOT),  NEED(FORMAT),  MAY(TRAYS),     MAY(TRAY_ROWS),
                MAY(SHARED), MAY(PLATE), MAY(PER_CELL), MAY(AT_LEAST),  NEED(DAY),
                MAY(READY),  MAY(BENCH), MAY(TEXT),     MAY(PUT_RIGHT), MAY(PLANNED)};
FIELDS(potted) = {NEED(CODE), NEED(BATCH), NEED(FORMAT), NEED(TRAYS), NEED(PLANTS),
                  MAY(LOST),  NEED(DAY),   MAY(READY),   MAY(BENCH),  MAY(TEXT)};
FIELDS(count) = {NEED(DAY),   MAY(COUNTS), MAY(TRAYS),   MAY(LOOKED), MAY(USABLE),
                 MAY(BLANKS), MAY(CULLS),  MAY(DOUBLES), MAY(TEXT),   MAY(PICKED)};
FIELDS(lost) = {NEED(DAY), MAY(TRAYS), MAY(PLANTS), MAY(WHICH), MAY(WERE_USABLE), NEED(WHY)};
FIELDS(patched) = {NEED(DAY), NEED(PLANTS), MAY(WHICH), MAY(TEXT)};
FIELDS(thinned) = {NEED(DAY), NEED(PLANTS), MAY(WHICH), MAY(TEXT)};
FIELDS(moved) = {NEED(DAY), NEED(BENCH), MAY(WHICH), MAY(TEXT)};
FIELDS(held) = {NEED(DAY), MAY(UNTIL), NEED(WHY)};
FIELDS(released) = {NEED(DAY), MAY(TEXT)};
FIELDS(handed) = {NEED(LINE), NEED(BATCH), NEED(DAY), MAY(TRAYS), NEED(PLANTS), MAY(OWED), MAY(TEXT)};
FIELDS(back) = {NEED(DAY), NEED(PLANTS), MAY(TRAYS), MAY(WERE_USABLE), NEED(WHY)};
FIELDS(empties) = {NEED(DAY), NEED(TRAYS), MAY(FORMAT), MAY(TEXT)};
FIELDS(note) = {NEED(TEXT)};
FIELDS(taken_back) = {MAY(WHY)};
FIELDS(place) = {NEED(NAME), NEED(SORT), NEED(SPOTS), MAY(GROUP), MAY(FROM), MAY(UNTIL), MAY(TEXT), MAY(CELSIUS)};
FIELDS(shut) = {NEED(FROM), MAY(UNTIL), MAY(WHY)};
FIELDS(raising) = {NEED(NAME),         NEED(CROP),        MAY(FORMAT),   MAY(FROM_WEEK),  MAY(TO_WEEK), MAY(TRAY_DAYS),
                   MAY(TRAY_DAYS_MAX), MAY(CHAMBER_DAYS), MAY(POT_DAYS), MAY(POT_FORMAT), MAY(SOURCE)};
FIELDS(stock) = {NEED(DAY), MAY(MIX_L), MAY(LABELS), MAY(TRAYS), MAY(FORMAT), MAY(TEXT)};
FIELDS(planned) = {NEED(CODE), NEED(LOT),     NEED(FORMAT),  MAY(TRAYS),    MAY(TRAY_ROWS), MAY(SHARED),
                   MAY(PLATE), MAY(PER_CELL), MAY(AT_LEAST), NEED(SOW_DAY), MAY(READY),     MAY(BENCH),
                   MAY(LINES), MAY(PINS),     MAY(TEXT),     MAY(CHAMBER),  MAY(FRAME)};
FIELDS(dropped) = {MAY(WHY)};

#define F(kind) kind##_fields, sizeof kind##_fields / sizeof kind##_fields[0]

static const struct cot_kind_row kind_table[COT_K_TOTAL] = {
    [COT_K_UNKNOWN] = {"", COT_THING_NONE, COT_THING_NONE, COT_SEE_FARM_OR_HOUSE, 0, 0, NULL, 0,
                       "entry of an unknown kind"},
    [COT_K_HOUSE] = {"house", COT_THING_HOUSE, COT_THING_NONE, COT_SEE_CATALOGUE, COT_BY_HOUSE, COT_KIND_ADMIN,
                     F(house), "founding"},
    [COT_K_RULE] = {"rule", COT_THING_NONE, COT_THING_HOUSE, COT_SEE_CATALOGUE, COT_BY_HOUSE | COT_BY_MANAGER,
                    COT_KIND_ADMIN, F(rule), "house rule"},
    [COT_K_MEMBER] = {"member", COT_THING_MEMBER, COT_THING_MEMBER, COT_SEE_FARM_OR_CATALOGUE,
                      COT_BY_HOUSE | COT_BY_MANAGER, COT_KIND_ADMIN | COT_KIND_ABOUT_OPTIONAL, F(member), "member"},
    [COT_K_DEVICE] = {"device", COT_THING_DEVICE, COT_THING_NONE, COT_SEE_FARM_OR_CATALOGUE, COT_BY_HOUSE,
                      COT_KIND_ADMIN, F(device), "device joined"},
    [COT_K_CLOSED] = {"closed", COT_THING_NONE, COT_THING_DEVICE, COT_SEE_FARM_OR_CATALOGUE,
                      COT_BY_HOUSE | COT_BY_MANAGER, COT_KIND_ADMIN, F(closed), "device closed"},
    [COT_K_ANSWER] = {"answer", COT_THING_NONE, COT_THING_ENTRY, COT_SEE_FARM_OR_HOUSE, COT_BY_MANAGER, 0, F(answer),
                      "answer"},
    [COT_K_ERASED] = {"erased", COT_THING_NONE, COT_THING_ENTRY, COT_SEE_FARM_OR_HOUSE, COT_BY_MANAGER, COT_KIND_ADMIN,
                      F(erased), "erasure"},
    [COT_K_FARM] = {"farm", COT_THING_FARM, COT_THING_FARM, COT_SEE_FARM, COT_BY_MANAGER, COT_KIND_ABOUT_OPTIONAL,
                    F(farm), "farm"},
    [COT_K_CROP] = {"crop", COT_THING_CROP, COT_THING_CROP, COT_SEE_CATALOGUE, COT_BY_MANAGER, COT_KIND_ABOUT_OPTIONAL,
                    F(crop), "crop"},
    [COT_K_VARIETY] = {"variety", COT_THING_VARIETY, COT_THING_VARIETY, COT_SEE_CATALOGUE, COT_BY_MANAGER,
                       COT_KIND_ABOUT_OPTIONAL, F(variety), "variety"},
    [COT_K_FORMAT] = {"format", COT_THING_FORMAT, COT_THING_FORMAT, COT_SEE_CATALOGUE, COT_BY_MANAGER,
                      COT_KIND_ABOUT_OPTIONAL, F(format), "tray format"},
    [COT_K_PLATE] = {"plate", COT_THING_PLATE, COT_THING_PLATE, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_ABOUT_OPTIONAL,
                     F(plate), "seeder plate"},
    [COT_K_LOT] = {"lot", COT_THING_LOT, COT_THING_LOT, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_ABOUT_OPTIONAL, F(lot),
                   "seed lot"},
    [COT_K_LINE] = {"line", COT_THING_LINE, COT_THING_LINE, COT_SEE_FARM, COT_BY_ORDERER, COT_KIND_ABOUT_OPTIONAL,
                    F(line), "order line"},
    [COT_K_WITHDRAWN] = {"withdrawn", COT_THING_NONE, COT_THING_LINE, COT_SEE_FARM, COT_BY_ORDERER, 0, F(withdrawn),
                         "withdrawal"},
    [COT_K_PROMISE] = {"promise", COT_THING_NONE, COT_THING_LINE, COT_SEE_FARM, COT_BY_MANAGER, 0, F(promise),
                       "promise"},
    [COT_K_DECLINED] = {"declined", COT_THING_NONE, COT_THING_LINE, COT_SEE_FARM, COT_BY_MANAGER, 0, F(declined),
                        "refusal"},
    [COT_K_SOWN] = {"sown", COT_THING_BATCH, COT_THING_NONE, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL, F(sown),
                    "sowing"},
    [COT_K_POTTED] = {"potted", COT_THING_BATCH, COT_THING_NONE, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL,
                      F(potted), "potting on"},
    [COT_K_COUNT] = {"count", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL, F(count),
                     "stand count"},
    [COT_K_LOST] = {"lost", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL, F(lost),
                    "loss"},
    [COT_K_PATCHED] = {"patched", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL,
                       F(patched), "patching"},
    [COT_K_THINNED] = {"thinned", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL,
                       F(thinned), "thinning"},
    [COT_K_MOVED] = {"moved", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL, F(moved),
                     "move"},
    [COT_K_HELD] = {"held", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL, F(held),
                    "hold"},
    [COT_K_RELEASED] = {"released", COT_THING_NONE, COT_THING_BATCH, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL,
                        F(released), "release"},
    [COT_K_HANDED] = {"handed", COT_THING_HANDOVER, COT_THING_NONE, COT_SEE_FARM, COT_BY_STAFF, COT_KIND_PHYSICAL,
                      F(handed), "hand-over"},
    [COT_K_BACK] = {"back", COT_THING_NONE, COT_THING_HANDOVER, COT_SEE_FARM, COT_BY_STAFF, COT_KIND_PHYSICAL, F(back),
                    "plants brought back"},
    [COT_K_EMPTIES] = {"empties", COT_THING_NONE, COT_THING_NONE, COT_SEE_FARM, COT_BY_STAFF, COT_KIND_PHYSICAL,
                       F(empties), "empty trays returned"},
    [COT_K_NOTE] = {"note", COT_THING_NONE, COT_THING_ENTRY, COT_SEE_FARM_OR_HOUSE, COT_BY_ORDERER,
                    COT_KIND_ABOUT_OPTIONAL, F(note), "note"},
    [COT_K_TAKEN_BACK] = {"taken-back", COT_THING_NONE, COT_THING_ENTRY, COT_SEE_FARM_OR_HOUSE, COT_BY_ORDERER, 0,
                          F(taken_back), "taking back"},
    [COT_K_PLACE] = {"place", COT_THING_PLACE, COT_THING_PLACE, COT_SEE_HOUSE, COT_BY_MANAGER, COT_KIND_ABOUT_OPTIONAL,
                     F(place), "place"},
    [COT_K_SHUT] = {"shut", COT_THING_NONE, COT_THING_PLACE, COT_SEE_HOUSE, COT_BY_MANAGER, COT_KIND_ABOUT_OPTIONAL,
                    F(shut), "closing"},
    [COT_K_RAISING] = {"raising", COT_THING_RAISING, COT_THING_RAISING, COT_SEE_HOUSE, COT_BY_MANAGER,
                       COT_KIND_ABOUT_OPTIONAL, F(raising), "raising days"},
    [COT_K_STOCK] = {"stock", COT_THING_NONE, COT_THING_NONE, COT_SEE_HOUSE, COT_BY_STAFF, COT_KIND_PHYSICAL, F(stock),
                     "stock on hand"},
    [COT_K_PLANNED] = {"planned", COT_THING_PLANNED, COT_THING_PLANNED, COT_SEE_HOUSE, COT_BY_MANAGER,
                       COT_KIND_ABOUT_OPTIONAL, F(planned), "planned sowing"},
    [COT_K_DROPPED] = {"dropped", COT_THING_NONE, COT_THING_PLANNED, COT_SEE_HOUSE, COT_BY_MANAGER, 0, F(dropped),
                       "planned sowing dropped"},
};

static const char *const thing_words[COT_THING_COUNT] = {
    "thing",    "house",      "member", "device",    "farm",  "crop",  "variety",      "tray format",    "seeder plate",
    "seed lot", "order line", "batch",  "hand-over", "entry", "place", "raising days", "planned sowing",
};

const struct cot_field_row *cot_field_row(enum cot_field f)
{
    return (unsigned)f < COT_F_COUNT ? &field_table[f] : NULL;
}

bool cot_field_by_name(const char *name, size_t len, enum cot_field *f)
{
    for (unsigned i = 0; i < COT_F_COUNT; i++) {
        if (strlen(field_table[i].name) == len && memcmp(field_table[i].name, name, len) == 0) {
            *f = (enum cot_field)i;
            return true;
        }
    }
    return false;
}

/* The word that starts at `*at` of a list separated by '|'; moves *at past it. NULL at the end. */
static const char *next_word(const char **at, size_t *len)
{
    const char *start = *at;
    if (*start == '\0') return NULL;
    *len = strcspn(start, "|");
    *at = start + *len + (start[*len] == '|');
    return start;
}

int cot_word_index(enum cot_field f, const char *word, size_t len)
{
    const struct cot_field_row *row = cot_field_row(f);
    if (!row || row->type != COT_T_WORD) return -1;
    const char *at = row->unit, *w;
    size_t n;
    for (int i = 0; (w = next_word(&at, &n)) != NULL; i++)
        if (n == len && memcmp(w, word, n) == 0) return i;
    return -1;
}

void cot_word_text(enum cot_field f, int index, char out[static 16])
{
    const struct cot_field_row *row = cot_field_row(f);
    memcpy(out, "?", 2);
    if (!row || row->type != COT_T_WORD) return;
    const char *at = row->unit, *w;
    size_t n;
    for (int i = 0; (w = next_word(&at, &n)) != NULL; i++) {
        if (i != index || n >= 16) continue;
        memcpy(out, w, n);
        out[n] = '\0';
    }
}

const char *cot_thing_word(enum cot_thing_type t)
{
    return (unsigned)t < COT_THING_COUNT ? thing_words[t] : thing_words[0];
}

const struct cot_kind_row *cot_kind_row(enum cot_kind k)
{
    return (unsigned)k < COT_K_TOTAL ? &kind_table[k] : &kind_table[COT_K_UNKNOWN];
}

enum cot_kind cot_kind_by_name(const char *name, size_t len)
{
    for (int k = COT_K_UNKNOWN + 1; k < COT_K_TOTAL; k++)
        if (strlen(kind_table[k].name) == len && memcmp(kind_table[k].name, name, len) == 0) return (enum cot_kind)k;
    return COT_K_UNKNOWN;
}

const struct cot_kind_field *cot_kind_field(enum cot_kind k, enum cot_field f)
{
    const struct cot_kind_row *row = cot_kind_row(k);
    for (unsigned i = 0; i < row->field_count; i++)
        if (row->fields[i].field == f) return &row->fields[i];
    return NULL;
}
