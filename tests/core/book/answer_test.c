/* Answers, requests, clashes, takings back, and facts carried over under a new tag. */
#include "../rows.h"

struct order {
    struct cot_id crop, variety, line;
};

#define COLLECT (ROWS_DAY0 + 60)

/* A farm's line for COLLECT, made by its buyer; the crop takes 30 days in the tray. */
static struct rows *with_order(const char *what, struct order *o)
{
    struct rows *r = rows_new(what, true);
    o->crop = rows_crop(r, "Leek", 30);
    o->variety = rows_variety(r, "Long Grey", &o->crop);
    make_line(r, "C", &r->farm, &o->variety, 100, COLLECT);
    o->line = good(r);
    return r;
}

static void at_day(struct rows *r, int32_t day)
{
    r->now = ROWS_T0 + (day - ROWS_DAY0) * ROWS_DAY;
}

static struct cot_id change_line(struct rows *r, const char *tag, const struct cot_id *line, enum cot_field f,
                                 int64_t i)
{
    begin(r, tag, COT_K_LINE);
    about(r, line);
    of_farm(r, &r->farm);
    with_int(r, f, i);
    return good(r);
}

static struct cot_id withdraw(struct rows *r, const char *tag, const struct cot_id *line)
{
    begin(r, tag, COT_K_WITHDRAWN);
    about(r, line);
    of_farm(r, &r->farm);
    return good(r);
}

/* --- Requests
 * --------------------------------------------------------------------------------------------------------------- */
START_TEST(closing_day_is_the_sowing_day)
{
    struct order o;
    struct rows *r = with_order("closing", &o);
    at_day(r, COLLECT - 30);
    struct cot_id on_the_day = change_line(r, "C", &o.line, COT_F_PLANTS, 110);
    ck_verdict(r, on_the_day, COT_BOOKED);
    at_day(r, COLLECT - 29);
    struct cot_id after = change_line(r, "C", &o.line, COT_F_PLANTS, 150);
    struct cot_note n = became(r, &after);
    ck_assert_int_eq(n.verdict, COT_REQUEST);
    ck_assert_str_eq(n.reason, "after the closing day 2027-02-14: waits for the house's word");
    ck_assert_int_eq(stands(r, &o.line, COT_F_PLANTS), 110);
    struct cot_id by_house = change_line(r, "A", &o.line, COT_F_PLANTS, 120);
    ck_verdict(r, by_house, COT_BOOKED);
    struct cot_id gone = withdraw(r, "C", &o.line);
    ck_verdict(r, gone, COT_REQUEST);
    ck_assert(!cot_book_thing(r->book, &o.line)->gone);
    rows_free(r);
}
END_TEST

START_TEST(closing_day_of_the_house_and_of_the_line)
{
    struct order o;
    struct rows *r = with_order("closing rules", &o);
    begin(r, "A", COT_K_RULE);
    with_int(r, COT_F_CLOSING_DAYS, 10);
    good(r);
    at_day(r, COLLECT - 10);
    struct cot_id in_time = change_line(r, "C", &o.line, COT_F_PLANTS, 110);
    ck_verdict(r, in_time, COT_BOOKED);
    change_line(r, "A", &o.line, COT_F_CLOSING, COLLECT - 20);
    struct cot_id closed = change_line(r, "C", &o.line, COT_F_PLANTS, 120);
    ck_verdict(r, closed, COT_REQUEST);
    ck_verdict(r, in_time, COT_BOOKED); /* judged by the line as it stood then */
    rows_free(r);
}
END_TEST

START_TEST(receipt_day_in_the_houses_time)
{
    struct order o;
    struct rows *r = with_order("time", &o);
    begin(r, "A", COT_K_RULE);
    with_int(r, COT_F_UTC_OFFSET, 120);
    good(r);
    r->now = ROWS_T0 + 30 * ROWS_DAY + 13 * 3600000; /* 21:00 UTC of the closing day, 23:00 in the house */
    struct cot_id before = change_line(r, "C", &o.line, COT_F_PLANTS, 110);
    r->now += 3600000 + 60000;
    struct cot_id midnight = change_line(r, "C", &o.line, COT_F_PLANTS, 120);
    ck_verdict(r, before, COT_BOOKED);
    ck_verdict(r, midnight, COT_REQUEST);
    /* A buyer's own clock does not help. */
    begin(r, "C", COT_K_LINE);
    about(r, &o.line);
    with_int(r, COT_F_PLANTS, 130);
    r->f.clock = ROWS_T0;
    struct cot_id backdated = good(r);
    ck_verdict(r, backdated, COT_REQUEST);
    rows_free(r);
}
END_TEST

