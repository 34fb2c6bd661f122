#include "turns.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

struct turn {
    bool taken;
    struct cot_house_id house;
    char tag[COT_TAG_MAX + 1];
};
struct cot_turns {
    pthread_mutex_t lock;
    int most;
    struct turn turn[];
};

struct cot_turns *cot_turns_new(int most)
{
    struct cot_turns *t = calloc(1, sizeof *t + (size_t)most * sizeof t->turn[0]);
    if (!t) return NULL;
    pthread_mutex_init(&t->lock, NULL);
    t->most = most;
    return t;
}

void cot_turns_free(struct cot_turns *t)
{
    if (!t) return;
    pthread_mutex_destroy(&t->lock);
    free(t);
}

/* The device's turn; else one that is free, or NULL. */
static struct turn *find(struct cot_turns *t, const struct cot_house_id *house, const char *tag)
{
    struct turn *unused = NULL;
    for (int i = 0; i < t->most; i++) {
        struct turn *x = &t->turn[i];
        if (!x->taken) unused = x;
        else if (memcmp(x->house.b, house->b, sizeof house->b) == 0 && strcmp(x->tag, tag) == 0) return x;
    }
    return unused;
}

bool cot_turns_take(struct cot_turns *t, const struct cot_house_id *house, const char *tag)
{
    pthread_mutex_lock(&t->lock);
    struct turn *x = find(t, house, tag);
    bool got = x && !x->taken;
    if (got) {
        *x = (struct turn){.taken = true, .house = *house};
        memcpy(x->tag, tag, strnlen(tag, COT_TAG_MAX));
    }
    pthread_mutex_unlock(&t->lock);
    return got;
}

void cot_turns_give_back(struct cot_turns *t, const struct cot_house_id *house, const char *tag)
{
    pthread_mutex_lock(&t->lock);
    struct turn *x = find(t, house, tag);
    if (x) x->taken = false;
    pthread_mutex_unlock(&t->lock);
}
