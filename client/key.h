/* The laptop's secret key: a file of mode 0600 in the data folder, one a generation (a rejoin makes the next). */
#ifndef COTYL_KEY_H
#define COTYL_KEY_H

#include "client.h"

/* Loads key number `generation`. NOT_FOUND; NOT_ALLOWED when others can read the file; MALFORMED. */
COT_MUSTCHECK enum cot_err cot_key_load(const char *dir, int64_t generation, struct cot_keypair *out,
                                        struct cot_fault *fault);
/* Makes the key file (O_EXCL, durable), or loads it when it is there already: a join whose answer was lost goes on with
 * the same key. `purpose` distinguishes keys made from COTYLEDGER_DEMO_SEED. */
COT_MUSTCHECK enum cot_err cot_key_make(const char *dir, int64_t generation, const char *purpose,
                                        struct cot_keypair *out, struct cot_fault *fault);

/* COTYLEDGER_DEMO_SEED is set: keys and salts can be foretold. */
bool cot_demo_seed_set(void);
/* Random bytes; with COTYLEDGER_DEMO_SEED the same for the same purpose each time. n <= 32. */
void cot_random(void *out, size_t n, const char *purpose);

#endif
