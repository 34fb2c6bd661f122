/* Recording: the header, the clock, codes, what is refused before it is appended. */
#include "record.h"

#include "main.h"
#include "cli.h"
#include "house.h"
#include "journal/journal.h"
#include "scratch.h"
#include "sync/sync.h"

static struct test_house h;
static struct cot_cli cli;
static char clock_file[100];

static void set_clock(const char *instant)
{
    FILE *f = fopen(clock_file, "we");
    fprintf(f, "%s\n", instant);
    fclose(f);
}

/* The laptop of device B, the house fetched, the book read. */
static void start(void)
{
    struct cot_sync s;
    bool more;
    scratch_make();
    snprintf(clock_file, sizeof clock_file, "%s/clock", scratch);
    set_clock("2027-03-29T06:00:00Z");
    setenv("COTYLEDGER_DEMO_CLOCK", clock_file, 1);
    house_found(&h);
    memset(&cli, 0, sizeof cli);
    memset(&s, 0, sizeof s);
    ck_assert_int_eq(cot_journal_open(scratch, true, &cli.journal, &cli.fault), COT_OK);
    house_identity(&h, 2, &cli.me);
    cli.key = h.device[2].key;
    cli.decoder = cot_decoder_new();
    house_put_crop(&h, 1, "Leek");
    house_seal(&h, 1);
    house_head(&h);
    s.cli = &cli;
    s.where.epoch = 1;
    cot_ledger_start(&h.id, &s.where.ledger);
    ck_assert_int_eq(cot_journal_set_where(cli.journal, &s.where, &cli.fault), COT_OK);
    ck_assert_int_eq(cot_sync_take(&s, h.feed.s, h.feed.len, &more), COT_OK);
    ck_assert_int_eq(cot_cli_reload(&cli), COT_OK);
}

static void stop(void)
{
    cot_book_free(cli.book);
    cot_journal_close(cli.journal);
    cot_decoder_free(cli.decoder);
    cot_record_free_codes(&cli);
    cot_buf_free(&h.feed);
    scratch_remove();
}

static struct cot_fact crop(const char *name)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CROP;
    cot_fact_set_text(&f, COT_F_NAME, name, strlen(name));
    return f;
}

static enum cot_err last_own(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct cot_own *keep = ctx;
    (void)fault;
    *keep = *o;
    return COT_OK;
}

static struct cot_own last(void)
{
    struct cot_own o = {0};
    ck_assert_int_eq(cot_journal_walk_own(cli.journal, "B", -1, last_own, &o, &cli.fault), COT_OK);
    return o;
}

static void record_crop(const char *name)
{
    struct cot_fact f = crop(name);
    enum cot_err e = cot_record(&cli, &f, 1, NULL);
    ck_assert_msg(e == COT_OK, "%s", cli.fault.msg);
}

#define AT(s) (INT64_C(1806300000000) + (s)*INT64_C(1000)) /* 2027-03-29T06:00:00Z and s seconds */

START_TEST(the_clock_goes_on_and_ticks)
{
    record_crop("one");
    ck_assert_int_eq(last().clock, T0 + 4); /* the house's last entry is later than this laptop's clock */
    ck_assert_int_eq(last().tick, 1);
    record_crop("two");
    ck_assert_int_eq(last().clock, T0 + 4);
    ck_assert_int_eq(last().tick, 2);
    set_clock("2027-03-29T12:00:00Z");
    record_crop("three");
    ck_assert_int_eq(last().clock, AT(6 * 3600));
    ck_assert_int_eq(last().tick, 0);
    set_clock("2027-03-29T09:00:00Z"); /* set back: the laptop's own entries keep their order */
    record_crop("four");
    ck_assert_int_eq(last().clock, AT(6 * 3600));
    ck_assert_int_eq(last().tick, 1);
}
END_TEST

/* Once the house has an entry made by a clock years ahead, its place is its receipt; so the laptop is not held by its
 * own clock. */
START_TEST(a_sent_entry_of_the_future_holds_nobody)
{
    struct cot_stand_at w;
    set_clock("2031-01-01T00:00:00Z");
    record_crop("one");
    ck_assert_int_gt(last().clock, AT(86400));
    ck_assert_int_eq(cot_journal_own_mark(cli.journal, "B", 1, 1, COT_OWN_SENT, &cli.fault), COT_OK);
    ck_assert_int_eq(cot_journal_where(cli.journal, &w, &cli.fault), COT_OK);
    w.high = AT(7200);
    ck_assert_int_eq(cot_journal_set_where(cli.journal, &w, &cli.fault), COT_OK);
    set_clock("2027-03-29T12:00:00Z");
    record_crop("two");
    ck_assert_int_eq(last().clock, AT(6 * 3600));
}
END_TEST

