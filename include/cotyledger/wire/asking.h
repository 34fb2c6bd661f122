/* A what-if as query parameters of GET /v1/what-if: one grammar for both sides, docs/protocol.md.
 *
 * line=IDENTITY, withdrawn=1, and the fields of an order line by their names on the wire: variety and format IDENTITY,
 * subs up to eight identities one after the other, date a day, the rest whole numbers, yes and no as 1 and 0; "none"
 * clears a field of the standing line. */
#ifndef COTYLEDGER_WIRE_ASKING_H
#define COTYLEDGER_WIRE_ASKING_H

#include "cotyledger/core/fact.h"
#include "cotyledger/wire/bytes.h"

#define COT_IF_SUBS_MOST 8
/* Names that the route allows beside those of the fill. */
#define COT_IF_PARAMS                                                                                                  \
    "line withdrawn variety plants trays format date early late least subs untreated organic own_seed priority"

struct cot_if_query {
    struct cot_fact fact; /* of kind line; points into the rest: not to be moved */
    bool withdrawn;
    struct cot_id variety, format, subs[COT_IF_SUBS_MOST];
};

/* Puts "&name=value" for each; fields that the grammar lacks are left out. */
void cot_if_query_put(const struct cot_fact *f, bool withdrawn, struct cot_buf *out);
/* Reads them from a query whose names and characters have been checked; other names are passed over. MALFORMED names
 * the parameter. */
COT_MUSTCHECK enum cot_err cot_if_query_read(const char *query, struct cot_if_query *out, struct cot_fault *fault);

#endif
