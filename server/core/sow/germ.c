/* What is known of a lot's germination. */
#include "cotyledger/core/sow.h"

static bool share_ok(int64_t per_mille)
{
    return per_mille >= -1 && per_mille <= 1000;
}

static enum cot_err check(const struct cot_germ_known *k, struct cot_fault *fault)
{
    if (k->test_seeds < 0 || k->test_germ < 0 || k->test_germ > k->test_seeds)
        return cot_fail(fault, COT_INVALID, "%lld seeds of %lld germinated: no more than were tested will do",
                        (long long)k->test_germ, (long long)k->test_seeds);
    if (!share_ok(k->label) || !share_ok(k->lawful))
        return cot_fail(fault, COT_INVALID, "germination %lld or %lld per mille: between 0 and 1000 will do",
                        (long long)k->label, (long long)k->lawful);
    if (k->label >= 0 && k->assumed_seeds < 1)
        return cot_fail(fault, COT_INVALID, "a label taken as if from %lld seeds: 1 or more will do",
                        (long long)k->assumed_seeds);
    return COT_OK;
}

enum cot_err cot_germ_of(const struct cot_germ_known *k, struct cot_germ *out, struct cot_fault *fault)
{
    *out = (struct cot_germ){.basis = COT_GERM_NOTHING, .a = 1, .b = 1};
    enum cot_err err = check(k, fault);
    if (err != COT_OK) return err;
    if (k->test_seeds > 0) {
        out->basis = COT_GERM_TEST;
        out->seeds = (double)k->test_seeds;
        out->germinated = (double)k->test_germ;
    } else if (k->label >= 0) {
        out->basis = COT_GERM_LABEL;
        out->seeds = (double)k->assumed_seeds;
        out->germinated = out->seeds * (double)k->label / 1000;
    } else if (k->lawful >= 0) {
        out->basis = COT_GERM_LAWFUL;
        out->seeds = COT_GERM_LAWFUL_SEEDS;
        out->germinated = out->seeds * (double)k->lawful / 1000;
    }
    out->a = out->germinated + 1;
    out->b = out->seeds - out->germinated + 1;
    return COT_OK;
}
