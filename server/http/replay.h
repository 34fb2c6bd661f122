/* Nonces of requests that were answered: a request that is played again is refused. Of this process, and of the last
 * COT_REPLAY_MOST requests: whatever changes something is the same when repeated anyway. */
#ifndef COTYLEDGER_HTTP_REPLAY_H
#define COTYLEDGER_HTTP_REPLAY_H

#include "cotyledger/wire/request.h"

#define COT_REPLAY_MOST 65536

struct cot_replay;
struct cot_replay *cot_replay_new(void);
void cot_replay_free(struct cot_replay *r);
/* False when it was there already. */
bool cot_replay_add(struct cot_replay *r, const struct cot_house_id *house, const struct cot_signature_params *p);

#endif
