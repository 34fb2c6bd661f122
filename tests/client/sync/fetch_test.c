/* What is fetched is verified whole before anything is stored: one right feed, and each way to be wrong. */
#include "sync/sync.h"

#include "../../main.h"
#include "../house.h"
#include "record.h"
#include "../scratch.h"

static struct test_house h;
static struct cot_cli cli;
static struct cot_sync s;

static void start(void)
{
    scratch_make();
    house_found(&h);
    memset(&cli, 0, sizeof cli);
    memset(&s, 0, sizeof s);
    ck_assert_int_eq(cot_journal_open(scratch, true, &cli.journal, &cli.fault), COT_OK);
    house_identity(&h, 2, &cli.me);
    cli.key = h.device[2].key;
    cli.decoder = cot_decoder_new();
    s.cli = &cli;
    s.where.epoch = 1;
    cot_ledger_start(&h.id, &s.where.ledger);
    ck_assert_int_eq(cot_journal_set_where(cli.journal, &s.where, &cli.fault), COT_OK);
}

static void stop(void)
{
    cot_journal_close(cli.journal);
    cot_decoder_free(cli.decoder);
    cot_buf_free(&h.feed);
    scratch_remove();
}

static enum cot_err take(void)
{
    bool more;
    return cot_sync_take(&s, h.feed.s, h.feed.len, &more);
}

static enum cot_err count_row(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    (void)r;
    (void)fault;
    ++*(int *)ctx;
    return COT_OK;
}

static int rows_kept(void)
{
    int n = 0;
    ck_assert_int_eq(cot_journal_walk_ledger(cli.journal, 0, count_row, &n, &cli.fault), COT_OK);
    return n;
}

static void page_of_a(void)
{
    house_put_crop(&h, 1, "Lettuce");
    house_put_crop(&h, 1, "Leek");
    house_seal(&h, 1);
}

START_TEST(a_right_feed_is_kept)
{
    struct cot_stand_at w;
    page_of_a();
    house_head(&h);
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(rows_kept(), 6);
    ck_assert_int_eq(cot_journal_where(cli.journal, &w, &cli.fault), COT_OK);
    ck_assert_int_eq(w.position, 6);
    ck_assert_int_eq(w.sure, 6);
    ck_assert_mem_eq(&w.ledger, &h.ledger, sizeof w.ledger);
    ck_assert_int_eq(w.high, T0 + 4); /* the highest clock: all are before their receipts */
}
END_TEST

/* --- Each way to be wrong
 * ----------------------------------------------------------------------------------------------------- */

static void replace(const char *what, const char *with)
{
    char *at = memmem(h.feed.s, h.feed.len, what, strlen(what));
    ck_assert_ptr_nonnull(at);
    ck_assert_uint_eq(strlen(what), strlen(with));
    memcpy(at, with, strlen(with));
}

static void changed_byte(void)
{
    page_of_a();
    house_head(&h);
    replace("Lettuce", "Lettucy");
}

static void changed_receipt(void)
{
    page_of_a();
    house_head(&h);
    replace("row 5 1806307205000", "row 5 1806307205001");
}

static void receipts_go_back(void)
{
    house_put_crop(&h, 1, "Lettuce");
    h.receipt -= 5000;
    house_put_crop(&h, 1, "Leek");
    house_seal(&h, 1);
    house_head(&h);
}

static void no_seal_at_the_end(void)
{
    house_put_crop(&h, 1, "Lettuce");
    house_head(&h);
}

static void no_seal_before_another_device(void)
{
    house_put_crop(&h, 1, "Lettuce");
    house_put_crop(&h, 2, "Leek");
    house_seal(&h, 2);
    house_head(&h);
}

static void sealed_by_another_key(void)
{
    h.device[1].key = h.device[2].key;
    page_of_a();
    house_head(&h);
}

static void sealed_by_an_unknown_device(void)
{
    house_put_crop(&h, 3, "Lettuce");
    house_seal(&h, 3);
    house_head(&h);
}

static void key_named_by_a_manager_not_the_house(void)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_DEVICE;
    cot_fact_set_ids(&f, COT_F_MEMBER, &h.member, 1);
    cot_fact_set_ids(&f, COT_F_KEY, &h.device[3].key.pub, 1);
    cot_fact_set_text(&f, COT_F_TAG, "C", 1);
    house_put(&h, 1, &f);
    house_seal(&h, 1);
    sealed_by_an_unknown_device();
}

