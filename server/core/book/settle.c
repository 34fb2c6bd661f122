/* Settling: which entries have to be judged again, and judging them. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

/* Entries of a line whose judgement may rest on an earlier one of the line: once a settling. */
static void mark_line(struct cot_book *b, uint32_t root)
{
    struct cot_slot *s = cot_slot_at(b, root);
    if (s->bits & COT_S_SWEPT) return;
    if (!cot_list_push(&b->swept, root)) b->all_stale = true;
    s->bits |= COT_S_SWEPT;
    for (uint32_t i = s->first; i; i = cot_mention_at(b, i)->next) {
        uint8_t kind = cot_entry_at(b, cot_mention_at(b, i)->entry)->kind;
        if (kind == COT_K_LINE || kind == COT_K_WITHDRAWN || kind == COT_K_TAKEN_BACK)
            cot_mark(b, cot_mention_at(b, i)->entry);
    }
}

void cot_mark(struct cot_book *b, uint32_t entry)
{
    struct cot_entry *e = cot_entry_at(b, entry);
    if (e->marks & COT_M_DIRTY) return;
    e->marks = (uint8_t)((e->marks & COT_M_ANSWERED) | COT_M_DIRTY);
    if (!cot_list_push(&b->dirty, entry)) b->all_stale = true;
}

/* What rests on this entry. */
static void mark_dependents(struct cot_book *b, const struct cot_entry *e)
{
    for (uint32_t i = cot_slot_at(b, cot_root_of(b, e))->first; i; i = cot_mention_at(b, i)->next)
        cot_mark(b, cot_mention_at(b, i)->entry);
    if (!e->about) return;
    uint32_t target = cot_winner(b, e->about);
    switch ((enum cot_kind)e->kind) {
    case COT_K_ANSWER:
    case COT_K_TAKEN_BACK:
        if (target) cot_mark(b, target);
        break;
    case COT_K_LINE:
        mark_line(b, cot_root(b, e->about));
        break;
    case COT_K_CROP:
    case COT_K_VARIETY:
    case COT_K_FORMAT:
        b->all_stale = true;
        break; /* closing days and cells of everything made of it */
    default:
        break;
    }
}

static void mark_all(struct cot_book *b)
{
    b->dirty.count = 0;
    for (uint32_t i = 1; i < b->entries.count; i++) cot_entry_at(b, i)->marks &= (uint8_t)~COT_M_DIRTY;
    for (uint32_t i = 1; i < b->entries.count; i++) cot_mark(b, i);
}

/* The part of its member decides by which time a row takes its place; it must be known before lists are put in order.
 */
static void set_place(struct cot_book *b, struct cot_entry *e)
{
    bool receipt = cot_is_admin(e) || e->tag == cot_tag_pack("H");
    if (!receipt) {
        const struct cot_device_in *d = cot_device_find(b, e->tag);
        const struct cot_member_in *m = d ? cot_member_find(b, d->member) : NULL;
        receipt = m && d->joined < cot_judged_at(e) && cot_member_part(m, cot_judged_at(e)) == COT_PART_BUYER;
    }
    if (receipt == ((e->bits & COT_E_BY_RECEIPT) != 0)) return;
    e->bits ^= COT_E_BY_RECEIPT;
    cot_untidy(b, e);
}

/* Admin rows that are new: rows behind them in the ledger, and what is not sent yet, are judged again. */
static bool settle_admin(struct cot_book *b)
{
    if (!b->admin_stale) return true;
    int64_t first = INT64_MAX;
    for (size_t i = 0; i < b->admin_rows.count; i++) {
        const struct cot_entry *e = cot_entry_at(b, b->admin_rows.item[i]);
        bool is_new = b->admin_rows.item[i] >= b->settled || (e->marks & COT_M_DIRTY);
        if (is_new && cot_judged_at(e) < first) first = cot_judged_at(e);
    }
    if (!cot_admin_read(b)) return false;
    if (first <= b->settled_position) b->all_stale = true;
    for (size_t i = 0; i < b->admin_rows.count; i++) cot_mark(b, b->admin_rows.item[i]);
    for (size_t i = 0; i < b->unsent_rows.count; i++) cot_mark(b, b->unsent_rows.item[i]);
    b->admin_stale = false;
    return true;
}

