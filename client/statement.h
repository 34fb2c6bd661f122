/* Statements: reports of a buyer's own farm, computed and signed by the server, kept here to be read offline. */
#ifndef COTYL_STATEMENT_H
#define COTYL_STATEMENT_H

#include "client.h"
#include "cotyledger/wire/report.h"
#include "journal/journal.h"

struct cot_statement {
    int32_t on; /* the day it speaks of */
    int64_t epoch, position;
    char book[80];       /* digest of the farm's view that it was read from */
    struct cot_buf body; /* the report's bytes */
};
/* The last statement of this form that was fetched, its signature checked again. NOT_FOUND when there is none yet. */
COT_MUSTCHECK enum cot_err cot_statement_last(struct cot_cli *cli, enum cot_form form, struct cot_statement *out);
/* Asks the server for the statement of a day and keeps it. Needs KEY | NET. NETWORK when it cannot. */
COT_MUSTCHECK enum cot_err cot_statement_fetch(struct cot_cli *cli, int32_t on, enum cot_form form,
                                               struct cot_statement *out);
void cot_statement_free(struct cot_statement *s);

/* Verifies a statement's JWS: the house's key, this house, this farm, this form. */
COT_MUSTCHECK enum cot_err cot_statement_open(struct cot_cli *cli, enum cot_form form, const char *jws, size_t len,
                                              struct cot_statement *out);
/* A statement just fetched is no older than what is here: a server without the house's key could show an old one. */
COT_MUSTCHECK enum cot_err cot_statement_fits(const struct cot_statement *st, const struct cot_stand_at *where,
                                              struct cot_fault *fault);
const char *cot_form_word(enum cot_form form); /* "text", "csv", "json" */

#endif