static void house_page_by_another_key(void)
{
    h.device[0].key = h.device[1].key;
    house_put_device(&h, 3);
    house_seal(&h, 0);
    house_head(&h);
}

static void head_by_another_key(void)
{
    page_of_a();
    struct cot_keypair right = h.device[0].key;
    h.device[0].key = h.device[1].key;
    house_head(&h);
    h.device[0].key = right;
}

static void head_of_another_ledger(void)
{
    page_of_a();
    h.ledger.b[0] ^= 1;
    house_head(&h);
}

static void a_number_left_out(void)
{
    h.device[1].number++;
    page_of_a();
    house_head(&h);
}

static void a_position_left_out(void)
{
    h.position++;
    page_of_a();
    house_head(&h);
}

static void an_entry_that_names_another_number(void)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CROP;
    cot_fact_set_text(&f, COT_F_NAME, "Leek", 4);
    struct cot_buf line = house_line(&h, 1, &f, 7);
    house_row(&h, 1, line.s, line.len, false);
    cot_buf_free(&line);
    house_seal(&h, 1);
    house_head(&h);
}

static void a_hole_for_staff(void)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CROP;
    cot_fact_set_text(&f, COT_F_NAME, "Leek", 4);
    struct cot_buf line = house_line(&h, 1, &f, 1);
    house_row(&h, 1, line.s, line.len, true);
    cot_buf_free(&line);
    house_seal(&h, 1);
    house_head(&h);
}

static void seal_over_other_numbers(void)
{
    house_put_crop(&h, 1, "Lettuce");
    house_put_crop(&h, 1, "Leek");
    h.device[1].first = 2;
    house_seal(&h, 1);
    house_head(&h);
}

static void more_after_the_head(void)
{
    house_head(&h);
    page_of_a();
}

static const struct {
    void (*make)(void);
    enum cot_err err;
} wrong[] = {
    {changed_byte, COT_UNAUTHENTIC},
    {changed_receipt, COT_UNAUTHENTIC},
    {receipts_go_back, COT_UNAUTHENTIC},
    {no_seal_at_the_end, COT_UNAUTHENTIC},
    {no_seal_before_another_device, COT_UNAUTHENTIC},
    {sealed_by_another_key, COT_UNAUTHENTIC},
    {sealed_by_an_unknown_device, COT_UNAUTHENTIC},
    {key_named_by_a_manager_not_the_house, COT_UNAUTHENTIC},
    {house_page_by_another_key, COT_UNAUTHENTIC},
    {head_by_another_key, COT_UNAUTHENTIC},
    {head_of_another_ledger, COT_UNAUTHENTIC},
    {a_number_left_out, COT_UNAUTHENTIC},
    {a_position_left_out, COT_UNAUTHENTIC},
    {an_entry_that_names_another_number, COT_UNAUTHENTIC},
    {a_hole_for_staff, COT_UNAUTHENTIC},
    {seal_over_other_numbers, COT_UNAUTHENTIC},
    {more_after_the_head, COT_MALFORMED},
};

START_TEST(nothing_of_a_wrong_feed_is_kept)
{
    struct cot_stand_at w;
    wrong[_i].make();
    enum cot_err e = take();
    ck_assert_msg(e == wrong[_i].err, "case %d: %s %s", _i, cot_err_row(e)->name, cli.fault.msg);
    ck_assert_int_eq(rows_kept(), 0);
    ck_assert_int_eq(cot_journal_where(cli.journal, &w, &cli.fault), COT_OK);
    ck_assert_int_eq(w.position, 0);
}
END_TEST

/* Cut at any byte: nothing is kept, and the whole answer is taken afterwards. */
START_TEST(an_answer_cut_anywhere_is_taken_later)
{
    bool more;
    page_of_a();
    house_head(&h);
    for (size_t len = 0; len < h.feed.len; len++) {
        ck_assert_int_eq(cot_sync_take(&s, h.feed.s, len, &more), COT_NETWORK);
        if (len % 97 == 0) ck_assert_int_eq(rows_kept(), 0);
    }
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(rows_kept(), 6);
}
END_TEST

START_TEST(the_next_answer_goes_on_from_the_last)
{
    bool more;
    house_head(&h);
    ck_assert_int_eq(take(), COT_OK);
    cot_buf_clear(&h.feed);
    page_of_a();
    house_head(&h);
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(rows_kept(), 6);
    /* The same answer once more is no continuation. */
    ck_assert_int_eq(cot_sync_take(&s, h.feed.s, h.feed.len, &more), COT_UNAUTHENTIC);
    ck_assert_int_eq(rows_kept(), 6);
}
END_TEST

