/* Speaking to the server: one call at a time, signed, with a pinned certificate. The only room that knows libcurl.
 *
 * Plain http is spoken to this machine only. With a pin (from the invitation) the server is the one whose certificate
 * has that public key, whoever signed it; without one the usual certificates decide. Redirects are not followed. A call
 * that finds the server busy or unreachable is tried again, three times in all; every call may be repeated without
 * harm. A server that calls this laptop's clock wrong is answered with its own time; said once on stderr.
 */
#ifndef COTYL_NET_H
#define COTYL_NET_H

#include "cotyledger/wire/request.h"

struct cot_net;

/* Errors: USAGE for an address that is not http(s), or plain http to another machine; MEMORY. */
COT_MUSTCHECK enum cot_err cot_net_open(const char *url, const struct cot_id *pin, bool quiet, struct cot_net **out,
                                        struct cot_fault *fault);
void cot_net_close(struct cot_net *n);
/* What the progress line says while a call takes more than two seconds and stderr is a terminal: "sending", "fetching".
 */
void cot_net_doing(struct cot_net *n, const char *what);

struct cot_call {
    const char *method, *path, *query,
        *content_type; /* query without '?', "" for none; content type "" for an empty body */
    const void *body;
    size_t len;
    const struct cot_house_id *house;
    const char *tag; /* who signs; NULL: the call is not signed */
    const struct cot_keypair *key;
};
/* The answer's body, also of a problem (its document; empty when there was none). NETWORK, TIMEOUT, or what the problem
 * says. */
COT_MUSTCHECK enum cot_err cot_net_call(struct cot_net *n, const struct cot_call *c, struct cot_buf *answer,
                                        struct cot_fault *fault);

/* "3 years", "2 hours": for the warning about a clock; exposed for its test. */
void cot_span_text(int64_t ms, char out[static 32]);
/* Whether plain http may be spoken to this address: exposed for its test. */
bool cot_url_is_loopback(const char *url);

#endif
