/* Remedies: candidates for each line that needs help, each held against the fill, the best first. */
#include <stdlib.h>
#include <string.h>

#include "remedy/in.h"

const char *cot_remedy_word(enum cot_remedy_kind k)
{
    static const char *const words[COT_REMEDY_COUNT] = {
        [COT_REMEDY_PROMISE] = "promise", [COT_REMEDY_RELEASE] = "release",     [COT_REMEDY_PATCH] = "patch",
        [COT_REMEDY_RESOW] = "resow",     [COT_REMEDY_FORMAT] = "other format", [COT_REMEDY_VARIETY] = "other variety",
        [COT_REMEDY_DAY] = "other day",   [COT_REMEDY_SHARE] = "share",         [COT_REMEDY_BUY_IN] = "buy in",
    };
    return (unsigned)k < COT_REMEDY_COUNT ? words[k] : "?";
}

void cot_remedies_free(struct cot_remedies *r)
{
    cot_fill_free(&r->fill);
    free(r->line);
    free(r->remedy);
    *r = (struct cot_remedies){0};
}

struct search {
    struct cot_book *book;
    struct cot_remedies *out;
    struct cot_fault *fault;
    struct cot_fill_kept *kept, *kept_share; /* as it stands, and shared pro rata; NULL: not read yet */
    struct cot_fill share;                   /* shared pro rata */
    int64_t *spare;                          /* by batch */
    struct cot_tries tries;
    uint32_t cap;  /* room for remedies */
    uint32_t read; /* fills read again */
    uint32_t done; /* lines */
    cot_remedies_tell *tell;
    void *ctx;
};

/* --- The lines ---------------------------------------------------------------------------------------------------- */
static bool chosen(const struct cot_fill_line *l, const struct cot_id *farm, const struct cot_id *line)
{
    if (farm && (!l->farm || cot_id_cmp(&l->farm->id, farm) != 0)) return false;
    return !line || cot_id_cmp(&l->line->id, line) == 0;
}

static bool needs_help(const struct cot_fill_line *l, int32_t on)
{
    int64_t last = (int64_t)l->date + cot_thing_int(l->line, COT_F_LATE, 0);
    if (l->verdict == COT_COVERED || l->line->gone || l->declined || l->wanted == 0 || !l->variety) return false;
    return last >= on;
}

static enum cot_err find_lines(struct search *s, const struct cot_id *farm, const struct cot_id *line)
{
    const struct cot_fill *f = &s->out->fill;
    s->out->line = malloc(((size_t)f->line_count + 1) * sizeof *s->out->line);
    if (!s->out->line) return COT_MEMORY;
    for (uint32_t i = 0; i < f->line_count; i++)
        if (chosen(&f->line[i], farm, line) && needs_help(&f->line[i], f->on)) s->out->line[s->out->line_count++] = i;
    return COT_OK;
}

/* Likely plants of each batch that no line gets. */
static enum cot_err find_spare(struct search *s)
{
    const struct cot_fill *f = &s->out->fill;
    s->spare = malloc(((size_t)f->batch_count + 1) * sizeof *s->spare);
    if (!s->spare) return COT_MEMORY;
    for (uint32_t k = 0; k < f->batch_count; k++) s->spare[k] = f->stand[k].likely - f->stand[k].out;
    for (uint32_t i = 0; i < f->allot_count; i++) s->spare[f->allot[i].batch] -= f->allot[i].plants + f->allot[i].extra;
    for (uint32_t k = 0; k < f->batch_count; k++)
        if (s->spare[k] < 0) s->spare[k] = 0;
    return COT_OK;
}

