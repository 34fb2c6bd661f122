/* Reading JSON by the frozen grammar: texts and numbers are checked where they stand, duplicate keys where an object ends. */
#include "json.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "inner.h"

void cot_json_init(struct cot_json *j)
{
    memset(j, 0, sizeof *j);
    crypto_shorthash_keygen(j->hash_key);
}

void cot_json_free(struct cot_json *j)
{
    free(j->node);
    j->node = NULL;
    j->count = j->cap = 0;
}

struct reader {
    struct cot_json *j;
    const char *start, *p, *end;
    int depth;
    struct cot_fault *fault;
};

static enum cot_err refuse(const struct reader *r, const char *what)
{
    return cot_fail(r->fault, COT_MALFORMED, "entry, byte %zu: %s", (size_t)(r->p - r->start), what);
}

/* At a byte that is not what the grammar has here: says why in the words of its rule. */
static enum cot_err refuse_byte(const struct reader *r, const char *wanted)
{
    if (r->p == r->end) return refuse(r, "it ends too early");
    char c = *r->p;
    if (c == ' ' || c == '\t' || c == '\n' || c == '\r') return refuse(r, "a blank or line break outside a text");
    if (c == '\0' || !strchr("{}[],:\"-0123456789", c)) return refuse(r, "a byte that is not part of JSON");
    return refuse(r, wanted);
}

static bool at(const struct reader *r, char c)
{
    return r->p < r->end && *r->p == c;
}

/* --- Texts ------------------------------------------------------------------------------------------------------ */

static bool control(uint32_t c)
{
    return c < 0x20 || (c >= 0x7F && c < 0xA0);
}

/* Four hexadecimal digits at `s`; false when they are not. */
static bool hex4(const char *s, const char *end, uint32_t *out)
{
    if (end - s < 4) return false;
    uint32_t n = 0;
    for (int i = 0; i < 4; i++) {
        char c = s[i];
        if (c >= '0' && c <= '9') n = n << 4 | (uint32_t)(c - '0');
        else if (c >= 'a' && c <= 'f') n = n << 4 | (uint32_t)(c - 'a' + 10);
        else if (c >= 'A' && c <= 'F') n = n << 4 | (uint32_t)(c - 'A' + 10);
        else return false;
    }
    *out = n;
    return true;
}

static void put_code_point(struct cot_json *j, uint32_t c)
{
    char *to = j->text + j->text_len;
    size_t n = c < 0x80 ? 1 : c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;
    static const uint32_t lead[] = {0, 0, 0xC0, 0xE0, 0xF0};
    for (size_t i = n - 1; i > 0; i--, c >>= 6) to[i] = (char)(0x80 | (c & 0x3F));
    to[0] = (char)(lead[n] | c);
    j->text_len += n;
}

/* At the 'u' of an escape. */
static enum cot_err unicode_escape(struct reader *r)
{
    uint32_t c, low;
    if (!hex4(r->p + 1, r->end, &c)) return refuse(r, "a \\u escape needs four hexadecimal digits");
    if (control(c)) return refuse(r, "an escaped control character");
    if (c >= 0xDC00 && c <= 0xDFFF) return refuse(r, "an unpaired surrogate");
    if (c >= 0xD800 && c < 0xDC00) {
        const char *second = r->p + 5;
        if (r->end - second < 6 || second[0] != '\\' || second[1] != 'u' || !hex4(second + 2, r->end, &low) || low < 0xDC00 ||
            low > 0xDFFF)
            return refuse(r, "an unpaired surrogate");
        c = 0x10000 + ((c - 0xD800) << 10) + (low - 0xDC00);
        r->p += 6;
    }
    r->p += 5;
    put_code_point(r->j, c);
    return COT_OK;
}

/* After a backslash. */
static enum cot_err escape(struct reader *r)
{
    char c = r->p < r->end ? *r->p : '\0';
    if (c == 'u') return unicode_escape(r);
    if (c != '\0' && strchr("bfnrt", c)) return refuse(r, "an escaped control character");
    if (c != '"' && c != '\\' && c != '/') return refuse(r, "an escape that JSON does not know");
    r->j->text[r->j->text_len++] = c;
    r->p++;
    return COT_OK;
}

