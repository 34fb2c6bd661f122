/* Laptops in step: one order from the buyer's laptop to the report; lost and cut answers; kills. */
#include <check.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "e2e.h"
#include "main.h"

static struct laptop manager, hand, buyer;
static char house[23];

START_TEST(from_order_to_report)
{
    struct laptop *staff[] = {&manager, &hand};
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    e2e_join(&manager, &buyer, "Teal --part buyer --farm \"Alder Ford\"");
    e2e_must(&buyer, "order \"Red Harbour\" --plants 500 --format 128 --on 2027-04-05");
    e2e_must(&buyer, "sync");
    e2e_must(&manager, "sync");
    e2e_must(&manager, "promise --all");
    e2e_must(&manager, "sync");
    e2e_must(&hand, "sow RH-1 128 --trays 5");
    ck_assert_int_eq(e2e_status_int(&hand, "unsent"), 1);
    e2e_must(&hand, "sync");
    e2e_must(&hand, "sync");
    e2e_must(&manager, "sync");
    e2e_must(&buyer, "sync");
    e2e_same_book(house, staff, 2);
    /* The buyer sees its own line, its statement, and nothing of the greenhouse. */
    ck_assert_ptr_nonnull(strstr(e2e_must(&buyer, "fill"), "Red Harbour"));
    ck_assert_ptr_nonnull(strstr(e2e_must(&buyer, "orders --json"), "Red Harbour"));
    /* What an order of its own would change only the house can say; it is told of its own lines. */
    ck_assert_ptr_nonnull(
        strstr(e2e_must(&buyer, "what-if \"Red Harbour\" --plants 90 --format 128 --on 2027-04-05"), "(new line)"));
    ck_assert_ptr_nonnull(
        strstr(e2e_must(&buyer, "what-if \"Red Harbour\" --trays 2 --format 128 --on 2027-04-05 --json"),
               "\"report\":\"what-if\""));
    ck_assert_ptr_null(strstr(e2e_must(&buyer, "list batches --json"), "Red Harbour"));
    ck_assert_ptr_nonnull(strstr(e2e_must(&buyer, "verify"), "hidden"));
    e2e_must(&buyer, "verify --json");
    ck_assert_int_gt(cot_json_int(buyer.out, strlen(buyer.out), "holes"), 0);
}
END_TEST

/* What the manager describes and plans, the hand finds and carries out; neither needs the other's signal. */
START_TEST(a_plan_goes_round)
{
    struct laptop *both[] = {&manager, &hand};
    char line[80];
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    e2e_must(&manager, "rule --work-days mon-sat --trays-a-day 90 --test-age 180");
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "rule"), "Mon, Tue, Wed, Thu, Fri, Sat"));
    e2e_must(&manager, "add place \"bench 3\" --sort bench --spots 40");
    e2e_must(&manager, "shut --from 2027-04-05 --why holiday");
    e2e_must(&manager, "change lot RH-1 --test-day 2026-01-05");
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "list lots --on 2026-07-04"), "test again"));
    ck_assert_ptr_null(strstr(e2e_must(&manager, "list lots --on 2026-07-03"), "test again"));
    e2e_must(&manager, "add planned --lot RH-1 --format 128 --trays 4 --sow-day 2027-03-08 --bench \"bench 3\" --json");
    const char *code = strstr(manager.out, "\"code\":\"");
    ck_assert_ptr_nonnull(code);
    snprintf(line, sizeof line, "sow --planned %.8s --day 2027-03-09 --trays 3", code + strlen("\"code\":\""));
    e2e_must(&manager, "sync");
    e2e_must(&hand, "sync");
    ck_assert_ptr_nonnull(strstr(e2e_must(&hand, "list shut"), "holiday"));
    e2e_must(&hand, line);
    e2e_must(&hand, "stock --mix 300");
    e2e_must(&hand, "sync");
    e2e_must(&manager, "sync");
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "list planned --on 2027-03-10"), "3 of 4 trays sown late"));
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "list stock --json"), "\"amount\":300"));
    e2e_same_book(house, both, 2);
}
END_TEST