START_TEST(a_date_moved_moves_the_closing_day)
{
    struct order o;
    struct rows *r = with_order("date moved", &o);
    at_day(r, COLLECT - 29);
    struct cot_id move = change_line(r, "C", &o.line, COT_F_DATE, COLLECT + 60); /* judged by the date before it */
    ck_verdict(r, move, COT_REQUEST);
    struct cot_id more = change_line(r, "C", &o.line, COT_F_PLANTS, 130);
    ck_verdict(r, more, COT_REQUEST);
    answer(r, "A", &move, false, &r->farm);
    ck_verdict(r, move, COT_BOOKED);
    ck_assert_int_eq(stands(r, &o.line, COT_F_DATE), COLLECT + 60);
    ck_verdict(r, more, COT_BOOKED); /* at its place the date was already the later one */
    rows_free(r);
}
END_TEST

START_TEST(by_a_hand)
{
    struct order o;
    struct rows *r = with_order("by a hand", &o);
    make_line(r, "B", &r->farm, &o.variety, 30, COLLECT);
    struct cot_id made = good(r);
    ck_verdict(r, made, COT_BOOKED); /* it waits for a promise anyway */
    struct cot_id changed = change_line(r, "B", &o.line, COT_F_PLANTS, 90);
    ck_verdict(r, changed, COT_REQUEST);
    struct cot_id gone = withdraw(r, "B", &o.line);
    ck_verdict(r, gone, COT_REQUEST);
    answer(r, "A", &gone, false, &r->farm);
    ck_verdict(r, gone, COT_BOOKED);
    ck_assert(cot_book_thing(r->book, &o.line)->gone);
    rows_free(r);
}
END_TEST

START_TEST(a_buyer_takes_back_by_the_same_rule)
{
    struct order o;
    struct rows *r = with_order("take back line", &o);
    struct cot_id early = change_line(r, "C", &o.line, COT_F_PLANTS, 110);
    struct cot_id back = take_back(r, "C", &early, &r->farm);
    ck_verdict(r, back, COT_BOOKED);
    ck_assert_int_eq(stands(r, &o.line, COT_F_PLANTS), 100);
    at_day(r, COLLECT - 29);
    struct cot_id all = take_back(r, "C", &o.line, &r->farm);
    ck_verdict(r, all, COT_REQUEST);
    ck_assert_ptr_nonnull(cot_book_thing(r->book, &o.line));
    ck_assert(!cot_book_thing(r->book, &o.line)->gone);
    struct cot_id restore = take_back(r, "C", &back, &r->farm); /* would change the order as well */
    ck_verdict(r, restore, COT_REQUEST);
    struct cot_id wish = change_line(r, "C", &o.line, COT_F_PLANTS, 140);
    ck_verdict(r, wish, COT_REQUEST);
    struct cot_id never_mind = take_back(r, "C", &wish, &r->farm); /* a request is the buyer's to drop */
    ck_verdict(r, never_mind, COT_BOOKED);
    ck_verdict(r, wish, COT_TAKEN_BACK);
    rows_free(r);
}
END_TEST

/* --- Answers
 * ------------------------------------------------------------------------------------------------------------------ */
START_TEST(the_latest_answer_stands)
{
    struct order o;
    struct rows *r = with_order("answers", &o);
    struct cot_id wish = change_line(r, "B", &o.line, COT_F_PLANTS, 90);
    answer(r, "A", &wish, false, &r->farm);
    ck_verdict(r, wish, COT_BOOKED);
    ck_assert_int_eq(stands(r, &o.line, COT_F_PLANTS), 90);
    struct cot_id no = answer(r, "A", &wish, true, &r->farm);
    ck_verdict(r, wish, COT_ASIDE);
    ck_assert_int_eq(stands(r, &o.line, COT_F_PLANTS), 100);
    begin(r, "A", COT_K_ANSWER);
    about(r, &wish);
    of_farm(r, &r->farm);
    with_int(r, COT_F_AS, 0);
    r->f.clock = ROWS_T0; /* arrives later, but of an earlier place */
    good(r);
    ck_verdict(r, wish, COT_ASIDE);
    take_back(r, "A", &no, &r->farm);
    ck_verdict(r, wish, COT_BOOKED);
    rows_free(r);
}
END_TEST

