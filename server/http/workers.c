#include "workers.h"

#include <pthread.h>
#include <stdlib.h>

struct cot_workers {
    pthread_mutex_t lock;
    pthread_cond_t more;
    struct cot_call *first, **last;
    int waiting, most;
    bool stop;
    void (*run)(struct cot_call *c);
    int threads;
    pthread_t thread[];
};

static struct cot_call *take(struct cot_workers *w)
{
    pthread_mutex_lock(&w->lock);
    while (!w->first && !w->stop) pthread_cond_wait(&w->more, &w->lock);
    struct cot_call *c = w->first;
    if (c) {
        w->first = c->next;
        if (!w->first) w->last = &w->first;
        w->waiting--;
    }
    pthread_mutex_unlock(&w->lock);
    return c;
}

static void *work(void *ctx)
{
    struct cot_workers *w = ctx;
    for (struct cot_call *c; (c = take(w)) != NULL;) w->run(c);
    return NULL;
}

struct cot_workers *cot_workers_start(int threads, int most, void (*run)(struct cot_call *c))
{
    struct cot_workers *w = calloc(1, sizeof *w + (size_t)threads * sizeof w->thread[0]);
    if (!w) return NULL;
    pthread_mutex_init(&w->lock, NULL);
    pthread_cond_init(&w->more, NULL);
    w->last = &w->first;
    w->most = most;
    w->run = run;
    while (w->threads < threads && pthread_create(&w->thread[w->threads], NULL, work, w) == 0) w->threads++;
    if (w->threads == threads) return w;
    cot_workers_stop(w);
    return NULL;
}

void cot_workers_stop(struct cot_workers *w)
{
    if (!w) return;
    pthread_mutex_lock(&w->lock);
    w->stop = true;
    pthread_cond_broadcast(&w->more);
    pthread_mutex_unlock(&w->lock);
    for (int i = 0; i < w->threads; i++) pthread_join(w->thread[i], NULL);
    pthread_cond_destroy(&w->more);
    pthread_mutex_destroy(&w->lock);
    free(w);
}

bool cot_workers_put(struct cot_workers *w, struct cot_call *c)
{
    pthread_mutex_lock(&w->lock);
    bool room = w->waiting < w->most && !w->stop;
    if (room) {
        c->next = NULL;
        *w->last = c;
        w->last = &c->next;
        w->waiting++;
        pthread_cond_signal(&w->more);
    }
    pthread_mutex_unlock(&w->lock);
    return room;
}
