/* How many trays to sow, for programs. */
#include "trays.h"

#include <string.h>

static void put_name(struct cot_buf *out, const char *key, const struct cot_thing *t)
{
    const char *name = t ? cot_thing_name(t) : "";
    cot_buf_fmt(out, "\"%s\":", key);
    if (t) cot_put_json(out, name, strlen(name));
    else cot_buf_str(out, "null");
    cot_buf_str(out, ",");
}

static void put_known(struct cot_buf *out, const char *key, int64_t n, bool known)
{
    if (known) cot_buf_fmt(out, "\"%s\":%lld", key, (long long)n);
    else cot_buf_fmt(out, "\"%s\":null", key);
}

static void put_lines(struct cot_buf *out, const char *key, struct cot_buf *lines)
{
    bool first = true;
    if (lines->failed) out->failed = true;
    cot_buf_fmt(out, ",\"%s\":[", key);
    for (const char *p = lines->s, *end; p && *p; p = end + 1) {
        end = strchr(p, '\n');
        if (!first) cot_buf_str(out, ",");
        cot_put_json(out, p, (size_t)(end - p));
        first = false;
    }
    cot_buf_str(out, "]");
    cot_buf_free(lines);
}

static void put_asked(const struct cot_trays *t, struct cot_buf *out)
{
    char day[COT_DAY_TEXT];
    cot_day_text(t->on, day);
    cot_buf_str(out, "{\"report\":\"trays\",\"version\":1,");
    put_name(out, "lot", t->asked.lot);
    put_name(out, "variety", t->found.variety);
    put_name(out, "format", t->asked.format);
    put_name(out, "plate", t->asked.plate);
    put_name(out, "on_to", t->on_to);
    cot_buf_fmt(out, "\"on\":\"%s\",", day);
    put_known(out, "wanted", t->wanted, t->wanted > 0);
    cot_buf_fmt(out, ",\"confidence\":%.3f,\"batches\":%lld,\"per_cell\":%lld,\"at_least\":%lld,\"put_right\":%s",
                t->confidence / 1000.0, (long long)t->sow.batches, (long long)t->found.per_cell,
                (long long)t->sow.cell.at_least, t->asked.put_right ? "true" : "false");
}

static void put_chance(const struct cot_trays *t, double chance, struct cot_buf *out)
{
    double told = chance > 0.999 && chance < 1 ? 0.999 : chance > 0 && chance < 0.001 ? 0.001 : chance;
    if (t->wanted > 0) cot_buf_fmt(out, ",\"chance\":%.3f", told);
    else cot_buf_str(out, ",\"chance\":null");
}

static void put_figures(const struct cot_trays *t, const struct cot_sow_answer *a, struct cot_buf *out)
{
    cot_buf_fmt(out, "\"trays\":%lld,\"cells\":%lld,\"likely\":%lld,\"count_on\":%lld", (long long)a->trays,
                (long long)(a->trays * t->sow.tray_cells), (long long)a->likely, (long long)a->count_on);
    put_chance(t, cot_trays_chance(t, a->chance, a->trays * t->sow.tray_cells), out);
}

static void put_neighbour(const struct cot_trays *t, const char *key, const struct cot_sow_answer *a,
                          struct cot_buf *out)
{
    if (a->trays < 1) {
        cot_buf_fmt(out, ",\"%s\":null", key);
        return;
    }
    cot_buf_fmt(out, ",\"%s\":{", key);
    put_figures(t, a, out);
    cot_buf_str(out, "}");
}

/* Emergence may be more than in the test, below none; a trifle below it is none. */
static void put_share(double share, struct cot_buf *out)
{
    cot_buf_fmt(out, ",\"share\":%.3f", share < 0 && share > -0.0005 ? 0 : share);
}

static void put_parts(const struct cot_trays *t, struct cot_buf *out)
{
    cot_buf_str(out, ",\"allowance\":[");
    for (int c = 0; c < COT_CAUSE_COUNT; c++) {
        cot_buf_fmt(out, "%s{\"cause\":\"%s\",\"cells\":%lld", c > 0 ? "," : "", cot_trays_cause_key[c],
                    (long long)t->parts.part[c]);
        if (c <= COT_CAUSE_LOST) put_share(t->parts.share[c], out);
        cot_buf_str(out, "}");
    }
    cot_buf_str(out, "]");
}

static void put_two_stages(const struct cot_trays *t, struct cot_buf *out)
{
    const struct cot_pot_answer *p = &t->pot;
    cot_buf_fmt(out,
                ",\"trays\":%lld,\"on_to_trays\":%lld,\"to_pot_on_likely\":%lld,\"to_pot_on_count_on\":%lld,"
                "\"likely\":%lld,\"count_on\":%lld",
                (long long)p->plug_trays, (long long)p->trays, (long long)p->plugs_likely, (long long)p->plugs_count_on,
                (long long)p->likely, (long long)p->count_on);
    put_chance(t, cot_trays_chance(t, p->chance, cot_trays_pot_most(t)), out);
}

void cot_trays_put_json(const struct cot_trays *t, struct cot_buf *out)
{
    struct cot_buf assumed = {0}, warnings = {0};
    put_asked(t, out);
    if (t->on_to) {
        put_two_stages(t, out);
    } else {
        cot_buf_str(out, ",");
        put_figures(t, &t->now, out);
        if (!t->given) {
            put_neighbour(t, "one_fewer", &t->fewer, out);
            put_neighbour(t, "one_more", &t->more, out);
            put_parts(t, out);
        }
    }
    cot_buf_fmt(out, ",\"seeds\":%lld,\"seeds_enough\":%lld,", (long long)t->seeds.mean, (long long)t->seeds.enough);
    put_known(out, "seeds_per_g", t->found.seeds_per_g, t->found.seeds_per_g > 0);
    cot_buf_str(out, ",");
    put_known(out, "seeds_left", t->found.stock, t->found.stock >= 0);
    cot_buf_fmt(out, ",\"learned_from_batches\":%d", (int)t->sow.spread.batches);
    cot_trays_assumed(t, &assumed);
    put_lines(out, "assumed", &assumed);
    cot_trays_warnings(t, &warnings);
    put_lines(out, "warnings", &warnings);
    cot_buf_fmt(out, ",\"treated_seed\":%s}\n", cot_trays_treated(t) ? "true" : "false");
}
