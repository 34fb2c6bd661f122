/* What every fuzzer includes. A broken promise of a parser is an abort, which the fuzzer keeps as a finding. */
#ifndef COT_TESTS_FUZZ_H
#define COT_TESTS_FUZZ_H

#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static inline void must(int holds)
{
    if (!holds) abort();
}

#endif
