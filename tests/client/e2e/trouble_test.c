/* Forks, closed laptops, restores, wrong clocks, no server: each with its way out. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "e2e.h"
#include "main.h"

static struct laptop manager, hand, copy;
static char house[23];

static void a_house_with_a_hand(void)
{
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
}

static int batches(struct laptop *l)
{
    int n = 0;
    const char *list = e2e_must(l, "list batches --csv");
    for (const char *p = list; (p = strstr(p, "Red Harbour")) != NULL; p++) n++;
    return n;
}

/* The code that the last command printed first. */
static void printed_code(const struct laptop *l, char code[static 16])
{
    ck_assert_int_eq(sscanf(l->out, "%15[^:]", code), 1);
}

START_TEST(a_copied_laptop_joins_again_and_loses_nothing)
{
    struct laptop *all[] = {&manager, &hand, &copy};
    char code[16], second[16], line[80];
    a_house_with_a_hand();
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    printed_code(&hand, code);
    e2e_copy(&hand, &copy);
    e2e_must(&hand, "sow RH-1 128 --trays 1");
    e2e_must(&hand, "sync");
    /* The copy goes on from the same number: one sowing is common, the rest is its own. */
    snprintf(line, sizeof line, "count %s 3:128/118/8/2/1", code);
    e2e_must(&copy, line);
    snprintf(line, sizeof line, "lose %s --plants 4 --why slugs", code);
    e2e_must(&copy, line);
    e2e_must(&copy, "sow RH-1 128 --trays 2");
    printed_code(&copy, second);
    e2e_refused(&copy, "sync", COT_FORK, "cotyl rejoin");
    e2e_refused(&copy, "sync", COT_FORK, "cotyl rejoin");
    ck_assert_int_eq(e2e_status_int(&copy, "unsent"), 3);
    ck_assert_ptr_nonnull(strstr(e2e_must(&copy, "rejoin"), "3 entries carried over"));
    ck_assert_int_eq(batches(&copy), 3);
    ck_assert_ptr_nonnull(strstr(e2e_must(&copy, "list batches --csv"), second)); /* as it stands on the tag */
    for (int i = 0; i < 2; i++) e2e_must(all[i], "sync");
    e2e_same_book(house, all, 3);
    ck_assert_int_eq(batches(&manager), 3);
    /* What the copy recorded about the batch that both have is on that batch. */
    snprintf(line, sizeof line, "history %s", code);
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, line), "slugs"));
    e2e_refused(&copy, "rejoin", COT_CONFLICT, "has not forked");
    e2e_must(&copy, "sow RH-1 128 --trays 1");
    e2e_must(&copy, "sync");
}
END_TEST

START_TEST(a_copy_without_work_of_its_own_just_goes_on)
{
    struct laptop *all[] = {&manager, &copy};
    a_house_with_a_hand();
    e2e_copy(&hand, &copy);
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    e2e_must(&hand, "sync");
    e2e_must(&copy, "sync");
    e2e_must(&copy, "sow RH-1 128 --trays 1");
    e2e_must(&copy, "sync");
    e2e_must(&manager, "sync");
    e2e_same_book(house, all, 2);
    ck_assert_int_eq(batches(&manager), 2);
}
END_TEST

START_TEST(a_rejoin_cut_off_is_done_again)
{
    struct e2e_door d;
    char url[60];
    e2e_door_open(&d);
    snprintf(url, sizeof url, "http://127.0.0.1:%d", d.port);
    e2e_house(&manager, house, url);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    e2e_copy(&hand, &copy);
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    e2e_must(&hand, "sync");
    e2e_must(&copy, "sow RH-1 128 --trays 1");
    /* head, ledger, then the rejoin's own three tries. */
    for (int lost = 1; lost < 9; lost++) {
        d.lose_answers = lost;
        if (e2e_run(&copy, "rejoin") == 0) break;
    }
    d.lose_answers = 0;
    e2e_run(&copy, "rejoin");
    e2e_must(&copy, "sync");
    ck_assert_int_eq(batches(&copy), 2);
    e2e_must(&manager, "sync");
    int devices = 0;
    for (const char *p = e2e_must(&manager, "devices --csv"); (p = strstr(p, "Sorrel")) != NULL; p++) devices++;
    ck_assert_int_eq(devices, 2);
    e2e_door_close(&d);
}
END_TEST

