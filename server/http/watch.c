#include "watch.h"

#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <time.h>

#include "store.h"

struct seat {
    struct cot_watch *watch;
    int fd; /* -1: free */
    bool rests;
    int64_t since;
    void *holds;
};
struct cot_watch {
    pthread_mutex_t lock;
    pthread_cond_t ends;
    pthread_t thread;
    bool stop;
    int64_t most; /* ms */
    int seats;
    struct seat seat[];
};

static void look(struct cot_watch *w)
{
    int64_t now = cot_ticks_ms();
    for (int i = 0; i < w->seats; i++) {
        struct seat *s = &w->seat[i];
        if (s->fd < 0 || s->rests || now - s->since < w->most) continue;
        shutdown(s->fd, SHUT_RDWR); /* its thread sees the end and closes it */
        s->rests = true;
    }
}

static void *watch(void *ctx)
{
    struct cot_watch *w = ctx;
    pthread_mutex_lock(&w->lock);
    while (!w->stop) {
        struct timespec t;
        clock_gettime(CLOCK_REALTIME, &t);
        t.tv_sec += 1;
        pthread_cond_timedwait(&w->ends, &w->lock, &t);
        look(w);
    }
    pthread_mutex_unlock(&w->lock);
    return NULL;
}

struct cot_watch *cot_watch_start(int connections, int seconds)
{
    struct cot_watch *w = calloc(1, sizeof *w + (size_t)connections * sizeof w->seat[0]);
    if (!w) return NULL;
    pthread_mutex_init(&w->lock, NULL);
    pthread_cond_init(&w->ends, NULL);
    w->most = (int64_t)seconds * 1000;
    w->seats = connections;
    for (int i = 0; i < connections; i++) w->seat[i].fd = -1;
    if (pthread_create(&w->thread, NULL, watch, w) == 0) return w;
    pthread_cond_destroy(&w->ends);
    pthread_mutex_destroy(&w->lock);
    free(w);
    return NULL;
}

void cot_watch_stop(struct cot_watch *w)
{
    if (!w) return;
    pthread_mutex_lock(&w->lock);
    w->stop = true;
    pthread_cond_signal(&w->ends);
    pthread_mutex_unlock(&w->lock);
    pthread_join(w->thread, NULL);
    pthread_cond_destroy(&w->ends);
    pthread_mutex_destroy(&w->lock);
    free(w);
}

static struct seat *sit(struct cot_watch *w, int fd)
{
    for (int i = 0; i < w->seats; i++) {
        if (w->seat[i].fd >= 0) continue;
        w->seat[i] = (struct seat){w, fd, false, cot_ticks_ms(), NULL};
        return &w->seat[i];
    }
    return NULL;
}

void cot_watch_connection(void *ctx, struct MHD_Connection *c, void **at, enum MHD_ConnectionNotificationCode code)
{
    struct cot_watch *w = ctx;
    const union MHD_ConnectionInfo *i = MHD_get_connection_info(c, MHD_CONNECTION_INFO_CONNECTION_FD);
    pthread_mutex_lock(&w->lock);
    struct seat *s = *at;
    if (code == MHD_CONNECTION_NOTIFY_STARTED) *at = i ? sit(w, i->connect_fd) : NULL;
    else if (s) s->fd = -1;
    pthread_mutex_unlock(&w->lock);
}

static struct seat *seat_of(struct MHD_Connection *c)
{
    const union MHD_ConnectionInfo *i = MHD_get_connection_info(c, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return i ? i->socket_context : NULL;
}

void *cot_watch_hold(struct MHD_Connection *c, void *what)
{
    struct seat *s = seat_of(c);
    if (!s) return NULL;
    pthread_mutex_lock(&s->watch->lock);
    void *before = s->holds;
    s->holds = what;
    pthread_mutex_unlock(&s->watch->lock);
    return before;
}

void cot_watch_rests(struct MHD_Connection *c, bool rests)
{
    struct seat *s = seat_of(c);
    if (!s) return;
    pthread_mutex_lock(&s->watch->lock);
    s->rests = rests;
    s->since = cot_ticks_ms();
    pthread_mutex_unlock(&s->watch->lock);
}
