/* The journal: what is on the disk after a kill, what is refused, what a second process sees. */
#include "journal/db.h"

#include <signal.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include "../../main.h"
#include "../scratch.h"

static struct cot_fault fault;

static struct cot_journal *open_or_fail(bool create)
{
    struct cot_journal *j;
    enum cot_err e = cot_journal_open(scratch, create, &j, &fault);
    ck_assert_msg(e == COT_OK, "%s", fault.msg);
    return j;
}

static void append(struct cot_journal *j, int64_t n)
{
    struct cot_own o = {.tag = "B",
                        .number = n,
                        .clock = 1000 + n,
                        .tick = 2,
                        .coded = n % 2,
                        .state = COT_OWN_UNSENT,
                        .body = "{}",
                        .len = 2};
    memset(o.digest.b, (int)n, sizeof o.digest.b);
    memset(o.chain.b, (int)n + 100, sizeof o.chain.b);
    ck_assert_int_eq(cot_journal_append(j, &o, &fault), COT_OK);
}

static int mode_of(const char *name)
{
    char path[200];
    struct stat st;
    snprintf(path, sizeof path, "%s/%s", scratch, name);
    ck_assert_int_eq(stat(path, &st), 0);
    return st.st_mode & 0777;
}

START_TEST(files_are_the_owners_alone)
{
    struct cot_journal *j = open_or_fail(true);
    append(j, 1);
    ck_assert_int_eq(mode_of("journal.db"), 0600);
    ck_assert_int_eq(mode_of("journal.db-wal"), 0600);
    cot_journal_close(j);
}
END_TEST

START_TEST(nothing_there_is_not_found)
{
    struct cot_journal *j;
    struct cot_identity me;
    ck_assert_int_eq(cot_journal_open(scratch, false, &j, &fault), COT_NOT_FOUND);
    ck_assert_ptr_null(j);
    j = open_or_fail(true);
    ck_assert_int_eq(cot_journal_identity(j, &me, NULL, &fault), COT_NOT_FOUND);
    cot_journal_close(j);
}
END_TEST

START_TEST(identity_comes_back)
{
    struct cot_journal *j = open_or_fail(true);
    struct cot_identity me = {.tag = "AB", .part = COT_PART_BUYER, .has_pin = true}, got;
    int64_t generation;
    memset(me.house.b, 1, sizeof me.house.b);
    memset(me.house_key.b, 2, sizeof me.house_key.b);
    memset(me.member.b, 3, sizeof me.member.b);
    memset(me.farm.b, 4, sizeof me.farm.b);
    memset(me.pin.b, 5, sizeof me.pin.b);
    snprintf(me.url, sizeof me.url, "https://house.example.org:7443");
    ck_assert_int_eq(cot_journal_set_identity(j, &me, 3, &fault), COT_OK);
    cot_journal_close(j);
    j = open_or_fail(false);
    ck_assert_int_eq(cot_journal_identity(j, &got, &generation, &fault), COT_OK);
    ck_assert_int_eq(generation, 3);
    ck_assert_str_eq(got.tag, "AB");
    ck_assert_str_eq(got.url, me.url);
    ck_assert_int_eq(got.part, COT_PART_BUYER);
    ck_assert_mem_eq(&got.pin, &me.pin, sizeof me.pin);
    ck_assert_mem_eq(&got.farm, &me.farm, sizeof me.farm);
    me.has_pin = false;
    ck_assert_int_eq(cot_journal_set_identity(j, &me, 3, &fault), COT_OK);
    ck_assert_int_eq(cot_journal_identity(j, &got, NULL, &fault), COT_OK);
    ck_assert(!got.has_pin);
    cot_journal_close(j);
}
END_TEST