START_TEST(an_invitation_is_good_once)
{
    struct laptop other;
    char line[300];
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    e2e_laptop(&other);
    snprintf(line, sizeof line, "join --invitation %s.invitation", hand.dir);
    e2e_refused(&other, line, COT_UNAUTHENTIC, "used");
    e2e_refused(&hand, line, COT_CONFLICT, "of a house already");
    e2e_refused(&manager, "invite Sorrel --part hand", COT_CONFLICT, "--member");
    e2e_join(&manager, &other, "--member Sorrel");
    e2e_refused(&hand, "invite Dale --part hand", COT_NOT_ALLOWED, "hand");
    e2e_refused(&hand, "rule --confidence 95%", COT_NOT_ALLOWED, "manager");
}
END_TEST

START_TEST(the_invitation_is_all_that_stdout_gets)
{
    e2e_house(&manager, house, NULL);
    const char *out = e2e_must(&manager, "invite Sorrel --part hand");
    ck_assert_int_eq(strncmp(out, "cotyledger-invitation:1:", 24), 0);
    ck_assert_ptr_eq(strchr(out, '\n'), out + strlen(out) - 1);
}
END_TEST

/* The fingerprint in the invitation is another house's key: the laptop does not become one of the house. */
START_TEST(a_server_without_the_houses_key_is_refused)
{
    char line[400], text[600] = "", path[200];
    struct laptop other;
    e2e_house(&manager, house, NULL);
    e2e_laptop(&other);
    snprintf(path, sizeof path, "%s.invitation", other.dir);
    snprintf(line, sizeof line, "invite Sorrel --part hand --out %s", path);
    e2e_must(&manager, line);
    FILE *f = fopen(path, "r+e");
    ck_assert_ptr_nonnull(fgets(text, sizeof text, f));
    char *fingerprint = text + strlen("cotyledger-invitation:1:") + 22 + 1 + 22 + 1;
    fingerprint[3] = fingerprint[3] == 'A' ? 'B' : 'A';
    rewind(f);
    fputs(text, f);
    fclose(f);
    snprintf(line, sizeof line, "join --invitation %s", path);
    e2e_refused(&other, line, COT_UNAUTHENTIC, "has not the key of the house");
    e2e_refused(&other, "status", COT_NOT_FOUND, "has not joined");
}
END_TEST

/* --- The line in between
 * --------------------------------------------------------------------------------------------------------- */

static void house_behind(struct e2e_door *d)
{
    char url[60];
    e2e_door_open(d);
    snprintf(url, sizeof url, "http://127.0.0.1:%d", d->port);
    e2e_house(&manager, house, url);
    e2e_join(&manager, &hand, "Sorrel --part hand");
}

START_TEST(lost_answers_lose_and_double_nothing)
{
    struct e2e_door d;
    struct laptop *staff[] = {&manager, &hand};
    house_behind(&d);
    for (int i = 0; i < 6; i++) {
        e2e_must(&hand, "sow RH-1 128 --trays 2");
        d.lose_answers = i; /* 3 tries a call: the later ones fail, at another call each time */
        e2e_run(&hand, "sync");
        d.lose_answers = 0;
    }
    e2e_must(&hand, "sync");
    e2e_must(&manager, "sync");
    e2e_same_book(house, staff, 2);
    ck_assert_int_gt(d.dropped, 8);
    const char *list = e2e_must(&manager, "list batches --csv");
    int batches = 0;
    for (const char *p = list; (p = strstr(p, "Red Harbour")) != NULL; p++) batches++;
    ck_assert_int_eq(batches, 6);
    e2e_door_close(&d);
}
END_TEST

