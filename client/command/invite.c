/* invite: a member is recorded, the server learns the hash of a secret, and the line with the secret is printed once.
 */
#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "args.h"
#include "clock.h"
#include "commands.h"
#include "cotyledger/wire/request.h"
#include "key.h"
#include "people.h"
#include "sync/sync.h"

const char cot_help_invite[] = "Invites somebody to the house. Prints one line, the invitation, and nothing else\n"
                               "on standard output: hand it over in person or by a way that you trust, for\n"
                               "whoever has it can join once with it.\n"
                               "\n"
                               "  --part P         manager: everything; hand: the house's staff; buyer: orders\n"
                               "                   of one farm; auditor: reads only\n"
                               "  --farm FARM      whose buyer\n"
                               "  --expires DAYS   how long it is good (7)\n"
                               "  --out FILE       writes it to a new file (mode 0600) instead of printing it\n"
                               "  --member NAME    a second laptop for somebody who is a member already\n"
                               "\n"
                               "  cotyl invite Sorrel --part hand --out for-sorrel\n"
                               "  cotyl invite Teal --part buyer --farm \"Alder Ford\" --out for-teal\n"
                               "  cotyl invite --member Sorrel --out for-sorrels-phone\n";

static const struct cot_opt opts[] = {{"part", "manager|hand|buyer|auditor", COT_F_PART},
                                      {"farm", "FARM", -1},
                                      {"expires", "DAYS", -1},
                                      {"out", "FILE", -1},
                                      {"member", "NAME", -1},
                                      COT_OPT_END};

static enum cot_err check_new(struct cot_cli *cli, const struct cot_args *a, const struct cot_thing **farm)
{
    const char *part = cot_args_value(a, opts, "part"), *of = cot_args_value(a, opts, "farm");
    bool buyer = part && strcmp(part, "buyer") == 0;
    size_t n;
    if (!part || a->count != 1) {
        cot_fail(&cli->fault, COT_USAGE, "invite needs a name and --part");
        return cot_hint(&cli->fault, "cotyl invite NAME --part manager|hand|buyer|auditor [--farm FARM]");
    }
    if (buyer != (of != NULL))
        return cot_fail(&cli->fault, COT_USAGE,
                        buyer ? "a buyer is of one farm: say which with --farm" : "--farm is for buyers only");
    const struct cot_thing *const *m = cot_book_things(cli->book, COT_THING_MEMBER, &n);
    for (size_t i = 0; i < n; i++) {
        if (strcmp(cot_thing_name(m[i]), a->word[0]) != 0) continue;
        cot_fail(&cli->fault, COT_CONFLICT, "%.120s is a member already", a->word[0]);
        return cot_hint(&cli->fault, "for another laptop of the same person: cotyl invite --member NAME");
    }
    return of ? cot_book_find(cli->book, COT_THING_FARM, of, farm, &cli->fault) : COT_OK;
}

static enum cot_err add_member(struct cot_cli *cli, const struct cot_args *a, struct cot_id *member)
{
    struct cot_fact f;
    const struct cot_thing *farm = NULL;
    memset(&f, 0, sizeof f);
    enum cot_err e = check_new(cli, a, &farm);
    if (e) return e;
    f.kind = COT_K_MEMBER;
    cot_fact_set_text(&f, COT_F_NAME, a->word[0], strlen(a->word[0]));
    e = cot_args_fields(cli, a, opts, &f);
    if (e) return e;
    f.has_farm = farm != NULL;
    if (farm) f.farm = farm->id;
    e = cot_record(cli, &f, 1, member);
    return e ? e : cot_sync_now(cli, true);
}

static enum cot_err which_member(struct cot_cli *cli, const struct cot_args *a, struct cot_id *member)
{
    const char *name = cot_args_value(a, opts, "member");
    const struct cot_thing *t;
    if (!name) return add_member(cli, a, member);
    if (a->count || cot_args_value(a, opts, "part") || cot_args_value(a, opts, "farm"))
        return cot_fail(&cli->fault, COT_USAGE, "--member stands alone: the part is the member's already");
    enum cot_err e = cot_book_find(cli->book, COT_THING_MEMBER, name, &t, &cli->fault);
    if (!e) *member = t->id;
    return e;
}

static enum cot_err expiry(struct cot_cli *cli, const struct cot_args *a, int64_t *expires)
{
    const char *days = cot_args_value(a, opts, "expires");
    char *end = NULL;
    long n = days ? strtol(days, &end, 10) : 7;
    if (n < 1 || n > 90 || (days && (*end || end == days)))
        return cot_fail(&cli->fault, COT_USAGE, "--expires takes 1 to 90 days, not \"%.20s\"", days);
    *expires = cot_now_ms() + n * 86400000LL;
    return COT_OK;
}

