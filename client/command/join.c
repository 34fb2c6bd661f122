/* join: this laptop gets a key, proves it with an invitation, learns its tag, and fetches the house's ledger. */
#include <sodium.h>
#include <string.h>

#include "args.h"
#include "cli.h"
#include "commands.h"
#include "joining.h"
#include "journal/journal.h"
#include "key.h"
#include "net/net.h"

const char cot_help_join[] = "Makes this laptop one of a house. The invitation is one line that a manager of\n"
                             "the house made (cotyl invite) or the server printed (cotyld new-house). It is\n"
                             "good once, for one laptop, and for some days.\n"
                             "\n"
                             "  --invitation FILE   where the line is; - reads it from standard input;\n"
                             "                      without it you are asked, and what you type is not shown\n"
                             "  --label TEXT        what people call this laptop: \"bench laptop\"\n"
                             "\n"
                             "The secret key is made here, kept in the data folder with mode 0600, and never\n"
                             "leaves it. A join that was cut off is done again with the same invitation.\n"
                             "\n"
                             "  cotyl join --invitation for-sorrel --label \"bench laptop\"\n";

static enum cot_err post_join(struct cot_cli *cli, const struct cot_invitation *i, const char *label,
                              struct cot_buf *answer)
{
    struct cot_net *net;
    struct cot_buf body = {0};
    struct cot_id hash;
    cot_invitation_hash(i->secret, &hash);
    cot_joining_body(&i->house, &hash, &cli->key, label, &body);
    enum cot_err e = body.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : COT_OK;
    if (!e) e = cot_net_open(i->url, i->has_pin ? &i->pin : NULL, false, &net, &cli->fault);
    if (!e) {
        struct cot_call c = {"POST", "/v1/join", "", "application/json", body.s, body.len, &i->house, NULL, NULL};
        cot_net_doing(net, "joining");
        e = cot_net_call(net, &c, answer, &cli->fault);
        cot_net_close(net);
    }
    cot_buf_free(&body);
    return e;
}

/* The house's key is the one that whoever invited has seen. */
static enum cot_err check_house_key(struct cot_cli *cli, const struct cot_invitation *i)
{
    struct cot_id hash;
    crypto_hash_sha256(hash.b, cli->me.house_key.b, sizeof cli->me.house_key.b);
    if (sodium_memcmp(hash.b, i->fingerprint.b, sizeof hash.b) == 0) return COT_OK;
    cot_fail(&cli->fault, COT_UNAUTHENTIC, "the server at %.200s has not the key of the house that invited", i->url);
    return cot_hint(&cli->fault, "do not go on; ask whoever invited you, and let them make a new invitation");
}

static enum cot_err join(struct cot_cli *cli, const struct cot_invitation *i, const char *label)
{
    struct cot_buf answer = {0};
    struct cot_id hash;
    char purpose[20 + COT_ID_TEXT], text[COT_ID_TEXT];
    cot_invitation_hash(i->secret, &hash);
    cot_id_text(&hash, text);
    snprintf(purpose, sizeof purpose, "key %s", text);
    cli->me.house = i->house;
    snprintf(cli->me.url, sizeof cli->me.url, "%s", i->url);
    cli->me.has_pin = i->has_pin;
    cli->me.pin = i->pin;
    enum cot_err e = cot_key_make(cli->dir, 1, purpose, &cli->key, &cli->fault);
    if (!e) e = post_join(cli, i, label, &answer);
    if (!e) e = cot_joining_answer(&answer, &cli->me, &cli->fault);
    if (!e) e = check_house_key(cli, i);
    if (!e) e = cot_journal_set_identity(cli->journal, &cli->me, 1, &cli->fault);
    cot_buf_free(&answer);
    return e;
}

static void print_joined(struct cot_cli *cli, const struct cot_buf *house)
{
    char part[16];
    cot_word_text(COT_F_PART, (int)cli->me.part, part);
    if (cli->json) {
        struct cot_buf b = {0};
        cot_put_json(&b, house->s ? house->s : "", house->len);
        printf("{\"tag\":\"%s\",\"part\":\"%s\",\"house\":%s}\n", cli->me.tag, part, b.s ? b.s : "\"\"");
        cot_buf_free(&b);
        return;
    }
    struct cot_buf b = {0};
    cot_put_terminal(&b, house->s ? house->s : "the house", house->len ? house->len : 9);
    printf("Joined %s as %s.\nThis laptop's tag is %s: codes that it makes start with it.\n", b.s ? b.s : "the house",
           part, cli->me.tag);
    cot_buf_free(&b);
}

static enum cot_err first_sync(struct cot_cli *cli)
{
    struct cot_buf house = {0};
    enum cot_err e = cot_sync_now(cli, cli->json);
    if (e) {
        cot_within(&cli->fault, "joined as %s, but the first sync failed", cli->me.tag);
        return cot_hint(&cli->fault, "the invitation is used and need not be given again: cotyl sync");
    }
    e = cot_cli_reload(cli);
    if (e) return e;
    const struct cot_thing *h = cot_book_house(cli->book);
    if (h) cot_buf_str(&house, cot_thing_name(h));
    print_joined(cli, &house);
    cot_buf_free(&house);
    return COT_OK;
}

static enum cot_err refuse_second(struct cot_cli *cli)
{
    struct cot_identity me;
    enum cot_err e = cot_journal_identity(cli->journal, &me, NULL, &cli->fault);
    if (e == COT_NOT_FOUND) {
        memset(&cli->fault, 0, sizeof cli->fault);
        return COT_OK;
    }
    if (e) return e;
    cot_fail(&cli->fault, COT_CONFLICT, "this laptop is of a house already, as %s (in %.200s)", me.tag, cli->dir);
    return cot_hint(&cli->fault, "to be of another house too, say another folder with --dir");
}

enum cot_err cot_cmd_join(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"invitation", "FILE", -1}, {"label", "TEXT", -1}, COT_OPT_END};
    struct cot_args a;
    struct cot_invitation i;
    memset(&i, 0, sizeof i);
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 0, 0, &a);
    if (e) return e;
    const char *label = cot_args_value(&a, opts, "label");
    cot_warn_demo();
    e = cot_journal_open(cli->dir, true, &cli->journal, &cli->fault);
    if (!e) e = refuse_second(cli);
    if (!e) e = cot_joining_invitation(cot_args_value(&a, opts, "invitation"), &i, &cli->fault);
    if (!e) e = join(cli, &i, label && *label ? label : "laptop");
    if (!e) e = first_sync(cli);
    sodium_memzero(&i, sizeof i);
    cot_args_free(&a);
    return e;
}
