/* The watch: closes connections that are too slow to say what they want. Libmicrohttpd's own limit is on silence; one
 * byte now and then would pass it. */
#ifndef COTYLEDGER_HTTP_WATCH_H
#define COTYLEDGER_HTTP_WATCH_H

#include <microhttpd.h>
#include <stdbool.h>

struct cot_watch;
/* A connection may take `seconds` from its first byte, or from its last answer, until a request is whole. */
struct cot_watch *cot_watch_start(int connections, int seconds);
void cot_watch_stop(struct cot_watch *w);
/* For MHD_OPTION_NOTIFY_CONNECTION. */
void cot_watch_connection(void *ctx, struct MHD_Connection *c, void **at, enum MHD_ConnectionNotificationCode code);
/* A request of this connection is whole (the watch rests), or has been answered (it begins again). */
void cot_watch_rests(struct MHD_Connection *c, bool rests);

/* What hangs on a connection until it is let go: returns what did before. NULL when it has no seat. */
void *cot_watch_hold(struct MHD_Connection *c, void *what);

#endif
