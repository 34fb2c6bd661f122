#include "joining.h"

#include <sodium.h>
#include <string.h>

#include "clock.h"
#include "cotyledger/wire/request.h"
#include "own.h"

static enum cot_err unfit(struct cot_fault *fault, const char *why)
{
    cot_fail(fault, COT_UNAUTHENTIC, "%s", why);
    return cot_hint(fault, "ask a manager of the house for a new invitation");
}

static const struct cot_thing *member_of(struct cot_session *s, const struct cot_id *id)
{
    const struct cot_thing *m = cot_book_thing(cot_session_book(s), id);
    return m && m->type == COT_THING_MEMBER && !m->gone ? m : NULL;
}

static enum cot_err answer(struct cot_session *s, const char *tag, int64_t position, struct cot_join_answer *out,
                           struct cot_fault *fault)
{
    const struct cot_keypair *key;
    struct cot_standing d;
    enum cot_err err = cot_session_key(s, &key, fault);
    if (err) return err;
    cot_book_device(cot_session_book(s), tag, INT64_MAX, &d);
    if (!d.known) return cot_fail(fault, COT_INTERNAL, "device %s joined, but is not in the book", tag);
    memcpy(out->tag, tag, sizeof out->tag);
    out->house_key = key->pub;
    out->member = d.member;
    out->part = d.part;
    out->farm = d.farm;
    out->position = position;
    return COT_OK;
}

/* Writes the device's entry and what makes a repeated join the same. */
static enum cot_err add_device(struct cot_session *s, const struct cot_thing *member, const struct cot_id *hash,
                               const struct cot_id *key, const char *label, struct cot_joined *joined,
                               struct cot_fault *fault)
{
    static const struct cot_id none;
    struct cot_fact f = {.kind = COT_K_DEVICE};
    joined->key = *key;
    joined->position = s->head.position + 1;
    if (!cot_book_next_tag(cot_session_book(s), joined->tag))
        return cot_fail(fault, COT_INVALID, "all device tags are used up");
    bool set = cot_fact_set_ids(&f, COT_F_MEMBER, &member->id, 1) && cot_fact_set_ids(&f, COT_F_KEY, key, 1) &&
               cot_fact_set_text(&f, COT_F_TAG, joined->tag, strlen(joined->tag)) &&
               (!*label || cot_fact_set_text(&f, COT_F_LABEL, label, strlen(label)));
    if (!set) return cot_fail(fault, COT_INTERNAL, "a device's entry has too many fields");
    f.has_farm = cot_id_cmp(&member->farm, &none) != 0;
    f.farm = member->farm;
    enum cot_err err = cot_add_joined(s->tx, hash, joined, fault);
    return err ? err : cot_own_write(s, &f, 1, NULL, fault);
}

/* Only who holds an invitation may come without end: a manager gave it. */
static bool too_many(struct cot_session *s, const struct cot_id *member)
{
    size_t n, open = 0;
    const struct cot_thing *const *device = cot_book_things(cot_session_book(s), COT_THING_DEVICE, &n);
    for (size_t i = 0; i < n && open < COT_LAPTOPS_MOST; i++) {
        const struct cot_id *whose = cot_thing_id(device[i], COT_F_MEMBER);
        struct cot_standing d = {0};
        if (!whose || cot_id_cmp(whose, member) != 0) continue;
        cot_book_device(cot_session_book(s), cot_thing_text(device[i], COT_F_TAG), INT64_MAX, &d);
        open += d.known && !d.closed;
    }
    return open >= COT_LAPTOPS_MOST;
}

/* Under a session with the house's own head locked. */
static enum cot_err come_in(struct cot_session *s, const struct cot_id *hash, const struct cot_id *key,
                            const struct cot_id *member_id, const char *label, bool many, struct cot_join_answer *out,
                            struct cot_fault *fault)
{
    struct cot_joined joined;
    enum cot_err err = cot_ask_joined(s->tx, hash, key, &joined, NULL);
    bool before = !err;
    if (err && err != COT_NOT_FOUND) return cot_fail(fault, err, "unable to look the invitation up");
    if (before && cot_id_cmp(&joined.key, key) == 0) return answer(s, joined.tag, joined.position, out, fault);
    if (before && !many) return unfit(fault, "this invitation has been used by another device");
    const struct cot_thing *member = member_of(s, member_id);
    if (!member) return unfit(fault, "the member of this invitation is not in the book any more");
    if (many && too_many(s, member_id)) {
        cot_fail(fault, COT_NOT_ALLOWED, "this member has %d laptops that are not closed already", COT_LAPTOPS_MOST);
        return cot_hint(fault, "ask a manager to close those that are not used any more: cotyl close");
    }
    err = add_device(s, member, hash, key, label, &joined, fault);
    return err ? err : answer(s, joined.tag, joined.position, out, fault);
}

