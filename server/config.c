#include "config.h"

#include <ctype.h>
#include <errno.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum type { TEXT, FLAG, NUMBER };
enum { IN_FILE = 1 };

static const struct option {
    const char *name, *arg, *what;
    enum type type;
    unsigned flags;
    size_t at;
    long lo, hi;          /* NUMBER */
    const char *standard; /* NULL: none */
} options[] = {
#define AT(member) offsetof(struct cot_config, member)
    {"config", "FILE", "read options from FILE, one `name = value` a line", TEXT, 0, AT(config), 0, 0, NULL},
    {"data", "DIR", "keep everything in DIR, with a PostgreSQL of its own", TEXT, IN_FILE, AT(data), 0, 0, NULL},
    {"database", "URL", "use this PostgreSQL database instead", TEXT, IN_FILE, AT(database), 0, 0, NULL},
    {"user", "NAME", "when started as root, run as NAME", TEXT, IN_FILE, AT(user), 0, 0, NULL},
    {"listen", "ADDR:PORT", "listen there", TEXT, IN_FILE, AT(listen), 0, 0, "127.0.0.1:7443"},
    {"tls-cert", "FILE", "certificate chain (PEM)", TEXT, IN_FILE, AT(tls_cert), 0, 0, NULL},
    {"tls-key", "FILE", "its private key (PEM)", TEXT, IN_FILE, AT(tls_key), 0, 0, NULL},
    {"behind-proxy", NULL, "plain HTTP beyond loopback: TLS is in front of it", FLAG, IN_FILE, AT(behind_proxy), 0, 0,
     NULL},
    {"url", "URL", "the address that invitations name", TEXT, IN_FILE, AT(url), 0, 0, NULL},
    {"no-prepared", NULL, "no prepared statements (behind some poolers)", FLAG, IN_FILE, AT(no_prepared), 0, 0, NULL},
    {"threads", "N", "threads that move bytes", NUMBER, IN_FILE, AT(threads), 1, 64, "2"},
    {"workers", "N", "threads that answer; each uses a database connection", NUMBER, IN_FILE, AT(workers), 1, 256, "8"},
    {"queue", "N", "requests that may wait for a worker", NUMBER, IN_FILE, AT(queue), 1, 100000, "128"},
    {"connections", "N", "connections at once", NUMBER, IN_FILE, AT(connections), 2, 100000, "256"},
    {"per-ip", "N", "connections of one address", NUMBER, IN_FILE, AT(per_ip), 1, 100000, "64"},
    {"seconds", "N", "a request may take", NUMBER, IN_FILE, AT(seconds), 1, 3600, "30"},
    {"body-kib", "N", "size of a page, KiB", NUMBER, IN_FILE, AT(body_kib), 16, 4096, "4096"},
    {"books-mib", "N", "memory for the books of houses, MiB", NUMBER, IN_FILE, AT(books_mib), 1, 1000000, "256"},
    {"log", "LEVEL", "error, warn or info", TEXT, IN_FILE, AT(log), 0, 0, "info"},
    {"house", "H", "which house: its id, or its name", TEXT, 0, AT(house), 0, 0, NULL},
    {"manager", "NAME", "new-house: its first manager", TEXT, 0, AT(manager), 0, 0, NULL},
    {"on", "DAY", "fill: as known on this day", TEXT, 0, AT(on), 0, 0, NULL},
    {"farm", "NAME", "fill: of one farm", TEXT, 0, AT(farm), 0, 0, NULL},
    {"form", "FORM", "fill: text, csv or json", TEXT, 0, AT(form), 0, 0, "text"},
    {"help", NULL, "this text", FLAG, 0, AT(help), 0, 0, NULL},
    {"version", NULL, "the version", FLAG, 0, AT(version), 0, 0, NULL},
#undef AT
};
#define OPTIONS (sizeof options / sizeof options[0])

static const struct option *find(const char *name, size_t len)
{
    for (size_t i = 0; i < OPTIONS; i++)
        if (strlen(options[i].name) == len && memcmp(options[i].name, name, len) == 0) return &options[i];
    return NULL;
}

static void *place(struct cot_config *c, const struct option *o)
{
    return (char *)c + o->at;
}

static enum cot_err set_number(struct cot_config *c, const struct option *o, const char *value, struct cot_fault *fault)
{
    char *end;
    errno = 0;
    long n = strtol(value, &end, 10);
    if (errno || end == value || *end || n < o->lo || n > o->hi)
        return cot_fail(fault, COT_USAGE, "%s %s: must be a whole number from %ld to %ld", o->name, value, o->lo,
                        o->hi);
    *(int *)place(c, o) = (int)n;
    return COT_OK;
}

