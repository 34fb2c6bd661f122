/* The one table of commands, in the order of the help. A row without a function is a heading. */
#include "commands.h"

#include <string.h>

#include "words.h"

#define JOURNAL COT_NEEDS_JOURNAL
#define BOOK (COT_NEEDS_JOURNAL | COT_NEEDS_BOOK)
#define RECORD (BOOK | COT_NEEDS_KEY)
#define ONLINE (RECORD | COT_NEEDS_NET)
#define HEADING(text) {"", "", text, NULL, 0, NULL}

const struct cot_command cot_commands[] = {
    HEADING("Joining and the ledger"),
    {"join", "[--invitation FILE|-] [--label TEXT]", "make this laptop one of a house", cot_help_join, COT_NEEDS_NOTHING,
     cot_cmd_join},
    {"sync", "[--quiet]", "send what waits here, fetch what is new", cot_help_sync, ONLINE, cot_cmd_sync},
    {"status", "[--head]", "what waits here, what is queried, last sync", cot_help_status, BOOK, cot_cmd_status},
    {"answer", "CODE|DIGEST --as booked|aside [--why TEXT]", "answer a queried entry or a request", cot_help_answer, RECORD,
     cot_cmd_answer},
    {"verify", "", "read every byte here again and check it", cot_help_verify, BOOK, cot_cmd_verify},
    {"rejoin", "[--label TEXT]", "the way out when this laptop's journal forked", cot_help_rejoin, ONLINE, cot_cmd_rejoin},
    {"export-unsent", "FILE", "write what a closed laptop could not send", cot_help_export_unsent, RECORD,
     cot_cmd_export_unsent},
    {"carry", "FILE", "record what another, closed laptop wrote out", cot_help_carry, RECORD, cot_cmd_carry},

    HEADING("People and laptops"),
    {"invite", "NAME --part manager|hand|buyer|auditor [--farm FARM] [--expires DAYS] [--out FILE] | --member NAME",
     "invite somebody, or somebody's second laptop", cot_help_invite, ONLINE, cot_cmd_invite},
    {"members", "", "who is of the house", cot_help_members, BOOK, cot_cmd_members},
    {"devices", "", "laptops and their tags", cot_help_devices, BOOK, cot_cmd_devices},
    {"close", "TAG [--why TEXT]", "close a laptop: lost, sold, retired", cot_help_close, ONLINE, cot_cmd_close},
    {"end", "MEMBER [--why TEXT]", "close all laptops of a member", cot_help_end, ONLINE, cot_cmd_end},

    HEADING("This program"),
    {"completion", "", "completion for bash, from the table of commands", cot_help_completion, COT_NEEDS_NOTHING,
     cot_cmd_completion},
    {NULL, NULL, NULL, NULL, 0, NULL},
};

const struct cot_command *cot_command_find(const char *name)
{
    for (const struct cot_command *c = cot_commands; c->name; c++)
        if (c->run && strcmp(c->name, name) == 0) return c;
    return NULL;
}

void cot_command_nearest(const char *name, char out[static 120])
{
    const char *names[128];
    size_t n = 0;
    for (const struct cot_command *c = cot_commands; c->name && n < 128; c++)
        if (c->run) names[n++] = c->name;
    cot_nearest(name, names, n, out);
}
