/* The iCalendar file, read back by another parser (icalendar for Python). RFC 5545: 3.6.1, 3.8.1.11, 3.8.4.7. */
#include "made.h"

#include <stdio.h>
#include <string.h>
#include <sys/wait.h>

static char seen[40000];

/* The calendar as the other parser has it: "DAY|STATUS|UID|SUMMARY", a line an event. */
static void read_back(const char *options)
{
    char line[400], command[600];
    snprintf(line, sizeof line, "calendar --out %s/house.ics%s", f.root, options);
    cot_fixture_must(&f, line);
    snprintf(command, sizeof command, "/usr/bin/python3 %s/client/calendar_read.py %s/house.ics", COT_TESTS_DIR,
             f.root);
    FILE *in = popen(command, "r");
    ck_assert_ptr_nonnull(in);
    seen[fread(seen, 1, sizeof seen - 1, in)] = '\0';
    ck_assert_int_eq(pclose(in), 0);
}

static void has(const char *what)
{
    ck_assert_msg(strstr(seen, what) != NULL, "no %s in\n%s", what, seen);
}

static void has_not(const char *what)
{
    ck_assert_msg(strstr(seen, what) == NULL, "%s in\n%s", what, seen);
}

/* The UID of the event with that summary. */
static void uid_of(const char *summary, char out[static 120])
{
    const char *at = strstr(seen, summary);
    ck_assert_msg(at != NULL, "no %s in\n%s", summary, seen);
    while (at > seen && at[-1] != '\n') at--;
    ck_assert_int_eq(sscanf(at, "%*[^|]|%*[^|]|%119[^|]", out), 1);
}

/* Two days in the chamber, a count on the 14th day, as the fixture's lettuce has them. */
START_TEST(days)
{
    cot_fixture_must(&f, "add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-08 --bench 3");
    read_back("");
    has("2027-03-08|CONFIRMED|sow-");
    has("|Sow: 4 x 128 square Red Harbour\n");
    has("2027-03-10|CONFIRMED|up-");
    has("2027-03-22|CONFIRMED|count-");
    has("2027-04-05|CONFIRMED|collect-");
    has("|Collect: 500 Red Harbour, Alder Ford\n");
    has("|Collect: 256 Kiln Red, Weir Hill\n");
    read_back(" --farm \"Weir Hill\"");
    has_not("Alder Ford");
    has_not("Sow:");
    read_back(" --from 2027-03-09 --until 2027-03-11");
    has("|Out of the chamber: 4 x 128 square Red Harbour\n");
    has_not("Sow:");
}
END_TEST

/* A sowing that moves, that is sown, that is dropped: the same event each time. */
START_TEST(an_event_stays_itself)
{
    char first[120], later[120];
    cot_fixture_must(&f, "add planned --lot RH-2601 --format \"128 square\" --trays 4 --sow-day 2027-03-08");
    read_back("");
    uid_of("Sow: 4 x", first);
    cot_fixture_must(&f, "change planned A-0006-1 --sow-day 2027-03-09");
    read_back("");
    has("2027-03-09|CONFIRMED|sow-");
    uid_of("Sow: 4 x", later);
    ck_assert_str_eq(first, later);
    cot_fixture_must(&f, "sow --planned A-0006-1 --trays 5 --day 2027-03-01");
    read_back(" --from 2027-03-01");
    has("2027-03-01|CONFIRMED|sow-");
    uid_of("Sow: 5 x", later);
    ck_assert_str_eq(first, later);
    cot_fixture_must(&f, "add planned --lot RH-2601 --format \"128 square\" --trays 7 --sow-day 2027-03-15");
    cot_fixture_must(&f, "drop A-0008-Y --why \"no bench\"");
    cot_fixture_must(&f, "withdraw A-0002-9 --why \"sold the field\"");
    read_back("");
    has("2027-03-15|CANCELLED|sow-");
    has("2027-04-12|CANCELLED|collect-");
}
END_TEST

/* Names with what has a meaning in the file come back as they are. */
START_TEST(names_are_text)
{
    cot_fixture_must(&f, "change farm \"Alder Ford\" --name \"Ford; by, the\\\\weir: BEGIN:VEVENT\"");
    read_back("");
    has("|Collect: 500 Red Harbour, Ford; by, the");
    has("weir: BEGIN:VEVENT\n");
}
END_TEST

START_TEST(misused)
{
    ck_assert_int_eq(cot_fixture_run(&f, "calendar --from 2027-03-09 --until 2027-03-01"),
                     cot_err_row(COT_USAGE)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "calendar --farm Nowhere"), cot_err_row(COT_NOT_FOUND)->exit_code);
    ck_assert_int_eq(cot_fixture_run(&f, "calendar --json"), cot_err_row(COT_USAGE)->exit_code);
    cot_fixture_must(&f, "calendar");
    says("BEGIN:VCALENDAR");
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/calendar");
    TCase *c = tcase_create("calendar");
    tcase_set_timeout(c, 60);
    tcase_add_unchecked_fixture(c, make_house, leave_house);
    tcase_add_checked_fixture(c, house, leave);
    tcase_add_test(c, days);
    tcase_add_test(c, an_event_stays_itself);
    tcase_add_test(c, names_are_text);
    tcase_add_test(c, misused);
    suite_add_tcase(s, c);
    return s;
}
