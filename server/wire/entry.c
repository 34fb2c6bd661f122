/* Reading an entry: raw lexical rules, then JSON, then the header, then the body by the table of kinds. */
#include "inner.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cotyledger/core/day.h"

/* An entry carries a field once, so the arrays of one entry fit when each of a kind's fields does. */
#define IDS_MAX 128
#define NUMBERS_MAX 1024
#define COUNTS_MAX 512

struct cot_decoder {
    json_t *root; /* holds the texts of the last fact */
    size_t ids, numbers, counts;
    struct cot_id id[IDS_MAX];
    int32_t number[NUMBERS_MAX];
    struct cot_tray_count count[COUNTS_MAX];
};

/* jansson drops bytes without a word when its buffer cannot grow, so its allocator remembers that memory ran out. */
static _Thread_local bool out_of_memory;

static void *remembering_malloc(size_t n)
{
    void *p = malloc(n);
    if (!p) out_of_memory = true;
    return p;
}

__attribute__((constructor)) static void use_remembering_malloc(void)
{
    json_set_alloc_funcs(remembering_malloc, free);
}

struct cot_decoder *cot_decoder_new(void)
{
    return calloc(1, sizeof(struct cot_decoder));
}

void cot_decoder_free(struct cot_decoder *d)
{
    if (!d) return;
    json_decref(d->root);
    free(d);
}

/* --- Header: a step for each key, which refuses ---------------------------------------------------------------- */

struct header {
    json_t *root;
    struct cot_fact *f;
    struct cot_fault *fault;
};

static enum cot_err refuse(const struct header *h, const char *key, const char *what)
{
    return cot_fail(h->fault, COT_MALFORMED, "entry, header key \"%s\": %s", key, what);
}

/* The key's integer in min..max; `bad` otherwise. */
static bool integer(const json_t *v, int64_t min, int64_t max, int64_t *out)
{
    if (!json_is_integer(v)) return false;
    *out = json_integer_value(v);
    return *out >= min && *out <= max;
}

static bool identity(const json_t *v, struct cot_id *out)
{
    return json_is_string(v) && cot_id_parse(json_string_value(v), json_string_length(v), out);
}

static enum cot_err read_version(const struct header *h, const json_t *v)
{
    int64_t n;
    if (!integer(v, 1, 1, &n)) return refuse(h, "v", "must be 1; a newer version of the program may be needed");
    return COT_OK;
}

static enum cot_err read_house(const struct header *h, const json_t *v)
{
    if (!json_is_string(v) || !cot_house_parse(json_string_value(v), json_string_length(v), &h->f->house))
        return refuse(h, "house", "must be 22 characters of base64url");
    return COT_OK;
}

static enum cot_err read_device(const struct header *h, const json_t *v)
{
    if (!json_is_string(v) || !cot_tag_valid(json_string_value(v), json_string_length(v)))
        return refuse(h, "device", "must be a tag of 1 to 4 letters A-Z");
    memcpy(h->f->tag, json_string_value(v), json_string_length(v) + 1);
    return COT_OK;
}

static enum cot_err read_number(const struct header *h, const json_t *v)
{
    if (!integer(v, 1, COT_INT_MAX, &h->f->number)) return refuse(h, "n", "must be a whole number from 1");
    return COT_OK;
}

static enum cot_err read_clock(const struct header *h, const json_t *v)
{
    int64_t tick;
    if (json_array_size(v) != 2 || !integer(json_array_get(v, 0), 0, COT_INT_MAX, &h->f->clock) ||
        !integer(json_array_get(v, 1), 0, INT32_MAX, &tick))
        return refuse(h, "clock", "must be [milliseconds, tick], neither negative");
    h->f->tick = (int32_t)tick;
    return COT_OK;
}

static enum cot_err read_seen(const struct header *h, const json_t *v)
{
    if (!integer(v, 0, COT_INT_MAX, &h->f->seen)) return refuse(h, "seen", "must be a whole number from 0");
    return COT_OK;
}

static enum cot_err read_member(const struct header *h, const json_t *v)
{
    bool none = json_is_string(v) && json_string_length(v) == 0;
    h->f->has_member = !none;
    if (none && strcmp(h->f->tag, "H") != 0)
        return refuse(h, "member", "may be empty only in the house's own journal, device \"H\"");
    if (!none && !identity(v, &h->f->member)) return refuse(h, "member", "must be 43 characters of base64url");
    return COT_OK;
}

static enum cot_err read_kind(const struct header *h, const json_t *v)
{
    const char *s = json_string_value(v);
    size_t len = s ? json_string_length(v) : 0;
    if (len < 1 || len >= sizeof h->f->kind_name || strspn(s, "abcdefghijklmnopqrstuvwxyz-") != len)
        return refuse(h, "kind", "must be 1 to 31 letters a-z or dashes");
    memcpy(h->f->kind_name, s, len + 1);
    h->f->kind = cot_kind_by_name(s, len);
    return COT_OK;
}

