/* How many trays to sow, for eyes; and the words that programs get too. */
#include "trays.h"

#include <math.h>
#include <string.h>

#include "cotyledger/wire/report.h"
#include "table.h"
#include "work.h"

/* --- Words -------------------------------------------------------------------------------------------------------- */
const char *const cot_trays_cause_key[COT_CAUSE_COUNT] = {
    [COT_CAUSE_EMPTY] = "seeder",     [COT_CAUSE_GERM] = "germination", [COT_CAUSE_EMERGE] = "emergence",
    [COT_CAUSE_UNFIT] = "not_usable", [COT_CAUSE_LOST] = "later_loss",  [COT_CAUSE_LUCK] = "luck",
    [COT_CAUSE_TRAYS] = "trays",      [COT_CAUSE_BATCHES] = "batches",  [COT_CAUSE_WHOLE] = "whole_trays",
};

static bool several(const struct cot_trays *t)
{
    return t->sow.cell.at_least > 1;
}

static const char *plants(const struct cot_trays *t)
{
    return several(t) ? "usable cells" : "plants";
}

void cot_trays_cause(const struct cot_trays *t, enum cot_sow_cause c, struct cot_buf *out)
{
    static const char *const words[COT_CAUSE_COUNT] = {
        [COT_CAUSE_GERM] = "of the seeds do not germinate",
        [COT_CAUSE_EMERGE] = "of those do not emerge in this house",
        [COT_CAUSE_UNFIT] = "of the plants are not fit to go",
        [COT_CAUSE_LOST] = "are lost between stand count and collecting",
        [COT_CAUSE_LUCK] = "luck: even with all trays alike some do worse",
        [COT_CAUSE_TRAYS] = "trays are not alike",
        [COT_CAUSE_BATCHES] = "batches are not alike, and a test is not the lot",
        [COT_CAUSE_WHOLE] = "whole trays",
    };
    if (c == COT_CAUSE_EMPTY)
        cot_buf_fmt(out, "%.1f %% of the cells get %s", 100 * t->parts.share[c],
                    several(t) ? "too few seeds" : "no seed from the seeder");
    else if (c == COT_CAUSE_EMERGE && t->parts.share[c] < 0) cot_buf_str(out, "more come up in this house than that");
    else if (c <= COT_CAUSE_LOST) cot_buf_fmt(out, "%.1f %% %s", 100 * t->parts.share[c], words[c]);
    else cot_buf_str(out, words[c]);
}

static void assumed_germ(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_germ *g = &t->found.germ;
    double percent = g->seeds > 0 ? 100 * g->germinated / g->seeds : 0;
    const char *lot = cot_thing_name(t->asked.lot);
    if (g->basis == COT_GERM_LABEL)
        cot_buf_fmt(out, "germination: the label's %.1f %%, as if from %.0f seeds tested (rule --assumed-seeds)\n",
                    percent, g->seeds);
    if (g->basis == COT_GERM_LAWFUL)
        cot_buf_fmt(out,
                    "germination: lot %s has no test and no label; the lowest lawful %.1f %%, as if from %.0f "
                    "seeds tested\n",
                    lot, percent, g->seeds);
    if (g->basis == COT_GERM_NOTHING)
        cot_buf_fmt(out, "germination: nothing is known of lot %s, so anything from none to all; test some seeds\n",
                    lot);
}

/* "pelleted seed", "raw flat seed", "raw seed of unknown shape, taken as flat" */
static void seed_words(const struct cot_trays *t, struct cot_buf *out)
{
    char form[16], shape[16];
    int64_t f = cot_thing_int(t->asked.lot, COT_F_FORM, COT_SEED_RAW);
    bool bare = f != COT_SEED_PELLETED && f != COT_SEED_COATED;
    cot_word_text(COT_F_FORM, (int)f, form);
    cot_word_text(COT_F_SHAPE, t->found.shape_known ? (int)cot_thing_int(t->found.crop, COT_F_SHAPE, 0) : 0, shape);
    cot_buf_str(out, form);
    if (bare && t->found.shape_known) cot_buf_fmt(out, " %s", shape);
    cot_buf_str(out, bare && !t->found.shape_known ? " seed of unknown shape, taken as flat" : " seed");
}

static void assumed_seeder(const struct cot_trays *t, struct cot_buf *out)
{
    char some[COT_SOME_TEXT];
    const struct cot_sow_found *f = &t->found;
    if (!t->asked.plate) {
        cot_buf_fmt(out, "by hand: exactly %s in every cell\n", cot_some(f->per_cell, "seed", some));
        return;
    }
    if (!f->singling_assumed) return;
    cot_buf_fmt(out, "seeder: of 1000 drops %lld leave no seed and %lld leave two, as for ",
                (long long)f->singling.misses, (long long)f->singling.twos);
    seed_words(t, out);
    cot_buf_str(out, "; common practice, no source (change plate --misses --twos)\n");
}

