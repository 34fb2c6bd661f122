/* Everything signed that a stranger can send: seals, heads, statements, join proofs, request signatures. None verifies.
 */
#include "fuzz.h"

#include "cotyledger/wire/request.h"

static void tokens(const char *s, size_t len, const struct cot_id *key)
{
    struct cot_seal seal;
    struct cot_head head;
    struct cot_house_id house = {{0}};
    struct cot_id hash, pub;
    struct cot_buf payload = {0};
    (void)!cot_seal_peek(s, len, &seal, NULL);
    for (int type = COT_JWS_SEAL; type <= COT_JWS_JOIN; type++) {
        cot_buf_clear(&payload);
        (void)!cot_jws_peek((enum cot_jws)type, s, len, &payload, NULL);
        cot_buf_clear(&payload);
        must(cot_jws_open((enum cot_jws)type, s, len, key, &payload, NULL) != COT_OK);
    }
    must(cot_seal_open(s, len, key, &seal, NULL) != COT_OK);
    must(cot_head_open(s, len, key, &head, NULL) != COT_OK);
    (void)!cot_join_open(s, len, &house, &hash, &pub, NULL); /* carries its own key: it may be well made */
    cot_buf_free(&payload);
}

static void headers(const char *text, const struct cot_id *key)
{
    struct cot_signature_params params;
    struct cot_request request = {
        .method = "POST", .path = "/v1/pages", .query = "", .content_type = "text/plain", .body = ""};
    (void)!cot_signature_input_parse(text, &params, NULL);
    must(cot_request_verify(&request, key, text, text, text, NULL) != COT_OK);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct cot_id key;
    memset(&key, 7, sizeof key);
    char *text = malloc(size + 1);
    if (!text) return 0;
    memcpy(text, data, size);
    text[size] = '\0';
    tokens(text, size, &key);
    headers(text, &key);
    free(text);
    return 0;
}
