/* sync: what was sent and what came, in one line. */
#include "args.h"
#include "commands.h"
#include "sync/sync.h"

const char cot_help_sync[] = "Sends what waits here and fetches what is new. Every byte that comes is\n"
                             "verified before it is kept. A sync that is cut off goes on where it stopped;\n"
                             "sending twice counts once.\n"
                             "\n"
                             "  --quiet    no progress and no words unless something is wrong\n"
                             "\n"
                             "With --json: {\"sent\":N,\"fetched\":N,\"position\":N,\"given_back\":N,\n"
                             "\"not_given_back\":N,\"restored\":true|false}\n";

static void print_words(const struct cot_sync *s)
{
    printf("sent %lld, fetched %lld; the ledger is at position %lld\n", (long long)s->sent, (long long)s->fetched,
           (long long)s->where.position);
    if (s->restored) printf("The server had been restored from a backup.\n");
    if (s->given_back)
        printf("%lld entr%s that it may have lost went back to it from here.\n", (long long)s->given_back,
               s->given_back == 1 ? "y" : "ies");
    if (s->not_given_back)
        printf("%lld entr%s it did not take; the laptops that wrote them hold them still.\n",
               (long long)s->not_given_back, s->not_given_back == 1 ? "y" : "ies");
}

enum cot_err cot_cmd_sync(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"quiet", NULL, -1}, COT_OPT_END};
    struct cot_args a;
    struct cot_sync s;
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 0, 0, &a);
    if (e) return e;
    bool quiet = cot_args_value(&a, opts, "quiet") != NULL;
    cot_args_free(&a);
    e = cot_sync_open(cli, quiet || cli->json, &s);
    if (!e) e = cot_sync_run(&s);
    if (!e && cli->json)
        printf("{\"sent\":%lld,\"fetched\":%lld,\"position\":%lld,\"given_back\":%lld,\"not_given_back\":%lld,"
               "\"restored\":%s}\n",
               (long long)s.sent, (long long)s.fetched, (long long)s.where.position, (long long)s.given_back,
               (long long)s.not_given_back, s.restored ? "true" : "false");
    else if (!e && !quiet) print_words(&s);
    cot_sync_close(&s);
    return e;
}