START_TEST(answers_cut_at_any_byte_are_taken_later)
{
    struct e2e_door d;
    struct laptop *staff[] = {&manager, &hand};
    house_behind(&d);
    for (int i = 0; i < 30; i++)
        e2e_must(&manager, "note \"a line to make the ledger longer than one answer of the network\"");
    e2e_must(&manager, "sync");
    for (long cut = 1; cut < 20000; cut = cut * 3 + 7) {
        d.cut_answers_at = cut;
        e2e_run(&hand, "sync");
        e2e_must(&hand, "verify");
    }
    ck_assert_int_gt(d.dropped, 5);
    d.cut_answers_at = 0;
    e2e_must(&hand, "sync");
    e2e_same_book(house, staff, 2);
    e2e_door_close(&d);
}
END_TEST

/* Somebody in between changes one character; each is found and nothing of it is kept. */
START_TEST(changed_answers_are_refused)
{
    struct e2e_door d;
    house_behind(&d);
    e2e_join(&manager, &buyer, "Teal --part buyer --farm \"Alder Ford\"");
    e2e_must(&manager, "note \"a note of the house\"");
    e2e_must(&manager, "sync");
    d.spoil = "a note of the ";
    e2e_refused(&hand, "sync", COT_UNAUTHENTIC, "does not verify");
    d.spoil = "row 11 1"; /* its receipt */
    e2e_refused(&hand, "sync", COT_UNAUTHENTIC, "does not verify");
    ck_assert_int_eq(d.dropped, 2);
    d.spoil = NULL;
    e2e_must(&hand, "sync");
    /* The server's reading of the buyer's view is held against the laptop's. */
    d.spoil = "\"book\":\"1:";
    e2e_refused(&buyer, "sync", COT_UNAUTHENTIC, "read the same entries differently");
    d.spoil = NULL;
    e2e_must(&buyer, "sync");
    e2e_door_close(&d);
}
END_TEST

/* A first answer was right and kept; the next is not. What no signed head has confirmed goes again. */
START_TEST(an_unconfirmed_part_is_forgotten)
{
    struct e2e_door d;
    struct laptop *staff[] = {&manager, &hand};
    house_behind(&d);
    int64_t sure = e2e_status_int(&hand, "position");
    for (int year = 2027; year < 2039; year++) {
        char line[140];
        snprintf(line, sizeof line, "order Alder \"Red Harbour\" --plants 10 --every week --from %d-W01 --to %d-W50",
                 year, year);
        e2e_must(&manager, line);
    }
    e2e_must(&manager, "sync");
    ck_assert_int_gt(e2e_status_int(&manager, "position"), 560);
    d.spoil = "row 560 1";
    e2e_refused(&hand, "sync", COT_UNAUTHENTIC, "does not verify");
    ck_assert_int_eq(d.dropped, 1);
    ck_assert_int_eq(e2e_status_int(&hand, "position"), sure);
    e2e_must(&hand, "verify");
    d.spoil = NULL;
    e2e_must(&hand, "sync");
    e2e_same_book(house, staff, 2);
    e2e_door_close(&d);
}
END_TEST

START_TEST(a_request_is_answered)
{
    char code[16], line[120];
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &buyer, "Teal --part buyer --farm \"Alder Ford\"");
    e2e_must(&buyer, "order \"Red Harbour\" --plants 500 --format 128 --on 2199-04-05 --closing 2020-01-01");
    ck_assert_int_eq(sscanf(buyer.out, "%15[^:]", code), 1);
    e2e_must(&buyer, "sync");
    e2e_must(&manager, "sync");
    e2e_must(&manager, "promise --all");
    snprintf(line, sizeof line, "answer %s --as booked", code);
    e2e_refused(&manager, line, COT_CONFLICT, "waits for an answer");
    e2e_must(&manager, "sync");
    e2e_must(&buyer, "sync");
    snprintf(line, sizeof line, "change line %s --plants 640", code);
    e2e_must(&buyer, line);
    e2e_must(&buyer, "sync");
    ck_assert_ptr_nonnull(strstr(e2e_must(&buyer, "status"), "1 change waits"));
    e2e_must(&manager, "sync");
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "status --json"), "\"requests\":[{"));
    snprintf(line, sizeof line, "answer %s --as booked --why \"rang them\"", code);
    e2e_refused(&buyer, line, COT_NOT_ALLOWED, "a buyer may not");
    e2e_must(&manager, line);
    ck_assert_ptr_nonnull(strstr(e2e_must(&manager, "status --json"), "\"requests\":[]"));
    e2e_must(&manager, "sync");
    e2e_must(&buyer, "sync");
    ck_assert_ptr_nonnull(strstr(e2e_must(&buyer, "orders --csv"), "640"));
}
END_TEST

