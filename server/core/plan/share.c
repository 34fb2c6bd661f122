/* Rows of small batches put together into shared trays. */
#include "cotyledger/core/plan.h"

static enum cot_err check(const int64_t *rows, uint32_t n, int64_t tray_rows, struct cot_fault *fault)
{
    if (n > COT_SHARE_MOST)
        return cot_fail(fault, COT_INVALID, "%u batches to share trays; at most %d can on a day", (unsigned)n,
                        COT_SHARE_MOST);
    if (tray_rows < 1 || tray_rows > 200)
        return cot_fail(fault, COT_INVALID, "a tray has 1 to 200 rows, not %lld", (long long)tray_rows);
    for (uint32_t i = 0; i < n; i++)
        if (rows[i] < 1 || rows[i] > tray_rows)
            return cot_fail(fault, COT_INVALID, "batch %u takes %lld rows of a tray of %lld", (unsigned)i + 1,
                            (long long)rows[i], (long long)tray_rows);
    return COT_OK;
}

/* Batches of more than half a tray need one each; the rows of all need so many trays at least. */
static uint32_t fewest(const int64_t *rows, uint32_t n, int64_t tray_rows)
{
    int64_t sum = 0, large = 0;
    for (uint32_t i = 0; i < n; i++) {
        sum += rows[i];
        large += 2 * rows[i] > tray_rows;
    }
    int64_t full = (sum + tray_rows - 1) / tray_rows;
    return (uint32_t)(full > large ? full : large);
}

enum cot_err cot_share_rows(const int64_t *rows, uint32_t n, int64_t tray_rows, uint32_t *tray, uint32_t *trays,
                            uint32_t *bound, struct cot_fault *fault)
{
    int64_t free_rows[COT_SHARE_MOST];
    enum cot_err err = check(rows, n, tray_rows, fault);
    *trays = *bound = 0;
    if (err) return err;
    for (int64_t size = tray_rows; size > 0; size--)
        for (uint32_t i = 0; i < n; i++) {
            uint32_t t = 0;
            if (rows[i] != size) continue;
            while (t < *trays && free_rows[t] < size) t++;
            if (t == *trays) free_rows[(*trays)++] = tray_rows;
            free_rows[t] -= size;
            tray[i] = t;
        }
    *bound = fewest(rows, n, tray_rows);
    return COT_OK;
}