START_TEST(a_closed_laptops_work_is_carried_over)
{
    char code[16], line[300];
    struct laptop *staff[] = {&manager};
    a_house_with_a_hand();
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    printed_code(&hand, code);
    snprintf(line, sizeof line, "count %s 3:128/118/8/2/1", code);
    e2e_must(&hand, line);
    e2e_must(&hand, "note \"not a fact of the work\"");
    snprintf(line, sizeof line, "export-unsent %s.early", hand.dir);
    e2e_must(&hand, line);
    snprintf(line, sizeof line, "carry %s.early", hand.dir);
    e2e_refused(&manager, line, COT_NOT_FOUND, "sync first");
    e2e_must(&manager, "sync");
    e2e_refused(&manager, line, COT_CONFLICT, "not closed");
    e2e_must(&manager, "close b --why \"left on the bus\"");
    e2e_refused(&manager, "close B", COT_CONFLICT, "closed already");
    e2e_refused(&hand, "sync", COT_CLOSED, "export-unsent");
    ck_assert_int_eq(e2e_status_int(&hand, "unsent"), 3);
    snprintf(line, sizeof line, "export-unsent %s.file", hand.dir);
    e2e_must(&hand, line);
    e2e_refused(&hand, line, COT_IO, "exists");
    snprintf(line, sizeof line, "carry %s.file --json", hand.dir);
    e2e_must(&manager, line);
    ck_assert_int_eq(cot_json_int(manager.out, strlen(manager.out), "carried"), 2);
    ck_assert_int_eq(cot_json_int(manager.out, strlen(manager.out), "left"), 1);
    e2e_must(&manager, line);
    ck_assert_int_eq(cot_json_int(manager.out, strlen(manager.out), "carried"), 0);
    ck_assert_int_eq(cot_json_int(manager.out, strlen(manager.out), "already"), 2);
    e2e_must(&manager, "sync");
    e2e_same_book(house, staff, 1);
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "list batches --csv"), code));
    /* A file that was changed on the way is refused. */
    snprintf(line, sizeof line, "%s.file", hand.dir);
    FILE *f = fopen(line, "r+e");
    fseek(f, -40, SEEK_END);
    int c = fgetc(f);
    fseek(f, -40, SEEK_END);
    fputc(c == 'x' ? 'y' : 'x', f);
    fclose(f);
    snprintf(line, sizeof line, "carry %s.file", hand.dir);
    ck_assert_int_ne(e2e_run(&manager, line), 0);
}
END_TEST

START_TEST(a_member_is_ended)
{
    struct laptop second;
    a_house_with_a_hand();
    e2e_join(&manager, &second, "--member Sorrel");
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "end Sorrel"), "2 laptops"));
    e2e_refused(&manager, "end Sorrel", COT_CONFLICT, "no open laptop");
    e2e_refused(&manager, "end Wren", COT_INVALID, "yourself");
    e2e_refused(&second, "sync", COT_CLOSED, "closed");
}
END_TEST

/* --- Restores
 * ---------------------------------------------------------------------------------------------------------------------
 */

static void shell(const char *command)
{
    int status = system(command);
    ck_assert_int_eq(status, 0);
}

static void keep(void *ctx)
{
    char command[400];
    (void)ctx;
    snprintf(command, sizeof command, "cp -a %s %s/backup", e2e_server.data, e2e_server.scratch);
    shell(command);
}

static void put_back(void *said)
{
    char command[600];
    snprintf(command, sizeof command, "rm -rf %s && cp -a %s/backup %s", e2e_server.data, e2e_server.scratch,
             e2e_server.data);
    shell(command);
    if (said) ck_assert_int_eq(cot_server_command(&e2e_server, NULL, COT_ARGS("restored", "--house", house)), 0);
}

START_TEST(a_restored_server_gets_back_what_it_lost)
{
    struct laptop buyer, *staff[] = {&manager, &hand}, *all[] = {&manager, &hand, &buyer};
    a_house_with_a_hand();
    e2e_join(&manager, &buyer, "Teal --part buyer --farm \"Alder Ford\"");
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    e2e_must(&hand, "sync");
    e2e_restart(keep, NULL);
    e2e_must(&hand, "sow RH-1 128 --trays 2");
    e2e_must(&hand, "sync");
    e2e_must(&buyer, "order \"Red Harbour\" --plants 500 --format 128 --on 2027-04-05");
    e2e_must(&buyer, "sync");
    e2e_must(&manager, "sync");
    e2e_must(&manager, "promise --all");
    e2e_must(&manager, "sync");
    e2e_must(&hand, "sync");
    e2e_must(&hand, "note \"not sent before the restore\"");
    /* Restored, and nobody said so: nobody goes on. */
    e2e_restart(put_back, NULL);
    for (int i = 0; i < 3; i++) e2e_refused(all[i], "sync", COT_UNAUTHENTIC, "cotyld restored");
    e2e_restart(put_back, house);
    /* The hand's laptop alone has all that was lost, the buyer's and the manager's entries among them. */
    ck_assert_ptr_nonnull(strstr(e2e_must(&hand, "sync"), "restored from a backup"));
    e2e_must(&manager, "sync");
    e2e_must(&buyer, "sync");
    e2e_must(&hand, "sync");
    e2e_same_book(house, staff, 2);
    ck_assert_int_eq(batches(&manager), 2);
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "orders --csv"), "promised"));
    ck_assert_int_eq(e2e_status_int(&buyer, "unsent"), 0);
    ck_assert_int_eq(e2e_status_int(&buyer, "epoch"), 2);
    e2e_must(&buyer, "verify");
}
END_TEST

