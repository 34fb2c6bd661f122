/* Options of cotyld, from the command line and a configuration file; one table makes both and the help. */
#ifndef COTYLD_CONFIG_H
#define COTYLD_CONFIG_H

#include "cotyledger/core/err.h"

#include <stdbool.h>

#define COT_WORDS_MOST 8

struct cot_config {
    /* Options of every command. */
    char *config, *data, *database, *user, *listen, *tls_cert, *tls_key, *url, *log;
    bool behind_proxy, no_prepared;
    int threads, workers, queue, connections, per_ip, seconds, body_kib, books_mib;
    /* Of one command. */
    char *house, *manager, *on, *farm, *form;
    bool help, version;
    /* Words that are no options: the command and its arguments. */
    char *word[COT_WORDS_MOST];
    int words;
};
/* Reads the arguments, then what the file named by --config says where the arguments said nothing, then the defaults.
 * Free with cot_config_free, after an error too. USAGE, IO, MALFORMED. */
COT_MUSTCHECK enum cot_err cot_config_read(int argc, char **argv, struct cot_config *out, struct cot_fault *fault);
void cot_config_free(struct cot_config *c);
/* The options as lines of help, on standard output. */
void cot_config_help(void);

#endif
