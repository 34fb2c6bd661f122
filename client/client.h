/* What every command of cotyl works with: where it is, who it is, its journal, its book. */
#ifndef COTYL_CLIENT_H
#define COTYL_CLIENT_H

#include <stdio.h>

#include "cotyledger/core/book.h"
#include "cotyledger/wire/bytes.h"
#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/seal.h"

struct cot_journal;

/* What a command needs before it runs; checked and opened by main from the command table. */
enum {
    COT_NEEDS_NOTHING = 0,
    COT_NEEDS_JOURNAL = 1, /* this laptop has joined a house: journal open, identity known */
    COT_NEEDS_BOOK = 2,    /* and the book read from it */
    COT_NEEDS_KEY = 4,     /* and the secret key loaded */
    COT_NEEDS_NET = 8      /* and the server wanted (not tested before use) */
};

struct cot_identity {
    struct cot_house_id house;
    struct cot_id house_key;
    char tag[COT_TAG_MAX + 1];
    struct cot_id member;
    enum cot_part part;
    struct cot_id farm; /* zero but for buyers */
    char url[300];
    bool has_pin;
    struct cot_id pin;
};

struct cot_cli {
    const struct cot_command *command;
    bool json;   /* --json */
    bool colour; /* a terminal, and NO_COLOR not set */
    char *dir;   /* data directory: --dir, COTYL_DIR, or XDG_DATA_HOME/cotyledger */
    struct cot_journal *journal;
    struct cot_identity me;
    struct cot_keypair key; /* only with COT_NEEDS_KEY; wiped at the end */
    struct cot_book *book;
    struct cot_decoder *decoder;
    struct cot_kept_codes *codes; /* codes that cot_record gave out; freed at the end */
    struct cot_fault fault;       /* what main prints when a command fails */
};

struct cot_command {
    const char *name;
    const char *args; /* synopsis after the name: "BATCH --tray N --looked N ..." */
    const char *what; /* one line */
    const char *help; /* what it does, options, examples; plain text at most 80 columns wide */
    unsigned needs;
    enum cot_err (*run)(struct cot_cli *cli, int argc, char **argv); /* argv[0] is the command's name */
};
/* The one table, in the order of the help; ended by a NULL name. A row without `run` is a heading: its `what`. */
extern const struct cot_command cot_commands[];

/* Fills the header of each fact (device, number, clock, seen, member, salt), checks it, appends all of them to the
 * journal in one durable transaction (all or none), and puts them into the book. Facts that make a thing with a CODE
 * field and have none get one (set in the fact; it lives as long as `cli`). `member` is this laptop's; `clock`, `tick`,
 * `seen` and `salt` are overwritten. A fact with `has_carries` keeps its clock, tick and seen. A buyer's facts get the
 * buyer's farm. `digest` (may be NULL) receives n digests. Needs JOURNAL | BOOK | KEY. Errors: INVALID with the flaw,
 * NOT_ALLOWED when this part may not make the kind, STORE. */
COT_MUSTCHECK enum cot_err cot_record(struct cot_cli *cli, struct cot_fact *facts, size_t n, struct cot_id *digest);

/* Syncs now; for commands that must be made online (members, devices, house rules). COT_NETWORK when it cannot. Reads
 * cli->book again when it was open: whatever was taken from the old book is gone. */
COT_MUSTCHECK enum cot_err cot_sync_now(struct cot_cli *cli, bool quiet);

/* Time: the system's, or the file named by COTYLEDGER_DEMO_CLOCK (an ISO instant), so that the demo never ages. */
int64_t cot_now_ms(void);
/* Today in the house's time; what --day and --on mean when absent. */
int32_t cot_today(struct cot_cli *cli);

#endif
