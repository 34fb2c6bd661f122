/* Whether a lot's germination test is believable, read from the book. */
#include <stdio.h>
#include <string.h>

#include "cotyledger/core/check.h"

static void read_range(const struct cot_thing *lot, struct cot_check_lot *out)
{
    struct cot_replicates r;
    struct cot_fault fault = {0};
    const char *text = cot_thing_text(lot, COT_F_REPLICATES);
    if (out->test.seeds == 0 || text[0] == '\0') return;
    enum cot_err err = cot_replicates_read(text, strlen(text), &r, &fault);
    if (err == COT_OK) err = cot_replicates_fit(&r, out->test.seeds, out->test.germinated, &fault);
    if (err == COT_OK) err = cot_check_range(&r, out->test.seeds, &out->range, &fault);
    out->has_range = err == COT_OK;
    if (err != COT_OK) snprintf(out->misfit, sizeof out->misfit, "%.159s", fault.msg);
}

static void read_label(const struct cot_thing *lot, struct cot_check_lot *out)
{
    int64_t label = cot_thing_int(lot, COT_F_LABEL_GERM, -1);
    struct cot_result on_label = {.percent = (double)label / 10};
    if (out->test.seeds == 0 || label < 0) return;
    out->has_label = cot_check_agreement(&out->test, &on_label, &out->label, NULL) == COT_OK;
}

/* A field's figure after one more entry. */
static void follow(const struct cot_fact *f, enum cot_field field, int64_t *at)
{
    const struct cot_value *v = cot_fact_value(f, field);
    if (v) *at = v->type == COT_T_NONE ? -1 : cot_fact_int(f, field, -1);
}

static bool another(const struct cot_result *a, const struct cot_result *b)
{
    return a->seeds != b->seeds || a->germinated != b->germinated;
}

/* The lot's tests in the order in which they were written down; the last that is not the standing one. A correction of
 * a slip is another test here: it cannot be told from one. */
static void read_before(struct cot_book *b, const struct cot_thing *lot, struct cot_check_lot *out)
{
    size_t n;
    int64_t seeds = -1, germinated = -1, day = COT_DAY_NONE;
    const struct cot_note *note = cot_book_history(b, &lot->id, &n);
    for (size_t i = 0; i < n; i++) {
        if (note[i].verdict != COT_BOOKED || note[i].fact->kind != COT_K_LOT) continue;
        follow(note[i].fact, COT_F_TEST_SEEDS, &seeds);
        follow(note[i].fact, COT_F_TEST_GERM, &germinated);
        follow(note[i].fact, COT_F_TEST_DAY, &day);
        struct cot_result r = {.germinated = germinated, .seeds = seeds};
        if (seeds < 1 || germinated < 0 || germinated > seeds || !another(&r, &out->test)) continue;
        out->earlier = r;
        out->earlier_day = day < COT_DAY_MIN ? COT_DAY_NONE : (int32_t)day;
    }
    if (out->test.seeds == 0 || out->earlier.seeds == 0) return;
    out->has_before = cot_check_agreement(&out->test, &out->earlier, &out->before, NULL) == COT_OK;
}

enum cot_err cot_check_lot(struct cot_book *b, const struct cot_thing *lot, struct cot_check_lot *out)
{
    *out = (struct cot_check_lot){.earlier_day = COT_DAY_NONE};
    if (lot->type != COT_THING_LOT) return COT_NOT_FOUND;
    int64_t seeds = cot_thing_int(lot, COT_F_TEST_SEEDS, 0), germinated = cot_thing_int(lot, COT_F_TEST_GERM, -1);
    if (seeds > 0 && germinated >= 0 && germinated <= seeds)
        out->test = (struct cot_result){
            .germinated = germinated, .seeds = seeds, .percent = 100 * (double)germinated / (double)seeds};
    read_range(lot, out);
    read_label(lot, out);
    read_before(b, lot, out);
    return COT_OK;
}
