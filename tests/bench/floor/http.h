/* Bare: an HTTP server that reads a request's body and answers 200 with a few bytes. */
#ifndef COTYLEDGER_FLOOR_HTTP_H
#define COTYLEDGER_FLOOR_HTTP_H

struct MHD_Daemon *floor_http_start(int *port); /* NULL when it cannot */
void floor_http_stop(struct MHD_Daemon *d);

#endif
