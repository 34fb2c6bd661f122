/* Entries: what was read without a flaw can be written, and the written line is read again as the same fact. */
#include "fuzz.h"

#include "cotyledger/wire/entry.h"

static void write_and_read_again(const struct cot_fact *fact, struct cot_decoder *second)
{
    struct cot_buf line = {0};
    struct cot_fact again;
    if (cot_entry_write(fact, &line, NULL) == COT_OK) {
        must(cot_entry_parse(second, line.s, line.len, &again, NULL) == COT_OK);
        must(again.kind == fact->kind && again.number == fact->number && again.value_count == fact->value_count);
        must(again.flaw[0] == '\0');
    }
    cot_buf_free(&line);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct cot_decoder *first, *second;
    struct cot_fault fault = {0};
    struct cot_fact fact;
    if (!first) first = cot_decoder_new();
    if (!second) second = cot_decoder_new();
    if (cot_entry_parse(first, (const char *)data, size, &fact, &fault) != COT_OK) {
        must(fault.code != COT_OK && fault.msg[0] != '\0');
        return 0;
    }
    must(size <= COT_ENTRY_MAX);
    if (fact.flaw[0] == '\0') write_and_read_again(&fact, second);
    return 0;
}
