/* Options by table: `--name value`, `--name=value`, flags, anywhere among the words. */
#include "args.h"

#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/sheet.h"
#include "words.h"

#define OPTS_MAX (sizeof((struct cot_args *)0)->value / sizeof(char *))

static size_t opt_count(const struct cot_opt *opts)
{
    size_t n = 0;
    while (opts && opts[n].name) n++;
    return n;
}

static int opt_find(const struct cot_opt *opts, const char *name, size_t len)
{
    for (int i = 0; opts && opts[i].name; i++)
        if (strlen(opts[i].name) == len && memcmp(opts[i].name, name, len) == 0) return i;
    return -1;
}

static enum cot_err unknown(struct cot_cli *cli, const struct cot_opt *opts, const char *arg)
{
    const char *names[OPTS_MAX];
    char typed[41], near[120];
    size_t n = 0;
    for (; opts && opts[n].name && n < OPTS_MAX; n++) names[n] = opts[n].name;
    snprintf(typed, sizeof typed, "%.*s", (int)strcspn(arg + 2, "="), arg + 2);
    cot_nearest(typed, names, n, near);
    cot_fail(&cli->fault, COT_USAGE, "%s has no option --%s", cli->command->name, typed);
    if (near[0]) return cot_hint(&cli->fault, "did you mean --%s?", near);
    return cot_hint(&cli->fault, "cotyl %s --help lists its options", cli->command->name);
}

/* The option at argv[*i]; moves *i over a value that stands in the next word. */
static enum cot_err read_option(struct cot_cli *cli, int argc, char **argv, int *i, const struct cot_opt *opts,
                                struct cot_args *out)
{
    char *arg = argv[*i];
    size_t len = strcspn(arg + 2, "=");
    const char *value = arg[2 + len] == '=' ? arg + 3 + len : NULL;
    int at = opt_find(opts, arg + 2, len);
    if (at < 0) return unknown(cli, opts, arg);
    const struct cot_opt *opt = &opts[at];
    if (out->value[at]) return cot_fail(&cli->fault, COT_USAGE, "--%s is given twice", opt->name);
    if (!opt->value) {
        if (value) return cot_fail(&cli->fault, COT_USAGE, "--%s takes no value", opt->name);
        value = "";
    } else if (!value) {
        if (*i + 1 >= argc || strncmp(argv[*i + 1], "--", 2) == 0) {
            cot_fail(&cli->fault, COT_USAGE, "--%s needs a value: %s", opt->name, opt->value);
            return cot_hint(&cli->fault, "a value that starts with -- is written --%s=VALUE", opt->name);
        }
        value = argv[++*i];
    }
    out->value[at] = value;
    return COT_OK;
}

static enum cot_err check_words(struct cot_cli *cli, const struct cot_args *a, int least, int most)
{
    const struct cot_command *c = cli->command;
    if (a->count >= least && a->count <= most) return COT_OK;
    if (a->count < least)
        cot_fail(&cli->fault, COT_USAGE, "%s needs %s%d word%s, not %d", c->name, least == most ? "" : "at least ",
                 least, least == 1 ? "" : "s", a->count);
    else cot_fail(&cli->fault, COT_USAGE, "%s does not know what to do with \"%s\"", c->name, a->word[most]);
    return cot_hint(&cli->fault, "usage: cotyl %s%s%s (a name of several words goes in quotes)", c->name,
                    c->args[0] ? " " : "", c->args);
}

enum cot_err cot_args_read(struct cot_cli *cli, int argc, char **argv, const struct cot_opt *opts, int least, int most,
                           struct cot_args *out)
{
    bool ended = false;
    memset(out, 0, sizeof *out);
    if (opt_count(opts) > OPTS_MAX) return cot_fail(&cli->fault, COT_INTERNAL, "too many options in a table");
    out->word = calloc((size_t)argc + 1, sizeof *out->word);
    out->keep = cot_keep_new();
    if (!out->word || !out->keep) {
        cot_args_free(out);
        return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    }
    for (int i = 1; i < argc; i++) {
        if (ended || strncmp(argv[i], "--", 2) != 0) {
            out->word[out->count++] = argv[i];
            continue;
        }
        ended = argv[i][2] == '\0';
        enum cot_err e = ended ? COT_OK : read_option(cli, argc, argv, &i, opts, out);
        if (e) {
            cot_args_free(out);
            return e;
        }
    }
    enum cot_err e = check_words(cli, out, least, most);
    if (e) cot_args_free(out);
    return e;
}

void cot_args_free(struct cot_args *a)
{
    free(a->word);
    a->word = NULL;
    a->count = 0;
    if (a->keep) cot_keep_free(a->keep);
    a->keep = NULL;
}

const char *cot_args_value(const struct cot_args *a, const struct cot_opt *opts, const char *name)
{
    int at = opt_find(opts, name, strlen(name));
    return at < 0 ? NULL : a->value[at];
}

enum cot_err cot_args_fields(struct cot_cli *cli, const struct cot_args *a, const struct cot_opt *opts,
                             struct cot_fact *f)
{
    for (int i = 0; opts[i].name; i++) {
        const char *value = a->value[i];
        enum cot_field field = (enum cot_field)opts[i].field;
        if (opts[i].field < 0 || !value) continue;
        if (!opts[i].value) value = "yes";
        if (strcmp(value, "none") == 0) {
            if (!cot_fact_clear(f, field)) return cot_fail(&cli->fault, COT_USAGE, "too many options at once");
            continue;
        }
        enum cot_err e = cot_value_read(cli->book, f, field, value, strlen(value), NULL, a->keep, &cli->fault);
        if (e) return cot_within(&cli->fault, "--%s", opts[i].name);
    }
    return COT_OK;
}