/* Joins are in the house's own journal, which the server alone writes; laptops give its pages back under its seal. */
START_TEST(who_joined_after_the_backup_is_known_again)
{
    struct laptop late, later, *staff[] = {&manager, &hand, &late};
    char tag[8], other[8];
    a_house_with_a_hand();
    e2e_restart(keep, NULL);
    e2e_join(&manager, &late, "Dale --part hand");
    e2e_must(&late, "sow RH-1 128 --trays 2");
    e2e_must(&late, "sync");
    e2e_must(&late, "sow RH-1 128 --trays 1");
    e2e_must(&manager, "sync");
    e2e_restart(put_back, house);
    e2e_refused(&late, "sync", COT_UNAUTHENTIC, "not known");
    e2e_must(&manager, "sync");
    e2e_must(&late, "sync");
    e2e_must(&manager, "sync");
    e2e_must(&hand, "sync");
    e2e_same_book(house, staff, 3);
    ck_assert_int_eq(batches(&hand), 2);
    e2e_join(&manager, &later, "Finch --part hand");
    e2e_status_text(&late, "tag", tag, sizeof tag);
    e2e_status_text(&later, "tag", other, sizeof other);
    ck_assert_str_ne(tag, other);
}
END_TEST

/* --- Clocks, and no server
 * ------------------------------------------------------------------------------------------------------ */

START_TEST(a_clock_years_ahead_is_warned_of_and_pushes_nobody)
{
    char path[200], head[100];
    a_house_with_a_hand();
    snprintf(path, sizeof path, "%s.clock", hand.dir);
    FILE *f = fopen(path, "we");
    fputs("2031-05-01T08:00:00Z\n", f);
    fclose(f);
    e2e_env("COTYLEDGER_DEMO_CLOCK", path);
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    e2e_must(&hand, "sync");
    ck_assert_ptr_nonnull(strstr(hand.err, "clock is 4 years ahead"));
    ck_assert_ptr_eq(strstr(strstr(hand.err, "clock is") + 1, "clock is"), NULL); /* once */
    e2e_env("COTYLEDGER_DEMO_CLOCK", NULL);
    e2e_must(&manager, "sync");
    e2e_must(&manager, "sow RH-1 128 --trays 1");
    e2e_must(&manager, "sync");
    e2e_must(&hand, "sync");
    /* Queue and place go by the server's receipt: neither laptop's later work waits for 2031. */
    struct laptop *staff[] = {&manager, &hand};
    e2e_same_book(house, staff, 2);
    e2e_status_text(&manager, "book", head, sizeof head);
    ck_assert_int_eq(strncmp(head, "1:", 2), 0);
}
END_TEST

static void nothing(void *ctx)
{
    struct laptop *l = ctx;
    e2e_refused(l, "sync", COT_NETWORK, "safe here");
    e2e_must(l, "sow RH-1 128 --trays 5");
    e2e_refused(l, "sync", COT_NETWORK, "cannot be reached");
    ck_assert_int_eq(e2e_status_int(l, "unsent"), 1);
    ck_assert_int_eq(e2e_run(l, "sync --json"), cot_err_row(COT_NETWORK)->exit_code);
    ck_assert_ptr_nonnull(strstr(l->err, "urn:cotyledger:problem:network"));
    ck_assert_str_eq(l->out, "");
}

START_TEST(no_server_and_nothing_lost)
{
    struct laptop *staff[] = {&hand};
    a_house_with_a_hand();
    e2e_restart(nothing, &hand);
    e2e_must(&hand, "sync");
    e2e_same_book(house, staff, 1);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/e2e/trouble");
    TCase *c = tcase_create("trouble"), *r = tcase_create("restores");
    tcase_add_unchecked_fixture(c, e2e_start, e2e_stop);
    tcase_set_timeout(c, 300);
    tcase_add_test(c, a_copied_laptop_joins_again_and_loses_nothing);
    tcase_add_test(c, a_copy_without_work_of_its_own_just_goes_on);
    tcase_add_test(c, a_rejoin_cut_off_is_done_again);
    tcase_add_test(c, a_closed_laptops_work_is_carried_over);
    tcase_add_test(c, a_member_is_ended);
    tcase_add_test(c, a_clock_years_ahead_is_warned_of_and_pushes_nobody);
    suite_add_tcase(s, c);
    /* Those that stop the server have one of their own each. */
    tcase_add_checked_fixture(r, e2e_start, e2e_stop);
    tcase_set_timeout(r, 300);
    tcase_add_test(r, a_restored_server_gets_back_what_it_lost);
    tcase_add_test(r, who_joined_after_the_backup_is_known_again);
    tcase_add_test(r, no_server_and_nothing_lost);
    suite_add_tcase(s, r);
    return s;
}
