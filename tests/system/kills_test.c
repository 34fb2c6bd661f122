/* cotyld killed with SIGKILL in the middle of syncs: nothing that was acknowledged is lost, nothing is there twice.
 * COT_KILLS says how often (50; the long tests say 1000), fifty to a house, so that a laptop's book does not grow into
 * what is measured. The moments are drawn from COT_TEST_SEED, which is printed. */
#include <check.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "e2e.h"
#include "main.h"

#define KILLS_OF_A_HOUSE 50

static struct laptop manager, hand;
static char house[23];

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static long from_env(const char *name, long otherwise)
{
    const char *s = getenv(name);
    return s ? strtol(s, NULL, 10) : otherwise;
}

/* Work for some pages: a line a week, and a few more entries. */
static void work(struct laptop *l, int n)
{
    char line[200];
    snprintf(line, sizeof line,
             "order \"Alder Ford\" \"Red Harbour\" --plants %d --every week --from 2027-W10 --to 2027-W29", 100 + n);
    e2e_must(l, line);
    e2e_must(l, "sow RH-1 128 --trays 2");
}

/* `cotyl sync` in a process of its own, killed server or not. */
static pid_t sync_aside(struct laptop *l)
{
    pid_t pid = fork();
    if (pid == 0) _exit(e2e_run(l, "sync") == 0 ? 0 : 1);
    return pid;
}

static bool kill_after(double wait)
{
    int status;
    pid_t pid = sync_aside(&hand);
    struct timespec t = {(time_t)wait, (long)((wait - (double)(time_t)wait) * 1e9)};
    nanosleep(&t, NULL);
    cot_server_stop(&e2e_server, SIGKILL);
    ck_assert_int_eq(waitpid(pid, &status, 0), pid);
    return status != 0;
}

static void serve_again(void)
{
    char listen[40];
    snprintf(listen, sizeof listen, "127.0.0.1:%d", e2e_server.port);
    ck_assert(cot_server_start(&e2e_server, COT_ARGS("--listen", listen), NULL));
}

/* What the laptop was told is in the ledger: entries made, less those that wait here. */
static int64_t entries_of_hand(void)
{
    const char *json = e2e_must(&hand, "verify --json");
    return cot_json_int(json, strlen(json), "own");
}

START_TEST(killed_amid_syncs)
{
    long all = from_env("COT_KILLS", 50), seed = from_env("COT_TEST_SEED", (long)time(NULL)), hit = 0;
    long kills = all - (long)_i * KILLS_OF_A_HOUSE;
    if (kills > KILLS_OF_A_HOUSE) kills = KILLS_OF_A_HOUSE;
    struct laptop *staff[] = {&manager, &hand};
    printf("house %d, kills: %ld of %ld, COT_TEST_SEED=%ld\n", _i + 1, kills, all, seed);
    srandom((unsigned)seed + (unsigned)_i);
    e2e_house(&manager, house, NULL);
    e2e_join(&manager, &hand, "Sorrel --part hand");
    work(&hand, 0);
    double started = seconds();
    e2e_must(&hand, "sync");
    double whole = seconds() - started;
    int64_t made = 21;
    for (long i = 0; i < kills; i++) {
        work(&hand, (int)i);
        made += 21;
        hit += kill_after(whole * 1.1 * (double)random() / (double)RAND_MAX);
        int64_t waiting = e2e_status_int(&hand, "unsent");
        serve_again();
        ck_assert_msg(waiting == 0 || waiting <= 21, "%lld wait", (long long)waiting);
        e2e_must(&hand, "sync");
        ck_assert_int_eq(e2e_status_int(&hand, "unsent"), 0);
        ck_assert_int_eq(entries_of_hand(), made);
    }
    e2e_must(&manager, "sync");
    e2e_must(&hand, "sync");
    e2e_same_book(house, staff, 2);
    ck_assert_int_eq(cot_server_command(&e2e_server, NULL, COT_ARGS("verify", "--house", house)), 0);
    printf("syncs cut off: %ld of %ld\n", hit, kills);
    fflush(stdout);
    ck_assert_int_gt(hit, 0);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("kills");
    TCase *t = tcase_create("kills");
    tcase_set_timeout(t, 1800);
    tcase_add_checked_fixture(t, e2e_start, e2e_stop); /* the test restarts the server: it must be its own child */
    long houses = (from_env("COT_KILLS", 50) + KILLS_OF_A_HOUSE - 1) / KILLS_OF_A_HOUSE;
    tcase_add_loop_test(t, killed_amid_syncs, 0, (int)houses);
    suite_add_tcase(s, t);
    return s;
}
