/* Who may: members, devices and house rules as they stood at a position. The admin rows are few; they are judged
 * together, in order of position, whenever one of them is new. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

#define HOUSE_TAG ((uint32_t)'H' << 24)

void cot_admin_free(struct cot_admin *a)
{
    cot_arena_free(&a->arena);
    free(a->device);
    free(a->member);
    free(a->rule);
    memset(a, 0, sizeof *a);
}

/* First of `n` sorted items whose key is not below `key`. */
#define LOWER_BOUND(array, n, field, key)                                                                              \
    uint32_t low = 0, high = (n);                                                                                      \
    while (low < high) {                                                                                               \
        uint32_t mid = low + (high - low) / 2;                                                                         \
        if ((array)[mid].field < (key)) low = mid + 1;                                                                 \
        else high = mid;                                                                                               \
    }

const struct cot_device_in *cot_device_find(const struct cot_book *b, uint32_t tag)
{
    const struct cot_admin *a = &b->admin;
    LOWER_BOUND(a->device, a->devices, tag, tag)
    return low < a->devices && a->device[low].tag == tag ? &a->device[low] : NULL;
}

const struct cot_member_in *cot_member_find(const struct cot_book *b, uint32_t root)
{
    const struct cot_admin *a = &b->admin;
    LOWER_BOUND(a->member, a->members, root, root)
    return low < a->members && a->member[low].root == root ? &a->member[low] : NULL;
}

int cot_member_part(const struct cot_member_in *m, int64_t before)
{
    LOWER_BOUND(m->parts, m->part_count, position, before)
    return low ? m->parts[low - 1].part : -1;
}

static struct cot_rule_in rule_at(const struct cot_book *b, int64_t before)
{
    LOWER_BOUND(b->admin.rule, b->admin.rules, position, before)
    return low ? b->admin.rule[low - 1] : (struct cot_rule_in){0, 0, -1};
}

int cot_rule_offset(const struct cot_book *b, int64_t before)
{
    return rule_at(b, before).offset;
}

int cot_rule_closing(const struct cot_book *b, int64_t before)
{
    return rule_at(b, before).closing;
}

/* --- Permission of any row --------------------------------------------------------------------------------------- */
static enum cot_why house_may(const struct cot_book *b, const struct cot_entry *e)
{
    const struct cot_kind_row *row = cot_kind_row((enum cot_kind)e->kind);
    if (!(row->by & COT_BY_HOUSE) || (e->bits & COT_E_HAS_MEMBER)) return COT_WHY_PART;
    if (e->kind == COT_K_HOUSE) return COT_WHY_NONE;
    return b->admin.house && b->admin.house_position < cot_judged_at(e) ? COT_WHY_NONE : COT_WHY_NO_DEVICE;
}

static bool buyer_at_home(const struct cot_book *b, const struct cot_entry *e, const struct cot_member_in *m)
{
    return e->farm && m->farm && cot_root(b, e->farm) == cot_root(b, m->farm);
}

enum cot_why cot_may(const struct cot_book *b, struct cot_entry *e)
{
    e->part = COT_PART_AUDITOR;
    if (e->tag == HOUSE_TAG) return house_may(b, e);
    const struct cot_device_in *d = cot_device_find(b, e->tag);
    int64_t at = cot_judged_at(e);
    if (!d || d->joined >= at) return COT_WHY_NO_DEVICE;
    const struct cot_member_in *m = cot_member_find(b, d->member);
    int part = m ? cot_member_part(m, at) : -1;
    if (part < 0) return COT_WHY_NO_DEVICE;
    e->part = (uint8_t)part;
    if (d->closed < at) return COT_WHY_CLOSED;
    if (!e->member || cot_root(b, e->member) != d->member) return COT_WHY_NOT_HERS;
    static const unsigned bit[] = {COT_BY_MANAGER, COT_BY_HAND, COT_BY_BUYER, 0};
    if (!(cot_kind_row((enum cot_kind)e->kind)->by & bit[part])) return COT_WHY_PART;
    if (part == COT_PART_BUYER && !buyer_at_home(b, e, m)) return COT_WHY_OTHER_FARM;
    return COT_WHY_NONE;
}

/* --- The admin rows -------------------------------------------------------------------------------------------------
 */
struct sitting { /* members are found by root while they are not sorted yet */
    struct cot_book *b;
    bool failed;
};

