#include "http.h"

#include <arpa/inet.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <string.h>

static enum MHD_Result on_access(void *ctx, struct MHD_Connection *c, const char *url, const char *method,
                                 const char *version, const char *data, size_t *len, void **call)
{
    static int begun;
    static char answer[] = "{\"ranges\":[{\"first\":1,\"last\":1,\"position\":12,\"receipt\":1795600000000}]}\n";
    (void)ctx, (void)url, (void)method, (void)version, (void)data;
    if (!*call) {
        *call = &begun;
        return MHD_YES;
    }
    if (*len) {
        *len = 0;
        return MHD_YES;
    }
    struct MHD_Response *r = MHD_create_response_from_buffer(sizeof answer - 1, answer, MHD_RESPMEM_PERSISTENT);
    enum MHD_Result sent = MHD_queue_response(c, 200, r);
    MHD_destroy_response(r);
    return sent;
}

struct MHD_Daemon *floor_http_start(int *port)
{
    struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr = {htonl(INADDR_LOOPBACK)}};
    struct MHD_Daemon *d = MHD_start_daemon(MHD_USE_EPOLL_INTERNAL_THREAD, 0, NULL, NULL, on_access, NULL,
                                            MHD_OPTION_SOCK_ADDR, (struct sockaddr *)&a, MHD_OPTION_END);
    const union MHD_DaemonInfo *i = d ? MHD_get_daemon_info(d, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    if (i) *port = i->port;
    return d;
}

void floor_http_stop(struct MHD_Daemon *d)
{
    if (d) MHD_stop_daemon(d);
}
