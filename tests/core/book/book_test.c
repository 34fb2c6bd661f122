/* The book: what stands in things, who may, what makes sense, what became of each entry. */
#include "../rows.h"

/* The trade of a small house, for the tests that need one. */
struct shop {
    struct cot_id crop, variety, format, lot, batch, line;
};

static struct rows *open_shop(const char *what, struct shop *s)
{
    struct rows *r = rows_new(what, true);
    s->crop = rows_crop(r, "Lettuce", 28);
    s->variety = rows_variety(r, "Red Harbour", &s->crop);
    s->format = rows_format(r, "72 square", 6, 12);
    s->lot = rows_lot(r, "RH-1", &s->variety);
    make_sown(r, "B", &s->lot, &s->format, 4);
    s->batch = good(r);
    make_line(r, "A", &r->farm, &s->variety, 200, ROWS_DAY0 + 40);
    s->line = good(r);
    return r;
}

/* --- Things
 * ---------------------------------------------------------------------------------------------------------------- */
START_TEST(things_and_fields)
{
    struct shop s;
    struct rows *r = open_shop("things", &s);
    size_t n;
    const struct cot_thing *const *all = cot_book_things(r->book, COT_THING_BATCH, &n);
    ck_assert_uint_eq(n, 1);
    ck_assert_int_eq(cot_id_cmp(&all[0]->id, &s.batch), 0);
    ck_assert_int_eq(cot_thing_int(all[0], COT_F_TRAYS, 0), 4);
    ck_assert_int_eq(cot_id_cmp(cot_thing_id(all[0], COT_F_LOT), &s.lot), 0);
    ck_assert_ptr_null(cot_thing_id(all[0], COT_F_PLATE));
    ck_assert_int_eq(cot_thing_int(all[0], COT_F_READY, -7), -7);
    ck_assert_str_eq(cot_thing_text(all[0], COT_F_BENCH), "");
    ck_assert_str_eq(cot_thing_name(cot_book_thing(r->book, &s.variety)), "Red Harbour");
    ck_assert_str_eq(cot_thing_name(all[0]), cot_thing_text(all[0], COT_F_CODE));
    ck_assert_int_eq(cot_id_cmp(&cot_book_thing(r->book, &s.line)->farm, &r->farm), 0);
    ck_assert_int_eq(cot_id_cmp(&cot_book_thing(r->book, &r->farm)->farm, &r->farm), 0);
    ck_assert_ptr_null(cot_book_things(r->book, COT_THING_HANDOVER, &n));
    ck_assert_uint_eq(n, 0);
    cot_book_notes(r->book, &n);
    ck_assert_uint_eq(n, 0);
    rows_free(r);
}
END_TEST

START_TEST(things_sorted_by_identity)
{
    struct rows *r = rows_new("sorted", true);
    for (int i = 0; i < 50; i++) rows_crop(r, "Crop", 10);
    size_t n;
    const struct cot_thing *const *all = cot_book_things(r->book, COT_THING_CROP, &n);
    ck_assert_uint_eq(n, 50);
    for (size_t i = 1; i < n; i++) ck_assert_int_lt(cot_id_cmp(&all[i - 1]->id, &all[i]->id), 0);
    rows_free(r);
}
END_TEST

static struct cot_id change_crop(struct rows *r, const char *tag, const struct cot_id *crop, enum cot_field f,
                                 int64_t i)
{
    begin(r, tag, COT_K_CROP);
    about(r, crop);
    with_int(r, f, i);
    return good(r);
}

