/* Names in a sheet: written in full, or refused with the nearest that there is. */
#include "value.h"

#include <string.h>

/* ASCII only, so that no locale has a say. */
bool cot_same_name(const char *a, const char *b)
{
    for (; *a && *b; a++, b++) {
        char x = *a >= 'A' && *a <= 'Z' ? (char)(*a + 32) : *a;
        char y = *b >= 'A' && *b <= 'Z' ? (char)(*b + 32) : *b;
        if (x != y) return false;
    }
    return *a == *b;
}

static bool fits(const struct cot_thing *t, const char *name, const struct cot_id *crop, bool exact)
{
    if (t->gone || !(exact ? strcmp(cot_thing_name(t), name) == 0 : cot_same_name(cot_thing_name(t), name)))
        return false;
    if (!crop) return true;
    const struct cot_id *of = cot_thing_id(t, COT_F_CROP);
    return of && cot_id_cmp(of, crop) == 0;
}

enum cot_err cot_name_find(struct cot_book *b, enum cot_thing_type type, const char *name, const struct cot_id *crop,
                           const struct cot_thing **out, struct cot_fault *fault)
{
    size_t n, found = 0;
    char quoted[COT_QUOTED];
    if (type != COT_THING_VARIETY) crop = NULL;
    const struct cot_thing *const *things = cot_book_things(b, type, &n);
    for (int exact = 1; exact >= 0 && found == 0; exact--) {
        for (size_t i = 0; i < n; i++) {
            if (!fits(things[i], name, crop, exact)) continue;
            *out = things[i];
            found++;
        }
    }
    if (found == 1) return COT_OK;
    cot_quote(name, strlen(name), quoted);
    if (found > 1) {
        enum cot_err err = cot_fail(fault, COT_AMBIGUOUS, "several things are called %s", quoted);
        (void)cot_hint(fault, "%s",
                       type == COT_THING_VARIETY ? "add a column Crop that says which" : "give them different names");
        return err;
    }
    /* The book's own search knows the nearest names; what it would take for a name by its start is offered, not taken.
     */
    struct cot_fault near = {0};
    const struct cot_thing *start = NULL;
    enum cot_err looked = cot_book_find(b, type, name, &start, &near);
    enum cot_err err = cot_fail(fault, COT_NOT_FOUND, "there is no %s called %s%s", cot_thing_word(type), quoted,
                                crop ? " in that crop" : "");
    if (looked == COT_OK) (void)cot_hint(fault, "did you mean %s? write it in full", cot_thing_name(start));
    else if (near.hint[0]) (void)cot_hint(fault, "%s", near.hint);
    else (void)cot_hint(fault, "add it first, or correct the name");
    return err;
}
