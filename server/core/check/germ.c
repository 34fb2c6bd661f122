/* A germination test: its replicates against each other, and its result against another. */
#include "cotyledger/core/check.h"

#include <inttypes.h>
#include <math.h>

#include "cotyledger/core/prob.h"

/* --- Replicates --------------------------------------------------------------------------------------------------- */
static enum cot_err unreadable(struct cot_fault *fault)
{
    (void)cot_fail(fault, COT_MALFORMED, "replicates: whole numbers with one space between them will do");
    return cot_hint(fault, "such as 96 94 97 95: seeds germinated in each");
}

enum cot_err cot_replicates_read(const char *text, size_t len, struct cot_replicates *out, struct cot_fault *fault)
{
    *out = (struct cot_replicates){0};
    for (size_t at = 0; at < len; at++) {
        int32_t number = 0, digits = 0;
        for (; at < len && text[at] >= '0' && text[at] <= '9'; at++, digits++) {
            number = number * 10 + (text[at] - '0');
            if (digits == 6) return cot_fail(fault, COT_INVALID, "replicates: no replicate has a million seeds");
        }
        bool ends = at == len || (text[at] == ' ' && at + 1 < len);
        if (digits == 0 || !ends) return unreadable(fault);
        if (out->count == COT_REPLICATES_MOST)
            return cot_fail(fault, COT_INVALID, "replicates: more than %d of them", COT_REPLICATES_MOST);
        out->germinated[out->count++] = number;
    }
    if (out->count >= 2) return COT_OK;
    if (out->count == 0) return unreadable(fault);
    return cot_fail(fault, COT_INVALID, "replicates: one alone is none; give two or more, or leave them out");
}

enum cot_err cot_replicates_fit(const struct cot_replicates *r, int64_t seeds, int64_t germinated,
                                struct cot_fault *fault)
{
    int64_t sum = 0;
    if (r->count < 2 || r->count > COT_REPLICATES_MOST)
        return cot_fail(fault, COT_INVALID, "replicates: 2 to %d will do", COT_REPLICATES_MOST);
    if (seeds >= 0 && (seeds == 0 || seeds % r->count != 0))
        return cot_fail(fault, COT_INVALID, "replicates: %" PRId64 " seeds tested cannot be split evenly into %d",
                        seeds, r->count);
    for (int i = 0; i < r->count; i++) {
        if (r->germinated[i] < 0) return cot_fail(fault, COT_INVALID, "replicates: fewer than no seeds germinated");
        if (seeds >= 0 && r->germinated[i] > seeds / r->count)
            return cot_fail(fault, COT_INVALID,
                            "replicates: %" PRId32 " germinated of %" PRId64 " seeds (%" PRId64 " tested in %d)",
                            r->germinated[i], seeds / r->count, seeds, r->count);
        sum += r->germinated[i];
    }
    if (germinated >= 0 && sum != germinated)
        return cot_fail(fault, COT_INVALID, "replicates: they make %" PRId64 " germinated, but the test says %" PRId64,
                        sum, germinated);
    return COT_OK;
}

/* 7 CFR 201.55(a), "Retests", maximum tolerated range between replicates of 100 seeds: from this average up to the step
 * before. Of the mirror column two figures are slips of the print (38 beside 62, 48 beside 52); 101 less the average is
 * meant, as in all others. */
struct range_step {
    int from, most;
};
static const struct range_step range_of_4[] = {{99, 5},  {98, 6},  {97, 7},  {96, 8},  {95, 9},  {93, 10},
                                               {91, 11}, {89, 12}, {87, 13}, {84, 14}, {81, 15}, {78, 16},
                                               {73, 17}, {67, 18}, {56, 19}, {51, 20}};
static const struct range_step range_of_2[] = {{98, -1}, {96, 6},  {95, 7},  {93, 8},  {90, 9},  {88, 10},
                                               {84, 11}, {81, 12}, {76, 13}, {69, 14}, {55, 15}, {51, 16}};

int cot_range_most(int replicates, int average)
{
    if ((replicates != 2 && replicates != 4) || average < 2 || average > 99) return -1;
    int high = average > 50 ? average : 101 - average;
    const struct range_step *step = replicates == 4 ? range_of_4 : range_of_2;
    while (high < step->from) step++;
    return step->most;
}

/* P(all n replicates lie in low .. high). */
static double all_within(int n, int64_t seeds, double rate, int64_t low, int64_t high)
{
    double one = high < low ? 0 : cot_binom_le(seeds, rate, high) - cot_binom_le(seeds, rate, low - 1), all = 1;
    if (one < 0) one = 0;
    for (int i = 0; i < n; i++) all *= one;
    return all;
}

