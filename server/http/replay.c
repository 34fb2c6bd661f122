#include "replay.h"

#include <pthread.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#define BUCKETS (COT_REPLAY_MOST * 2)

/* A ring of the last requests in order of time, and chains from buckets into it. */
struct item {
    uint8_t id[16];
    uint32_t next; /* index + 1 of the next in the bucket; 0: none */
};
struct cot_replay {
    pthread_mutex_t lock;
    uint8_t key[crypto_shorthash_siphashx24_KEYBYTES];
    uint32_t head, count; /* where the next one goes */
    uint32_t bucket[BUCKETS];
    struct item item[COT_REPLAY_MOST];
};

struct cot_replay *cot_replay_new(void)
{
    struct cot_replay *r = calloc(1, sizeof *r);
    if (!r) return NULL;
    pthread_mutex_init(&r->lock, NULL);
    randombytes_buf(r->key, sizeof r->key);
    return r;
}

void cot_replay_free(struct cot_replay *r)
{
    if (!r) return;
    pthread_mutex_destroy(&r->lock);
    free(r);
}

static uint32_t bucket_of(const uint8_t id[16])
{
    uint32_t b;
    memcpy(&b, id, sizeof b);
    return b % BUCKETS;
}

static void drop_oldest(struct cot_replay *r)
{
    struct item *old = &r->item[r->head];
    uint32_t *at = &r->bucket[bucket_of(old->id)];
    while (*at != r->head + 1) at = &r->item[*at - 1].next;
    *at = old->next;
    r->count--;
}

bool cot_replay_add(struct cot_replay *r, const struct cot_house_id *house, const struct cot_signature_params *p)
{
    uint8_t what[16 + 16 + COT_TAG_MAX + 1] = {0}, id[16];
    memcpy(what, house->b, 16);
    memcpy(what + 16, p->nonce, 16);
    memcpy(what + 32, p->tag, strnlen(p->tag, COT_TAG_MAX));
    crypto_shorthash_siphashx24(id, what, sizeof what, r->key);
    pthread_mutex_lock(&r->lock);
    uint32_t *bucket = &r->bucket[bucket_of(id)];
    bool there = false;
    for (uint32_t i = *bucket; i && !there; i = r->item[i - 1].next)
        there = memcmp(r->item[i - 1].id, id, sizeof id) == 0;
    if (!there) {
        if (r->count == COT_REPLAY_MOST) drop_oldest(r);
        struct item *new = &r->item[r->head];
        memcpy(new->id, id, sizeof id);
        new->next = *bucket;
        *bucket = r->head + 1;
        r->head = (r->head + 1) % COT_REPLAY_MOST;
        r->count++;
    }
    pthread_mutex_unlock(&r->lock);
    return !there;
}
