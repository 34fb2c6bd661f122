/* What a change would do to whom: held against two fills read one by one. */
#include "shop.h"

#define ON (ROWS_DAY0 + 12)

struct two {
    struct shop s;
    struct cot_id weir, batch, first, second;
};

/* 270 plants counted; Alder Ford's 200 stand before Weir Hill's 100. */
static void two_lines(struct two *w, const char *what)
{
    shop_open(&w->s, what, true);
    w->weir = rows_farm(w->s.r, "A", "Weir Hill");
    w->batch = shop_sow(&w->s, &w->s.lot, &w->s.format, 3, ROWS_DAY0);
    shop_count(&w->s, &w->batch, 3, 100, 90, 0, ROWS_DAY0 + 11);
    w->first = shop_promised(&w->s, &w->s.r->farm, &w->s.variety, &w->s.format, 200, ROWS_DAY0 + 43);
    w->second = shop_promised(&w->s, &w->weir, &w->s.variety, &w->s.format, 100, ROWS_DAY0 + 43);
}

static void effect_of(struct two *w, const struct cot_if_line *line, const struct cot_id *farm, struct cot_effect *e)
{
    struct cot_what_if change = {.line = line};
    struct cot_fault fault = {0};
    enum cot_err err = cot_effect_read(w->s.r->book, ON, &change, farm, e, &fault);
    ck_assert_msg(err == COT_OK, "%s", fault.msg);
}

static struct cot_if_line standing(struct two *w, const struct cot_id *line)
{
    struct cot_if_line l;
    ck_assert_int_eq(cot_if_line_of(w->s.r->book, cot_book_thing(w->s.r->book, line), &l), COT_OK);
    return l;
}

START_TEST(withdrawing_rescues_another)
{
    struct two w;
    struct cot_effect e;
    two_lines(&w, "withdrawing");
    struct cot_if_line l = standing(&w, &w.first);
    l.withdrawn = true;
    effect_of(&w, &l, NULL, &e);
    ck_assert_uint_eq(e.moved_count, 2);
    ck_assert_uint_eq(e.moved[0].after, COT_NO_LINE);
    ck_assert_int_eq(e.before.line[e.moved[1].before].verdict, COT_SHORT);
    ck_assert_int_eq(e.after.line[e.moved[1].after].verdict, COT_COVERED);
    ck_assert_uint_eq(e.rescued, 1);
    ck_assert_uint_eq(e.harmed, 0);
    cot_effect_free(&e);
    effect_of(&w, &l, &w.weir, &e); /* as Weir Hill may see it */
    ck_assert_uint_eq(e.moved_count, 1);
    ck_assert_uint_eq(e.rescued, 1);
    cot_effect_free(&e);
    effect_of(&w, &l, &w.s.r->farm, &e); /* and as Alder Ford may */
    ck_assert_uint_eq(e.moved_count, 1);
    ck_assert_uint_eq(e.rescued, 0);
    cot_effect_free(&e);
    rows_free(w.s.r);
}
END_TEST

/* What is asked for beyond the promise queues behind Weir Hill's: it harms nobody. Fewer: the rest is Weir Hill's. */
START_TEST(more_and_less)
{
    struct two w;
    struct cot_effect e;
    two_lines(&w, "more and less");
    struct cot_if_line l = standing(&w, &w.first);
    l.plants = 400;
    effect_of(&w, &l, NULL, &e);
    ck_assert_uint_eq(e.harmed, 0);
    ck_assert_uint_eq(e.moved_count, 1);
    ck_assert_int_eq(e.after.line[e.moved[0].after].wanted, 400);
    cot_effect_free(&e);
    l.plants = 150;
    effect_of(&w, &l, NULL, &e);
    ck_assert_uint_eq(e.rescued, 1);
    cot_effect_free(&e);
    rows_free(w.s.r);
}
END_TEST

