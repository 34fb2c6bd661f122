/* A small house's season as rows, for tests that read a book: the same rows can be put again in any order. */
#ifndef COT_TESTS_CORE_SEASON_H
#define COT_TESTS_CORE_SEASON_H

#include <stdlib.h>
#include <string.h>

#include "../main.h"
#include "cotyledger/core/book.h"
#include "seed.h"

#ifndef SEASON_ROWS
#define SEASON_ROWS 4000
#endif
#define SEASON_T0 INT64_C(1800000000000) /* 2027-01-15 */

struct season {
    struct cot_row row[SEASON_ROWS];
    struct cot_fact *fact[SEASON_ROWS];
    size_t rows;
    int64_t t, number_h, number_a;
    struct dice dice;
    struct cot_id member;
    struct cot_fact next; /* being made */
    char code[SEASON_ROWS][COT_CODE_TEXT];
    uint32_t codes;
    struct cot_id kept[4 * SEASON_ROWS]; /* what facts point at */
    size_t kept_count;
};

static inline struct cot_id season_id(struct season *s)
{
    struct cot_id id;
    for (size_t i = 0; i < sizeof id.b; i += 8) {
        uint64_t x = dice_next(&s->dice);
        memcpy(id.b + i, &x, 8);
    }
    return id;
}

static inline struct cot_fact *make(struct season *s, enum cot_kind kind)
{
    s->next = (struct cot_fact){.kind = kind};
    snprintf(s->next.kind_name, sizeof s->next.kind_name, "%s", cot_kind_row(kind)->name);
    return &s->next;
}

static inline void say(struct season *s, enum cot_field f, int64_t i)
{
    ck_assert(cot_fact_set_int(&s->next, f, i));
}

/* `text` must outlive the season: a literal, or one of the caller's. */
static inline void name(struct season *s, enum cot_field f, const char *text)
{
    ck_assert(cot_fact_set_text(&s->next, f, text, strlen(text)));
}

static inline void point(struct season *s, enum cot_field f, const struct cot_id *id)
{
    ck_assert_uint_lt(s->kept_count, 4 * SEASON_ROWS);
    struct cot_id *kept = &s->kept[s->kept_count++];
    *kept = *id;
    ck_assert(cot_fact_set_ids(&s->next, f, kept, 1));
}

static inline void about(struct season *s, const struct cot_id *id)
{
    s->next.has_about = true;
    s->next.about = *id;
}

static inline void of_farm(struct season *s, const struct cot_id *id)
{
    s->next.has_farm = true;
    s->next.farm = *id;
}

/* Writes what was made as the next row, by the house ("H") or the manager's device ("A"); `sent` false: an unsent
 * entry. */
static inline const struct cot_id *season_put(struct season *s, bool house, bool sent)
{
    ck_assert_uint_lt(s->rows, SEASON_ROWS);
    struct cot_fact *f = malloc(sizeof *f);
    ck_assert_ptr_nonnull(f);
    s->t += 60000;
    *f = s->next;
    memcpy(f->tag, house ? "H" : "A", 2);
    f->number = house ? ++s->number_h : ++s->number_a;
    f->clock = s->t;
    f->seen = (int64_t)s->rows;
    memset(f->house.b, 7, sizeof f->house.b);
    if (!house) {
        f->has_member = true;
        f->member = s->member;
        char flaw[160];
        ck_assert_msg(cot_fact_check(f, flaw), "%s: %s", f->kind_name, flaw);
    }
    struct cot_row *r = &s->row[s->rows];
    s->fact[s->rows] = f;
    *r = (struct cot_row){.position = sent ? (int64_t)s->rows + 1 : 0,
                          .receipt = sent ? s->t + 500 : 0,
                          .digest = season_id(s),
                          .fact = f};
    s->rows++;
    return &r->digest;
}

static inline const struct cot_id *done(struct season *s)
{
    return season_put(s, false, true);
}

static inline void season_new(struct season *s, uint64_t seed)
{
    memset(s, 0, sizeof *s);
    s->t = SEASON_T0;
    s->dice.s = seed ^ UINT64_C(0x5ca1ab1e0ddba11); /* no stream that a test draws from by itself */
    struct cot_id key = season_id(s);
    make(s, COT_K_HOUSE);
    name(s, COT_F_NAME, "Fernleigh Starts");
    point(s, COT_F_KEY, &key);
    say(s, COT_F_RULES, COT_RULES_VERSION);
    season_put(s, true, true);
    make(s, COT_K_MEMBER);
    name(s, COT_F_NAME, "Ada");
    say(s, COT_F_PART, COT_PART_MANAGER);
    s->member = *season_put(s, true, true);
    make(s, COT_K_DEVICE);
    point(s, COT_F_MEMBER, &s->member);
    point(s, COT_F_KEY, &key);
    name(s, COT_F_TAG, "A");
    season_put(s, true, true);
}

