/* status: what waits here, what waits for an answer, when the last sync was; and the head, for two people to compare.
 */
#include <string.h>

#include "answer.h"
#include "args.h"
#include "clock.h"
#include "commands.h"
#include "cotyledger/core/fill.h"
#include "cotyledger/wire/chain.h"
#include "entries.h"
#include "journal/journal.h"
#include "net/net.h"

const char cot_help_status[] =
    "What waits here to be sent, which entries are queried and why, which changes\n"
    "wait for the house's word, how many order lines wait for a promise (told to\n"
    "managers), and how long ago the last sync was.\n"
    "\n"
    "  --head   epoch, position, the ledger's chain and the book's digest: two people\n"
    "           whose positions are the same have the same ledger if the short forms\n"
    "           are the same, and the same book if the digests are\n"
    "\n"
    "With --json: {\"house\",\"tag\",\"part\",\"epoch\",\"position\",\"ledger\",\"book\",\"unsent\",\n"
    "\"stopped\",\"queried\":[{\"digest\",\"kind\",\"what\",\"reason\",\"tag\",\"number\"}],\n"
    "\"requests\":[...],\"last_sync\"}; book leaves unsent entries out; last_sync is\n"
    "milliseconds since 1970, null before the first; stopped is null, \"fork\" or\n"
    "\"closed\".\n";

struct status {
    struct cot_stand_at where;
    int64_t unsent;
    char book[COT_BOOK_DIGEST_TEXT];
    char ledger[COT_ID_TEXT];
    const struct cot_note *note;
    size_t notes;
};

static enum cot_err read_status(struct cot_cli *cli, struct status *s)
{
    enum cot_err e = cot_journal_where(cli->journal, &s->where, &cli->fault);
    if (!e) e = cot_journal_own_count(cli->journal, COT_OWN_UNSENT, &s->unsent, &cli->fault);
    if (e) return e;
    e = cot_book_digest(cli->book, s->book);
    if (e) return cot_fail(&cli->fault, e, "unable to read the book");
    cot_id_text(&s->where.ledger, s->ledger);
    s->note = cot_book_notes(cli->book, &s->notes);
    return COT_OK;
}

static size_t count_of(const struct status *s, enum cot_verdict v)
{
    size_t n = 0;
    for (size_t i = 0; i < s->notes; i++) n += s->note[i].verdict == v;
    return n;
}

/* --- JSON
 * --------------------------------------------------------------------------------------------------------------------
 */

static void put_member(struct cot_buf *b, const char *name, const char *text)
{
    cot_buf_fmt(b, "\"%s\":", name);
    cot_put_json(b, text, strlen(text));
}

static void json_notes(struct cot_cli *cli, const struct status *s, enum cot_verdict v, struct cot_buf *b)
{
    bool first = true;
    for (size_t i = 0; i < s->notes; i++) {
        const struct cot_note *n = &s->note[i];
        struct cot_buf what = {0};
        char id[COT_ID_TEXT];
        if (n->verdict != v) continue;
        cot_id_text(&n->digest, id);
        cot_entry_words(cli, n->fact, &what);
        cot_buf_str(b, first ? "{" : ",{");
        put_member(b, "digest", id);
        cot_buf_str(b, ",");
        put_member(b, "kind", n->fact->kind_name);
        cot_buf_str(b, ",");
        put_member(b, "what", what.s ? what.s : "");
        cot_buf_str(b, ",");
        put_member(b, "reason", n->reason);
        cot_buf_fmt(b, ",\"tag\":\"%s\",\"number\":%lld}", n->fact->tag, (long long)n->fact->number);
        cot_buf_free(&what);
        first = false;
    }
}

static const char *stopped_word(enum cot_standstill s)
{
    return s == COT_STOPPED_FORK ? "fork" : s == COT_STOPPED_CLOSED ? "closed" : NULL;
}

static enum cot_err print_json(struct cot_cli *cli, const struct status *s)
{
    struct cot_buf b = {0};
    char part[16];
    const struct cot_thing *house = cot_book_house(cli->book);
    const char *stopped = stopped_word(s->where.stopped);
    cot_word_text(COT_F_PART, (int)cli->me.part, part);
    cot_buf_str(&b, "{");
    put_member(&b, "house", house ? cot_thing_name(house) : "");
    cot_buf_fmt(&b,
                ",\"tag\":\"%s\",\"part\":\"%s\",\"epoch\":%lld,\"position\":%lld,\"ledger\":\"%s\",\"book\":\"%s\","
                "\"unsent\":%lld",
                cli->me.tag, part, (long long)s->where.epoch, (long long)s->where.position, s->ledger, s->book,
                (long long)s->unsent);
    cot_buf_fmt(&b, ",\"stopped\":%s%s%s,\"queried\":[", stopped ? "\"" : "", stopped ? stopped : "null",
                stopped ? "\"" : "");
    json_notes(cli, s, COT_QUERIED, &b);
    cot_buf_str(&b, "],\"requests\":[");
    json_notes(cli, s, COT_REQUEST, &b);
    if (s->where.last_sync) cot_buf_fmt(&b, "],\"last_sync\":%lld}", (long long)s->where.last_sync);
    else cot_buf_str(&b, "],\"last_sync\":null}");
    enum cot_err e = b.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : COT_OK;
    if (!e) puts(b.s);
    cot_buf_free(&b);
    return e;
}

/* --- Words
 * -------------------------------------------------------------------------------------------------------------------
 */

#define SHOWN_MOST 20  /* entries of a kind; --json has them all */
#define WORDS_MOST 300 /* bytes of one entry's description */