/* --- Buyers
 * -------------------------------------------------------------------------------------------------------------------
 */

static void hole_row(int i)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CROP;
    cot_fact_set_text(&f, COT_F_NAME, "Leek", 4);
    struct cot_buf line = house_line(&h, i, &f, h.device[i].number + 1);
    house_row(&h, i, line.s, line.len, true);
    cot_buf_free(&line);
}

START_TEST(a_buyer_takes_holes_and_their_chains_hold)
{
    cli.me.part = COT_PART_BUYER;
    house_put_crop(&h, 1, "Lettuce");
    hole_row(1);
    house_seal(&h, 1);
    hole_row(3); /* a device whose key it may not see */
    house_seal(&h, 3);
    house_head(&h);
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(rows_kept(), 7);
}
END_TEST

START_TEST(a_buyer_refuses_a_body_of_a_device_without_a_key)
{
    cli.me.part = COT_PART_BUYER;
    hole_row(3);
    house_put_crop(&h, 3, "Lettuce");
    house_seal(&h, 3);
    house_head(&h);
    ck_assert_int_eq(take(), COT_UNAUTHENTIC);
}
END_TEST

/* --- Own entries
 * ----------------------------------------------------------------------------------------------------------------- */

static void own_entry(const char *name)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CROP;
    cot_fact_set_text(&f, COT_F_NAME, name, strlen(name));
    enum cot_err e = cot_record(&cli, &f, 1, NULL);
    ck_assert_msg(e == COT_OK, "%s", cli.fault.msg);
}

static struct cot_own_head own_head(void)
{
    struct cot_own_head head;
    ck_assert_int_eq(cot_journal_own_head(cli.journal, &h.id, "B", &head, &cli.fault), COT_OK);
    return head;
}

static enum cot_err feed_own(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    (void)ctx;
    (void)fault;
    house_row(&h, 2, o->body, o->len, false);
    return COT_OK;
}

START_TEST(own_entries_become_sent_when_they_are_seen)
{
    own_entry("Lettuce");
    own_entry("Leek");
    ck_assert_int_eq(own_head().unsent, 2);
    ck_assert_int_eq(cot_journal_walk_own(cli.journal, "B", -1, feed_own, NULL, &cli.fault), COT_OK);
    house_seal(&h, 2);
    house_head(&h);
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(own_head().unsent, 0);
    ck_assert_int_eq(own_head().number, 2);
}
END_TEST

START_TEST(an_old_copy_takes_its_entries_back)
{
    house_put_crop(&h, 2, "Lettuce");
    house_put_crop(&h, 2, "Leek");
    house_seal(&h, 2);
    house_head(&h);
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(own_head().number, 2);
    ck_assert_int_eq(own_head().unsent, 0);
    struct cot_own_head head = own_head();
    ck_assert_mem_eq(&head.chain, &h.device[2].chain, sizeof head.chain);
    ck_assert_int_eq(s.where.stopped, COT_MOVING);
    own_entry("Onion");
    ck_assert_int_eq(own_head().number, 3);
}
END_TEST

START_TEST(other_entries_under_own_numbers_are_a_fork)
{
    own_entry("Onion");
    house_put_crop(&h, 2, "Lettuce");
    house_seal(&h, 2);
    house_head(&h);
    ck_assert_msg(take() == COT_OK, "%s", cli.fault.msg);
    ck_assert_int_eq(s.where.stopped, COT_STOPPED_FORK);
    ck_assert_int_eq(own_head().unsent, 1);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *suite = suite_create("client/sync_fetch");
    TCase *c = tcase_create("fetch");
    tcase_add_checked_fixture(c, start, stop);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, a_right_feed_is_kept);
    tcase_add_loop_test(c, nothing_of_a_wrong_feed_is_kept, 0, (int)(sizeof wrong / sizeof wrong[0]));
    tcase_add_test(c, an_answer_cut_anywhere_is_taken_later);
    tcase_add_test(c, the_next_answer_goes_on_from_the_last);
    tcase_add_test(c, a_buyer_takes_holes_and_their_chains_hold);
    tcase_add_test(c, a_buyer_refuses_a_body_of_a_device_without_a_key);
    tcase_add_test(c, own_entries_become_sent_when_they_are_seen);
    tcase_add_test(c, an_old_copy_takes_its_entries_back);
    tcase_add_test(c, other_entries_under_own_numbers_are_a_fork);
    suite_add_tcase(suite, c);
    return suite;
}
