/* help and manual: the texts of the commands, to read at the prompt and as manual pages. */
#include "help.h"

#include <string.h>

#include "args.h"
#include "aside.h"
#include "commands.h"
#include "show/table.h"
#include "work.h"

const char cot_help_help[] = "Shows what a command does, or one of the topics below. Without a word it lists\n"
                             "the commands, as `cotyl --help` does.\n"
                             "\n"
                             "  codes    what is on a tag, and how to type it\n"
                             "  days     how days and weeks are written\n"
                             "  amounts  numbers and units that can be typed\n"
                             "  exits    what the program's exit codes mean\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl help count\n"
                             "  cotyl help days\n";

const char cot_help_manual[] = "Writes manual pages: of one command to standard output, or of all into a folder.\n"
                               "An installation has them already; `man cotyl-count` shows one.\n"
                               "\n"
                               "  --all DIR    cotyl.1 and cotyl-COMMAND.1 of every command\n"
                               "\n"
                               "Example:\n"
                               "  cotyl manual count | man -l -\n";

static enum cot_err unknown(struct cot_cli *cli, const char *word)
{
    char near[120];
    (void)cot_fail(&cli->fault, COT_NOT_FOUND, "there is no command and no topic \"%.60s\"", word);
    cot_command_nearest(word, near);
    if (near[0]) return cot_hint(&cli->fault, "did you mean %s?", near);
    return cot_hint(&cli->fault, "`cotyl help help` lists the topics, `cotyl --help` the commands");
}

enum cot_err cot_cmd_help(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    enum cot_err err = cot_args_read(cli, argc, argv, NULL, 0, 1, &a);
    if (err != COT_OK) return err;
    const struct cot_command *c = a.count > 0 ? cot_command_find(a.word[0]) : NULL;
    const struct cot_topic *t = a.count > 0 ? cot_topic_find(a.word[0]) : NULL;
    if (a.count == 0) cot_help_put(stdout);
    else if (c) cot_help_put_command(c);
    else if (t) fputs(t->text, stdout);
    else if (strcmp(a.word[0], "exits") == 0) cot_help_put_exits(stdout);
    else err = unknown(cli, a.word[0]);
    cot_args_free(&a);
    return err;
}

/* --- Manual pages (man(7)) ---------------------------------------------------------------------------------------- */

#define TEXTS_OF "2026-12-01" /* day of the last larger change of the texts */

/* Text with roff's own characters made plain; what would be a request at a line's start is none. */
static void put_roff(struct cot_buf *out, const char *s, size_t len)
{
    if (len > 0 && (s[0] == '.' || s[0] == '\'')) cot_buf_str(out, "\\&");
    for (size_t i = 0; i < len; i++) {
        if (s[i] == '\\') cot_buf_str(out, "\\e");
        else if (s[i] == '-') cot_buf_str(out, "\\-");
        else if (s[i] == '`') cot_buf_str(out, "\\(ga");
        else if (s[i] == '\'') cot_buf_str(out, "\\(aq");
        else cot_buf_put(out, &s[i], 1);
    }
}

static void put_roff_text(struct cot_buf *out, const char *s)
{
    put_roff(out, s, strlen(s));
}

static void upper(struct cot_buf *out, const char *s)
{
    for (; *s; s++) {
        char c = *s >= 'a' && *s <= 'z' ? (char)(*s - 32) : *s;
        put_roff(out, &c, 1);
    }
}

/* Paragraphs as they are; indented lines keep their shape; "Examples:" becomes a section. */
static void put_body(struct cot_buf *out, const char *text)
{
    bool shaped = false, broken = false, after_heading = true;
    while (*text) {
        size_t len = strcspn(text, "\n");
        bool indented = len > 0 && text[0] == ' ', example = strncmp(text, "Example", 7) == 0 && text[len - 1] == ':';
        if (shaped && !indented && len > 0) cot_buf_str(out, ".EE\n");
        if (len == 0) {
            broken = true;
        } else if (example) {
            cot_buf_str(out, ".SH EXAMPLES\n");
            shaped = broken = false;
            after_heading = true;
        } else {
            if (!indented && (broken || shaped)) cot_buf_str(out, ".PP\n");
            if (indented && !shaped) cot_buf_str(out, after_heading ? ".EX\n" : ".PP\n.EX\n");
            else if (indented && broken) cot_buf_str(out, "\n");
            put_roff(out, text, len);
            cot_buf_str(out, "\n");
            shaped = indented;
            broken = after_heading = false;
        }
        text += len + (text[len] == '\n');
    }
    if (shaped) cot_buf_str(out, ".EE\n");
}

static void put_head(struct cot_buf *out, const char *name, const char *what)
{
    cot_buf_str(out, ".TH COTYL");
    if (name[0]) cot_buf_str(out, "\\-");
    upper(out, name);
    cot_buf_str(out, " 1 " TEXTS_OF " \"cotyledger " COT_VERSION "\" \"Cotyledger\"\n.SH NAME\ncotyl");
    if (name[0]) cot_buf_str(out, "\\-");
    put_roff_text(out, name);
    cot_buf_str(out, " \\- ");
    put_roff_text(out, what);
    cot_buf_str(out, "\n.SH SYNOPSIS\n.B cotyl");
    if (name[0]) cot_buf_str(out, " ");
    put_roff_text(out, name);
    cot_buf_str(out, "\n");
}

