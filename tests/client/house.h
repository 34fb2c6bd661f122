/* A house in memory: keys, journals and a ledger, to make feeds as a server sends them, right or wrong on purpose. */
#ifndef COT_TESTS_HOUSE_H
#define COT_TESTS_HOUSE_H

#include <stdlib.h>
#include <string.h>

#include "client.h"

#define HOUSE_DEVICES 4
#define T0 INT64_C(1806307200000)

struct test_device {
    char tag[COT_TAG_MAX + 1];
    struct cot_keypair key;
    int64_t number;
    struct cot_id chain, before; /* `before`: chain at the start of the page that is open */
    int64_t first;
};
struct test_house {
    struct cot_house_id id;
    struct test_device device[HOUSE_DEVICES]; /* 0 is the house itself, "H" */
    int64_t position, receipt, epoch;
    struct cot_id ledger, member, last; /* `last`: digest of the last entry */
    struct cot_buf feed;
};

static void house_device(struct test_house *h, int i, const char *tag)
{
    uint8_t seed[32];
    memset(seed, 40 + i, sizeof seed);
    snprintf(h->device[i].tag, sizeof h->device[i].tag, "%s", tag);
    cot_keypair_from_seed(seed, &h->device[i].key);
    cot_chain_start(&h->id, tag, &h->device[i].chain);
    h->device[i].number = 0;
}

static void house_open_page(struct test_house *h, int i)
{
    h->device[i].before = h->device[i].chain;
    h->device[i].first = h->device[i].number + 1;
}

/* The entry's line, its header filled. The caller frees. */
static struct cot_buf house_line(struct test_house *h, int i, struct cot_fact *f, int64_t number)
{
    struct cot_buf line = {0};
    struct cot_fault fault = {0};
    f->house = h->id;
    snprintf(f->tag, sizeof f->tag, "%s", h->device[i].tag);
    snprintf(f->kind_name, sizeof f->kind_name, "%s", cot_kind_row(f->kind)->name);
    f->number = number;
    if (!f->clock) f->clock = T0 + number;
    f->has_member = i != 0;
    f->member = h->member;
    memset(f->salt, (int)number, sizeof f->salt);
    if (cot_entry_write(f, &line, &fault)) abort();
    return line;
}

/* Puts the row into the ledger and the feed, or a hole in its place. */
static void house_row(struct test_house *h, int i, const char *line, size_t len, bool hole)
{
    struct test_device *d = &h->device[i];
    struct cot_id digest;
    cot_digest(line, len, &digest);
    d->number++;
    cot_chain_next(&d->chain, d->number, &digest);
    h->position++;
    h->receipt += 1000;
    cot_ledger_next(&h->ledger, h->position, h->receipt, d->tag, d->number, &digest);
    if (hole) cot_feed_hole(&h->feed, h->position, h->receipt, d->tag, d->number, &digest);
    else cot_feed_row(&h->feed, h->position, h->receipt, d->tag, d->number, line, len);
    h->last = digest;
}

static void house_put(struct test_house *h, int i, struct cot_fact *f)
{
    struct cot_buf line = house_line(h, i, f, h->device[i].number + 1);
    house_row(h, i, line.s, line.len, false);
    cot_buf_free(&line);
}

static void house_seal(struct test_house *h, int i)
{
    struct test_device *d = &h->device[i];
    struct cot_seal s = {.house = h->id, .first = d->first, .last = d->number, .before = d->before, .after = d->chain};
    struct cot_buf jws = {0};
    snprintf(s.tag, sizeof s.tag, "%s", d->tag);
    cot_seal_sign(&s, &d->key, &jws);
    cot_feed_seal(&h->feed, jws.s, jws.len);
    cot_buf_free(&jws);
    house_open_page(h, i);
}

static void house_head(struct test_house *h)
{
    struct cot_head head = {.house = h->id, .epoch = h->epoch, .position = h->position, .ledger = h->ledger};
    struct cot_buf jws = {0};
    cot_head_sign(&head, &h->device[0].key, &jws);
    cot_feed_head(&h->feed, jws.s, jws.len);
    cot_buf_free(&jws);
}

static void house_put_device(struct test_house *h, int i)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_DEVICE;
    cot_fact_set_ids(&f, COT_F_MEMBER, &h->member, 1);
    cot_fact_set_ids(&f, COT_F_KEY, &h->device[i].key.pub, 1);
    cot_fact_set_text(&f, COT_F_TAG, h->device[i].tag, strlen(h->device[i].tag));
    house_put(h, 0, &f);
}

static void house_put_crop(struct test_house *h, int i, const char *name)
{
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    f.kind = COT_K_CROP;
    cot_fact_set_text(&f, COT_F_NAME, name, strlen(name));
    house_put(h, i, &f);
}

/* House, manager, devices A and B; sealed; no head yet. */
static void house_found(struct test_house *h)
{
    struct cot_fact f;
    memset(h, 0, sizeof *h);
    memset(h->id.b, 9, sizeof h->id.b);
    h->epoch = 1;
    h->receipt = T0;
    cot_ledger_start(&h->id, &h->ledger);
    house_device(h, 0, "H");
    house_device(h, 1, "A");
    house_device(h, 2, "B");
    house_device(h, 3, "C");
    for (int i = 0; i < HOUSE_DEVICES; i++) house_open_page(h, i);
    memset(&f, 0, sizeof f);
    f.kind = COT_K_HOUSE;
    cot_fact_set_text(&f, COT_F_NAME, "Three Sluices", 13);
    cot_fact_set_ids(&f, COT_F_KEY, &h->device[0].key.pub, 1);
    cot_fact_set_int(&f, COT_F_RULES, 1);
    house_put(h, 0, &f);
    memset(&f, 0, sizeof f);
    f.kind = COT_K_MEMBER;
    cot_fact_set_text(&f, COT_F_NAME, "Wren", 4);
    cot_fact_set_int(&f, COT_F_PART, COT_PART_MANAGER);
    house_put(h, 0, &f);
    h->member = h->last;
    house_put_device(h, 1);
    house_put_device(h, 2);
    house_seal(h, 0);
}

/* What a laptop of that house knows of itself after its join, as device `i`. */
static void house_identity(const struct test_house *h, int i, struct cot_identity *me)
{
    memset(me, 0, sizeof *me);
    me->house = h->id;
    me->house_key = h->device[0].key.pub;
    me->member = h->member;
    me->part = COT_PART_MANAGER;
    snprintf(me->tag, sizeof me->tag, "%s", h->device[i].tag);
    snprintf(me->url, sizeof me->url, "http://127.0.0.1:9");
}

#endif
