/* The schema's steps, made from sql/server/NNNN_name.sql when the program is built. */
#ifndef COTYLEDGER_STORE_STEPS_H
#define COTYLEDGER_STORE_STEPS_H

struct cot_step {
    int number;
    const char *name;
    const char *sql;
};
extern const struct cot_step cot_steps[]; /* in order; ended by number 0 */

#endif
