/* Options of `add` and `change`: made from the table of kinds and fields, so that a new field has an option at once. */
#ifndef COTYL_DESCRIBE_H
#define COTYL_DESCRIBE_H

#include "args.h"
#include "work.h"

#define COT_DESCRIBE_OPTS 24

struct cot_describe {
    enum cot_kind kind;
    const char *word; /* "farm" */
    struct cot_opt opt[COT_DESCRIBE_OPTS + 1];
    char name[COT_DESCRIBE_OPTS][24];
};

/* The kind named by the word that stands first in argv among the words. With `lines`, order lines too. USAGE when none
 * is. */
COT_MUSTCHECK enum cot_err cot_describe_kind(struct cot_cli *cli, const char *word, bool lines, enum cot_kind *kind);
/* The first word of a command line that is no option, not knowing yet which options take values: argv[1]. NULL if
 * absent. */
const char *cot_describe_word(int argc, char **argv);
/* Fills the options. With `change`, the name is an option and yes/no fields take a value, so that they can be taken
 * away. */
void cot_describe_options(struct cot_describe *d, enum cot_kind kind, bool change);
/* "crop Lettuce", "40 plants", "bench none". Put to `out`. */
void cot_describe_field(struct cot_cli *cli, const struct cot_value *v, struct cot_buf *out);
/* The fact's fields so, parted by commas; without `skip`. */
void cot_describe_fields(struct cot_cli *cli, const struct cot_fact *f, enum cot_field skip, struct cot_buf *out);

#endif