static enum cot_err read_salt(const struct header *h, const json_t *v)
{
    if (!json_is_string(v) ||
        !cot_b64_parse(json_string_value(v), json_string_length(v), h->f->salt, sizeof h->f->salt))
        return refuse(h, "salt", "must be 22 characters of base64url");
    return COT_OK;
}

static enum cot_err read_body(const struct header *h, const json_t *v)
{
    return json_is_object(v) ? COT_OK : refuse(h, "body", "must be an object");
}

static enum cot_err read_optional(const struct header *h, const char *key, bool *has, struct cot_id *out)
{
    const json_t *v = json_object_get(h->root, key);
    *has = v != NULL;
    if (v && !identity(v, out)) return refuse(h, key, "must be 43 characters of base64url");
    return COT_OK;
}

/* In this order: the member's rule needs the device. */
static const struct {
    const char *key;
    enum cot_err (*read)(const struct header *h, const json_t *v);
} required[] = {
    {"v", read_version}, {"house", read_house},   {"device", read_device}, {"n", read_number},  {"clock", read_clock},
    {"seen", read_seen}, {"member", read_member}, {"kind", read_kind},     {"salt", read_salt}, {"body", read_body},
};

static enum cot_err read_header(const struct header *h)
{
    for (size_t i = 0; i < sizeof required / sizeof required[0]; i++) {
        const json_t *v = json_object_get(h->root, required[i].key);
        if (!v) return refuse(h, required[i].key, "is missing");
        enum cot_err err = required[i].read(h, v);
        if (err) return err;
    }
    enum cot_err err = read_optional(h, "about", &h->f->has_about, &h->f->about);
    if (!err) err = read_optional(h, "farm", &h->f->has_farm, &h->f->farm);
    if (!err) err = read_optional(h, "carries", &h->f->has_carries, &h->f->carries);
    return err;
}

/* --- Body: a reader for each type of value, which never refuses: what it cannot read is a flaw ---------------------
 */

typedef bool value_reader(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v,
                          struct cot_value *out);

static bool value_int(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    (void)d;
    return integer(v, row->min, row->max, &out->v.i);
}

static bool value_bool(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    (void)d;
    (void)row;
    out->v.i = json_is_true(v);
    return json_is_boolean(v);
}

static bool value_text(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    (void)d;
    out->v.text = json_string_value(v);
    out->len = (uint32_t)json_string_length(v);
    return out->v.text && out->len >= 1 && out->len <= row->max;
}

static bool value_day(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    (void)d;
    (void)row;
    int32_t day;
    if (!json_is_string(v) || !cot_day_parse(json_string_value(v), json_string_length(v), &day)) return false;
    out->v.i = day;
    return true;
}

static bool value_word(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    (void)d;
    (void)row;
    if (!json_is_string(v)) return false;
    out->v.i = cot_word_index((enum cot_field)out->field, json_string_value(v), json_string_length(v));
    return out->v.i >= 0;
}

static bool value_id(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    (void)row;
    if (d->ids == IDS_MAX || !identity(v, &d->id[d->ids])) return false;
    out->v.ids = &d->id[d->ids++];
    out->len = 1;
    return true;
}

/* Members of the array, when they are 1..max of them and fit into what is left of the scratch. */
static bool array_fits(const json_t *v, const struct cot_field_row *row, size_t left, size_t *n)
{
    *n = json_array_size(v);
    return *n >= 1 && (int64_t)*n <= row->max && *n <= left;
}

static bool value_ids(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    size_t n;
    if (!array_fits(v, row, IDS_MAX - d->ids, &n)) return false;
    for (size_t i = 0; i < n; i++)
        if (!identity(json_array_get(v, i), &d->id[d->ids + i])) return false;
    out->v.ids = &d->id[d->ids];
    out->len = (uint32_t)n;
    d->ids += n;
    return true;
}

static bool value_numbers(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v,
                          struct cot_value *out)
{
    size_t n;
    int64_t before = 0;
    if (!array_fits(v, row, NUMBERS_MAX - d->numbers, &n)) return false;
    for (size_t i = 0; i < n; i++) {
        int64_t tray;
        if (!integer(json_array_get(v, i), before + 1, COT_TRAY_NUMBER_MAX, &tray)) return false;
        d->number[d->numbers + i] = (int32_t)tray;
        before = tray;
    }
    out->v.numbers = &d->number[d->numbers];
    out->len = (uint32_t)n;
    d->numbers += n;
    return true;
}