START_TEST(head_counts_codes_and_unsent)
{
    struct cot_journal *j = open_or_fail(true);
    struct cot_house_id house = {{7}};
    struct cot_own_head head;
    struct cot_id start;
    cot_chain_start(&house, "B", &start);
    ck_assert_int_eq(cot_journal_own_head(j, &house, "B", &head, &fault), COT_OK);
    ck_assert_int_eq(head.number, 0);
    ck_assert_mem_eq(&head.chain, &start, sizeof start);
    for (int n = 1; n <= 5; n++) append(j, n);
    ck_assert_int_eq(cot_journal_own_mark(j, "B", 1, 2, COT_OWN_SENT, &fault), COT_OK);
    ck_assert_int_eq(cot_journal_own_head(j, &house, "B", &head, &fault), COT_OK);
    ck_assert_int_eq(head.number, 5);
    ck_assert_int_eq(head.unsent, 3);
    ck_assert_int_eq(head.coded, 3);
    ck_assert_int_eq(head.clock, 1005);
    ck_assert_int_eq(head.chain.b[0], 105);
    cot_journal_close(j);
}
END_TEST

START_TEST(a_rolled_back_change_leaves_nothing)
{
    struct cot_journal *j = open_or_fail(true);
    int64_t n;
    ck_assert_int_eq(cot_journal_begin(j, &fault), COT_OK);
    append(j, 1);
    append(j, 2);
    cot_journal_rollback(j);
    ck_assert_int_eq(cot_journal_own_count(j, COT_OWN_UNSENT, &n, &fault), COT_OK);
    ck_assert_int_eq(n, 0);
    cot_journal_close(j);
}
END_TEST

