/* After a restore of the server from a backup: back to the last common position, then give it what it lacks. */
#include <stdlib.h>
#include <string.h>

#include "devices.h"
#include "sync/sync.h"

/* --- Device heads from the rows
 * -------------------------------------------------------------------------------------------- */

struct rebuild {
    struct cot_cli *cli;
    struct cot_device_list list;
};

static enum cot_err rebuild_row(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    struct rebuild *b = ctx;
    struct cot_fact f;
    if (b->list.first && strcmp(b->list.tag, r->tag) != 0)
        b->list.first = 0; /* seals were checked when the rows came */
    enum cot_err e = r->body ? cot_entry_parse(b->cli->decoder, r->body, r->len, &f, fault) : COT_OK;
    return e ? e : cot_devices_row(&b->list, r, r->body ? &f : NULL, fault);
}

enum cot_err cot_sync_devices_again(struct cot_sync *s)
{
    struct rebuild b = {.cli = s->cli, .list = {.me = &s->cli->me}};
    struct cot_fault *fault = &s->cli->fault;
    enum cot_err e = cot_journal_walk_ledger(s->cli->journal, 0, rebuild_row, &b, fault);
    if (!e) e = cot_devices_accept(&b.list, fault);
    if (!e) e = cot_journal_drop_devices(s->cli->journal, fault);
    if (!e) e = cot_devices_store(s->cli->journal, &b.list, fault);
    cot_devices_free(&b.list);
    return e;
}

/* --- The last common position
 * ------------------------------------------------------------------------------------------------- */

static enum cot_err chain_here(struct cot_sync *s, int64_t position, struct cot_id *out)
{
    if (position) return cot_journal_chain_at(s->cli->journal, position, out, &s->cli->fault);
    cot_ledger_start(&s->cli->me.house, out);
    return COT_OK;
}

static enum cot_err same_at(struct cot_sync *s, int64_t position, bool *same)
{
    char query[40], text[COT_ID_TEXT + 1];
    struct cot_id here, there;
    snprintf(query, sizeof query, "at=%lld", (long long)position);
    enum cot_err e = cot_sync_call(s, "GET", "/v1/chain", query, "", NULL, 0);
    if (!e) e = chain_here(s, position, &here);
    if (e) return e;
    if (!cot_problem_text(s->answer.s ? s->answer.s : "", s->answer.len, "ledger", text, sizeof text) ||
        !cot_id_parse(text, strlen(text), &there))
        return cot_fail(&s->cli->fault, COT_NETWORK, "the server's answer about position %lld cannot be read",
                        (long long)position);
    *same = cot_id_cmp(&here, &there) == 0;
    return COT_OK;
}

static enum cot_err last_common(struct cot_sync *s, int64_t *out)
{
    int64_t low = 0, high = s->where.position < s->head.position ? s->where.position : s->head.position;
    bool same = true;
    enum cot_err e = high ? same_at(s, high, &same) : COT_OK;
    if (!e && same) low = high;
    while (!e && low < high) {
        int64_t middle = low + (high - low + 1) / 2;
        e = same_at(s, middle, &same);
        if (same) low = middle;
        else high = middle - 1;
    }
    *out = low;
    return e;
}

static enum cot_err go_back_to(struct cot_sync *s, int64_t position)
{
    struct cot_cli *cli = s->cli;
    struct cot_stand_at w = s->where;
    int64_t number = 0;
    enum cot_err e = chain_here(s, position, &w.ledger);
    if (!e) e = cot_journal_last_number(cli->journal, cli->me.tag, position, &number, &cli->fault);
    if (!e) e = cot_journal_set_aside(cli->journal, position, &cli->fault);
    if (!e) e = cot_journal_own_mark(cli->journal, cli->me.tag, number + 1, INT64_MAX, COT_OWN_UNSENT, &cli->fault);
    if (!e) e = cot_sync_devices_again(s);
    w.position = position;
    w.sure = position;
    w.epoch = s->head.epoch;
    if (!e) e = cot_journal_set_where(cli->journal, &w, &cli->fault);
    if (!e) s->where = w;
    return e;
}