START_TEST(later_place_stands)
{
    struct shop s;
    struct rows *r = open_shop("registers", &s);
    change_crop(r, "A", &s.crop, COT_F_TRAY_DAYS, 30);
    ck_assert_int_eq(stands(r, &s.crop, COT_F_TRAY_DAYS), 30);
    /* An entry from a clock that is behind: arrived later, but of an earlier place. */
    begin(r, "A", COT_K_CROP);
    about(r, &s.crop);
    with_int(r, COT_F_TRAY_DAYS, 44);
    with_int(r, COT_F_COUNT_DAYS, 9);
    r->f.clock = ROWS_T0;
    good(r);
    ck_assert_int_eq(stands(r, &s.crop, COT_F_TRAY_DAYS), 30);
    ck_assert_int_eq(stands(r, &s.crop, COT_F_COUNT_DAYS), 9);
    /* A clock that is ahead is held to the receipt. */
    begin(r, "A", COT_K_CROP);
    about(r, &s.crop);
    with_int(r, COT_F_TRAY_DAYS, 50);
    r->f.clock = r->now + 90 * ROWS_DAY;
    good(r);
    change_crop(r, "A", &s.crop, COT_F_TRAY_DAYS, 33);
    ck_assert_int_eq(stands(r, &s.crop, COT_F_TRAY_DAYS), 33);
    rows_free(r);
}
END_TEST

START_TEST(cleared_fields)
{
    struct shop s;
    struct rows *r = open_shop("cleared", &s);
    begin(r, "A", COT_K_CROP);
    about(r, &s.crop);
    ck_assert(cot_fact_clear(&r->f, COT_F_TRAY_DAYS));
    good(r);
    ck_assert_ptr_null(cot_thing_value(cot_book_thing(r->book, &s.crop), COT_F_TRAY_DAYS));
    ck_assert_str_eq(cot_thing_name(cot_book_thing(r->book, &s.crop)), "Lettuce");
    rows_free(r);
}
END_TEST

START_TEST(plants_or_trays)
{
    struct shop s;
    struct rows *r = open_shop("plants or trays", &s);
    begin(r, "A", COT_K_LINE);
    about(r, &s.line);
    of_farm(r, &r->farm);
    with_int(r, COT_F_TRAYS, 3);
    with_id(r, COT_F_FORMAT, &s.format);
    good(r);
    const struct cot_thing *line = cot_book_thing(r->book, &s.line);
    ck_assert_int_eq(cot_thing_int(line, COT_F_TRAYS, -1), 3);
    ck_assert_ptr_null(cot_thing_value(line, COT_F_PLANTS));
    rows_free(r);
}
END_TEST

START_TEST(house_rules)
{
    struct rows *r = rows_new("rules", true);
    begin(r, "A", COT_K_RULE);
    with_int(r, COT_F_CONFIDENCE, 950);
    with_int(r, COT_F_UTC_OFFSET, 60);
    good(r);
    const struct cot_thing *house = cot_book_house(r->book);
    ck_assert_ptr_nonnull(house);
    ck_assert_str_eq(cot_thing_name(house), "Fernhollow");
    ck_assert_int_eq(cot_thing_int(house, COT_F_CONFIDENCE, 0), 950);
    begin(r, "A", COT_K_RULE);
    with_int(r, COT_F_CONFIDENCE, 900);
    about(r, &r->house);
    good(r);
    house = cot_book_house(r->book);
    ck_assert_int_eq(cot_thing_int(house, COT_F_CONFIDENCE, 0), 900);
    ck_assert_int_eq(cot_thing_int(house, COT_F_UTC_OFFSET, 0), 60);
    struct cot_book *empty = cot_book_new(NULL);
    ck_assert_ptr_null(cot_book_house(empty));
    cot_book_free(empty);
    rows_free(r);
}
END_TEST

