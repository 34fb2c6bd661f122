/* Remedies: which are found, which are not possible, and that they come true: what a remedy says of the line is what
 * the fill says once the same has been recorded. */
#include <math.h>

#include "remedy/in.h"
#include "shop.h"

#define ON (ROWS_DAY0 + 12)

/* Red Harbour: 300 cells counted at 90 in 100, 10 doubles a tray; 400 promised for Alder Ford. */
static struct cot_id short_of_plants(struct shop *s, const char *what, struct cot_id *batch)
{
    shop_open(s, what, true);
    *batch = shop_sow(s, &s->lot, &s->format, 3, ROWS_DAY0);
    shop_count(s, batch, 3, 100, 90, 10, ROWS_DAY0 + 11);
    return shop_promised(s, &s->r->farm, &s->variety, &s->format, 400, ROWS_DAY0 + 43);
}

static struct cot_remedy must_have(struct shop *s, const struct cot_id *line, enum cot_remedy_kind kind)
{
    struct cot_remedies m;
    shop_remedies(s, ON, &m);
    const struct cot_remedy *r = shop_remedy(&m, line, kind);
    ck_assert_msg(r != NULL, "no %s", cot_remedy_word(kind));
    struct cot_remedy copy = *r;
    cot_remedies_free(&m);
    ck_assert(copy.worked_out);
    ck_assert_int_ge(copy.by, ON);
    ck_assert_int_gt(copy.minutes, 0);
    return copy;
}

static void must_not_have(struct shop *s, const struct cot_id *line, enum cot_remedy_kind kind)
{
    struct cot_remedies m;
    shop_remedies(s, ON, &m);
    ck_assert_ptr_null(shop_remedy(&m, line, kind));
    cot_remedies_free(&m);
}

static void comes_true(struct shop *s, const struct cot_id *line, const struct cot_remedy *r)
{
    struct cot_fill_line l = shop_line(s, ON, line);
    ck_assert_int_eq(l.likely, r->likely);
    ck_assert_int_eq(l.count_on, r->count_on);
    ck_assert_int_eq(l.verdict, r->verdict);
    ck_assert_msg(l.chance - r->chance < 1e-9 && r->chance - l.chance < 1e-9, "%.9f, not %.9f", l.chance, r->chance);
}

START_TEST(patching)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "patching", &batch);
    struct cot_remedy r = must_have(&s, &line, COT_REMEDY_PATCH);
    ck_assert_int_eq(r.plants, 30); /* 30 blanks, 30 doubles */
    ck_assert_int_eq(r.by, ROWS_DAY0 + 43 - COT_ROOT_DAYS);
    ck_assert(!r.buyers_yes && !r.guess);
    begin(s.r, "B", COT_K_PATCHED);
    about(s.r, &batch);
    with_int(s.r, COT_F_PLANTS, 30);
    with_int(s.r, COT_F_DAY, ON);
    good(s.r);
    comes_true(&s, &line, &r);
    must_not_have(&s, &line, COT_REMEDY_PATCH); /* those doubles are used up */
    rows_free(s.r);
}
END_TEST

START_TEST(no_more_than_is_needed_is_patched)
{
    struct shop s;
    shop_open(&s, "need", true);
    struct cot_id batch = shop_sow(&s, &s.lot, &s.format, 3, ROWS_DAY0);
    shop_count(&s, &batch, 3, 100, 90, 10, ROWS_DAY0 + 11);
    struct cot_id line = shop_promised(&s, &s.r->farm, &s.variety, &s.format, 275, ROWS_DAY0 + 43);
    struct cot_fill_line l = shop_line(&s, ON, &line);
    struct cot_remedy r = must_have(&s, &line, COT_REMEDY_PATCH);
    ck_assert_int_eq(r.plants, l.wanted - l.count_on);
    ck_assert_int_lt(r.plants, 30);
    rows_free(s.r);
}
END_TEST

