/* server/core/fill/fill.c, lines.c: the fill read from a book. Sharing itself is in share_test.c. */
#include "cotyledger/core/fill.h"

#include "cotyledger/core/prob.h"
#include "random_season.h"

static const struct cot_fill *read_fill(int32_t on)
{
    cot_fill_free(&fill);
    cot_book_free(book);
    book = season_book(&s, NULL);
    ck_assert_int_eq(cot_fill_read(book, on, &fill), COT_OK);
    return &fill;
}

static const struct cot_fill_line *line_of(const struct cot_id *id)
{
    for (uint32_t i = 0; i < fill.line_count; i++)
        if (cot_id_cmp(&fill.line[i].line->id, id) == 0) return &fill.line[i];
    ck_abort_msg("the line is not in the report");
    return NULL;
}

/* A batch counted in full: `usable` of its 72-cell trays' plants, so that there is no doubt about it. */
static struct cot_id sure_batch(const struct cot_id *of_lot, const struct cot_id *of_format, int trays, int cells,
                                int usable, int32_t day)
{
    start_sown(&s, of_lot, of_format, trays, day);
    struct cot_id b = *done(&s);
    make(&s, COT_K_COUNT);
    about(&s, &b);
    say(&s, COT_F_DAY, day + 14);
    say(&s, COT_F_TRAYS, trays);
    say(&s, COT_F_LOOKED, cells);
    say(&s, COT_F_USABLE, usable);
    say(&s, COT_F_BLANKS, cells - usable);
    say(&s, COT_F_CULLS, 0);
    done(&s);
    return b;
}

static struct cot_id promised_line(const struct cot_id *farm, const struct cot_id *variety, int plants, int32_t day)
{
    start_line(&s, farm, variety, plants, day);
    struct cot_id l = *done(&s);
    promise(&s, &l, farm, plants);
    return l;
}

static void check_line(const struct cot_id *id, int64_t likely, enum cot_fill_verdict v)
{
    const struct cot_fill_line *l = line_of(id);
    ck_assert_int_eq(l->likely, likely);
    ck_assert_int_eq(l->likely, l->handed + l->allotted);
    ck_assert_str_eq(cot_fill_word(l->verdict), cot_fill_word(v));
}

START_TEST(one_line_one_batch)
{
    start_sown(&s, &lot, &format, 10, SOWN);
    done(&s);
    struct cot_id sure = promised_line(&alder, &red, 500, READY), doubt = promised_line(&birch, &red, 125, READY);
    const struct cot_fill *f = read_fill(SOWN + 3);
    ck_assert_uint_eq(f->batch_count, 1);
    const struct cot_stand *t = &f->stand[0];
    const struct cot_fill_line *a = line_of(&sure), *b = line_of(&doubt);
    check_line(&sure, 500, COT_COVERED);
    check_line(&doubt, 125, COT_IN_DOUBT);
    ck_assert_int_eq(a->count_on, 500);
    ck_assert_int_eq(b->count_on, t->count_on - 500); /* the second has what is left */
    /* The chance is the stand's own tail, to the fineness of the levels. */
    ck_assert_double_eq_tol(b->chance, 1 - cot_mix_le(&t->then, 624 - t->then_base), 1.0 / COT_FILL_LEVELS);
    ck_assert_uint_eq(f->allot_count, 2);
    ck_assert(f->allot[0].plants == 500 && f->allot[1].plants == 125);

    struct cot_id shorter = promised_line(&birch, &red, 200, READY);
    read_fill(SOWN + 3);
    ck_assert_int_lt(line_of(&shorter)->likely, 100);
    ck_assert_int_eq(line_of(&shorter)->verdict, COT_SHORT);
    ck_assert_int_eq(line_of(&shorter)->short_by, 200 - line_of(&shorter)->likely);
}
END_TEST

START_TEST(queue_by_promise)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    start_line(&s, &alder, &red, 400, READY);
    struct cot_id first = *done(&s);
    start_line(&s, &birch, &red, 400, READY);
    struct cot_id second = *done(&s);
    promise(&s, &second, &birch, 300);
    promise(&s, &first, &alder, 400);
    promise(&s, &second, &birch, 400); /* the extra 100 queue from their own acceptance */
    read_fill(SOWN + 20);
    check_line(&first, 300, COT_SHORT);
    check_line(&second, 300, COT_SHORT);
    ck_assert_int_eq(line_of(&first)->short_by, 100);
    ck_assert_int_eq(line_of(&second)->promised, 400);
    ck_assert(!line_of(&second)->waiting);
}
END_TEST