START_TEST(history_in_order_of_place)
{
    struct shop s;
    struct rows *r = open_shop("history", &s);
    size_t n;
    make_count(r, "B", &s.batch, 1, 72, 70);
    struct cot_id second = good(r);
    make_count(r, "B", &s.batch, 2, 72, 68);
    r->f.clock = ROWS_T0; /* of an earlier place than its batch: still behind the making */
    struct cot_id first = good(r);
    begin(r, "B", COT_K_NOTE);
    about(r, &s.batch);
    with_text(r, COT_F_TEXT, "a slow corner");
    struct cot_id note = good(r);
    make_handed(r, "B", &r->farm, &s.line, &s.batch, 60);
    struct cot_id handed = good(r);
    const struct cot_note *h = cot_book_history(r->book, &s.batch, &n);
    const struct cot_id *want[] = {&s.batch, &first, &second, &note, &handed};
    ck_assert_uint_eq(n, 5);
    for (size_t i = 0; i < n; i++) ck_assert_int_eq(cot_id_cmp(&h[i].digest, want[i]), 0);
    ck_assert_str_eq(cot_fact_value(h[3].fact, COT_F_TEXT)->v.text, "a slow corner");
    ck_assert_int_eq(cot_fact_value(h[2].fact, COT_F_COUNTS)->v.counts[0].usable, 70);
    h = cot_book_history(r->book, &s.line, &n);
    ck_assert_uint_eq(n, 2);
    h = cot_book_history(r->book, &s.lot, &n); /* what was sown of it is no history of the lot */
    ck_assert_uint_eq(n, 1);
    rows_free(r);
}
END_TEST

START_TEST(copies_may_be_copied)
{
    struct shop s;
    struct rows *r = open_shop("copies", &s);
    struct cot_fact copy = *cot_book_thing(r->book, &s.batch)->made;
    ck_assert_int_eq(cot_fact_int(&copy, COT_F_TRAYS, 0), 4);
    ck_assert_str_eq(copy.kind_name, "sown");
    ck_assert_str_eq(copy.tag, "B");
    rows_free(r);
}
END_TEST

/* --- Who may
 * ---------------------------------------------------------------------------------------------------------------- */
START_TEST(parts)
{
    struct shop s;
    struct rows *r = open_shop("parts", &s);
    begin(r, "B", COT_K_VARIETY);
    with_text(r, COT_F_NAME, "Sable");
    with_id(r, COT_F_CROP, &s.crop);
    struct cot_id by_hand = good(r);
    ck_queried(r, by_hand, "variety: not for a hand to enter");
    begin(r, "C", COT_K_SOWN);
    r->f.has_farm = false;
    with_code(r, "C");
    with_id(r, COT_F_LOT, &s.lot);
    with_id(r, COT_F_FORMAT, &s.format);
    with_int(r, COT_F_TRAYS, 1);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    struct cot_id by_buyer = good(r);
    ck_queried(r, by_buyer, "sowing: not for a buyer to enter");
    begin(r, "A", COT_K_DEVICE);
    struct cot_id key = rows_id(r);
    with_id(r, COT_F_MEMBER, &r->hand);
    with_id(r, COT_F_KEY, &key);
    with_text(r, COT_F_TAG, "Q");
    struct cot_id joined = good(r);
    ck_queried(r, joined, "device joined: not for a manager to enter");
    struct cot_id eye = rows_member(r, "A", "Dorit", COT_PART_AUDITOR, NULL);
    rows_device(r, "D", &eye, NULL);
    begin(r, "D", COT_K_NOTE);
    with_text(r, COT_F_TEXT, "looked in");
    struct cot_id by_auditor = good(r);
    ck_queried(r, by_auditor, "note: not for an auditor to enter");
    rows_free(r);
}
END_TEST

START_TEST(buyers_farm_only)
{
    struct shop s;
    struct rows *r = open_shop("farms", &s);
    struct cot_id other = rows_farm(r, "A", "Birch End");
    make_line(r, "C", &other, &s.variety, 10, ROWS_DAY0 + 40);
    struct cot_id foreign = good(r);
    ck_queried(r, foreign, "order line: a buyer enters for the own farm only");
    make_line(r, "C", &r->farm, &s.variety, 10, ROWS_DAY0 + 40);
    struct cot_id own = good(r);
    ck_verdict(r, own, COT_BOOKED);
    /* A line of Alder Ford is not changed through Birch End. */
    begin(r, "A", COT_K_PROMISE);
    about(r, &own);
    of_farm(r, &other);
    with_int(r, COT_F_PLANTS, 10);
    struct cot_id crossed = good(r);
    ck_queried(r, crossed, "names another farm than that of what it is about");
    make_handed(r, "B", &other, &own, &s.batch, 5);
    struct cot_id handed = good(r);
    ck_queried(r, handed, "names another farm than that of what it is about");
    rows_free(r);
}
END_TEST