static bool same_want(const struct cot_fill_line *x, const struct cot_fill_line *y)
{
    int64_t late_x = cot_thing_int(x->line, COT_F_LATE, 0), late_y = cot_thing_int(y->line, COT_F_LATE, 0);
    int64_t early_x = cot_thing_int(x->line, COT_F_EARLY, 0), early_y = cot_thing_int(y->line, COT_F_EARLY, 0);
    bool meet = x->date - early_x <= y->date + late_y && y->date - early_y <= x->date + late_x;
    return x->variety == y->variety && (!x->format || !y->format || x->format == y->format) && meet;
}

static int64_t unsure_of(const struct cot_fill_line *l)
{
    return l->wanted - l->count_on > 1 ? l->wanted - l->count_on : 1;
}

/* Of all lines in need that one sowing might serve, promised ones only beside the line itself. */
static int64_t unsure_of_all(const struct search *s, const struct cot_fill_line *l)
{
    int64_t sum = 0;
    const struct cot_fill *f = &s->out->fill;
    for (uint32_t i = 0; i < f->line_count; i++) {
        const struct cot_fill_line *x = &f->line[i];
        if (x == l || (needs_help(x, f->on) && !x->waiting && same_want(l, x))) sum += unsure_of(x);
    }
    return sum;
}

/* For "any" format: the one in which the variety was sown last; NULL when it never was. */
static const struct cot_thing *usual_format(const struct search *s, const struct cot_id *variety)
{
    const struct cot_fill *f = &s->out->fill;
    const struct cot_stand *latest = NULL;
    for (uint32_t k = 0; k < f->batch_count; k++) {
        const struct cot_stand *b = &f->stand[k];
        if (cot_id_cmp(&b->variety, variety) == 0 && (!latest || b->sown > latest->sown)) latest = b;
    }
    return latest ? cot_book_thing(s->book, &latest->format) : NULL;
}

static enum cot_err read_need(struct search *s, uint32_t index, struct cot_need *n)
{
    const struct cot_fill *f = &s->out->fill;
    const struct cot_fill_line *l = &f->line[index];
    *n = (struct cot_need){.book = s->book, .fill = f, .index = index, .line = l, .spare = s->spare};
    enum cot_err err = cot_if_line_of(s->book, l->line, &n->asked);
    if (err != COT_OK) return cot_fail(s->fault, err, "unable to read an order line");
    n->asked.date = l->date; /* promised for another day than asked: that day stands */
    n->unsure = unsure_of(l);
    n->unsure_all = unsure_of_all(s, l);
    n->last = (int32_t)(l->date + n->asked.late);
    n->first = (int32_t)(l->date - n->asked.early) > f->on ? (int32_t)(l->date - n->asked.early) : f->on;
    const struct cot_id *crop = cot_thing_id(l->variety, COT_F_CROP);
    n->crop = crop ? cot_book_thing(s->book, crop) : NULL;
    n->format = n->asked.format ? n->asked.format : usual_format(s, &l->variety->id);
    return COT_OK;
}

/* --- One candidate ------------------------------------------------------------------------------------------------ */

/* The line after the change; NULL when it is not there any more. */
static const struct cot_fill_line *line_after(const struct cot_fill *before, const struct cot_fill *after,
                                              const struct cot_try *t, struct cot_remedy *r)
{
    struct cot_beside w;
    const struct cot_fill_line *found = NULL;
    uint32_t i, k;
    cot_beside_start(before, after, &t->change, &w);
    while (cot_beside_next(&w, &i, &k)) {
        bool own = i == r->line;
        cot_beside_count(before, after, i, k, own, &r->rescued, &r->harmed);
        if (own && k != COT_NO_LINE) found = &after->line[k];
    }
    return found;
}

/* Whether the line would be better off, and by enough to be worth the trouble. */
static bool helps(const struct cot_need *n, const struct cot_fill_line *is)
{
    const struct cot_fill_line *was = n->line;
    if (!is) return false;
    if (was->verdict != COT_COVERED && is->verdict == COT_COVERED) return true;
    int64_t likely = is->likely - was->likely, count_on = is->count_on - was->count_on;
    int64_t gain = likely > count_on ? likely : count_on;
    return gain > 0 && gain * 100 >= n->unsure * COT_GAIN_LEAST;
}

