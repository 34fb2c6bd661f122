/* The commands of whoever runs the server. What scripts read goes to standard output, words for people to standard
 * error. */
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "cotyledger/wire/request.h"
#include "daemon.h"
#include "joining.h"
#include "own.h"
#include "reports.h"

#define INVITATION_DAYS 7

const struct cot_admin cot_admins[] = {
    {"serve", "", "answer requests until told to stop (the default)", 0, cot_admin_serve},
    {"new-house", "NAME --manager NAME", "make a house; prints its manager's invitation", 1, cot_admin_new_house},
    {"invite-manager", "--house H NAME", "make one more manager; prints the invitation", 1, cot_admin_invite_manager},
    {"houses", "", "list the houses", 0, cot_admin_houses},
    {"verify", "[--house H]", "read every byte of the ledger again; names what does not fit", 0, cot_admin_verify},
    {"fill", "--house H --on DAY [--farm NAME] [--form F]", "print the fill report", 0, cot_admin_fill},
    {"book", "--house H", "print epoch, position and the book's digest (JSON)", 0, cot_admin_book},
    {"restored", "--house H", "after a restore from a backup: begin a new epoch", 0, cot_admin_restored},
    {NULL, NULL, NULL, 0, NULL},
};

/* The address that invitations name, when --url does not say: where the server listens. */
static void own_url(const struct cot_daemon *d, char *out, size_t len)
{
    if (d->config.url) snprintf(out, len, "%s", d->config.url);
    else snprintf(out, len, "%s://%s", d->tls.cert ? "https" : "http", d->config.listen);
}

static enum cot_err print_invitation(struct cot_daemon *d, const struct cot_house_id *house,
                                     const struct cot_id *house_key, const uint8_t secret[static 16],
                                     struct cot_fault *fault)
{
    struct cot_invitation i = {.house = *house, .has_pin = d->tls.has_pin, .pin = d->tls.pin};
    struct cot_buf line = {0};
    memcpy(i.secret, secret, sizeof i.secret);
    crypto_hash_sha256(i.fingerprint.b, house_key->b, sizeof house_key->b);
    own_url(d, i.url, sizeof i.url);
    cot_invitation_text(&i, &line);
    bool good = !line.failed && puts(line.s) >= 0 && fflush(stdout) == 0;
    if (line.s) sodium_memzero(line.s, line.len);
    sodium_memzero(&i, sizeof i);
    cot_buf_free(&line);
    return good ? COT_OK : cot_fail(fault, COT_IO, "unable to print the invitation");
}

/* In a session of its own after the member's entry: the entry is visible, the secret's hash beside the ledger. */
static enum cot_err invite(struct cot_daemon *d, const struct cot_house_id *house, const struct cot_id *member,
                           const char *name, struct cot_fault *fault)
{
    uint8_t secret[16];
    struct cot_id hash, key = {{0}};
    const struct cot_keypair *keys;
    struct cot_session s;
    cot_chance(secret, sizeof secret, name);
    cot_invitation_hash(secret, &hash);
    int64_t expires = cot_clock_ms() + (int64_t)INVITATION_DAYS * 86400000;
    enum cot_err err = cot_session_open(d->books, house, NULL, cot_daemon_deadline(), &s, fault);
    if (!err) err = cot_session_key(&s, &keys, fault);
    if (!err) key = keys->pub;
    if (!err) err = cot_invite(&s, member, &hash, expires, fault);
    if (!err) {
        err = cot_tx_commit(s.tx, fault);
        s.tx = NULL;
    }
    cot_session_close(&s);
    if (!err) err = print_invitation(d, house, &key, secret, fault);
    if (!err)
        fprintf(stderr, "This is the invitation of %s, manager. It works once, within %d days. Keep it secret.\n", name,
                INVITATION_DAYS);
    sodium_memzero(secret, sizeof secret);
    return err;
}

