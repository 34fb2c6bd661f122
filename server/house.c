#include "house.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct cot_house *cot_house_make(const struct cot_house_id *id)
{
    struct cot_house *h = calloc(1, sizeof *h);
    if (h) h->id = *id;
    return h;
}

static void drop_answers(struct cot_house *h)
{
    for (size_t i = 0; i < COT_ANSWERS_MOST; i++) free(h->kept[i].answer);
    memset(h->kept, 0, sizeof h->kept);
}

static void drop_readings(struct cot_house *h)
{
    cot_folding_free(&h->fold);
    for (size_t i = 0; i < COT_VIEWS_MOST; i++) cot_folding_free(&h->view[i].fold);
    drop_answers(h);
}

void cot_house_drop(struct cot_house *h)
{
    drop_readings(h);
    sodium_memzero(&h->key, sizeof h->key);
    free(h);
}

size_t cot_house_bytes(const struct cot_house *h)
{
    size_t n = sizeof *h;
    if (h->fold.book) n += cot_book_bytes(h->fold.book);
    for (size_t i = 0; i < COT_VIEWS_MOST; i++)
        if (h->view[i].fold.book) n += cot_book_bytes(h->view[i].fold.book);
    for (size_t i = 0; i < COT_ANSWERS_MOST; i++) n += h->kept[i].len;
    return n;
}

enum cot_err cot_house_reset(struct cot_house *h, struct cot_fault *fault)
{
    drop_readings(h);
    return cot_folding_init(&h->fold, &h->id, NULL, fault);
}

enum cot_err cot_house_view(struct cot_house *h, const struct cot_id *farm, struct cot_folding **out,
                            struct cot_fault *fault)
{
    for (size_t i = 0; i < COT_VIEWS_MOST; i++) {
        *out = &h->view[i].fold;
        if ((*out)->book && cot_id_cmp(&h->view[i].farm, farm) == 0) return COT_OK;
    }
    size_t at = h->next_view++ % COT_VIEWS_MOST;
    *out = &h->view[at].fold;
    cot_folding_free(*out);
    h->view[at].farm = *farm;
    return cot_folding_init(*out, &h->id, farm, fault);
}

bool cot_house_known_key(const struct cot_house *h, const char *tag, struct cot_id *key)
{
    for (int i = 0; i < h->keys; i++) {
        if (strcmp(h->key_of[i].tag, tag) != 0) continue;
        *key = h->key_of[i].key;
        return true;
    }
    return false;
}

void cot_house_keep_key(struct cot_house *h, const char *tag, const struct cot_id *key)
{
    struct cot_id known;
    if (cot_house_known_key(h, tag, &known)) return;
    unsigned at = h->next_key++ % COT_KEYS_MOST;
    snprintf(h->key_of[at].tag, sizeof h->key_of[at].tag, "%s", tag);
    h->key_of[at].key = *key;
    if (h->keys < COT_KEYS_MOST) h->keys++;
}

const char *cot_house_recall(const struct cot_house *h, const char *question, int64_t epoch, int64_t position,
                             size_t *len)
{
    for (size_t i = 0; i < COT_ANSWERS_MOST; i++) {
        const struct cot_answer_kept *k = &h->kept[i];
        if (!k->answer || k->epoch != epoch || k->position != position || strcmp(k->question, question) != 0) continue;
        *len = k->len;
        return k->answer;
    }
    return NULL;
}

void cot_house_remember(struct cot_house *h, const char *question, int64_t epoch, int64_t position, const char *answer,
                        size_t len)
{
    struct cot_answer_kept *k = &h->kept[h->next_kept++ % COT_ANSWERS_MOST];
    free(k->answer);
    memset(k, 0, sizeof *k);
    if (strlen(question) >= sizeof k->question || !(k->answer = malloc(len + 1))) return;
    memcpy(k->answer, answer, len);
    snprintf(k->question, sizeof k->question, "%s", question);
    k->epoch = epoch;
    k->position = position;
    k->len = len;
}