/* What a batch comes to where 90 % are expected, in two cases of three. */
static void spread_words(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_spread *s = &t->sow.spread;
    double x = cot_odds_of_rate(0.9), low = 100 * cot_rate_of_odds(x - s->between);
    if (s->batches == 0)
        cot_buf_fmt(out,
                    "batches and trays differ as is assumed, none of this crop was counted here yet: where 90 %% are "
                    "expected, two batches of three come to %.0f to %.0f %%\n",
                    low, 100 * cot_rate_of_odds(x + s->between));
}

void cot_trays_assumed(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_sow *s = &t->sow;
    assumed_germ(t, out);
    assumed_seeder(t, out);
    if (!t->found.emerge_known)
        cot_buf_fmt(out, "emergence: as many as in the test, %.0f %% (change crop --emergence)\n", 100 * s->emerge);
    if (!t->found.fit_known)
        cot_buf_fmt(out, "fit to go: %.0f %%; common practice, no source (change crop --usable-share)\n", 100 * s->fit);
    if (!t->found.later_known)
        cot_buf_fmt(out, "later losses: %.0f %%; common practice, no source (change crop --later-loss)\n",
                    100 * s->later);
    spread_words(t, out);
    if (t->on_to) cot_buf_fmt(out, "potting on: about %.0f of %.0f take\n", t->to.take_a, t->to.take_a + t->to.take_b);
}

static void warn_lot(const struct cot_trays *t, struct cot_buf *out)
{
    char date[COT_DATE_TEXT];
    const struct cot_thing *lot = t->asked.lot;
    int32_t use_by = (int32_t)cot_thing_int(lot, COT_F_USE_BY, COT_DAY_NONE);
    if (use_by != COT_DAY_NONE && t->on > use_by)
        cot_buf_fmt(out, "lot %s was to be used by %s\n", cot_thing_name(lot), cot_date(use_by, date));
    if (cot_thing_int(lot, COT_F_WITHDRAWN, 0))
        cot_buf_fmt(out, "lot %s is marked as withdrawn\n", cot_thing_name(lot));
    if (t->found.stock >= 0 && t->found.stock < t->seeds.enough)
        cot_buf_fmt(out, "only about %lld seeds of lot %s are left, and %lld are needed\n", (long long)t->found.stock,
                    cot_thing_name(lot), (long long)t->seeds.enough);
}

static void warn_plate(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_thing *plate = t->asked.plate;
    int64_t drop = plate ? cot_thing_int(plate, COT_F_CELLS, 0) : 0;
    if (drop > 0 && t->sow.tray_cells % drop != 0)
        cot_buf_fmt(out, "plate %s fills %lld cells at a drop, and a tray of %s has %lld cells\n",
                    cot_thing_name(plate), (long long)drop, cot_thing_name(t->asked.format),
                    (long long)t->sow.tray_cells);
}

void cot_trays_warnings(const struct cot_trays *t, struct cot_buf *out)
{
    warn_lot(t, out);
    warn_plate(t, out);
    if (t->wanted > 0 && t->given && !t->on_to && t->now.count_on < t->wanted)
        cot_buf_fmt(out, "%lld %s cannot be counted on: leave out what there is to see how many trays would do\n",
                    (long long)t->wanted, plants(t));
}

double cot_trays_chance(const struct cot_trays *t, double chance, int64_t most)
{
    if (chance >= 1) return 1 - 1e-9;
    return chance <= 0 && most >= t->wanted ? 1e-9 : chance;
}

int64_t cot_trays_pot_most(const struct cot_trays *t)
{
    int64_t small = t->pot.plug_trays * t->sow.tray_cells, large = t->pot.trays * t->to.tray_cells;
    return small < large ? small : large;
}

bool cot_trays_treated(const struct cot_trays *t)
{
    return cot_thing_int(t->asked.lot, COT_F_TREATED, 0) != 0 || cot_thing_text(t->asked.lot, COT_F_TREATMENT)[0];
}

/* --- For eyes ----------------------------------------------------------------------------------------------------- */
static void put_paragraph(struct cot_buf *out, const struct cot_buf *text)
{
    if (text->failed) out->failed = true;
    else if (text->s) cot_put_paragraph(out, text->s, 0, 2);
}

/* Each line of `lines` as "  - line", wrapped. */
static void put_lines(struct cot_buf *out, const char *lead, struct cot_buf *lines)
{
    size_t indent = strlen(lead);
    if (lines->failed) out->failed = true;
    for (char *p = lines->s, *end; p && *p; p = end + 1) {
        end = strchr(p, '\n');
        *end = '\0';
        cot_buf_str(out, lead);
        cot_put_paragraph(out, p, indent, indent);
    }
}

