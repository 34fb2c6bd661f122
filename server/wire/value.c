/* One value as a person types it, into a fact's field. */
#include "value.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "cotyledger/core/unit.h"
#include "inner.h"

struct typed {
    struct cot_book *book;
    struct cot_fact *fact;
    enum cot_field field;
    const struct cot_field_row *row;
    const char *s;
    size_t len;
    const struct cot_reading *how;
    void *arena;
    struct cot_fault *fault;
};

void cot_quote(const char *s, size_t len, char out[static COT_QUOTED])
{
    struct cot_buf b = {0};
    size_t cut = len;
    if (len > 44) {
        cut = 40;
        while (cut > 0 && ((unsigned char)s[cut] & 0xC0) == 0x80) cut--;
    }
    cot_put_terminal(&b, s, cut);
    snprintf(out, COT_QUOTED, "\"%.380s%s\"", b.failed || !b.s ? "" : b.s, cut < len ? "..." : "");
    cot_buf_free(&b);
}

/* Letter without its accent for U+00C0..U+00FF; "" for the two signs among them. */
static const char *const unaccented[64] = {
    "a", "a", "a", "a", "a", "a", "ae", "c", "e",  "e",  "e", "e", "i", "i", "i", "i", "d",  "n", "o",  "o", "o", "o",
    "o", "",  "o", "u", "u", "u", "u",  "y", "th", "ss", "a", "a", "a", "a", "a", "a", "ae", "c", "e",  "e", "e", "e",
    "i", "i", "i", "i", "d", "n", "o",  "o", "o",  "o",  "o", "",  "o", "u", "u", "u", "u",  "y", "th", "y",
};

void cot_squeeze(const char *s, size_t len, char out[static COT_SQUEEZED])
{
    const char *end = s + len;
    size_t n = 0;
    while (s < end) {
        const char *start = s;
        char one[2] = {0};
        const char *put = start;
        uint32_t c = cot_utf8_next(&s, end);
        if (c == COT_UTF8_BAD) break;
        size_t width = (size_t)(s - start);
        if (c < 0x80) {
            bool kept = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%';
            one[0] = (char)(c >= 'A' && c <= 'Z' ? c + 32 : c);
            put = one;
            width = kept ? 1 : 0;
        } else if (c >= 0xC0 && c <= 0xFF) {
            put = unaccented[c - 0xC0];
            width = strlen(put);
        } else if (c == 0xA0 || c == 0xB0 || c == 0xB7 || (c >= 0x2000 && c < 0x2030)) {
            width = 0;
        }
        if (n + width >= COT_SQUEEZED) break;
        memcpy(out + n, put, width);
        n += width;
    }
    out[n] = '\0';
}

static enum cot_err no_memory(struct cot_fault *fault)
{
    return cot_fail(fault, COT_MEMORY, "out of memory");
}

static enum cot_err refuse(const struct typed *t, const char *why, const char *todo)
{
    char quoted[COT_QUOTED];
    cot_quote(t->s, t->len, quoted);
    enum cot_err err = cot_fail(t->fault, COT_INVALID, "%s %s", quoted, why);
    (void)cot_hint(t->fault, "%s", todo);
    return err;
}

static enum cot_err stored(const struct typed *t, bool fitted)
{
    return fitted ? COT_OK : cot_fail(t->fault, COT_INTERNAL, "too many fields in one entry");
}

/* Where a house measures in US customary units a bare figure might be meant either way, unless the option's name or the
 * heading says which. */
static enum cot_err say_unit(const struct typed *t)
{
    const struct cot_unit *u = cot_unit_us(t->row->unit);
    bool named = t->how->unit[0] != '\0' || (!t->how->whole_names && strcmp(t->row->unit, "L") != 0);
    char quoted[COT_QUOTED];
    if (!u || named || !cot_number_bare(t->s, t->len) || !cot_units_us(t->book)) return COT_OK;
    cot_quote(t->s, t->len, quoted);
    enum cot_err err = cot_fail(t->fault, COT_INVALID, "%s does not say its unit", quoted);
    (void)cot_hint(t->fault, "write it like 25 %s or 25 %s", u->word, cot_unit_metric(t->row->unit));
    return err;
}

