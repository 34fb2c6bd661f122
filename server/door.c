#include "door.h"

#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "cotyledger/wire/entry.h"

static bool add_range(struct cot_accepted *a, const struct cot_range *r)
{
    struct cot_range *last = a->count ? &a->range[a->count - 1] : NULL;
    if (last && last->receipt == r->receipt && last->position + (last->last - last->first) + 1 == r->position) {
        last->last = r->last;
        return true;
    }
    struct cot_range *more = realloc(a->range, (a->count + 1) * sizeof *more);
    if (!more) return false;
    a->range = more;
    a->range[a->count++] = *r;
    return true;
}

static enum cot_err fork_at(int64_t number, struct cot_fault *fault)
{
    cot_fail(fault, COT_FORK,
             "the journal of this device went on twice: entry %lld is not the one that was accepted before",
             (long long)number);
    return cot_hint(
        fault,
        "the laptop was perhaps restored from an old copy: run `cotyl rejoin`; nothing that was recorded is lost");
}

/* The part of the page that the ledger has already: the same entries, or a fork. */
static enum cot_err compare_overlap(struct cot_session *s, const struct cot_page *page, size_t known,
                                    struct cot_accepted *out, struct cot_fault *fault)
{
    struct cot_rows rows;
    int64_t first = page->seal.first;
    enum cot_err err = cot_ask_numbers(s->tx, page->seal.tag, first, first + (int64_t)known - 1, &rows, fault);
    if (err) return err;
    if (rows.count != known) err = cot_fail(fault, COT_STORE, "the ledger lacks entries of device %s", page->seal.tag);
    struct cot_id chain = page->seal.before;
    for (size_t i = 0; !err && i < known; i++) {
        const struct cot_stored_row *r = &rows.row[i];
        if (cot_id_cmp(&r->digest, &page->entry[i].digest) != 0) err = fork_at(r->number, fault);
        cot_chain_next(&chain, r->number, &r->digest);
        struct cot_range range = {r->number, r->number, r->position, r->receipt};
        if (!err && !add_range(out, &range)) err = cot_fail(fault, COT_MEMORY, "out of memory");
    }
    /* A page that reaches the head tells by its chain whether all before it is the same too. */
    if (!err && first + (int64_t)known - 1 == s->head.number && cot_id_cmp(&chain, &s->head.journal) != 0)
        err = fork_at(first, fault);
    cot_rows_free(&rows);
    return err;
}

/* How many of the page's entries are in the ledger already. */
static enum cot_err place(struct cot_session *s, const struct cot_page *page, size_t *known, struct cot_accepted *out,
                          struct cot_fault *fault)
{
    const struct cot_seal *seal = &page->seal;
    out->number = s->head.number;
    out->chain = s->head.journal;
    *known = 0;
    if (seal->first > s->head.number + 1) {
        cot_fail(fault, COT_GAP, "device %s: entries %lld to %lld are missing before this page", seal->tag,
                 (long long)s->head.number + 1, (long long)seal->first - 1);
        return cot_hint(fault, "send them first");
    }
    if (seal->first == s->head.number + 1)
        return cot_id_cmp(&seal->before, &s->head.journal) == 0 ? COT_OK : fork_at(s->head.number, fault);
    int64_t upto = seal->last < s->head.number ? seal->last : s->head.number;
    *known = (size_t)(upto - seal->first + 1);
    return compare_overlap(s, page, *known, out, fault);
}

static enum cot_err may_send(const struct cot_session *s, const struct cot_page *page, struct cot_fault *fault)
{
    if (s->who.part == COT_PART_AUDITOR) return cot_fail(fault, COT_NOT_ALLOWED, "an auditor's device reads only");
    if (s->who.part == COT_PART_BUYER && strcmp(s->tag, page->seal.tag) != 0)
        return cot_fail(fault, COT_NOT_ALLOWED, "a buyer's device sends its own pages only");
    /* The house's own pages too: after a restore from a backup they come back from the laptops, under the house's own
     * seal, so that who joined since then is known again and no tag is given twice. */
    return COT_OK;
}

