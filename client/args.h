/* Options of a command: `--name value`, `--name=value`, flags; they may stand anywhere; `--` ends them. */
#ifndef COTYL_ARGS_H
#define COTYL_ARGS_H

#include "client.h"

struct cot_opt {
    const char *name;  /* without the dashes */
    const char *value; /* "N", "DAY", "FILE"; NULL for a flag */
    int field;         /* enum cot_field this option sets, or -1 */
};
#define COT_OPT_END                                                                                                    \
    {                                                                                                                  \
        NULL, NULL, -1                                                                                                 \
    }

struct cot_args {
    int count; /* words that are no options */
    char **word;
    const char *value[48]; /* beside the option table: NULL absent, "" for a given flag */
    void *keep;            /* arena of values read into facts */
};

/* Unknown or repeated options and missing values are COT_USAGE with the nearest option in the hint; so are fewer than
 * `least` or more than `most` words. Free with cot_args_free. */
COT_MUSTCHECK enum cot_err cot_args_read(struct cot_cli *cli, int argc, char **argv, const struct cot_opt *opts,
                                         int least, int most, struct cot_args *out);
void cot_args_free(struct cot_args *a);
const char *cot_args_value(const struct cot_args *a, const struct cot_opt *opts,
                           const char *name); /* NULL when absent */
/* Reads every option that has a field into the fact by cot_value_read; "none" clears. */
COT_MUSTCHECK enum cot_err cot_args_fields(struct cot_cli *cli, const struct cot_args *a, const struct cot_opt *opts,
                                           struct cot_fact *f);

#endif
