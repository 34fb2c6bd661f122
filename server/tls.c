#include "tls.h"

#include <errno.h>
#include <gnutls/abstract.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PEM_MOST (256u << 10)

static enum cot_err read_pem(const char *path, char **out, struct cot_fault *fault)
{
    FILE *f = fopen(path, "re");
    if (!f) return cot_fail(fault, COT_IO, "unable to read %s: %s", path, strerror(errno));
    *out = calloc(1, PEM_MOST + 1);
    size_t n = *out ? fread(*out, 1, PEM_MOST, f) : 0;
    fclose(f);
    return n > 0 && n < PEM_MOST ? COT_OK : cot_fail(fault, COT_IO, "unable to read %s", path);
}

static bool make_pin(const char *cert, struct cot_id *pin)
{
    gnutls_datum_t pem = {(unsigned char *)cert, (unsigned)strlen(cert)}, der = {NULL, 0};
    gnutls_x509_crt_t *list = NULL;
    gnutls_pubkey_t key = NULL;
    unsigned count = 0;
    bool good = gnutls_x509_crt_list_import2(&list, &count, &pem, GNUTLS_X509_FMT_PEM, 0) == 0 && count > 0 &&
                gnutls_pubkey_init(&key) == 0 && gnutls_pubkey_import_x509(key, list[0], 0) == 0 &&
                gnutls_pubkey_export2(key, GNUTLS_X509_FMT_DER, &der) == 0;
    if (good) crypto_hash_sha256(pin->b, der.data, der.size);
    gnutls_free(der.data);
    if (key) gnutls_pubkey_deinit(key);
    for (unsigned i = 0; i < count; i++) gnutls_x509_crt_deinit(list[i]);
    gnutls_free(list);
    return good;
}

enum cot_err cot_tls_read(const char *cert, const char *key, struct cot_tls *out, struct cot_fault *fault)
{
    memset(out, 0, sizeof *out);
    if (!cert != !key) return cot_fail(fault, COT_USAGE, "--tls-cert and --tls-key go together");
    if (!cert) return COT_OK;
    enum cot_err err = read_pem(cert, &out->cert, fault);
    if (!err) err = read_pem(key, &out->key, fault);
    if (!err && !make_pin(out->cert, &out->pin)) err = cot_fail(fault, COT_MALFORMED, "%s holds no certificate", cert);
    out->has_pin = !err;
    return err;
}

void cot_tls_free(struct cot_tls *t)
{
    if (t->key) sodium_memzero(t->key, strlen(t->key));
    free(t->cert);
    free(t->key);
    memset(t, 0, sizeof *t);
}