/* A new member has no laptop yet, a second laptop's invitation has another number: no two invitations share a secret,
 * also when the demo foretells them. */
static void make_secret(struct cot_cli *cli, const struct cot_id *member, uint8_t secret[static 16])
{
    char purpose[32 + COT_ID_TEXT], text[COT_ID_TEXT];
    size_t all, open;
    cot_id_text(member, text);
    cot_member_devices(cli, member, &all, &open);
    snprintf(purpose, sizeof purpose, "invitation %s %zu", text, all);
    cot_random(secret, 16, purpose);
}

static enum cot_err tell_server(struct cot_cli *cli, const struct cot_id *member, const uint8_t secret[static 16],
                                int64_t expires)
{
    struct cot_sync s;
    struct cot_id hash;
    char member_text[COT_ID_TEXT], hash_text[COT_ID_TEXT], body[300];
    cot_invitation_hash(secret, &hash);
    cot_id_text(member, member_text);
    cot_id_text(&hash, hash_text);
    int len = snprintf(body, sizeof body, "{\"member\":\"%s\",\"hash\":\"%s\",\"expires\":%lld}", member_text,
                       hash_text, (long long)expires);
    enum cot_err e = cot_sync_open(cli, true, &s);
    if (!e) e = cot_sync_call(&s, "POST", "/v1/invitations", "", "application/json", body, (size_t)len);
    cot_sync_close(&s);
    return e;
}

static enum cot_err write_line(struct cot_cli *cli, const char *path, const struct cot_buf *line)
{
    if (!path) {
        puts(line->s);
        return fflush(stdout) == 0 ? COT_OK : cot_fail(&cli->fault, COT_IO, "unable to print the invitation");
    }
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (fd < 0) {
        cot_fail(&cli->fault, COT_IO, "unable to make %.300s: %s", path, strerror(errno));
        return cot_hint(&cli->fault, "the member is recorded; cotyl invite --member NAME makes the invitation again");
    }
    bool done = write(fd, line->s, line->len) == (ssize_t)line->len && write(fd, "\n", 1) == 1 && fsync(fd) == 0;
    done = close(fd) == 0 && done;
    return done ? COT_OK : cot_fail(&cli->fault, COT_IO, "unable to write %.300s: %s", path, strerror(errno));
}

static enum cot_err hand_out(struct cot_cli *cli, const uint8_t secret[static 16], int64_t expires, const char *path)
{
    struct cot_invitation i = {.house = cli->me.house, .has_pin = cli->me.has_pin, .pin = cli->me.pin};
    struct cot_buf line = {0};
    char until[COT_INSTANT_TEXT];
    memcpy(i.secret, secret, sizeof i.secret);
    crypto_hash_sha256(i.fingerprint.b, cli->me.house_key.b, sizeof cli->me.house_key.b);
    snprintf(i.url, sizeof i.url, "%s", cli->me.url);
    cot_invitation_text(&i, &line);
    enum cot_err e =
        line.failed || !line.s ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : write_line(cli, path, &line);
    if (line.s) sodium_memzero(line.s, line.len);
    cot_buf_free(&line);
    sodium_memzero(&i, sizeof i);
    cot_instant_text(expires, cot_house_offset(cli), until);
    if (!e)
        fprintf(stderr, "Good once, for one laptop, until %s%s%s.\n", until, path ? "; it is in " : "",
                path ? path : "");
    return e;
}

enum cot_err cot_cmd_invite(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    struct cot_id member;
    uint8_t secret[16] = {0};
    int64_t expires = 0;
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 0, 1, &a);
    if (e) return e;
    const char *path = cot_args_value(&a, opts, "out");
    if (path && access(path, F_OK) == 0) e = cot_fail(&cli->fault, COT_IO, "%.300s is there already", path);
    if (!e) e = expiry(cli, &a, &expires);
    if (!e) e = cot_sync_now(cli, true);
    if (!e) e = which_member(cli, &a, &member);
    if (!e) {
        make_secret(cli, &member, secret);
        e = tell_server(cli, &member, secret, expires);
        if (e && !cot_args_value(&a, opts, "member"))
            cot_hint(&cli->fault, "the member is recorded; cotyl invite --member NAME makes the invitation");
    }
    if (!e) e = hand_out(cli, secret, expires, path);
    sodium_memzero(secret, sizeof secret);
    cot_args_free(&a);
    return e;
}