/* The device that made the page: known, not closed; a buyer's writes of its own farm only. */
static enum cot_err may_be_taken(struct cot_session *s, const struct cot_page *page, const struct cot_id *key,
                                 const struct cot_kept *facts, struct cot_fault *fault)
{
    struct cot_standing maker;
    cot_book_device(cot_session_book(s), page->seal.tag, INT64_MAX, &maker);
    if (!maker.known || cot_id_cmp(&maker.key, key) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "device %s is not known here", page->seal.tag);
    if (maker.closed) {
        cot_fail(fault, COT_CLOSED, "device %s has been closed: its entries are not taken any more", page->seal.tag);
        return cot_hint(fault, "what was done can be carried over by staff: cotyl export-unsent, then cotyl carry");
    }
    if (maker.part != COT_PART_BUYER) return COT_OK;
    for (size_t i = 0; i < facts->count; i++) {
        const struct cot_kept_fact *k = facts->item[i];
        if (k->scope != COT_SCOPE_FARM || cot_id_cmp(&k->farm, &maker.farm) != 0)
            return cot_fail(fault, COT_NOT_ALLOWED, "entry %lld is not of the buyer's own farm",
                            (long long)k->fact.number);
    }
    /* Said again below the program: the rows that follow must be of this farm. */
    cot_tx_narrow(s->tx, &maker.farm);
    return COT_OK;
}

static enum cot_err add_new(struct cot_session *s, const struct cot_page *page, const struct cot_kept *facts,
                            size_t known, struct cot_accepted *out, struct cot_fault *fault)
{
    int64_t now = cot_clock_ms();
    struct cot_new_page new_page = {.receipt = now > s->head.receipt ? now : s->head.receipt,
                                    .seal = page->jws,
                                    .seal_len = page->jws_len,
                                    .journal = page->seal.after};
    memcpy(new_page.tag, page->seal.tag, sizeof new_page.tag);
    struct cot_range range = {s->head.number + 1, page->seal.last, s->head.position + 1, new_page.receipt};
    if (!add_range(out, &range)) return cot_fail(fault, COT_MEMORY, "out of memory");
    enum cot_err err = cot_session_add(s, &new_page, facts, page->entry, known, fault);
    if (!err) out->added = (int64_t)(page->count - known);
    return err;
}

static enum cot_err take(struct cot_session *s, const char *tag, const struct cot_id *asker_key,
                         const struct cot_page *page, const struct cot_id *page_key, const struct cot_kept *facts,
                         struct cot_accepted *out, struct cot_fault *fault)
{
    size_t known = 0;
    enum cot_err err = cot_session_asker(s, tag, asker_key, fault);
    if (!err) err = may_send(s, page, fault);
    if (!err) err = place(s, page, &known, out, fault);
    if (!err) err = may_be_taken(s, page, page_key, facts, fault);
    if (!err && known < page->count) err = add_new(s, page, facts, known, out, fault);
    return err;
}

enum cot_err cot_door_take(struct cot_books *b, const struct cot_house_id *house, const char *tag,
                           const struct cot_id *key, const char *bytes, size_t len, int64_t deadline,
                           struct cot_accepted *out, struct cot_fault *fault)
{
    struct cot_page page = {0};
    struct cot_kept facts = {0};
    struct cot_session s = {0};
    struct cot_id page_key = *key;
    struct cot_decoder *decoder = cot_decoder_new();
    memset(out, 0, sizeof *out);
    enum cot_err err = decoder ? COT_OK : cot_fail(fault, COT_MEMORY, "out of memory");
    /* All that needs no lock first: whose it is, the seal, each entry's grammar, the chain. */
    if (!err) err = cot_page_read_each(bytes, len, NULL, decoder, &page, cot_kept_each, &facts, fault);
    if (!err && memcmp(page.seal.house.b, house->b, sizeof house->b) != 0)
        err = cot_fail(fault, COT_MALFORMED, "the page is of another house than the request");
    if (!err && strcmp(page.seal.tag, tag) != 0)
        err = cot_books_key(b, house, page.seal.tag, deadline, &page_key, fault);
    if (!err) err = cot_seal_open(page.jws, page.jws_len, &page_key, &page.seal, fault);
    if (!err) err = cot_session_open(b, house, page.seal.tag, deadline, &s, fault);
    if (!err) err = take(&s, tag, key, &page, &page_key, &facts, out, fault);
    cot_session_close(&s);
    cot_kept_free(&facts);
    cot_page_free(&page);
    cot_decoder_free(decoder);
    return err;
}