static void put_exits(struct cot_buf *out)
{
    char line[200];
    FILE *f = tmpfile();
    if (!f) {
        out->failed = true;
        return;
    }
    cot_help_put_exits(f);
    rewind(f);
    cot_buf_str(out, ".SH EXIT STATUS\n");
    while (fgets(line, sizeof line, f)) {
        line[strcspn(line, "\n")] = '\0';
        size_t code = strspn(line + 2, "0123456789");
        cot_buf_fmt(out, ".TP\n.B %.*s\n", (int)code, line + 2);
        put_roff_text(out, line + 2 + code + strspn(line + 2 + code, " "));
        cot_buf_str(out, "\n");
    }
    fclose(f);
}

static void put_page(struct cot_buf *out, const struct cot_command *c)
{
    put_head(out, c->name, c->what);
    if (c->args[0]) {
        cot_buf_str(out, ".I ");
        put_roff_text(out, c->args);
        cot_buf_str(out, "\n");
    }
    cot_buf_str(out, ".SH DESCRIPTION\n");
    put_body(out, c->help);
    cot_buf_str(out, ".SH SEE ALSO\n.BR cotyl (1)\n");
}

static void put_main_page(struct cot_buf *out)
{
    put_head(out, "", "the book of a propagation house, with or without a signal");
    cot_buf_str(out, ".RI [ \\-\\-dir\\ DIR ]\n.RI [ \\-\\-json ]\n.I COMMAND ...\n.SH DESCRIPTION\n"
                     "Keeps orders, plans, tray batches and stand counts of a propagation house in an offline journal, "
                     "syncs it, and reports per farm how orders will be filled. Each command has a page of its own, "
                     "such as\n.BR cotyl\\-count (1).\n");
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        if (!c->run) cot_buf_str(out, ".SS ");
        else cot_buf_str(out, ".TP\n.B ");
        put_roff_text(out, c->run ? c->name : c->what);
        cot_buf_str(out, "\n");
        if (!c->run) continue;
        put_roff_text(out, c->what);
        cot_buf_str(out, "\n");
    }
    cot_buf_str(out, ".SH OPTIONS\n.TP\n.BI \\-\\-dir\\  DIR\nwhere this laptop keeps its data\n"
                     ".TP\n.B \\-\\-json\nthe answer as JSON; an error as one JSON line on standard error\n"
                     ".TP\n.B \\-\\-help\nwhat a command does, its options, examples\n.TP\n.B \\-\\-version\n"
                     "the version\n");
    for (const struct cot_topic *t = cot_topics; t->name; t++) {
        cot_buf_str(out, ".SH ");
        upper(out, t->name);
        cot_buf_str(out, "\n");
        put_body(out, t->text);
    }
    put_exits(out);
    cot_buf_str(out, ".SH ENVIRONMENT\n.TP\n.B COTYL_DIR\nwhere the data is, when \\-\\-dir is not given\n"
                     ".TP\n.B XDG_DATA_HOME\nelse its folder cotyledger; else ~/.local/share/cotyledger\n"
                     ".TP\n.B NO_COLOR\nno colour, whatever its value\n");
}

static enum cot_err write_page(struct cot_cli *cli, const char *folder, const struct cot_command *c)
{
    char path[1200];
    struct cot_buf page = {0};
    if (c) put_page(&page, c);
    else put_main_page(&page);
    snprintf(path, sizeof path, "%.1000s/cotyl%s%s.1", folder, c ? "-" : "", c ? c->name : "");
    enum cot_err err =
        page.failed ? cot_fail(&cli->fault, COT_MEMORY, "out of memory") : cot_write_aside(cli, path, page.s, page.len);
    cot_buf_free(&page);
    return err;
}

static enum cot_err print_page(struct cot_cli *cli, const char *name)
{
    struct cot_buf page = {0};
    const struct cot_command *c = cot_command_find(name);
    if (!c) return unknown(cli, name);
    put_page(&page, c);
    enum cot_err err = cot_print(cli, &page);
    cot_buf_free(&page);
    return err;
}

enum cot_err cot_cmd_manual(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"all", "DIR", -1}, COT_OPT_END};
    struct cot_args a;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 1, &a);
    if (err != COT_OK) return err;
    const char *folder = cot_args_value(&a, opts, "all");
    if ((a.count > 0) == (folder != NULL)) err = cot_misuse(cli, "name one command, or a folder with --all DIR");
    else if (a.count > 0) err = print_page(cli, a.word[0]);
    else {
        err = write_page(cli, folder, NULL);
        for (const struct cot_command *c = cot_commands; err == COT_OK && c->name; c++)
            if (c->run) err = write_page(cli, folder, c);
    }
    cot_args_free(&a);
    return err;
}
