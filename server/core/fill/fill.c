/* The fill report: supply and claims read from the book, shared out, and how sure that is. */
#include "cotyledger/core/fill.h"

#include <stdlib.h>
#include <string.h>

#include "fill/kept.h"
#include "fill/swap.h"

#define N COT_FILL_LEVELS

const struct cot_fill_line *cot_fill_line_of(const struct cot_fill *f, const struct cot_id *line)
{
    for (uint32_t i = 0; i < f->line_count; i++)
        if (f->line[i].line && cot_id_cmp(&f->line[i].line->id, line) == 0) return &f->line[i];
    return NULL;
}

void cot_fill_free(struct cot_fill *f)
{
    free(f->line);
    free(f->stand);
    free(f->batch);
    free(f->serves);
    free(f->allot);
    free(f->farm);
    *f = (struct cot_fill){0};
}

const char *cot_fill_word(enum cot_fill_verdict v)
{
    static const char *const words[] = {[COT_COVERED] = "covered", [COT_SHORT] = "short", [COT_IN_DOUBT] = "in doubt"};
    return (unsigned)v < sizeof words / sizeof words[0] ? words[v] : "?";
}

static void reading_free(struct cot_reading *r)
{
    cot_stand_shared_free(&r->shared);
    cot_lines_free(&r->lines);
    cot_sharing_free(&r->sharing);
    cot_net_free(&r->sharing.net);
    cot_supplies_free(&r->supplies);
    free(r->pick);
    free(r->edge);
    free(r->wish);
    free(r->claim);
    free(r->supply);
    free(r->left);
    free(r->extra);
    free(r->component);
    free(r->farm_of);
    free(r->prospect);
    free(r->farm.base);
    free(r->farm.sum);
    free(r->farm.never);
    free(r->farm.lacking);
    free(r->batch_lacking);
    free(r->changed);
    free(r->known);
    free(r->wanted);
}

void *cot_room(size_t n, size_t size)
{
    return calloc(n ? n : 1, size);
}

/* --- Stands ------------------------------------------------------------------------------------------------------- */

/* A what-if's release and patching. */
static bool change_stand(const struct cot_reading *r, const struct cot_thing *batch, struct cot_stand *s)
{
    const struct cot_what_if *c = r->change;
    bool released = c->release && cot_id_cmp(&c->release->id, &batch->id) == 0;
    if (released) s->held = false;
    if (!c->patch || cot_id_cmp(&c->patch->id, &batch->id) != 0) return released;
    s->fixed += c->patch_plants;
    cot_stand_finish(s, r->shared.confidence);
    return true;
}

static enum cot_err start_stands(struct cot_reading *r, size_t most)
{
    r->out->stand = cot_room(most + 1, sizeof *r->out->stand);
    r->out->batch = cot_room(most + 1, sizeof(const struct cot_thing *));
    r->out->serves = cot_room(most + 1, sizeof *r->out->serves);
    return r->out->stand && r->out->batch && r->out->serves ? COT_OK : COT_MEMORY;
}

static enum cot_err read_stands(struct cot_reading *r, struct cot_book *b)
{
    size_t all;
    enum cot_err err = cot_stand_shared_read(b, r->out->on, &r->shared);
    if (err != COT_OK) return err;
    const struct cot_thing *const *things = cot_book_things(b, COT_THING_BATCH, &all);
    err = start_stands(r, all);
    for (size_t i = 0; err == COT_OK && i < all; i++) {
        uint32_t k = r->out->batch_count;
        err = cot_stand_read_with(&r->shared, things[i], &r->out->stand[k]);
        if (err == COT_OK) r->out->batch[r->out->batch_count++] = things[i];
        if (err == COT_NOT_FOUND) err = COT_OK;
    }
    return err;
}

/* The stands of another reading of the same book and day. */
static enum cot_err take_stands(struct cot_reading *r, struct cot_book *b, const struct cot_fill *from)
{
    r->shared = (struct cot_stand_shared){.book = b, .on = from->on, .confidence = from->confidence};
    enum cot_err err = cot_handovers_list(b, from->on, &r->shared.handover, &r->shared.handover_count);
    if (err == COT_OK) err = start_stands(r, from->batch_count);
    for (uint32_t k = 0; err == COT_OK && k < from->batch_count; k++) {
        if (!from->batch[k]) continue;
        r->out->stand[r->out->batch_count] = from->stand[k];
        r->out->batch[r->out->batch_count++] = from->batch[k];
    }
    return err;
}