START_TEST(releasing)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "releasing", &batch);
    struct cot_id held = shop_sow(&s, &s.lot, &s.format, 2, ROWS_DAY0 + 1);
    begin(s.r, "B", COT_K_HELD);
    about(s.r, &held);
    with_text(s.r, COT_F_WHY, "spots");
    with_int(s.r, COT_F_DAY, ON);
    good(s.r);
    struct cot_remedy r = must_have(&s, &line, COT_REMEDY_RELEASE);
    ck_assert_int_eq(cot_id_cmp(&r.batch->id, &held), 0);
    ck_assert(r.guess); /* nobody counted it */
    begin(s.r, "B", COT_K_RELEASED);
    about(s.r, &held);
    with_int(s.r, COT_F_DAY, ON);
    good(s.r);
    comes_true(&s, &line, &r);
    must_not_have(&s, &line, COT_REMEDY_RELEASE);
    rows_free(s.r);
}
END_TEST

START_TEST(promising)
{
    struct shop s;
    shop_open(&s, "promising", true);
    struct cot_id batch = shop_sow(&s, &s.lot, &s.format, 3, ROWS_DAY0);
    shop_count(&s, &batch, 3, 100, 90, 10, ROWS_DAY0 + 11);
    struct cot_id line = shop_order(&s, &s.r->farm, &s.variety, &s.format, 100, ROWS_DAY0 + 43);
    struct cot_remedies m;
    shop_remedies(&s, ON, &m);
    ck_assert_uint_eq(m.line_count, 1);
    ck_assert_uint_eq(m.remedy_count, 1); /* nothing else is wanted once it is promised */
    ck_assert_int_eq(m.remedy[0].kind, COT_REMEDY_PROMISE);
    ck_assert(m.remedy[0].managers_yes);
    ck_assert_int_eq(m.remedy[0].verdict, COT_COVERED);
    struct cot_remedy r = m.remedy[0];
    cot_remedies_free(&m);
    shop_promise(&s, &s.r->farm, &line, 100);
    comes_true(&s, &line, &r);
    shop_remedies(&s, ON, &m);
    ck_assert_uint_eq(m.line_count, 0);
    cot_remedies_free(&m);
    rows_free(s.r);
}
END_TEST

/* Another format, another variety, another day: plants there are, if the farm says yes. */
static void change(struct shop *s, const struct cot_id *line, enum cot_field f, const struct cot_id *id, int64_t i)
{
    begin(s->r, "A", COT_K_LINE);
    about(s->r, line);
    of_farm(s->r, &s->r->farm);
    if (f == COT_F_FORMAT) ck_assert(cot_fact_clear(&s->r->f, f));
    else if (id) ck_assert(cot_fact_set_ids(&s->r->f, f, rows_keep(s->r, id, sizeof *id), 1));
    else with_int(s->r, f, i);
    good(s->r);
}

START_TEST(asking_the_farm)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "asking", &batch);
    struct cot_id other = {{0}};
    enum cot_remedy_kind kind = (enum cot_remedy_kind)_i;
    if (kind == COT_REMEDY_FORMAT) other = shop_sow(&s, &s.lot, &s.small, 8, ROWS_DAY0 + 2);
    if (kind == COT_REMEDY_VARIETY) other = shop_sow(&s, &s.lot_other, &s.format, 4, ROWS_DAY0 + 2);
    if (kind == COT_REMEDY_DAY) { /* sown late: ready eight days after */
        other = shop_sow(&s, &s.lot, &s.format, 4, ON);
        change(&s, &line, COT_F_DATE, NULL, ROWS_DAY0 + 34);
        shop_promise(&s, &s.r->farm, &line, 400);
    }
    struct cot_remedy r = must_have(&s, &line, kind);
    ck_assert_int_eq(cot_id_cmp(&r.batch->id, &other), 0);
    ck_assert(r.buyers_yes && r.guess);
    ck_assert_int_gt(r.plants, 0);
    if (kind == COT_REMEDY_FORMAT) change(&s, &line, COT_F_FORMAT, NULL, 0);
    if (kind == COT_REMEDY_VARIETY) change(&s, &line, COT_F_SUBS, &s.other, 0);
    if (kind == COT_REMEDY_DAY) {
        ck_assert_int_eq(r.ready, ON + 30);
        change(&s, &line, COT_F_DATE, NULL, r.ready);
        shop_promise(&s, &s.r->farm, &line, 400);
    }
    comes_true(&s, &line, &r);
    must_not_have(&s, &line, kind);
    rows_free(s.r);
}
END_TEST

