/* verify: reads every byte of the journal again: digests, chains, seals, own entries, the position that was confirmed.
 */
#include <string.h>

#include "args.h"
#include "commands.h"
#include "cotyledger/wire/chain.h"
#include "devices.h"
#include "journal/journal.h"

const char cot_help_verify[] = "Reads everything here again and checks it: the file itself, each entry's digest,\n"
                               "the ledger's chain, each laptop's chain, every seal under the key that the house\n"
                               "named, and this laptop's own entries. Says what it read, or the first thing that\n"
                               "does not fit (and ends with an error). Nothing is changed.\n"
                               "\n"
                               "With --json: {\"rows\",\"holes\",\"seals\",\"own\",\"position\"}\n";

struct verifying {
    struct cot_cli *cli;
    struct cot_device_list devices;
    struct cot_stand_at where;
    struct cot_id ledger;
    int64_t position, receipt, rows, holes, seals, own;
    /* own entries */
    char tag[COT_TAG_MAX + 1];
    int64_t number;
    struct cot_id chain;
};

static enum cot_err check_seal(void *ctx, const struct cot_kept_seal *s, struct cot_fault *fault)
{
    struct verifying *v = ctx;
    struct cot_seal seal;
    enum cot_err e = cot_devices_seal(&v->devices, s->jws, s->len, &seal, fault);
    v->seals++;
    return e ? cot_within(fault, "the seal at position %lld", (long long)s->position) : COT_OK;
}

static enum cot_err check_row(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    struct verifying *v = ctx;
    struct cot_fact f;
    struct cot_id digest = r->digest;
    if (r->position != v->position + 1 || r->receipt < v->receipt)
        return cot_fail(fault, COT_UNAUTHENTIC, "position %lld does not follow %lld", (long long)r->position,
                        (long long)v->position);
    if (r->body) cot_digest(r->body, r->len, &digest);
    cot_ledger_next(&v->ledger, r->position, r->receipt, r->tag, r->number, &digest);
    if (cot_id_cmp(&digest, &r->digest) != 0 || cot_id_cmp(&v->ledger, &r->chain) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC,
                        "position %lld (%s %lld): its bytes are not those of the ledger's chain",
                        (long long)r->position, r->tag, (long long)r->number);
    enum cot_err e = r->body ? cot_entry_parse(v->cli->decoder, r->body, r->len, &f, fault) : COT_OK;
    if (!e) e = cot_devices_row(&v->devices, r, r->body ? &f : NULL, fault);
    if (e) return cot_within(fault, "position %lld", (long long)r->position);
    v->position = r->position;
    v->receipt = r->receipt;
    v->rows++;
    v->holes += r->body == NULL;
    return cot_journal_seal_at(v->cli->journal, r->position, check_seal, v, fault);
}

static enum cot_err check_own(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct verifying *v = ctx;
    struct cot_fact f;
    struct cot_id digest;
    if (strcmp(v->tag, o->tag) != 0) {
        snprintf(v->tag, sizeof v->tag, "%s", o->tag);
        v->number = 0;
        cot_chain_start(&v->cli->me.house, o->tag, &v->chain);
    }
    cot_digest(o->body, o->len, &digest);
    cot_chain_next(&v->chain, o->number, &digest);
    if (o->number != v->number + 1 || cot_id_cmp(&digest, &o->digest) != 0 || cot_id_cmp(&v->chain, &o->chain) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "own entry %s %lld: its bytes are not those of its chain", o->tag,
                        (long long)o->number);
    enum cot_err e = cot_entry_parse(v->cli->decoder, o->body, o->len, &f, fault);
    if (!e && (strcmp(f.tag, o->tag) != 0 || f.number != o->number))
        e = cot_fail(fault, COT_UNAUTHENTIC, "it says that it is another's");
    v->number = o->number;
    v->own++;
    return e ? cot_within(fault, "own entry %s %lld", o->tag, (long long)o->number) : COT_OK;
}

static enum cot_err verify(struct verifying *v)
{
    struct cot_cli *cli = v->cli;
    struct cot_fault *fault = &cli->fault;
    v->devices.me = &cli->me;
    cot_ledger_start(&cli->me.house, &v->ledger);
    enum cot_err e = cot_journal_check(cli->journal, fault);
    if (!e) e = cot_journal_where(cli->journal, &v->where, fault);
    if (!e) e = cot_journal_walk_ledger(cli->journal, 0, check_row, v, fault);
    if (!e) e = cot_devices_end(&v->devices, fault);
    if (!e && v->where.epoch && (v->position != v->where.position || cot_id_cmp(&v->ledger, &v->where.ledger) != 0))
        e = cot_fail(fault, COT_UNAUTHENTIC, "the rows end at position %lld, the journal says %lld",
                     (long long)v->position, (long long)v->where.position);
    if (!e) e = cot_journal_walk_own(cli->journal, NULL, -1, check_own, v, fault);
    return e;
}

enum cot_err cot_cmd_verify(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    struct verifying v = {.cli = cli};
    enum cot_err e = cot_args_read(cli, argc, argv, NULL, 0, 0, &a);
    if (e) return e;
    cot_args_free(&a);
    cli->decoder = cot_decoder_new();
    e = cli->decoder ? verify(&v) : cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    cot_devices_free(&v.devices);
    if (e == COT_UNAUTHENTIC || e == COT_STORE || e == COT_MALFORMED)
        cot_hint(&cli->fault,
                 "something changed this file after it was written. Keep the folder as it is, join again in a new one "
                 "(--dir), and carry over what waits here");
    if (e) return e;
    if (cli->json)
        printf("{\"rows\":%lld,\"holes\":%lld,\"seals\":%lld,\"own\":%lld,\"position\":%lld}\n", (long long)v.rows,
               (long long)v.holes, (long long)v.seals, (long long)v.own, (long long)v.position);
    else
        printf("All fits: %lld row%s of the ledger (%lld of them hidden from this member) under %lld\n"
               "seal%s, and %lld own entr%s.\n",
               (long long)v.rows, v.rows == 1 ? "" : "s", (long long)v.holes, (long long)v.seals,
               v.seals == 1 ? "" : "s", (long long)v.own, v.own == 1 ? "y" : "ies");
    return COT_OK;
}
