/* cotyld: the server of Cotyledger. */
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "clock.h"
#include "cotyledger/wire/bytes.h"
#include "daemon.h"

static void print_help(void)
{
    puts("usage: cotyld (--data DIR | --database URL) [OPTION ...] [COMMAND ...]\n\ncommands:");
    for (const struct cot_admin *a = cot_admins; a->name; a++) printf("  %s %s\n      %s\n", a->name, a->args, a->what);
    puts("\noptions:");
    cot_config_help();
    puts("\nExit status: 0 done, 2 wrong command line, 4 not found, 8 busy or out of reach,\n"
         "9 database or file failed, 10 data of a newer version; `verify`: 1 something\n"
         "does not fit.");
}

static const struct cot_admin *command(const struct cot_config *c, struct cot_fault *fault)
{
    const char *name = c->words ? c->word[0] : "serve";
    for (const struct cot_admin *a = cot_admins; a->name; a++) {
        if (strcmp(a->name, name) != 0) continue;
        int words = c->words ? c->words - 1 : 0;
        if (words == a->words) return a;
        cot_fail(fault, COT_USAGE, "%s: %s", name, words < a->words ? "something is missing" : "too many words");
        cot_hint(fault, "cotyld %s %s", a->name, a->args);
        return NULL;
    }
    cot_fail(fault, COT_USAGE, "unknown command %s", name);
    cot_hint(fault, "see cotyld --help");
    return NULL;
}

/* Escaped: words of a fault may hold what others wrote, names that come near for one. */
static void say(const char *before, const char *words)
{
    struct cot_buf safe = {0};
    cot_put_terminal(&safe, words, strlen(words));
    fprintf(stderr, "%s%s\n", before, safe.failed ? "" : safe.s);
    cot_buf_free(&safe);
}

static int report(const struct cot_fault *fault, enum cot_err err)
{
    say("cotyld: ", *fault->msg ? fault->msg : cot_err_row(err)->title);
    if (*fault->hint) say("  ", fault->hint);
    return cot_err_row(err)->exit_code;
}

static enum cot_err run(struct cot_daemon *d, const struct cot_admin *a, struct cot_fault *fault)
{
    enum cot_err err = cot_daemon_open(d, a->run == cot_admin_serve, fault);
    return err ? err : a->run(d, fault);
}

int main(int argc, char **argv)
{
    struct cot_daemon d = {0};
    struct cot_fault fault = {0};
    signal(SIGPIPE, SIG_IGN);
    umask(077);
    if (sodium_init() < 0) return 12;
    const struct cot_admin *a = NULL;
    enum cot_err err = cot_config_read(argc, argv, &d.config, &fault);
    int status = 0;
    if (!err && d.config.help) print_help();
    else if (!err && d.config.version) puts("cotyld " COT_VERSION);
    else if (!err && !(a = command(&d.config, &fault))) err = COT_USAGE;
    if (!err && a && !cot_clock_check()) err = cot_fail(&fault, COT_USAGE, "the demonstration's clock cannot be read");
    if (!err && a) err = run(&d, a, &fault);
    if (err) status = a && a->run == cot_admin_verify && err == COT_UNAUTHENTIC ? 1 : report(&fault, err);
    cot_daemon_close(&d);
    return status;
}
