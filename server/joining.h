/* Joining: invitations, and the devices that come by them. */
#ifndef COTYLD_JOINING_H
#define COTYLD_JOINING_H

#include "books.h"

struct cot_join_answer {
    char tag[COT_TAG_MAX + 1];
    struct cot_id house_key, member, farm; /* farm: of a buyer, else zero */
    enum cot_part part;
    int64_t position; /* of the device's entry */
};
/* A new device comes with its proof. The same proof again gets the same answer. UNAUTHENTIC: the proof does not verify,
 * or the invitation is unknown, used or expired. */
COT_MUSTCHECK enum cot_err cot_join(struct cot_books *b, const struct cot_house_id *house, const char *proof,
                                    size_t len, const char *label, int64_t deadline, struct cot_join_answer *out,
                                    struct cot_fault *fault);
#define COT_LAPTOPS_MOST 20
/* A device known as `tag` comes again under a new tag. NOT_ALLOWED: its member has so many that are not closed already;
 * tags are few, and every device is read by everybody for ever. */
COT_MUSTCHECK enum cot_err cot_rejoin(struct cot_books *b, const struct cot_house_id *house, const char *tag,
                                      const struct cot_id *key, const char *proof, size_t len, const char *label,
                                      int64_t deadline, struct cot_join_answer *out, struct cot_fault *fault);

#define COT_INVITATION_DAYS_MOST 366
/* Keeps an invitation of a member that is in the book; the transaction is not committed. CONFLICT: the same secret was
 * kept for another member or day. INVALID: no such member, or a time that is past or too far away. */
COT_MUSTCHECK enum cot_err cot_invite(struct cot_session *s, const struct cot_id *member, const struct cot_id *hash,
                                      int64_t expires, struct cot_fault *fault);

#endif