START_TEST(all_or_none)
{
    struct cot_fact f[3] = {crop("one"), crop("two"), crop("three")};
    struct cot_own_head head;
    int64_t rows, unsent, position;
    cot_fact_set_int(&f[2], COT_F_TRAY_DAYS, 9999);
    ck_assert_int_eq(cot_record(&cli, f, 3, NULL), COT_INVALID);
    ck_assert_int_eq(cot_journal_own_head(cli.journal, &h.id, "B", &head, &cli.fault), COT_OK);
    ck_assert_int_eq(head.number, 0);
    cot_book_size(cli.book, &rows, &unsent, &position);
    ck_assert_int_eq(unsent, 0);
    f[2] = crop("three");
    ck_assert_int_eq(cot_record(&cli, f, 3, NULL), COT_OK);
    cot_book_size(cli.book, &rows, &unsent, &position);
    ck_assert_int_eq(unsent, 3);
}
END_TEST

START_TEST(codes_run_on_from_the_journal)
{
    char want[COT_CODE_TEXT];
    struct cot_id farm, id[2];
    struct cot_fact f[2];
    memset(&farm, 1, sizeof farm);
    for (uint32_t round = 0; round < 2; round++) {
        for (int i = 0; i < 2; i++) {
            memset(&f[i], 0, sizeof f[i]);
            f[i].kind = COT_K_LINE;
            f[i].has_farm = true;
            f[i].farm = farm;
            cot_fact_set_ids(&f[i], COT_F_VARIETY, &farm, 1);
            cot_fact_set_int(&f[i], COT_F_PLANTS, 100);
            cot_fact_set_int(&f[i], COT_F_DATE, 20900);
        }
        enum cot_err e = cot_record(&cli, f, 2, id);
        ck_assert_msg(e == COT_OK, "%s", cli.fault.msg);
        for (uint32_t i = 0; i < 2; i++) {
            cot_code_make("B", round * 2 + i + 1, want);
            const struct cot_value *code = cot_fact_value(&f[i], COT_F_CODE);
            ck_assert_ptr_nonnull(code);
            ck_assert_str_eq(code->v.text, want);
        }
        record_crop("in between"); /* makes no code */
    }
}
END_TEST

START_TEST(the_line_says_who_when_and_what_was_known)
{
    struct cot_fact f = crop("Lettuce"), read;
    struct cot_id digest, again;
    ck_assert_int_eq(cot_record(&cli, &f, 1, &digest), COT_OK);
    struct cot_buf line = {0};
    ck_assert_int_eq(cot_journal_own_digest(cli.journal, "B", 1, &again, &cli.fault), COT_OK);
    ck_assert_mem_eq(&digest, &again, sizeof digest);
    ck_assert_int_eq(cot_journal_line(cli.journal, "B", 1, &line, &cli.fault),
                     COT_NOT_FOUND); /* not in the ledger yet */
    cot_buf_free(&line);
    struct cot_buf page = {0};
    struct cot_page p;
    int64_t last_number = 1;
    ck_assert_int_eq(cot_sync_page(&cli, 1, &last_number, &page), COT_OK);
    ck_assert_int_eq(cot_page_read(page.s, page.len, &cli.key.pub, cli.decoder, &p, &cli.fault), COT_OK);
    ck_assert_uint_eq(p.count, 1);
    ck_assert_int_eq(cot_entry_parse(cli.decoder, p.entry[0].line, p.entry[0].len, &read, &cli.fault), COT_OK);
    ck_assert_str_eq(read.tag, "B");
    ck_assert_int_eq(read.number, 1);
    ck_assert_int_eq(read.seen, 5);
    ck_assert(read.has_member);
    ck_assert_mem_eq(&read.member, &h.member, sizeof read.member);
    ck_assert_mem_eq(&read.house, &h.id, sizeof read.house);
    cot_page_free(&p);
    cot_buf_free(&page);
}
END_TEST

START_TEST(pages_are_cut_at_a_thousand)
{
    struct cot_fact f[50];
    int64_t first = 1, end = 2100;
    int pages = 0;
    for (int round = 0; round < 42; round++) {
        for (int i = 0; i < 50; i++) f[i] = crop("Lettuce");
        ck_assert_int_eq(cot_record(&cli, f, 50, NULL), COT_OK);
    }
    while (first <= 2100) {
        struct cot_buf page = {0};
        struct cot_page p;
        end = 2100;
        ck_assert_int_eq(cot_sync_page(&cli, first, &end, &page), COT_OK);
        ck_assert_int_eq(cot_page_read(page.s, page.len, &cli.key.pub, cli.decoder, &p, &cli.fault), COT_OK);
        ck_assert_uint_le(p.count, COT_PAGE_ENTRIES_MAX);
        ck_assert_uint_le(page.len, COT_PAGE_BYTES_MAX);
        ck_assert_int_eq(p.seal.first, first);
        ck_assert_int_eq(p.seal.last, end);
        cot_page_free(&p);
        cot_buf_free(&page);
        first = end + 1;
        pages++;
    }
    ck_assert_int_eq(pages, 3);
}
END_TEST

