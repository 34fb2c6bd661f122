/* Finding a thing by what a person typed: its code, or its name. Where a name fits several, "Crop/Variety" or
 * "Variety/Lot" names one. Letters are compared as ASCII; names are sorted by bytes. */
#include "cotyledger/core/book.h"

#include <stdlib.h>
#include <string.h>

#define NAME_MAX_BYTES 256
#define SHOWN 5

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c + 32) : c;
}

static bool same_letters(const char *a, const char *b, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (lower(a[i]) != lower(b[i]) || a[i] == '\0') return false;
    return true;
}

/* Name with what it belongs to in front, "Lettuce/Red Harbour"; just the name when it belongs to nothing. */
static void full_name(struct cot_book *b, const struct cot_thing *t, char out[static NAME_MAX_BYTES])
{
    enum cot_field above = t->type == COT_THING_VARIETY ? COT_F_CROP : COT_F_VARIETY;
    bool under = t->type == COT_THING_VARIETY || t->type == COT_THING_LOT;
    const struct cot_id *id = under ? cot_thing_id(t, above) : NULL;
    const struct cot_thing *parent = id ? cot_book_thing(b, id) : NULL;
    const char *name = cot_thing_name(t), *before = parent ? cot_thing_name(parent) : "";
    size_t n = strlen(before), m = strlen(name);
    if (n + m + 2 > NAME_MAX_BYTES) n = m = 0;
    memcpy(out, before, n);
    if (n) out[n++] = '/';
    memcpy(out + n, name, m);
    out[n + m] = '\0';
}

/* How well the typed text fits: 0 not, 1 the start, 2 but for capitals, 3 exactly. */
static int fit_one(const char *name, const char *typed, size_t len)
{
    size_t n = strlen(name);
    if (n == len && memcmp(name, typed, len) == 0) return 3;
    if (n == len && same_letters(name, typed, len)) return 2;
    return len > 0 && n > len && same_letters(name, typed, len) ? 1 : 0;
}

static int fit(struct cot_book *b, const struct cot_thing *t, const char *typed, size_t len)
{
    int best = fit_one(cot_thing_name(t), typed, len);
    if (!memchr(typed, '/', len)) return best;
    char full[NAME_MAX_BYTES];
    full_name(b, t, full);
    int whole = fit_one(full, typed, len);
    return whole > best ? whole : best;
}

/* --- The things among which to look ----------------------------------------------------------------------------------
 */
struct crowd {
    const struct cot_thing **thing;
    size_t count;
};

static bool gather(struct cot_book *b, enum cot_thing_type type, struct crowd *c)
{
    size_t n, cap = 0;
    int from = type == COT_THING_NONE ? 1 : (int)type, to = type == COT_THING_NONE ? COT_THING_COUNT : from + 1;
    memset(c, 0, sizeof *c);
    for (int i = from; i < to; i++) {
        cot_book_things(b, (enum cot_thing_type)i, &n);
        cap += n;
    }
    c->thing = malloc((cap + 1) * sizeof *c->thing);
    for (int i = from; c->thing && i < to; i++) {
        const struct cot_thing *const *all = cot_book_things(b, (enum cot_thing_type)i, &n);
        for (size_t k = 0; k < n && c->count < cap; k++) c->thing[c->count++] = all[k];
    }
    return c->thing != NULL;
}

static void add_text(char *out, size_t cap, const char *s)
{
    size_t n = strlen(out), m = strlen(s);
    if (n + m < cap) memcpy(out + n, s, m + 1);
}

static int by_bytes(const void *x, const void *y)
{
    return strcmp(x, y);
}

/* --- Nearest names
 * ------------------------------------------------------------------------------------------------------ */
static size_t least3(size_t a, size_t b, size_t c)
{
    size_t m = a < b ? a : b;
    return m < c ? m : c;
}

/* Wagner and Fischer 1974: insertions, deletions and changes of a letter. */
static size_t distance(const char *a, size_t n, const char *b)
{
    size_t m = strlen(b), row[NAME_MAX_BYTES + 1];
    if (n > NAME_MAX_BYTES || m > NAME_MAX_BYTES) return NAME_MAX_BYTES;
    for (size_t j = 0; j <= m; j++) row[j] = j;
    for (size_t i = 1; i <= n; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            size_t above = row[j];
            row[j] = least3(above + 1, row[j - 1] + 1, diagonal + (lower(a[i - 1]) != lower(b[j - 1])));
            diagonal = above;
        }
    }
    return row[m];
}

struct near {
    size_t distance;
    const char *name;
};

static int by_distance(const void *x, const void *y)
{
    const struct near *p = x, *q = y;
    if (p->distance != q->distance) return p->distance < q->distance ? -1 : 1;
    return strcmp(p->name, q->name);
}

