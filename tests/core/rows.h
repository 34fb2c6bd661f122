/* Rows made by hand, one after the other as a ledger would get them, for tests of the book. Digests are random: what
 * the book says must not depend on them but for order. */
#ifndef COT_TESTS_CORE_ROWS_H
#define COT_TESTS_CORE_ROWS_H

#include <stdlib.h>
#include <string.h>

#include "../main.h"
#include "cotyledger/core/book.h"
#include "seed.h"

#define ROWS_MAX 4096
#define ROWS_T0 INT64_C(1800000000000) /* 2027-01-15T08:00Z */
#define ROWS_DAY INT64_C(86400000)
#define ROWS_DAY0 20833 /* 2027-01-15 */

struct rows {
    struct cot_row row[ROWS_MAX];
    size_t count;
    int64_t position, now; /* ms: the server's and, unless set, everybody's clock */
    struct dice dice;
    struct cot_book *book; /* each row is put as it is made; NULL: only kept */
    struct {
        char tag[COT_TAG_MAX + 1];
        struct cot_id member, farm;
        bool buyer;
        int64_t number;
    } device[64];
    size_t devices;
    struct cot_fact f; /* being made */
    void *kept[8 * ROWS_MAX];
    size_t kept_count;
    uint32_t codes;
    struct cot_id house, manager, hand, farm, buyer; /* of rows_start */
};

static inline void *rows_keep(struct rows *r, const void *bytes, size_t n)
{
    ck_assert_uint_lt(r->kept_count, 8 * ROWS_MAX);
    void *copy = malloc(n ? n : 1);
    ck_assert_ptr_nonnull(copy);
    memcpy(copy, bytes, n);
    r->kept[r->kept_count++] = copy;
    return copy;
}

static inline struct cot_id rows_id(struct rows *r)
{
    struct cot_id id;
    for (size_t i = 0; i < sizeof id.b; i += 8) {
        uint64_t x = dice_next(&r->dice);
        memcpy(id.b + i, &x, 8);
    }
    return id;
}

/* --- The fact being made ---------------------------------------------------------------------------------------------
 */
static inline void with_int(struct rows *r, enum cot_field f, int64_t i)
{
    ck_assert(cot_fact_set_int(&r->f, f, i));
}

static inline void with_text(struct rows *r, enum cot_field f, const char *text)
{
    ck_assert(cot_fact_set_text(&r->f, f, rows_keep(r, text, strlen(text) + 1), strlen(text)));
}

static inline void with_id(struct rows *r, enum cot_field f, const struct cot_id *id)
{
    ck_assert(cot_fact_set_ids(&r->f, f, rows_keep(r, id, sizeof *id), 1));
}

static inline void with_tray(struct rows *r, int32_t tray, int32_t looked, int32_t usable)
{
    struct cot_tray_count c = {tray, looked, usable, looked - usable, 0, COT_COUNT_UNKNOWN};
    ck_assert(cot_fact_set_counts(&r->f, COT_F_COUNTS, rows_keep(r, &c, sizeof c), 1));
}

static inline void with_code(struct rows *r, const char *tag)
{
    char code[COT_CODE_TEXT];
    cot_code_make(tag, ++r->codes, code);
    with_text(r, COT_F_CODE, code);
}

static inline void about(struct rows *r, const struct cot_id *id)
{
    r->f.has_about = true;
    r->f.about = *id;
}

static inline void of_farm(struct rows *r, const struct cot_id *farm)
{
    r->f.has_farm = true;
    r->f.farm = *farm;
}

static inline void carrying(struct rows *r, const struct cot_id *digest)
{
    r->f.has_carries = true;
    r->f.carries = *digest;
}

static inline void begin(struct rows *r, const char *tag, enum cot_kind kind)
{
    size_t i = 0;
    r->now += 10; /* written after whatever was received before */
    while (i < r->devices && strcmp(r->device[i].tag, tag) != 0) i++;
    if (i == r->devices) {
        ck_assert_uint_lt(r->devices, 64);
        memset(&r->device[i], 0, sizeof r->device[i]);
        snprintf(r->device[r->devices++].tag, COT_TAG_MAX + 1, "%s", tag);
    }
    r->f = (struct cot_fact){.kind = kind, .number = ++r->device[i].number, .clock = r->now, .seen = r->position};
    snprintf(r->f.kind_name, sizeof r->f.kind_name, "%s", kind == COT_K_UNKNOWN ? "grafted" : cot_kind_row(kind)->name);
    snprintf(r->f.tag, sizeof r->f.tag, "%s", tag);
    r->f.has_member = strcmp(tag, "H") != 0;
    r->f.member = r->device[i].member;
    if (r->device[i].buyer) of_farm(r, &r->device[i].farm);
}