static inline void season_free(struct season *s)
{
    for (size_t i = 0; i < s->rows; i++) free(s->fact[i]);
}

/* A book of the rows; `order` NULL: as they were written. */
static inline struct cot_book *season_book(const struct season *s, const size_t *order)
{
    struct cot_book *b = cot_book_new(NULL);
    ck_assert_ptr_nonnull(b);
    for (size_t i = 0; i < s->rows; i++) ck_assert_int_eq(cot_book_put(b, &s->row[order ? order[i] : i]), COT_OK);
    size_t n;
    const struct cot_note *notes = cot_book_notes(b, &n);
    for (size_t i = 0; i < n; i++)
        if (notes[i].verdict == COT_QUERIED)
            ck_abort_msg("%s was queried: %s", notes[i].fact->kind_name, notes[i].reason);
    return b;
}

/* The next code on a tag. */
static inline void new_code(struct season *s)
{
    char *text = s->code[s->codes++];
    cot_code_make("A", s->codes, text);
    name(s, COT_F_CODE, text);
}

/* --- Things
 * -------------------------------------------------------------------------------------------------------------- */
static inline struct cot_id add_named(struct season *s, enum cot_kind kind, const char *text)
{
    make(s, kind);
    name(s, COT_F_NAME, text);
    return *done(s);
}

static inline void start_crop(struct season *s, const char *text, int tray_days, int tray_days_max)
{
    make(s, COT_K_CROP);
    name(s, COT_F_NAME, text);
    say(s, COT_F_TRAY_DAYS, tray_days);
    say(s, COT_F_TRAY_DAYS_MAX, tray_days_max);
    say(s, COT_F_COUNT_DAYS, 12);
}

static inline struct cot_id add_crop(struct season *s, const char *text, int tray_days, int tray_days_max)
{
    start_crop(s, text, tray_days, tray_days_max);
    return *done(s);
}

static inline struct cot_id add_variety(struct season *s, const char *text, const struct cot_id *crop)
{
    make(s, COT_K_VARIETY);
    name(s, COT_F_NAME, text);
    point(s, COT_F_CROP, crop);
    return *done(s);
}

static inline struct cot_id add_format(struct season *s, const char *text, int rows, int cols)
{
    make(s, COT_K_FORMAT);
    name(s, COT_F_NAME, text);
    say(s, COT_F_ROWS, rows);
    say(s, COT_F_COLS, cols);
    return *done(s);
}

/* A lot tested: `germinated` of 400. */
static inline void start_lot(struct season *s, const char *text, const struct cot_id *variety, int germinated)
{
    make(s, COT_K_LOT);
    name(s, COT_F_NAME, text);
    point(s, COT_F_VARIETY, variety);
    say(s, COT_F_TEST_SEEDS, 400);
    say(s, COT_F_TEST_GERM, germinated);
}

static inline void start_sown(struct season *s, const struct cot_id *lot, const struct cot_id *format, int trays,
                              int32_t day)
{
    make(s, COT_K_SOWN);
    new_code(s);
    point(s, COT_F_LOT, lot);
    point(s, COT_F_FORMAT, format);
    say(s, COT_F_TRAYS, trays);
    say(s, COT_F_DAY, day);
}

static inline void start_line(struct season *s, const struct cot_id *farm, const struct cot_id *variety, int plants,
                              int32_t day)
{
    make(s, COT_K_LINE);
    of_farm(s, farm);
    new_code(s);
    point(s, COT_F_VARIETY, variety);
    say(s, COT_F_PLANTS, plants);
    say(s, COT_F_DATE, day);
}

static inline void promise(struct season *s, const struct cot_id *line, const struct cot_id *farm, int plants)
{
    make(s, COT_K_PROMISE);
    of_farm(s, farm);
    about(s, line);
    say(s, COT_F_PLANTS, plants);
    done(s);
}

static inline struct cot_id hand_over(struct season *s, const struct cot_id *line, const struct cot_id *farm,
                                      const struct cot_id *batch, int plants, int32_t day)
{
    make(s, COT_K_HANDED);
    of_farm(s, farm);
    point(s, COT_F_LINE, line);
    point(s, COT_F_BATCH, batch);
    say(s, COT_F_PLANTS, plants);
    say(s, COT_F_DAY, day);
    return *done(s);
}

#endif
