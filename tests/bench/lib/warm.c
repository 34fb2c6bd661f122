#include "warm.h"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

bool bench_warm_open(struct bench_warm *w, int port)
{
    struct sockaddr_in a = {
        .sin_family = AF_INET, .sin_port = htons((uint16_t)port), .sin_addr = {htonl(INADDR_LOOPBACK)}};
    int yes = 1;
    w->cap = 64u << 10;
    w->in = malloc(w->cap);
    w->fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (w->in && w->fd >= 0 && connect(w->fd, (struct sockaddr *)&a, sizeof a) == 0 &&
        setsockopt(w->fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes) == 0)
        return true;
    bench_warm_close(w);
    return false;
}

void bench_warm_close(struct bench_warm *w)
{
    if (w->fd >= 0) close(w->fd);
    free(w->in);
    w->fd = -1;
    w->in = NULL;
}

static bool send_all(int fd, const char *s, size_t len)
{
    while (len) {
        ssize_t n = send(fd, s, len, MSG_NOSIGNAL);
        if (n <= 0) return false;
        s += n;
        len -= (size_t)n;
    }
    return true;
}

/* Reads on until `have` bytes are there. */
static bool read_upto(struct bench_warm *w, size_t *have, size_t want)
{
    if (want > w->cap) {
        char *more = realloc(w->in, want);
        if (!more) return false;
        w->in = more;
        w->cap = want;
    }
    while (*have < want) {
        ssize_t n = recv(w->fd, w->in + *have, w->cap - *have, 0);
        if (n <= 0) return false;
        *have += (size_t)n;
    }
    return true;
}

/* The answer's header, up to and with its empty line; 0 when there is none. */
static size_t read_header(struct bench_warm *w, size_t *have)
{
    for (;;) {
        const char *end = *have >= 4 ? memmem(w->in, *have, "\r\n\r\n", 4) : NULL;
        if (end) return (size_t)(end - w->in) + 4;
        if (*have >= w->cap || !read_upto(w, have, *have + 1)) return 0;
    }
}

static long content_length(const char *header, size_t len)
{
    static const char name[] = "\r\ncontent-length:";
    for (size_t i = 0; i + sizeof name < len; i++)
        if (strncasecmp(header + i, name, sizeof name - 1) == 0) return strtol(header + i + sizeof name - 1, NULL, 10);
    return -1;
}

int bench_warm_ask(struct bench_warm *w, const struct cot_buf *request, const char **body, size_t *len)
{
    size_t have = 0;
    if (!send_all(w->fd, request->s, request->len)) return -1;
    size_t header = read_header(w, &have);
    long length = header ? content_length(w->in, header) : -1;
    if (length < 0 || !read_upto(w, &have, header + (size_t)length)) return -1;
    if (body) {
        *body = w->in + header;
        *len = (size_t)length;
    }
    return header > 12 ? atoi(w->in + 9) : -1; /* HTTP/1.1 200 */
}

void bench_signed(const struct cot_device *d, const char *method, const char *path, const char *query, const void *body,
                  size_t len, struct cot_buf *out)
{
    struct cot_buf digest = {0}, input = {0}, signature = {0};
    char house[COT_HOUSE_TEXT];
    bool post = strcmp(method, "POST") == 0;
    struct cot_signature_params p = {.created = time(NULL) + d->clock_off / 1000};
    struct cot_request r = {method,           path, query,   post ? "application/x-ndjson" : "application/octet-stream",
                            body ? body : "", len,  d->house};
    randombytes_buf(p.nonce, sizeof p.nonce);
    memcpy(p.tag, d->tag, sizeof p.tag);
    cot_request_sign(&r, &p, &d->key, &digest, &input, &signature);
    cot_house_text(&d->house, house);
    cot_buf_fmt(out, "%s %s%s%s HTTP/1.1\r\nHost: 127.0.0.1\r\nCotyledger-House: %s\r\nContent-Type: %s\r\n", method,
                path, *query ? "?" : "", query, house, r.content_type);
    cot_buf_fmt(out, "Content-Digest: %s\r\nSignature-Input: %s\r\nSignature: %s\r\n", digest.s, input.s, signature.s);
    if (post) cot_buf_fmt(out, "Content-Length: %zu\r\n", len);
    cot_buf_str(out, "\r\n");
    if (len) cot_buf_put(out, body, len);
    cot_buf_free(&digest);
    cot_buf_free(&input);
    cot_buf_free(&signature);
}
