/* completion: for bash and zsh, made from the table of commands, so that it can't fall behind it. */
#include <ctype.h>
#include <string.h>

#include "args.h"
#include "commands.h"

const char cot_help_completion[] = "Prints completion of commands and options for a shell: bash (default) or zsh.\n"
                                   "An installation has both already. To try it:\n"
                                   "\n"
                                   "  source <(cotyl completion)\n"
                                   "  source <(cotyl completion zsh)\n";

/* Options are the words with two dashes in the synopsis and the help. Each is printed once. */
static void print_options(const struct cot_command *c)
{
    const char *texts[] = {c->args, c->help};
    char seen[2048] = " ";
    for (size_t t = 0; t < 2; t++) {
        for (const char *p = texts[t]; p && (p = strstr(p, "--")) != NULL;) {
            char word[40];
            size_t len = 2;
            while (islower((unsigned char)p[len]) || p[len] == '-') len++;
            while (len > 2 && p[len - 1] == '-') len--;
            if (len > 2 && len < sizeof word - 2) {
                snprintf(word, sizeof word, " %.*s ", (int)len, p);
                if (!strstr(seen, word) && strlen(seen) + len + 2 < sizeof seen) {
                    strcat(seen, word + 1);
                    printf("%.*s ", (int)len, p);
                }
            }
            p += len;
        }
    }
}

static void print_bash(void)
{
    fputs("_cotyl() {\n  local words='--dir --json --help' cur=${COMP_WORDS[COMP_CWORD]} command=''\n"
          "  local i; for ((i = 1; i < COMP_CWORD; i++)); do\n"
          "    case ${COMP_WORDS[i]} in --dir) ((i++)) ;; -*) ;; *) command=${COMP_WORDS[i]}; break ;; esac\n  done\n"
          "  case $command in\n  '') words+=' ",
          stdout);
    for (const struct cot_command *c = cot_commands; c->name; c++)
        if (c->run) printf("%s ", c->name);
    fputs("' ;;\n", stdout);
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        if (!c->run) continue;
        printf("  %s) words+=' ", c->name);
        print_options(c);
        fputs("' ;;\n", stdout);
    }
    fputs("  esac\n"
          "  case $cur in -*) COMPREPLY=($(compgen -W \"$words\" -- \"$cur\")) ;;\n"
          "  *) if [[ -z $command ]]; then COMPREPLY=($(compgen -W \"$words\" -- \"$cur\")); else COMPREPLY=($(compgen "
          "-f -- \"$cur\")); fi ;; esac\n"
          "}\ncomplete -F _cotyl cotyl\n",
          stdout);
}

/* The word in single quotes of a shell, a colon in it made plain for zsh. */
static void put_quoted(const char *s)
{
    for (; *s; s++) {
        if (*s == '\'') fputs("'\\''", stdout);
        else if (*s == ':') fputs("\\:", stdout);
        else putchar(*s);
    }
}

/* Options by command, files beside them; the command is the first word that is no option. */
static void print_zsh(void)
{
    fputs("#compdef cotyl\n_cotyl() {\n  local -a names options\n  local command='' i\n  names=(\n", stdout);
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        if (!c->run) continue;
        printf("    '%s:", c->name);
        put_quoted(c->what);
        puts("'");
    }
    fputs("  )\n  for ((i = 2; i < CURRENT; i++)); do\n"
          "    case $words[i] in --dir) ((i++)) ;; -*) ;; *) command=$words[i]; break ;; esac\n  done\n"
          "  options=(--dir --json --help)\n  case $command in\n",
          stdout);
    for (const struct cot_command *c = cot_commands; c->name; c++) {
        if (!c->run) continue;
        printf("  %s) options+=(", c->name);
        print_options(c);
        puts(") ;;");
    }
    fputs("  esac\n  if [[ $PREFIX == -* ]]; then compadd -- $options\n"
          "  elif [[ -z $command ]]; then _describe command names\n  else _files; fi\n}\n"
          "if [[ $funcstack[1] == _cotyl ]]; then _cotyl \"$@\"; else compdef _cotyl cotyl; fi\n",
          stdout);
}

enum cot_err cot_cmd_completion(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    enum cot_err e = cot_args_read(cli, argc, argv, NULL, 0, 1, &a);
    if (e) return e;
    if (a.count == 0 || strcmp(a.word[0], "bash") == 0) print_bash();
    else if (strcmp(a.word[0], "zsh") == 0) print_zsh();
    else e = cot_fail(&cli->fault, COT_USAGE, "completion is there for bash and zsh, not for %.40s", a.word[0]);
    cot_args_free(&a);
    return e;
}