START_TEST(closed_by_position)
{
    struct shop s;
    struct rows *r = open_shop("closed", &s);
    make_count(r, "B", &s.batch, 1, 72, 70);
    struct cot_id before = good(r);
    struct cot_standing st;
    cot_book_device(r->book, "B", INT64_MAX, &st);
    ck_assert(st.known && !st.closed && !st.member_gone);
    ck_assert_int_eq(st.part, COT_PART_HAND);
    int64_t joined = became(r, &r->hand).position + 1;
    struct cot_id device = r->row[joined - 1].digest;
    begin(r, "A", COT_K_CLOSED);
    about(r, &device);
    struct cot_id closing = good(r);
    int64_t at = became(r, &closing).position;
    make_count(r, "B", &s.batch, 2, 72, 70);
    r->f.clock = ROWS_T0; /* however early its clock */
    struct cot_id after = good(r);
    ck_verdict(r, before, COT_BOOKED);
    ck_queried(r, after, "device B had been closed before");
    cot_book_device(r->book, "B", at - 1, &st);
    ck_assert(st.known && !st.closed && !st.member_gone);
    cot_book_device(r->book, "B", at, &st);
    ck_assert(st.known && st.closed && st.member_gone);
    cot_book_device(r->book, "B", joined - 1, &st);
    ck_assert(!st.known);
    cot_book_device(r->book, "ZZ", INT64_MAX, &st);
    ck_assert(!st.known);
    cot_book_device(r->book, "H", INT64_MAX, &st);
    ck_assert(st.known);
    rows_free(r);
}
END_TEST

START_TEST(not_sent_is_judged_now)
{
    struct shop s;
    struct rows *r = open_shop("unsent", &s);
    make_count(r, "B", &s.batch, 1, 72, 70);
    struct cot_id waiting = unsent(r);
    ck_verdict(r, waiting, COT_BOOKED);
    begin(r, "A", COT_K_CLOSED);
    about(r, &r->row[became(r, &r->hand).position].digest);
    good(r);
    ck_queried(r, waiting, "device B had been closed before");
    rows_free(r);
}
END_TEST

START_TEST(part_changes_by_position)
{
    struct shop s;
    struct rows *r = open_shop("part", &s);
    begin(r, "B", COT_K_VARIETY);
    with_text(r, COT_F_NAME, "Sable");
    with_id(r, COT_F_CROP, &s.crop);
    struct cot_id before = good(r);
    begin(r, "A", COT_K_MEMBER);
    about(r, &r->hand);
    with_int(r, COT_F_PART, COT_PART_MANAGER);
    good(r);
    begin(r, "B", COT_K_VARIETY);
    with_text(r, COT_F_NAME, "Sorrel");
    with_id(r, COT_F_CROP, &s.crop);
    struct cot_id after = good(r);
    ck_verdict(r, before, COT_QUERIED);
    ck_verdict(r, after, COT_BOOKED);
    begin(r, "A", COT_K_MEMBER);
    about(r, &r->hand);
    with_int(r, COT_F_PART, COT_PART_BUYER);
    struct cot_id to_buyer = good(r);
    ck_queried(r, to_buyer, "a buyer stays a buyer of one farm, and nobody else becomes one");
    begin(r, "A", COT_K_MEMBER);
    about(r, &r->buyer);
    of_farm(r, &r->farm);
    with_int(r, COT_F_PART, COT_PART_HAND);
    struct cot_id from_buyer = good(r);
    ck_verdict(r, from_buyer, COT_QUERIED);
    begin(r, "A", COT_K_MEMBER);
    about(r, &r->buyer);
    of_farm(r, &s.crop);
    with_text(r, COT_F_NAME, "Celina");
    struct cot_id other_farm = good(r);
    ck_verdict(r, other_farm, COT_QUERIED);
    rows_free(r);
}
END_TEST