/* --- Sowing again ------------------------------------------------------------------------------------------------- */
START_TEST(resowing)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "resowing", &batch);
    struct cot_remedy r = must_have(&s, &line, COT_REMEDY_RESOW);
    ck_assert_int_eq(cot_id_cmp(&r.lot->id, &s.lot), 0);
    ck_assert_int_eq(r.by, ROWS_DAY0 + 43 - 30);
    ck_assert_int_eq(r.verdict, COT_COVERED);
    ck_assert_int_eq(r.on_hand, -1);
    ck_assert_int_ge(r.seeds, r.trays * 100);
    ck_assert_int_eq(r.minutes, COT_MINUTES_SOWING + r.trays * COT_MINUTES_TRAY);
    ck_assert(!r.guess && !r.treated && !r.buyers_yes);
    shop_sow(&s, &s.lot, &s.format, r.trays, r.ready - 30);
    struct cot_fill_line l = shop_line(&s, r.ready - 30, &line);
    ck_assert_int_eq(l.verdict, COT_COVERED);
    ck_assert_int_eq(l.likely, r.likely);
    ck_assert_msg(l.chance - r.chance < 0.02 && r.chance - l.chance < 0.02, "%.4f, not %.4f", l.chance, r.chance);
    rows_free(s.r);
}
END_TEST

/* The stand that the first candidate of sowing again would add. */
static struct cot_stand would_stand(struct shop *s, const struct cot_id *line)
{
    struct cot_fill f;
    struct cot_tries tries = {.item = calloc(COT_TRIES_MOST, sizeof *tries.item)};
    struct cot_need n = {.book = s->r->book, .fill = &f, .unsure = 100, .unsure_all = 100};
    ck_assert_int_eq(cot_fill_read(s->r->book, ON, &f), COT_OK);
    while (n.index < f.line_count && cot_id_cmp(&f.line[n.index].line->id, line) != 0) n.index++;
    n.line = &f.line[n.index];
    ck_assert_int_eq(cot_if_line_of(s->r->book, n.line->line, &n.asked), COT_OK);
    n.last = n.line->date;
    n.crop = cot_book_thing(s->r->book, &s->crop);
    n.format = cot_book_thing(s->r->book, &s->format);
    ck_assert_int_eq(cot_try_sowing(&n, &tries), COT_OK);
    ck_assert_uint_gt(tries.count, 0);
    struct cot_stand stand = tries.item[0].batch;
    cot_fill_free(&f);
    free(tries.item);
    return stand;
}

/* What is sown again goes up and down with the lot's other batches as far as it does once it stands in the book. */
START_TEST(resown_hangs_on_its_lot)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "shares a lot", &batch);
    struct cot_stand before = would_stand(&s, &line), after;
    struct cot_id sown = shop_sow(&s, &s.lot, &s.format, before.trays, ON);
    ck_assert_int_eq(cot_stand_read(s.r->book, cot_book_thing(s.r->book, &sown), ON, &after), COT_OK);
    ck_assert_msg(before.shared > 0.2 && before.shared < 1, "%.4f", before.shared);
    ck_assert_msg(fabs(before.shared - after.shared) < 0.02, "%.4f, not %.4f", before.shared, after.shared);
    rows_free(s.r);
}
END_TEST

