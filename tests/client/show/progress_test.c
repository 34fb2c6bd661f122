/* client/show/progress.c: told on a terminal after two seconds, wiped out at the end; never to a file or a script. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "show/progress.h"
#include "../../main.h"

/* What is written on standard error while `late` milliseconds of the work have passed; `fd` is standard error then,
 * `from` its other end. */
static void said(int fd, int from, int64_t late, bool quiet, char *out, size_t room)
{
    struct cot_progress p;
    int kept = dup(STDERR_FILENO);
    ck_assert(kept >= 0 && dup2(fd, STDERR_FILENO) >= 0);
    cot_progress_start(&p, "working out remedies", "lines", quiet);
    p.next -= late;
    cot_progress_tell(&p, 3, 12);
    cot_progress_tell(&p, 4, 12); /* too soon after the last */
    cot_progress_end(&p);
    ck_assert(dup2(kept, STDERR_FILENO) >= 0);
    close(kept);
    ck_assert_int_eq(write(fd, "|", 1), 1); /* so that there is something to read in any case */
    ssize_t n = read(from, out, room - 1);
    ck_assert_int_gt(n, 0);
    out[n] = '\0';
}

static void on_terminal(int64_t late, bool quiet, char *out, size_t room)
{
    int far = posix_openpt(O_RDWR | O_NOCTTY);
    ck_assert(far >= 0 && grantpt(far) == 0 && unlockpt(far) == 0);
    int near = open(ptsname(far), O_RDWR | O_NOCTTY);
    ck_assert_int_ge(near, 0);
    said(near, far, late, quiet, out, room);
    close(near);
    close(far);
}

START_TEST(on_a_terminal)
{
    char out[400], wiped[80];
    on_terminal(COT_PROGRESS_AFTER, false, out, sizeof out);
    snprintf(wiped, sizeof wiped, "\r%60s\r|", "");
    ck_assert_str_eq(strstr(out, wiped), wiped);
    *strstr(out, wiped) = '\0';
    ck_assert_str_eq(out, "\rworking out remedies: 3 of 12 lines ");
}
END_TEST

START_TEST(not_at_once)
{
    char out[400];
    on_terminal(0, false, out, sizeof out);
    ck_assert_str_eq(out, "|");
}
END_TEST

START_TEST(not_to_scripts)
{
    char out[400];
    int ends[2];
    ck_assert_int_eq(pipe(ends), 0);
    said(ends[1], ends[0], COT_PROGRESS_AFTER, false, out, sizeof out);
    ck_assert_str_eq(out, "|");
    on_terminal(COT_PROGRESS_AFTER, true, out, sizeof out);
    ck_assert_str_eq(out, "|");
    close(ends[0]);
    close(ends[1]);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/progress");
    TCase *c = tcase_create("progress");
    tcase_add_test(c, on_a_terminal);
    tcase_add_test(c, not_at_once);
    tcase_add_test(c, not_to_scripts);
    suite_add_tcase(s, c);
    return s;
}
