/* The feed: every item moves on, and lies within the bytes. */
#include "fuzz.h"

#include "cotyledger/wire/seal.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *bytes = (const char *)data;
    struct cot_feed_item item;
    struct cot_fault fault = {0};
    size_t at = 0;
    while (at < size) {
        size_t before = at;
        enum cot_err err = cot_feed_next(bytes, size, &at, &item, &fault);
        if (err != COT_OK) {
            must(err != COT_NOT_FOUND || at == before);
            break;
        }
        must(at > before && at <= size);
        if (item.what == COT_FEED_ROW) must(item.text >= bytes && item.text + item.len <= bytes + size);
    }
    return 0;
}
