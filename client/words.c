/* Nearest names by the distance of restricted edits (optimal string alignment). */
#include "words.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define FAR 99
#define LONGEST 40

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

size_t cot_edits(const char *a, const char *b)
{
    size_t n = strlen(a), m = strlen(b);
    size_t d[LONGEST + 1][LONGEST + 1];
    if (n > LONGEST || m > LONGEST) return FAR;
    for (size_t i = 0; i <= n; i++) d[i][0] = i;
    for (size_t j = 0; j <= m; j++) d[0][j] = j;
    for (size_t i = 1; i <= n; i++) {
        for (size_t j = 1; j <= m; j++) {
            d[i][j] = least(least(d[i - 1][j], d[i][j - 1]) + 1, d[i - 1][j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d[i][j] = least(d[i][j], d[i - 2][j - 2] + 1);
        }
    }
    return d[n][m];
}

/* How near a name is: a start of it counts as one edit. */
static size_t nearness(const char *typed, const char *name)
{
    if (typed[0] && strncmp(typed, name, strlen(typed)) == 0) return 1;
    return cot_edits(typed, name);
}

void cot_nearest(const char *typed, const char *const *names, size_t n, char out[static 120])
{
    size_t limit = strlen(typed) <= 3 ? 1 : 2, used = 0, shown = 0;
    out[0] = '\0';
    for (size_t want = 0; want <= limit; want++) {
        for (size_t i = 0; i < n && shown < 3; i++) {
            if (nearness(typed, names[i]) != want || used + strlen(names[i]) + 3 > 120) continue;
            used += (size_t)snprintf(out + used, 120 - used, "%s%s", shown ? ", " : "", names[i]);
            shown++;
        }
    }
}
