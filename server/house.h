/* One house in memory: its book, the views of its farms, its key, and answers that still hold. Inside the books' room.
 */
#ifndef COTYLD_HOUSE_H
#define COTYLD_HOUSE_H

#include "fold.h"

#define COT_VIEWS_MOST 8
#define COT_KEYS_MOST 64
#define COT_ANSWERS_MOST 16

struct cot_answer_kept {
    char question[160];
    int64_t epoch, position;
    char *answer;
    size_t len;
};
struct cot_house {
    struct cot_house *next;
    struct cot_house_id id;
    /* Guarded by the books' lock. */
    bool busy;
    int users;
    uint64_t used;
    size_t bytes;
    int keys; /* devices' keys seen, the oldest replaced first */
    unsigned next_key;
    struct {
        char tag[COT_TAG_MAX + 1];
        struct cot_id key;
    } key_of[COT_KEYS_MOST];
    /* Of whoever is at the house. */
    int64_t epoch;
    struct cot_folding fold;
    struct {
        struct cot_id farm;
        struct cot_folding fold;
    } view[COT_VIEWS_MOST];
    unsigned next_view;
    bool has_key;
    struct cot_keypair key;
    struct cot_answer_kept kept[COT_ANSWERS_MOST];
    unsigned next_kept;
};
struct cot_house *cot_house_make(const struct cot_house_id *id);
void cot_house_drop(struct cot_house *h);
size_t cot_house_bytes(const struct cot_house *h);
/* Forgets all that was read. */
COT_MUSTCHECK enum cot_err cot_house_reset(struct cot_house *h, struct cot_fault *fault);
/* The farm's view, perhaps not folded yet. */
COT_MUSTCHECK enum cot_err cot_house_view(struct cot_house *h, const struct cot_id *farm, struct cot_folding **out,
                                          struct cot_fault *fault);
bool cot_house_known_key(const struct cot_house *h, const char *tag, struct cot_id *key);
void cot_house_keep_key(struct cot_house *h, const char *tag, const struct cot_id *key);
const char *cot_house_recall(const struct cot_house *h, const char *question, int64_t epoch, int64_t position,
                             size_t *len);
void cot_house_remember(struct cot_house *h, const char *question, int64_t epoch, int64_t position, const char *answer,
                        size_t len);

#endif
