/* completion: a bash function made from the table of commands, so that it can't fall behind it. */
#include <ctype.h>
#include <string.h>

#include "args.h"
#include "commands.h"

const char cot_help_completion[] = "Prints completion of commands and options for bash:\n"
                                   "\n"
                                   "  source <(cotyl completion)\n";

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

enum cot_err cot_cmd_completion(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    enum cot_err e = cot_args_read(cli, argc, argv, NULL, 0, 0, &a);
    if (e) return e;
    cot_args_free(&a);
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
    return COT_OK;
}