/* One character that is no escape, or a run of plain ones. */
static enum cot_err characters(struct reader *r)
{
    const char *from = r->p;
    while (r->p < r->end && *r->p >= 0x20 && *r->p < 0x7F && *r->p != '"' && *r->p != '\\') r->p++;
    if (r->p == from) {
        const char *next = r->p;
        uint32_t c = cot_utf8_next(&next, r->end);
        if (c == COT_UTF8_BAD) return refuse(r, "not valid UTF-8");
        if (control(c)) return refuse(r, "a control character");
        r->p = next;
    }
    memcpy(r->j->text + r->j->text_len, from, (size_t)(r->p - from));
    r->j->text_len += (size_t)(r->p - from);
    return COT_OK;
}

/* At the opening quote, to after the closing one. */
static enum cot_err text(struct reader *r, const char **out, uint32_t *len)
{
    size_t start = r->j->text_len;
    r->p++;
    while (r->p < r->end && *r->p != '"') {
        enum cot_err err;
        if (*r->p == '\\') {
            r->p++;
            err = escape(r);
        } else {
            err = characters(r);
        }
        if (err) return err;
    }
    if (r->p == r->end) return refuse(r, "a text that does not end");
    r->p++;
    *out = r->j->text + start;
    *len = (uint32_t)(r->j->text_len - start);
    r->j->text[r->j->text_len++] = '\0';
    return COT_OK;
}

bool cot_text_fits(const char *s, size_t len)
{
    const char *end = s + len;
    while (s < end) {
        uint32_t c = cot_utf8_next(&s, end);
        if (c == COT_UTF8_BAD || control(c)) return false;
    }
    return true;
}

/* --- Numbers and words ---------------------------------------------------------------------------------------------- */

static enum cot_err number(struct reader *r, int64_t *out)
{
    bool minus = at(r, '-');
    if (minus) r->p++;
    const char *first = r->p;
    int64_t n = 0;
    for (; r->p < r->end && *r->p >= '0' && *r->p <= '9'; r->p++) {
        n = n * 10 + (*r->p - '0');
        if (n > COT_INT_MAX) return refuse(r, "a number beyond 2^53-1");
    }
    if (r->p == first) return refuse(r, "a minus sign without a number");
    if (*first == '0' && r->p - first > 1) return refuse(r, "a number with leading zeros");
    if (minus && n == 0) return refuse(r, "-0");
    if (at(r, '.') || at(r, 'e') || at(r, 'E')) return refuse(r, "a number that is not a plain integer");
    *out = minus ? -n : n;
    return COT_OK;
}

static bool word(struct reader *r, const char *w)
{
    size_t n = strlen(w);
    if ((size_t)(r->end - r->p) < n || memcmp(r->p, w, n) != 0) return false;
    r->p += n;
    return true;
}

/* --- Objects ---------------------------------------------------------------------------------------------------- */

const struct cot_node *cot_json_first(const struct cot_json *j, const struct cot_node *of)
{
    return of->first ? &j->node[of->first] : NULL;
}

const struct cot_node *cot_json_next(const struct cot_json *j, const struct cot_node *n)
{
    return n->next ? &j->node[n->next] : NULL;
}

static bool same_key(const struct cot_node *a, const char *key, size_t len)
{
    return a->key_len == len && memcmp(a->key, key, len) == 0;
}

const struct cot_node *cot_json_get(const struct cot_json *j, const struct cot_node *o, const char *key)
{
    size_t len = strlen(key);
    if (!o || o->type != COT_JSON_OBJECT) return NULL;
    for (const struct cot_node *n = cot_json_first(j, o); n; n = cot_json_next(j, n))
        if (same_key(n, key, len)) return n;
    return NULL;
}

/* The member whose key stood before in the same object; NULL if none. */
static const struct cot_node *twice_in_few(const struct cot_json *j, const struct cot_node *o)
{
    for (const struct cot_node *n = cot_json_first(j, o); n; n = cot_json_next(j, n))
        for (const struct cot_node *m = cot_json_first(j, o); m != n; m = cot_json_next(j, m))
            if (same_key(m, n->key, n->key_len)) return n;
    return NULL;
}

/* The same for many members, by hashing under a key of the reader's own, so that nobody can make it slow. */
static const struct cot_node *twice_in_many(struct cot_json *j, const struct cot_node *o)
{
    memset(j->slot, 0, sizeof j->slot);
    for (const struct cot_node *n = cot_json_first(j, o); n; n = cot_json_next(j, n)) {
        uint64_t hash;
        crypto_shorthash((uint8_t *)&hash, (const uint8_t *)n->key, n->key_len, j->hash_key);
        uint32_t i = (uint32_t)hash % COT_JSON_SLOTS;
        for (; j->slot[i]; i = (i + 1) % COT_JSON_SLOTS)
            if (same_key(&j->node[j->slot[i]], n->key, n->key_len)) return n;
        j->slot[i] = (uint32_t)(n - j->node);
    }
    return NULL;
}

