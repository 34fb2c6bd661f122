/* Sharing many supplies out over one net.
 *
 * By queue, without units or a least worth having, what a claim gets in the first pass never falls when any batch's
 * supply rises: to a claim, supplies and earlier claims together are like the two sides of an assignment, where more of
 * one side makes more of the other worth more (Shapley 1962, "Complements and substitutes in the optimal assignment
 * problem", Naval Res. Logist. Quart. 9:45-48, from memory). So among points of a box of supplies every claim gets at
 * least what it gets at the box's least corner and at most what it gets at its most: where the two are the same, it is
 * known for all points of the box. And the shares at a point are found from those at the least corner by serving, in
 * queue order, what claims lack there: both are the first of all shares in the queue's order, and the one contains the
 * other. The points are therefore parted into ever smaller boxes, and each box only looks at claims that its parent
 * left open. */
#include <stdlib.h>
#include <string.h>

#include "fill/amounts.h"
#include "fill/piece.h"

#define PARTS 8       /* boxes that one is parted into */
#define ALONE 8       /* so few points are shared out one by one */
#define DEPTH 12      /* as are those of boxes so deep */
#define WHOLE_DEPTH 2 /* the same under the other rules */
#define LARGE_DEPTH 1 /* the same of nets that are not small: so many batches differ that boxes settle little */

/* What is known of a box. */
struct box {
    struct cot_given kept; /* what is given at the least corner */
    struct cot_ask *ask;   /* of open claims, in queue order: what they lack at the least corner */
    size_t asks;
    uint32_t *wish; /* open ones */
    int64_t *got;   /* per wish of the piece, if open: at the least corner */
    uint32_t wishes;
    int64_t *least, *most; /* per axis: its corners */
};

struct walk {
    struct cot_piece *piece;
    const struct cot_net *net;
    struct cot_amounts amounts;
    uint32_t batches, axes; /* of the net; those and their sum */
    struct box box[DEPTH + 1];
    uint32_t *seen; /* per wish: the latest box that found it open */
    uint32_t boxes;
    uint32_t *origin, *place; /* of the points of a box while it is parted */
    int64_t *got;             /* at one point: per wish */
    struct cot_ask *ask;      /* at one point, or corner */
    bool plain;               /* by queue, without units and leasts */
    bool any_spare;
    uint32_t deepest;
};

/* --- What is found ------------------------------------------------------------------------------------------------ */

static enum cot_err note(struct cot_piece *p, uint32_t wish, uint32_t low, uint32_t high, int64_t plants)
{
    uint32_t last = p->last[wish];
    if (plants == 0) return COT_OK;
    if (last != COT_NO_SPELL && p->spell[last].high == low && p->spell[last].plants == plants) {
        p->spell[last].high = high;
        return COT_OK;
    }
    if (p->spells == p->room) {
        size_t room = p->room * 2 + 256;
        struct cot_spell *more = room < COT_NO_SPELL ? realloc(p->spell, room * sizeof *more) : NULL;
        if (!more) return COT_MEMORY;
        p->spell = more;
        p->room = room;
    }
    p->spell[p->spells] = (struct cot_spell){plants, low, high, wish};
    p->last[wish] = (uint32_t)p->spells++;
    return COT_OK;
}

static const int64_t *supply_at(const struct walk *w, uint32_t point)
{
    return w->piece->supply + (size_t)w->piece->origin[point] * w->axes;
}

/* --- Points that are alike ---------------------------------------------------------------------------------------- */

/* Gives all that asks, adding to what wishes have. What each still lacks stays in `ask`. */
static void give(const struct walk *w, struct cot_ask *ask, size_t asks, int64_t *got)
{
    for (size_t i = 0; i < asks; i++) got[ask[i].wish] += ask[i].want;
    cot_amounts_give_all(&w->amounts, ask, asks);
    for (size_t i = 0; i < asks; i++) got[ask[i].wish] -= ask[i].want;
}

/* Shares the supply of the points low .. high - 1 out, who all have the same. */
static enum cot_err share_alike(struct walk *w, const struct box *b, uint32_t low, uint32_t high)
{
    enum cot_err err = COT_OK;
    cot_amounts_resume(&w->amounts, &b->kept, supply_at(w, low));
    for (uint32_t i = 0; i < b->wishes; i++) w->got[b->wish[i]] = b->got[b->wish[i]];
    memcpy(w->ask, b->ask, b->asks * sizeof *w->ask);
    give(w, w->ask, b->asks, w->got);
    if (w->any_spare) {
        for (size_t i = 0; i < b->asks; i++) w->ask[i].node++;
        give(w, w->ask, b->asks, w->got);
    }
    for (uint32_t i = 0; i < b->wishes && err == COT_OK; i++)
        err = note(w->piece, b->wish[i], low, high, w->got[b->wish[i]]);
    return err;
}

/* --- A box of points ---------------------------------------------------------------------------------------------- */