/* P(highest - lowest >= range): one less the sum over the lowest. */
static double range_chance(int n, int64_t seeds, double rate, int64_t range)
{
    double reach = 10 * sqrt((double)seeds * rate * (1 - rate)) + 10, mean = (double)seeds * rate, less = 0;
    int64_t from = (int64_t)(mean - reach) - range, to = (int64_t)(mean + reach);
    if (range == 0) return 1;
    if (from < 0) from = 0;
    if (to > seeds) to = seeds;
    for (int64_t low = from; low <= to; low++)
        less += all_within(n, seeds, rate, low, low + range - 1) - all_within(n, seeds, rate, low + 1, low + range - 1);
    return cot_round9(less < 1 ? 1 - less : 0);
}

enum cot_err cot_check_range(const struct cot_replicates *r, int64_t seeds, struct cot_range *out,
                             struct cot_fault *fault)
{
    *out = (struct cot_range){0};
    if (seeds < 0) return cot_fail(fault, COT_INVALID, "replicates: how many seeds were tested is not known");
    enum cot_err err = cot_replicates_fit(r, seeds, -1, fault);
    if (err != COT_OK) return err;
    int64_t sum = 0;
    out->seeds_each = (int32_t)(seeds / r->count);
    out->lowest = out->highest = r->germinated[0];
    for (int i = 0; i < r->count; i++) {
        sum += r->germinated[i];
        if (r->germinated[i] < out->lowest) out->lowest = r->germinated[i];
        if (r->germinated[i] > out->highest) out->highest = r->germinated[i];
    }
    int range = out->highest - out->lowest;
    out->average = (int)((200 * sum + seeds) / (2 * seeds));
    out->most = out->seeds_each == 100 ? cot_range_most(r->count, out->average) : -1;
    out->chance = range_chance(r->count, out->seeds_each, (double)sum / (double)seeds, range);
    out->verdict = out->most < 0 ? COT_RANGE_NO_TABLE : range > out->most ? COT_RANGE_RETEST : COT_RANGE_FITS;
    return COT_OK;
}

/* --- Two results ---------------------------------------------------------------------------------------------------
 */
/* 7 CFR 201.63, "Germination": mean of the two results, and percent they may differ. */
static const struct tolerance_step {
    double from;
    int most;
} tolerance[] = {{96, 5}, {90, 6}, {80, 7}, {70, 8}, {60, 9}, {0, 10}};

int cot_tolerance(double mean)
{
    if (!(mean >= 0) || !(mean <= 100)) return -1;
    const struct tolerance_step *step = tolerance;
    while (mean < step->from) step++;
    return step->most;
}

static enum cot_err complete(struct cot_result *r, struct cot_fault *fault)
{
    if (r->seeds < 0 || r->germinated < 0 || r->germinated > r->seeds)
        return cot_fail(fault, COT_INVALID, "a test: %" PRId64 " of %" PRId64 " seeds germinated cannot be",
                        r->germinated, r->seeds);
    if (r->seeds > 0) r->percent = 100 * (double)r->germinated / (double)r->seeds;
    if (r->percent >= 0 && r->percent <= 100) return COT_OK;
    return cot_fail(fault, COT_INVALID, "germination: 0 to 100 percent will do");
}

static double agreement_chance(const struct cot_result *test, const struct cot_result *other)
{
    bool low = test->percent < other->percent;
    if (other->seeds == 0) {
        double rate = other->percent / 100;
        return low ? cot_binom_le(test->seeds, rate, test->germinated)
                   : cot_binom_ge(test->seeds, rate, test->germinated);
    }
    int64_t all = test->seeds + other->seeds, good = test->germinated + other->germinated;
    return low ? cot_hyper_le(all, good, test->seeds, test->germinated)
               : cot_hyper_ge(all, good, test->seeds, test->germinated);
}

enum cot_err cot_check_agreement(struct cot_result *first, struct cot_result *second, struct cot_agreement *out,
                                 struct cot_fault *fault)
{
    *out = (struct cot_agreement){.most = -1};
    enum cot_err err = complete(first, fault);
    if (err == COT_OK) err = complete(second, fault);
    if (err != COT_OK) return err;
    if (first->seeds == 0 && second->seeds == 0)
        return cot_fail(fault, COT_INVALID, "two labels: one of the two must be a test");
    bool swapped = first->seeds == 0;
    /* To 1e-9 of a percent, so that a mean or difference on a step is on it. */
    out->mean = cot_round9((first->percent + second->percent) / 2);
    out->difference = cot_round9(first->percent - second->percent);
    bool few = (first->seeds > 0 && first->seeds < COT_TOLERANCE_SEEDS) ||
               (second->seeds > 0 && second->seeds < COT_TOLERANCE_SEEDS);
    out->most = few ? -1 : cot_tolerance(out->mean);
    out->chance = cot_round9(agreement_chance(swapped ? second : first, swapped ? first : second));
    out->within = out->most < 0 ? out->chance >= COT_CHECK_RARE : fabs(out->difference) <= out->most;
    return COT_OK;
}
