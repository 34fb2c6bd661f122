/* Members and their laptops, found by what a person types. */
#ifndef COTYL_PEOPLE_H
#define COTYL_PEOPLE_H

#include "client.h"

/* The device whose tag was typed, in either case. NOT_FOUND with the tags there are. */
COT_MUSTCHECK enum cot_err cot_device_find_tag(struct cot_cli *cli, const char *tag, const struct cot_thing **out);
/* Laptops of a member: all, and those still open. */
void cot_member_devices(struct cot_cli *cli, const struct cot_id *member, size_t *all, size_t *open);
/* Things of a type in the order of their names (of their tags: shorter first). The caller frees; NULL with *n = 0 when
 * there are none. */
const struct cot_thing **cot_things_by_name(struct cot_cli *cli, enum cot_thing_type type, size_t *n);
bool cot_device_open(struct cot_cli *cli, const struct cot_thing *device);

#endif
