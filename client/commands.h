/* Declares what the command table points at: for each command `name` a function cot_cmd_name and a text cot_help_name,
 * both defined in the command's own file. */
#ifndef COTYL_COMMANDS_H
#define COTYL_COMMANDS_H

#include "client.h"

#define COT_COMMAND(name)                                                                                              \
    enum cot_err cot_cmd_##name(struct cot_cli *cli, int argc, char **argv);                                           \
    extern const char cot_help_##name[]

/* Joining and the ledger. */
COT_COMMAND(join);
COT_COMMAND(invite);
COT_COMMAND(members);
COT_COMMAND(devices);
COT_COMMAND(close);
COT_COMMAND(end);
COT_COMMAND(sync);
COT_COMMAND(status);
COT_COMMAND(verify);
COT_COMMAND(answer);
COT_COMMAND(rejoin);
COT_COMMAND(export_unsent);
COT_COMMAND(carry);

/* Describing. */
COT_COMMAND(rule);
COT_COMMAND(add);
COT_COMMAND(change);
COT_COMMAND(list);
COT_COMMAND(show);
COT_COMMAND(import);
COT_COMMAND(shut);

/* Orders. */
COT_COMMAND(order);
COT_COMMAND(what_if);
COT_COMMAND(orders);
COT_COMMAND(withdraw);
COT_COMMAND(promise);
COT_COMMAND(decline);

/* Work. */
COT_COMMAND(trays);
COT_COMMAND(sow);
COT_COMMAND(drop);
COT_COMMAND(count);
COT_COMMAND(lose);
COT_COMMAND(pot_on);
COT_COMMAND(patch);
COT_COMMAND(thin);
COT_COMMAND(move);
COT_COMMAND(hold);
COT_COMMAND(release);
COT_COMMAND(hand_over);
COT_COMMAND(bring_back);
COT_COMMAND(empties);
COT_COMMAND(stock);
COT_COMMAND(note);
COT_COMMAND(take_back);
COT_COMMAND(history);

/* Reports. */
COT_COMMAND(fill);
COT_COMMAND(plan);
COT_COMMAND(plates);
COT_COMMAND(remedies);
COT_COMMAND(needs);
COT_COMMAND(shopping);
COT_COMMAND(tally);
COT_COMMAND(today);
COT_COMMAND(benches);
COT_COMMAND(trace);
COT_COMMAND(week);
COT_COMMAND(done);
COT_COMMAND(handovers);
COT_COMMAND(calendar);

/* This program. */
COT_COMMAND(completion);
COT_COMMAND(help);
COT_COMMAND(manual);

/* The row of a name; NULL if there is none. And the names nearest to a mistyped one, "a, b" ("" if none is near). */
const struct cot_command *cot_command_find(const char *name);
void cot_command_nearest(const char *name, char out[static 120]);

#endif