static enum cot_err change_stands(struct cot_reading *r)
{
    struct cot_fill *out = r->out;
    r->changed = cot_room((size_t)out->batch_count + 1, sizeof *r->changed);
    if (!r->changed) return COT_MEMORY;
    for (uint32_t k = 0; r->change && k < out->batch_count; k++)
        r->changed[k] = change_stand(r, out->batch[k], &out->stand[k]);
    if (!r->change || !r->change->batch) return COT_OK;
    out->if_batch = out->batch_count;
    r->changed[out->batch_count] = true;
    out->stand[out->batch_count++] = *r->change->batch;
    return COT_OK;
}

/* --- Wishes, claims, and the net ---------------------------------------------------------------------------------- */

enum { UNIT_PLANT, UNIT_ROW, UNIT_TRAY }; /* in the order of the field's words */
enum { TRAY_SOWN, TRAY_PLANTS };

/* Plants that go out together, for a line's format; "any" format: single plants. */
static int64_t unit_of(const struct cot_thing *house, const struct cot_thing *format)
{
    int64_t unit = cot_thing_int(house, COT_F_UNIT, UNIT_PLANT);
    if (!format || unit == UNIT_PLANT) return 1;
    int64_t cols = cot_thing_int(format, COT_F_COLS, 1), cells = cols * cot_thing_int(format, COT_F_ROWS, 1);
    if (unit == UNIT_ROW) return cols > 0 ? cols : 1;
    if (cot_thing_int(house, COT_F_TRAY_MEANS, TRAY_SOWN) == TRAY_PLANTS)
        cells = cot_thing_int(format, COT_F_TRAY_PLANTS, cells);
    return cells > 0 ? cells : 1;
}

static void make_wishes(struct cot_reading *r)
{
    for (size_t c = 0; c < r->lines.chunk_count; c++) r->wish[r->lines.chunk[c].line].need += r->lines.chunk[c].plants;
    for (uint32_t i = 0; i < r->lines.line_count; i++) {
        struct cot_line_in *in = &r->lines.line[i];
        struct cot_wish *w = &r->wish[i];
        w->line = i;
        w->handed = in->l.handed > 0 ? in->l.handed : 0;
        w->unit = in->l.unit = unit_of(r->house, in->l.format);
        w->least = in->least < w->handed + w->need ? in->least : w->handed + w->need;
    }
}

/* Claims in queue order; under `priority` those of the first priority first. */
static void make_claims(struct cot_reading *r)
{
    size_t n = 0;
    bool ranked = r->out->share == COT_SHARE_PRIORITY;
    for (int64_t p = 1; p <= COT_PRIORITY_NONE; p++) {
        for (size_t i = 0; i < r->lines.chunk_count; i++) {
            const struct cot_chunk *c = &r->lines.chunk[i];
            if (ranked ? r->lines.line[c->line].priority == p : p == 1)
                r->claim[n++] = (struct cot_claim){c->line, c->plants};
        }
    }
}

static enum cot_err build_net(struct cot_reading *r)
{
    size_t lines = r->lines.line_count, batches = r->out->batch_count;
    r->edge = cot_room(r->pick_count, sizeof *r->edge);
    r->wish = cot_room(lines, sizeof *r->wish);
    r->claim = cot_room(r->lines.chunk_count, sizeof *r->claim);
    r->supply = cot_room(batches, sizeof *r->supply);
    r->left = cot_room(batches, sizeof *r->left);
    r->extra = cot_room(r->pick_count, sizeof *r->extra);
    if (!r->edge || !r->wish || !r->claim || !r->supply || !r->left || !r->extra) return COT_MEMORY;
    for (size_t i = 0; i < r->pick_count; i++) r->edge[i] = r->pick[i].edge;
    make_wishes(r);
    make_claims(r);
    r->sharing = (struct cot_sharing){
        .net = {.lines = (uint32_t)lines, .batches = (uint32_t)batches, .edges = r->pick_count, .edge = r->edge},
        .rule = r->out->share,
        .wishes = (uint32_t)lines,
        .claims = r->lines.chunk_count,
        .wish = r->wish,
        .claim = r->claim,
    };
    enum cot_err err = cot_net_start(&r->sharing.net);
    return err == COT_OK ? cot_sharing_start(&r->sharing) : err;
}