/* Nothing queues for plants that are not promised: what else is done for them goes with a promise. */
static void promise_first(const struct cot_need *n, struct cot_try *t)
{
    if (!n->line->waiting || t->change.line) return;
    t->line = n->asked;
    t->change.line = &t->line;
    t->remedy.promise_first = t->remedy.managers_yes = true;
}

/* The fill as if it were done. Sharing pro rata is the same what-if for every line, so it is read once. *mine: the
 * caller frees it. */
static enum cot_err read_after(struct search *s, const struct cot_what_if *change, struct cot_fill *out, bool *mine)
{
    const struct cot_fill *before = &s->out->fill;
    const struct cot_what_if share = {.other_share = true, .share = COT_SHARE_PRORATA};
    *mine = !change->other_share || change->line != NULL;
    if (!change->other_share) return cot_fill_lines_if(s->book, before, s->kept, change, out, s->fault);
    enum cot_err err = COT_OK;
    if (!s->kept_share) err = cot_fill_read_kept(s->book, before->on, &share, &s->share, &s->kept_share, s->fault);
    if (err != COT_OK) return err;
    if (*mine) return cot_fill_lines_if(s->book, before, s->kept_share, change, out, s->fault);
    *out = s->share;
    return COT_OK;
}

static enum cot_err hold_against(struct search *s, const struct cot_need *n, struct cot_try *t, bool *useful)
{
    const struct cot_fill *before = &s->out->fill;
    struct cot_remedy *r = &t->remedy;
    struct cot_fill after;
    promise_first(n, t);
    *useful = true;
    if (s->read >= COT_REMEDY_FILLS_MOST) return COT_OK;
    s->read++;
    bool mine;
    enum cot_err err = read_after(s, &t->change, &after, &mine);
    if (err != COT_OK) return err;
    const struct cot_fill_line *is = line_after(before, &after, t, r), *was = &before->line[r->line];
    *useful = helps(n, is);
    if (is) {
        r->worked_out = true;
        r->likely = is->likely;
        r->count_on = is->count_on;
        r->chance = is->chance;
        r->verdict = is->verdict;
        if (r->kind == COT_REMEDY_SHARE) r->plants = is->likely > was->likely ? is->likely - was->likely : 0;
    }
    if (mine) cot_fill_free(&after);
    return COT_OK;
}

static enum cot_err keep(struct search *s, const struct cot_remedy *r)
{
    struct cot_remedies *out = s->out;
    if (out->remedy_count == s->cap) {
        uint32_t cap = s->cap ? 2 * s->cap : 64;
        struct cot_remedy *grown = realloc(out->remedy, cap * sizeof *grown);
        if (!grown) return COT_MEMORY;
        out->remedy = grown;
        s->cap = cap;
    }
    out->remedy[out->remedy_count++] = *r;
    return COT_OK;
}

/* --- Ranking ------------------------------------------------------------------------------------------------------ */
static int64_t net_of(const struct cot_remedy *r)
{
    return (int64_t)r->rescued - (int64_t)r->harmed;
}

static int by_thing(const struct cot_thing *a, const struct cot_thing *b)
{
    if (a == b) return 0;
    if (!a || !b) return a ? -1 : 1;
    int c = strcmp(cot_thing_name(a), cot_thing_name(b));
    return c != 0 ? c : cot_id_cmp(&a->id, &b->id);
}