static enum cot_err read_int(const struct typed *t)
{
    int64_t i;
    enum cot_err err = say_unit(t);
    if (err != COT_OK) return err;
    err = cot_number_read(t->field, t->s, t->len, t->how->unit, &i, t->fault);
    return err != COT_OK ? err : stored(t, cot_fact_set_int(t->fact, t->field, i));
}

static enum cot_err read_bool(const struct typed *t)
{
    static const struct {
        const char *word;
        int value;
    } words[] = {
        {"yes", 1}, {"y", 1},    {"true", 1}, {"x", 1},   {"1", 1},      {"on", 1},    {"ja", 1},
        {"oui", 1}, {"wahr", 1}, {"vrai", 1}, {"no", 0},  {"n", 0},      {"false", 0}, {"0", 0},
        {"off", 0}, {"nein", 0}, {"non", 0},  {"nee", 0}, {"falsch", 0}, {"faux", 0},
    };
    char squeezed[COT_SQUEEZED];
    cot_squeeze(t->s, t->len, squeezed);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i].word, squeezed) == 0) return stored(t, cot_fact_set_int(t->fact, t->field, words[i].value));
    return refuse(t, "is neither yes nor no", "write yes or no");
}

/* Text is one line: line breaks and tabs of a spreadsheet's cell become blanks, other controls are refused. */
static enum cot_err read_text(const struct typed *t)
{
    char *copy = cot_keep_text(t->arena, t->s, t->len), todo[64];
    if (!copy) return no_memory(t->fault);
    size_t n = 0;
    for (size_t i = 0; i < t->len; i++) {
        bool blank = strchr("\t\r\n ", t->s[i]) != NULL && t->s[i] != '\0';
        if (blank && (n == 0 || copy[n - 1] == ' ')) continue;
        copy[n++] = blank ? ' ' : t->s[i];
    }
    while (n > 0 && copy[n - 1] == ' ') n--;
    copy[n] = '\0';
    const char *p = copy, *end = copy + n;
    while (p < end) {
        uint32_t c = cot_utf8_next(&p, end);
        if (c == COT_UTF8_BAD) return refuse(t, "is no text in UTF-8", "type it again");
        if (c < 0x20 || (c >= 0x7F && c < 0xA0)) return refuse(t, "has a control character in it", "take it out");
    }
    snprintf(todo, sizeof todo, "at most %lld bytes fit", (long long)t->row->max);
    if (n > (size_t)t->row->max) return refuse(t, "is too long", todo);
    if (n < 1) return refuse(t, "is empty", "write something, or leave it out");
    return stored(t, cot_fact_set_text(t->fact, t->field, copy, n));
}

static enum cot_err read_code(const struct typed *t)
{
    char code[COT_CODE_TEXT];
    enum cot_code_state state = cot_code_read(t->s, t->len, code);
    if (state == COT_CODE_SHAPE) return refuse(t, "is no code", "codes look like B-0417-K");
    if (state == COT_CODE_CHECK)
        return refuse(t, "is mistyped: its last character does not fit the rest", "read it again from the tag");
    char *copy = cot_keep_text(t->arena, code, strlen(code));
    if (!copy) return no_memory(t->fault);
    return stored(t, cot_fact_set_text(t->fact, t->field, copy, strlen(copy)));
}

/* Length without a midnight that spreadsheets put behind a date. */
static size_t without_midnight(const char *s, size_t len)
{
    static const char *const tails[] = {"T00:00:00Z", "T00:00:00", " 00:00:00", " 0:00:00", " 00:00", " 0:00"};
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        size_t n = strlen(tails[i]);
        if (len > n && memcmp(s + len - n, tails[i], n) == 0) return len - n;
    }
    return len;
}