static void change_lot(struct shop *s, const struct cot_id *lot, enum cot_field f, int64_t i)
{
    begin(s->r, "A", COT_K_LOT);
    about(s->r, lot);
    with_int(s->r, f, i);
    good(s->r);
}

START_TEST(seed_on_hand)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "seed", &batch);
    int64_t wanted = must_have(&s, &line, COT_REMEDY_RESOW).trays;
    ck_assert_int_ge(wanted, 2);
    change_lot(&s, &s.lot, COT_F_STOCK_SEEDS, 150); /* enough for one tray */
    struct cot_remedy r = must_have(&s, &line, COT_REMEDY_RESOW);
    ck_assert_int_eq(r.trays, 1);
    ck_assert_int_eq(r.on_hand, 150);
    change_lot(&s, &s.lot, COT_F_STOCK_SEEDS, 40); /* not for one */
    must_not_have(&s, &line, COT_REMEDY_RESOW);
    change_lot(&s, &s.lot, COT_F_STOCK_SEEDS, 0);
    must_not_have(&s, &line, COT_REMEDY_RESOW);
    rows_free(s.r);
}
END_TEST

static const struct {
    const char *what;
    enum cot_field line, lot; /* set to 1; COT_F_COUNT: not */
    bool possible;
} seeds[] = {
    {"as it is", COT_F_COUNT, COT_F_COUNT, true},
    {"withdrawn", COT_F_COUNT, COT_F_WITHDRAWN, false},
    {"treated, and nobody minds", COT_F_COUNT, COT_F_TREATED, true},
    {"treated, and untreated is wanted", COT_F_UNTREATED, COT_F_TREATED, false},
    {"organic is wanted", COT_F_ORGANIC, COT_F_COUNT, false},
    {"organic is wanted and there", COT_F_ORGANIC, COT_F_ORGANIC, true},
    {"own seed is wanted", COT_F_OWN_SEED, COT_F_COUNT, false},
};

START_TEST(eligible_seed)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "eligible", &batch);
    if (seeds[_i].line != COT_F_COUNT) change(&s, &line, seeds[_i].line, NULL, 1);
    if (seeds[_i].lot != COT_F_COUNT) change_lot(&s, &s.lot, seeds[_i].lot, 1);
    if (!seeds[_i].possible) {
        must_not_have(&s, &line, COT_REMEDY_RESOW);
    } else {
        struct cot_remedy r = must_have(&s, &line, COT_REMEDY_RESOW);
        ck_assert_int_eq(r.treated, seeds[_i].lot == COT_F_TREATED);
    }
    rows_free(s.r);
}
END_TEST

/* The last day to sow is the last day of collecting less the crop's days; the day after it is too late. */
START_TEST(too_late_to_sow)
{
    struct shop s;
    struct cot_remedies m;
    struct cot_id batch, line = short_of_plants(&s, "late", &batch);
    for (int day = 0; day < 2; day++) {
        ck_assert_int_eq(cot_remedies_read(s.r->book, ROWS_DAY0 + 13 + day, NULL, NULL, &m, NULL), COT_OK);
        const struct cot_remedy *r = shop_remedy(&m, &line, COT_REMEDY_RESOW);
        ck_assert_int_eq(r == NULL, day);
        cot_remedies_free(&m);
    }
    change(&s, &line, COT_F_LATE, NULL, 5);
    ck_assert_int_eq(cot_remedies_read(s.r->book, ROWS_DAY0 + 18, NULL, NULL, &m, NULL), COT_OK);
    ck_assert_int_eq(shop_remedy(&m, &line, COT_REMEDY_RESOW)->by, ROWS_DAY0 + 18);
    cot_remedies_free(&m);
    ck_assert_int_eq(cot_remedies_read(s.r->book, ROWS_DAY0 + 49, NULL, NULL, &m, NULL), COT_OK);
    ck_assert_uint_eq(m.line_count, 0); /* its last day has gone by */
    cot_remedies_free(&m);
    rows_free(s.r);
}
END_TEST