/* A figure of a tray's count: absent is unknown. */
static bool figure(const json_t *tray, const char *key, int32_t *out)
{
    const json_t *v = json_object_get(tray, key);
    int64_t n = COT_COUNT_UNKNOWN;
    if (v && !integer(v, 0, COT_TRAY_FIGURE_MAX, &n)) return false;
    *out = (int32_t)n;
    return true;
}

static bool tray_count(const json_t *v, struct cot_tray_count *out)
{
    int64_t tray;
    if (!json_is_object(v) || !integer(json_object_get(v, "tray"), 1, COT_TRAY_NUMBER_MAX, &tray)) return false;
    out->tray = (int32_t)tray;
    return figure(v, "looked", &out->looked) && figure(v, "usable", &out->usable) &&
           figure(v, "blanks", &out->blanks) && figure(v, "culls", &out->culls) && figure(v, "doubles", &out->doubles);
}

static bool value_trays(struct cot_decoder *d, const struct cot_field_row *row, const json_t *v, struct cot_value *out)
{
    size_t n;
    if (!array_fits(v, row, COUNTS_MAX - d->counts, &n)) return false;
    for (size_t i = 0; i < n; i++)
        if (!tray_count(json_array_get(v, i), &d->count[d->counts + i])) return false;
    out->v.counts = &d->count[d->counts];
    out->len = (uint32_t)n;
    d->counts += n;
    return true;
}

static value_reader *const readers[] = {
    [COT_T_INT] = value_int, [COT_T_BOOL] = value_bool,       [COT_T_TEXT] = value_text,
    [COT_T_DAY] = value_day, [COT_T_WORD] = value_word,       [COT_T_ID] = value_id,
    [COT_T_IDS] = value_ids, [COT_T_NUMBERS] = value_numbers, [COT_T_TRAYS] = value_trays,
};

static void flaw(struct cot_fact *f, const char *field, const char *what)
{
    if (f->flaw[0] == '\0') snprintf(f->flaw, sizeof f->flaw, "%s: %s", field, what);
}

/* Keeps the values in order of enum cot_field, whatever the order of the kind's table. */
static void insert(struct cot_fact *f, const struct cot_value *value)
{
    unsigned i = f->value_count++;
    for (; i > 0 && f->value[i - 1].field > value->field; i--) f->value[i] = f->value[i - 1];
    f->value[i] = *value;
}

static void read_fields(struct cot_decoder *d, const json_t *body, struct cot_fact *f)
{
    const struct cot_kind_row *kind = cot_kind_row(f->kind);
    for (unsigned i = 0; i < kind->field_count && f->value_count < COT_FACT_FIELDS_MAX; i++) {
        enum cot_field field = kind->fields[i].field;
        const struct cot_field_row *row = cot_field_row(field);
        const json_t *v = json_object_get(body, row->name);
        if (!v) continue;
        struct cot_value value = {.field = (uint8_t)field, .type = (uint8_t)row->type};
        if (json_is_null(v)) {
            value.type = COT_T_NONE;
            insert(f, &value);
        } else if (readers[row->type](d, row, v, &value)) {
            insert(f, &value);
        } else {
            flaw(f, row->name, "a value of another type or out of its range");
        }
    }
}

static void read_body_fields(struct cot_decoder *d, const json_t *body, struct cot_fact *f)
{
    if (f->kind == COT_K_UNKNOWN) {
        flaw(f, f->kind_name, "a kind of entry that this version does not know");
        return;
    }
    read_fields(d, body, f);
    if (f->flaw[0] == '\0' && !cot_fact_check(f, f->flaw) && f->flaw[0] == '\0')
        flaw(f, f->kind_name, "does not fit its kind");
}

enum cot_err cot_entry_parse(struct cot_decoder *d, const char *line, size_t len, struct cot_fact *out,
                             struct cot_fault *fault)
{
    json_error_t error;
    memset(out, 0, sizeof *out);
    d->ids = d->numbers = d->counts = 0;
    json_decref(d->root);
    d->root = NULL;
    if (len > COT_ENTRY_MAX)
        return cot_fail(fault, COT_MALFORMED, "entry: %zu bytes; at most %d are allowed", len, COT_ENTRY_MAX);
    enum cot_err err = cot_lex_check(line, len, fault);
    if (err) return err;
    out_of_memory = false;
    d->root = json_loadb(line, len, JSON_REJECT_DUPLICATES, &error);
    if (out_of_memory) return cot_fail(fault, COT_MEMORY, "out of memory");
    if (!d->root) return cot_fail(fault, COT_MALFORMED, "entry, byte %d: %s", error.position, error.text);
    if (!json_is_object(d->root)) return cot_fail(fault, COT_MALFORMED, "entry: not a JSON object");
    struct header h = {d->root, out, fault};
    err = read_header(&h);
    if (err) return err;
    read_body_fields(d, json_object_get(d->root, "body"), out);
    return COT_OK;
}