static enum cot_err set(struct cot_config *c, const struct option *o, const char *value, struct cot_fault *fault)
{
    switch (o->type) {
    case NUMBER:
        return set_number(c, o, value, fault);
    case FLAG:
        if (strcmp(value, "yes") != 0 && strcmp(value, "no") != 0)
            return cot_fail(fault, COT_USAGE, "%s: must be yes or no", o->name);
        *(bool *)place(c, o) = *value == 'y';
        return COT_OK;
    case TEXT:
        break;
    }
    char **text = place(c, o);
    free(*text);
    *text = strdup(value);
    return *text ? COT_OK : cot_fail(fault, COT_MEMORY, "out of memory");
}

/* One argument that starts with two dashes; `next` is the one after it. */
static enum cot_err read_option(struct cot_config *c, const char *arg, const char *next, bool *said, bool *used_next,
                                struct cot_fault *fault)
{
    size_t len = strcspn(arg, "=");
    const struct option *o = find(arg, len);
    *used_next = false;
    if (!o) {
        cot_fail(fault, COT_USAGE, "unknown option --%.*s", (int)len, arg);
        return cot_hint(fault, "see cotyld --help");
    }
    if (said[o - options]) return cot_fail(fault, COT_USAGE, "--%s is there twice", o->name);
    said[o - options] = true;
    const char *value = arg[len] ? arg + len + 1 : NULL;
    if (o->type == FLAG)
        return value ? cot_fail(fault, COT_USAGE, "--%s takes no value", o->name) : set(c, o, "yes", fault);
    if (!value) {
        if (!next) return cot_fail(fault, COT_USAGE, "--%s needs %s", o->name, o->arg);
        value = next;
        *used_next = true;
    }
    return set(c, o, value, fault);
}

static enum cot_err read_arguments(struct cot_config *c, int argc, char **argv, bool *said, struct cot_fault *fault)
{
    enum cot_err err = COT_OK;
    for (int i = 1; !err && i < argc; i++) {
        bool used = false;
        if (strncmp(argv[i], "--", 2) == 0) err = read_option(c, argv[i] + 2, argv[i + 1], said, &used, fault);
        else if (c->words == COT_WORDS_MOST) err = cot_fail(fault, COT_USAGE, "too many words");
        else c->word[c->words++] = argv[i];
        if (used) i++;
    }
    return err;
}

static char *trim(char *s)
{
    while (isspace((unsigned char)*s)) s++;
    size_t n = strlen(s);
    while (n && isspace((unsigned char)s[n - 1])) s[--n] = '\0';
    return s;
}

static enum cot_err read_line(struct cot_config *c, char *line, bool *said, struct cot_fault *fault)
{
    char *text = trim(line), *mark = strchr(text, '=');
    if (!*text || *text == '#') return COT_OK;
    if (!mark) return cot_fail(fault, COT_MALFORMED, "not `name = value`");
    *mark = '\0';
    char *name = trim(text), *value = trim(mark + 1);
    const struct option *o = find(name, strlen(name));
    if (!o || !(o->flags & IN_FILE)) return cot_fail(fault, COT_MALFORMED, "unknown option %s", name);
    if (said[o - options]) return COT_OK; /* the command line goes first */
    said[o - options] = true;
    return set(c, o, value, fault);
}

static enum cot_err read_file(struct cot_config *c, bool *said, struct cot_fault *fault)
{
    FILE *f = fopen(c->config, "re");
    if (!f) return cot_fail(fault, COT_IO, "unable to read %s: %s", c->config, strerror(errno));
    char line[1024];
    enum cot_err err = COT_OK;
    for (int n = 1; !err && fgets(line, sizeof line, f); n++) {
        err = strchr(line, '\n') || feof(f) ? read_line(c, line, said, fault)
                                            : cot_fail(fault, COT_MALFORMED, "line too long");
        if (err) cot_within(fault, "%s:%d", c->config, n);
    }
    fclose(f);
    return err;
}

enum cot_err cot_config_read(int argc, char **argv, struct cot_config *out, struct cot_fault *fault)
{
    bool said[OPTIONS] = {false};
    memset(out, 0, sizeof *out);
    enum cot_err err = read_arguments(out, argc, argv, said, fault);
    if (!err && out->config) err = read_file(out, said, fault);
    for (size_t i = 0; !err && i < OPTIONS; i++)
        if (!said[i] && options[i].standard) err = set(out, &options[i], options[i].standard, fault);
    return err;
}

void cot_config_free(struct cot_config *c)
{
    for (size_t i = 0; i < OPTIONS; i++)
        if (options[i].type == TEXT) free(*(char **)place(c, &options[i]));
    memset(c, 0, sizeof *c);
}

void cot_config_help(void)
{
    for (size_t i = 0; i < OPTIONS; i++) {
        char left[40];
        const struct option *o = &options[i];
        snprintf(left, sizeof left, "--%s%s%s", o->name, o->arg ? " " : "", o->arg ? o->arg : "");
        printf("  %-20s %s", left, o->what);
        if (o->standard) printf(" (%s)", o->standard);
        putchar('\n');
    }
}
