/* Sheets of every kind against an empty book. The first byte chooses the kind. */
#include "fuzz.h"

#include "cotyledger/wire/sheet.h"

static void read_sheet(struct cot_book *book, enum cot_kind kind, const char *dates, const struct cot_csv *csv)
{
    struct cot_sheet_options options = {.kind = kind, .date_format = dates};
    struct cot_fault fault = {0};
    struct cot_sheet sheet;
    if (cot_sheet_read(book, csv, &options, &sheet, &fault) != COT_OK) {
        must(fault.msg[0] != '\0');
        return;
    }
    must(sheet.problem_count == 0 || sheet.row_count == 0);
    cot_sheet_free(&sheet);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const enum cot_kind kinds[] = {COT_K_FARM, COT_K_CROP, COT_K_VARIETY, COT_K_FORMAT, COT_K_PLATE,
                                          COT_K_LOT,  COT_K_LINE, COT_K_PLACE,   COT_K_RAISING};
    static struct cot_book *book;
    struct cot_csv *csv = NULL;
    if (size == 0) return 0;
    if (!book) book = cot_book_new(NULL);
    if (cot_csv_open((const char *)data + 1, size - 1, &csv, NULL) != COT_OK) return 0;
    read_sheet(book, kinds[data[0] % 7], data[0] & 128 ? "D.M.YYYY" : NULL, csv);
    cot_csv_free(csv);
    return 0;
}