static bool member_fact(struct cot_fact *f, const char *name)
{
    *f = (struct cot_fact){.kind = COT_K_MEMBER};
    return cot_fact_set_text(f, COT_F_NAME, name, strlen(name)) && cot_fact_set_int(f, COT_F_PART, COT_PART_MANAGER);
}

static bool house_fact(struct cot_fact *f, const char *name, const struct cot_id *key)
{
    *f = (struct cot_fact){.kind = COT_K_HOUSE};
    return cot_fact_set_text(f, COT_F_NAME, name, strlen(name)) && cot_fact_set_ids(f, COT_F_KEY, key, 1) &&
           cot_fact_set_int(f, COT_F_RULES, COT_RULES_VERSION);
}

/* The founding: in one transaction the secret, the empty head, and the first two entries. */
static enum cot_err found(struct cot_daemon *d, const struct cot_house_id *house, const char *name, const char *manager,
                          struct cot_id *member, struct cot_fault *fault)
{
    uint8_t seed[32];
    struct cot_keypair key;
    struct cot_fact *facts = calloc(2, sizeof *facts);
    struct cot_id digest[2];
    struct cot_session s = {0};
    cot_chance(seed, sizeof seed, name);
    cot_keypair_from_seed(seed, &key);
    enum cot_err err = facts ? COT_OK : cot_fail(fault, COT_MEMORY, "out of memory");
    if (!err && (!house_fact(&facts[0], name, &key.pub) || !member_fact(&facts[1], manager)))
        err = cot_fail(fault, COT_INTERNAL, "unable to make the founding entries");
    if (!err) err = cot_session_found(d->books, house, seed, COT_OWN_TAG, cot_daemon_deadline(), &s, fault);
    if (!err) err = cot_own_write(&s, facts, 2, digest, fault);
    if (!err) *member = digest[1];
    cot_session_close(&s);
    sodium_memzero(seed, sizeof seed);
    sodium_memzero(&key, sizeof key);
    free(facts);
    return err;
}

enum cot_err cot_admin_new_house(struct cot_daemon *d, struct cot_fault *fault)
{
    const char *name = d->config.word[1], *manager = d->config.manager;
    struct cot_house_id house;
    struct cot_id member;
    char text[COT_HOUSE_TEXT];
    if (!manager) return cot_fail(fault, COT_USAGE, "new-house: who is its manager? --manager NAME");
    cot_chance(house.b, sizeof house.b, name);
    enum cot_err err = found(d, &house, name, manager, &member, fault);
    if (err) return err;
    cot_house_text(&house, text);
    fprintf(stderr, "House %s is made; its id is %s.\n", name, text);
    return invite(d, &house, &member, manager, fault);
}

enum cot_err cot_admin_invite_manager(struct cot_daemon *d, struct cot_fault *fault)
{
    const char *name = d->config.word[1];
    struct cot_house_id house;
    struct cot_id member = {{0}};
    struct cot_session s = {0};
    struct cot_fact *fact = calloc(1, sizeof *fact);
    enum cot_err err = fact ? cot_daemon_house(d, &house, fault) : cot_fail(fault, COT_MEMORY, "out of memory");
    if (!err && !member_fact(fact, name)) err = cot_fail(fault, COT_INTERNAL, "unable to make the member's entry");
    if (!err) err = cot_session_open(d->books, &house, COT_OWN_TAG, cot_daemon_deadline(), &s, fault);
    if (!err) err = cot_own_write(&s, fact, 1, &member, fault);
    cot_session_close(&s);
    free(fact);
    return err ? err : invite(d, &house, &member, name, fault);
}

static enum cot_err print_house(struct cot_daemon *d, const struct cot_house_id *id, struct cot_fault *fault)
{
    char text[COT_HOUSE_TEXT];
    struct cot_session s;
    struct cot_buf name = {0};
    enum cot_err err = cot_session_open(d->books, id, NULL, cot_daemon_deadline(), &s, fault);
    cot_house_text(id, text);
    if (!err) {
        const struct cot_thing *t = cot_book_house(cot_session_book(&s));
        const char *plain = t ? cot_thing_name(t) : "(no entries)";
        cot_put_terminal(&name, plain, strlen(plain));
        printf("%s  epoch %lld  position %lld  %s\n", text, (long long)s.head.epoch, (long long)s.head.position,
               name.s ? name.s : "");
    }
    cot_buf_free(&name);
    cot_session_close(&s);
    return err;
}