START_TEST(wrong_hands)
{
    struct shop s;
    struct rows *r = open_shop("wrong hands", &s);
    make_count(r, "B", &s.batch, 1, 72, 70);
    r->f.member = r->manager;
    struct cot_id not_hers = good(r);
    ck_queried(r, not_hers, "device B is not that of the member it names");
    make_count(r, "ZZ", &s.batch, 1, 72, 70);
    struct cot_id stranger = good(r);
    ck_queried(r, stranger, "device ZZ had not joined this house then");
    begin(r, "H", COT_K_COUNT);
    about(r, &s.batch);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    with_tray(r, 1, 72, 70);
    struct cot_id house = good(r);
    ck_queried(r, house, "stand count: not for the house's own journal to enter");
    make_count(r, "B", &s.batch, 1, 72, 70);
    r->f.house.b[0] = 9;
    struct cot_id elsewhere = good(r);
    ck_queried(r, elsewhere, "belongs to another house");
    begin(r, "H", COT_K_HOUSE);
    with_text(r, COT_F_NAME, "Second");
    with_id(r, COT_F_KEY, &s.crop);
    with_int(r, COT_F_RULES, 1);
    struct cot_id second = good(r);
    ck_queried(r, second, "the house is founded already");
    begin(r, "H", COT_K_DEVICE);
    with_id(r, COT_F_MEMBER, &r->hand);
    with_id(r, COT_F_KEY, &s.crop);
    with_text(r, COT_F_TAG, "B");
    struct cot_id again = good(r);
    ck_queried(r, again, "its device tag is taken already");
    rows_free(r);
}
END_TEST

START_TEST(next_tag)
{
    struct rows *r = rows_new("tags", true);
    char tag[COT_TAG_MAX + 1];
    ck_assert(cot_book_next_tag(r->book, tag));
    ck_assert_str_eq(tag, "D");
    const char *more[] = {"D", "E", "F", "G"};
    for (int i = 0; i < 4; i++) rows_device(r, more[i], &r->hand, NULL);
    ck_assert(cot_book_next_tag(r->book, tag));
    ck_assert_str_eq(tag, "I"); /* H is the house's own */
    rows_free(r);
}
END_TEST

/* --- What makes sense
 * --------------------------------------------------------------------------------------------------------- */
START_TEST(references)
{
    struct shop s;
    struct rows *r = open_shop("references", &s);
    struct cot_id nowhere = rows_id(r);
    make_count(r, "B", &nowhere, 1, 72, 70);
    struct cot_id missing = good(r);
    ck_queried(r, missing, "no such batch here");
    make_count(r, "B", &s.line, 1, 72, 70);
    struct cot_id wrong = good(r);
    ck_queried(r, wrong, "what it names as its batch is something else");
    make_sown(r, "B", &s.lot, &nowhere, 1);
    struct cot_id no_format = good(r);
    ck_queried(r, no_format, "no such tray format here");
    make_count(r, "B", &no_format, 1, 72, 70);
    struct cot_id unbooked = good(r);
    ck_queried(r, unbooked, "its batch is not booked itself");
    ck_assert_ptr_null(cot_book_thing(r->book, &no_format));
    /* The page that was missing comes: everything that waited for it settles. */
    begin(r, "A", COT_K_FORMAT);
    with_text(r, COT_F_NAME, "late");
    with_int(r, COT_F_ROWS, 6);
    with_int(r, COT_F_COLS, 12);
    good(r);
    struct cot_row late = r->row[r->count - 1];
    late.digest = nowhere;
    ck_assert_int_eq(cot_book_put(r->book, &late), COT_OK);
    ck_verdict(r, no_format, COT_BOOKED);
    ck_verdict(r, unbooked, COT_BOOKED);
    ck_queried(r, missing, "what it names as its batch is something else");
    rows_free(r);
}
END_TEST