/* --- The likely supply -------------------------------------------------------------------------------------------- */

static void note_allot(struct cot_reading *r, size_t e)
{
    struct cot_fill *out = r->out;
    const struct cot_pick *p = &r->pick[e];
    struct cot_allot a = {
        .line = p->edge.line,
        .batch = p->edge.batch,
        .plants = cot_net_flow(&r->sharing.net)[e],
        .extra = r->extra[e],
        .substitute = p->sub > 0,
    };
    if (a.plants == 0) return;
    out->allot[out->allot_count++] = a;
    out->line[a.line].allotted += a.plants;
    out->line[a.line].extra += a.extra;
    out->serves[a.batch].allotted += a.plants;
    out->serves[a.batch].extra += a.extra;
    out->serves[a.batch].lines++;
}

/* Amounts are settled; who has them of which batch may still be made simpler. */
static enum cot_err swap_likely(struct cot_reading *r)
{
    const struct cot_net *net = &r->sharing.net;
    int64_t *flow = cot_room(net->edges, sizeof *flow), *of = cot_room(net->batches, sizeof *of);
    int64_t *unit = cot_room(net->lines, sizeof *unit);
    uint32_t *alike = cot_room(net->edges, sizeof *alike);
    bool room = flow && of && unit && alike;
    if (room) {
        for (size_t e = 0; e < net->edges; e++) alike[e] = 2 * r->pick[e].sub + r->pick[e].own_seed;
        for (uint32_t i = 0; i < net->lines; i++) unit[i] = r->wish[i].unit;
        cot_net_keep(net, flow, of);
        (void)cot_swaps(&(struct cot_swap){net, alike, unit, flow});
        cot_net_resume(net, flow, of, r->supply);
    }
    free(flow);
    free(of);
    free(unit);
    free(alike);
    return room ? COT_OK : COT_MEMORY;
}

static enum cot_err share_likely(struct cot_reading *r)
{
    struct cot_fill *out = r->out;
    out->line = cot_room(r->lines.line_count, sizeof *out->line);
    out->allot = cot_room(r->pick_count, sizeof *out->allot);
    if (!out->line || !out->allot) return COT_MEMORY;
    out->line_count = r->lines.line_count;
    for (uint32_t b = 0; b < out->batch_count; b++) {
        int64_t there = out->stand[b].likely - out->stand[b].out;
        r->supply[b] = there > 0 ? there : 0;
    }
    cot_share(&r->sharing, r->supply);
    if (swap_likely(r) != COT_OK) return COT_MEMORY;
    cot_share_extra(&r->sharing, r->left, r->extra);
    for (uint32_t i = 0; i < out->line_count; i++) {
        out->line[i] = r->lines.line[i].l;
        out->line[i].passed_over = cot_share_passed(&r->sharing)[i];
    }
    for (size_t e = 0; e < r->pick_count; e++) note_allot(r, e);
    for (uint32_t b = 0; b < out->batch_count; b++) out->serves[b].left = r->left[b];
    return COT_OK;
}

/* --- Every possible supply ---------------------------------------------------------------------------------------- */

static enum cot_err list_farms(struct cot_reading *r)
{
    struct cot_fill *out = r->out;
    out->farm = cot_room(out->line_count, sizeof *out->farm);
    r->farm_of = cot_room(out->line_count, sizeof *r->farm_of);
    if (!out->farm || !r->farm_of) return COT_MEMORY;
    for (uint32_t i = 0; i < out->line_count; i++) {
        const struct cot_line_in *l = &r->lines.line[i];
        bool same = i > 0 && cot_id_cmp(l->farm_id, l[-1].farm_id) == 0;
        if (!same) out->farm[out->farm_count++] = (struct cot_fill_farm){.farm = l->l.farm, .first_line = i};
        out->farm[out->farm_count - 1].line_count++;
        r->farm_of[i] = out->farm_count - 1;
    }
    return COT_OK;
}

/* Numbers the components; batches that no line may have are in none. Returns how many. */
static uint32_t find_components(struct cot_reading *r)
{
    uint32_t groups = cot_net_groups(&r->sharing.net, r->component);
    const size_t *first;
    (void)cot_net_edges_of(&r->sharing.net, &first);
    for (uint32_t b = 0; b < r->out->batch_count; b++)
        if (first[b] == first[b + 1]) r->component[b] = UINT32_MAX;
    return groups;
}