START_TEST(unsent_promise_comes_last)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    start_line(&s, &alder, &red, 400, READY);
    struct cot_id first = *done(&s);
    start_line(&s, &birch, &red, 400, READY);
    struct cot_id second = *done(&s);
    make(&s, COT_K_PROMISE);
    of_farm(&s, &alder);
    about(&s, &first);
    say(&s, COT_F_PLANTS, 400);
    season_put(&s, false, false); /* made first, not sent yet */
    promise(&s, &second, &birch, 400);
    read_fill(SOWN + 20);
    check_line(&second, 400, COT_COVERED);
    check_line(&first, 200, COT_SHORT);
}
END_TEST

START_TEST(waiting_and_declined)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    start_line(&s, &alder, &red, 100, READY);
    struct cot_id waits = *done(&s);
    start_line(&s, &alder, &red, 100, READY);
    struct cot_id part = *done(&s);
    promise(&s, &part, &alder, 60);
    start_line(&s, &alder, &red, 100, READY);
    struct cot_id no = *done(&s);
    make(&s, COT_K_DECLINED);
    of_farm(&s, &alder);
    about(&s, &no);
    done(&s);
    read_fill(SOWN + 20);
    check_line(&waits, 0, COT_SHORT);
    ck_assert(line_of(&waits)->waiting && line_of(&waits)->promised == 0 && line_of(&waits)->chance == 0);
    check_line(&part, 60, COT_SHORT);
    ck_assert(line_of(&part)->waiting && line_of(&part)->count_on == 60);
    check_line(&no, 0, COT_SHORT);
    ck_assert(!line_of(&no)->waiting && line_of(&no)->declined);

    make(&s, COT_K_DECLINED); /* no to the other 40: the 60 stay promised */
    of_farm(&s, &alder);
    about(&s, &part);
    done(&s);
    read_fill(SOWN + 20);
    check_line(&part, 60, COT_SHORT);
    ck_assert(line_of(&part)->promised == 60 && line_of(&part)->declined && !line_of(&part)->waiting);
}
END_TEST

static struct cot_id line_with(enum cot_field f, int64_t value, const struct cot_id *variety, int32_t day)
{
    start_line(&s, &alder, variety, 100, day);
    say(&s, f, value);
    struct cot_id l = *done(&s);
    promise(&s, &l, &alder, 100);
    return l;
}

START_TEST(windows)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    struct cot_id early = promised_line(&alder, &red, 100, READY - 1);
    struct cot_id waits = line_with(COT_F_LATE, 1, &red, READY - 1);
    struct cot_id last = promised_line(&alder, &red, 100, SOWN + 35);
    struct cot_id late = promised_line(&alder, &red, 100, SOWN + 36);
    struct cot_id takes_early = line_with(COT_F_EARLY, 1, &red, SOWN + 36);
    read_fill(SOWN + 20);
    check_line(&early, 0, COT_SHORT);
    check_line(&waits, 100, COT_COVERED);
    check_line(&last, 100, COT_COVERED);
    check_line(&late, 0, COT_SHORT);
    check_line(&takes_early, 100, COT_COVERED);
}
END_TEST

/* A line nobody collected: what is past use today is not counted on. */
START_TEST(long_overdue)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    struct cot_id l = promised_line(&alder, &red, 100, READY);
    read_fill(SOWN + 35);
    check_line(&l, 100, COT_COVERED);
    read_fill(SOWN + 36);
    check_line(&l, 0, COT_SHORT);
}
END_TEST

START_TEST(trays_of_no_format)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    struct cot_id l = promised_line(&alder, &red, 100, READY);
    make(&s, COT_K_LINE);
    of_farm(&s, &alder);
    about(&s, &l);
    say(&s, COT_F_TRAYS, 5);
    done(&s);
    read_fill(SOWN + 20);
    check_line(&l, 0, COT_IN_DOUBT); /* never covered: nobody knows how many plants it wants */
    ck_assert(line_of(&l)->wanted == 0 && line_of(&l)->chance == 0);
    make(&s, COT_K_LINE);
    of_farm(&s, &alder);
    about(&s, &l);
    point(&s, COT_F_FORMAT, &format);
    done(&s);
    promise(&s, &l, &alder, 360);
    read_fill(SOWN + 20);
    check_line(&l, 360, COT_COVERED);
}
END_TEST

