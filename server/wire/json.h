/* The reader of an entry's JSON: the frozen grammar and nothing else, into nodes that one reader uses again and again. */
#ifndef COTYLEDGER_WIRE_JSON_H
#define COTYLEDGER_WIRE_JSON_H

#include "cotyledger/wire/entry.h"

enum cot_json_type { COT_JSON_NULL, COT_JSON_TRUE, COT_JSON_FALSE, COT_JSON_INT, COT_JSON_TEXT, COT_JSON_ARRAY, COT_JSON_OBJECT };

struct cot_node {
    enum cot_json_type type;
    uint32_t next;     /* the next member of what this one is in; 0: none */
    uint32_t first;    /* ARRAY, OBJECT: the first member; 0: none */
    uint32_t count;    /* ARRAY, OBJECT: members; TEXT: bytes */
    uint32_t key_len;  /* of a member of an object */
    const char *key;   /* unescaped, NUL-terminated, like `text` */
    union {
        int64_t number;
        const char *text;
    } v;
};

#define COT_JSON_SLOTS 8192
struct cot_json {
    struct cot_node *node; /* the root is node[0] */
    size_t count, cap;
    size_t text_len;
    uint8_t hash_key[16];
    uint32_t slot[COT_JSON_SLOTS]; /* of the keys of one large object, while they are compared */
    char text[COT_ENTRY_MAX + 1];  /* every text unescaped is shorter than raw, with its NUL too */
};
void cot_json_init(struct cot_json *j);
void cot_json_free(struct cot_json *j);

/* Reads one value of at most COT_ENTRY_MAX bytes. The nodes live until the next reading. MALFORMED, MEMORY. */
COT_MUSTCHECK enum cot_err cot_json_read(struct cot_json *j, const char *s, size_t len, struct cot_fault *fault);

/* The member of an object; NULL when it has none, or `o` is NULL or no object. */
const struct cot_node *cot_json_get(const struct cot_json *j, const struct cot_node *o, const char *key);
/* First member of an array or object and the one after; NULL at the end. */
const struct cot_node *cot_json_first(const struct cot_json *j, const struct cot_node *of);
const struct cot_node *cot_json_next(const struct cot_json *j, const struct cot_node *n);

#endif