/* Runs `fn` in a process that is killed after it. */
static void in_a_killed_process(void (*fn)(void))
{
    int status;
    pid_t pid = fork();
    if (pid == 0) {
        fn();
        kill(getpid(), SIGKILL);
    }
    ck_assert_int_eq(waitpid(pid, &status, 0), pid);
    ck_assert(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
}

static void append_committed(void)
{
    struct cot_journal *j = open_or_fail(true);
    append(j, 1);
    if (cot_journal_begin(j, &fault)) abort();
    append(j, 2);
    if (cot_journal_commit(j, &fault)) abort();
    if (cot_journal_begin(j, &fault)) abort();
    append(j, 3);
}

START_TEST(what_was_committed_survives_a_kill_and_the_rest_does_not)
{
    int64_t n;
    in_a_killed_process(append_committed);
    struct cot_journal *j = open_or_fail(false);
    ck_assert_int_eq(cot_journal_own_count(j, COT_OWN_UNSENT, &n, &fault), COT_OK);
    ck_assert_int_eq(n, 2);
    cot_journal_close(j);
}
END_TEST

static sqlite3 *raw(void)
{
    char path[200];
    sqlite3 *db;
    snprintf(path, sizeof path, "%s/journal.db", scratch);
    if (sqlite3_open(path, &db) != SQLITE_OK) abort();
    return db;
}

static int number_of(const char *sql)
{
    sqlite3 *db = raw();
    sqlite3_stmt *s;
    int n = -1;
    if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW)
        n = sqlite3_column_int(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(db);
    return n;
}

static void first_step_only(void)
{
    struct cot_journal j = {.dir = scratch};
    j.db = raw();
    if (cot_journal_upgrade(&j, 1, &fault)) abort();
    append(&j, 1);
}

static void half_of_the_second_step(void)
{
    sqlite3 *db = raw();
    if (sqlite3_exec(db, "begin immediate", NULL, NULL, NULL) != SQLITE_OK) abort();
    if (sqlite3_exec(db, cot_journal_steps[1].sql, NULL, NULL, NULL) != SQLITE_OK) abort();
}

START_TEST(killed_between_and_within_steps)
{
    int64_t n;
    in_a_killed_process(first_step_only);
    ck_assert_int_eq(number_of("pragma user_version"), 1);
    in_a_killed_process(half_of_the_second_step);
    ck_assert_int_eq(number_of("pragma user_version"), 1);
    struct cot_journal *j = open_or_fail(false);
    ck_assert_int_eq(cot_journal_own_count(j, COT_OWN_UNSENT, &n, &fault), COT_OK);
    ck_assert_int_eq(n, 1);
    cot_journal_close(j);
    ck_assert_int_eq(number_of("pragma user_version"), cot_journal_step_count);
    ck_assert_int_eq(number_of("select count(*) from aside_seal"), 0);
}
END_TEST

START_TEST(a_newer_journal_is_refused_and_left_alone)
{
    char sql[60];
    struct cot_journal *j = open_or_fail(true);
    cot_journal_close(j);
    snprintf(sql, sizeof sql, "pragma user_version = %d", cot_journal_step_count + 1);
    sqlite3 *db = raw();
    ck_assert_int_eq(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    ck_assert_int_eq(cot_journal_open(scratch, false, &j, &fault), COT_NEWER);
    ck_assert_ptr_nonnull(strstr(fault.hint, "nothing was changed"));
    ck_assert_int_eq(number_of("pragma user_version"), cot_journal_step_count + 1);
}
END_TEST

START_TEST(another_programs_file_is_refused)
{
    struct cot_journal *j;
    sqlite3 *db = raw();
    ck_assert_int_eq(sqlite3_exec(db, "create table t (x); pragma user_version = 1", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    ck_assert_int_eq(cot_journal_open(scratch, false, &j, &fault), COT_STORE);
    ck_assert_ptr_nonnull(strstr(fault.msg, "not a journal"));
}
END_TEST

START_TEST(a_damaged_file_is_named)
{
    char path[200];
    struct cot_journal *j;
    snprintf(path, sizeof path, "%s/journal.db", scratch);
    FILE *f = fopen(path, "w");
    for (int i = 0; i < 3000; i++) fputs("no database", f);
    fclose(f);
    ck_assert_int_eq(cot_journal_open(scratch, false, &j, &fault), COT_STORE);
    ck_assert_ptr_nonnull(strstr(fault.msg, "damaged"));
}
END_TEST

START_TEST(one_process_writes_at_a_time)
{
    struct cot_journal *a = open_or_fail(true), *b = open_or_fail(true);
    sqlite3_busy_timeout(b->db, 50);
    ck_assert_int_eq(cot_journal_begin(a, &fault), COT_OK);
    append(a, 1);
    ck_assert_int_eq(cot_journal_begin(b, &fault), COT_BUSY);
    ck_assert_ptr_nonnull(strstr(fault.msg, "another cotyl"));
    ck_assert_int_eq(cot_journal_commit(a, &fault), COT_OK);
    ck_assert_int_eq(cot_journal_begin(b, &fault), COT_OK);
    append(b, 2);
    ck_assert_int_eq(cot_journal_commit(b, &fault), COT_OK);
    cot_journal_close(a);
    cot_journal_close(b);
}
END_TEST

/* The exit status of a process of an ordinary user that opens the journal: 0 when it is refused with words. */
static int refused_for_an_ordinary_user(void)
{
    struct cot_journal *j;
    if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) return 2;
    enum cot_err e = cot_journal_open(scratch, true, &j, &fault);
    if (!e) e = cot_journal_begin(j, &fault);
    return (e == COT_STORE || e == COT_IO) && fault.msg[0] && fault.hint[0] ? 0 : 1;
}

START_TEST(a_folder_that_may_not_be_written_is_named)
{
    int status;
    cot_journal_close(open_or_fail(true));
    chmod(scratch, 0555);
    pid_t pid = fork();
    if (pid == 0) _exit(refused_for_an_ordinary_user());
    ck_assert_int_eq(waitpid(pid, &status, 0), pid);
    chmod(scratch, 0700);
    ck_assert(WIFEXITED(status));
    ck_assert_int_eq(WEXITSTATUS(status), 0);
}
END_TEST

/* --- The ledger's part
 * ------------------------------------------------------------------------------------------------------ */

static void put_row(struct cot_journal *j, int64_t position, const char *tag, int64_t number, const char *body)
{
    struct cot_ledger_row r = {.position = position,
                               .receipt = 5000 + position,
                               .number = number,
                               .body = body,
                               .len = body ? strlen(body) : 0};
    snprintf(r.tag, sizeof r.tag, "%s", tag);
    memset(r.digest.b, (int)position, sizeof r.digest.b);
    ck_assert_int_eq(cot_journal_put_row(j, &r, &fault), COT_OK);
}

static void put_seal(struct cot_journal *j, int64_t position, const char *tag, int64_t first, int64_t last)
{
    struct cot_kept_seal s = {.position = position, .first = first, .last = last, .jws = "a.b.c", .len = 5};
    snprintf(s.tag, sizeof s.tag, "%s", tag);
    ck_assert_int_eq(cot_journal_put_seal(j, &s, &fault), COT_OK);
}

static enum cot_err count_seal(void *ctx, const struct cot_kept_seal *s, struct cot_fault *f)
{
    (void)f;
    *(int64_t *)ctx = *(int64_t *)ctx * 100 + s->position;
    return COT_OK;
}

START_TEST(what_a_restore_lost_is_kept_aside_until_it_is_done)
{
    struct cot_journal *j = open_or_fail(true);
    struct cot_buf line = {0};
    int64_t number, seals = 0;
    for (int p = 1; p <= 6; p++) put_row(j, p, p % 2 ? "A" : "C", (p + 1) / 2, p == 5 ? NULL : p == 6 ? "six" : "row");
    put_seal(j, 4, "C", 1, 2);
    put_seal(j, 5, "A", 3, 3);
    put_seal(j, 6, "C", 3, 3);
    ck_assert_int_eq(cot_journal_set_aside(j, 4, &fault), COT_OK);
    ck_assert_int_eq(cot_journal_last_number(j, "C", 100, &number, &fault), COT_OK);
    ck_assert_int_eq(number, 2);
    ck_assert_int_eq(cot_journal_walk_aside(j, count_seal, &seals, &fault), COT_OK);
    ck_assert_int_eq(seals, 506);
    ck_assert_int_eq(cot_journal_line(j, "C", 3, &line, &fault), COT_OK);
    ck_assert_str_eq(line.s, "six");
    ck_assert_int_eq(cot_journal_line(j, "A", 3, &line, &fault), COT_NOT_FOUND);
    ck_assert_int_eq(cot_journal_aside_done(j, 5, &fault), COT_OK);
    cot_buf_clear(&line);
    ck_assert_int_eq(cot_journal_line(j, "C", 3, &line, &fault), COT_OK);
    ck_assert_int_eq(cot_journal_aside_done(j, 6, &fault), COT_OK);
    ck_assert_int_eq(cot_journal_line(j, "C", 3, &line, &fault), COT_NOT_FOUND);
    cot_buf_free(&line);
    cot_journal_close(j);
}
END_TEST

START_TEST(a_number_of_a_device_is_taken_once)
{
    struct cot_journal *j = open_or_fail(true);
    put_row(j, 1, "A", 1, "x");
    struct cot_ledger_row again = {.position = 2, .receipt = 1, .number = 1, .tag = "A", .body = "y", .len = 1};
    ck_assert_int_eq(cot_journal_put_row(j, &again, &fault), COT_STORE);
    cot_journal_close(j);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("journal/db");
    TCase *c = tcase_create("journal");
    tcase_add_checked_fixture(c, scratch_make, scratch_remove);
    tcase_set_timeout(c, 60);
    tcase_add_test(c, files_are_the_owners_alone);
    tcase_add_test(c, nothing_there_is_not_found);
    tcase_add_test(c, identity_comes_back);
    tcase_add_test(c, head_counts_codes_and_unsent);
    tcase_add_test(c, a_rolled_back_change_leaves_nothing);
    tcase_add_test(c, what_was_committed_survives_a_kill_and_the_rest_does_not);
    tcase_add_test(c, killed_between_and_within_steps);
    tcase_add_test(c, a_newer_journal_is_refused_and_left_alone);
    tcase_add_test(c, another_programs_file_is_refused);
    tcase_add_test(c, a_damaged_file_is_named);
    tcase_add_test(c, one_process_writes_at_a_time);
    tcase_add_test(c, a_folder_that_may_not_be_written_is_named);
    tcase_add_test(c, what_a_restore_lost_is_kept_aside_until_it_is_done);
    tcase_add_test(c, a_number_of_a_device_is_taken_once);
    suite_add_tcase(s, c);
    return s;
}