START_TEST(only_a_manager_answers)
{
    struct order o;
    struct rows *r = with_order("who answers", &o);
    struct cot_id wish = change_line(r, "B", &o.line, COT_F_PLANTS, 90);
    struct cot_id self = answer(r, "B", &wish, false, &r->farm);
    ck_queried(r, self, "answer: not for a hand to enter");
    ck_verdict(r, wish, COT_REQUEST);
    struct cot_id of_nothing = answer(r, "A", &o.line, true, &r->farm);
    ck_queried(r, of_nothing, "nothing to answer: the entry is booked");
    ck_verdict(r, o.line, COT_BOOKED);
    struct cot_id unseen = answer(r, "A", &wish, false, NULL); /* the farm would never learn of it */
    ck_queried(r, unseen, "must name the farm of what it is about, so that the farm sees it");
    answer(r, "A", &self, false, &r->farm); /* the manager says it after all */
    ck_verdict(r, wish, COT_BOOKED);
    rows_free(r);
}
END_TEST

START_TEST(what_cannot_be_is_never_booked)
{
    struct rows *r = rows_new("hard", true);
    struct cot_id nowhere = rows_id(r);
    make_count(r, "B", &nowhere, 1, 10, 9);
    struct cot_id count = good(r);
    struct cot_id yes = answer(r, "A", &count, false, NULL);
    ck_verdict(r, yes, COT_BOOKED);
    ck_queried(r, count, "no such batch here");
    rows_free(r);
}
END_TEST

/* Queried because a page was late; the manager left it out; then the page came. The answer stands. */
START_TEST(an_answer_stands_whatever_arrives)
{
    struct order o;
    struct rows *r = with_order("late page", &o);
    struct cot_id format = rows_format(r, "72", 6, 12), lot = rows_lot(r, "LG-1", &o.variety), batch = rows_id(r);
    make_count(r, "B", &batch, 1, 72, 70);
    struct cot_id count = good(r);
    struct cot_id aside = answer(r, "A", &count, true, NULL);
    ck_verdict(r, count, COT_ASIDE);
    make_sown(r, "B", &lot, &format, 1);
    good(r);
    struct cot_row late = r->row[r->count - 1];
    late.digest = batch;
    ck_assert_int_eq(cot_book_put(r->book, &late), COT_OK);
    ck_assert_ptr_nonnull(cot_book_thing(r->book, &batch));
    ck_verdict(r, aside, COT_BOOKED);
    ck_verdict(r, count, COT_ASIDE);
    struct cot_id now = answer(r, "A", &count, true, NULL); /* who has seen the batch has nothing to answer */
    ck_queried(r, now, "nothing to answer: the entry is booked");
    rows_free(r);
}
END_TEST

/* --- Takings back
 * ---------------------------------------------------------------------------------------------------------------- */
START_TEST(back_and_back_again)
{
    struct order o;
    struct rows *r = with_order("back", &o);
    struct cot_id format = rows_format(r, "72", 6, 12), lot = rows_lot(r, "LG-1", &o.variety);
    make_sown(r, "B", &lot, &format, 2);
    struct cot_id batch = good(r);
    make_count(r, "B", &batch, 1, 72, 70);
    struct cot_id count = good(r);
    struct cot_id back = take_back(r, "B", &batch, NULL);
    ck_verdict(r, batch, COT_TAKEN_BACK);
    ck_queried(r, count, "its batch was taken back");
    ck_assert(cot_book_thing(r->book, &batch)->gone);
    size_t n;
    cot_book_things(r->book, COT_THING_BATCH, &n);
    ck_assert_uint_eq(n, 0);
    struct cot_id restore = take_back(r, "B", &back, NULL);
    ck_verdict(r, back, COT_TAKEN_BACK);
    ck_verdict(r, batch, COT_BOOKED);
    ck_verdict(r, count, COT_BOOKED);
    take_back(r, "A", &restore, NULL);
    ck_verdict(r, back, COT_BOOKED);
    ck_verdict(r, batch, COT_TAKEN_BACK);
    rows_free(r);
}
END_TEST