static void find_corners(const struct walk *w, uint32_t low, uint32_t high, struct box *b)
{
    const uint32_t *origin = w->piece->origin;
    for (uint32_t k = 0; k < w->axes; k++) {
        const int64_t *supply = w->piece->supply + k;
        int64_t least = supply[(size_t)origin[low] * w->axes], most = least;
        for (uint32_t i = low + 1; i < high; i++) {
            int64_t at = supply[(size_t)origin[i] * w->axes];
            least = at < least ? at : least;
            most = at > most ? at : most;
        }
        b->least[k] = least;
        b->most[k] = most;
    }
}

static void share_least_corner(struct walk *w, const struct box *outer, struct box *b)
{
    cot_amounts_resume(&w->amounts, &outer->kept, b->least);
    for (uint32_t i = 0; i < outer->wishes; i++) b->got[outer->wish[i]] = outer->got[outer->wish[i]];
    memcpy(b->ask, outer->ask, outer->asks * sizeof *b->ask);
    give(w, b->ask, outer->asks, b->got);
    b->asks = 0;
    for (size_t i = 0; i < outer->asks; i++)
        if (b->ask[i].want > 0) b->ask[b->asks++] = b->ask[i];
    cot_amounts_keep(&w->amounts, &b->kept);
}

/* Claims stay open that get more at the most corner, or may get what is spare. */
static void share_most_corner(struct walk *w, struct box *b)
{
    const size_t *first = cot_net_node(w->net);
    size_t open = 0;
    cot_amounts_resume(&w->amounts, &b->kept, b->most);
    memcpy(w->ask, b->ask, b->asks * sizeof *w->ask);
    cot_amounts_give_all(&w->amounts, w->ask, b->asks);
    for (size_t i = 0; i < b->asks; i++) {
        uint32_t spare = b->ask[i].node + 1;
        if (w->ask[i].want < b->ask[i].want || first[spare] < first[spare + 1]) b->ask[open++] = b->ask[i];
    }
    b->asks = open;
}

static enum cot_err narrow(struct walk *w, const struct box *outer, struct box *b, uint32_t low, uint32_t high)
{
    enum cot_err err = COT_OK;
    share_least_corner(w, outer, b);
    share_most_corner(w, b);
    w->boxes++;
    for (size_t i = 0; i < b->asks; i++) w->seen[b->ask[i].wish] = w->boxes;
    b->wishes = 0;
    for (uint32_t i = 0; i < outer->wishes && err == COT_OK; i++) {
        uint32_t wish = outer->wish[i];
        if (w->seen[wish] == w->boxes) b->wish[b->wishes++] = wish;
        else err = note(w->piece, wish, low, high, b->got[wish]);
    }
    return err;
}

/* The sum of all batches first: it decides most. */
static uint32_t widest_axis(const struct walk *w, const struct box *b, uint32_t depth)
{
    uint32_t widest = 0;
    if (depth == 0 && b->least[w->batches] < b->most[w->batches]) return w->batches;
    for (uint32_t k = 1; k < w->batches; k++)
        if (b->most[k] - b->least[k] > b->most[widest] - b->least[widest]) widest = k;
    return widest;
}

/* Parts a box along an axis. Points keep their order within a part; first[k]: first point of part k. */
static void part(struct walk *w, uint32_t low, uint32_t high, int64_t from, int64_t to, uint32_t axis,
                 uint32_t first[static PARTS + 1])
{
    struct cot_piece *p = w->piece;
    const int64_t *key = p->supply + axis;
    double scale = PARTS / (double)(to - from + 1);
    uint32_t next[PARTS];
    memset(first, 0, (PARTS + 1) * sizeof *first);
    for (uint32_t i = low; i < high; i++) {
        uint32_t k = (uint32_t)((double)(key[(size_t)p->origin[i] * w->axes] - from) * scale);
        w->place[i - low] = k < PARTS ? k : PARTS - 1;
        first[w->place[i - low] + 1]++;
    }
    first[0] = low;
    for (uint32_t k = 0; k < PARTS; k++) next[k] = first[k + 1] += first[k];
    memmove(next + 1, next, (PARTS - 1) * sizeof *next);
    next[0] = low;
    for (uint32_t i = 0; i < high - low; i++) w->place[i] = next[w->place[i]]++;
    memcpy(w->origin, p->origin + low, (high - low) * sizeof *w->origin);
    for (uint32_t i = 0; i < high - low; i++) p->origin[w->place[i]] = w->origin[i];
}

/* Under the other rules, with units or a least worth having: shares may be anything, but where nobody lacks anything at
 * the least corner, nobody does anywhere in the box. */
static enum cot_err share_whole(struct walk *w, const int64_t *supply, uint32_t low, uint32_t high, bool *full)
{
    struct cot_piece *p = w->piece;
    const int64_t *got = cot_share_got(&p->sharing);
    enum cot_err err = COT_OK;
    bool all = true;
    cot_share(&p->sharing, supply);
    for (uint32_t i = 0; i < p->wishes && all; i++) all = got[i] == p->wish[i].need;
    if (full) *full = all;
    for (uint32_t i = 0; i < p->wishes && err == COT_OK && (all || !full); i++) err = note(p, i, low, high, got[i]);
    return err;
}