START_TEST(impossible_counts)
{
    struct shop s;
    struct rows *r = open_shop("impossible", &s);
    make_count(r, "B", &s.batch, 4, 72, 72);
    struct cot_id whole = good(r);
    ck_verdict(r, whole, COT_BOOKED);
    make_count(r, "B", &s.batch, 2, 73, 72);
    struct cot_id cells = good(r);
    ck_queried(r, cells, "tray 2: more cells than a tray of its batch has");
    make_count(r, "B", &s.batch, 5, 72, 72);
    struct cot_id tray = good(r);
    ck_queried(r, tray, "its batch has no tray 5");
    begin(r, "B", COT_K_COUNT);
    about(r, &s.batch);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    with_int(r, COT_F_TRAYS, 2);
    with_int(r, COT_F_LOOKED, 145);
    with_int(r, COT_F_USABLE, 140);
    struct cot_id pooled = good(r);
    ck_queried(r, pooled, "more cells or trays looked at than its batch has");
    static const int32_t which[2] = {1, 9};
    begin(r, "B", COT_K_MOVED);
    about(r, &s.batch);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    with_text(r, COT_F_BENCH, "7");
    ck_assert(cot_fact_set_numbers(&r->f, COT_F_WHICH, which, 2));
    struct cot_id beyond = good(r);
    ck_queried(r, beyond, "its batch has no tray 9");
    begin(r, "B", COT_K_SOWN);
    with_code(r, "B");
    with_id(r, COT_F_LOT, &s.lot);
    with_id(r, COT_F_FORMAT, &s.format);
    with_int(r, COT_F_TRAY_ROWS, 7);
    with_text(r, COT_F_SHARED, "left");
    with_int(r, COT_F_DAY, ROWS_DAY0);
    struct cot_id too_many_rows = good(r);
    ck_queried(r, too_many_rows, "more rows sown than the tray's 6");
    /* A corrected format is read anew. */
    begin(r, "A", COT_K_FORMAT);
    about(r, &s.format);
    with_int(r, COT_F_ROWS, 7);
    good(r);
    ck_verdict(r, cells, COT_BOOKED);
    ck_verdict(r, too_many_rows, COT_BOOKED);
    rows_free(r);
}
END_TEST

START_TEST(work_stands_whatever_its_quantity)
{
    struct shop s;
    struct rows *r = open_shop("quantity", &s);
    make_handed(r, "B", &r->farm, &s.line, &s.batch, 200);
    struct cot_id first = good(r);
    make_handed(r, "B", &r->farm, &s.line, &s.batch, 100);
    struct cot_id second = good(r);
    ck_verdict(r, second, COT_BOOKED);
    ck_flags(r, first, 0);
    ck_flags(r, second, COT_FLAG_OVER);
    begin(r, "B", COT_K_BACK);
    about(r, &second);
    of_farm(r, &r->farm);
    with_int(r, COT_F_DAY, ROWS_DAY0 + 31);
    with_int(r, COT_F_PLANTS, 50);
    with_text(r, COT_F_WHY, "too many");
    good(r);
    ck_flags(r, second, 0);
    rows_free(r);
}
END_TEST

START_TEST(unclear_days)
{
    struct shop s;
    struct rows *r = open_shop("days", &s);
    make_count(r, "B", &s.batch, 1, 72, 70);
    with_int(r, COT_F_DAY, ROWS_DAY0 - 1);
    struct cot_id before = good(r);
    ck_flags(r, before, COT_FLAG_UNCLEAR_DAY);
    make_count(r, "B", &s.batch, 1, 72, 70);
    with_int(r, COT_F_DAY, ROWS_DAY0 + 2);
    struct cot_id ahead = good(r);
    ck_flags(r, ahead, COT_FLAG_UNCLEAR_DAY);
    make_count(r, "B", &s.batch, 1, 72, 70);
    with_int(r, COT_F_DAY, ROWS_DAY0 + 1);
    struct cot_id tomorrow = good(r);
    ck_flags(r, tomorrow, 0);
    rows_free(r);
}
END_TEST