/* --- Values ----------------------------------------------------------------------------------------------------- */

static bool new_node(struct cot_json *j, uint32_t *out)
{
    if (j->count == j->cap) {
        size_t cap = j->cap ? j->cap * 2 : 32;
        struct cot_node *node = realloc(j->node, cap * sizeof *node);
        if (!node) return false;
        j->node = node;
        j->cap = cap;
    }
    *out = (uint32_t)j->count++;
    memset(&j->node[*out], 0, sizeof j->node[*out]);
    return true;
}

static enum cot_err value(struct reader *r, uint32_t me);

/* One member of `me` after `*last`, which moves to it. */
static enum cot_err member(struct reader *r, uint32_t me, uint32_t *last)
{
    uint32_t n, key_len = 0;
    const char *key = NULL;
    if (r->j->node[me].type == COT_JSON_OBJECT) {
        if (!at(r, '"')) return refuse_byte(r, "a key in quotes is wanted");
        enum cot_err err = text(r, &key, &key_len);
        if (err) return err;
        if (!at(r, ':')) return refuse_byte(r, "a colon is wanted");
        r->p++;
    }
    if (!new_node(r->j, &n)) return cot_fail(r->fault, COT_MEMORY, "out of memory");
    r->j->node[n].key = key;
    r->j->node[n].key_len = key_len;
    if (*last) r->j->node[*last].next = n;
    else r->j->node[me].first = n;
    r->j->node[me].count++;
    *last = n;
    return value(r, n);
}

/* At the opening bracket of `me`, to after the closing one. */
static enum cot_err members(struct reader *r, uint32_t me, char close)
{
    uint32_t last = 0;
    if (++r->depth > COT_ENTRY_DEPTH) return refuse(r, "nested more than 8 deep");
    r->p++;
    while (last != 0 || !at(r, close)) {
        enum cot_err err = member(r, me, &last);
        if (err) return err;
        if (at(r, close)) break;
        if (!at(r, ',')) return refuse_byte(r, "a comma or a closing bracket is wanted");
        r->p++;
    }
    r->p++;
    r->depth--;
    return COT_OK;
}

static enum cot_err object(struct reader *r, uint32_t me)
{
    r->j->node[me].type = COT_JSON_OBJECT;
    enum cot_err err = members(r, me, '}');
    if (err) return err;
    const struct cot_node *o = &r->j->node[me];
    const struct cot_node *twice = o->count <= 16 ? twice_in_few(r->j, o) : twice_in_many(r->j, o);
    if (!twice) return COT_OK;
    return cot_fail(r->fault, COT_MALFORMED, "entry, byte %zu: duplicate key \"%.60s\" in the object that ends here",
                    (size_t)(r->p - r->start), twice->key);
}

static enum cot_err value(struct reader *r, uint32_t me)
{
    struct cot_node *n = &r->j->node[me];
    char c = r->p < r->end ? *r->p : '\0';
    switch (c) {
    case '{': return object(r, me);
    case '[':
        n->type = COT_JSON_ARRAY;
        return members(r, me, ']');
    case '"':
        n->type = COT_JSON_TEXT;
        return text(r, &n->v.text, &n->count);
    case 't':
        n->type = COT_JSON_TRUE;
        return word(r, "true") ? COT_OK : refuse_byte(r, "a value is wanted");
    case 'f':
        n->type = COT_JSON_FALSE;
        return word(r, "false") ? COT_OK : refuse_byte(r, "a value is wanted");
    case 'n': return word(r, "null") ? COT_OK : refuse_byte(r, "a value is wanted");
    default: break;
    }
    if (c != '-' && (c < '0' || c > '9')) return refuse_byte(r, "a value is wanted");
    n->type = COT_JSON_INT;
    return number(r, &n->v.number);
}

enum cot_err cot_json_read(struct cot_json *j, const char *s, size_t len, struct cot_fault *fault)
{
    struct reader r = {j, s, s, s + len, 0, fault};
    uint32_t root;
    j->count = j->text_len = 0;
    if (len > COT_ENTRY_MAX)
        return cot_fail(fault, COT_MALFORMED, "entry: %zu bytes; at most %d are allowed", len, COT_ENTRY_MAX);
    if (!new_node(j, &root)) return cot_fail(fault, COT_MEMORY, "out of memory");
    enum cot_err err = value(&r, root);
    if (!err && r.p < r.end) err = refuse_byte(&r, "bytes after the entry");
    return err;
}
