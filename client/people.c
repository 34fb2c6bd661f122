/* Members and laptops of the book. */
#include "people.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

enum cot_err cot_device_find_tag(struct cot_cli *cli, const char *tag, const struct cot_thing **out)
{
    char upper[COT_TAG_MAX + 1] = "", known[200] = "";
    size_t n, used = 0, len = strlen(tag);
    const struct cot_thing *const *all = cot_book_things(cli->book, COT_THING_DEVICE, &n);
    for (size_t i = 0; i < len && i < COT_TAG_MAX; i++) upper[i] = (char)toupper((unsigned char)tag[i]);
    for (size_t i = 0; i < n; i++) {
        const char *have = cot_thing_text(all[i], COT_F_TAG);
        if (len <= COT_TAG_MAX && strcmp(have, upper) == 0) {
            *out = all[i];
            return COT_OK;
        }
        if (used + 8 < sizeof known)
            used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", used ? ", " : "", have);
    }
    cot_fail(&cli->fault, COT_NOT_FOUND, "there is no laptop with the tag \"%.20s\"", tag);
    return cot_hint(&cli->fault, "tags of this house: %s", known[0] ? known : "none");
}

static int by_name(const void *a, const void *b)
{
    const struct cot_thing *x = *(const struct cot_thing *const *)a, *y = *(const struct cot_thing *const *)b;
    const char *p = cot_thing_name(x), *q = cot_thing_name(y);
    size_t n = strlen(p), m = strlen(q);
    if (x->type == COT_THING_DEVICE && n != m) return n < m ? -1 : 1;
    int cmp = strcmp(p, q);
    return cmp ? cmp : cot_id_cmp(&x->id, &y->id);
}

const struct cot_thing **cot_things_by_name(struct cot_cli *cli, enum cot_thing_type type, size_t *n)
{
    const struct cot_thing *const *all = cot_book_things(cli->book, type, n);
    const struct cot_thing **sorted = *n ? malloc(*n * sizeof *sorted) : NULL;
    if (!sorted) {
        *n = 0;
        return NULL;
    }
    memcpy(sorted, all, *n * sizeof *sorted);
    qsort(sorted, *n, sizeof *sorted, by_name);
    return sorted;
}

bool cot_device_open(struct cot_cli *cli, const struct cot_thing *device)
{
    struct cot_standing s = {0};
    cot_book_device(cli->book, cot_thing_text(device, COT_F_TAG), INT64_MAX, &s);
    return s.known && !s.closed;
}

void cot_member_devices(struct cot_cli *cli, const struct cot_id *member, size_t *all, size_t *open)
{
    size_t n;
    const struct cot_thing *const *d = cot_book_things(cli->book, COT_THING_DEVICE, &n);
    *all = *open = 0;
    for (size_t i = 0; i < n; i++) {
        const struct cot_id *of = cot_thing_id(d[i], COT_F_MEMBER);
        if (!of || cot_id_cmp(of, member) != 0) continue;
        ++*all;
        *open += cot_device_open(cli, d[i]);
    }
}
