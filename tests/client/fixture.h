/* A laptop of a founded house without a server: the rows that joining would have fetched are put straight into its
 * journal, in a scratch folder. Commands are then run as people run them, by the program itself, offline, at a fixed
 * time. */
#ifndef COT_CLIENT_FIXTURE_H
#define COT_CLIENT_FIXTURE_H

#include "client.h"

#define COT_FIXTURE_NOW "2027-03-01T08:00:00Z" /* a Monday, week 9 */

struct cot_fixture {
    char root[64], dir[96], clock[96];
    struct cot_house_id house;
    struct cot_keypair house_key;
    struct cot_id manager, farm; /* farm: the buyer's, else zero */
    struct cot_id ledger;
    int64_t position, house_number;
    char *out, *err; /* of the last command */
};

/* Device A is the laptop of the house's manager Wren, of the hand Sorrel, or of the buyer Teal of the farm "Alder Ford"
 * (then Wren's laptop has the tag B). Fails the test that calls it when something does not work. */
void cot_fixture_start(struct cot_fixture *f, enum cot_part part);
/* A copy in a folder of its own, so that a house made once serves many tests. */
void cot_fixture_copy(struct cot_fixture *f, const struct cot_fixture *from);
/* Removes the scratch folder. */
void cot_fixture_end(struct cot_fixture *f);

/* Runs `cotyl LINE` (words parted by blanks, "..." for words with blanks in them) and returns its exit code. */
int cot_fixture_run(struct cot_fixture *f, const char *line);
/* The same at a terminal on which the keys are typed; what is seen there is the answer. Fails the test unless it exits
 * with 0. */
void cot_fixture_keys(struct cot_fixture *f, const char *line, const char *keys);
/* As cot_fixture_run, and the test fails unless it exits with 0. */
void cot_fixture_must(struct cot_fixture *f, const char *line);
/* Runs lines until one is NULL, each as cot_fixture_must. */
void cot_fixture_play(struct cot_fixture *f, const char *const *lines);
/* Whether the text has the words; line breaks and runs of blanks count as one blank. */
bool cot_fixture_has(const char *text, const char *what);
/* Fail unless the last answer, or its warnings, or the last own entry have the words. */
void cot_fixture_says(struct cot_fixture *f, const char *what);
void cot_fixture_warns(struct cot_fixture *f, const char *what);
void cot_fixture_entry_has(struct cot_fixture *f, const char *what);
void cot_fixture_set_clock(struct cot_fixture *f, const char *instant);

/* Number of own entries, and the chain value of the last. */
void cot_fixture_head(struct cot_fixture *f, int64_t *number, struct cot_id *chain);
/* The last own entry's line, NUL-terminated; the caller frees. */
char *cot_fixture_last_entry(struct cot_fixture *f);

/* A house with things in it: crops, varieties, formats, plates, lots, two farms, order lines A-0001-B (promised 500
 * plants of Red Harbour for Alder Ford) and A-0002-9 (waiting, 2 trays for Weir Hill), batches A-0003-7 (6 trays of
 * 128, Red Harbour), A-0004-5 (3 rows of a shared tray) and A-0005-3 (30 trays of 128). For the manager's laptop. */
extern const char *const cot_fixture_house[];

#endif