static enum cot_err share_each(struct walk *w, const struct box *b, uint32_t low, uint32_t high)
{
    enum cot_err err = COT_OK;
    for (uint32_t i = low; i < high && err == COT_OK; i++) {
        if (w->plain) {
            err = share_alike(w, b, i, i + 1);
            continue;
        }
        err = share_whole(w, supply_at(w, i), i, i + 1, NULL);
    }
    return err;
}

static enum cot_err visit(struct walk *w, uint32_t low, uint32_t high, uint32_t depth)
{
    const struct box *outer = &w->box[depth];
    struct box *b = &w->box[depth + 1];
    uint32_t first[PARTS + 1];
    bool done = false;
    if (high - low <= ALONE || depth == w->deepest) return share_each(w, outer, low, high);
    find_corners(w, low, high, b);
    enum cot_err err = w->plain ? narrow(w, outer, b, low, high) : share_whole(w, b->least, low, high, &done);
    if (err != COT_OK || done || (w->plain && b->asks == 0)) return err;
    if (w->plain && memcmp(b->least, b->most, w->batches * sizeof *b->least) == 0) return share_alike(w, b, low, high);
    uint32_t axis = widest_axis(w, b, depth);
    part(w, low, high, b->least[axis], b->most[axis], axis, first);
    for (uint32_t k = 0; k < PARTS && err == COT_OK; k++)
        if (first[k] < first[k + 1]) err = visit(w, first[k], first[k + 1], depth + 1);
    return err;
}

/* --- All ---------------------------------------------------------------------------------------------------------- */

static bool reserve_box(const struct walk *w, struct box *b)
{
    const struct cot_piece *p = w->piece;
    size_t wishes = (size_t)p->wishes + 1;
    b->ask = calloc(p->claims + 1, sizeof *b->ask);
    b->wish = calloc(wishes, sizeof *b->wish);
    b->got = calloc(wishes, sizeof *b->got);
    b->least = calloc(w->axes, sizeof *b->least);
    b->most = calloc(w->axes, sizeof *b->most);
    return cot_given_start(&b->kept, &w->amounts) == COT_OK && b->ask && b->wish && b->got && b->least && b->most;
}

static void walk_free(struct walk *w)
{
    for (uint32_t d = 0; d <= DEPTH; d++) {
        struct box *b = &w->box[d];
        cot_given_free(&b->kept);
        free(b->ask);
        free(b->wish);
        free(b->got);
        free(b->least);
        free(b->most);
    }
    cot_amounts_free(&w->amounts);
    free(w->seen);
    free(w->origin);
    free(w->place);
    free(w->got);
    free(w->ask);
}

static bool reserve(struct walk *w)
{
    const struct cot_piece *p = w->piece;
    bool there = true;
    for (uint32_t d = 0; d <= DEPTH; d++) there = there && reserve_box(w, &w->box[d]);
    w->seen = calloc((size_t)p->wishes + 1, sizeof *w->seen);
    w->origin = calloc((size_t)p->points + 1, sizeof *w->origin);
    w->place = calloc((size_t)p->points + 1, sizeof *w->place);
    w->got = calloc((size_t)p->wishes + 1, sizeof *w->got);
    w->ask = calloc(p->claims + 1, sizeof *w->ask);
    return there && w->seen && w->origin && w->place && w->got && w->ask;
}

enum cot_err cot_walk(struct cot_piece *p)
{
    struct walk w = {.piece = p, .net = &p->merged.net, .batches = p->merged.net.batches};
    struct box *b = &w.box[0];
    enum cot_err err = COT_MEMORY;
    w.axes = w.batches + 1;
    if (cot_amounts_start(&w.amounts, w.net) != COT_OK || !reserve(&w)) goto out;
    for (size_t e = 0; e < w.net->edges; e++) w.any_spare = w.any_spare || w.net->edge[e].spare;
    w.plain = p->sharing.rule != COT_SHARE_PRORATA;
    for (uint32_t i = 0; i < p->wishes && w.plain; i++) w.plain = p->wish[i].unit <= 1 && p->wish[i].least <= 0;
    w.deepest = !w.plain ? (w.any_spare ? 0 : WHOLE_DEPTH) : w.amounts.small ? DEPTH : LARGE_DEPTH;
    for (size_t c = 0; c < p->claims; c++) {
        uint32_t wish = p->claim[c].wish;
        b->ask[c] = (struct cot_ask){2 * p->wish[wish].line, wish, p->claim[c].plants};
    }
    for (uint32_t i = 0; i < p->wishes; i++) b->wish[i] = i;
    b->asks = p->claims;
    b->wishes = p->wishes;
    err = visit(&w, 0, p->points, 0);
out:
    walk_free(&w);
    return err;
}
