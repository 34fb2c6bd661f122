/* Facts carried over under a new tag: which entry of an identity counts, and entries that name themselves in a circle.
 *
 * Of one identity counts the sent entry whose digest it is, else the sent carrier at the lowest position, else the
 * unsent entry whose digest it is, else the unsent carrier at the earliest place: what is not sent yet never decides
 * over what is. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

static bool counts_before(const struct cot_book *b, uint32_t root, const struct cot_entry *x, const struct cot_entry *y)
{
    bool sent_x = x->position > 0, sent_y = y->position > 0;
    if (sent_x != sent_y) return sent_x;
    if (x->slot == root || y->slot == root) return x->slot == root;
    if (sent_x) return x->position < y->position;
    return cot_place_cmp(b, x, y) < 0;
}

static void find_winners(struct cot_book *b)
{
    for (size_t i = 0; i < b->carriers.count; i++) {
        struct cot_slot *s = cot_slot_at(b, cot_root_of(b, cot_entry_at(b, b->carriers.item[i])));
        s->winner = s->own;
    }
    for (size_t i = 0; i < b->carriers.count; i++) {
        const struct cot_entry *e = cot_entry_at(b, b->carriers.item[i]);
        uint32_t root = cot_root_of(b, e);
        struct cot_slot *s = cot_slot_at(b, root);
        if (!s->winner || counts_before(b, root, e, cot_entry_at(b, s->winner))) s->winner = b->carriers.item[i];
    }
}

static void set_bit(struct cot_book *b, uint32_t entry, uint8_t bit, bool on)
{
    struct cot_entry *e = cot_entry_at(b, entry);
    if (((e->bits & bit) != 0) == on) return;
    e->bits ^= bit;
    cot_mark(b, entry);
    if (cot_is_admin(e)) b->admin_stale = true;
}

static void set_twice(struct cot_book *b)
{
    for (size_t i = 0; i < b->carriers.count; i++) {
        const struct cot_entry *e = cot_entry_at(b, b->carriers.item[i]);
        const struct cot_slot *s = cot_slot_at(b, cot_root_of(b, e));
        if (s->own) set_bit(b, s->own, COT_E_TWICE, s->winner != s->own);
        set_bit(b, b->carriers.item[i], COT_E_TWICE, s->winner != b->carriers.item[i]);
    }
}

/* --- Circles: the strongly connected parts of "names", among what carriers reach (Tarjan 1972)
 * ------------------------- */
struct walk {
    struct cot_book *b;
    uint32_t *order, *low; /* by entry; 0: not reached */
    bool *on;
    struct cot_list path, names, start; /* names: references of the entries on the way, start: where each's begin */
    struct cot_list way, next, rings;
    uint32_t clock;
    bool failed;
};

static void add_name(struct walk *w, uint32_t slot)
{
    uint32_t winner = slot ? cot_winner(w->b, slot) : 0;
    if (winner && !cot_list_push(&w->names, winner)) w->failed = true;
}

static void enter(struct walk *w, uint32_t entry)
{
    const struct cot_entry *e = cot_entry_at(w->b, entry);
    w->order[entry] = w->low[entry] = ++w->clock;
    w->on[entry] = true;
    bool ok = cot_list_push(&w->path, entry) && cot_list_push(&w->way, entry) &&
              cot_list_push(&w->start, (uint32_t)w->names.count) && cot_list_push(&w->next, (uint32_t)w->names.count);
    if (!ok) w->failed = true;
    add_name(w, e->about);
    add_name(w, e->farm);
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p))
        for (uint32_t i = 0; cot_field_thing((enum cot_field)p.field) && p.type != COT_T_NONE && i < p.len; i++)
            add_name(w, cot_packed_member(&p, i));
}

/* The entry on top of the way is done: close its part if it is the part's first. */
static void leave(struct walk *w, uint32_t entry)
{
    size_t top = --w->way.count;
    w->names.count = w->start.item[top];
    w->start.count = w->next.count = top;
    if (top) {
        uint32_t above = w->way.item[top - 1];
        if (w->low[entry] < w->low[above]) w->low[above] = w->low[entry];
    }
    if (w->low[entry] != w->order[entry]) return;
    bool circle = w->path.item[w->path.count - 1] != entry;
    uint32_t member;
    do {
        member = w->path.item[--w->path.count];
        w->on[member] = false;
        set_bit(w->b, member, COT_E_RING, circle);
        if (circle && !cot_list_push(&w->rings, member)) w->failed = true;
    } while (member != entry);
}

static void walk_from(struct walk *w, uint32_t entry)
{
    if (w->order[entry]) return;
    enter(w, entry);
    while (w->way.count && !w->failed) {
        size_t top = w->way.count - 1;
        uint32_t here = w->way.item[top];
        if (w->next.item[top] == w->names.count) {
            leave(w, here);
            continue;
        }
        uint32_t to = w->names.item[w->next.item[top]++];
        if (!w->order[to]) enter(w, to);
        else if (w->on[to] && w->order[to] < w->low[here]) w->low[here] = w->order[to];
    }
}

static bool find_circles(struct cot_book *b)
{
    size_t n = b->entries.count;
    struct walk w = {.b = b, .order = calloc(n, sizeof *w.order), .low = calloc(n, sizeof *w.low), .on = calloc(n, 1)};
    w.failed = !w.order || !w.low || !w.on;
    for (size_t i = 0; i < b->carriers.count && !w.failed; i++) walk_from(&w, b->carriers.item[i]);
    for (size_t i = 0; i < b->rings.count && !w.failed; i++) /* circles that are none any more */
        if (!w.order[b->rings.item[i]]) set_bit(b, b->rings.item[i], COT_E_RING, false);
    cot_list_free(&b->rings);
    b->rings = w.rings;
    free(w.order);
    free(w.low);
    free(w.on);
    cot_list_free(&w.path);
    cot_list_free(&w.names);
    cot_list_free(&w.start);
    cot_list_free(&w.way);
    cot_list_free(&w.next);
    return !w.failed;
}

bool cot_carry_read(struct cot_book *b)
{
    find_winners(b);
    set_twice(b);
    if (!find_circles(b)) return false;
    b->carriers_stale = false;
    return true;
}
