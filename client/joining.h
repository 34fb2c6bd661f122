/* What joining and joining again have in common: the proof, the server's answer, the question for an invitation. */
#ifndef COTYL_JOINING_H
#define COTYL_JOINING_H

#include "client.h"
#include "cotyledger/wire/request.h"

/* {"proof":...,"label":...}: the new key's proof over house and invitation. */
void cot_joining_body(const struct cot_house_id *house, const struct cot_id *invitation_hash,
                      const struct cot_keypair *key, const char *label, struct cot_buf *out);
/* Reads the server's answer into tag, member, part, farm and house key of `me`. NETWORK, UNAUTHENTIC. */
COT_MUSTCHECK enum cot_err cot_joining_answer(const struct cot_buf *answer, struct cot_identity *me,
                                              struct cot_fault *fault);
/* The invitation from a file, "-" for standard input, or NULL: asked for on the terminal with echo off. Wiped by the
 * caller. */
COT_MUSTCHECK enum cot_err cot_joining_invitation(const char *file, struct cot_invitation *out,
                                                  struct cot_fault *fault);
/* On stderr, when keys or the clock can be foretold. */
void cot_warn_demo(void);

#endif
