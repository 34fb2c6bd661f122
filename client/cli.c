/* Opens journal, key and book for a command. */
#include "cli.h"

#include <errno.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "journal/journal.h"
#include "key.h"
#include "record.h"

static bool join_path(char **out, const char *a, const char *b)
{
    size_t n = strlen(a) + strlen(b) + 1;
    *out = malloc(n);
    if (*out) snprintf(*out, n, "%s%s", a, b);
    return *out != NULL;
}

enum cot_err cot_cli_dir(struct cot_cli *cli, const char *given)
{
    const char *own = getenv("COTYL_DIR"), *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    bool done;
    if (given && *given) done = join_path(&cli->dir, given, "");
    else if (own && *own) done = join_path(&cli->dir, own, "");
    else if (data && *data == '/') done = join_path(&cli->dir, data, "/cotyledger");
    else if (home && *home) done = join_path(&cli->dir, home, "/.local/share/cotyledger");
    else {
        cot_fail(&cli->fault, COT_USAGE, "no folder for the data: HOME is not set");
        return cot_hint(&cli->fault, "say where with --dir DIR");
    }
    return done ? COT_OK : cot_fail(&cli->fault, COT_MEMORY, "out of memory");
}

static enum cot_err open_journal(struct cot_cli *cli)
{
    enum cot_err e = cot_journal_open(cli->dir, false, &cli->journal, &cli->fault);
    if (!e) e = cot_journal_identity(cli->journal, &cli->me, NULL, &cli->fault);
    if (e != COT_NOT_FOUND) return e;
    cot_fail(&cli->fault, COT_NOT_FOUND, "this laptop has not joined a house (nothing in %.200s)", cli->dir);
    return cot_hint(&cli->fault, "cotyl join, with the invitation that a manager of the house made");
}

struct reading {
    struct cot_cli *cli;
    struct cot_book *book;
    int64_t most;
};

static enum cot_err put_line(struct reading *r, const char *line, size_t len, struct cot_row *row,
                             struct cot_fault *fault)
{
    struct cot_fact fact;
    enum cot_err e = cot_entry_parse(r->cli->decoder, line, len, &fact, fault);
    if (e) return e;
    row->fact = &fact;
    e = cot_book_put(r->book, row);
    return e ? cot_fail(fault, e, "unable to read the book: out of memory") : COT_OK;
}

static enum cot_err put_ledger(void *ctx, const struct cot_ledger_row *l, struct cot_fault *fault)
{
    struct reading *r = ctx;
    struct cot_row row = {l->position, l->receipt, l->digest, NULL};
    if (!l->body || l->position > r->most) return COT_OK;
    enum cot_err e = put_line(r, l->body, l->len, &row, fault);
    return e ? cot_within(fault, "ledger position %lld", (long long)l->position) : COT_OK;
}

static enum cot_err put_unsent(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct cot_row row = {0, 0, o->digest, NULL};
    enum cot_err e = put_line(ctx, o->body, o->len, &row, fault);
    return e ? cot_within(fault, "own entry %lld", (long long)o->number) : COT_OK;
}

static enum cot_err read_book(struct cot_cli *cli, int64_t most, bool unsent, struct cot_book **out)
{
    struct reading r = {cli, cot_book_new(cli->me.part == COT_PART_BUYER ? &cli->me.farm : NULL), most};
    enum cot_err e = COT_OK;
    if (!cli->decoder) cli->decoder = cot_decoder_new();
    if (!r.book || !cli->decoder) e = cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (!e) e = cot_journal_walk_ledger(cli->journal, 0, put_ledger, &r, &cli->fault);
    if (!e && unsent) e = cot_journal_walk_own(cli->journal, cli->me.tag, COT_OWN_UNSENT, put_unsent, &r, &cli->fault);
    if (e) {
        cot_book_free(r.book);
        return e;
    }
    *out = r.book;
    return COT_OK;
}

enum cot_err cot_cli_reload(struct cot_cli *cli)
{
    cot_book_free(cli->book);
    cli->book = NULL;
    return read_book(cli, INT64_MAX, true, &cli->book);
}

enum cot_err cot_cli_book_at(struct cot_cli *cli, int64_t position, struct cot_book **out)
{
    return read_book(cli, position, false, out);
}

enum cot_err cot_cli_open(struct cot_cli *cli, unsigned needs)
{
    enum cot_err e = COT_OK;
    int64_t generation = 0;
    if (needs & (COT_NEEDS_JOURNAL | COT_NEEDS_BOOK | COT_NEEDS_KEY)) e = open_journal(cli);
    if (!e && needs & COT_NEEDS_KEY) {
        e = cot_journal_identity(cli->journal, &cli->me, &generation, &cli->fault);
        if (!e) e = cot_key_load(cli->dir, generation, &cli->key, &cli->fault);
    }
    if (!e && needs & COT_NEEDS_BOOK) e = cot_cli_reload(cli);
    return e;
}

void cot_cli_close(struct cot_cli *cli)
{
    cot_book_free(cli->book);
    if (cli->decoder) cot_decoder_free(cli->decoder);
    cot_journal_close(cli->journal);
    cot_record_free_codes(cli);
    sodium_memzero(&cli->key, sizeof cli->key);
    free(cli->dir);
    cli->book = NULL;
    cli->decoder = NULL;
    cli->journal = NULL;
    cli->dir = NULL;
}
