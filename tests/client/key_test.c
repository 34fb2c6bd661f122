/* The secret key's file. */
#include "key.h"

#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>

#include "../main.h"
#include "scratch.h"

static struct cot_fault fault;

static void start(void)
{
    scratch_make();
    unsetenv("COTYLEDGER_DEMO_SEED");
}

static const char *path_of(const char *name)
{
    static char path[200];
    snprintf(path, sizeof path, "%s/%s", scratch, name);
    return path;
}

START_TEST(made_once_and_for_the_owner_alone)
{
    struct cot_keypair a, b;
    struct stat st;
    ck_assert_int_eq(cot_key_make(scratch, 1, "x", &a, &fault), COT_OK);
    ck_assert_int_eq(stat(path_of("key.1"), &st), 0);
    ck_assert_int_eq(st.st_mode & 0777, 0600);
    ck_assert_int_eq(cot_key_make(scratch, 1, "y", &b, &fault), COT_OK);
    ck_assert_mem_eq(&a, &b, sizeof a);
    ck_assert_int_eq(cot_key_load(scratch, 1, &b, &fault), COT_OK);
    ck_assert_mem_eq(&a, &b, sizeof a);
    ck_assert_int_eq(cot_key_make(scratch, 2, "x", &b, &fault), COT_OK);
    ck_assert_mem_ne(&a.pub, &b.pub, sizeof a.pub);
    ck_assert_int_eq(cot_key_load(scratch, 3, &b, &fault), COT_NOT_FOUND);
}
END_TEST

START_TEST(refused_when_others_can_read_it)
{
    static const mode_t open_modes[] = {0640, 0604, 0660, 0644};
    struct cot_keypair k;
    ck_assert_int_eq(cot_key_make(scratch, 1, "x", &k, &fault), COT_OK);
    chmod(path_of("key.1"), open_modes[_i]);
    ck_assert_int_eq(cot_key_load(scratch, 1, &k, &fault), COT_NOT_ALLOWED);
    chmod(path_of("key.1"), 0400);
    ck_assert_int_eq(cot_key_load(scratch, 1, &k, &fault), COT_OK);
}
END_TEST

START_TEST(a_damaged_key_is_named)
{
    struct cot_keypair k;
    ck_assert_int_eq(cot_key_make(scratch, 1, "x", &k, &fault), COT_OK);
    ck_assert_int_eq(truncate(path_of("key.1"), 30), 0);
    ck_assert_int_eq(cot_key_load(scratch, 1, &k, &fault), COT_MALFORMED);
}
END_TEST

START_TEST(a_link_is_not_followed)
{
    struct cot_keypair k;
    ck_assert_int_eq(cot_key_make(scratch, 1, "x", &k, &fault), COT_OK);
    ck_assert_int_eq(symlink("key.1", path_of("key.2")), 0);
    ck_assert_int_eq(cot_key_load(scratch, 2, &k, &fault), COT_IO);
}
END_TEST

START_TEST(the_demo_foretells_keys_by_purpose)
{
    uint8_t a[32], b[32];
    setenv("COTYLEDGER_DEMO_SEED", "s", 1);
    cot_random(a, sizeof a, "one");
    cot_random(b, sizeof b, "one");
    ck_assert_mem_eq(a, b, sizeof a);
    cot_random(b, sizeof b, "two");
    ck_assert_mem_ne(a, b, sizeof a);
    unsetenv("COTYLEDGER_DEMO_SEED");
    cot_random(b, sizeof b, "one");
    ck_assert_mem_ne(a, b, sizeof a);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("client/key");
    TCase *c = tcase_create("key");
    tcase_add_checked_fixture(c, start, scratch_remove);
    tcase_add_test(c, made_once_and_for_the_owner_alone);
    tcase_add_loop_test(c, refused_when_others_can_read_it, 0, 4);
    tcase_add_test(c, a_damaged_key_is_named);
    tcase_add_test(c, a_link_is_not_followed);
    tcase_add_test(c, the_demo_foretells_keys_by_purpose);
    suite_add_tcase(s, c);
    return s;
}
