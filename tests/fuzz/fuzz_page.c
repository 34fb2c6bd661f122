/* Pages, with the seal's signature left out, so that the fuzzer gets past it. */
#include "fuzz.h"

#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/seal.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct cot_decoder *decoder;
    struct cot_fault fault = {0};
    struct cot_page page = {0};
    if (!decoder) decoder = cot_decoder_new();
    if (cot_page_read((const char *)data, size, NULL, decoder, &page, &fault) != COT_OK) {
        must(fault.msg[0] != '\0');
        return 0;
    }
    must(page.count >= 1 && page.count <= COT_PAGE_ENTRIES_MAX);
    cot_page_free(&page);
    return 0;
}
