#include "belief.h"

#include <inttypes.h>
#include <math.h>

#include "answer.h"
#include "table.h"
#include "work.h"

#define TRAYS_SAID 5 /* unlike trays told one by one */

const char *cot_rare_text(double chance, char out[static COT_RARE_TEXT])
{
    if (!(chance < 0.5)) {
        snprintf(out, COT_RARE_TEXT, "more often than not");
        return out;
    }
    if (chance < 1e-6) {
        snprintf(out, COT_RARE_TEXT, "less than 1 in a million");
        return out;
    }
    /* Two figures say all there is to say. */
    int64_t of = (int64_t)floor(1 / chance + 0.5), unit = 1;
    while (of / unit >= 100) unit *= 10;
    of = (of + unit / 2) / unit * unit;
    if (of >= 1000000) snprintf(out, COT_RARE_TEXT, "1 in a million");
    else if (of >= 1000) snprintf(out, COT_RARE_TEXT, "1 in %" PRId64 ",%03" PRId64, of / 1000, of % 1000);
    else snprintf(out, COT_RARE_TEXT, "1 in %" PRId64, of);
    return out;
}

/* --- A batch -------------------------------------------------------------------------------------------------------
 */
static void put_trays(const struct cot_check_batch *c, struct cot_buf *out)
{
    char text[160], rare[COT_RARE_TEXT];
    size_t said = 0;
    if (c->trays > 1 && c->unlike == 0) cot_put_pair(out, "trays", "none is unlike the others");
    for (size_t i = 0; i < c->trays && said < TRAYS_SAID; i++) {
        const struct cot_check_tray *t = &c->tray[i];
        if (!t->unlike) continue;
        snprintf(text, sizeof text,
                 "tray %d is unlike the others: %d of %d usable; so far off by chance: %s. Look again", t->tray,
                 t->usable, t->looked, cot_rare_text(t->chance, rare));
        cot_put_pair(out, said++ == 0 ? "trays" : "", text);
    }
    if (c->unlike <= said) return;
    snprintf(text, sizeof text, "and %zu more", c->unlike - said);
    cot_put_pair(out, "", text);
}

static void put_where(const struct cot_check_batch *c, struct cot_buf *out)
{
    char text[200], lot[COT_SOME_TEXT], day[COT_SOME_TEXT];
    cot_put_pair(out, "where to look", cot_points_word(c->points));
    if (c->lot_batches + c->day_batches == 0) return;
    cot_some((int64_t)c->lot_batches, "other batch", lot);
    cot_some((int64_t)c->day_batches, "other batch", day);
    snprintf(text, sizeof text, "compared with %s of the lot sown on other days, %s of other lots sown that day",
             c->lot_batches == 0   ? "none"
             : c->lot_batches == 1 ? "1"
                                   : lot,
             c->day_batches == 0 ? "none" : day);
    cot_put_pair(out, "", text);
}

static void put_against_lot(const struct cot_check_batch *c, struct cot_buf *out)
{
    char text[200], rare[COT_RARE_TEXT];
    int64_t expected = (int64_t)floor(c->low.expected + 0.5);
    if (c->low.low)
        snprintf(text, sizeof text,
                 "%" PRId64 " of %" PRId64 " cells usable, about %" PRId64
                 " were to be expected; so few or fewer by chance: %s",
                 c->usable, c->looked, expected, cot_rare_text(c->low.chance, rare));
    else
        snprintf(text, sizeof text,
                 "%" PRId64 " of %" PRId64 " cells usable, about %" PRId64 " were to be expected: believable",
                 c->usable, c->looked, expected);
    cot_put_pair(out, "against its lot", text);
    if (c->assumed) cot_put_pair(out, "", "how batches of this crop differ here is a guess: none was counted before");
    if (c->low.low) put_where(c, out);
}