/* --- Refusals
 * --------------------------------------------------------------------------------------------------------------------
 */

START_TEST(parts_may_what_the_table_says)
{
    struct cot_fact f = crop("Lettuce");
    cli.me.part = COT_PART_HAND;
    cot_book_free(cli.book);
    cli.book = NULL;
    ck_assert_int_eq(cot_record_check(&cli, &f), COT_NOT_ALLOWED);
    ck_assert_ptr_nonnull(strstr(cli.fault.msg, "a hand may not"));
    cli.me.part = COT_PART_AUDITOR;
    ck_assert_int_eq(cot_record_check(&cli, &f), COT_NOT_ALLOWED);
    cli.me.part = COT_PART_MANAGER;
    ck_assert_int_eq(cot_record_check(&cli, &f), COT_OK);
}
END_TEST

START_TEST(a_buyer_writes_of_the_own_farm_only)
{
    struct cot_fact f;
    struct cot_id mine, other;
    cot_book_free(cli.book);
    cli.book = NULL;
    memset(&mine, 1, sizeof mine);
    memset(&other, 2, sizeof other);
    cli.me.part = COT_PART_BUYER;
    cli.me.farm = mine;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_NOTE;
    cot_fact_set_text(&f, COT_F_TEXT, "hello", 5);
    ck_assert_int_eq(cot_record_check(&cli, &f), COT_NOT_ALLOWED); /* would be seen by the house alone */
    f.has_farm = true;
    f.farm = other;
    ck_assert_int_eq(cot_record_check(&cli, &f), COT_NOT_ALLOWED);
    f.farm = mine;
    ck_assert_int_eq(cot_record_check(&cli, &f), COT_OK);
}
END_TEST

START_TEST(nothing_is_recorded_before_the_first_sync)
{
    struct cot_fact f = crop("Lettuce");
    struct cot_stand_at w = {0};
    ck_assert_int_eq(cot_journal_set_where(cli.journal, &w, &cli.fault), COT_OK);
    ck_assert_int_eq(cot_record(&cli, &f, 1, NULL), COT_CONFLICT);
    ck_assert_ptr_nonnull(strstr(cli.fault.hint, "cotyl sync"));
}
END_TEST

START_TEST(a_closed_laptop_records_nothing)
{
    struct cot_fact f;
    struct cot_row row = {.position = 6, .receipt = h.receipt, .fact = &f};
    size_t n;
    const struct cot_thing *const *d = cot_book_things(cli.book, COT_THING_DEVICE, &n);
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CLOSED;
    f.has_about = true;
    for (size_t i = 0; i < n; i++)
        if (strcmp(cot_thing_text(d[i], COT_F_TAG), "B") == 0) f.about = d[i]->id;
    struct cot_buf line = house_line(&h, 0, &f, 5);
    cot_digest(line.s, line.len, &row.digest);
    cot_buf_free(&line);
    ck_assert_int_eq(cot_book_put(cli.book, &row), COT_OK);
    f = crop("Lettuce");
    ck_assert_int_eq(cot_record(&cli, &f, 1, NULL), COT_CLOSED);
    ck_assert_ptr_nonnull(strstr(cli.fault.hint, "export-unsent"));
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/record");
    TCase *c = tcase_create("record");
    tcase_add_checked_fixture(c, start, stop);
    tcase_set_timeout(c, 120);
    tcase_add_test(c, the_clock_goes_on_and_ticks);
    tcase_add_test(c, a_sent_entry_of_the_future_holds_nobody);
    tcase_add_test(c, all_or_none);
    tcase_add_test(c, codes_run_on_from_the_journal);
    tcase_add_test(c, the_line_says_who_when_and_what_was_known);
    tcase_add_test(c, pages_are_cut_at_a_thousand);
    tcase_add_test(c, parts_may_what_the_table_says);
    tcase_add_test(c, a_buyer_writes_of_the_own_farm_only);
    tcase_add_test(c, nothing_is_recorded_before_the_first_sync);
    tcase_add_test(c, a_closed_laptop_records_nothing);
    suite_add_tcase(s, c);
    return s;
}
