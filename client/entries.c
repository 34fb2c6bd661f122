#include "entries.h"

#include "describe.h"
#include "journal/journal.h"
#include "work.h"

#include <string.h>

struct seeking {
    struct cot_cli *cli;
    const char *prefix;
    size_t len;
    struct cot_id found;
    int count; /* entries that fit, 2 and more alike */
};

static void seek(struct seeking *s, const struct cot_id *digest)
{
    char text[COT_ID_TEXT];
    cot_id_text(digest, text);
    if (strncmp(text, s->prefix, s->len) != 0) return;
    if (s->count == 0 || cot_id_cmp(&s->found, digest) != 0) s->count++;
    s->found = *digest;
}

static enum cot_err seek_row(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    (void)fault;
    if (r->body) seek(ctx, &r->digest);
    return COT_OK;
}

static enum cot_err seek_own(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    (void)fault;
    seek(ctx, &o->digest);
    return COT_OK;
}

enum cot_err cot_digest_find(struct cot_cli *cli, const char *prefix, struct cot_id *out)
{
    struct seeking s = {.cli = cli, .prefix = prefix, .len = strlen(prefix)};
    if (s.len < COT_PREFIX_LEAST) {
        (void)cot_fail(&cli->fault, COT_INVALID, "\"%.60s\" is no code, and too short for what `cotyl history` shows",
                       prefix);
        return cot_hint(&cli->fault,
                        "of the characters in brackets that `cotyl history CODE` shows the first %d are enough",
                        COT_PREFIX_LEAST);
    }
    enum cot_err err = cot_journal_walk_ledger(cli->journal, 0, seek_row, &s, &cli->fault);
    if (err == COT_OK) err = cot_journal_walk_own(cli->journal, NULL, COT_OWN_UNSENT, seek_own, &s, &cli->fault);
    if (err != COT_OK) return err;
    *out = s.found;
    if (s.count == 1) return COT_OK;
    (void)cot_fail(&cli->fault, s.count ? COT_AMBIGUOUS : COT_NOT_FOUND, "%s starts with \"%.60s\"",
                   s.count ? "more than one record" : "nothing recorded here", prefix);
    return cot_hint(&cli->fault, "`cotyl history CODE` shows what was recorded about a batch or an order line%s",
                    s.count ? "; give more characters" : "");
}

static enum cot_err seek_last(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct seeking *s = ctx;
    struct cot_note note;
    (void)fault;
    if (!cot_book_verdict(s->cli->book, &o->digest, &note) || !note.fact || note.verdict == COT_TAKEN_BACK)
        return COT_OK;
    if (note.fact->kind == COT_K_TAKEN_BACK || (cot_kind_row(note.fact->kind)->flags & COT_KIND_ADMIN)) return COT_OK;
    s->found = o->digest;
    s->count++;
    return COT_OK;
}

static enum cot_err find_last(struct cot_cli *cli, struct cot_id *out)
{
    struct seeking s = {.cli = cli};
    enum cot_err err = cot_journal_walk_own(cli->journal, cli->me.tag, -1, seek_last, &s, &cli->fault);
    if (err != COT_OK) return err;
    *out = s.found;
    if (s.count > 0) return COT_OK;
    return cot_fail(&cli->fault, COT_NOT_FOUND, "this laptop has recorded nothing that could be taken back");
}

enum cot_err cot_entry_find(struct cot_cli *cli, const char *typed, struct cot_id *out)
{
    char code[COT_CODE_TEXT];
    const struct cot_thing *t;
    if (strcmp(typed, "last") == 0) return find_last(cli, out);
    if (cot_code_read(typed, strlen(typed), code) == COT_CODE_SHAPE) return cot_digest_find(cli, typed, out);
    enum cot_err err = cot_find_any(cli, typed, &t);
    if (err == COT_OK) *out = t->id;
    return err;
}

void cot_entry_words(struct cot_cli *cli, const struct cot_fact *f, struct cot_buf *out)
{
    const char *about = f->has_about ? cot_name_at(cli, &f->about) : "",
               *by = f->has_member ? cot_name_at(cli, &f->member) : "";
    struct cot_buf fields = {0};
    cot_describe_fields(cli, f, COT_F_COUNT, &fields);
    cot_buf_fmt(out, "%s%s%s%s%s; recorded by %s (%s %lld)", cot_kind_row(f->kind)->what, about[0] ? " of " : "", about,
                fields.len ? ": " : "", fields.s ? fields.s : "", by[0] ? by : "the house", f->tag,
                (long long)f->number);
    if (fields.failed) out->failed = true;
    cot_buf_free(&fields);
}