/* Who stands before in the queue takes what is sown for one line; sown for both, both are rescued. */
START_TEST(sown_for_all)
{
    struct shop s;
    struct cot_id batch, first = short_of_plants(&s, "for all", &batch);
    struct cot_id second = shop_promised(&s, &s.r->farm, &s.variety, &s.format, 150, ROWS_DAY0 + 43);
    struct cot_remedy r = must_have(&s, &second, COT_REMEDY_RESOW);
    ck_assert_uint_eq(r.rescued, 2);
    ck_assert_int_gt(r.trays, must_have(&s, &first, COT_REMEDY_RESOW).trays - 1);
    ck_assert_uint_eq(r.harmed, 0);
    rows_free(s.r);
}
END_TEST

/* --- Sharing, buying in ------------------------------------------------------------------------------------------- */
START_TEST(sharing)
{
    struct shop s;
    struct cot_id batch, first = short_of_plants(&s, "sharing", &batch);
    struct cot_id second = shop_promised(&s, &s.r->farm, &s.variety, &s.format, 100, ROWS_DAY0 + 43);
    struct cot_remedy r = must_have(&s, &second, COT_REMEDY_SHARE);
    ck_assert_int_gt(r.plants, 0);
    ck_assert_int_eq(r.likely, r.plants);        /* it had nothing */
    must_not_have(&s, &first, COT_REMEDY_SHARE); /* it would only lose */
    rows_free(s.r);
}
END_TEST

START_TEST(buying_in)
{
    struct shop s;
    struct cot_id batch, line = short_of_plants(&s, "buying", &batch);
    struct cot_fill_line l = shop_line(&s, ON, &line);
    struct cot_remedy r = must_have(&s, &line, COT_REMEDY_BUY_IN);
    ck_assert_int_eq(r.plants, l.wanted - l.count_on);
    ck_assert_int_eq(r.verdict, COT_COVERED);
    ck_assert_int_eq(r.ready, ROWS_DAY0 + 43);
    ck_assert_int_eq(r.by, ROWS_DAY0 + 43 - 15); /* plugs grow on for half the crop's days */
    ck_assert(r.guess);
    rows_free(s.r);
}
END_TEST

/* --- Which lines -------------------------------------------------------------------------------------------------- */
/* What would help by less than a tenth of what is lacking is not worth reading. */
START_TEST(trifles_are_left_out)
{
    struct shop s;
    shop_open(&s, "trifles", true);
    struct cot_id batch = shop_sow(&s, &s.lot, &s.format, 3, ROWS_DAY0);
    shop_count(&s, &batch, 3, 100, 97, 3, ROWS_DAY0 + 11); /* 9 blanks, 9 doubles */
    struct cot_id line = shop_promised(&s, &s.r->farm, &s.variety, &s.format, 370, ROWS_DAY0 + 43);
    ck_assert_int_eq(must_have(&s, &line, COT_REMEDY_PATCH).plants, 9); /* of some 80 */
    change(&s, &line, COT_F_PLANTS, NULL, 400);
    shop_promise(&s, &s.r->farm, &line, 400);
    must_not_have(&s, &line, COT_REMEDY_PATCH); /* of some 110 */
    rows_free(s.r);
}
END_TEST

/* How far it said it was. */
struct heard {
    uint32_t times, latest, all;
};

static void hear(void *ctx, uint32_t done, uint32_t all)
{
    struct heard *h = ctx;
    ck_assert_uint_ge(done, h->latest);
    *h = (struct heard){h->times + 1, done, all};
}