static enum cot_err read_day(const struct typed *t)
{
    int32_t day;
    size_t len = without_midnight(t->s, t->len);
    const char *format = t->how->date_format;
    bool read = format && cot_day_parse_as(format, t->s, len, &day);
    /* Beside a format that starts with the year an ISO date could be another day. */
    if (!read && (!format || *format != 'Y')) read = cot_day_parse(t->s, len, &day);
    if (read && day >= COT_DAY_MIN && day <= COT_DAY_MAX) return stored(t, cot_fact_set_int(t->fact, t->field, day));
    char todo[96];
    if (format) snprintf(todo, sizeof todo, "write it as %.40s or as 2027-03-29", format);
    else
        snprintf(todo, sizeof todo, "write it as 2027-03-29%s",
                 t->how->whole_names ? ", or say how dates are written (--dates D.M.YYYY)" : "");
    bool number = len == 5 && strspn(t->s, "0123456789") >= 5;
    if (number)
        return refuse(t, "is a spreadsheet's day number, not a date", "format the cells as dates and save again");
    return refuse(t, read ? "is too far away" : "is no date", todo);
}

/* The word, or the only one that starts so (three letters or more); blanks, case and dashes do not count. */
static enum cot_err read_word(const struct typed *t)
{
    char squeezed[COT_SQUEEZED], word[16], todo[160] = "";
    int found = -1, starts = 0;
    cot_squeeze(t->s, t->len, squeezed);
    for (int i = 0; cot_word_text(t->field, i, word), strcmp(word, "?") != 0; i++) {
        if (strcmp(word, squeezed) == 0) return stored(t, cot_fact_set_int(t->fact, t->field, i));
        size_t used = strlen(todo);
        snprintf(todo + used, sizeof todo - used, "%s%s", used ? ", " : "write one of: ", word);
        if (strlen(squeezed) < 3 || strncmp(word, squeezed, strlen(squeezed)) != 0) continue;
        found = i;
        starts++;
    }
    if (starts == 1) return stored(t, cot_fact_set_int(t->fact, t->field, found));
    return refuse(t, "is none of the words for this", todo);
}

enum cot_thing_type cot_value_thing(enum cot_field field)
{
    static const uint8_t things[COT_F_COUNT] = {
        [COT_F_CROP] = COT_THING_CROP,       [COT_F_VARIETY] = COT_THING_VARIETY, [COT_F_SUBS] = COT_THING_VARIETY,
        [COT_F_FORMAT] = COT_THING_FORMAT,   [COT_F_PLATE] = COT_THING_PLATE,     [COT_F_LOT] = COT_THING_LOT,
        [COT_F_OWNER] = COT_THING_FARM,      [COT_F_MEMBER] = COT_THING_MEMBER,   [COT_F_BATCH] = COT_THING_BATCH,
        [COT_F_LINE] = COT_THING_LINE,       [COT_F_LINES] = COT_THING_LINE,      [COT_F_POT_FORMAT] = COT_THING_FORMAT,
        [COT_F_PLANNED] = COT_THING_PLANNED,
    };
    return (unsigned)field < COT_F_COUNT ? (enum cot_thing_type)things[field] : COT_THING_NONE;
}

static enum cot_err find(const struct typed *t, const char *s, size_t len, const struct cot_thing **out)
{
    while (len > 0 && strchr(" \t", *s)) s++, len--;
    while (len > 0 && strchr(" \t", s[len - 1])) len--;
    char *name = cot_keep_text(t->arena, s, len);
    if (!name) return no_memory(t->fault);
    if (len == 0) return refuse(t, "names nothing", "write a name");
    enum cot_thing_type type = cot_value_thing(t->field);
    if (t->how->whole_names) return cot_name_find(t->book, type, name, t->how->crop, out, t->fault);
    enum cot_err err = cot_book_find(t->book, type, name, out, t->fault);
    if (err != COT_OK && t->fault && !t->fault->hint[0]) (void)cot_hint(t->fault, "add it first, or correct the name");
    return err;
}

static enum cot_err keep_ids(const struct typed *t, const struct cot_id *ids, size_t n)
{
    struct cot_id *copy = cot_keep_alloc(t->arena, n * sizeof *ids);
    if (!copy) return no_memory(t->fault);
    memcpy(copy, ids, n * sizeof *ids);
    return stored(t, cot_fact_set_ids(t->fact, t->field, copy, n));
}