enum cot_err cot_sync_go_back(struct cot_sync *s)
{
    struct cot_cli *cli = s->cli;
    int64_t common;
    enum cot_err e = last_common(s, &common);
    if (e) return e;
    s->restored = common < s->where.position;
    e = cot_journal_begin(cli->journal, &cli->fault);
    if (!e) e = go_back_to(s, common);
    if (!e) e = cot_journal_commit(cli->journal, &cli->fault);
    if (e) cot_journal_rollback(cli->journal);
    return e;
}

/* --- Giving back
 * -------------------------------------------------------------------------------------------------------------------
 */

struct aside {
    struct cot_kept_seal *seal; /* jws owned */
    size_t count, cap;
};

static enum cot_err collect(void *ctx, const struct cot_kept_seal *s, struct cot_fault *fault)
{
    struct aside *a = ctx;
    if (a->count == a->cap) {
        size_t cap = a->cap ? a->cap * 2 : 32;
        struct cot_kept_seal *more = realloc(a->seal, cap * sizeof *more);
        if (!more) return cot_fail(fault, COT_MEMORY, "out of memory");
        a->seal = more;
        a->cap = cap;
    }
    a->seal[a->count] = *s;
    a->seal[a->count].jws = strndup(s->jws, s->len);
    if (!a->seal[a->count].jws) return cot_fail(fault, COT_MEMORY, "out of memory");
    a->count++;
    return COT_OK;
}

static enum cot_err page_of(struct cot_sync *s, const struct cot_kept_seal *seal, struct cot_buf *page)
{
    enum cot_err e = COT_OK;
    cot_page_start(page, seal->jws, seal->len);
    for (int64_t n = seal->first; !e && n <= seal->last; n++) {
        e = cot_journal_line(s->cli->journal, seal->tag, n, page, &s->cli->fault);
        cot_buf_put(page, "\n", 1);
    }
    if (!e && page->failed) e = cot_fail(&s->cli->fault, COT_MEMORY, "out of memory");
    return e;
}

/* Answers after which the page will never be taken: its device goes on by itself, or joins again. */
static bool will_not(enum cot_err e)
{
    return e == COT_FORK || e == COT_GAP || e == COT_CLOSED || e == COT_UNAUTHENTIC || e == COT_NOT_ALLOWED ||
           e == COT_NOT_FOUND || e == COT_MALFORMED || e == COT_INVALID;
}

static enum cot_err give_one(struct cot_sync *s, const struct cot_kept_seal *seal)
{
    struct cot_buf page = {0};
    int64_t entries = seal->last - seal->first + 1;
    enum cot_err e = page_of(s, seal, &page);
    if (!e) e = cot_sync_call(s, "POST", "/v1/pages", "", "application/x-ndjson", page.s, page.len);
    cot_buf_free(&page);
    if (!e) s->given_back += entries;
    else if (will_not(e)) s->not_given_back += entries;
    else return e;
    e = cot_journal_begin(s->cli->journal, &s->cli->fault);
    if (!e) e = cot_journal_aside_done(s->cli->journal, seal->position, &s->cli->fault);
    if (!e) e = cot_journal_commit(s->cli->journal, &s->cli->fault);
    if (e) cot_journal_rollback(s->cli->journal);
    return e;
}

enum cot_err cot_sync_give_back(struct cot_sync *s)
{
    struct aside a = {0};
    bool staff = s->cli->me.part == COT_PART_MANAGER || s->cli->me.part == COT_PART_HAND;
    enum cot_err e = cot_journal_walk_aside(s->cli->journal, collect, &a, &s->cli->fault);
    for (size_t i = 0; !e && i < a.count; i++) {
        if (staff) e = give_one(s, &a.seal[i]);
        else e = cot_journal_aside_done(s->cli->journal, a.seal[i].position, &s->cli->fault);
    }
    for (size_t i = 0; i < a.count; i++) free((char *)(uintptr_t)a.seal[i].jws);
    free(a.seal);
    return e;
}