START_TEST(who_takes_back)
{
    struct order o;
    struct rows *r = with_order("who takes back", &o);
    struct cot_id second = rows_member(r, "A", "Emre", COT_PART_HAND, NULL);
    rows_device(r, "D", &second, NULL);
    rows_device(r, "E", &r->hand, NULL);
    struct cot_id lot = rows_lot(r, "LG-1", &o.variety);
    struct cot_id stranger = take_back(r, "D", &lot, NULL);
    ck_queried(r, stranger, "only who wrote an entry, or a manager, takes it back");
    ck_verdict(r, lot, COT_BOOKED);
    struct cot_id own = take_back(r, "E", &lot, NULL); /* the same member's other laptop */
    ck_verdict(r, own, COT_BOOKED);
    ck_verdict(r, lot, COT_TAKEN_BACK);
    struct cot_id admin = take_back(r, "A", &second, NULL);
    ck_queried(r, admin, "members, devices and rules are never taken back: enter the change again");
    answer(r, "A", &stranger, false, NULL);
    take_back(r, "A", &own, NULL);
    ck_verdict(r, lot, COT_TAKEN_BACK); /* by the stranger's, which the manager let pass */
    rows_free(r);
}
END_TEST

START_TEST(a_long_chain_of_takings_back)
{
    struct rows *r = rows_new("chain", true);
    begin(r, "B", COT_K_NOTE);
    with_text(r, COT_F_TEXT, "x");
    struct cot_id note = good(r), last = note;
    for (int i = 0; i < 2001; i++) last = take_back(r, "A", &last, NULL);
    ck_verdict(r, note, COT_TAKEN_BACK);
    take_back(r, "A", &last, NULL);
    ck_verdict(r, note, COT_BOOKED);
    rows_free(r);
}
END_TEST

/* --- Clashes
 * -----------------------------------------------------------------------------------------------------------------------
 */
static struct cot_id priority(struct rows *r, const char *tag, const struct cot_id *line, int64_t p, int64_t seen)
{
    begin(r, tag, COT_K_LINE);
    about(r, line);
    of_farm(r, &r->farm);
    with_int(r, COT_F_PRIORITY, p);
    r->f.seen = seen;
    return good(r);
}

START_TEST(changes_that_had_not_seen_each_other)
{
    struct order o;
    struct rows *r = with_order("clash", &o);
    rows_device(r, "D", &r->manager, NULL);
    int64_t seen = r->position;
    struct cot_id one = priority(r, "A", &o.line, 1, seen);
    struct cot_id two = priority(r, "D", &o.line, 2, seen);
    ck_flags(r, one, COT_FLAG_CLASH);
    ck_flags(r, two, COT_FLAG_CLASH);
    struct cot_note n1 = became(r, &one), n2 = became(r, &two);
    ck_assert_int_eq(cot_id_cmp(&n1.other, &two), 0);
    ck_assert_int_eq(cot_id_cmp(&n2.other, &one), 0);
    ck_assert_int_eq(stands(r, &o.line, COT_F_PRIORITY), 2);
    take_back(r, "A", &two, &r->farm);
    ck_flags(r, one, 0);
    ck_assert_int_eq(stands(r, &o.line, COT_F_PRIORITY), 1);
    rows_free(r);
}
END_TEST

START_TEST(changes_that_had)
{
    struct order o;
    struct rows *r = with_order("no clash", &o);
    rows_device(r, "D", &r->manager, NULL);
    int64_t seen = r->position;
    struct cot_id one = priority(r, "A", &o.line, 1, seen);
    struct cot_id two = priority(r, "D", &o.line, 2, r->position); /* had seen it */
    struct cot_id three = priority(r, "D", &o.line, 3, seen);      /* its own device's are always seen, but not A's */
    ck_flags(r, two, 0);
    ck_flags(r, one, COT_FLAG_CLASH);
    ck_flags(r, three, COT_FLAG_CLASH);
    begin(r, "A", COT_K_LINE); /* another field */
    about(r, &o.line);
    of_farm(r, &r->farm);
    with_int(r, COT_F_EARLY, 2);
    r->f.seen = seen;
    struct cot_id other_field = good(r);
    ck_flags(r, other_field, 0);
    rows_free(r);
}
END_TEST