static bool is_any(const struct typed *t)
{
    char squeezed[COT_SQUEEZED];
    cot_squeeze(t->s, t->len, squeezed);
    return t->field == COT_F_FORMAT && strcmp(squeezed, "any") == 0;
}

static enum cot_err read_id(const struct typed *t)
{
    struct cot_id key;
    const struct cot_thing *thing;
    if (is_any(t)) return t->fact->has_about ? stored(t, cot_fact_clear(t->fact, t->field)) : COT_OK;
    if (cot_value_thing(t->field) == COT_THING_NONE) {
        if (!cot_id_parse(t->s, t->len, &key)) return refuse(t, "is no key", "a key is 43 letters, digits, - and _");
        return keep_ids(t, &key, 1);
    }
    enum cot_err err = find(t, t->s, t->len, &thing);
    return err != COT_OK ? err : keep_ids(t, &thing->id, 1);
}

/* Names in order, parted by , or ; or / unless the whole is one name. */
static enum cot_err read_ids(const struct typed *t)
{
    struct cot_id ids[64];
    size_t n = 0, most = t->row->max < 64 ? (size_t)t->row->max : 64;
    const struct cot_thing *thing;
    bool parted = strcspn(t->s, ",;/") < t->len;
    if (!parted || find(t, t->s, t->len, &thing) == COT_OK) {
        enum cot_err err = parted ? COT_OK : find(t, t->s, t->len, &thing);
        return err != COT_OK ? err : keep_ids(t, &thing->id, 1);
    }
    const char *s = t->s, *end = t->s + t->len;
    while (s < end) {
        size_t len = 0;
        while (s + len < end && !strchr(",;/", s[len])) len++;
        if (n == most) return refuse(t, "names too many", "leave out the last of them");
        enum cot_err err = find(t, s, len, &thing);
        if (err != COT_OK) return err;
        for (size_t i = 0; i < n; i++)
            if (cot_id_cmp(&ids[i], &thing->id) == 0) return refuse(t, "names one twice", "leave out the second");
        ids[n++] = thing->id;
        s += len + 1;
    }
    return keep_ids(t, ids, n);
}

static int by_number(const void *a, const void *b)
{
    int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return (x > y) - (x < y);
}

/* "3", "3-7": false when it is neither. */
static bool number_or_span(const char **s, const char *end, long span[2])
{
    for (int i = 0; i < 2; i++) {
        char *after;
        if (*s == end || **s < '0' || **s > '9') return false;
        span[i] = strtol(*s, &after, 10);
        if (after - *s > 6) return false;
        *s = after;
        if (i == 0 && (*s == end || **s != '-')) {
            span[1] = span[0];
            return true;
        }
        *s += i == 0;
    }
    return true;
}

/* "mon-fri" becomes "1-5" in place: names of days are longer than their numbers. Names that are not known stay. */
static void number_weekdays(char *s)
{
    static const char *const names[] = {"monday", "mon",    "tuesday", "tue",      "wednesday", "wed",    "thursday",
                                        "thu",    "friday", "fri",     "saturday", "sat",       "sunday", "sun"};
    char *to = s;
    while (*s) {
        size_t n = 0, k = 0;
        while ((s[n] >= 'a' && s[n] <= 'z') || (s[n] >= 'A' && s[n] <= 'Z')) n++;
        while (k < 14 && (n == 0 || strncasecmp(names[k], s, n) != 0 || names[k][n] != '\0')) k++;
        if (k < 14) *to++ = (char)('1' + k / 2);
        else if (n > 0) memmove(to, s, n), to += n;
        else *to++ = *s++;
        s += n;
    }
    *to = '\0';
}

