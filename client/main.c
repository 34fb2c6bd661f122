/* cotyl: options for every command, the command by the table, and what is said when it fails. */
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "answer.h"
#include "cli.h"
#include "cotyledger/wire/request.h"
#include "commands.h"
#include "help.h"

struct globals {
    const char *dir;
    bool help, version;
};

/* Takes the options of every command out of argv; they may stand anywhere before `--`. */
static enum cot_err take_globals(struct cot_cli *cli, int *argc, char **argv, struct globals *g)
{
    int n = 1;
    bool ended = false;
    for (int i = 1; i < *argc; i++) {
        if (!ended && strcmp(argv[i], "--json") == 0) cli->json = true;
        else if (!ended && strcmp(argv[i], "--help") == 0) g->help = true;
        else if (!ended && strcmp(argv[i], "--version") == 0) g->version = true;
        else if (!ended && strncmp(argv[i], "--dir=", 6) == 0) g->dir = argv[i] + 6;
        else if (!ended && strcmp(argv[i], "--dir") == 0) {
            if (i + 1 >= *argc) return cot_fail(&cli->fault, COT_USAGE, "--dir needs a value: DIR");
            g->dir = argv[++i];
        } else {
            ended = ended || strcmp(argv[i], "--") == 0;
            argv[n++] = argv[i];
        }
    }
    argv[n] = NULL;
    *argc = n;
    return COT_OK;
}

/* Wrapped and escaped; blanks at the start of `before` indent the lines that follow too. */
static void put_words(const char *before, const char *s)
{
    struct cot_buf words = {0}, b = {0};
    cot_buf_fmt(&words, "%s%s", before, s);
    if (words.s) cot_put_wrapped(&b, words.s, words.len, 2);
    fputs(b.failed || !b.s ? s : b.s, stderr);
    cot_buf_free(&words);
    cot_buf_free(&b);
}

/* Words on stderr, or with --json one problem document there; stdout is for answers only. */
static void print_fault(const struct cot_cli *cli)
{
    struct cot_buf b = {0};
    fflush(stdout);
    if (cli->json) {
        cot_problem_write(&cli->fault, NULL, &b);
        if (!b.failed && b.s) fprintf(stderr, "%s\n", b.s);
        cot_buf_free(&b);
        return;
    }
    put_words("cotyl: ", cli->fault.msg[0] ? cli->fault.msg : cot_err_row(cli->fault.code)->title);
    if (cli->fault.hint[0]) put_words("  ", cli->fault.hint);
}

static enum cot_err find_command(struct cot_cli *cli, const char *name)
{
    char near[120];
    cli->command = cot_command_find(name);
    if (cli->command) return COT_OK;
    cot_fail(&cli->fault, COT_USAGE, "there is no command \"%.60s\"", name);
    cot_command_nearest(name, near);
    if (near[0]) return cot_hint(&cli->fault, "did you mean %s?", near);
    return cot_hint(&cli->fault, "cotyl --help lists the commands");
}

static enum cot_err run(struct cot_cli *cli, int argc, char **argv, const struct globals *g)
{
    enum cot_err e = find_command(cli, argv[1]);
    if (e) return e;
    if (g->help) {
        cot_help_put_command(cli->command);
        return COT_OK;
    }
    e = cot_cli_dir(cli, g->dir);
    if (!e) e = cot_cli_open(cli, cli->command->needs);
    if (!e) e = cli->command->run(cli, argc - 1, argv + 1);
    if (e && cli->fault.code != e) cot_fail(&cli->fault, e, "%s", cot_err_row(e)->title);
    return e;
}

int main(int argc, char **argv)
{
    struct cot_cli cli = {0};
    struct globals g = {0};
    cli.colour = isatty(STDOUT_FILENO) && !getenv("NO_COLOR");
    enum cot_err e = sodium_init() < 0 ? cot_fail(&cli.fault, COT_INTERNAL, "unable to start libsodium") : COT_OK;
    if (!e) e = take_globals(&cli, &argc, argv, &g);
    if (!e && g.version) puts("cotyl " COT_VERSION);
    else if (!e && argc < 2) {
        cot_help_put(g.help ? stdout : stderr);
        e = g.help ? COT_OK : COT_USAGE;
        if (e) return cot_err_row(e)->exit_code;
    } else if (!e) e = run(&cli, argc, argv, &g);
    if (!e && (fflush(stdout) != 0 || ferror(stdout)))
        e = cot_fail(&cli.fault, COT_IO, "unable to write the answer: standard output is closed or full");
    if (e) print_fault(&cli);
    cot_cli_close(&cli);
    return cot_err_row(e)->exit_code;
}