static void pause_us(long us)
{
    struct timespec t = {0, us * 1000};
    nanosleep(&t, NULL);
}

/* The laptop dies at whatever moment: the journal is whole, and nothing is lost or counted twice. */
START_TEST(kills_while_syncing)
{
    struct laptop *staff[] = {&manager, &hand};
    const char *given = getenv("COT_TEST_SEED");
    unsigned seed = given ? (unsigned)strtoul(given, NULL, 10) : (unsigned)time(NULL);
    int killed = 0, sown = 0;
    printf("seed %u (COT_TEST_SEED)\n", seed);
    srandom(seed);
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    for (int i = 0; i < 25; i++) {
        int status;
        e2e_must(&hand, "sow RH-1 128 --trays 1");
        sown++;
        pid_t pid = fork();
        if (pid == 0) {
            int null = open("/dev/null", O_WRONLY);
            dup2(null, 1);
            dup2(null, 2);
            execl(COTYL_PROGRAM, COTYL_PROGRAM, "--dir", hand.dir, "sync", (char *)NULL);
            _exit(127);
        }
        pause_us(random() % 25000);
        kill(pid, SIGKILL);
        waitpid(pid, &status, 0);
        killed += WIFSIGNALED(status);
        e2e_must(&hand, "verify");
    }
    ck_assert_int_gt(killed, 0);
    e2e_must(&hand, "sync");
    e2e_must(&manager, "sync");
    e2e_same_book(house, staff, 2);
    const char *list = e2e_must(&manager, "list batches --csv");
    for (const char *p = list; (p = strstr(p, "Red Harbour")) != NULL; p++) sown--;
    ck_assert_int_eq(sown, 0);
}
END_TEST

START_TEST(two_syncs_at_once_in_one_folder)
{
    struct laptop *staff[] = {&manager, &hand};
    pid_t pid[4];
    int status;
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    for (int i = 0; i < 10; i++) e2e_must(&hand, "sow RH-1 128 --trays 1");
    for (int i = 0; i < 4; i++) {
        pid[i] = fork();
        if (pid[i] == 0) {
            int null = open("/dev/null", O_WRONLY);
            dup2(null, 1);
            dup2(null, 2);
            execl(COTYL_PROGRAM, COTYL_PROGRAM, "--dir", hand.dir, "sync", (char *)NULL);
            _exit(127);
        }
    }
    for (int i = 0; i < 4; i++) {
        waitpid(pid[i], &status, 0);
        ck_assert(WIFEXITED(status));
    }
    e2e_must(&hand, "sync");
    e2e_must(&manager, "sync");
    e2e_same_book(house, staff, 2);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/e2e/sync");
    TCase *c = tcase_create("sync");
    tcase_add_unchecked_fixture(c, e2e_start, e2e_stop);
    tcase_set_timeout(c, 300);
    tcase_add_test(c, from_order_to_report);
    tcase_add_test(c, a_plan_goes_round);
    tcase_add_test(c, an_invitation_is_good_once);
    tcase_add_test(c, the_invitation_is_all_that_stdout_gets);
    tcase_add_test(c, a_server_without_the_houses_key_is_refused);
    tcase_add_test(c, lost_answers_lose_and_double_nothing);
    tcase_add_test(c, answers_cut_at_any_byte_are_taken_later);
    tcase_add_test(c, changed_answers_are_refused);
    tcase_add_test(c, an_unconfirmed_part_is_forgotten);
    tcase_add_test(c, a_request_is_answered);
    tcase_add_test(c, kills_while_syncing);
    tcase_add_test(c, two_syncs_at_once_in_one_folder);
    suite_add_tcase(s, c);
    return s;
}