START_TEST(promised_date_moves)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    start_line(&s, &alder, &red, 100, READY - 10);
    struct cot_id l = *done(&s);
    make(&s, COT_K_PROMISE);
    of_farm(&s, &alder);
    about(&s, &l);
    say(&s, COT_F_PLANTS, 100);
    say(&s, COT_F_DATE, READY);
    done(&s);
    read_fill(SOWN + 20);
    check_line(&l, 100, COT_COVERED);
    ck_assert(line_of(&l)->date == READY && line_of(&l)->asked == READY - 10);
}
END_TEST

START_TEST(formats_and_trays)
{
    sure_batch(&lot, &format, 10, 720, 600, SOWN);
    start_line(&s, &alder, &red, 100, READY);
    point(&s, COT_F_FORMAT, &other_format);
    struct cot_id no = *done(&s);
    promise(&s, &no, &alder, 100);
    make(&s, COT_K_LINE);
    of_farm(&s, &alder);
    new_code(&s);
    point(&s, COT_F_VARIETY, &red);
    say(&s, COT_F_TRAYS, 2);
    point(&s, COT_F_FORMAT, &format);
    say(&s, COT_F_DATE, READY);
    struct cot_id trays = *done(&s);
    promise(&s, &trays, &alder, 1000);
    read_fill(SOWN + 20);
    check_line(&no, 0, COT_SHORT);
    check_line(&trays, 144, COT_COVERED);
    ck_assert(line_of(&trays)->promised == 144);

    make(&s, COT_K_RULE);
    about(&s, &s.row[0].digest);
    say(&s, COT_F_TRAY_MEANS, 1);
    done(&s);
    make(&s, COT_K_FORMAT);
    about(&s, &format);
    say(&s, COT_F_TRAY_PLANTS, 66);
    done(&s);
    read_fill(SOWN + 20);
    check_line(&trays, 132, COT_COVERED);
}
END_TEST

START_TEST(seed_class)
{
    start_lot(&s, "RH-treated", &red, 372);
    say(&s, COT_F_TREATED, 1);
    name(&s, COT_F_TREATMENT, "fungicide, blue");
    struct cot_id treated = *done(&s);
    sure_batch(&treated, &format, 2, 144, 140, SOWN);
    struct cot_id plain = promised_line(&alder, &red, 100, READY),
                  untreated = line_with(COT_F_UNTREATED, 1, &red, READY);
    struct cot_id organic = line_with(COT_F_ORGANIC, 1, &red, READY);
    read_fill(SOWN + 20);
    check_line(&plain, 100, COT_COVERED);
    check_line(&untreated, 0, COT_SHORT);
    check_line(&organic, 0, COT_SHORT);

    /* Organic seed: for who asked for it first, what is spare for the others. */
    start_lot(&s, "RH-organic", &red, 372);
    say(&s, COT_F_ORGANIC, 1);
    struct cot_id dear = *done(&s);
    sure_batch(&dear, &format, 2, 144, 130, SOWN);
    read_fill(SOWN + 20);
    check_line(&organic, 100, COT_COVERED);
    check_line(&untreated, 30, COT_SHORT);
    check_line(&plain, 100, COT_COVERED);
}
END_TEST

START_TEST(own_seed)
{
    start_lot(&s, "from Birch", &red, 372);
    point(&s, COT_F_OWNER, &birch);
    struct cot_id theirs = *done(&s);
    sure_batch(&theirs, &format, 2, 144, 130, SOWN);
    sure_batch(&lot, &format, 2, 144, 130, SOWN);
    struct cot_id a = promised_line(&alder, &red, 200, READY), b = promised_line(&birch, &red, 100, READY);
    start_line(&s, &birch, &red, 100, READY);
    say(&s, COT_F_OWN_SEED, 1);
    struct cot_id own = *done(&s);
    promise(&s, &own, &birch, 100);
    read_fill(SOWN + 20);
    check_line(&a, 130, COT_SHORT);
    check_line(&b, 100, COT_COVERED); /* from its own seed */
    check_line(&own, 30, COT_SHORT);
    ck_assert_int_eq(fill.farm[1].own_left, 0);
}
END_TEST