/* A line given another day changes places among the lines; the others stay side by side. */
START_TEST(a_line_that_changes_places)
{
    struct two w;
    struct cot_effect e;
    struct cot_id line[6];
    two_lines(&w, "places");
    for (int i = 0; i < 6; i++)
        line[i] = shop_promised(&w.s, &w.s.r->farm, &w.s.other, &w.s.format, 10 + i, ROWS_DAY0 + 44 + 2 * i);
    for (int i = 0; i < 6; i++) {
        struct cot_if_line l = standing(&w, &line[i]);
        for (int32_t day = ROWS_DAY0 + 41; day < ROWS_DAY0 + 60; day += 3) {
            l.date = day;
            effect_of(&w, &l, NULL, &e);
            ck_assert_uint_eq(e.moved_count, 1); /* nothing of that variety is sown: nobody has anything to lose */
            ck_assert_int_eq(cot_id_cmp(&e.before.line[e.moved[0].before].line->id, &line[i]), 0);
            ck_assert_int_eq(e.after.line[e.moved[0].after].date, day);
            cot_effect_free(&e);
        }
        l.withdrawn = true;
        effect_of(&w, &l, NULL, &e);
        ck_assert_uint_eq(e.moved_count, 1);
        ck_assert_uint_eq(e.moved[0].after, COT_NO_LINE);
        cot_effect_free(&e);
    }
    struct cot_if_line fresh = standing(&w, &line[3]);
    fresh.line = NULL;
    effect_of(&w, &fresh, NULL, &e);
    ck_assert_uint_eq(e.moved_count, 1);
    ck_assert_uint_eq(e.moved[0].before, COT_NO_LINE);
    ck_assert_uint_eq(e.moved[0].after, e.after.if_line);
    cot_effect_free(&e);
    rows_free(w.s.r);
}
END_TEST

/* A batch on hold, let go as if, harms nobody and is not recorded. */
START_TEST(nothing_is_recorded)
{
    struct two w;
    struct cot_effect e;
    int64_t rows, unsent, position, after;
    two_lines(&w, "recorded");
    struct cot_if_line l = standing(&w, &w.first);
    cot_book_size(w.s.r->book, &rows, &unsent, &position);
    l.plants = 1;
    effect_of(&w, &l, NULL, &e);
    cot_effect_free(&e);
    cot_book_size(w.s.r->book, &after, &unsent, &position);
    ck_assert_int_eq(rows, after);
    ck_assert_int_eq(shop_line(&w.s, ON, &w.first).wanted, 200);
    rows_free(w.s.r);
}
END_TEST

/* Taking the stands over from a reading before gives what reading them gives. */
START_TEST(read_again_is_the_same)
{
    struct two w;
    struct cot_fill base, plain, again;
    two_lines(&w, "again");
    struct cot_id more = shop_sow(&w.s, &w.s.lot, &w.s.format, 2, ROWS_DAY0 + 3);
    struct cot_if_line l = standing(&w, &w.second);
    l.plants = 300;
    struct cot_stand extra;
    ck_assert_int_eq(cot_stand_read(w.s.r->book, cot_book_thing(w.s.r->book, &more), ON, &extra), COT_OK);
    memset(&extra.batch, 0, sizeof extra.batch);
    const struct cot_what_if changes[] = {
        {.line = &l},
        {.batch = &extra, .line = &l},
        {.patch = cot_book_thing(w.s.r->book, &w.batch), .patch_plants = 11},
        {.other_share = true, .share = COT_SHARE_PRORATA},
    };
    ck_assert_int_eq(cot_fill_read(w.s.r->book, ON, &base), COT_OK);
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        ck_assert_int_eq(cot_fill_read_if(w.s.r->book, ON, &changes[i], &plain, NULL), COT_OK);
        ck_assert_int_eq(cot_fill_read_again(w.s.r->book, &base, ON, &changes[i], &again, NULL), COT_OK);
        ck_assert_uint_eq(plain.line_count, again.line_count);
        ck_assert_uint_eq(plain.batch_count, again.batch_count);
        ck_assert_int_eq(memcmp(plain.line, again.line, plain.line_count * sizeof *plain.line), 0);
        ck_assert_int_eq(memcmp(plain.serves, again.serves, plain.batch_count * sizeof *plain.serves), 0);
        cot_fill_free(&plain);
        cot_fill_free(&again);
    }
    cot_fill_free(&base);
    rows_free(w.s.r);
}
END_TEST

/* --- Asked as entries that nobody makes -----------------------------------------------------------------------------
 */
static struct cot_fact asked_for(struct two *w)
{
    begin(w->s.r, "A", COT_K_LINE);
    of_farm(w->s.r, &w->weir);
    with_id(w->s.r, COT_F_VARIETY, &w->s.variety);
    with_int(w->s.r, COT_F_DATE, ROWS_DAY0 + 43);
    return w->s.r->f;
}

