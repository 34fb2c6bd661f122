/* POST /v1/invitations: a manager leaves the hash of a secret that a member may join by. */
#include "call.h"

#include <string.h>

#include "joining.h"

static enum cot_err read_id(const char *name, const char *text, struct cot_id *out, struct cot_fault *fault)
{
    if (cot_id_parse(text, strlen(text), out)) return COT_OK;
    return cot_fail(fault, COT_MALFORMED, "body: \"%s\" must be 43 characters of base64url", name);
}

enum cot_err cot_res_invitations(struct cot_call *c, struct cot_fault *fault)
{
    char member_text[COT_ID_TEXT] = "", hash_text[COT_ID_TEXT] = "";
    struct cot_id member, hash;
    int64_t expires = 0;
    struct cot_session s = {0};
    const struct cot_member members[] = {
        {.name = "member", .type = COT_M_TEXT, .required = true, .text = member_text, .cap = sizeof member_text},
        {.name = "hash", .type = COT_M_TEXT, .required = true, .text = hash_text, .cap = sizeof hash_text},
        {.name = "expires", .type = COT_M_INT, .required = true, .number = &expires},
    };
    enum cot_err err = cot_call_json(c, members, 3, fault);
    if (!err) err = read_id("member", member_text, &member, fault);
    if (!err) err = read_id("hash", hash_text, &hash, fault);
    if (!err) err = cot_call_session(c, &s, fault);
    if (!err && s.who.part != COT_PART_MANAGER) err = cot_fail(fault, COT_NOT_ALLOWED, "only managers invite");
    if (!err) err = cot_invite(&s, &member, &hash, expires, fault);
    if (!err) {
        err = cot_tx_commit(s.tx, fault);
        s.tx = NULL;
    }
    if (!err) cot_buf_fmt(&c->reply, "{\"expires\":%lld}", (long long)expires);
    cot_session_close(&s);
    return err;
}
