/* The one table of commands, in the order of the help. A row without a function is a heading. */
#include "commands.h"

#include <string.h>

#include "words.h"

#define JOURNAL COT_NEEDS_JOURNAL
#define BOOK (COT_NEEDS_JOURNAL | COT_NEEDS_BOOK)
#define RECORD (BOOK | COT_NEEDS_KEY)
#define ONLINE (RECORD | COT_NEEDS_NET)
#define HEADING(text)                                                                                                  \
    {                                                                                                                  \
        "", "", text, NULL, 0, NULL                                                                                    \
    }

const struct cot_command cot_commands[] = {
    HEADING("Joining and the ledger"),
    {"join", "[--invitation FILE|-] [--label TEXT]", "make this laptop one of a house", cot_help_join,
     COT_NEEDS_NOTHING, cot_cmd_join},
    {"sync", "[--quiet]", "send what waits here, fetch what is new", cot_help_sync,
     COT_NEEDS_JOURNAL | COT_NEEDS_KEY | COT_NEEDS_NET, cot_cmd_sync},
    {"status", "[--head]", "what waits here, what is queried, last sync", cot_help_status, BOOK, cot_cmd_status},
    {"answer", "CODE|LETTERS --as booked|aside [--why TEXT]", "answer a queried entry or a request", cot_help_answer,
     RECORD, cot_cmd_answer},
    {"verify", "", "read every byte here again and check it", cot_help_verify, JOURNAL, cot_cmd_verify},
    {"rejoin", "[--label TEXT]", "the way out when this laptop's journal forked", cot_help_rejoin, ONLINE,
     cot_cmd_rejoin},
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

    HEADING("Describing"),
    {"rule", "[--confidence % ...]", "show or set the house's rules", cot_help_rule, ONLINE, cot_cmd_rule},
    {"add", "KIND NAME [--OPTION VALUE ...]", "add a farm, crop, lot, place, planned sowing ...", cot_help_add, RECORD,
     cot_cmd_add},
    {"change", "KIND NAME|CODE --OPTION VALUE ...", "change one, or an order line", cot_help_change, RECORD,
     cot_cmd_change},
    {"import", "KIND FILE [--farm FARM] [--dates D.M.YYYY] [--dry-run] | catalogue",
     "take things or orders from a spreadsheet (CSV)", cot_help_import, RECORD, cot_cmd_import},
    {"shut", "[PLACE] [--from DAY] [--until DAY] [--why TEXT]", "say when the house is closed, or a place out of use",
     cot_help_shut, RECORD, cot_cmd_shut},
    {"list", "KIND [--on DAY] [--csv]", "list farms, crops, lots, batches, notes ...", cot_help_list, BOOK,
     cot_cmd_list},
    {"show", "[KIND] THING [--on DAY]", "show one thing with all that is known of it", cot_help_show, BOOK,
     cot_cmd_show},

    HEADING("Orders"),
    {"order", "[FARM] VARIETY --plants N|--trays N --on DAY [--format F] ...", "order starts", cot_help_order, RECORD,
     cot_cmd_order},
    {"what-if", "[FARM] VARIETY --plants N|--trays N --on DAY ... | LINE --plants N|--on DAY|--withdrawn ...",
     "who would lose by an order, before it is promised", cot_help_what_if, ONLINE, cot_cmd_what_if},
    {"orders", "[FARM] [--waiting] [--on DAY] [--csv]", "list order lines and what became of them", cot_help_orders,
     BOOK, cot_cmd_orders},
    {"withdraw", "LINE [--why TEXT]", "withdraw an order line", cot_help_withdraw, RECORD, cot_cmd_withdraw},
    {"promise", "LINE [--plants N] [--date DAY] | --all [--farm FARM]", "promise an order line, or all that wait",
     cot_help_promise, RECORD, cot_cmd_promise},
    {"decline", "LINE [--why TEXT]", "say no to an order line", cot_help_decline, RECORD, cot_cmd_decline},

    {"plan", "[--on DAY] [--lines] [--accept MARK] ...", "what is to be sown for the orders, when and where",
     cot_help_plan, RECORD, cot_cmd_plan},
    {"needs", "[--on DAY] [--until DAY] [--weeks] [--csv]", "seed, mix, trays, labels and hours of what is planned",
     cot_help_needs, BOOK, cot_cmd_needs},
    {"shopping", "[--delivery DAYS] [--on DAY] [--until DAY] [--csv]", "what to buy for it, and by when to order",
     cot_help_shopping, BOOK, cot_cmd_shopping},

    HEADING("Work"),
    {"today", "[--on DAY] [--csv]", "what there is to do today", cot_help_today, BOOK, cot_cmd_today},
    {"week", "[WEEK] [--csv]", "what there is to do in a week", cot_help_week, BOOK, cot_cmd_week},
    {"done", "MARK [--OPTION VALUE ...]", "record a job of today's list", cot_help_done, RECORD, cot_cmd_done},
    {"benches", "[PLACE] [--on DAY] [--weeks N] [--csv]", "what stands where, and what is free", cot_help_benches, BOOK,
     cot_cmd_benches},
    {"trays", "LOT FORMAT --plants N|--trays N|--seeds N [--plate P] ...", "how many trays to sow, and why so many",
     cot_help_trays, BOOK, cot_cmd_trays},
    {"plates", "[LOT FORMAT] [--per-cell N] [--on DAY]", "which seeder plate to take, or to buy", cot_help_plates, BOOK,
     cot_cmd_plates},
    {"sow", "[LOT FORMAT] --trays N [--planned CODE] [--plate P] [--bench B] ...", "record a sowing", cot_help_sow,
     RECORD, cot_cmd_sow},
    {"drop", "CODE [--why TEXT]", "drop a planned sowing", cot_help_drop, RECORD, cot_cmd_drop},
    {"count", "BATCH TRAY:LOOKED/USABLE/BLANKS/CULLS/DOUBLES ...", "record a stand count", cot_help_count, RECORD,
     cot_cmd_count},
    {"tally", "[FILE] [--day DAY]", "stand counts line after line, typed or scanned", cot_help_tally, RECORD,
     cot_cmd_tally},
    {"lose", "BATCH --plants N|--trays N|--which N,N --why TEXT", "record plants or trays lost", cot_help_lose, RECORD,
     cot_cmd_lose},
    {"pot-on", "BATCH FORMAT --trays N --plants N [--lost N]", "record plants moved into larger cells", cot_help_pot_on,
     RECORD, cot_cmd_pot_on},
    {"patch", "BATCH --plants N [--which N,N]", "record blanks filled", cot_help_patch, RECORD, cot_cmd_patch},
    {"thin", "BATCH --plants N [--which N,N]", "record doubles thinned", cot_help_thin, RECORD, cot_cmd_thin},
    {"move", "BATCH --bench B [--which N,N]", "record a move to another bench", cot_help_move, RECORD, cot_cmd_move},
    {"hold", "BATCH --why TEXT [--until DAY] | LINE --until DAY [--ask]", "hold a batch back, or plants for a farm",
     cot_help_hold, RECORD, cot_cmd_hold},
    {"release", "BATCH|LINE", "end a hold", cot_help_release, RECORD, cot_cmd_release},
    {"hand-over", "LINE BATCH --plants N|--trays N [--owed N]", "record plants handed over", cot_help_hand_over, RECORD,
     cot_cmd_hand_over},
    {"bring-back", "LINE|HAND-OVER --plants N [--unusable] --why TEXT", "record plants that came back",
     cot_help_bring_back, RECORD, cot_cmd_bring_back},
    {"empties", "FARM --trays N [--format F]", "record empty trays brought back", cot_help_empties, RECORD,
     cot_cmd_empties},
    {"stock", "--mix L|--labels N|--trays N --format F [--day DAY]", "record mix, labels or trays on hand",
     cot_help_stock, RECORD, cot_cmd_stock},
    {"note", "TEXT [--about CODE|--farm FARM]", "write a note", cot_help_note, RECORD, cot_cmd_note},
    {"take-back", "last|CODE|CHARACTERS [--why TEXT]", "take back what was recorded by mistake", cot_help_take_back,
     RECORD, cot_cmd_take_back},
    {"history", "[KIND] THING", "list what was recorded about a batch, a line ...", cot_help_history, BOOK,
     cot_cmd_history},

    HEADING("Reports"),
    {"fill", "[--on DAY] [--farm FARM] [--short] [--html] [--csv] [--out FILE]",
     "which orders will be met, and how sure that is", cot_help_fill, ONLINE, cot_cmd_fill},
    {"remedies", "[LINE] [--farm FARM] [--on DAY]", "what can still be done for lines that are short",
     cot_help_remedies, BOOK, cot_cmd_remedies},
    {"handovers", "[--on DAY] [--csv]", "list what was handed over", cot_help_handovers, BOOK, cot_cmd_handovers},
    {"trace", "LOT|BATCH|LINE|FARM [--on DAY] [--csv]", "where a lot went, or what is behind a hand-over",
     cot_help_trace, BOOK, cot_cmd_trace},

    {"calendar", "[--from DAY] [--until DAY] [--farm FARM] [--out FILE]", "days of work and collecting, as iCalendar",
     cot_help_calendar, BOOK, cot_cmd_calendar},

    HEADING("This program"),
    {"help", "[COMMAND|TOPIC]", "what a command does; how codes, days, amounts are written", cot_help_help,
     COT_NEEDS_NOTHING, cot_cmd_help},
    {"manual", "COMMAND | --all DIR", "manual pages, from the table of commands", cot_help_manual, COT_NEEDS_NOTHING,
     cot_cmd_manual},
    {"completion", "[bash|zsh]", "completion for bash or zsh, from the table of commands", cot_help_completion,
     COT_NEEDS_NOTHING, cot_cmd_completion},
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
