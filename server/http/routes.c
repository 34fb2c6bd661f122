/* The route table. */
#include "call.h"

#include <string.h>

#include "cotyledger/wire/asking.h"

#define JSON "application/json"

const struct cot_route cot_routes[] = {
    {"GET", "/healthz", COT_ROUTE_AT_ONCE, 1, NULL, "", cot_res_health},
    {"GET", "/readyz", 0, 1, NULL, "", cot_res_ready},
    {"POST", "/v1/join", 0, COT_JSON_BYTES, JSON, "", cot_res_join},
    {"POST", "/v1/rejoin", COT_ROUTE_SIGNED, COT_JSON_BYTES, JSON, "", cot_res_rejoin},
    {"POST", "/v1/invitations", COT_ROUTE_SIGNED, COT_JSON_BYTES, JSON, "", cot_res_invitations},
    {"POST", "/v1/pages", COT_ROUTE_SIGNED, 0, "application/x-ndjson", "", cot_res_pages},
    {"GET", "/v1/ledger", COT_ROUTE_SIGNED, 1, NULL, "after limit", cot_res_ledger},
    {"GET", "/v1/head", COT_ROUTE_SIGNED, 1, NULL, "", cot_res_head},
    {"GET", "/v1/chain", COT_ROUTE_SIGNED, 1, NULL, "at", cot_res_chain},
    {"GET", "/v1/book", COT_ROUTE_SIGNED, 1, NULL, "at", cot_res_book},
    {"GET", "/v1/fill", COT_ROUTE_SIGNED | COT_ROUTE_LONG, 1, NULL, "on form farm", cot_res_fill},
    {"GET", "/v1/what-if", COT_ROUTE_SIGNED | COT_ROUTE_LONG, 1, NULL, "on form farm " COT_IF_PARAMS, cot_res_what_if},
    {NULL, NULL, 0, 0, NULL, NULL, NULL},
};

const struct cot_route *cot_route_find(const char *method, const char *path)
{
    for (const struct cot_route *r = cot_routes; r->method; r++)
        if (strcmp(r->method, method) == 0 && strcmp(r->path, path) == 0) return r;
    return NULL;
}