START_TEST(lines_left_alone)
{
    struct shop s;
    struct cot_remedies m;
    struct cot_id batch, line = short_of_plants(&s, "alone", &batch);
    struct cot_id weir = rows_farm(s.r, "A", "Weir Hill");
    struct cot_id theirs = shop_promised(&s, &weir, &s.variety, &s.format, 50, ROWS_DAY0 + 43);
    struct cot_id declined = shop_order(&s, &weir, &s.variety, &s.format, 60, ROWS_DAY0 + 43);
    begin(s.r, "A", COT_K_DECLINED);
    about(s.r, &declined);
    of_farm(s.r, &weir);
    good(s.r);
    struct cot_id gone = shop_promised(&s, &weir, &s.variety, &s.format, 70, ROWS_DAY0 + 43);
    begin(s.r, "A", COT_K_WITHDRAWN);
    about(s.r, &gone);
    of_farm(s.r, &weir);
    good(s.r);
    struct heard heard = {0};
    ck_assert_int_eq(cot_remedies_read_telling(s.r->book, ON, NULL, NULL, hear, &heard, &m, NULL), COT_OK);
    ck_assert_uint_eq(m.line_count, 2);
    ck_assert(heard.times > 2 && heard.latest == 1 && heard.all == 2); /* the second line is worked on last */
    cot_remedies_free(&m);
    ck_assert_int_eq(cot_remedies_read(s.r->book, ON, &weir, NULL, &m, NULL), COT_OK);
    ck_assert_uint_eq(m.line_count, 1);
    ck_assert_int_eq(cot_id_cmp(&m.fill.line[m.line[0]].line->id, &theirs), 0);
    cot_remedies_free(&m);
    ck_assert_int_eq(cot_remedies_read(s.r->book, ON, NULL, &line, &m, NULL), COT_OK);
    ck_assert_uint_eq(m.line_count, 1);
    ck_assert_int_eq(cot_id_cmp(&m.fill.line[m.line[0]].line->id, &line), 0);
    cot_remedies_free(&m);
    rows_free(s.r);
}
END_TEST

START_TEST(no_house)
{
    struct cot_remedies m;
    struct cot_fault fault = {0};
    struct cot_book *b = cot_book_new(NULL);
    ck_assert_int_eq(cot_remedies_read(b, ON, NULL, NULL, &m, &fault), COT_INVALID);
    ck_assert_str_ne(fault.msg, "");
    ck_assert_ptr_null(m.line);
    cot_book_free(b);
}
END_TEST

/* --- Any house ---------------------------------------------------------------------------------------------------- */
static void random_house(struct shop *s)
{
    struct dice *d = &s->r->dice;
    struct cot_id weir = rows_farm(s->r, "A", "Weir Hill");
    int batches = (int)dice_int(d, 0, 5), lines = (int)dice_int(d, 1, 7);
    for (int i = 0; i < batches; i++) {
        bool other = dice_int(d, 0, 3) == 0, small = dice_int(d, 0, 3) == 0;
        int32_t trays = (int32_t)dice_int(d, 1, 4), cells = small ? 50 : 100;
        struct cot_id b = shop_sow(s, other ? &s->lot_other : &s->lot, small ? &s->small : &s->format, trays,
                                   ROWS_DAY0 + (int32_t)dice_int(d, 0, 12));
        if (dice_int(d, 0, 1)) shop_count(s, &b, trays, cells, (int32_t)dice_int(d, 0, cells), 0, ROWS_DAY0 + 12);
    }
    for (int i = 0; i < lines; i++) {
        const struct cot_id *farm = dice_int(d, 0, 1) ? &weir : &s->r->farm;
        struct cot_id line = shop_order(s, farm, dice_int(d, 0, 3) ? &s->variety : &s->other,
                                        dice_int(d, 0, 3)   ? &s->format
                                        : dice_int(d, 0, 1) ? &s->small
                                                            : NULL,
                                        dice_int(d, 1, 500), ROWS_DAY0 + (int32_t)dice_int(d, 10, 60));
        if (dice_int(d, 0, 3)) shop_promise(s, farm, &line, dice_int(d, 1, 500));
    }
}