static void put_batch(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    struct cot_check_batch c;
    if (cot_check_batch(cli->book, t, on, &c) == COT_OK && c.counted && (c.trays > 1 || c.early || c.compared)) {
        cot_buf_str(out, "\nAre the counts believable?\n");
        put_trays(&c, out);
        if (c.early) cot_put_pair(out, "against its lot", "not yet: counted before the crop's day for it");
        if (c.compared) put_against_lot(&c, out);
    }
    cot_check_batch_free(&c);
}

/* --- A lot -----------------------------------------------------------------------------------------------------------
 */
static void put_range(const struct cot_range *r, struct cot_buf *out)
{
    char text[240], rare[COT_RARE_TEXT];
    int apart = r->highest - r->lowest;
    int n = snprintf(text, sizeof text, "%d to %d of %d seeds, %d %% on average: %d apart", r->lowest, r->highest,
                     r->seeds_each, r->average, apart);
    char *end = text + n;
    size_t left = sizeof text - (size_t)n;
    if (r->verdict == COT_RANGE_FITS) snprintf(end, left, ", up to %d will do (7 CFR 201.55)", r->most);
    else if (r->verdict == COT_RANGE_RETEST)
        snprintf(end, left, ", more than %d (7 CFR 201.55): the test is to be made again", r->most);
    else
        snprintf(end, left, "; so wide or wider by chance: %s. No published table for this shape%s",
                 cot_rare_text(r->chance, rare), r->chance < COT_CHECK_RARE ? ": better test again" : "");
    cot_put_pair(out, "replicates", text);
}

static void put_agreement(const char *what, const struct cot_agreement *a, double first, double second,
                          struct cot_buf *out)
{
    char text[240], rare[COT_RARE_TEXT];
    int n = snprintf(text, sizeof text, "%.4g %% and %.4g %%: %.4g apart", first, second, fabs(a->difference));
    char *end = text + n;
    size_t left = sizeof text - (size_t)n;
    if (a->most >= 0)
        snprintf(end, left,
                 a->within ? ", up to %d will do (7 CFR 201.63)" : ", more than %d (7 CFR 201.63): they disagree",
                 a->most);
    else
        snprintf(end, left, "; so far or farther by chance: %s%s. No published table under 400 seeds",
                 cot_rare_text(a->chance, rare), a->within ? "" : ", so they disagree");
    cot_put_pair(out, what, text);
}

static void put_lot(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out)
{
    struct cot_check_lot c;
    if (cot_check_lot(cli->book, t, &c) != COT_OK) return;
    if (!c.has_range && !c.has_label && !c.has_before && !c.misfit[0]) return;
    cot_buf_str(out, "\nIs the test believable?\n");
    if (c.has_range) put_range(&c.range, out);
    if (c.misfit[0]) cot_put_pair(out, "", c.misfit);
    if (c.has_label)
        put_agreement("test and label", &c.label, c.test.percent, c.test.percent - c.label.difference, out);
    if (c.has_before) put_agreement("test and test before", &c.before, c.test.percent, c.earlier.percent, out);
}

void cot_check_put_text(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    if (t->type == COT_THING_BATCH) put_batch(cli, t, on, out);
    if (t->type == COT_THING_LOT) put_lot(cli, t, out);
}

/* --- For programs ----------------------------------------------------------------------------------------------------
 */
static const char *yes(bool b)
{
    return b ? "true" : "false";
}

static const char *points_key(enum cot_points p)
{
    switch (p) {
    case COT_POINTS_NONE:
        return "no_other_batch";
    case COT_POINTS_UNSURE:
        return "unsure";
    case COT_POINTS_BOTH:
        return "both";
    case COT_POINTS_SEED:
        return "seed";
    case COT_POINTS_HOUSE:
        return "house";
    case COT_POINTS_BATCH:
        return "batch";
    }
    return "unsure";
}