/* Every pair looked at, against what the book flags. */
START_TEST(clashes_as_pairs_say)
{
    struct order o;
    struct rows *r = with_order("pairs", &o);
    rows_device(r, "D", &r->manager, NULL);
    rows_device(r, "E", &r->manager, NULL);
    struct {
        struct cot_id id;
        int64_t seen, position;
        char tag;
    } c[60];
    static const char *const tags[] = {"A", "D", "E"};
    int64_t start = r->position;
    for (int i = 0; i < 60; i++) {
        const char *tag = tags[dice_int(&r->dice, 0, 2)];
        c[i].seen = r->position - (dice_int(&r->dice, 0, 2) ? 0 : dice_int(&r->dice, 0, 4));
        if (c[i].seen < start) c[i].seen = start;
        c[i].tag = tag[0];
        c[i].id = priority(r, tag, &o.line, 1 + i % 9, c[i].seen);
        c[i].position = r->position;
    }
    int clashing = 0;
    for (int i = 0; i < 60; i++) {
        bool clash = false;
        for (int k = 0; k < 60; k++)
            if (c[i].tag != c[k].tag && c[k].position > c[i].seen && c[i].position > c[k].seen) clash = true;
        ck_flags(r, c[i].id, clash ? COT_FLAG_CLASH : 0);
        clashing += clash;
    }
    ck_assert_int_gt(clashing, 0);
    ck_assert_int_lt(clashing, 60);
    rows_free(r);
}
END_TEST

/* --- Carried over
 * ------------------------------------------------------------------------------------------------------------------ */
START_TEST(carried_facts_keep_their_identity)
{
    struct order o;
    struct rows *r = with_order("carried", &o);
    struct cot_id format = rows_format(r, "72", 6, 12), lot = rows_lot(r, "LG-1", &o.variety), old = rows_id(r);
    rows_device(r, "D", &r->hand, NULL);
    make_sown(r, "D", &lot, &format, 2);
    carrying(r, &old);
    struct cot_id batch = good(r);
    make_count(r, "D", &old, 1, 72, 70); /* made when the batch still had the old digest */
    struct cot_id count = good(r);
    ck_verdict(r, count, COT_BOOKED);
    const struct cot_thing *t = cot_book_thing(r->book, &old);
    ck_assert_ptr_nonnull(t);
    ck_assert_int_eq(cot_id_cmp(&t->id, &old), 0);
    ck_assert_ptr_eq(t, cot_book_thing(r->book, &batch));
    make_count(r, "D", &batch, 2, 72, 71);
    struct cot_id by_new = good(r);
    ck_verdict(r, by_new, COT_BOOKED);
    ck_assert_int_eq(cot_id_cmp(&became(r, &by_new).fact->about, &old), 0);
    size_t n;
    cot_book_history(r->book, &batch, &n);
    ck_assert_uint_eq(n, 3);
    take_back(r, "A", &old, NULL);
    ck_verdict(r, batch, COT_TAKEN_BACK);
    rows_free(r);
}
END_TEST

START_TEST(carried_twice_counts_once)
{
    struct order o;
    struct rows *r = with_order("twice", &o);
    struct cot_id format = rows_format(r, "72", 6, 12), lot = rows_lot(r, "LG-1", &o.variety), old = rows_id(r);
    rows_device(r, "D", &r->hand, NULL);
    rows_device(r, "E", &r->hand, NULL);
    make_sown(r, "D", &lot, &format, 2);
    carrying(r, &old);
    struct cot_id first = good(r);
    make_sown(r, "E", &lot, &format, 2);
    carrying(r, &old);
    struct cot_id second = good(r);
    ck_verdict(r, first, COT_BOOKED);
    ck_verdict(r, second, COT_TWICE);
    struct cot_note note = became(r, &second);
    ck_assert_int_eq(cot_id_cmp(&note.other, &first), 0);
    size_t n;
    cot_book_things(r->book, COT_THING_BATCH, &n);
    ck_assert_uint_eq(n, 1);
    /* The laptop thought lost sends its journal after all. */
    make_sown(r, "B", &lot, &format, 2);
    good(r);
    struct cot_row original = r->row[r->count - 1];
    original.digest = old;
    struct cot_book *b = cot_book_new(NULL);
    for (size_t i = 0; i + 1 < r->count; i++) ck_assert_int_eq(cot_book_put(b, &r->row[i]), COT_OK);
    ck_assert_int_eq(cot_book_put(b, &original), COT_OK);
    ck_assert(cot_book_verdict(b, &old, &note));
    ck_assert_int_eq(note.verdict, COT_BOOKED);
    ck_assert(cot_book_verdict(b, &first, &note));
    ck_assert_int_eq(note.verdict, COT_TWICE);
    ck_assert_int_eq(cot_id_cmp(&note.other, &old), 0);
    cot_book_free(b);
    rows_free(r);
}
END_TEST