static void check_one(const struct cot_remedies *m, const struct cot_remedy *r)
{
    const struct cot_fill_line *l = &m->fill.line[r->line];
    sure(l->verdict != COT_COVERED);
    sure(r->by >= m->fill.on && r->minutes > 0 && r->worked_out);
    sure(r->chance >= 0 && r->chance <= 1 && r->likely <= l->wanted && r->count_on <= l->wanted);
    sure(r->chance > l->chance || r->likely > l->likely || r->count_on > l->count_on || r->verdict == COT_COVERED);
    sure(r->verdict == COT_COVERED ? r->rescued >= 1 : true);
    sure(r->rescued <= m->line_count + m->fill.line_count && r->harmed < m->fill.line_count);
    sure(r->kind != COT_REMEDY_RESOW || (r->trays > 0 && r->lot && r->format && r->seeds > 0));
    sure(!r->batch || !r->promise_first || l->waiting);
}

static void same_remedies(const struct cot_remedies *x, const struct cot_remedies *y)
{
    sure(x->line_count == y->line_count && x->remedy_count == y->remedy_count);
    for (uint32_t i = 0; i < x->remedy_count; i++) {
        const struct cot_remedy *a = &x->remedy[i], *b = &y->remedy[i];
        sure(a->kind == b->kind && a->line == b->line && a->by == b->by && a->trays == b->trays);
        sure(a->plants == b->plants && a->likely == b->likely && a->count_on == b->count_on);
        sure(a->chance <= b->chance && a->chance >= b->chance); /* to the bit */
        sure(a->rescued == b->rescued && a->harmed == b->harmed);
    }
}

START_TEST(any_house)
{
    struct shop s;
    struct cot_remedies m, again;
    for (int round = 0; round < 6; round++) {
        shop_open(&s, "any house", true);
        s.r->dice.s += (uint64_t)(_i * 100 + round) * UINT64_C(0x632be59bd9b4e019);
        random_house(&s);
        shop_remedies(&s, ON, &m);
        for (uint32_t i = 0; i < m.remedy_count; i++) {
            check_one(&m, &m.remedy[i]);
            if (i == 0 || m.remedy[i].line != m.remedy[i - 1].line) continue;
            const struct cot_remedy *a = &m.remedy[i - 1], *b = &m.remedy[i];
            sure(a->rescued > a->harmed || b->rescued <= b->harmed); /* those that rescue come first */
        }
        struct cot_book *turned = cot_book_new(NULL); /* the same rows the other way round */
        for (size_t i = s.r->count; i-- > 0;) sure(cot_book_put(turned, &s.r->row[i]) == COT_OK);
        sure(cot_remedies_read(turned, ON, NULL, NULL, &again, NULL) == COT_OK);
        same_remedies(&m, &again);
        cot_remedies_free(&again);
        cot_book_free(turned);
        cot_remedies_free(&m);
        rows_free(s.r);
    }
}
END_TEST

Suite *cot_suite(void)
{
    const TTest *const tests[] = {
        sharing,          trifles_are_left_out,
        patching,         no_more_than_is_needed_is_patched,
        releasing,        promising,
        resowing,         resown_hangs_on_its_lot,
        seed_on_hand,     too_late_to_sow,
        sown_for_all,     buying_in,
        lines_left_alone, no_house,
    };
    Suite *s = suite_create("remedies");
    TCase *t = tcase_create("remedies");
    tcase_set_timeout(t, 240);
    for (size_t i = 0; i < sizeof tests / sizeof tests[0]; i++) tcase_add_test(t, tests[i]);
    tcase_add_loop_test(t, asking_the_farm, COT_REMEDY_FORMAT, COT_REMEDY_DAY + 1);
    tcase_add_loop_test(t, eligible_seed, 0, (int)(sizeof seeds / sizeof seeds[0]));
    tcase_add_loop_test(t, any_house, 0, 6);
    suite_add_tcase(s, t);
    return s;
}
