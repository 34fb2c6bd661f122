/* cotyld verify. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon.h"
#include "verify.h"

static void print_finding(void *ctx, int64_t position, const char *what)
{
    const char *house = ctx;
    if (position) printf("%s position %lld: %s\n", house, (long long)position, what);
    else printf("%s: %s\n", house, what);
}

static enum cot_err verify_one(struct cot_daemon *d, const struct cot_house_id *id, int64_t *findings,
                               struct cot_fault *fault)
{
    char text[COT_HOUSE_TEXT];
    struct cot_verified v;
    struct cot_tx *tx = NULL;
    cot_house_text(id, text);
    /* As it is now, though a server may write on; and however long it takes. */
    enum cot_err err = cot_tx_begin_still(d->store, id, cot_ticks_ms() + 7 * 86400000LL, &tx, fault);
    if (!err) err = cot_verify(tx, id, print_finding, text, &v, fault);
    cot_tx_end(tx);
    if (err) return err;
    printf("%s: %lld rows, %lld seals, %lld devices: %s\n", text, (long long)v.rows, (long long)v.seals,
           (long long)v.devices, v.findings ? "does not fit" : "everything fits");
    *findings += v.findings;
    return COT_OK;
}

enum cot_err cot_admin_verify(struct cot_daemon *d, struct cot_fault *fault)
{
    struct cot_house_id *all = NULL, one;
    size_t n = 0;
    int64_t findings = 0;
    enum cot_err err = COT_OK;
    /* Not by name: the book may be what is broken. */
    bool named = d->config.house && cot_house_parse(d->config.house, strlen(d->config.house), &one);
    if (d->config.house && !named)
        return cot_fail(fault, COT_USAGE, "verify: --house must be an id: cotyld houses lists them");
    if (named) err = verify_one(d, &one, &findings, fault);
    else err = cot_daemon_houses(d, &all, &n, fault);
    for (size_t i = 0; !err && i < n; i++) err = verify_one(d, &all[i], &findings, fault);
    free(all);
    return err ? err : findings ? COT_UNAUTHENTIC : COT_OK;
}