START_TEST(substitutes)
{
    sure_batch(&lot, &format, 3, 216, 200, SOWN);
    start_line(&s, &alder, &green, 150, READY);
    point(&s, COT_F_SUBS, &red);
    struct cot_id any = *done(&s);
    promise(&s, &any, &alder, 150);
    struct cot_id own = promised_line(&birch, &red, 120, READY); /* promised later, but asked for that variety */
    read_fill(SOWN + 20);
    check_line(&own, 120, COT_COVERED);
    check_line(&any, 80, COT_SHORT);
    ck_assert_uint_eq(fill.allot_count, 2);
    ck_assert(fill.allot[0].substitute && !fill.allot[1].substitute);
}
END_TEST

START_TEST(held_batch_serves_nobody)
{
    struct cot_id b = sure_batch(&lot, &format, 10, 720, 600, SOWN);
    struct cot_id l = promised_line(&alder, &red, 100, READY);
    make(&s, COT_K_HELD);
    about(&s, &b);
    say(&s, COT_F_DAY, SOWN + 16);
    say(&s, COT_F_UNTIL, SOWN + 18);
    name(&s, COT_F_WHY, "spots on leaves");
    done(&s);
    read_fill(SOWN + 17);
    check_line(&l, 0, COT_SHORT);
    read_fill(SOWN + 19);
    check_line(&l, 100, COT_COVERED);
}
END_TEST

START_TEST(handed_over_and_withdrawn)
{
    struct cot_id b = sure_batch(&lot, &format, 10, 720, 600, SOWN);
    struct cot_id first = promised_line(&alder, &red, 400, READY), second = promised_line(&alder, &red, 400, READY);
    struct cot_id third = promised_line(&alder, &red, 50, READY);
    hand_over(&s, &second, &alder, &b, 250, READY);
    read_fill(READY);
    check_line(&first, 350, COT_SHORT); /* 250 are gone, whoever was first */
    check_line(&second, 250, COT_SHORT);
    ck_assert_int_eq(line_of(&second)->handed, 250);

    make(&s, COT_K_WITHDRAWN);
    of_farm(&s, &alder);
    about(&s, &second);
    done(&s);
    make(&s, COT_K_WITHDRAWN);
    of_farm(&s, &alder);
    about(&s, &third);
    done(&s);
    read_fill(READY);
    ck_assert_uint_eq(fill.line_count, 2); /* the third is gone, of the second something went out */
    check_line(&second, 250, COT_COVERED);
    ck_assert_int_eq(line_of(&second)->wanted, 250);
}
END_TEST

START_TEST(brought_back)
{
    struct cot_id b = sure_batch(&lot, &format, 10, 720, 600, SOWN);
    struct cot_id l = promised_line(&alder, &red, 600, READY);
    struct cot_id h = hand_over(&s, &l, &alder, &b, 600, READY);
    read_fill(READY);
    check_line(&l, 600, COT_COVERED);
    make(&s, COT_K_BACK);
    of_farm(&s, &alder);
    about(&s, &h);
    say(&s, COT_F_DAY, READY + 1);
    say(&s, COT_F_PLANTS, 80);
    say(&s, COT_F_WERE_USABLE, 0);
    name(&s, COT_F_WHY, "wilted");
    done(&s);
    read_fill(READY + 1);
    check_line(&l, 520, COT_SHORT); /* owed again, and nothing left to give */
    ck_assert_int_eq(fill.stand[0].out, 600);
}
END_TEST

START_TEST(farms_and_sums)
{
    for (int i = 0; i < 6; i++) {
        start_sown(&s, &lot, &format, 4, SOWN + i);
        done(&s);
    }
    for (int i = 0; i < 6; i++) promised_line(i % 3 ? &alder : &birch, &red, 230, READY + i);
    const struct cot_fill *f = read_fill(SOWN + 8);
    ck_assert_uint_eq(f->farm_count, 2);
    ck_assert_str_eq(cot_thing_name(f->farm[0].farm), "Alder Ford");
    ck_assert(f->farm[0].first_line == 0 && f->farm[0].line_count == 4 && f->farm[1].first_line == 4 &&
              f->farm[1].line_count == 2);
    for (uint32_t k = 0; k < f->farm_count; k++) {
        int64_t likely = 0, count_on = 0, wanted = 0;
        for (uint32_t i = f->farm[k].first_line; i < f->farm[k].first_line + f->farm[k].line_count; i++) {
            likely += f->line[i].likely;
            count_on += f->line[i].count_on;
            wanted += f->line[i].wanted;
            ck_assert(i == f->farm[k].first_line || f->line[i].date >= f->line[i - 1].date);
        }
        ck_assert_int_eq(f->farm[k].likely, likely);
        ck_assert_int_eq(f->farm[k].wanted, wanted);
        ck_assert_int_ge(f->farm[k].count_on, count_on - 2); /* not all are at their worst together; whole plants */
        ck_assert_int_le(f->farm[k].count_on, wanted);
        ck_assert_uint_eq(f->farm[k].covered + f->farm[k].in_doubt + f->farm[k].short_, f->farm[k].line_count);
    }
}
END_TEST

