/* CSV: every cell is a string inside its length. */
#include "fuzz.h"

#include "cotyledger/wire/csv.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct cot_fault fault = {0};
    struct cot_csv *csv = NULL;
    if (cot_csv_open((const char *)data, size, &csv, &fault) != COT_OK) {
        must(fault.msg[0] != '\0');
        return 0;
    }
    for (size_t i = 0; i < cot_csv_count(csv); i++) {
        const struct cot_csv_record *r = cot_csv_record(csv, i);
        must(r->count <= COT_CSV_COLUMNS_MAX && r->line >= 1);
        for (size_t k = 0; k < r->count; k++) must(r->cell[k][r->len[k]] == '\0');
    }
    cot_csv_free(csv);
    return 0;
}
