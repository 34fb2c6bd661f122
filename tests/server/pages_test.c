/* The door: a page taken, taken again, overlapping, forked, with a gap, garbled, of a closed device, of another's farm.
 */
#include "../main.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "harness.h"

static struct cot_server server;

static void setup(void)
{
    cot_server_make(&server);
    ck_assert(cot_server_start(&server, NULL, NULL));
}

static void teardown(void)
{
    cot_server_remove(&server);
}

/* A page of n notes of the device. */
static void draft_notes(struct cot_device *d, int n, struct cot_buf *page)
{
    struct cot_draft p;
    cot_draft_start(&p, d);
    for (int i = 0; i < n; i++) {
        struct cot_fact f = cot_fact_note("the north door sticks");
        cot_draft_add(&p, &f);
    }
    cot_draft_end(&p, page);
}

static char *sent(const struct cot_device *d, const struct cot_buf *page, int status)
{
    struct cot_reply r;
    ck_assert(cot_send(d, page, &r));
    ck_assert_msg(r.status == status, "status %d, not %d: %s", r.status, status, r.body);
    return r.body;
}

static enum cot_err code_of(const struct cot_device *d, const struct cot_buf *page)
{
    struct cot_reply r;
    ck_assert(cot_send(d, page, &r));
    enum cot_err code = cot_reply_code(&r);
    cot_reply_free(&r);
    return code;
}

