/* Heads of the devices while rows are verified: number, chain, key once a verified page of the house has named it. */
#ifndef COTYL_DEVICES_H
#define COTYL_DEVICES_H

#include "client.h"
#include "journal/journal.h"

#define COT_HOUSE_TAG "H"

struct cot_device_list {
    const struct cot_identity *me;
    struct cot_device_head *item;
    size_t count, cap;
    /* The run of rows not covered by a seal yet. */
    char tag[COT_TAG_MAX + 1];
    int64_t first; /* number of its first row; 0: no run */
    bool bodies;   /* it has rows that are no holes */
    struct {
        char tag[COT_TAG_MAX + 1];
        struct cot_id key;
    } * waiting; /* keys named in the run: good when it is sealed */
    size_t waiting_count, waiting_cap;
};

COT_MUSTCHECK enum cot_err cot_devices_load(struct cot_journal *j, const struct cot_identity *me,
                                            struct cot_device_list *out, struct cot_fault *fault);
COT_MUSTCHECK enum cot_err cot_devices_store(struct cot_journal *j, const struct cot_device_list *l,
                                             struct cot_fault *fault);
void cot_devices_free(struct cot_device_list *l);

/* The next row in order of position: is it its device's next number, of the run that is open? `fact` NULL: a hole.
 * UNAUTHENTIC with words, MEMORY. */
COT_MUSTCHECK enum cot_err cot_devices_row(struct cot_device_list *l, const struct cot_ledger_row *r,
                                           const struct cot_fact *fact, struct cot_fault *fault);
/* The seal that ends the run. Its signature is checked when the device's key is known; it must be known when the run
 * has a body. */
COT_MUSTCHECK enum cot_err cot_devices_seal(struct cot_device_list *l, const char *jws, size_t len,
                                            struct cot_seal *seal, struct cot_fault *fault);
/* Takes the keys named so far as good: for rows whose seals were verified before. */
COT_MUSTCHECK enum cot_err cot_devices_accept(struct cot_device_list *l, struct cot_fault *fault);
/* No run may be open at the end. */
COT_MUSTCHECK enum cot_err cot_devices_end(const struct cot_device_list *l, struct cot_fault *fault);

#endif