START_TEST(what_waits_never_decides_over_what_is_sent)
{
    struct order o;
    struct rows *r = with_order("unsent original", &o);
    struct cot_id lot = rows_lot(r, "LG-1", &o.variety), format = rows_format(r, "72", 6, 12);
    make_sown(r, "B", &lot, &format, 2);
    struct cot_id waiting = unsent(r);
    rows_device(r, "D", &r->hand, NULL);
    make_sown(r, "D", &lot, &format, 2);
    carrying(r, &waiting);
    struct cot_id carrier = good(r);
    ck_verdict(r, carrier, COT_BOOKED);
    ck_verdict(r, waiting, COT_TWICE);
    rows_free(r);
}
END_TEST

START_TEST(a_circle_of_names)
{
    struct order o;
    struct rows *r = with_order("circle", &o);
    struct cot_id lot = rows_lot(r, "LG-1", &o.variety), format = rows_format(r, "72", 6, 12), lost = rows_id(r);
    begin(r, "B", COT_K_POTTED);
    with_code(r, "B");
    with_id(r, COT_F_BATCH, &lost);
    with_id(r, COT_F_FORMAT, &format);
    with_int(r, COT_F_TRAYS, 1);
    with_int(r, COT_F_PLANTS, 10);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    struct cot_id child = good(r);
    ck_queried(r, child, "no such batch here");
    begin(r, "B", COT_K_POTTED); /* says it is the lost batch, and that it came out of its own child */
    with_code(r, "B");
    with_id(r, COT_F_BATCH, &child);
    with_id(r, COT_F_FORMAT, &format);
    with_int(r, COT_F_TRAYS, 1);
    with_int(r, COT_F_PLANTS, 10);
    with_int(r, COT_F_DAY, ROWS_DAY0);
    carrying(r, &lost);
    struct cot_id parent = good(r);
    ck_queried(r, parent, "names itself in a circle");
    ck_queried(r, child, "names itself in a circle");
    struct cot_book *late = cot_book_new(NULL); /* the circle closes through what comes last, after a reading */
    struct cot_note note;
    for (size_t i = 0; i < r->count; i++)
        if (cot_id_cmp(&r->row[i].digest, &child) != 0) ck_assert_int_eq(cot_book_put(late, &r->row[i]), COT_OK);
    ck_assert(cot_book_verdict(late, &parent, &note));
    ck_assert_str_eq(note.reason, "no such batch here");
    for (size_t i = 0; i < r->count; i++) ck_assert_int_eq(cot_book_put(late, &r->row[i]), COT_OK);
    ck_assert(cot_book_verdict(late, &parent, &note));
    ck_assert_str_eq(note.reason, "names itself in a circle");
    cot_book_free(late);
    /* The real one comes: the circle is none. */
    make_sown(r, "B", &lot, &format, 1);
    good(r);
    struct cot_row original = r->row[r->count - 1];
    original.digest = lost;
    ck_assert_int_eq(cot_book_put(r->book, &original), COT_OK);
    ck_verdict(r, child, COT_BOOKED);
    ck_verdict(r, parent, COT_TWICE);
    rows_free(r);
}
END_TEST

Suite *cot_suite(void)
{
    const TTest *const tests[] = {
        closing_day_is_the_sowing_day,
        closing_day_of_the_house_and_of_the_line,
        receipt_day_in_the_houses_time,
        a_date_moved_moves_the_closing_day,
        by_a_hand,
        a_buyer_takes_back_by_the_same_rule,
        the_latest_answer_stands,
        only_a_manager_answers,
        what_cannot_be_is_never_booked,
        an_answer_stands_whatever_arrives,
        back_and_back_again,
        who_takes_back,
        a_long_chain_of_takings_back,
        changes_that_had_not_seen_each_other,
        changes_that_had,
        clashes_as_pairs_say,
        carried_facts_keep_their_identity,
        carried_twice_counts_once,
        what_waits_never_decides_over_what_is_sent,
        a_circle_of_names,
    };
    Suite *s = suite_create("book_answer");
    TCase *t = tcase_create("answer");
    tcase_set_timeout(t, 60);
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) tcase_add_test(t, tests[i]);
    suite_add_tcase(s, t);
    return s;
}