static int64_t position_now(const struct cot_device *d)
{
    struct cot_reply r;
    ck_assert(cot_signed_call(d, "GET", "/v1/book", NULL, NULL, NULL, 0, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    int64_t p = cot_json_int(r.body, r.len, "position");
    cot_reply_free(&r);
    return p;
}

START_TEST(test_same_page_same_answer)
{
    struct cot_device m;
    struct cot_buf page;
    cot_found(&server, "same page", &m);
    draft_notes(&m, 7, &page);
    char *first = sent(&m, &page, 200), *again = sent(&m, &page, 200);
    ck_assert_ptr_nonnull(strstr(first, "{\"ranges\":[{\"first\":1,\"last\":7,\"position\":4,\"receipt\":"));
    ck_assert_str_eq(first, again);
    ck_assert_int_eq(position_now(&m), 10);
    free(first);
    free(again);
    cot_buf_free(&page);
}
END_TEST

/* 1..3 sent, then 1..5: the rest is added, and the answer covers all. */
START_TEST(test_overlap_goes_on)
{
    struct cot_device m;
    struct cot_buf three, five;
    cot_found(&server, "overlap", &m);
    struct cot_draft p = {0}, q = {0};
    struct cot_device other = m;
    cot_draft_start(&p, &m);
    q = p;
    q.device = &other;
    for (int i = 0; i < 5; i++) {
        struct cot_fact f = cot_fact_note("watered");
        cot_draft_add(&p, &f);
        if (i == 2) { /* the first three entries, sealed on their own */
            other.number = m.number;
            other.chain = m.chain;
            cot_buf_put(&q.lines, p.lines.s, p.lines.len);
            cot_draft_end(&q, &three);
        }
    }
    cot_draft_end(&p, &five);
    free(sent(&m, &three, 200));
    char *all = sent(&m, &five, 200), *again = sent(&m, &five, 200), *part = sent(&m, &three, 200);
    ck_assert_int_eq(position_now(&m), 8);
    ck_assert_ptr_nonnull(strstr(all, "\"last\":5"));
    ck_assert_ptr_nonnull(strstr(all, "{\"first\":1,"));
    ck_assert_str_eq(all, again);
    ck_assert_ptr_nonnull(strstr(part, "\"last\":3,\"position\":4"));
    free(all);
    free(again);
    free(part);
    cot_buf_free(&three);
    cot_buf_free(&five);
}
END_TEST

static void check_head_told(const struct cot_device *d, const struct cot_buf *page, const char *problem, int64_t number,
                            const struct cot_id *chain)
{
    char text[COT_ID_TEXT], wanted[COT_ID_TEXT], type[80];
    struct cot_reply r;
    ck_assert(cot_send(d, page, &r));
    ck_assert_int_eq(r.status, 409);
    ck_assert_str_eq(r.type, "application/problem+json");
    ck_assert(cot_json_text(r.body, r.len, "type", type, sizeof type));
    ck_assert_str_eq(type, problem);
    ck_assert_int_eq(cot_json_int(r.body, r.len, "number"), number);
    ck_assert(cot_json_text(r.body, r.len, "chain", text, sizeof text));
    cot_id_text(chain, wanted);
    ck_assert_str_eq(text, wanted);
    cot_reply_free(&r);
}

/* A laptop restored from an old copy goes on from number 3 a second time. */
START_TEST(test_fork_is_refused_whole)
{
    struct cot_device m, copy, late;
    struct cot_buf page, fork, before;
    cot_found(&server, "fork", &m);
    draft_notes(&m, 3, &page);
    free(sent(&m, &page, 200));
    copy = m;
    cot_buf_free(&page);
    draft_notes(&m, 2, &page);
    free(sent(&m, &page, 200));
    draft_notes(&copy, 4, &fork); /* 4..7, of which 4 and 5 are others than the ledger has */
    check_head_told(&m, &fork, "urn:cotyledger:problem:fork", 5, &m.chain);
    /* And one that starts right after the head, but from another past. */
    late = copy;
    late.number = 5;
    draft_notes(&late, 1, &before);
    check_head_told(&m, &before, "urn:cotyledger:problem:fork", 5, &m.chain);
    ck_assert_int_eq(position_now(&m), 8);
    cot_buf_free(&page);
    cot_buf_free(&fork);
    cot_buf_free(&before);
}
END_TEST

START_TEST(test_gap_names_the_head)
{
    struct cot_device m;
    struct cot_buf first, second;
    cot_found(&server, "gap", &m);
    struct cot_id start = m.chain;
    draft_notes(&m, 2, &first);
    draft_notes(&m, 2, &second);
    check_head_told(&m, &second, "urn:cotyledger:problem:gap", 0, &start);
    free(sent(&m, &first, 200));
    free(sent(&m, &second, 200));
    cot_buf_free(&first);
    cot_buf_free(&second);
}
END_TEST

/* Every byte of a page spoilt in turn: never taken, and never a fault of the server. */
START_TEST(test_no_spoilt_byte_passes)
{
    struct cot_device m;
    struct cot_buf page;
    cot_found(&server, "spoilt", &m);
    draft_notes(&m, 1, &page);
    for (size_t i = 0; i < page.len; i += 3) {
        page.s[i] ^= 0x04;
        enum cot_err code = code_of(&m, &page);
        ck_assert_msg(code == COT_MALFORMED || code == COT_UNAUTHENTIC || code == COT_TOO_LARGE, "byte %zu: %s", i,
                      cot_err_row(code)->name);
        page.s[i] ^= 0x04;
    }
    page.len--; /* without its last line break */
    ck_assert_int_eq(code_of(&m, &page), COT_MALFORMED);
    page.len++;
    ck_assert_int_eq(position_now(&m), 3);
    free(sent(&m, &page, 200));
    cot_buf_free(&page);
}
END_TEST

START_TEST(test_closed_device)
{
    struct cot_device m, hand;
    struct cot_buf page, more;
    cot_found(&server, "closed", &m);
    cot_device_invite(&m, "Ilse Thorn", COT_PART_HAND, NULL, &hand);
    draft_notes(&hand, 2, &page);
    free(sent(&hand, &page, 200));
    struct cot_fact f = {.kind = COT_K_CLOSED, .has_about = true};
    struct cot_reply r;
    ck_assert(cot_signed_call(&m, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    size_t at = 0;
    for (struct cot_feed_item item; cot_feed_next(r.body, r.len, &at, &item, NULL) == COT_OK;)
        if (item.position == hand.joined && item.what == COT_FEED_ROW) f.about = item.digest;
    cot_reply_free(&r);
    cot_device_write(&m, &f);
    draft_notes(&hand, 1, &more);
    ck_assert_int_eq(code_of(&hand, &more), COT_CLOSED); /* as asker */
    ck_assert_int_eq(code_of(&m, &more), COT_CLOSED);    /* as maker, carried by another */
    ck_assert(cot_signed_call(&hand, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    ck_assert_int_eq(cot_reply_code(&r), COT_CLOSED);
    cot_reply_free(&r);
    cot_buf_free(&page);
    cot_buf_free(&more);
}
END_TEST

START_TEST(test_buyers_page)
{
    struct cot_device m, buyer, hand;
    struct cot_buf page;
    cot_found(&server, "buyers", &m);
    struct cot_fact f = cot_fact_named(COT_K_FARM, "Alder Ford"), g = cot_fact_named(COT_K_FARM, "Brindle Farm");
    struct cot_id farm = cot_device_write(&m, &f), other = cot_device_write(&m, &g);
    cot_device_invite(&m, "Tove Reed", COT_PART_BUYER, &farm, &buyer);
    cot_device_invite(&m, "Ilse Thorn", COT_PART_HAND, NULL, &hand);
    /* Its own farm's note is taken; carried by staff too. */
    f = cot_fact_note("we come early");
    f.has_farm = true;
    f.farm = farm;
    cot_device_write(&buyer, &f);
    struct cot_draft p;
    cot_draft_start(&p, &buyer);
    cot_draft_add(&p, &f);
    cot_draft_end(&p, &page);
    free(sent(&hand, &page, 200));
    cot_buf_free(&page);
    /* Another farm's, or the house's, is not: not even hidden behind a good one. */
    for (int house = 0; house < 2; house++) {
        struct cot_device copy = buyer;
        struct cot_fact good = f, bad = f;
        bad.farm = other;
        bad.has_farm = !house;
        cot_draft_start(&p, &copy);
        cot_draft_add(&p, &good);
        cot_draft_add(&p, &bad);
        cot_draft_end(&p, &page);
        ck_assert_int_eq(code_of(&buyer, &page), COT_NOT_ALLOWED);
        ck_assert_int_eq(code_of(&hand, &page), COT_NOT_ALLOWED);
        cot_buf_free(&page);
    }
    /* A buyer carries nobody else's. */
    draft_notes(&hand, 1, &page);
    ck_assert_int_eq(code_of(&buyer, &page), COT_NOT_ALLOWED);
    free(sent(&m, &page, 200));
    cot_buf_free(&page);
}
END_TEST

START_TEST(test_page_of_another_house)
{
    struct cot_device m, n;
    struct cot_buf page;
    cot_found(&server, "house one", &m);
    cot_found(&server, "house two", &n);
    draft_notes(&m, 1, &page);
    ck_assert_int_eq(code_of(&n, &page), COT_MALFORMED);
    ck_assert_int_eq(position_now(&n), 3);
    free(sent(&m, &page, 200));
    cot_buf_free(&page);
}
END_TEST

/* The house's own journal is written by the server alone. */
START_TEST(test_page_under_the_houses_tag)
{
    struct cot_device m, h;
    struct cot_buf page;
    cot_found(&server, "own tag", &m);
    h = m;
    memcpy(h.tag, "H", 2);
    cot_chain_start(&h.house, "H", &h.chain);
    draft_notes(&h, 1, &page);
    enum cot_err code = code_of(&m, &page);
    ck_assert_msg(code == COT_UNAUTHENTIC || code == COT_NOT_ALLOWED, "%s", cot_err_row(code)->name);
    cot_buf_free(&page);
}
END_TEST

/* Receipts never go back, positions have no gaps, across pages and devices. */
START_TEST(test_receipts_rise)
{
    struct cot_device m;
    struct cot_buf page;
    struct cot_reply r;
    cot_found(&server, "receipts", &m);
    for (int i = 0; i < 20; i++) {
        draft_notes(&m, 1 + i % 3, &page);
        free(sent(&m, &page, 200));
        cot_buf_free(&page);
    }
    ck_assert(cot_signed_call(&m, "GET", "/v1/ledger", "after=0", NULL, NULL, 0, &r));
    int64_t position = 0, receipt = 0;
    size_t at = 0;
    for (struct cot_feed_item item; cot_feed_next(r.body, r.len, &at, &item, NULL) == COT_OK;) {
        if (item.what != COT_FEED_ROW) continue;
        ck_assert_int_eq(item.position, ++position);
        ck_assert_int_ge(item.receipt, receipt);
        receipt = item.receipt;
    }
    ck_assert_int_eq(position, m.number + 3);
    cot_reply_free(&r);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/pages");
    TCase *t = tcase_create("door");
    tcase_set_timeout(t, 120);
    tcase_add_unchecked_fixture(t, setup, teardown);
    tcase_add_test(t, test_same_page_same_answer);
    tcase_add_test(t, test_overlap_goes_on);
    tcase_add_test(t, test_fork_is_refused_whole);
    tcase_add_test(t, test_gap_names_the_head);
    tcase_add_test(t, test_no_spoilt_byte_passes);
    tcase_add_test(t, test_closed_device);
    tcase_add_test(t, test_buyers_page);
    tcase_add_test(t, test_page_of_another_house);
    tcase_add_test(t, test_page_under_the_houses_tag);
    tcase_add_test(t, test_receipts_rise);
    suite_add_tcase(s, t);
    return s;
}