static void put_note(struct cot_cli *cli, const struct cot_note *n, struct cot_buf *b)
{
    struct cot_buf line = {0}, words = {0};
    char id[COT_ID_TEXT];
    cot_id_text(&n->digest, id);
    cot_entry_words(cli, n->fact, &words);
    size_t len = words.len < WORDS_MOST ? words.len : WORDS_MOST;
    while (len && len < words.len && ((unsigned char)words.s[len] & 0xc0) == 0x80) len--;
    cot_buf_fmt(&line, "  %.8s  ", id);
    cot_buf_put(&line, words.s ? words.s : "", len);
    if (len < words.len) cot_buf_str(&line, " ...");
    if (n->reason[0]) cot_buf_fmt(&line, ": %s", n->reason);
    cot_put_wrapped(b, line.s ? line.s : "", line.len, 12);
    if (line.failed || words.failed) b->failed = true;
    cot_buf_free(&line);
    cot_buf_free(&words);
}

static void put_notes(struct cot_cli *cli, const struct status *s, enum cot_verdict v, struct cot_buf *b)
{
    size_t shown = 0, all = count_of(s, v);
    for (size_t i = 0; i < s->notes && shown < SHOWN_MOST; i++) {
        if (s->note[i].verdict != v) continue;
        put_note(cli, &s->note[i], b);
        shown++;
    }
    if (shown < all) cot_buf_fmt(b, "  and %zu more: cotyl status --json lists all\n", all - shown);
}

static void put_age(struct cot_cli *cli, const struct status *s, struct cot_buf *b)
{
    char when[COT_INSTANT_TEXT], age[32];
    if (!s->where.last_sync) {
        cot_buf_str(b, "Never synced.\n");
        return;
    }
    cot_instant_text(s->where.last_sync, cot_house_offset(cli), when);
    cot_span_text(cot_now_ms() - s->where.last_sync, age);
    cot_buf_fmt(b, "Last sync %s, %s ago; the ledger is at position %lld.\n", when, age, (long long)s->where.position);
}

static void put_kind_of_notes(struct cot_cli *cli, const struct status *s, enum cot_verdict v, const char *one,
                              const char *many, struct cot_buf *b)
{
    size_t n = count_of(s, v);
    if (!n) return;
    cot_buf_fmt(b, "%zu %s\n", n, n == 1 ? one : many);
    put_notes(cli, s, v, b);
}

/* Lines that nobody has promised yet: the manager's first question in the morning. */
static void put_unpromised(struct cot_cli *cli, struct cot_buf *b)
{
    struct cot_fill fill;
    size_t n = 0;
    if (cot_fill_read(cli->book, cot_today(cli), &fill) != COT_OK) {
        b->failed = true;
        return;
    }
    for (uint32_t i = 0; i < fill.line_count; i++) n += fill.line[i].waiting;
    cot_fill_free(&fill);
    if (n > 0)
        cot_buf_fmt(b, "%zu order line%s for a promise: `cotyl orders --waiting`.\n", n, n == 1 ? " waits" : "s wait");
}

static enum cot_err print_words(struct cot_cli *cli, const struct status *s)
{
    struct cot_buf b = {0}, name = {0};
    char part[16];
    const struct cot_thing *house = cot_book_house(cli->book);
    const char *called = house ? cot_thing_name(house) : "(not fetched yet)";
    bool manager = cli->me.part == COT_PART_MANAGER;
    cot_word_text(COT_F_PART, (int)cli->me.part, part);
    cot_put_terminal(&name, called, strlen(called));
    cot_buf_fmt(&b, "%s, laptop %s (%s).\n", name.s ? name.s : "", cli->me.tag, part);
    put_age(cli, s, &b);
    cot_buf_fmt(&b, s->unsent == 1 ? "%lld entry waits here to be sent.\n" : "%lld entries wait here to be sent.\n",
                (long long)s->unsent);
    if (s->where.stopped == COT_STOPPED_FORK)
        cot_buf_str(&b, "This laptop's journal forked: nothing is sent until `cotyl rejoin`.\n");
    if (s->where.stopped == COT_STOPPED_CLOSED)
        cot_buf_str(&b, "This laptop has been closed: `cotyl export-unsent FILE` writes out what waits.\n");
    put_kind_of_notes(cli, s, COT_QUERIED,
                      "entry is queried, kept but not booked:", "entries are queried, kept but not booked:", &b);
    put_kind_of_notes(cli, s, COT_REQUEST,
                      "change waits for the house's word:", "changes wait for the house's word:", &b);
    if (manager) put_unpromised(cli, &b);
    if (manager && (count_of(s, COT_QUERIED) || count_of(s, COT_REQUEST)))
        cot_buf_str(&b, "Answer with: cotyl answer LETTERS --as booked|aside\n");
    enum cot_err e = b.failed || name.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : COT_OK;
    if (!e) fputs(b.s, stdout);
    cot_buf_free(&b);
    cot_buf_free(&name);
    return e;
}

static void print_head(const struct status *s)
{
    printf("epoch    %lld\nposition %lld\nledger   %.8s  (%s)\nbook     %.10s  (%s)\n", (long long)s->where.epoch,
           (long long)s->where.position, s->ledger, s->ledger, s->book, s->book);
    if (s->unsent)
        printf("%lld entr%s not sent yet: not in these figures.\n", (long long)s->unsent,
               s->unsent == 1 ? "y is" : "ies are");
}

enum cot_err cot_cmd_status(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"head", NULL, -1}, COT_OPT_END};
    struct cot_args a;
    struct status s = {0};
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 0, 0, &a);
    if (e) return e;
    bool head = cot_args_value(&a, opts, "head") != NULL;
    cot_args_free(&a);
    e = read_status(cli, &s);
    if (e) return e;
    if (cli->json) return print_json(cli, &s);
    if (!head) return print_words(cli, &s);
    print_head(&s);
    return COT_OK;
}
