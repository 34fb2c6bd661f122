#include "count_read.h"

#include <stdio.h>
#include <string.h>

const char *const cot_figure_name[COT_FIGURES] = {"looked", "usable", "blanks", "culls", "doubles"};

#define SHORT_FORM                                                                                                     \
    "write tray:looked/usable/blanks/culls/doubles, such as 3:72/66/4/2/1, or 3:blanks=5; ? for not taken"

int32_t *cot_figure(struct cot_tray_count *c, int i)
{
    int32_t *const at[COT_FIGURES] = {&c->looked, &c->usable, &c->blanks, &c->culls, &c->doubles};
    return at[i];
}

int cot_figure_index(const char *name, size_t len)
{
    for (int i = 0; i < COT_FIGURES; i++)
        if (strlen(cot_figure_name[i]) == len && memcmp(cot_figure_name[i], name, len) == 0) return i;
    return -1;
}

/* Digits only, at most 7 of them. */
static bool read_number(const char *s, size_t len, int32_t *out)
{
    int32_t n = 0;
    if (len == 0 || len > 7) return false;
    for (size_t i = 0; i < len; i++) {
        if (s[i] < '0' || s[i] > '9') return false;
        n = n * 10 + (s[i] - '0');
    }
    *out = n;
    return true;
}

enum cot_err cot_figure_read(const char *s, size_t len, const char *where, int32_t *out, struct cot_fault *fault)
{
    *out = COT_COUNT_UNKNOWN;
    if (len == 1 && *s == '?') return COT_OK;
    if (read_number(s, len, out)) return COT_OK;
    (void)cot_fail(fault, COT_INVALID, "%s: \"%.*s\" is no number of cells", where, len > 40 ? 40 : (int)len, s);
    return cot_hint(fault, "write a whole number such as 66, or ? for not taken");
}

enum cot_err cot_tray_read(const char *s, size_t len, int32_t *out, struct cot_fault *fault)
{
    if (read_number(s, len, out) && *out >= 1) return COT_OK;
    (void)cot_fail(fault, COT_INVALID, "\"%.*s\" is no tray number", len > 40 ? 40 : (int)len, s);
    return cot_hint(fault, "trays are numbered 1, 2, 3 ... from the tag");
}

/* "72/66/4/2/1": all five, in order. */
static enum cot_err read_slashes(const char *s, const char *word, struct cot_tray_count *out, struct cot_fault *fault)
{
    for (int i = 0; i < COT_FIGURES; i++) {
        char where[80];
        size_t len = strcspn(s, "/");
        snprintf(where, sizeof where, "%.50s, %s", word, cot_figure_name[i]);
        enum cot_err err = cot_figure_read(s, len, where, cot_figure(out, i), fault);
        if (err != COT_OK) return err;
        s += len;
        bool last = i == COT_FIGURES - 1;
        if ((*s == '/') == last) {
            (void)cot_fail(fault, COT_INVALID, "%.50s: five figures are wanted, %s", word,
                           last ? "there are more" : "there are fewer");
            return cot_hint(fault, SHORT_FORM);
        }
        s += !last;
    }
    return COT_OK;
}

/* "blanks=5,culls=1": any of the five, each once. */
static enum cot_err read_named(const char *s, const char *word, struct cot_tray_count *out, struct cot_fault *fault)
{
    bool seen[COT_FIGURES] = {false};
    for (;;) {
        size_t len = strcspn(s, ","), name = strcspn(s, "=,");
        int i = s[name] == '=' ? cot_figure_index(s, name) : -1;
        if (i < 0 || seen[i]) {
            (void)cot_fail(fault, COT_INVALID, "%.50s: \"%.*s\" %s", word, len > 40 ? 40 : (int)len, s,
                           i < 0 ? "is none of looked=, usable=, blanks=, culls=, doubles=" : "stands there twice");
            return cot_hint(fault, SHORT_FORM);
        }
        seen[i] = true;
        enum cot_err err = cot_figure_read(s + name + 1, len - name - 1, word, cot_figure(out, i), fault);
        if (err != COT_OK) return err;
        if (s[len] == '\0') return COT_OK;
        s += len + 1;
    }
}