/* "Red Harbour, lot RH-2601, by plate 128 one-hole, 8 seeds a cell (usable with 5 plants or more)" */
static void what_words(const struct cot_trays *t, struct cot_buf *b)
{
    char some[COT_SOME_TEXT], least[COT_SOME_TEXT];
    const struct cot_thing *variety = t->found.variety;
    cot_buf_fmt(b, "%s, lot %s", variety ? cot_thing_name(variety) : "a variety not known",
                cot_thing_name(t->asked.lot));
    if (t->asked.plate) cot_buf_fmt(b, ", by plate %s", cot_thing_name(t->asked.plate));
    else cot_buf_str(b, ", by hand");
    if (t->asked.put_right) cot_buf_str(b, ", misses put right");
    if (t->found.per_cell > 1) cot_buf_fmt(b, ", %s a cell", cot_some(t->found.per_cell, "seed", some));
    if (several(t)) cot_buf_fmt(b, ", usable with %s or more", cot_some(t->sow.cell.at_least, "plant", least));
    if (t->sow.batches > 1) cot_buf_fmt(b, ", sown on %lld days", (long long)t->sow.batches);
}

static void trays_words(const struct cot_trays *t, struct cot_buf *b)
{
    char some[COT_SOME_TEXT];
    int64_t trays = t->on_to ? t->pot.plug_trays : t->now.trays;
    cot_buf_fmt(b, "%s of %s", cot_some(trays, "tray", some), cot_thing_name(t->asked.format));
    if (t->on_to)
        cot_buf_fmt(b, ", potted on into %s of %s", cot_some(t->pot.trays, "tray", some), cot_thing_name(t->on_to));
}

static void put_head(const struct cot_trays *t, struct cot_buf *out)
{
    struct cot_buf b = {0};
    char odds[COT_ODDS_TEXT];
    cot_odds_text(t->confidence, odds);
    cot_buf_str(&b, t->given ? "Of " : "Sow ");
    trays_words(t, &b);
    if (t->given)
        cot_buf_fmt(&b, " count on %lld %s, %s: ", (long long)(t->on_to ? t->pot.count_on : t->now.count_on), plants(t),
                    odds);
    else cot_buf_fmt(&b, " for %lld %s, %s: ", (long long)t->wanted, plants(t), odds);
    what_words(t, &b);
    cot_buf_str(&b, ".");
    put_paragraph(out, &b);
    cot_buf_free(&b);
}

#define LABEL 38
#define FIGURE 13

static void put_label(struct cot_buf *out, const char *label)
{
    cot_buf_fmt(out, "  %-*s", LABEL, label);
}

static void put_row(struct cot_buf *out, const char *label, const int64_t *figure, int n)
{
    put_label(out, label);
    for (int i = 0; i < n; i++) cot_buf_fmt(out, "%*lld", FIGURE, (long long)figure[i]);
    cot_buf_str(out, "\n");
}

static void put_chances(const struct cot_trays *t, struct cot_buf *out, const double *chance, int n)
{
    char label[80], text[COT_CHANCE_TEXT];
    if (t->wanted == 0) return;
    snprintf(label, sizeof label, "chance of %lld %s or more", (long long)t->wanted, plants(t));
    put_label(out, label);
    for (int i = 0; i < n; i++) {
        cot_chance_beside(chance[i], t->confidence, text);
        cot_buf_fmt(out, "%*s", FIGURE, text);
    }
    cot_buf_str(out, "\n");
}

/* A column for the trays, and where they were looked for one for a tray less and one for a tray more. */
static void put_one_stage(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_sow_answer *all[3] = {&t->fewer, &t->now, &t->more};
    static const char *const heading[3] = {"one fewer", "to sow", "one more"};
    int64_t trays[3], cells[3], likely[3], count_on[3];
    double chance[3];
    char label[80], odds[COT_ODDS_TEXT];
    int n = 0;
    cot_buf_str(out, "\n");
    if (!t->given) put_label(out, "");
    for (int i = 0; i < 3; i++) {
        if (all[i]->trays < 1) continue;
        trays[n] = all[i]->trays;
        cells[n] = all[i]->trays * t->sow.tray_cells;
        likely[n] = all[i]->likely;
        count_on[n] = all[i]->count_on;
        chance[n] = cot_trays_chance(t, all[i]->chance, cells[n]);
        n++;
        if (!t->given) cot_buf_fmt(out, "%*s", FIGURE, heading[i]);
    }
    if (!t->given) cot_buf_str(out, "\n");
    cot_odds_text(t->confidence, odds);
    put_row(out, "trays", trays, n);
    put_row(out, "cells", cells, n);
    snprintf(label, sizeof label, "likely, %s", plants(t));
    put_row(out, label, likely, n);
    snprintf(label, sizeof label, "count on, %s, %s", plants(t), odds);
    put_row(out, label, count_on, n);
    put_chances(t, out, chance, n);
}

