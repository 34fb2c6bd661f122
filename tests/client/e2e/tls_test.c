/* The pin of the invitation: the server is the one with that key, and no other. */
#include <check.h>
#include <gnutls/x509.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "e2e.h"
#include "main.h"

static void write_text(const char *path, const gnutls_datum_t *d)
{
    FILE *f = fopen(path, "we");
    ck_assert_ptr_nonnull(f);
    ck_assert_uint_eq(fwrite(d->data, 1, d->size, f), d->size);
    fclose(f);
    ck_assert_int_eq(chmod(path, 0600), 0);
}

/* A certificate of its own making, and its key, as NAME.pem and NAME.key in the server's scratch folder. */
static void certificate(const char *name, char cert_path[static 120], char key_path[static 120])
{
    gnutls_x509_privkey_t key;
    gnutls_x509_crt_t cert;
    gnutls_datum_t out;
    uint8_t serial = 1;
    snprintf(cert_path, 120, "%s/%s.pem", e2e_server.scratch, name);
    snprintf(key_path, 120, "%s/%s.key", e2e_server.scratch, name);
    ck_assert_int_eq(gnutls_x509_privkey_init(&key), 0);
    ck_assert_int_eq(
        gnutls_x509_privkey_generate(key, GNUTLS_PK_ECDSA, GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1), 0), 0);
    ck_assert_int_eq(gnutls_x509_crt_init(&cert), 0);
    gnutls_x509_crt_set_version(cert, 3);
    gnutls_x509_crt_set_key(cert, key);
    gnutls_x509_crt_set_serial(cert, &serial, 1);
    gnutls_x509_crt_set_activation_time(cert, time(NULL) - 3600);
    gnutls_x509_crt_set_expiration_time(cert, time(NULL) + 86400);
    gnutls_x509_crt_set_dn(cert, "CN=house.example.org", NULL);
    ck_assert_int_eq(gnutls_x509_crt_sign2(cert, cert, key, GNUTLS_DIG_SHA256, 0), 0);
    ck_assert_int_eq(gnutls_x509_crt_export2(cert, GNUTLS_X509_FMT_PEM, &out), 0);
    write_text(cert_path, &out);
    gnutls_free(out.data);
    ck_assert_int_eq(gnutls_x509_privkey_export2(key, GNUTLS_X509_FMT_PEM, &out), 0);
    write_text(key_path, &out);
    gnutls_free(out.data);
    gnutls_x509_crt_deinit(cert);
    gnutls_x509_privkey_deinit(key);
}

static void serve(const char *cert, const char *key)
{
    char listen[40];
    snprintf(listen, sizeof listen, "127.0.0.1:%d", e2e_server.port);
    if (e2e_server.pid) ck_assert_int_eq(cot_server_stop(&e2e_server, SIGTERM), 0);
    ck_assert(cot_server_start(&e2e_server, COT_ARGS("--listen", listen, "--tls-cert", cert, "--tls-key", key), NULL));
}

START_TEST(only_the_key_of_the_invitation_will_do)
{
    char cert[120], key[120], other_cert[120], other_key[120], url[60], path[160], line[260], *invitation = NULL;
    struct laptop l;
    certificate("own", cert, key);
    certificate("other", other_cert, other_key);
    serve(cert, key);
    snprintf(url, sizeof url, "https://127.0.0.1:%d", e2e_server.port);
    ck_assert_int_eq(cot_server_command(&e2e_server, &invitation,
                                        COT_ARGS("--tls-cert", cert, "--tls-key", key, "--url", url, "new-house", "TLS",
                                                 "--manager", "Wren")),
                     0);
    e2e_laptop(&l);
    snprintf(path, sizeof path, "%s.invitation", l.dir);
    FILE *f = fopen(path, "we");
    fputs(invitation, f);
    fclose(f);
    snprintf(line, sizeof line, "join --invitation %s", path);
    /* Somebody else at that address: nothing is said to it, and the invitation is still good. */
    serve(other_cert, other_key);
    e2e_refused(&l, line, COT_UNAUTHENTIC, "not the one of the invitation");
    serve(cert, key);
    e2e_must(&l, line);
    e2e_must(&l, "note \"over TLS\"");
    serve(other_cert, other_key);
    e2e_refused(&l, "sync", COT_UNAUTHENTIC, "not the one of the invitation");
    serve(cert, key);
    e2e_must(&l, "sync");
    ck_assert_int_eq(e2e_status_int(&l, "unsent"), 0);
    free(invitation);
}
END_TEST

/* Without a pin, the usual certificates decide: one that signed itself is not enough. */
START_TEST(without_a_pin_a_certificate_must_verify)
{
    char cert[120], key[120], url[60], path[160], line[400], *invitation = NULL;
    struct laptop l;
    certificate("own", cert, key);
    serve(cert, key);
    snprintf(url, sizeof url, "https://127.0.0.1:%d", e2e_server.port);
    ck_assert_int_eq(cot_server_command(&e2e_server, &invitation,
                                        COT_ARGS("--tls-cert", cert, "--tls-key", key, "--url", url, "new-house", "TLS",
                                                 "--manager", "Wren")),
                     0);
    struct cot_invitation i;
    struct cot_buf text = {0};
    ck_assert_int_eq(cot_invitation_parse(invitation, strcspn(invitation, "\n"), &i, NULL), COT_OK);
    i.has_pin = false;
    cot_invitation_text(&i, &text);
    e2e_laptop(&l);
    snprintf(path, sizeof path, "%s.invitation", l.dir);
    FILE *f = fopen(path, "we");
    fputs(text.s, f);
    fclose(f);
    snprintf(line, sizeof line, "join --invitation %s", path);
    e2e_refused(&l, line, COT_UNAUTHENTIC, "does not verify");
    cot_buf_free(&text);
    free(invitation);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/e2e/tls");
    TCase *c = tcase_create("tls");
    tcase_add_checked_fixture(c, e2e_start, e2e_stop);
    tcase_set_timeout(c, 300);
    tcase_add_test(c, only_the_key_of_the_invitation_will_do);
    tcase_add_test(c, without_a_pin_a_certificate_must_verify);
    suite_add_tcase(s, c);
    return s;
}