static bool reserve_chances(struct cot_reading *r)
{
    size_t farms = r->out->farm_count, batches = r->out->batch_count;
    r->component = cot_room(batches, sizeof *r->component);
    r->prospect = cot_room(r->out->line_count, sizeof *r->prospect);
    r->farm.never = cot_room(farms, sizeof *r->farm.never);
    if (!r->component || !r->prospect || !r->farm.never) return false;
    if (r->from) return true;
    r->farm.base = cot_room(farms, sizeof *r->farm.base);
    r->farm.sum = cot_room(farms * N, sizeof *r->farm.sum);
    r->farm.lacking = cot_room(farms * N, sizeof *r->farm.lacking);
    r->batch_lacking = cot_room(batches, sizeof *r->batch_lacking);
    return r->farm.base && r->farm.sum && r->farm.lacking && r->batch_lacking;
}

static enum cot_err share_each(struct cot_reading *r)
{
    if (!reserve_chances(r)) return COT_MEMORY;
    uint32_t components = find_components(r);
    enum cot_err err = r->from ? cot_kept_recall(r, components) : COT_OK;
    if (err == COT_OK)
        err = cot_supplies_spread_some(r->out->stand, r->out->batch_count, r->component,
                                       r->from ? &r->from->normals : NULL, r->wanted, &r->supplies);
    if (err != COT_OK) return err;
    struct cot_chance_task task = {
        .whole = &r->sharing,
        .component = r->component,
        .components = components,
        .supplies = &r->supplies,
        .confidence = r->out->confidence,
        .farm_of = r->farm_of,
        .prospect = r->prospect,
        .farm = r->farm,
        .batch_lacking = r->batch_lacking,
        .known = r->known,
        .prospects_only = r->from != NULL,
    };
    err = cot_chances(&task);
    return err == COT_OK && r->keep ? cot_kept_store(r) : err;
}

/* --- The change of a what-if ----------------------------------------------------------------------------------------
 */

static enum cot_err check_line(struct cot_book *b, const struct cot_if_line *c, struct cot_fault *fault)
{
    if (c->line && (c->line->type != COT_THING_LINE || !cot_book_thing(b, &c->line->id)))
        return cot_fail(fault, COT_INVALID, "what if: not an order line of this house");
    if (c->line && c->line->gone) return cot_fail(fault, COT_INVALID, "what if: the line was withdrawn already");
    if (!c->line && c->withdrawn) return cot_fail(fault, COT_INVALID, "what if: name the line that is withdrawn");
    if (c->withdrawn) return COT_OK;
    if (!c->farm || c->farm->type != COT_THING_FARM) return cot_fail(fault, COT_INVALID, "what if: name a farm");
    if (!c->variety || c->variety->type != COT_THING_VARIETY)
        return cot_fail(fault, COT_INVALID, "what if: name a variety");
    if (c->format && c->format->type != COT_THING_FORMAT)
        return cot_fail(fault, COT_INVALID, "what if: name a tray format, or any");
    if (c->date < COT_DAY_MIN || c->date > COT_DAY_MAX) return cot_fail(fault, COT_INVALID, "what if: no such day");
    if (c->plants < 1 || c->plants > cot_field_row(COT_F_PLANTS)->max)
        return cot_fail(fault, COT_INVALID, "what if: plants from 1 to 10000000");
    if (c->least < 0 || c->least > c->plants)
        return cot_fail(fault, COT_INVALID, "what if: the least worth having is from 0 to the plants wanted");
    if (c->early < 0 || c->early > cot_field_row(COT_F_EARLY)->max || c->late < 0 ||
        c->late > cot_field_row(COT_F_LATE)->max)
        return cot_fail(fault, COT_INVALID, "what if: days earlier and later from 0 to 60");
    if (c->priority < 0 || c->priority > cot_field_row(COT_F_PRIORITY)->max)
        return cot_fail(fault, COT_INVALID, "what if: priority from 1 to 9, or none");
    return COT_OK;
}

static bool no_batch(struct cot_book *b, const struct cot_thing *t)
{
    return t && (t->type != COT_THING_BATCH || !cot_book_thing(b, &t->id));
}

