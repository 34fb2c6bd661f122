/* Opening and closing what a command needs; used by main and by those commands that open things later than it does. */
#ifndef COTYL_CLI_H
#define COTYL_CLI_H

#include "client.h"

/* Where the data is: --dir, COTYL_DIR, XDG_DATA_HOME/cotyledger, ~/.local/share/cotyledger. Owned by cli. */
COT_MUSTCHECK enum cot_err cot_cli_dir(struct cot_cli *cli, const char *given);
/* Opens what the command's `needs` say. NOT_FOUND when this laptop has not joined. */
COT_MUSTCHECK enum cot_err cot_cli_open(struct cot_cli *cli, unsigned needs);
/* Reads the book again; whatever was taken from the old one is gone. */
COT_MUSTCHECK enum cot_err cot_cli_reload(struct cot_cli *cli);
/* The same, with rows up to `position` only and no unsent ones, into a book of its own (the caller frees it). */
COT_MUSTCHECK enum cot_err cot_cli_book_at(struct cot_cli *cli, int64_t position, struct cot_book **out);
void cot_cli_close(struct cot_cli *cli);

#endif