START_TEST(unknown_and_flawed)
{
    struct rows *r = rows_new("unknown", true);
    begin(r, "B", COT_K_UNKNOWN);
    struct cot_id unknown = sent(r);
    ck_queried(r, unknown, "made by a newer version of the program");
    ck_assert_str_eq(became(r, &unknown).fact->kind_name, "grafted");
    begin(r, "B", COT_K_NOTE);
    with_text(r, COT_F_TEXT, "x");
    snprintf(r->f.flaw, sizeof r->f.flaw, "note: has no field \"scent\"");
    struct cot_id flawed = sent(r);
    ck_queried(r, flawed, "note: has no field \"scent\"");
    struct cot_id booked = answer(r, "A", &flawed, false, NULL);
    ck_verdict(r, booked, COT_BOOKED);
    ck_verdict(r, flawed, COT_QUERIED); /* nobody can book what is not understood */
    answer(r, "A", &flawed, true, NULL);
    ck_verdict(r, flawed, COT_ASIDE);
    rows_free(r);
}
END_TEST

/* --- Flags across things
 * ------------------------------------------------------------------------------------------------------- */
START_TEST(twins)
{
    struct shop s;
    struct rows *r = open_shop("twins", &s);
    make_sown(r, "B", &s.lot, &s.format, 4); /* the same device: two sowings */
    struct cot_id again = good(r);
    ck_flags(r, again, 0);
    make_sown(r, "A", &s.lot, &s.format, 4);
    struct cot_id twin = good(r);
    ck_flags(r, twin, COT_FLAG_TWIN);
    ck_flags(r, s.batch, COT_FLAG_TWIN);
    struct cot_note n = became(r, &twin);
    ck_assert_int_eq(cot_id_cmp(&n.other, &s.batch), 0);
    take_back(r, "A", &twin, NULL);
    ck_flags(r, s.batch, 0);
    make_sown(r, "A", &s.lot, &s.format, 5);
    struct cot_id other = good(r);
    ck_flags(r, other, 0);
    make_handed(r, "A", &r->farm, &s.line, &s.batch, 20);
    struct cot_id h1 = good(r);
    make_handed(r, "B", &r->farm, &s.line, &s.batch, 20);
    struct cot_id h2 = good(r);
    ck_flags(r, h1, COT_FLAG_TWIN);
    ck_flags(r, h2, COT_FLAG_TWIN);
    rows_free(r);
}
END_TEST

START_TEST(same_code)
{
    struct shop s;
    struct rows *r = open_shop("codes", &s);
    make_sown(r, "B", &s.lot, &s.format, 9);
    with_text(r, COT_F_CODE, cot_thing_text(cot_book_thing(r->book, &s.line), COT_F_CODE));
    struct cot_id batch = good(r);
    ck_flags(r, batch, COT_FLAG_SAME_CODE);
    ck_flags(r, s.line, COT_FLAG_SAME_CODE);
    ck_flags(r, s.batch, 0);
    rows_free(r);
}
END_TEST

START_TEST(a_farms_view)
{
    struct shop s;
    struct rows *r = open_shop("view", &s);
    make_handed(r, "B", &r->farm, &s.line, &s.batch, 10);
    struct cot_id handed = good(r);
    struct cot_book *view = cot_book_new(&r->farm);
    for (size_t i = 0; i < r->count; i++) {
        struct cot_id farm;
        enum cot_scope scope = cot_fact_scope(r->row[i].fact, &r->row[i].digest, &farm);
        if (scope == COT_SCOPE_CATALOGUE || (scope == COT_SCOPE_FARM && cot_id_cmp(&farm, &r->farm) == 0))
            ck_assert_int_eq(cot_book_put(view, &r->row[i]), COT_OK);
    }
    struct cot_note n;
    ck_assert(cot_book_verdict(view, &handed, &n));
    ck_assert_int_eq(n.verdict, COT_BOOKED); /* its batch is none of the farm's business, but the hand-over is */
    ck_assert(!cot_book_verdict(view, &s.batch, &n));
    ck_assert_ptr_nonnull(cot_book_thing(view, &s.line));
    size_t notes;
    cot_book_notes(view, &notes);
    ck_assert_uint_eq(notes, 0);
    cot_book_free(view);
    rows_free(r);
}
END_TEST