/* --- Ending it: as a row of the ledger, or as one not sent yet
 * --------------------------------------------------------- */
static inline struct cot_id end_row(struct rows *r, int64_t position, int64_t receipt)
{
    ck_assert_uint_lt(r->count, ROWS_MAX);
    struct cot_row *row = &r->row[r->count++];
    *row = (struct cot_row){position, receipt, rows_id(r), rows_keep(r, &r->f, sizeof r->f)};
    if (r->book) ck_assert_int_eq(cot_book_put(r->book, row), COT_OK);
    return row->digest;
}

static inline struct cot_id sent(struct rows *r)
{
    r->now += 1000;
    return end_row(r, ++r->position, r->now);
}

static inline struct cot_id unsent(struct rows *r)
{
    r->now += 1000;
    return end_row(r, 0, 0);
}

/* A fact that the entry's own check lets pass, so that only the book is asked. */
static inline struct cot_id good(struct rows *r)
{
    char flaw[160];
    ck_assert_msg(cot_fact_check(&r->f, flaw), "%s: %s", r->f.kind_name, flaw);
    return sent(r);
}

/* --- People
 * ---------------------------------------------------------------------------------------------------------------- */
static inline struct cot_id rows_member(struct rows *r, const char *by, const char *name, enum cot_part part,
                                        const struct cot_id *farm)
{
    begin(r, by, COT_K_MEMBER);
    with_text(r, COT_F_NAME, name);
    with_int(r, COT_F_PART, part);
    if (farm) of_farm(r, farm);
    return good(r);
}

static inline struct cot_id rows_device(struct rows *r, const char *tag, const struct cot_id *member,
                                        const struct cot_id *farm)
{
    begin(r, "H", COT_K_DEVICE);
    struct cot_id key = rows_id(r);
    with_id(r, COT_F_MEMBER, member);
    with_id(r, COT_F_KEY, &key);
    with_text(r, COT_F_TAG, tag);
    if (farm) of_farm(r, farm);
    struct cot_id id = good(r);
    size_t i = 0;
    while (i < r->devices && strcmp(r->device[i].tag, tag) != 0) i++;
    ck_assert_uint_lt(i, 64);
    if (i == r->devices) r->devices++;
    snprintf(r->device[i].tag, COT_TAG_MAX + 1, "%s", tag);
    r->device[i].member = *member;
    r->device[i].buyer = farm != NULL;
    if (farm) r->device[i].farm = *farm;
    return id;
}

static inline struct cot_id rows_farm(struct rows *r, const char *by, const char *name)
{
    begin(r, by, COT_K_FARM);
    with_text(r, COT_F_NAME, name);
    return good(r);
}

/* A house with a manager on device A, a hand on B, and a farm whose buyer is on C. */
static inline struct rows *rows_new(const char *what, bool with_book)
{
    struct rows *r = calloc(1, sizeof *r);
    ck_assert_ptr_nonnull(r);
    r->dice = dice_new(what);
    r->now = ROWS_T0;
    if (with_book) {
        r->book = cot_book_new(NULL);
        ck_assert_ptr_nonnull(r->book);
    }
    begin(r, "H", COT_K_HOUSE);
    struct cot_id key = rows_id(r);
    with_text(r, COT_F_NAME, "Fernhollow");
    with_id(r, COT_F_KEY, &key);
    with_int(r, COT_F_RULES, COT_RULES_VERSION);
    r->house = good(r);
    r->manager = rows_member(r, "H", "Ansa", COT_PART_MANAGER, NULL);
    rows_device(r, "A", &r->manager, NULL);
    r->hand = rows_member(r, "A", "Bero", COT_PART_HAND, NULL);
    rows_device(r, "B", &r->hand, NULL);
    r->farm = rows_farm(r, "A", "Alder Ford");
    r->buyer = rows_member(r, "A", "Celin", COT_PART_BUYER, &r->farm);
    rows_device(r, "C", &r->buyer, &r->farm);
    return r;
}

static inline void rows_free(struct rows *r)
{
    cot_book_free(r->book);
    for (size_t i = 0; i < r->kept_count; i++) free(r->kept[i]);
    free(r);
}

/* --- Things of the trade
 * ---------------------------------------------------------------------------------------------------- */
static inline struct cot_id rows_crop(struct rows *r, const char *name, int64_t tray_days)
{
    begin(r, "A", COT_K_CROP);
    with_text(r, COT_F_NAME, name);
    if (tray_days) with_int(r, COT_F_TRAY_DAYS, tray_days);
    return good(r);
}

