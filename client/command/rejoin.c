/* rejoin: the way out of a fork. A new key and tag; what waits here is made again under it, each naming what it
 * carries. */
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "args.h"
#include "cli.h"
#include "commands.h"
#include "joining.h"
#include "key.h"
#include "people.h"
#include "record.h"
#include "sync/sync.h"

const char cot_help_rejoin[] = "The way out when the house has other entries under this laptop's numbers: the\n"
                               "folder was copied, or restored from an old copy, and two laptops went on from\n"
                               "it. This one gets a new key and a new tag. Whatever waits here is carried over:\n"
                               "each entry names the one it stands for, so nothing is lost or counted twice, and\n"
                               "codes already written on tags stay as they are. The old tag stays open for the\n"
                               "other copy.\n"
                               "\n"
                               "  --label TEXT   what people call this laptop, if not as before\n";

static enum cot_err ask_server(struct cot_sync *s, const struct cot_keypair *key, const char *label,
                               struct cot_identity *me)
{
    static const char domain[] = "cotyledger rejoin v1";
    crypto_hash_sha256_state st;
    struct cot_id hash;
    struct cot_buf body = {0};
    struct cot_cli *cli = s->cli;
    crypto_hash_sha256_init(&st);
    crypto_hash_sha256_update(&st, (const uint8_t *)domain, sizeof domain - 1);
    crypto_hash_sha256_update(&st, (const uint8_t *)cli->me.tag, strlen(cli->me.tag));
    crypto_hash_sha256_final(&st, hash.b);
    cot_joining_body(&cli->me.house, &hash, key, label, &body);
    enum cot_err e = body.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : COT_OK;
    if (!e) e = cot_sync_call(s, "POST", "/v1/rejoin", "", "application/json", body.s, body.len);
    cot_buf_free(&body);
    *me = cli->me;
    if (!e) e = cot_joining_answer(&s->answer, me, &cli->fault);
    if (!e && (cot_id_cmp(&me->house_key, &cli->me.house_key) != 0 || cot_id_cmp(&me->member, &cli->me.member) != 0 ||
               me->part != cli->me.part))
        e = cot_fail(&cli->fault, COT_UNAUTHENTIC, "the server answered for another member or house");
    return e;
}

/* --- Carrying over
 * ------------------------------------------------------------------------------------------------------------ */

struct waiting {
    struct cot_buf bytes;
    size_t *end;
    struct cot_id *digest;
    size_t count, cap;
};

static enum cot_err collect(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct waiting *w = ctx;
    if (w->count == w->cap) {
        size_t cap = w->cap ? w->cap * 2 : 64;
        size_t *end = realloc(w->end, cap * sizeof *end);
        if (end) w->end = end;
        struct cot_id *digest = realloc(w->digest, cap * sizeof *digest);
        if (digest) w->digest = digest;
        if (!end || !digest) return cot_fail(fault, COT_MEMORY, "out of memory");
        w->cap = cap;
    }
    cot_buf_put(&w->bytes, o->body, o->len);
    w->end[w->count] = w->bytes.len;
    w->digest[w->count++] = o->digest;
    return w->bytes.failed ? cot_fail(fault, COT_MEMORY, "out of memory") : COT_OK;
}

static enum cot_err make_again(struct cot_cli *cli, const struct cot_identity *me, const struct waiting *w)
{
    struct cot_own_head head;
    struct cot_buf line = {0};
    struct cot_id made;
    enum cot_err e = cot_journal_own_head(cli->journal, &me->house, me->tag, &head, &cli->fault);
    for (size_t i = 0; !e && i < w->count; i++) {
        struct cot_fact f;
        size_t from = i ? w->end[i - 1] : 0;
        e = cot_entry_parse(cli->decoder, w->bytes.s + from, w->end[i] - from, &f, &cli->fault);
        if (e) break;
        if (!f.has_carries) f.carries = w->digest[i];
        f.has_carries = true;
        e = cot_record_append(cli, me->tag, &f, &head, &line, &made);
    }
    cot_buf_free(&line);
    return e;
}