START_TEST(sizes)
{
    struct rows *r = rows_new("sizes", true);
    int64_t rows, waiting, position;
    begin(r, "B", COT_K_NOTE);
    with_text(r, COT_F_TEXT, "x");
    unsent(r);
    cot_book_size(r->book, &rows, &waiting, &position);
    ck_assert_int_eq(rows, (int64_t)r->count);
    ck_assert_int_eq(waiting, 1);
    ck_assert_int_eq(position, r->position);
    struct cot_row row = r->row[r->count - 1];
    ck_assert_int_eq(cot_book_put(r->book, &row), COT_OK); /* twice: nothing */
    row.position = ++r->position;
    row.receipt = r->now;
    ck_assert_int_eq(cot_book_put(r->book, &row), COT_OK); /* it came back with a position */
    cot_book_size(r->book, &rows, &waiting, &position);
    ck_assert_int_eq(rows, (int64_t)r->count);
    ck_assert_int_eq(waiting, 0);
    ck_assert_int_eq(position, r->position);
    ck_assert_uint_gt(cot_book_bytes(r->book), 1000);
    rows_free(r);
}
END_TEST

START_TEST(all_of_a_kind)
{
    struct shop s;
    struct rows *r = open_shop("kinds", &s);
    size_t n;
    ck_assert_ptr_null(cot_book_of_kind(r->book, COT_K_NOTE, &n));
    ck_assert_uint_eq(n, 0);
    struct cot_id id[40];
    for (int i = 0; i < 40; i++) { /* arriving in another order than they were written in */
        begin(r, i % 2 ? "A" : "B", COT_K_NOTE);
        with_text(r, COT_F_TEXT, "said");
        if (i % 3 == 0) about(r, &s.batch);
        r->f.clock -= (i % 7) * 3600000;
        id[i] = good(r);
    }
    take_back(r, "A", &id[5], NULL);
    const struct cot_note *notes = cot_book_of_kind(r->book, COT_K_NOTE, &n);
    ck_assert_uint_eq(n, 39);
    for (size_t i = 0; i < n; i++) {
        ck_assert_int_eq(notes[i].fact->kind, COT_K_NOTE);
        ck_assert_int_ne(cot_id_cmp(&notes[i].digest, &id[5]), 0);
        if (i > 0) ck_assert_int_le(notes[i - 1].fact->clock, notes[i].fact->clock);
    }
    cot_book_of_kind(r->book, COT_K_SOWN, &n);
    ck_assert_uint_eq(n, 1);
    rows_free(r);
}
END_TEST

Suite *cot_suite(void)
{
    const TTest *const tests[] = {
        things_and_fields,
        things_sorted_by_identity,
        later_place_stands,
        cleared_fields,
        plants_or_trays,
        house_rules,
        history_in_order_of_place,
        copies_may_be_copied,
        parts,
        buyers_farm_only,
        closed_by_position,
        not_sent_is_judged_now,
        part_changes_by_position,
        wrong_hands,
        next_tag,
        references,
        impossible_counts,
        work_stands_whatever_its_quantity,
        unclear_days,
        unknown_and_flawed,
        twins,
        same_code,
        a_farms_view,
        sizes,
        all_of_a_kind,
    };
    Suite *s = suite_create("book");
    TCase *t = tcase_create("book");
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) tcase_add_test(t, tests[i]);
    suite_add_tcase(s, t);
    return s;
}
