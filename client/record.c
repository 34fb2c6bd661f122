/* From a fact to a line in the own journal: header, checks, chain, one durable transaction. */
#include "record.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/chain.h"
#include "journal/journal.h"
#include "key.h"

struct cot_kept_codes {
    struct cot_kept_codes *next;
    char code[][COT_CODE_TEXT];
};

void cot_record_free_codes(struct cot_cli *cli)
{
    while (cli->codes) {
        struct cot_kept_codes *next = cli->codes->next;
        free(cli->codes);
        cli->codes = next;
    }
}

bool cot_record_coded(const struct cot_fact *f)
{
    const struct cot_kind_row *row = cot_kind_row(f->kind);
    bool changes = f->has_about && (row->flags & COT_KIND_ABOUT_OPTIONAL);
    return row->makes != COT_THING_NONE && !changes && cot_kind_field(f->kind, COT_F_CODE) != NULL;
}

static unsigned part_bit(enum cot_part part)
{
    static const unsigned bits[] = {[COT_PART_MANAGER] = COT_BY_MANAGER,
                                    [COT_PART_HAND] = COT_BY_HAND,
                                    [COT_PART_BUYER] = COT_BY_BUYER,
                                    [COT_PART_AUDITOR] = 0};
    return (unsigned)part < sizeof bits / sizeof bits[0] ? bits[part] : 0;
}

/* The closing itself is fetched by others only: the laptop hears of it from the refusal. */
static bool refused_before(struct cot_cli *cli)
{
    struct cot_stand_at where;
    struct cot_fault ignored = {0};
    return cot_journal_where(cli->journal, &where, &ignored) == COT_OK && where.stopped == COT_STOPPED_CLOSED;
}

static enum cot_err check_part(struct cot_cli *cli, const struct cot_fact *f)
{
    const struct cot_kind_row *row = cot_kind_row(f->kind);
    char part[16];
    struct cot_standing me = {0};
    if (cli->book) cot_book_device(cli->book, cli->me.tag, INT64_MAX, &me);
    enum cot_part now = me.known ? me.part : cli->me.part;
    cot_word_text(COT_F_PART, (int)now, part);
    if (!(row->by & part_bit(now))) {
        cot_fail(&cli->fault, COT_NOT_ALLOWED, "a %s may not record this: %s", part, row->what);
        return cot_hint(&cli->fault, row->by & COT_BY_HAND      ? "the house's staff records it"
                                     : row->by & COT_BY_MANAGER ? "a manager of the house records it"
                                                                : "the server records it");
    }
    if ((!me.known || (!me.closed && !me.member_gone)) && !refused_before(cli)) return COT_OK;
    cot_fail(&cli->fault, COT_CLOSED, "this laptop (%s) has been closed: it records nothing more", cli->me.tag);
    return cot_hint(&cli->fault,
                    "what waits here can be carried over: cotyl export-unsent FILE; to go on, join again in a new "
                    "folder (--dir) with a new invitation");
}

/* A buyer's page with an entry of another scope than its farm's is refused at the door as a whole. */
static enum cot_err check_scope(struct cot_cli *cli, const struct cot_fact *f)
{
    struct cot_id farm, none = {{0}};
    if (cli->me.part != COT_PART_BUYER) return COT_OK;
    if (cot_fact_scope(f, &none, &farm) == COT_SCOPE_FARM && cot_id_cmp(&farm, &cli->me.farm) == 0) return COT_OK;
    return cot_fail(&cli->fault, COT_NOT_ALLOWED, "a buyer records for the own farm only");
}

enum cot_err cot_record_check(struct cot_cli *cli, const struct cot_fact *f)
{
    char flaw[160];
    enum cot_err e = check_part(cli, f);
    if (!e) e = check_scope(cli, f);
    if (!e && !cot_fact_check(f, flaw))
        e = cot_fail(&cli->fault, COT_INVALID, "%s: %s", cot_kind_row(f->kind)->what, flaw);
    return e;
}

/* The hybrid clock: this laptop's time, but never before what the ledger or its own waiting entries say; the tick
 * tells entries of one millisecond apart. */
static void stamp(struct cot_fact *f, const struct cot_stand_at *where, const struct cot_own_head *head)
{
    int64_t now = cot_now_ms(), least = where->high;
    if (head->unsent && head->clock > least) least = head->clock;
    f->clock = now > least ? now : least;
    f->tick = 0;
    if (head->unsent && f->clock == head->clock) f->tick = head->tick + 1;
    else if (f->clock == head->last_clock) f->tick = head->last_tick + 1;
    else if (f->clock == where->high) f->tick = 1;
    f->seen = where->position;
}

static void fill_header(struct cot_cli *cli, const char *tag, struct cot_fact *f, int64_t number)
{
    char purpose[64];
    const struct cot_kind_row *row = cot_kind_row(f->kind);
    snprintf(f->kind_name, sizeof f->kind_name, "%s", row->name);
    snprintf(f->tag, sizeof f->tag, "%s", tag);
    f->number = number;
    f->house = cli->me.house;
    f->has_member = true;
    f->member = cli->me.member;
    snprintf(purpose, sizeof purpose, "salt %s %lld", tag, (long long)number);
    cot_random(f->salt, sizeof f->salt, purpose);
    if (cli->me.part == COT_PART_BUYER) {
        f->has_farm = true;
        f->farm = cli->me.farm;
    }
}

static bool has_own_code(const struct cot_fact *f, const char *tag)
{
    const struct cot_value *v = cot_record_coded(f) ? cot_fact_value(f, COT_F_CODE) : NULL;
    size_t n = strlen(tag);
    return v && v->len > n && memcmp(v->v.text, tag, n) == 0 && v->v.text[n] == '-';
}