enum cot_err cot_admin_houses(struct cot_daemon *d, struct cot_fault *fault)
{
    struct cot_house_id *all;
    size_t n;
    enum cot_err err = cot_daemon_houses(d, &all, &n, fault);
    for (size_t i = 0; !err && i < n; i++) err = print_house(d, &all[i], fault);
    if (!err && !n) fputs("There is no house yet: cotyld new-house NAME --manager NAME\n", stderr);
    free(all);
    return err;
}

static enum cot_err open_house(struct cot_daemon *d, struct cot_session *s, struct cot_fault *fault)
{
    struct cot_house_id house;
    enum cot_err err = cot_daemon_house(d, &house, fault);
    return err ? err : cot_session_open(d->books, &house, NULL, cot_daemon_deadline(), s, fault);
}

enum cot_err cot_admin_fill(struct cot_daemon *d, struct cot_fault *fault)
{
    struct cot_session s = {0};
    struct cot_buf out = {0};
    enum cot_form form;
    int32_t on;
    const struct cot_thing *farm = NULL;
    if (!d->config.on || !cot_day_parse(d->config.on, strlen(d->config.on), &on))
        return cot_fail(fault, COT_USAGE, "fill: --on needs a day like 2027-03-29");
    if (!cot_form_by_name(d->config.form, &form))
        return cot_fail(fault, COT_USAGE, "fill: --form must be text, csv, json or html");
    enum cot_err err = open_house(d, &s, fault);
    if (!err && d->config.farm) err = cot_book_find(cot_session_book(&s), COT_THING_FARM, d->config.farm, &farm, fault);
    if (!err)
        err = cot_fill_body(cot_session_book(&s), cot_session_book(&s), on, farm ? &farm->id : NULL, form, &out, fault);
    if (!err && (fwrite(out.s, 1, out.len, stdout) != out.len || fflush(stdout) != 0))
        err = cot_fail(fault, COT_IO, "unable to print");
    cot_buf_free(&out);
    cot_session_close(&s);
    return err;
}

enum cot_err cot_admin_book(struct cot_daemon *d, struct cot_fault *fault)
{
    struct cot_session s = {0};
    char digest[COT_BOOK_DIGEST_TEXT];
    enum cot_err err = open_house(d, &s, fault);
    if (!err) err = cot_book_digest(cot_session_book(&s), digest);
    if (!err)
        printf("{\"epoch\":%lld,\"position\":%lld,\"book\":\"%s\"}\n", (long long)s.head.epoch,
               (long long)s.head.position, digest);
    cot_session_close(&s);
    return err;
}

enum cot_err cot_admin_restored(struct cot_daemon *d, struct cot_fault *fault)
{
    struct cot_house_id house;
    struct cot_store *owner = NULL;
    struct cot_tx *tx = NULL;
    int64_t epoch = 0;
    enum cot_err err = cot_daemon_house(d, &house, fault);
    if (!err) err = cot_daemon_owner(d, &owner, fault);
    if (!err) err = cot_tx_begin(owner, &house, NULL, cot_daemon_deadline(), &tx, fault);
    if (!err) err = cot_next_epoch(tx, &epoch, fault);
    if (!err) {
        err = cot_tx_commit(tx, fault);
        tx = NULL;
    }
    if (!err) printf("%lld\n", (long long)epoch);
    if (!err) fprintf(stderr, "Epoch %lld has begun: devices will send what the ledger lacks.\n", (long long)epoch);
    cot_tx_end(tx);
    cot_store_close(owner);
    return err;
}
