/* POST /v1/join and /v1/rejoin: a device comes with its proof. */
#include "call.h"

#include <string.h>

#include "joining.h"
#include "log.h"

#define PROOF_MOST 4096
#define LABEL_MOST 81

static enum cot_err read_body(struct cot_call *c, char *proof, char *label, struct cot_fault *fault)
{
    const struct cot_member members[] = {
        {.name = "proof", .type = COT_M_TEXT, .required = true, .text = proof, .cap = PROOF_MOST},
        {.name = "label", .type = COT_M_TEXT, .text = label, .cap = LABEL_MOST},
    };
    return cot_call_json(c, members, 2, fault);
}

static void write_answer(struct cot_call *c, const struct cot_join_answer *a)
{
    static const struct cot_id none;
    char key[COT_ID_TEXT], member[COT_ID_TEXT], farm[COT_ID_TEXT], part[16];
    cot_id_text(&a->house_key, key);
    cot_id_text(&a->member, member);
    cot_id_text(&a->farm, farm);
    cot_word_text(COT_F_PART, (int)a->part, part);
    cot_buf_fmt(&c->reply, "{\"tag\":\"%s\",\"house_key\":\"%s\",\"member\":\"%s\",\"part\":\"%s\",\"farm\":", a->tag,
                key, member, part);
    if (cot_id_cmp(&a->farm, &none) == 0) cot_buf_str(&c->reply, "null");
    else cot_buf_fmt(&c->reply, "\"%s\"", farm);
    cot_buf_fmt(&c->reply, ",\"position\":%lld}", (long long)a->position);
    cot_log(COT_LOG_INFO, "joined", "device=%s part=%s position=%lld", a->tag, part, (long long)a->position);
}

enum cot_err cot_res_join(struct cot_call *c, struct cot_fault *fault)
{
    char proof[PROOF_MOST], label[LABEL_MOST] = "";
    struct cot_join_answer a;
    enum cot_err err = cot_call_house(c, fault);
    if (!err) err = read_body(c, proof, label, fault);
    if (!err) err = cot_join(c->http->books, &c->house, proof, strlen(proof), label, c->deadline, &a, fault);
    if (!err) write_answer(c, &a);
    return err;
}

enum cot_err cot_res_rejoin(struct cot_call *c, struct cot_fault *fault)
{
    char proof[PROOF_MOST], label[LABEL_MOST] = "";
    struct cot_join_answer a;
    enum cot_err err = read_body(c, proof, label, fault);
    if (!err)
        err =
            cot_rejoin(c->http->books, &c->house, c->tag, &c->key, proof, strlen(proof), label, c->deadline, &a, fault);
    if (!err) write_answer(c, &a);
    return err;
}
