/* Joining: proof, answer, invitation. */
#include "joining.h"

#include <errno.h>
#include <signal.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "clock.h"
#include "key.h"

void cot_warn_demo(void)
{
    bool seed = cot_demo_seed_set(), clock = cot_demo_clock_set();
    if (seed) fputs("note: COTYLEDGER_DEMO_SEED is set: keys can be foretold; for the demo and tests only\n", stderr);
    if (clock) fputs("note: COTYLEDGER_DEMO_CLOCK is set: the time is read from that file\n", stderr);
}

void cot_joining_body(const struct cot_house_id *house, const struct cot_id *invitation_hash,
                      const struct cot_keypair *key, const char *label, struct cot_buf *out)
{
    struct cot_buf proof = {0};
    cot_join_sign(house, invitation_hash, key, &proof);
    cot_buf_str(out, "{\"proof\":");
    cot_put_json(out, proof.s ? proof.s : "", proof.len);
    cot_buf_str(out, ",\"label\":");
    cot_put_json(out, label, strlen(label));
    cot_buf_str(out, "}");
    if (proof.failed) out->failed = true;
    cot_buf_free(&proof);
}

static bool id_member(const struct cot_buf *answer, const char *name, struct cot_id *id)
{
    char text[COT_ID_TEXT + 1];
    return cot_problem_text(answer->s, answer->len, name, text, sizeof text) && cot_id_parse(text, strlen(text), id);
}

enum cot_err cot_joining_answer(const struct cot_buf *answer, struct cot_identity *me, struct cot_fault *fault)
{
    char tag[COT_TAG_MAX + 2] = "", part[16] = "";
    int index;
    if (!answer->s || !cot_problem_text(answer->s, answer->len, "tag", tag, sizeof tag) ||
        !cot_tag_valid(tag, strlen(tag)) || !cot_problem_text(answer->s, answer->len, "part", part, sizeof part) ||
        !id_member(answer, "house_key", &me->house_key) || !id_member(answer, "member", &me->member))
        return cot_fail(fault, COT_NETWORK, "the server's answer to the join cannot be read");
    index = cot_word_index(COT_F_PART, part, strlen(part));
    if (index < 0) {
        cot_fail(fault, COT_NEWER, "the server gives this laptop a part that this cotyl does not know: %.15s", part);
        return cot_hint(fault, "bring cotyl up to date; the same invitation works again on this laptop");
    }
    snprintf(me->tag, sizeof me->tag, "%.4s", tag);
    me->part = (enum cot_part)index;
    memset(&me->farm, 0, sizeof me->farm);
    if (me->part == COT_PART_BUYER && !id_member(answer, "farm", &me->farm))
        return cot_fail(fault, COT_NETWORK, "the server's answer names no farm for a buyer");
    return COT_OK;
}

/* --- The invitation
 * ------------------------------------------------------------------------------------------------------------- */

static enum cot_err read_line(FILE *f, const char *where, char *line, size_t most, struct cot_fault *fault)
{
    if (fgets(line, (int)most, f)) return COT_OK;
    return cot_fail(fault, ferror(f) ? COT_IO : COT_MALFORMED, "no invitation in %.200s", where);
}

/* Ends the reading, so that echo is put back before the program ends. */
static void interrupted(int signal)
{
    (void)signal;
}

static enum cot_err ask(char *line, size_t most, struct cot_fault *fault)
{
    struct termios before = {0}, quiet;
    FILE *tty = fopen("/dev/tty", "r+e");
    if (!tty) {
        cot_fail(fault, COT_USAGE, "no invitation, and no terminal to ask for it");
        return cot_hint(fault, "cotyl join --invitation FILE, or - for standard input");
    }
    struct sigaction stop = {.sa_handler = interrupted}, was_int, was_term; /* without SA_RESTART */
    sigaction(SIGINT, &stop, &was_int);
    sigaction(SIGTERM, &stop, &was_term);
    bool hidden = tcgetattr(fileno(tty), &before) == 0;
    quiet = before;
    quiet.c_lflag &= ~(tcflag_t)ECHO;
    if (hidden) tcsetattr(fileno(tty), TCSAFLUSH, &quiet);
    fputs("Invitation (it is not shown): ", tty);
    fflush(tty);
    enum cot_err e = read_line(tty, "what was typed", line, most, fault);
    if (hidden) tcsetattr(fileno(tty), TCSAFLUSH, &before);
    sigaction(SIGINT, &was_int, NULL);
    sigaction(SIGTERM, &was_term, NULL);
    fputs("\n", tty);
    fclose(tty);
    return e;
}

enum cot_err cot_joining_invitation(const char *file, struct cot_invitation *out, struct cot_fault *fault)
{
    char line[1024] = "";
    enum cot_err e;
    if (!file) e = ask(line, sizeof line, fault);
    else if (strcmp(file, "-") == 0) e = read_line(stdin, "standard input", line, sizeof line, fault);
    else {
        FILE *f = fopen(file, "re");
        e = f ? read_line(f, file, line, sizeof line, fault)
              : cot_fail(fault, COT_IO, "unable to read the invitation %.300s: %s", file, strerror(errno));
        if (f) fclose(f);
    }
    size_t len = strlen(line), start = strspn(line, " \t");
    while (len > start && strchr(" \t\r\n", line[len - 1])) len--;
    if (!e) e = cot_invitation_parse(line + start, len - start, out, fault);
    sodium_memzero(line, sizeof line);
    return e;
}
