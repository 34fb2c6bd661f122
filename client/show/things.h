/* Things by the words people use for them, and their fields for programs. */
#ifndef COTYL_SHOW_THINGS_H
#define COTYL_SHOW_THINGS_H

#include "client.h"

/* Sorts of things that can be listed, shown and imported. */
struct cot_sort {
    const char *word, *plural;
    enum cot_thing_type type;
    enum cot_kind kind; /* whose fields it has; COT_K_UNKNOWN for batches: the making entry's */
    bool sheets;        /* can be imported */
};
/* By either word; NULL if none. The first sort of the table, ended by a NULL word. */
const struct cot_sort *cot_sort_by_word(const char *word);
const struct cot_sort *cot_sorts(void);
/* USAGE that names the words there are (only those that can be imported, with `sheets`). */
enum cot_err cot_sort_misuse(struct cot_cli *cli, const char *word, bool sheets);

/* Any thing by code or name; `sort` NULL: of every sort. AMBIGUOUS says how to tell them apart. */
COT_MUSTCHECK enum cot_err cot_show_find(struct cot_cli *cli, const struct cot_sort *sort, const char *typed,
                                         const struct cot_thing **out);

/* Things of a type that are not gone, by name; the caller frees. NULL when out of memory. */
const struct cot_thing **cot_things_sorted(struct cot_book *b, enum cot_thing_type type, size_t *n);

/* A field for eyes: what it is ("seeder plate"), and its value without the unit where the word before it says the unit
 * already. */
#define COT_LABEL_TEXT 60
void cot_field_label(enum cot_field f, char out[static COT_LABEL_TEXT]);
void cot_field_words(struct cot_book *b, const struct cot_value *v, struct cot_buf *out);

/* A field for programs: its key with the unit shown in it ("cell_ml", "label_germ_percent"), and its value without
 * unit. *number: to be written without quotes. Keys are headings that `import` knows. */
#define COT_KEY_TEXT 40
void cot_field_key(enum cot_field f, char out[static COT_KEY_TEXT]);
bool cot_field_is_number(enum cot_field f);
void cot_field_plain(struct cot_book *b, const struct cot_value *v, struct cot_buf *out);
/* {"key":value,...} of the values; `first` as in lists. Lists of ids and numbers become arrays. */
void cot_fields_json(struct cot_book *b, const struct cot_value *const *values, size_t n, struct cot_buf *out);

#endif