static void rule(enum cot_field field, int64_t value)
{
    make(&s, COT_K_RULE);
    about(&s, &s.row[0].digest);
    say(&s, field, value);
    done(&s);
}

/* 300 plants for promises of 200 and then 400, the second of priority 1. */
START_TEST(rules_of_sharing)
{
    sure_batch(&lot, &format, 10, 720, 300, SOWN);
    struct cot_id a = promised_line(&alder, &red, 200, READY);
    start_line(&s, &birch, &red, 400, READY);
    say(&s, COT_F_PRIORITY, 1);
    point(&s, COT_F_FORMAT, &format);
    struct cot_id b = *done(&s);
    promise(&s, &b, &birch, 400);
    read_fill(SOWN + 20);
    check_line(&a, 200, COT_COVERED);
    check_line(&b, 100, COT_SHORT);
    ck_assert(fill.farm[0].chance == 1 && fill.farm[1].chance == 0 && fill.misses == 1);
    ck_assert(fill.serves[0].lines == 2 && fill.serves[0].chance == 0 && fill.serves[0].left == 0);
    rule(COT_F_SHARE, COT_SHARE_PRIORITY);
    read_fill(SOWN + 20);
    check_line(&a, 0, COT_SHORT);
    check_line(&b, 300, COT_SHORT);
    rule(COT_F_SHARE, COT_SHARE_PRORATA);
    read_fill(SOWN + 20);
    check_line(&a, 100, COT_SHORT);
    check_line(&b, 200, COT_SHORT);
    rule(COT_F_UNIT, 2); /* whole trays of 72; "any" format is in plants */
    read_fill(SOWN + 20);
    ck_assert(line_of(&b)->unit == 72 && line_of(&a)->unit == 1);
    check_line(&b, 144, COT_SHORT); /* of 200: two trays; the 56 left over are no third */
    check_line(&a, 156, COT_SHORT);
}
END_TEST

static const struct cot_fill *read_if(const struct cot_what_if *change)
{
    cot_fill_free(&fill);
    struct cot_fault fault;
    ck_assert_msg(cot_fill_read_if(book, SOWN + 20, change, &fill, &fault) == COT_OK, "%s", fault.msg);
    return &fill;
}

START_TEST(what_if)
{
    sure_batch(&lot, &format, 10, 720, 300, SOWN);
    struct cot_id a = promised_line(&alder, &red, 200, READY), b = promised_line(&birch, &red, 400, READY);
    read_fill(SOWN + 20);
    struct cot_if_line line;
    ck_assert_int_eq(cot_if_line_of(book, line_of(&a)->line, &line), COT_OK);
    ck_assert(line.plants == 200 && line.date == READY && cot_id_cmp(&line.farm->id, &alder) == 0);
    line.plants = 150;
    read_if(&(struct cot_what_if){.line = &line});
    check_line(&a, 150, COT_COVERED);
    check_line(&b, 150, COT_SHORT);
    line.plants = 250; /* the rise queues last */
    read_if(&(struct cot_what_if){.line = &line});
    check_line(&a, 200, COT_SHORT);
    check_line(&b, 100, COT_SHORT);
    line.withdrawn = true;
    read_if(&(struct cot_what_if){.line = &line});
    check_line(&b, 300, COT_SHORT);
    read_if(&(struct cot_what_if){.other_share = true, .share = COT_SHARE_PRORATA});
    check_line(&a, 100, COT_SHORT);
    check_line(&b, 200, COT_SHORT);
    struct cot_fault fault;
    line.withdrawn = false;
    line.plants = 0;
    cot_fill_free(&fill);
    ck_assert_int_eq(cot_fill_read_if(book, SOWN + 20, &(struct cot_what_if){.line = &line}, &fill, &fault),
                     COT_INVALID);
    ck_assert_ptr_nonnull(strstr(fault.msg, "plants from 1"));
    read_fill(SOWN + 20); /* nothing stayed */
    check_line(&a, 200, COT_COVERED);
    check_line(&b, 100, COT_SHORT);
}
END_TEST