static void json_batch(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    struct cot_check_batch c;
    if (cot_check_batch(cli->book, t, on, &c) == COT_OK && c.counted) {
        cot_buf_fmt(out, ",\"check\":{\"looked\":%" PRId64 ",\"usable\":%" PRId64 ",\"early\":%s,\"trays\":[", c.looked,
                    c.usable, yes(c.early));
        for (size_t i = 0; i < c.trays; i++)
            cot_buf_fmt(out, "%s{\"tray\":%d,\"chance\":%.9f,\"unlike\":%s}", i ? "," : "", c.tray[i].tray,
                        c.tray[i].chance, yes(c.tray[i].unlike));
        cot_buf_str(out, "]");
        if (c.compared)
            cot_buf_fmt(out, ",\"lot\":{\"expected\":%.1f,\"chance\":%.9f,\"low\":%s,\"assumed\":%s", c.low.expected,
                        c.low.chance, yes(c.low.low), yes(c.assumed));
        if (c.compared && c.low.low) cot_buf_fmt(out, ",\"points\":\"%s\"", points_key(c.points));
        cot_buf_str(out, c.compared ? "}}" : "}");
    }
    cot_check_batch_free(&c);
}

static void json_most(int most, struct cot_buf *out)
{
    if (most < 0) cot_buf_str(out, ",\"most\":null");
    else cot_buf_fmt(out, ",\"most\":%d", most);
}

static void json_agreement(const char *key, const struct cot_agreement *a, struct cot_buf *out)
{
    cot_buf_fmt(out, ",\"%s\":{\"difference\":%.9g,\"within\":%s,\"chance\":%.9f", key, a->difference, yes(a->within),
                a->chance);
    json_most(a->most, out);
    cot_buf_str(out, "}");
}

static void json_lot(struct cot_cli *cli, const struct cot_thing *t, struct cot_buf *out)
{
    static const char *const verdict[] = {"fits", "retest", "no_table"};
    struct cot_check_lot c;
    if (cot_check_lot(cli->book, t, &c) != COT_OK || c.test.seeds == 0) return;
    cot_buf_fmt(out, ",\"check\":{\"test\":%.9g", c.test.percent);
    if (c.has_range) {
        cot_buf_fmt(out,
                    ",\"replicates\":{\"verdict\":\"%s\",\"lowest\":%d,\"highest\":%d,\"average\":%d,\"chance\":%.9f",
                    verdict[c.range.verdict], c.range.lowest, c.range.highest, c.range.average, c.range.chance);
        json_most(c.range.most, out);
        cot_buf_str(out, "}");
    }
    if (c.has_label) json_agreement("label", &c.label, out);
    if (c.has_before) json_agreement("before", &c.before, out);
    cot_buf_str(out, "}");
}

void cot_check_put_json(struct cot_cli *cli, const struct cot_thing *t, int32_t on, struct cot_buf *out)
{
    if (t->type == COT_THING_BATCH) json_batch(cli, t, on, out);
    if (t->type == COT_THING_LOT) json_lot(cli, t, out);
}

/* --- After a count ---------------------------------------------------------------------------------------------------
 */
static bool just_counted(const struct cot_tray_count *counted, size_t n, int32_t tray)
{
    for (size_t i = 0; i < n; i++)
        if (counted[i].tray == tray) return true;
    return false;
}

void cot_check_warn(struct cot_cli *cli, const struct cot_thing *batch, int32_t on,
                    const struct cot_tray_count *counted, size_t n, struct cot_answer *answer)
{
    struct cot_check_batch c;
    if (cot_check_batch(cli->book, batch, on, &c) == COT_OK) {
        for (size_t i = 0; i < c.trays; i++) {
            const struct cot_check_tray *t = &c.tray[i];
            if (t->unlike && just_counted(counted, n, t->tray))
                cot_answer_warn(answer,
                                "tray %d: %d of %d usable is hardly believable beside the other trays; look again",
                                t->tray, t->usable, t->looked);
        }
        if (c.compared && c.low.low)
            cot_answer_warn(answer,
                            "%" PRId64 " of %" PRId64 " cells usable, about %.0f were to be expected of this lot: %s",
                            c.usable, c.looked, c.low.expected, cot_points_word(c.points));
    }
    cot_check_batch_free(&c);
}