static enum cot_err change_over(struct cot_sync *s, const struct cot_identity *me, int64_t generation,
                                const struct waiting *w)
{
    struct cot_cli *cli = s->cli;
    enum cot_err e = make_again(cli, me, w);
    if (!e) e = cot_journal_own_carried(cli->journal, cli->me.tag, &cli->fault);
    if (!e) e = cot_journal_set_identity(cli->journal, me, generation, &cli->fault);
    s->where.stopped = COT_MOVING;
    if (!e) e = cot_journal_set_where(cli->journal, &s->where, &cli->fault);
    return e;
}

static enum cot_err rejoin(struct cot_sync *s, const char *label, size_t *carried)
{
    struct cot_cli *cli = s->cli;
    struct cot_identity me;
    struct cot_keypair key;
    struct waiting w = {0};
    int64_t generation = 0;
    char purpose[64];
    enum cot_err e = cot_journal_identity(cli->journal, &me, &generation, &cli->fault);
    snprintf(purpose, sizeof purpose, "rejoin key %s %lld", cli->me.tag, (long long)++generation);
    if (!e) e = cot_key_make(cli->dir, generation, purpose, &key, &cli->fault);
    if (!e) e = ask_server(s, &key, label, &me);
    if (!e) e = cot_journal_begin(cli->journal, &cli->fault);
    if (!e) e = cot_journal_walk_own(cli->journal, cli->me.tag, COT_OWN_UNSENT, collect, &w, &cli->fault);
    if (!e) e = change_over(s, &me, generation, &w);
    if (!e) e = cot_journal_commit(cli->journal, &cli->fault);
    if (e) cot_journal_rollback(cli->journal);
    else {
        cli->me = me;
        cli->key = key;
        *carried = w.count;
    }
    sodium_memzero(&key, sizeof key);
    cot_buf_free(&w.bytes);
    free(w.end);
    free(w.digest);
    return e;
}

static enum cot_err must_be_forked(struct cot_sync *s)
{
    struct cot_cli *cli = s->cli;
    enum cot_err e = cot_sync_run(s); /* what is common is marked as sent; the fork is seen */
    if (e == COT_FORK) {
        memset(&cli->fault, 0, sizeof cli->fault);
        return COT_OK;
    }
    if (e) return e;
    cot_fail(&cli->fault, COT_CONFLICT, "this laptop's journal (%s) has not forked: there is nothing to get out of",
             cli->me.tag);
    return cot_hint(&cli->fault, "it has just synced; go on as usual");
}

/* What the laptop was called under its old tag. */
static void old_label(struct cot_cli *cli, char out[static 81])
{
    const struct cot_thing *device;
    struct cot_fault before = cli->fault;
    const char *label = "";
    if (cli->book && cot_device_find_tag(cli, cli->me.tag, &device) == COT_OK)
        label = cot_thing_text(device, COT_F_LABEL);
    cli->fault = before;
    snprintf(out, 81, "%s", *label ? label : "laptop");
}

enum cot_err cot_cmd_rejoin(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"label", "TEXT", -1}, COT_OPT_END};
    struct cot_args a;
    struct cot_sync s;
    size_t carried = 0;
    char old[COT_TAG_MAX + 1], was[81];
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 0, 0, &a);
    if (e) return e;
    const char *label = cot_args_value(&a, opts, "label");
    snprintf(old, sizeof old, "%s", cli->me.tag);
    cot_warn_demo();
    e = cot_sync_open(cli, cli->json, &s);
    if (!e) e = must_be_forked(&s);
    old_label(cli, was);
    if (!e) e = rejoin(&s, label && *label ? label : was, &carried);
    cot_sync_close(&s);
    cot_args_free(&a);
    if (e) return e;
    if (cli->json) printf("{\"was\":\"%s\",\"tag\":\"%s\",\"carried\":%zu}\n", old, cli->me.tag, carried);
    else
        printf("This laptop was %s and is %s now; %zu entr%s carried over.\n", old, cli->me.tag, carried,
               carried == 1 ? "y" : "ies");
    fflush(stdout);
    e = cot_sync_now(cli, cli->json);
    if (e) cot_within(&cli->fault, "carried over, but not sent yet");
    return e;
}