START_TEST(asked_anew)
{
    struct two w;
    struct cot_if_line l;
    two_lines(&w, "asked");
    struct cot_fact f = asked_for(&w);
    ck_assert(cot_fact_set_int(&f, COT_F_TRAYS, 3) && cot_fact_set_ids(&f, COT_F_FORMAT, &w.s.format, 1));
    ck_assert(cot_fact_set_int(&f, COT_F_LATE, 4) && cot_fact_set_int(&f, COT_F_ORGANIC, 1));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &f, false, &l, NULL), COT_OK);
    ck_assert(!l.line && !l.withdrawn && l.organic && !l.untreated);
    ck_assert_int_eq(l.plants, 300);
    ck_assert_int_eq(l.late, 4);
    ck_assert_int_eq(cot_id_cmp(&l.farm->id, &w.weir), 0);
    ck_assert_int_eq(cot_id_cmp(&l.format->id, &w.s.format), 0);
    rows_free(w.s.r);
}
END_TEST

START_TEST(asked_of_a_standing_line)
{
    struct two w;
    struct cot_if_line l;
    two_lines(&w, "asked of");
    struct cot_fact f = {.kind = COT_K_LINE, .has_about = true, .about = w.first};
    ck_assert(cot_fact_set_int(&f, COT_F_PLANTS, 250) && cot_fact_clear(&f, COT_F_FORMAT));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &f, false, &l, NULL), COT_OK);
    ck_assert_int_eq(cot_id_cmp(&l.line->id, &w.first), 0);
    ck_assert_int_eq(l.plants, 250);
    ck_assert_ptr_null(l.format);
    ck_assert_int_eq(l.date, ROWS_DAY0 + 43);                                         /* as it stands */
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &f, true, &l, NULL), COT_INVALID); /* one or the other */
    f = (struct cot_fact){.kind = COT_K_LINE, .has_about = true, .about = w.first};
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &f, true, &l, NULL), COT_OK);
    ck_assert(l.withdrawn);
    rows_free(w.s.r);
}
END_TEST

START_TEST(asked_in_vain)
{
    struct two w;
    struct cot_if_line l;
    struct cot_fault fault = {0};
    two_lines(&w, "in vain");
    struct cot_fact f = asked_for(&w), g = f;
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &f, false, &l, &fault), COT_INVALID); /* how many? */
    ck_assert(cot_fact_set_int(&g, COT_F_TRAYS, 3));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &g, false, &l, &fault), COT_INVALID); /* of which format? */
    g = f;
    ck_assert(cot_fact_set_int(&g, COT_F_PLANTS, 3));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &g, true, &l, &fault), COT_INVALID); /* which is withdrawn? */
    ck_assert(cot_fact_set_ids(&g, COT_F_VARIETY, &w.s.crop, 1));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &g, false, &l, &fault), COT_NOT_FOUND); /* that is a crop */
    g = f;
    ck_assert(cot_fact_set_int(&g, COT_F_PLANTS, 3) && cot_fact_set_ids(&g, COT_F_SUBS, &w.weir, 1));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &g, false, &l, &fault), COT_NOT_FOUND); /* that is a farm */
    g = f;
    g.farm = w.batch;
    ck_assert(cot_fact_set_int(&g, COT_F_PLANTS, 3));
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &g, false, &l, &fault), COT_NOT_FOUND);
    g = (struct cot_fact){.kind = COT_K_LINE, .has_about = true, .about = w.batch};
    ck_assert_int_eq(cot_if_line_read(w.s.r->book, &g, true, &l, &fault), COT_NOT_FOUND);
    ck_assert_str_ne(fault.msg, "");
    rows_free(w.s.r);
}
END_TEST

Suite *cot_suite(void)
{
    const TTest *const tests[] = {
        withdrawing_rescues_another, more_and_less, a_line_that_changes_places, nothing_is_recorded,
        read_again_is_the_same,      asked_anew,    asked_of_a_standing_line,   asked_in_vain,
    };
    Suite *s = suite_create("effect");
    TCase *t = tcase_create("effect");
    tcase_set_timeout(t, 120);
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) tcase_add_test(t, tests[i]);
    suite_add_tcase(s, t);
    return s;
}