/* Tray numbers: "1,3 5-7". Sorted, each once. */
static enum cot_err read_numbers(const struct typed *t)
{
    bool week = t->field == COT_F_WORK_DAYS;
    const char *todo = week ? "write days like mon-fri or 1,3,5" : "write tray numbers like 1,3,5-7";
    char *text = cot_keep_text(t->arena, t->s, t->len);
    int32_t *list = cot_keep_alloc(t->arena, (size_t)t->row->max * sizeof *list);
    if (!text || !list) return no_memory(t->fault);
    if (week) number_weekdays(text);
    const char *s = text, *end = text + strlen(text);
    size_t n = 0, unique = 0;
    while (s < end) {
        long span[2];
        if (strchr(" ,;", *s)) {
            s++;
            continue;
        }
        if (!number_or_span(&s, end, span) || (s < end && !strchr(" ,;", *s)))
            return refuse(t, week ? "is no list of weekdays" : "is no list of trays", todo);
        if (week && span[1] < span[0] && span[0] <= 7 && span[1] >= 1)
            return refuse(t, "begins after it ends: a week goes from Monday to Sunday",
                          "write it in two, like mon,fri-sun");
        if (span[0] < 1 || span[1] < span[0] || span[1] > (week ? 7 : 100000))
            return refuse(t, week ? "has a day that no week has" : "has a tray number that cannot be", todo);
        if (span[1] - span[0] >= (long)t->row->max - (long)n)
            return refuse(t, week ? "names a day twice" : "names too many trays", todo);
        for (long i = span[0]; i <= span[1]; i++) list[n++] = (int32_t)i;
    }
    if (n == 0) return refuse(t, week ? "is no list of weekdays" : "is no list of trays", todo);
    qsort(list, n, sizeof *list, by_number);
    for (size_t i = 0; i < n; i++)
        if (i == 0 || list[i] != list[unique - 1]) list[unique++] = list[i];
    return stored(t, cot_fact_set_numbers(t->fact, t->field, list, unique));
}

static enum cot_err read_typed(const struct typed *t)
{
    switch (t->row->type) {
    case COT_T_INT:
        return read_int(t);
    case COT_T_BOOL:
        return read_bool(t);
    case COT_T_TEXT:
        return t->field == COT_F_CODE ? read_code(t) : read_text(t);
    case COT_T_DAY:
        return read_day(t);
    case COT_T_WORD:
        return read_word(t);
    case COT_T_ID:
        return read_id(t);
    case COT_T_IDS:
        return read_ids(t);
    case COT_T_NUMBERS:
        return read_numbers(t);
    case COT_T_TRAYS:
        return refuse(t, "cannot be read as one value", "give the figures tray by tray");
    case COT_T_NONE:
        break;
    }
    return cot_fail(t->fault, COT_INTERNAL, "a field without a type");
}

enum cot_err cot_value_read_in(struct cot_book *b, struct cot_fact *f, enum cot_field field, const char *s, size_t len,
                               const struct cot_reading *how, void *arena, struct cot_fault *fault)
{
    const struct cot_field_row *row = cot_field_row(field);
    if (!row) return cot_fail(fault, COT_INTERNAL, "no such field");
    while (len > 0 && strchr(" \t", *s)) s++, len--;
    while (len > 0 && strchr(" \t", s[len - 1])) len--;
    /* The apostrophe that keeps a spreadsheet from running a cell as a formula; cot_put_csv writes it. */
    if (how->whole_names && len > 1 && *s == '\'' && strchr("=+-@", s[1])) s++, len--;
    struct typed t = {b, f, field, row, cot_keep_text(arena, s, len), len, how, arena, fault};
    if (!t.s) return no_memory(fault);
    return read_typed(&t);
}

enum cot_err cot_value_read(struct cot_book *b, struct cot_fact *f, enum cot_field field, const char *s, size_t len,
                            const char *date_format, void *arena, struct cot_fault *fault)
{
    const struct cot_reading how = {.date_format = date_format, .unit = ""};
    enum cot_err err = cot_value_read_in(b, f, field, s, len, &how, arena, fault);
    if (err != COT_OK && fault && cot_field_row(field)) (void)cot_within(fault, "%s", cot_field_row(field)->what);
    return err;
}