static inline struct cot_id rows_variety(struct rows *r, const char *name, const struct cot_id *crop)
{
    begin(r, "A", COT_K_VARIETY);
    with_text(r, COT_F_NAME, name);
    with_id(r, COT_F_CROP, crop);
    return good(r);
}

static inline struct cot_id rows_format(struct rows *r, const char *name, int64_t rows, int64_t cols)
{
    begin(r, "A", COT_K_FORMAT);
    with_text(r, COT_F_NAME, name);
    with_int(r, COT_F_ROWS, rows);
    with_int(r, COT_F_COLS, cols);
    return good(r);
}

static inline struct cot_id rows_lot(struct rows *r, const char *name, const struct cot_id *variety)
{
    begin(r, "B", COT_K_LOT);
    with_text(r, COT_F_NAME, name);
    with_id(r, COT_F_VARIETY, variety);
    return good(r);
}

static inline void make_sown(struct rows *r, const char *tag, const struct cot_id *lot, const struct cot_id *format,
                             int64_t trays)
{
    begin(r, tag, COT_K_SOWN);
    with_code(r, tag);
    with_id(r, COT_F_LOT, lot);
    with_id(r, COT_F_FORMAT, format);
    with_int(r, COT_F_TRAYS, trays);
    with_int(r, COT_F_DAY, ROWS_DAY0);
}

static inline void make_line(struct rows *r, const char *tag, const struct cot_id *farm, const struct cot_id *variety,
                             int64_t plants, int64_t date)
{
    begin(r, tag, COT_K_LINE);
    with_code(r, tag);
    with_id(r, COT_F_VARIETY, variety);
    with_int(r, COT_F_PLANTS, plants);
    with_int(r, COT_F_DATE, date);
    of_farm(r, farm);
}

static inline void make_handed(struct rows *r, const char *tag, const struct cot_id *farm, const struct cot_id *line,
                               const struct cot_id *batch, int64_t plants)
{
    begin(r, tag, COT_K_HANDED);
    with_id(r, COT_F_LINE, line);
    with_id(r, COT_F_BATCH, batch);
    with_int(r, COT_F_DAY, ROWS_DAY0 + 30);
    with_int(r, COT_F_PLANTS, plants);
    of_farm(r, farm);
    r->now = r->now < ROWS_T0 + 30 * ROWS_DAY ? ROWS_T0 + 30 * ROWS_DAY : r->now;
    r->f.clock = r->now;
}

static inline void make_count(struct rows *r, const char *tag, const struct cot_id *batch, int32_t tray, int32_t looked,
                              int32_t usable)
{
    begin(r, tag, COT_K_COUNT);
    about(r, batch);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    with_tray(r, tray, looked, usable);
}

static inline struct cot_id answer(struct rows *r, const char *tag, const struct cot_id *entry, bool aside,
                                   const struct cot_id *farm)
{
    begin(r, tag, COT_K_ANSWER);
    about(r, entry);
    with_int(r, COT_F_AS, aside);
    if (farm) of_farm(r, farm);
    return good(r);
}

static inline struct cot_id take_back(struct rows *r, const char *tag, const struct cot_id *entry,
                                      const struct cot_id *farm)
{
    begin(r, tag, COT_K_TAKEN_BACK);
    about(r, entry);
    if (farm) of_farm(r, farm);
    return good(r);
}

/* --- Asking
 * ---------------------------------------------------------------------------------------------------------------- */
static inline struct cot_note became(struct rows *r, const struct cot_id *entry)
{
    struct cot_note n;
    memset(&n, 0, sizeof n);
    ck_assert(cot_book_verdict(r->book, entry, &n));
    return n;
}

#define ck_verdict(r, id, v)                                                                                           \
    do {                                                                                                               \
        struct cot_note note_ = became(r, &(id));                                                                      \
        ck_assert_msg(note_.verdict == (v), "verdict %d, not %d: \"%s\"", note_.verdict, v, note_.reason);             \
    } while (0)
#define ck_queried(r, id, words)                                                                                       \
    do {                                                                                                               \
        struct cot_note note_ = became(r, &(id));                                                                      \
        ck_assert_int_eq(note_.verdict, COT_QUERIED);                                                                  \
        ck_assert_str_eq(note_.reason, words);                                                                         \
    } while (0)
#define ck_flags(r, id, f) ck_assert_uint_eq(became(r, &(id)).flags, f)

static inline int64_t stands(struct rows *r, const struct cot_id *thing, enum cot_field f)
{
    const struct cot_thing *t = cot_book_thing(r->book, thing);
    ck_assert_ptr_nonnull(t);
    return cot_thing_int(t, f, -1);
}

#endif