#define GROW(array, count, cap0)                                                                                       \
    do {                                                                                                               \
        if (((count) & ((count)-1)) == 0) {                                                                            \
            size_t cap = (count) ? (size_t)(count)*2 : (cap0);                                                         \
            void *more = realloc((array), cap * sizeof *(array));                                                      \
            if (!more) {                                                                                               \
                s->failed = true;                                                                                      \
                return;                                                                                                \
            }                                                                                                          \
            (array) = more;                                                                                            \
        }                                                                                                              \
    } while (0)

static struct cot_member_in *member_of(const struct cot_book *b, uint32_t slot)
{
    return slot ? (struct cot_member_in *)(uintptr_t)cot_member_find(b, cot_root(b, slot)) : NULL;
}

static void add_part(struct sitting *s, struct cot_member_in *m, int64_t position, int part)
{
    uint32_t n = m->part_count;
    if ((n & (n - 1)) == 0) { /* full: 0, 1, 2, 4 ... */
        struct cot_part_in *parts = cot_arena_take(&s->b->admin.arena, (n ? n * 2 : 1) * sizeof *parts, 8);
        if (!parts) {
            s->failed = true;
            return;
        }
        if (n) memcpy(parts, m->parts, n * sizeof *parts);
        m->parts = parts;
    }
    m->parts[m->part_count++] = (struct cot_part_in){position, part};
}

static void add_member(struct sitting *s, const struct cot_entry *e, uint32_t root)
{
    struct cot_admin *a = &s->b->admin;
    GROW(a->member, a->members, 1);
    LOWER_BOUND(a->member, a->members, root, root)
    memmove(&a->member[low + 1], &a->member[low], (a->members - low) * sizeof *a->member);
    a->members++;
    a->member[low] = (struct cot_member_in){.root = root, .farm = e->farm};
    add_part(s, &a->member[low], e->position, (int)cot_packed_int(e, COT_F_PART, COT_PART_AUDITOR));
}

static enum cot_why judge_member(struct sitting *s, struct cot_entry *e)
{
    struct cot_book *b = s->b;
    bool about = e->bits & COT_E_HAS_ABOUT;
    uint32_t root = cot_root(b, about ? e->about : e->slot);
    struct cot_member_in *m = member_of(b, root);
    if (!about) {
        if (e->position && !m) add_member(s, e, root);
        return COT_WHY_NONE;
    }
    e->why_type = COT_THING_MEMBER;
    if (!m) return COT_WHY_MISSING;
    if ((m->farm ? cot_root(b, m->farm) : 0) != (e->farm ? cot_root(b, e->farm) : 0)) return COT_WHY_FARM_MISMATCH;
    int now = cot_member_part(m, cot_judged_at(e)), then = (int)cot_packed_int(e, COT_F_PART, now);
    if (then != now && (now == COT_PART_BUYER || then == COT_PART_BUYER)) return COT_WHY_PART_FIXED;
    if (e->position && then != now) add_part(s, m, e->position, then);
    return COT_WHY_NONE;
}

static void add_device(struct sitting *s, uint32_t index, const struct cot_entry *e, uint32_t tag, uint32_t member)
{
    struct cot_admin *a = &s->b->admin;
    GROW(a->device, a->devices, 1);
    LOWER_BOUND(a->device, a->devices, tag, tag)
    memmove(&a->device[low + 1], &a->device[low], (a->devices - low) * sizeof *a->device);
    a->devices++;
    a->device[low] = (struct cot_device_in){
        .tag = tag, .entry = index, .member = member, .joined = e->position, .closed = INT64_MAX};
    struct cot_packed key;
    if (cot_packed_find(e, COT_F_KEY, &key)) memcpy(a->device[low].key.b, key.bytes, sizeof a->device[low].key.b);
}

static enum cot_why judge_device(struct sitting *s, uint32_t index, struct cot_entry *e)
{
    struct cot_book *b = s->b;
    struct cot_member_in *m = member_of(b, cot_packed_slot(e, COT_F_MEMBER));
    e->why_type = COT_THING_MEMBER;
    if (!m) return COT_WHY_MISSING;
    struct cot_packed p;
    char tag[COT_TAG_MAX + 1] = "";
    if (cot_packed_find(e, COT_F_TAG, &p) && p.len <= COT_TAG_MAX) memcpy(tag, p.text, p.len);
    uint32_t packed = cot_tag_pack(tag);
    if (!packed || packed == HOUSE_TAG || cot_device_find(b, packed)) return COT_WHY_TAG_USED;
    if (e->position) add_device(s, index, e, packed, m->root);
    return COT_WHY_NONE;
}