START_TEST(empty_books)
{
    struct cot_book *none = cot_book_new(NULL);
    struct cot_fill f;
    ck_assert_int_eq(cot_fill_read(none, SOWN, &f), COT_INVALID);
    cot_fill_free(&f);
    cot_book_free(none);
    read_fill(SOWN);
    ck_assert(fill.line_count == 0 && fill.batch_count == 0 && fill.farm_count == 0 && fill.confidence == 900);
}
END_TEST

/* --- A season at random ------------------------------------------------------------------------------------------- */
static void check_sums(const struct cot_fill *f)
{
    double misses = 0;
    for (uint32_t i = 0; i < f->line_count; i++) {
        const struct cot_fill_line *l = &f->line[i];
        int64_t sum = 0;
        misses += 1 - l->chance;
        for (uint32_t k = 0; k < f->allot_count; k++) sum += f->allot[k].line == i ? f->allot[k].plants : 0;
        ck_assert_int_eq(sum, l->allotted);
        ck_assert(l->allotted == 0 || l->likely <= l->wanted);
        ck_assert(l->chance >= 0 && l->chance <= 1);
        ck_assert(l->count_on >= l->handed && (l->count_on <= l->wanted || l->count_on == l->handed));
        ck_assert_int_eq(l->verdict == COT_COVERED, l->chance >= cot_round9(f->confidence / 1000.0));
        if (l->verdict == COT_COVERED) ck_assert_int_ge(l->count_on, l->wanted);
    }
    ck_assert_double_eq_tol(f->misses, misses, 1e-6);
    for (uint32_t b = 0; b < f->batch_count; b++) {
        int64_t sum = 0;
        for (uint32_t k = 0; k < f->allot_count; k++) sum += f->allot[k].batch == b ? f->allot[k].plants : 0;
        ck_assert_int_le(sum, f->stand[b].likely - f->stand[b].out);
    }
}

START_TEST(rows_in_any_order)
{
    struct dice d = dice_new("rows_in_any_order");
    for (int round = 0; round < 25; round++) {
        random_season(&d, d.s);
        const struct cot_fill *f = read_fill(READY);
        check_sums(f);
        uint64_t first = fingerprint(f);
        for (int again = 0; again < 2; again++) {
            static size_t order[SEASON_ROWS];
            for (size_t i = 0; i < s.rows; i++) order[i] = i;
            for (size_t i = s.rows; i-- > 1;) {
                size_t k = (size_t)dice_int(&d, 0, (int64_t)i), t = order[i];
                order[i] = order[k];
                order[k] = t;
            }
            struct cot_fill shuffled;
            struct cot_book *b = season_book(&s, order);
            ck_assert_int_eq(cot_fill_read(b, READY, &shuffled), COT_OK);
            ck_assert_uint_eq(fingerprint(&shuffled), first);
            cot_fill_free(&shuffled);
            cot_book_free(b);
        }
    }
}
END_TEST

static void add(Suite *suite, const char *text, const TTest *test)
{
    TCase *c = tcase_create(text);
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, test);
    suite_add_tcase(suite, c);
}

Suite *cot_suite(void)
{
    Suite *suite = suite_create("core/fill_book");
    add(suite, "one", one_line_one_batch);
    add(suite, "queue", queue_by_promise);
    add(suite, "unsent", unsent_promise_comes_last);
    add(suite, "waiting", waiting_and_declined);
    add(suite, "windows", windows);
    add(suite, "overdue", long_overdue);
    add(suite, "no_format", trays_of_no_format);
    add(suite, "date", promised_date_moves);
    add(suite, "formats", formats_and_trays);
    add(suite, "class", seed_class);
    add(suite, "own_seed", own_seed);
    add(suite, "substitutes", substitutes);
    add(suite, "held", held_batch_serves_nobody);
    add(suite, "handed", handed_over_and_withdrawn);
    add(suite, "back", brought_back);
    add(suite, "farms", farms_and_sums);
    add(suite, "rules", rules_of_sharing);
    add(suite, "what_if", what_if);
    add(suite, "empty", empty_books);
    add(suite, "any_order", rows_in_any_order);
    return suite;
}
