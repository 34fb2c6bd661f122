/* One long question of a device at a time: a house's book answers one at a time, and nobody shall wait behind all that
 * one device can think of. */
#ifndef COTYLEDGER_HTTP_TURNS_H
#define COTYLEDGER_HTTP_TURNS_H

#include "cotyledger/wire/request.h"

struct cot_turns;
/* `most` turns can be taken at once: the number of workers. NULL: out of memory. */
struct cot_turns *cot_turns_new(int most);
void cot_turns_free(struct cot_turns *t);
/* False when the device's is taken, or all are. */
bool cot_turns_take(struct cot_turns *t, const struct cot_house_id *house, const char *tag);
/* Of one that was taken. */
void cot_turns_give_back(struct cot_turns *t, const struct cot_house_id *house, const char *tag);

#endif