enum cot_err cot_count_short(const char *word, struct cot_tray_count *out, struct cot_fault *fault)
{
    size_t tray = strcspn(word, ":");
    for (int i = 0; i < COT_FIGURES; i++) *cot_figure(out, i) = COT_COUNT_UNKNOWN;
    if (word[tray] != ':') {
        (void)cot_fail(fault, COT_INVALID, "\"%.50s\" is no count of a tray", word);
        return cot_hint(fault, SHORT_FORM);
    }
    enum cot_err err = cot_tray_read(word, tray, &out->tray, fault);
    if (err != COT_OK) return cot_within(fault, "%.50s", word);
    const char *figures = word + tray + 1;
    return strchr(figures, '=') ? read_named(figures, word, out, fault) : read_slashes(figures, word, out, fault);
}

/* Cells looked at, where they were not given but follow. */
static enum cot_err complete_looked(struct cot_tray_count *c, int64_t cells, const char *where, struct cot_fault *fault)
{
    bool parts = c->usable >= 0 && c->blanks >= 0 && c->culls >= 0;
    if (c->looked >= 0) return COT_OK;
    if (parts) {
        c->looked = c->usable + c->blanks + c->culls;
        return COT_OK;
    }
    if (c->usable < 0 && c->blanks >= 0 && cells > 0) {
        c->looked = (int32_t)cells;
        return COT_OK;
    }
    (void)cot_fail(fault, COT_INVALID, "%s: how many cells were looked at?", where);
    return cot_hint(fault, "give looked; only with blanks alone it is taken to be the whole tray");
}

enum cot_err cot_count_complete(struct cot_tray_count *c, int64_t cells, const char *where, struct cot_fault *fault)
{
    if (c->usable < 0 && c->blanks < 0) {
        (void)cot_fail(fault, COT_INVALID, "%s: neither usable nor blanks were given", where);
        return cot_hint(fault, "give usable, or blanks, or both");
    }
    enum cot_err err = complete_looked(c, cells, where, fault);
    if (err != COT_OK) return err;
    if (c->looked == 0) return cot_fail(fault, COT_INVALID, "%s: no cells were looked at: leave it out", where);
    if (cells > 0 && c->looked > cells) {
        (void)cot_fail(fault, COT_INVALID, "%s: %d cells looked at, but there are only %lld", where, c->looked,
                       (long long)cells);
        return cot_hint(fault, "look at the tag again: is it this batch and its tray format?");
    }
    if (c->usable < 0 && c->blanks >= 0 && c->culls >= 0 && c->blanks + c->culls <= c->looked)
        c->usable = c->looked - c->blanks - c->culls;
    int64_t known = (c->usable > 0 ? c->usable : 0) + (c->blanks > 0 ? c->blanks : 0) + (c->culls > 0 ? c->culls : 0);
    bool all = c->usable >= 0 && c->blanks >= 0 && c->culls >= 0;
    if (known > c->looked || (all && known != c->looked)) {
        (void)cot_fail(fault, COT_INVALID, "%s: usable, blanks and culls make %lld cells, but %d were looked at", where,
                       (long long)known, c->looked);
        return cot_hint(fault, "looked at = usable + blanks + culls; doubles are among the usable");
    }
    if (c->doubles > (c->usable >= 0 ? c->usable : c->looked)) {
        (void)cot_fail(fault, COT_INVALID, "%s: %d doubles are more than the %d usable cells", where, c->doubles,
                       c->usable >= 0 ? c->usable : c->looked);
        return cot_hint(fault, "doubles are counted among the usable: cells with more plants than wanted");
    }
    return COT_OK;
}