static enum cot_why judge_closed(struct sitting *s, struct cot_entry *e)
{
    uint32_t joined = e->about ? cot_winner(s->b, e->about) : 0;
    struct cot_packed p;
    e->why_type = COT_THING_DEVICE;
    if (!joined || !cot_packed_find(cot_entry_at(s->b, joined), COT_F_TAG, &p) || p.len > COT_TAG_MAX)
        return COT_WHY_MISSING;
    struct cot_device_in *d = (struct cot_device_in *)(uintptr_t)cot_device_find(s->b, cot_tag_pack(p.text));
    if (!d || d->entry != joined) return COT_WHY_MISSING;
    if (e->position && e->position < d->closed) d->closed = e->position;
    return COT_WHY_NONE;
}

static enum cot_why judge_house(struct sitting *s, uint32_t index, const struct cot_entry *e)
{
    struct cot_admin *a = &s->b->admin;
    if (a->house) return COT_WHY_SECOND_HOUSE;
    if (!e->position) return COT_WHY_ONLINE;
    a->house = index;
    a->house_position = e->position;
    return COT_WHY_NONE;
}

static void judge_rule(struct sitting *s, const struct cot_entry *e)
{
    struct cot_admin *a = &s->b->admin;
    struct cot_rule_in r = rule_at(s->b, INT64_MAX);
    struct cot_packed_at it = cot_packed_start(e);
    struct cot_packed p;
    while (cot_packed_next(&it, &p)) {
        bool set = p.type != COT_T_NONE;
        if (p.field == COT_F_UTC_OFFSET) r.offset = set ? (int)p.i : 0;
        if (p.field == COT_F_CLOSING_DAYS) r.closing = set ? (int)p.i : -1;
    }
    if (!e->position) return;
    r.position = e->position;
    GROW(a->rule, a->rules, 1);
    a->rule[a->rules++] = r;
}

static enum cot_why judge_kind(struct sitting *s, uint32_t index, struct cot_entry *e)
{
    switch ((enum cot_kind)e->kind) {
    case COT_K_HOUSE:
        return judge_house(s, index, e);
    case COT_K_MEMBER:
        return judge_member(s, e);
    case COT_K_DEVICE:
        return judge_device(s, index, e);
    case COT_K_CLOSED:
        return judge_closed(s, e);
    case COT_K_RULE:
        judge_rule(s, e);
        return COT_WHY_NONE;
    default:
        return COT_WHY_NONE;
    }
}

static void judge_row(struct sitting *s, uint32_t index)
{
    struct cot_entry *e = cot_entry_at(s->b, index);
    enum cot_why why = COT_WHY_NONE;
    if (e->bits & COT_E_TWICE) why = COT_WHY_TWICE;
    else if (e->bits & COT_E_FLAW) why = COT_WHY_FLAW;
    else if (e->bits & COT_E_RING) why = COT_WHY_RING;
    else if (e->kind != COT_K_HOUSE && s->b->admin.house && e->house != cot_entry_at(s->b, s->b->admin.house)->house)
        why = COT_WHY_HOUSE;
    if (why == COT_WHY_NONE) why = cot_may(s->b, e);
    if (why == COT_WHY_NONE) why = judge_kind(s, index, e);
    e->why = (uint8_t)why;
    e->base = why == COT_WHY_NONE ? COT_BOOKED : why == COT_WHY_TWICE ? COT_TWICE : COT_QUERIED;
    e->since = cot_judged_at(e);
    e->bits |= COT_E_HARD;
}

/* By position; unsent ones behind, by place. */
static int admin_order(const void *ctx, uint32_t x, uint32_t y)
{
    const struct cot_book *b = ctx;
    const struct cot_entry *p = cot_entry_at(b, x), *q = cot_entry_at(b, y);
    int64_t m = cot_judged_at(p), n = cot_judged_at(q);
    if (m != n) return m < n ? -1 : 1;
    return cot_place_cmp(b, p, q);
}

bool cot_admin_read(struct cot_book *b)
{
    struct cot_list *rows = &b->admin_rows;
    uint32_t *scratch = malloc((rows->count + 1) * sizeof *scratch);
    if (!scratch) return false;
    cot_sort(rows->item, scratch, rows->count, admin_order, b);
    free(scratch);
    cot_admin_free(&b->admin);
    struct sitting s = {b, false};
    for (size_t i = 0; i < rows->count && !s.failed; i++) judge_row(&s, rows->item[i]);
    return !s.failed;
}
