/* Telling whether a group of batches and lines is as it was. */
#include "fill/kept.h"

#include <stdlib.h>
#include <string.h>

#define NOBODY UINT32_MAX
#define OTHER UINT64_MAX /* a batch that is not as it was */

/* All that goes into the figures of each group, as words; groups in the order of their numbers. */
struct keys {
    uint32_t groups;
    uint32_t *root;    /* per group: its least batch */
    uint32_t *of;      /* per batch: its least batch */
    uint32_t *line_of; /* per line: its group's least batch; NOBODY: no group's */
    uint32_t *least;   /* per component: its least batch */
    size_t *first;     /* groups + 1 */
    uint64_t *word;
    size_t words, room;
};

static void keys_free(struct keys *k)
{
    free(k->root);
    free(k->of);
    free(k->line_of);
    free(k->least);
    free(k->first);
    free(k->word);
}

static bool reserve(const struct cot_reading *r, struct keys *k)
{
    size_t batches = r->out->batch_count, lines = r->out->line_count;
    k->root = cot_room(batches, sizeof *k->root);
    k->of = cot_room(batches, sizeof *k->of);
    k->line_of = cot_room(lines, sizeof *k->line_of);
    k->least = cot_room(batches, sizeof *k->least);
    k->first = cot_room(batches + 1, sizeof *k->first);
    k->room = 16 + 3 * batches + 8 * lines + 2 * r->pick_count + 3 * r->sharing.claims;
    k->word = cot_room(k->room, sizeof *k->word);
    return k->root && k->of && k->line_of && k->least && k->first && k->word;
}

static void put(struct keys *k, uint64_t word)
{
    k->word[k->words++] = word;
}

static void list_groups(const struct cot_reading *r, struct keys *k)
{
    const size_t *node = cot_net_node(&r->sharing.net);
    for (uint32_t b = r->out->batch_count; b-- > 0;) {
        if (r->component[b] == NOBODY) continue;
        k->least[r->component[b]] = b;
    }
    for (uint32_t b = 0; b < r->out->batch_count; b++)
        if (r->component[b] != NOBODY && k->of[b] == b) k->root[k->groups++] = b;
    for (uint32_t i = 0; i < r->out->line_count; i++) {
        bool asks = r->wish[i].need > 0 && node[2 * i] < node[2 * i + 2];
        k->line_of[i] = asks ? k->of[r->edge[node[2 * i]].batch] : NOBODY;
    }
}

static uint64_t batch_word(const struct cot_reading *r, uint32_t b)
{
    return r->changed[b] ? OTHER : b;
}

static void put_line(const struct cot_reading *r, uint32_t i, struct keys *k)
{
    const size_t *node = cot_net_node(&r->sharing.net);
    const struct cot_wish *w = &r->wish[i];
    put(k, (uint64_t)(uintptr_t)r->out->line[i].line);
    put(k, (uint64_t)w->need);
    put(k, (uint64_t)w->handed);
    put(k, (uint64_t)w->unit);
    put(k, (uint64_t)w->least);
    put(k, node[2 * i + 2] - node[2 * i]);
    for (size_t e = node[2 * i]; e < node[2 * i + 2]; e++) {
        put(k, batch_word(r, r->edge[e].batch));
        put(k, r->edge[e].spare);
    }
}

static void put_group(const struct cot_reading *r, uint32_t root, struct keys *k)
{
    put(k, r->out->share);
    for (uint32_t b = root; b < r->out->batch_count; b++) {
        if (k->of[b] != root || r->component[b] == NOBODY) continue;
        put(k, batch_word(r, b));
        put(k, batch_word(r, k->least[r->component[b]]));
    }
    put(k, OTHER - 1); /* the end of the batches */
    for (uint32_t i = 0; i < r->out->line_count; i++)
        if (k->line_of[i] == root) put_line(r, i, k);
    for (size_t c = 0; c < r->sharing.claims; c++) {
        uint32_t i = r->claim[c].wish;
        if (k->line_of[i] != root) continue;
        put(k, (uint64_t)(uintptr_t)r->out->line[i].line);
        put(k, (uint64_t)r->claim[c].plants);
    }
}

static enum cot_err make_keys(const struct cot_reading *r, struct keys *k)
{
    *k = (struct keys){0};
    if (!reserve(r, k)) return COT_MEMORY;
    enum cot_err err = cot_supplies_groups(r->out->stand, r->out->batch_count, r->component, k->of);
    if (err != COT_OK) return err;
    list_groups(r, k);
    k->room += 2 * (size_t)k->groups;
    uint64_t *more = realloc(k->word, k->room * sizeof *more);
    if (!more) return COT_MEMORY;
    k->word = more;
    for (uint32_t g = 0; g < k->groups; g++) {
        put_group(r, k->root[g], k);
        k->first[g + 1] = k->words;
    }
    return COT_OK;
}

enum cot_err cot_kept_store(const struct cot_reading *r)
{
    struct cot_fill_kept *out = r->keep;
    struct keys k;
    enum cot_err err = make_keys(r, &k);
    if (err != COT_OK) goto out;
    out->line_first = cot_room((size_t)k.groups + 1, sizeof *out->line_first);
    out->prospect = cot_room(r->out->line_count, sizeof *out->prospect);
    if (!out->line_first || !out->prospect) {
        err = COT_MEMORY;
        goto out;
    }
    for (uint32_t g = 0; g < k.groups; g++) {
        size_t n = out->line_first[g];
        for (uint32_t i = 0; i < r->out->line_count; i++)
            if (k.line_of[i] == k.root[g]) out->prospect[n++] = r->prospect[i];
        out->line_first[g + 1] = n;
    }
    out->groups = k.groups;
    out->first = k.first;
    out->word = k.word;
    k.first = NULL;
    k.word = NULL;
out:
    keys_free(&k);
    return err;
}

static bool same(const struct cot_fill_kept *f, const struct keys *k, uint32_t g)
{
    size_t n = k->first[g + 1] - k->first[g];
    return g < f->groups && f->first[g + 1] - f->first[g] == n &&
           memcmp(f->word + f->first[g], k->word + k->first[g], n * sizeof *k->word) == 0;
}

static void recall_group(struct cot_reading *r, const struct keys *k, uint32_t g)
{
    size_t n = r->from->line_first[g];
    for (uint32_t i = 0; i < r->out->line_count; i++)
        if (k->line_of[i] == k->root[g]) r->prospect[i] = r->from->prospect[n++];
    for (uint32_t b = 0; b < r->out->batch_count; b++) {
        if (r->component[b] == NOBODY || k->of[b] != k->root[g]) continue;
        r->known[r->component[b]] = true;
        r->wanted[b] = false;
    }
}

enum cot_err cot_kept_recall(struct cot_reading *r, uint32_t components)
{
    struct keys k;
    r->known = cot_room(components, sizeof *r->known);
    r->wanted = cot_room(r->out->batch_count, sizeof *r->wanted);
    enum cot_err err = make_keys(r, &k);
    if (!r->known || !r->wanted) err = COT_MEMORY;
    for (uint32_t b = 0; err == COT_OK && b < r->out->batch_count; b++) r->wanted[b] = true;
    for (uint32_t g = 0; err == COT_OK && g < k.groups; g++)
        if (same(r->from, &k, g)) recall_group(r, &k, g);
    keys_free(&k);
    return err;
}