static void drop_sent(struct cot_book *b)
{
    size_t kept = 0;
    for (size_t i = 0; i < b->unsent_rows.count; i++)
        if (cot_entry_at(b, b->unsent_rows.item[i])->position == 0)
            b->unsent_rows.item[kept++] = b->unsent_rows.item[i];
    b->unsent_rows.count = kept;
}

static bool settle_marks(struct cot_book *b)
{
    for (uint32_t i = b->settled; i < b->entries.count; i++) cot_mark(b, i);
    if (b->carriers_stale && !cot_carry_read(b)) return false;
    if (!settle_admin(b)) return false;
    for (size_t i = 0; i < b->dirty.count && !b->all_stale; i++) mark_dependents(b, cot_entry_at(b, b->dirty.item[i]));
    if (b->all_stale) {
        b->all_stale = false;
        mark_all(b);
    }
    return !b->all_stale;
}

static bool is_catalogue(const struct cot_entry *e)
{
    return e->kind == COT_K_CROP || e->kind == COT_K_VARIETY || e->kind == COT_K_FORMAT;
}

/* All changes of one line in a row, in order of place: each goes on from where the one before it came to. */
static bool judge_line(struct cot_book *b, const struct cot_entry *e)
{
    if ((e->kind != COT_K_LINE && e->kind != COT_K_WITHDRAWN) || !e->about || (e->marks & COT_M_FINAL)) return true;
    uint32_t root = cot_root(b, e->about);
    if (!cot_tidy(b, root)) return false;
    bool ok = true;
    for (uint32_t i = cot_slot_at(b, root)->first; ok && i; i = cot_mention_at(b, i)->next) {
        uint32_t m = cot_mention_at(b, i)->entry;
        uint8_t kind = cot_entry_at(b, m)->kind;
        if (kind == COT_K_LINE || kind == COT_K_WITHDRAWN) ok = cot_judge(b, m);
    }
    return ok;
}

/* Places first; and the catalogue is judged before the rest: lines and counts look at its figures. */
static bool settle_catalogue(struct cot_book *b)
{
    bool ok = true;
    b->catalogue.count = 0;
    for (size_t i = 0; ok && i < b->dirty.count; i++) {
        struct cot_entry *e = cot_entry_at(b, b->dirty.item[i]);
        set_place(b, e);
        if (is_catalogue(e)) ok = cot_list_push(&b->catalogue, b->dirty.item[i]);
    }
    for (size_t i = 0; ok && i < b->catalogue.count; i++) ok = cot_judge(b, b->catalogue.item[i]);
    return ok;
}

static bool settle_verdicts(struct cot_book *b)
{
    for (size_t i = 0; i < b->dirty.count; i++) {
        struct cot_entry *e = cot_entry_at(b, b->dirty.item[i]);
        if (!judge_line(b, e) || !cot_judge(b, b->dirty.item[i])) return false;
        e->marks &= (uint8_t)~COT_M_DIRTY;
        if (e->position > b->settled_position) b->settled_position = e->position;
    }
    return true;
}

bool cot_settle(struct cot_book *b)
{
    if (!b->unsettled) return true;
    drop_sent(b);
    memset(&b->run, 0, sizeof b->run);
    cot_memos_clear(&b->memos);
    bool ok = settle_marks(b);
    for (size_t i = 0; i < b->swept.count; i++) cot_slot_at(b, b->swept.item[i])->bits &= ~(uint32_t)COT_S_SWEPT;
    b->swept.count = 0;
    if (!ok || !settle_catalogue(b) || !settle_verdicts(b)) {
        b->all_stale = b->admin_stale = b->carriers_stale = true;
        return false;
    }
    b->dirty.count = 0;
    b->settled = b->entries.count;
    b->unsettled = false;
    return true;
}