static enum cot_err check_change(struct cot_book *b, const struct cot_what_if *c, struct cot_fault *fault)
{
    if (no_batch(b, c->release) || no_batch(b, c->patch))
        return cot_fail(fault, COT_INVALID, "what if: not a batch of this house");
    if (c->patch && (c->patch_plants < 0 || c->patch_plants > cot_field_row(COT_F_PLANTS)->max))
        return cot_fail(fault, COT_INVALID, "what if: patched plants from 0 to 10000000");
    if (c->other_share && (unsigned)c->share > COT_SHARE_PRORATA)
        return cot_fail(fault, COT_INVALID, "what if: no such rule of sharing");
    return c->line ? check_line(b, c->line, fault) : COT_OK;
}

enum cot_err cot_fill_read(struct cot_book *b, int32_t on, struct cot_fill *out)
{
    return cot_fill_read_if(b, on, NULL, out, NULL);
}

static enum cot_err read_fill(struct cot_reading *r, struct cot_book *b, const struct cot_fill *base)
{
    struct cot_fill *out = r->out;
    const struct cot_what_if *change = r->change;
    out->share = (enum cot_share_rule)cot_thing_int(r->house, COT_F_SHARE, COT_SHARE_FIRST);
    if (change && change->other_share) out->share = change->share;
    enum cot_err err = base ? take_stands(r, b, base) : read_stands(r, b);
    if (err == COT_OK) err = change_stands(r);
    out->confidence = r->shared.confidence;
    if (err == COT_OK)
        err = cot_lines_read(b, r->shared.handover, r->shared.handover_count, change ? change->line : NULL, &r->lines);
    out->if_line = r->lines.if_line;
    if (err == COT_OK) err = cot_find_picks(r);
    if (err == COT_OK) err = build_net(r);
    if (err == COT_OK) err = share_likely(r);
    if (err == COT_OK) err = list_farms(r);
    if (err == COT_OK) err = share_each(r);
    if (err == COT_OK) cot_fill_judge(r);
    return err;
}

/* `r` names what is kept; the rest of it is scratch. */
static enum cot_err read_with(struct cot_reading *r, struct cot_book *b, const struct cot_fill *base, int32_t on,
                              const struct cot_what_if *change, struct cot_fill *out, struct cot_fault *fault)
{
    r->out = out;
    r->change = change;
    r->house = cot_book_house(b);
    *out = (struct cot_fill){.on = on, .if_line = UINT32_MAX, .if_batch = UINT32_MAX};
    if (!r->house) return cot_fail(fault, COT_INVALID, "the book has no house yet: fetch first");
    enum cot_err err = change ? check_change(b, change, fault) : COT_OK;
    if (err != COT_OK) return err;
    err = read_fill(r, b, base);
    reading_free(r);
    if (err != COT_OK) cot_fill_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}

enum cot_err cot_fill_read_again(struct cot_book *b, const struct cot_fill *base, int32_t on,
                                 const struct cot_what_if *change, struct cot_fill *out, struct cot_fault *fault)
{
    struct cot_reading r = {0};
    return read_with(&r, b, base, on, change, out, fault);
}

enum cot_err cot_fill_read_kept(struct cot_book *b, int32_t on, const struct cot_what_if *change, struct cot_fill *out,
                                struct cot_fill_kept **kept, struct cot_fault *fault)
{
    struct cot_reading r = {.keep = calloc(1, sizeof *r.keep)};
    *kept = r.keep;
    *out = (struct cot_fill){0};
    if (!r.keep) return cot_fail(fault, COT_MEMORY, "out of memory");
    cot_normals_make(&r.keep->normals);
    return read_with(&r, b, NULL, on, change, out, fault);
}

enum cot_err cot_fill_lines_if(struct cot_book *b, const struct cot_fill *base, const struct cot_fill_kept *kept,
                               const struct cot_what_if *change, struct cot_fill *out, struct cot_fault *fault)
{
    struct cot_reading r = {.from = kept};
    return read_with(&r, b, base, base->on, change, out, fault);
}

void cot_fill_kept_free(struct cot_fill_kept *k)
{
    if (!k) return;
    free(k->first);
    free(k->word);
    free(k->line_first);
    free(k->prospect);
    free(k);
}

enum cot_err cot_fill_read_if(struct cot_book *b, int32_t on, const struct cot_what_if *change, struct cot_fill *out,
                              struct cot_fault *fault)
{
    return cot_fill_read_again(b, NULL, on, change, out, fault);
}