static void put_two_stages(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_pot_answer *p = &t->pot;
    char odds[COT_ODDS_TEXT], label[80];
    cot_odds_text(t->confidence, odds);
    cot_buf_str(out, "\n");
    put_row(out, "trays to sow", &p->plug_trays, 1);
    put_row(out, "to pot on, likely", &p->plugs_likely, 1);
    snprintf(label, sizeof label, "to pot on, count on, %s", odds);
    put_row(out, label, &p->plugs_count_on, 1);
    put_row(out, "trays to pot on into", &p->trays, 1);
    snprintf(label, sizeof label, "likely in the end, %s", plants(t));
    put_row(out, label, &p->likely, 1);
    snprintf(label, sizeof label, "count on, %s, %s", plants(t), odds);
    put_row(out, label, &p->count_on, 1);
    double chance = cot_trays_chance(t, p->chance, cot_trays_pot_most(t));
    put_chances(t, out, &chance, 1);
    if (!t->given)
        cot_buf_fmt(out, "  No other pair that is as sure takes %s in all.\n",
                    t->by_footprint ? "less bench" : "fewer trays");
}

static void put_seeds(const struct cot_trays *t, struct cot_buf *out)
{
    struct cot_buf b = {0};
    cot_buf_fmt(&b, "Seeds: about %lld", (long long)t->seeds.mean);
    if (t->seeds_there >= 0) cot_buf_fmt(&b, " of the %lld", (long long)t->seeds_there);
    if (t->seeds.enough > t->seeds.mean) cot_buf_fmt(&b, ", have %lld ready", (long long)t->seeds.enough);
    if (t->found.seeds_per_g > 0)
        cot_buf_fmt(&b, " (%.1f g)", ceil(10 * (double)t->seeds.enough / (double)t->found.seeds_per_g) / 10);
    if (t->found.stock >= 0) cot_buf_fmt(&b, "; about %lld are left of the lot", (long long)t->found.stock);
    cot_buf_str(&b, ".");
    cot_buf_str(out, "\n");
    put_paragraph(out, &b);
    cot_buf_free(&b);
}

static void put_parts(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_sow_parts *p = &t->parts;
    cot_buf_fmt(out, "\nWhy %lld cells for %lld %s:\n", (long long)p->cells, (long long)p->wanted, plants(t));
    for (int c = 0; c < COT_CAUSE_COUNT; c++) {
        struct cot_buf words = {0};
        if (p->part[c] == 0) continue;
        cot_trays_cause(t, (enum cot_sow_cause)c, &words);
        if (words.failed) out->failed = true;
        else cot_buf_fmt(out, "%8lld  %s\n", (long long)p->part[c], words.s);
        cot_buf_free(&words);
    }
    cot_buf_fmt(out, "%8lld  in all, %.0f %% more than wanted\n", (long long)(p->cells - p->wanted),
                100 * (double)(p->cells - p->wanted) / (double)p->wanted);
}

static void put_learned(const struct cot_trays *t, struct cot_buf *out)
{
    int batches = t->sow.spread.batches;
    if (batches > 0)
        cot_buf_fmt(out, "\nBatches and trays differ as %d counted batch%s of this crop did in this house.\n", batches,
                    batches == 1 ? "" : "es");
}

void cot_trays_put_text(const struct cot_trays *t, struct cot_buf *out)
{
    struct cot_buf assumed = {0}, warnings = {0};
    put_head(t, out);
    if (t->on_to) put_two_stages(t, out);
    else put_one_stage(t, out);
    put_seeds(t, out);
    if (!t->given && !t->on_to) put_parts(t, out);
    put_learned(t, out);
    cot_trays_assumed(t, &assumed);
    if (assumed.len > 0) cot_buf_str(out, "\nAssumed:\n");
    put_lines(out, "  - ", &assumed);
    cot_trays_warnings(t, &warnings);
    if (warnings.len > 0 || cot_trays_treated(t)) cot_buf_str(out, "\n");
    put_lines(out, "Look out: ", &warnings);
    if (cot_trays_treated(t)) {
        cot_buf_str(out, "Caution: ");
        cot_put_paragraph(out, COT_CAUTION_TREATED, 9, 2);
    }
    cot_buf_free(&assumed);
    cot_buf_free(&warnings);
}