static void suggest(const struct crowd *c, const char *typed, size_t len, struct cot_fault *fault)
{
    struct near *near = malloc((c->count + 1) * sizeof *near);
    size_t n = 0, most = len / 3 > 2 ? len / 3 : 2;
    if (!near) return;
    for (size_t i = 0; i < c->count; i++) {
        const char *name = cot_thing_name(c->thing[i]);
        size_t d = name[0] ? distance(typed, len, name) : NAME_MAX_BYTES;
        if (d <= most) near[n++] = (struct near){d, name};
    }
    qsort(near, n, sizeof *near, by_distance);
    char names[COT_FAULT_MAX / 2] = "";
    for (size_t i = 0, shown = 0; i < n && shown < SHOWN; i++) {
        if (i && strcmp(near[i].name, near[i - 1].name) == 0) continue;
        if (shown++) add_text(names, sizeof names, ", ");
        add_text(names, sizeof names, near[i].name);
    }
    if (names[0]) cot_hint(fault, "did you mean: %s", names);
    free(near);
}

/* --- Outcomes
 * ------------------------------------------------------------------------------------------------------------- */
static enum cot_err several(struct cot_book *b, const struct cot_thing **found, size_t n, const char *word,
                            const char *typed, struct cot_fault *fault)
{
    char(*names)[NAME_MAX_BYTES] = malloc(n * sizeof *names), list[COT_FAULT_MAX / 2] = "";
    if (!names) return cot_fail(fault, COT_MEMORY, "out of memory");
    for (size_t i = 0; i < n; i++) full_name(b, found[i], names[i]);
    qsort(names, n, sizeof *names, by_bytes);
    for (size_t i = 0; i < n && i < SHOWN; i++) {
        if (i) add_text(list, sizeof list, ", ");
        add_text(list, sizeof list, names[i]);
    }
    free(names);
    (void)cot_fail(fault, COT_AMBIGUOUS, "%s \"%s\" fits %zu", word, typed, n);
    return fault ? cot_hint(fault, "say which: %s%s", list, n > SHOWN ? ", ..." : "") : COT_AMBIGUOUS;
}

/* Leaves in `found` those that fit best. */
static size_t best_fits(struct cot_book *b, const struct crowd *c, const char *typed, size_t len,
                        const struct cot_thing **found)
{
    size_t n = 0;
    int best = 1;
    for (size_t i = 0; i < c->count; i++) {
        int how = fit(b, c->thing[i], typed, len);
        if (how < best) continue;
        if (how > best) n = 0;
        best = how;
        found[n++] = c->thing[i];
    }
    return n;
}

static size_t with_code(const struct crowd *c, const char *code, const struct cot_thing **found)
{
    size_t n = 0;
    for (size_t i = 0; i < c->count; i++)
        if (strcmp(cot_thing_text(c->thing[i], COT_F_CODE), code) == 0) found[n++] = c->thing[i];
    return n;
}

static enum cot_err nothing(const struct crowd *c, const char *word, const char *typed, size_t len,
                            enum cot_code_state state, struct cot_fault *fault)
{
    if (state == COT_CODE_CHECK) {
        (void)cot_fail(fault, COT_INVALID, "%s \"%s\": the code is mistyped, its last character does not fit", word,
                       typed);
        return fault ? cot_hint(fault, "read it again from the tag") : COT_INVALID;
    }
    (void)cot_fail(fault, COT_NOT_FOUND, "no %s \"%s\" here", word, typed);
    if (fault) suggest(c, typed, len, fault);
    return COT_NOT_FOUND;
}

enum cot_err cot_book_find(struct cot_book *b, enum cot_thing_type type, const char *typed,
                           const struct cot_thing **out, struct cot_fault *fault)
{
    struct crowd c;
    size_t len = strlen(typed), n = 0;
    const char *word = cot_thing_word(type);
    *out = NULL;
    while (len && typed[len - 1] == ' ') len--;
    const struct cot_thing **found = NULL;
    enum cot_err err = COT_MEMORY;
    if (!gather(b, type, &c) || !(found = malloc((c.count + 1) * sizeof *found))) {
        err = cot_fail(fault, COT_MEMORY, "out of memory");
        goto out;
    }
    char code[COT_CODE_TEXT];
    enum cot_code_state state = cot_code_read(typed, len, code);
    if (state == COT_CODE_GOOD) n = with_code(&c, code, found);
    if (n == 0) n = best_fits(b, &c, typed, len, found);
    if (n == 1) *out = found[0];
    err = n == 1  ? COT_OK
          : n > 1 ? several(b, found, n, word, typed, fault)
                  : nothing(&c, word, typed, len, state, fault);
out:
    free(found);
    free(c.thing);
    return err;
}