/* A look without locks: a stranger's guess goes no further. */
static enum cot_err look_up(struct cot_books *b, const struct cot_house_id *house, const struct cot_id *hash,
                            int64_t deadline, struct cot_invited *out, struct cot_fault *fault)
{
    struct cot_tx *tx = NULL;
    enum cot_err err = cot_tx_begin(cot_books_store(b), house, NULL, deadline, &tx, fault);
    if (!err) err = cot_ask_invitation(tx, hash, out, fault);
    cot_tx_end(tx);
    return err == COT_NOT_FOUND ? unfit(fault, "this invitation is not known here") : err;
}

static bool expired(const struct cot_invited *i)
{
    return cot_clock_ms() > i->expires;
}

/* Whether this very join was made before: then its answer holds though the invitation has expired since. */
static bool came_before(struct cot_session *s, const struct cot_id *hash, const struct cot_id *key)
{
    struct cot_joined j;
    return cot_ask_joined(s->tx, hash, key, &j, NULL) == COT_OK && cot_id_cmp(&j.key, key) == 0;
}

enum cot_err cot_join(struct cot_books *b, const struct cot_house_id *house, const char *proof, size_t len,
                      const char *label, int64_t deadline, struct cot_join_answer *out, struct cot_fault *fault)
{
    struct cot_id hash, key;
    struct cot_invited invited;
    struct cot_session s = {0};
    enum cot_err err = cot_join_open(proof, len, house, &hash, &key, fault);
    if (!err) err = look_up(b, house, &hash, deadline, &invited, fault);
    if (!err) err = cot_session_open(b, house, COT_OWN_TAG, deadline, &s, fault);
    if (!err && expired(&invited) && !came_before(&s, &hash, &key)) err = unfit(fault, "this invitation has expired");
    if (!err) err = come_in(&s, &hash, &key, &invited.member, label, false, out, fault);
    cot_session_close(&s);
    return err;
}

static void rejoin_hash(const char *tag, struct cot_id *hash)
{
    static const char domain[] = "cotyledger rejoin v1";
    crypto_hash_sha256_state s;
    crypto_hash_sha256_init(&s);
    crypto_hash_sha256_update(&s, (const uint8_t *)domain, sizeof domain - 1);
    crypto_hash_sha256_update(&s, (const uint8_t *)tag, strlen(tag));
    crypto_hash_sha256_final(&s, hash->b);
}

enum cot_err cot_rejoin(struct cot_books *b, const struct cot_house_id *house, const char *tag,
                        const struct cot_id *asker_key, const char *proof, size_t len, const char *label,
                        int64_t deadline, struct cot_join_answer *out, struct cot_fault *fault)
{
    struct cot_id hash, key, wanted;
    struct cot_session s = {0};
    rejoin_hash(tag, &wanted);
    enum cot_err err = cot_join_open(proof, len, house, &hash, &key, fault);
    if (!err && cot_id_cmp(&hash, &wanted) != 0)
        err = cot_fail(fault, COT_UNAUTHENTIC, "the proof is not for device %s to join again", tag);
    if (!err) err = cot_session_open(b, house, COT_OWN_TAG, deadline, &s, fault);
    if (!err) err = cot_session_asker(&s, tag, asker_key, fault);
    if (!err) err = come_in(&s, &hash, &key, &s.who.member, label, true, out, fault);
    cot_session_close(&s);
    return err;
}

enum cot_err cot_invite(struct cot_session *s, const struct cot_id *member, const struct cot_id *hash, int64_t expires,
                        struct cot_fault *fault)
{
    struct cot_invited in = {*member, expires}, kept;
    int64_t now = cot_clock_ms();
    if (!member_of(s, member)) return cot_fail(fault, COT_INVALID, "there is no such member");
    enum cot_err err = cot_ask_invitation(s->tx, hash, &kept, fault);
    if (err == COT_NOT_FOUND) {
        if (expires <= now || expires > now + (int64_t)COT_INVITATION_DAYS_MOST * 86400000)
            return cot_fail(fault, COT_INVALID, "expires: must be later than now and within %d days",
                            COT_INVITATION_DAYS_MOST);
        err = cot_add_invitation(s->tx, hash, &in, fault);
        if (!err) err = cot_ask_invitation(s->tx, hash, &kept, fault);
    }
    if (!err && (kept.expires != expires || cot_id_cmp(&kept.member, member) != 0))
        err = cot_fail(fault, COT_CONFLICT, "this secret was used for another invitation");
    return err;
}
