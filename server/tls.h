/* Certificate and key of the server: read before root is given up. */
#ifndef COTYLD_TLS_H
#define COTYLD_TLS_H

#include <stdbool.h>

#include "cotyledger/core/err.h"
#include "cotyledger/core/fact.h"

struct cot_tls {
    char *cert, *key;
    bool has_pin;
    struct cot_id pin;
};
/* Both NULL: no TLS. `pin` is SHA-256 of the first certificate's SubjectPublicKeyInfo. Free with cot_tls_free. */
COT_MUSTCHECK enum cot_err cot_tls_read(const char *cert, const char *key, struct cot_tls *out,
                                        struct cot_fault *fault);
void cot_tls_free(struct cot_tls *t);

#endif
