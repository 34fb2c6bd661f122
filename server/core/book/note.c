/* What became of each entry, for readers. */
#include "book/in.h"

#include <stdlib.h>
#include <string.h>

void cot_note_fill(struct cot_book *b, uint32_t entry, struct cot_note *out)
{
    const struct cot_entry *e = cot_entry_at(b, entry);
    memset(out, 0, sizeof *out);
    out->digest = cot_slot_at(b, e->slot)->id;
    out->fact = cot_fact_of(b, entry);
    out->position = e->position;
    out->receipt = e->receipt;
    out->verdict = (enum cot_verdict)e->verdict;
    out->flags = e->verdict == COT_BOOKED ? e->flags : 0;
    cot_why_text(b, e, out->reason, sizeof out->reason);
    uint32_t other = 0;
    if (out->flags) other = e->other;
    if (e->verdict == COT_TWICE) other = cot_winner(b, e->slot);
    if (other) out->other = cot_slot_at(b, cot_entry_at(b, other)->slot)->id;
}

static int by_place(const void *ctx, uint32_t x, uint32_t y)
{
    const struct cot_book *b = ctx;
    return cot_place_cmp(b, cot_entry_at(b, x), cot_entry_at(b, y));
}

static struct cot_note *fill_notes(struct cot_book *b, const uint32_t *entry, size_t n)
{
    struct cot_note *notes = cot_arena_take(&b->readings, (n + 1) * sizeof *notes, _Alignof(struct cot_note));
    b->read_anything = true;
    if (!notes) return NULL;
    for (size_t i = 0; i < n; i++) {
        cot_note_fill(b, entry[i], &notes[i]);
        if (!notes[i].fact) return NULL;
    }
    return notes;
}

static bool worth_a_note(const struct cot_entry *e)
{
    return e->verdict != COT_BOOKED || e->flags != 0;
}

static bool read_notes(struct cot_book *b)
{
    struct cot_list found = {0};
    bool ok = cot_flags_read(b);
    for (uint32_t i = 1; ok && i < b->entries.count; i++)
        if (worth_a_note(cot_entry_at(b, i))) ok = cot_list_push(&found, i);
    size_t n = found.count;
    ok = ok && cot_list_reserve(&found, n + 1);
    if (ok) {
        if (n > 1) cot_sort(found.item, found.item + n, n, by_place, b);
        b->notes = fill_notes(b, found.item, n);
        b->note_count = n;
        ok = b->notes_read = b->notes != NULL;
    }
    cot_list_free(&found);
    return ok;
}

const struct cot_note *cot_book_notes(struct cot_book *b, size_t *n)
{
    *n = 0;
    if (!cot_settle(b) || (!b->notes_read && !read_notes(b))) return NULL;
    *n = b->note_count;
    return *n ? b->notes : NULL;
}

const struct cot_note *cot_book_of_kind(struct cot_book *b, enum cot_kind kind, size_t *n)
{
    struct cot_list found = {0};
    const struct cot_note *notes = NULL;
    *n = 0;
    bool ok = cot_settle(b) && cot_flags_read(b);
    for (uint32_t i = 1; ok && i < b->entries.count; i++) {
        const struct cot_entry *e = cot_entry_at(b, i);
        if (e->kind == kind && e->verdict == COT_BOOKED) ok = cot_list_push(&found, i);
    }
    if (ok && found.count > 0 && cot_list_reserve(&found, found.count)) {
        cot_sort(found.item, found.item + found.count, found.count, by_place, b);
        notes = fill_notes(b, found.item, found.count);
    }
    if (notes) *n = found.count;
    cot_list_free(&found);
    return notes;
}

bool cot_book_verdict(struct cot_book *b, const struct cot_id *digest, struct cot_note *out)
{
    if (!cot_settle(b) || !cot_flags_read(b)) return false;
    uint32_t slot = cot_lookup(b, digest);
    if (!slot) return false;
    uint32_t entry = cot_slot_at(b, slot)->own ? cot_slot_at(b, slot)->own : cot_winner(b, slot);
    if (!entry) return false;
    cot_note_fill(b, entry, out);
    return out->fact != NULL;
}

/* --- History
 * ------------------------------------------------------------------------------------------------------------- */
/* Whether the entry is about the thing, or went out of it: a seed lot's history is not all that was sown of it. */
static bool belongs(const struct cot_book *b, const struct cot_entry *e, uint32_t root)
{
    if (e->about && cot_root(b, e->about) == root) return true;
    uint32_t batch = cot_packed_slot(e, COT_F_BATCH), line = cot_packed_slot(e, COT_F_LINE);
    return (batch && cot_root(b, batch) == root) || (line && cot_root(b, line) == root);
}

static bool gather_history(struct cot_book *b, uint32_t root, struct cot_list *found)
{
    const struct cot_slot *s = cot_slot_at(b, root);
    if (s->winner && !cot_list_push(found, s->winner)) return false;
    if (s->winner && cot_entry_at(b, s->winner)->kind == COT_K_HOUSE)
        for (size_t i = 0; i < b->admin_rows.count; i++)
            if (cot_entry_at(b, b->admin_rows.item[i])->kind == COT_K_RULE &&
                !cot_list_push(found, b->admin_rows.item[i]))
                return false;
    if (!cot_tidy(b, root)) return false;
    for (uint32_t i = s->first; i; i = cot_mention_at(b, i)->next) {
        uint32_t m = cot_mention_at(b, i)->entry;
        const struct cot_entry *e = cot_entry_at(b, m);
        if (e->kind != COT_K_RULE && belongs(b, e, root) && !cot_list_push(found, m)) return false;
    }
    return true;
}

/* The place where a history is kept until the next put: the thing's reading, if it has one. */
static const struct cot_note *make_history(struct cot_book *b, uint32_t root, size_t *n)
{
    struct cot_list found = {0};
    const struct cot_note *notes = NULL;
    if (cot_flags_read(b) && gather_history(b, root, &found)) {
        *n = found.count;
        notes = fill_notes(b, found.item, found.count);
    }
    cot_list_free(&found);
    if (!notes) *n = 0;
    return notes;
}

const struct cot_note *cot_book_history(struct cot_book *b, const struct cot_id *thing, size_t *n)
{
    *n = 0;
    if (!cot_settle(b)) return NULL;
    uint32_t slot = cot_lookup(b, thing);
    if (!slot) return NULL;
    uint32_t root = cot_root(b, slot);
    struct cot_reading *r = cot_reading_of(b, root);
    if (!r) return make_history(b, root, n);
    if (!r->history_read) {
        r->history = make_history(b, root, &r->history_count);
        r->history_read = r->history != NULL;
    }
    *n = r->history_count;
    return r->history;
}