static void move_head(struct cot_own_head *head, const struct cot_own *o)
{
    head->number = o->number;
    head->chain = o->chain;
    head->coded += o->coded;
    if (!head->unsent || o->clock > head->clock || (o->clock == head->clock && o->tick > head->tick)) {
        head->clock = o->clock;
        head->tick = o->tick;
    }
    head->last_clock = o->clock;
    head->last_tick = o->tick;
    head->unsent++;
}

enum cot_err cot_record_append(struct cot_cli *cli, const char *tag, struct cot_fact *f, struct cot_own_head *head,
                               struct cot_buf *line, struct cot_id *digest)
{
    struct cot_own o = {.number = head->number + 1, .chain = head->chain, .state = COT_OWN_UNSENT};
    cot_buf_clear(line);
    fill_header(cli, tag, f, o.number);
    enum cot_err e = cot_record_check(cli, f);
    if (!e) e = cot_entry_write(f, line, &cli->fault);
    if (!e && line->failed) e = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (e) return e;
    snprintf(o.tag, sizeof o.tag, "%s", tag);
    o.clock = f->clock;
    o.tick = f->tick;
    o.coded = has_own_code(f, tag);
    o.body = line->s;
    o.len = line->len;
    cot_digest(line->s, line->len, &o.digest);
    cot_chain_next(&o.chain, o.number, &o.digest);
    e = cot_journal_append(cli->journal, &o, &cli->fault);
    if (e) return e;
    move_head(head, &o);
    *digest = o.digest;
    return COT_OK;
}

/* --- cot_record
 * -------------------------------------------------------------------------------------------------------- */

/* Lines that were appended, to be put into the book once they are on the disk. */
struct lines {
    struct cot_buf bytes; /* all lines one after the other */
    size_t *end;
    struct cot_id *digest;
};

static bool lines_start(struct lines *l, size_t n)
{
    memset(l, 0, sizeof *l);
    l->end = calloc(n + 1, sizeof *l->end);
    l->digest = calloc(n + 1, sizeof *l->digest);
    return l->end && l->digest;
}

static void lines_free(struct lines *l)
{
    cot_buf_free(&l->bytes);
    free(l->end);
    free(l->digest);
}

static enum cot_err append_all(struct cot_cli *cli, struct cot_fact *facts, size_t n, struct cot_kept_codes *codes,
                               struct lines *l)
{
    struct cot_stand_at where;
    struct cot_own_head head;
    struct cot_buf line = {0};
    enum cot_err e = cot_journal_where(cli->journal, &where, &cli->fault);
    if (!e) e = cot_journal_own_head(cli->journal, &cli->me.house, cli->me.tag, &head, &cli->fault);
    if (!e && where.epoch == 0) {
        e = cot_fail(&cli->fault, COT_CONFLICT,
                     "nothing of the house has been fetched yet, so there is nothing to record about");
        cot_hint(&cli->fault, "cotyl sync, once, with a signal; after that it works without");
    }
    for (size_t i = 0; !e && i < n; i++) {
        struct cot_fact *f = &facts[i];
        if (!f->has_carries) stamp(f, &where, &head);
        if (cot_record_coded(f) && !cot_fact_value(f, COT_F_CODE)) {
            cot_code_make(cli->me.tag, (uint32_t)head.coded + 1, codes->code[i]);
            if (!cot_fact_set_text(f, COT_F_CODE, codes->code[i], strlen(codes->code[i])))
                e = cot_fail(&cli->fault, COT_INVALID, "too many fields in one entry");
        }
        if (!e) e = cot_record_append(cli, cli->me.tag, f, &head, &line, &l->digest[i]);
        if (e) break;
        cot_buf_put(&l->bytes, line.s, line.len);
        l->end[i] = l->bytes.len;
    }
    cot_buf_free(&line);
    if (!e && l->bytes.failed) e = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    return e;
}

/* The book takes what a reader of the line would see, not what the caller handed over. */
static enum cot_err put_in_book(struct cot_cli *cli, const struct lines *l, size_t n)
{
    enum cot_err e = COT_OK;
    for (size_t i = 0; !e && i < n; i++) {
        size_t from = i ? l->end[i - 1] : 0;
        struct cot_fact f;
        struct cot_row row = {0, 0, l->digest[i], &f};
        e = cot_entry_parse(cli->decoder, l->bytes.s + from, l->end[i] - from, &f, &cli->fault);
        if (!e) e = cot_book_put(cli->book, &row);
        if (e) return cot_fail(&cli->fault, e, "recorded, but the book can't be read on: %s", cot_err_row(e)->title);
    }
    return COT_OK;
}

enum cot_err cot_record(struct cot_cli *cli, struct cot_fact *facts, size_t n, struct cot_id *digest)
{
    struct lines l;
    struct cot_kept_codes *codes = calloc(1, sizeof *codes + n * COT_CODE_TEXT);
    enum cot_err e = COT_OK;
    if (!lines_start(&l, n) || !codes) {
        free(codes);
        e = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
        goto out;
    }
    codes->next = cli->codes;
    cli->codes = codes;
    e = cot_journal_begin(cli->journal, &cli->fault);
    if (!e) e = append_all(cli, facts, n, codes, &l);
    if (!e) e = cot_journal_commit(cli->journal, &cli->fault);
    if (e) {
        cot_journal_rollback(cli->journal);
        goto out;
    }
    if (digest) memcpy(digest, l.digest, n * sizeof *digest);
    if (cli->book) e = put_in_book(cli, &l, n);
out:
    lines_free(&l);
    return e;
}
