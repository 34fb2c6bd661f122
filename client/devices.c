/* Chains and seals, row by row. The same walk verifies what is fetched and what is kept. */
#include "devices.h"

#include <stdlib.h>
#include <string.h>

static struct cot_device_head *device_add(struct cot_device_list *l, const char *tag)
{
    if (l->count == l->cap) {
        size_t cap = l->cap ? l->cap * 2 : 16;
        struct cot_device_head *more = realloc(l->item, cap * sizeof *more);
        if (!more) return NULL;
        l->item = more;
        l->cap = cap;
    }
    struct cot_device_head *d = &l->item[l->count++];
    memset(d, 0, sizeof *d);
    snprintf(d->tag, sizeof d->tag, "%s", tag);
    cot_chain_start(&l->me->house, tag, &d->chain);
    if (strcmp(tag, COT_HOUSE_TAG) == 0) {
        d->has_key = true;
        memcpy(&d->key, &l->me->house_key, sizeof d->key);
    }
    return d;
}

static struct cot_device_head *device_of(struct cot_device_list *l, const char *tag)
{
    for (size_t i = 0; i < l->count; i++)
        if (strcmp(l->item[i].tag, tag) == 0) return &l->item[i];
    return device_add(l, tag);
}

static enum cot_err load_one(void *ctx, const struct cot_device_head *d, struct cot_fault *fault)
{
    struct cot_device_head *mine = device_add(ctx, d->tag);
    if (!mine) return cot_fail(fault, COT_MEMORY, "out of memory");
    *mine = *d;
    return COT_OK;
}

enum cot_err cot_devices_load(struct cot_journal *j, const struct cot_identity *me, struct cot_device_list *out,
                              struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    out->me = me;
    return cot_journal_walk_devices(j, load_one, out, fault);
}

enum cot_err cot_devices_store(struct cot_journal *j, const struct cot_device_list *l, struct cot_fault *fault)
{
    enum cot_err e = COT_OK;
    for (size_t i = 0; !e && i < l->count; i++) e = cot_journal_put_device(j, &l->item[i], fault);
    return e;
}

void cot_devices_free(struct cot_device_list *l)
{
    free(l->item);
    free(l->waiting);
    l->item = NULL;
    l->waiting = NULL;
    l->count = l->cap = l->waiting_count = l->waiting_cap = 0;
}

/* The house's own journal names each device's tag and key. */
static enum cot_err note_key(struct cot_device_list *l, const struct cot_fact *f, struct cot_fault *fault)
{
    const struct cot_value *tag = cot_fact_value(f, COT_F_TAG);
    const struct cot_id *key = cot_fact_id(f, COT_F_KEY);
    if (f->kind != COT_K_DEVICE || strcmp(f->tag, COT_HOUSE_TAG) != 0) return COT_OK;
    if (!tag || !key || tag->type != COT_T_TEXT || !cot_tag_valid(tag->v.text, tag->len)) return COT_OK;
    if (l->waiting_count == l->waiting_cap) {
        size_t cap = l->waiting_cap ? l->waiting_cap * 2 : 8;
        void *more = realloc(l->waiting, cap * sizeof *l->waiting);
        if (!more) return cot_fail(fault, COT_MEMORY, "out of memory");
        l->waiting = more;
        l->waiting_cap = cap;
    }
    memset(l->waiting[l->waiting_count].tag, 0, COT_TAG_MAX + 1);
    memcpy(l->waiting[l->waiting_count].tag, tag->v.text, tag->len);
    l->waiting[l->waiting_count++].key = *key;
    return COT_OK;
}

enum cot_err cot_devices_row(struct cot_device_list *l, const struct cot_ledger_row *r, const struct cot_fact *fact,
                             struct cot_fault *fault)
{
    struct cot_device_head *d = device_of(l, r->tag);
    if (!d) return cot_fail(fault, COT_MEMORY, "out of memory");
    if (l->first && strcmp(l->tag, r->tag) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "position %lld: the page before it has no seal",
                        (long long)r->position);
    if (r->number != d->number + 1)
        return cot_fail(fault, COT_UNAUTHENTIC, "position %lld: %s's entry %lld follows its entry %lld",
                        (long long)r->position, r->tag, (long long)r->number, (long long)d->number);
    if (fact && (memcmp(&fact->house, &l->me->house, sizeof fact->house) != 0 || strcmp(fact->tag, r->tag) != 0 ||
                 fact->number != r->number))
        return cot_fail(fault, COT_UNAUTHENTIC, "position %lld: the entry says that it is another's",
                        (long long)r->position);
    d->number = r->number;
    cot_chain_next(&d->chain, r->number, &r->digest);
    if (!l->first) {
        snprintf(l->tag, sizeof l->tag, "%s", r->tag);
        l->first = r->number;
        l->bodies = false;
    }
    l->bodies = l->bodies || fact;
    return fact ? note_key(l, fact, fault) : COT_OK;
}

static enum cot_err check_seal(const struct cot_device_list *l, const struct cot_device_head *d,
                               const struct cot_seal *s, struct cot_fault *fault)
{
    if (memcmp(&s->house, &l->me->house, sizeof s->house) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "a seal of another house");
    if (!l->first || strcmp(s->tag, l->tag) != 0 || s->first > l->first || s->last != d->number)
        return cot_fail(fault, COT_UNAUTHENTIC,
                        "a seal of %s over entries %lld to %lld does not fit the rows before it", s->tag,
                        (long long)s->first, (long long)s->last);
    if (cot_id_cmp(&s->after, &d->chain) != 0)
        return cot_fail(fault, COT_UNAUTHENTIC, "the chain of %s at entry %lld is not the one that was sealed", s->tag,
                        (long long)s->last);
    return COT_OK;
}

enum cot_err cot_devices_accept(struct cot_device_list *l, struct cot_fault *fault)
{
    for (size_t i = 0; i < l->waiting_count; i++) {
        struct cot_device_head *d = device_of(l, l->waiting[i].tag);
        if (!d) return cot_fail(fault, COT_MEMORY, "out of memory");
        if (d->has_key) continue; /* a tag is given once; the book shows who tried again */
        d->has_key = true;
        d->key = l->waiting[i].key;
    }
    l->waiting_count = 0;
    return COT_OK;
}

enum cot_err cot_devices_seal(struct cot_device_list *l, const char *jws, size_t len, struct cot_seal *seal,
                              struct cot_fault *fault)
{
    enum cot_err e = cot_seal_peek(jws, len, seal, fault);
    if (e) return e;
    struct cot_device_head *d = device_of(l, seal->tag);
    if (!d) return cot_fail(fault, COT_MEMORY, "out of memory");
    if (d->has_key) e = cot_seal_open(jws, len, &d->key, seal, fault);
    else if (l->bodies)
        e = cot_fail(fault, COT_UNAUTHENTIC, "%s wrote entries, but the house has not named its key", seal->tag);
    if (!e) e = check_seal(l, d, seal, fault);
    if (e) return e;
    l->first = 0;
    return cot_devices_accept(l, fault);
}

enum cot_err cot_devices_end(const struct cot_device_list *l, struct cot_fault *fault)
{
    if (!l->first) return COT_OK;
    return cot_fail(fault, COT_UNAUTHENTIC, "the last page, of %s, has no seal", l->tag);
}