static int better_first(const void *x, const void *y)
{
    const struct cot_remedy *a = x, *b = y;
    int64_t na = net_of(a), nb = net_of(b);
    if (a->worked_out != b->worked_out) return a->worked_out ? -1 : 1;
    if ((na > 0) != (nb > 0)) return na > 0 ? -1 : 1;
    if ((a->kind == COT_REMEDY_BUY_IN) != (b->kind == COT_REMEDY_BUY_IN)) return b->kind == COT_REMEDY_BUY_IN ? -1 : 1;
    if (na > 0 && na * b->minutes != nb * a->minutes) return na * b->minutes > nb * a->minutes ? -1 : 1;
    if (na <= 0 && na != nb) return na > nb ? -1 : 1;
    if (a->chance != b->chance) return a->chance > b->chance ? -1 : 1; /* both rounded */
    if (a->minutes != b->minutes) return a->minutes < b->minutes ? -1 : 1;
    if (a->kind != b->kind) return a->kind < b->kind ? -1 : 1;
    int c = by_thing(a->batch, b->batch);
    return c != 0 ? c : by_thing(a->lot, b->lot);
}

/* A promise that covers the line and costs nobody anything leaves nothing to be remedied. */
static bool enough(const struct cot_remedy *r)
{
    return r->kind == COT_REMEDY_PROMISE && r->worked_out && r->verdict == COT_COVERED && r->harmed == 0;
}

/* --- Reading ------------------------------------------------------------------------------------------------------ */
static enum cot_err help(struct search *s, uint32_t index)
{
    struct cot_need need;
    uint32_t first = s->out->remedy_count;
    s->tries.count = 0;
    enum cot_err err = read_need(s, index, &need);
    if (err != COT_OK) return err;
    cot_try_word(&need, &s->tries);
    cot_try_batches(&need, &s->tries);
    err = cot_try_sowing(&need, &s->tries);
    if (err == COT_OK) cot_try_buying(&need, &s->tries);
    for (uint32_t i = 0; err == COT_OK && i < s->tries.count; i++) {
        bool useful;
        if (s->tell) s->tell(s->ctx, s->done, s->out->line_count);
        err = hold_against(s, &need, &s->tries.item[i], &useful);
        if (err == COT_OK && useful) err = keep(s, &s->tries.item[i].remedy);
        if (err == COT_OK && enough(&s->tries.item[i].remedy)) break;
    }
    if (s->out->remedy_count - first > 1)
        qsort(s->out->remedy + first, s->out->remedy_count - first, sizeof *s->out->remedy, better_first);
    return err;
}

enum cot_err cot_remedies_read(struct cot_book *b, int32_t on, const struct cot_id *farm, const struct cot_id *line,
                               struct cot_remedies *out, struct cot_fault *fault)
{
    return cot_remedies_read_telling(b, on, farm, line, NULL, NULL, out, fault);
}

enum cot_err cot_remedies_read_telling(struct cot_book *b, int32_t on, const struct cot_id *farm,
                                       const struct cot_id *line, cot_remedies_tell *tell, void *ctx,
                                       struct cot_remedies *out, struct cot_fault *fault)
{
    struct search s = {.book = b, .out = out, .fault = fault, .tell = tell, .ctx = ctx};
    *out = (struct cot_remedies){.asked = UINT32_MAX};
    s.tries.item = malloc(COT_TRIES_MOST * sizeof *s.tries.item);
    enum cot_err err = s.tries.item ? cot_fill_read_kept(b, on, NULL, &out->fill, &s.kept, fault) : COT_MEMORY;
    for (uint32_t i = 0; err == COT_OK && line && i < out->fill.line_count; i++)
        if (cot_id_cmp(&out->fill.line[i].line->id, line) == 0) out->asked = i;
    if (err == COT_OK) err = find_lines(&s, farm, line);
    if (err == COT_OK) err = find_spare(&s);
    for (; err == COT_OK && s.done < out->line_count; s.done++) err = help(&s, out->line[s.done]);
    free(s.spare);
    free(s.tries.item);
    cot_fill_kept_free(s.kept);
    cot_fill_kept_free(s.kept_share);
    cot_fill_free(&s.share);
    if (err != COT_OK) cot_remedies_free(out);
    return err == COT_MEMORY ? cot_fail(fault, err, "out of memory") : err;
}
