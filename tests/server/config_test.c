/* Options: from the command line, from a file, with defaults; and what is refused, in words. */
#include "../main.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "config.h"

static char path[40];

static const char *file(const char *text)
{
    snprintf(path, sizeof path, "/tmp/cotyld-test-XXXXXX");
    int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    ck_assert_int_eq(write(fd, text, strlen(text)), (ssize_t)strlen(text));
    close(fd);
    return path;
}

#define READ(c, fault, ...) read_all((const char *[]){"cotyld", __VA_ARGS__, NULL}, c, fault)

static enum cot_err read_all(const char **argv, struct cot_config *c, struct cot_fault *fault)
{
    int argc = 0;
    memset(fault, 0, sizeof *fault);
    while (argv[argc]) argc++;
    return cot_config_read(argc, (char **)argv, c, fault);
}

START_TEST(test_defaults)
{
    struct cot_config c;
    struct cot_fault fault;
    ck_assert_int_eq(READ(&c, &fault, "--data", "d"), COT_OK);
    ck_assert_str_eq(c.listen, "127.0.0.1:7443");
    ck_assert_int_eq(c.connections, 256);
    ck_assert_int_eq(c.per_ip, 64);
    ck_assert_int_eq(c.seconds, 30);
    ck_assert_int_eq(c.body_kib, 4096);
    ck_assert_int_eq(c.words, 0);
    ck_assert_ptr_null(c.tls_cert);
    ck_assert(!c.behind_proxy);
    cot_config_free(&c);
}
END_TEST

START_TEST(test_words_and_options_anywhere)
{
    struct cot_config c;
    struct cot_fault fault;
    ck_assert_int_eq(
        READ(&c, &fault, "new-house", "--data=d e", "Alder House", "--manager", "Mara Quill", "--behind-proxy"),
        COT_OK);
    ck_assert_int_eq(c.words, 2);
    ck_assert_str_eq(c.word[1], "Alder House");
    ck_assert_str_eq(c.data, "d e");
    ck_assert_str_eq(c.manager, "Mara Quill");
    ck_assert(c.behind_proxy);
    cot_config_free(&c);
}
END_TEST

START_TEST(test_file)
{
    struct cot_config c;
    struct cot_fault fault;
    const char *f = file("# all of it\n\n  data = /srv/one  \nworkers=3\nbehind-proxy = yes\nlisten = [::1]:99\n");
    ck_assert_int_eq(READ(&c, &fault, "--config", f, "--workers", "5"), COT_OK);
    ck_assert_str_eq(c.data, "/srv/one");
    ck_assert_int_eq(c.workers, 5); /* the command line goes first */
    ck_assert_str_eq(c.listen, "[::1]:99");
    ck_assert(c.behind_proxy);
    unlink(f);
    cot_config_free(&c);
}
END_TEST

static const struct {
    const char *text, *words;
} bad_files[] = {
    {"workers\n", ":1: not `name = value`"},           {"\nworkres = 3\n", ":2: unknown option workres"},
    {"workers = many\n", "must be a whole number"},    {"workers = 0\n", "from 1 to 256"},
    {"behind-proxy = perhaps\n", "must be yes or no"}, {"manager = Mara\n", "unknown option manager"},
    {"config = other\n", "unknown option config"},
};

START_TEST(test_bad_files)
{
    struct cot_config c;
    struct cot_fault fault;
    const char *f = file(bad_files[_i].text);
    ck_assert_int_ne(READ(&c, &fault, "--config", f), COT_OK);
    ck_assert_msg(strstr(fault.msg, bad_files[_i].words) != NULL, "%s", fault.msg);
    unlink(f);
    cot_config_free(&c);
}
END_TEST

START_TEST(test_bad_command_lines)
{
    struct cot_config c;
    struct cot_fault fault;
    ck_assert_int_eq(READ(&c, &fault, "--dta", "d"), COT_USAGE);
    ck_assert_ptr_nonnull(strstr(fault.msg, "--dta"));
    cot_config_free(&c);
    ck_assert_int_eq(READ(&c, &fault, "--data"), COT_USAGE);
    cot_config_free(&c);
    ck_assert_int_eq(READ(&c, &fault, "--data", "a", "--data", "b"), COT_USAGE);
    cot_config_free(&c);
    ck_assert_int_eq(READ(&c, &fault, "--behind-proxy=yes"), COT_USAGE);
    cot_config_free(&c);
    ck_assert_int_eq(READ(&c, &fault, "--seconds", "30s"), COT_USAGE);
    cot_config_free(&c);
    ck_assert_int_eq(READ(&c, &fault, "1", "2", "3", "4", "5", "6", "7", "8", "9"), COT_USAGE);
    cot_config_free(&c);
    ck_assert_int_eq(READ(&c, &fault, "--config", "/nowhere/at/all"), COT_IO);
    cot_config_free(&c);
}
END_TEST

/* The sample is a configuration that reads, with every line that is commented out too. */
START_TEST(test_sample)
{
    struct cot_config c;
    struct cot_fault fault;
    char line[300], *all = calloc(1, 20000);
    FILE *f = fopen(COT_TESTS_DIR "/../deploy/cotyld.conf.sample", "re");
    ck_assert_ptr_nonnull(f);
    while (fgets(line, sizeof line, f)) {
        bool option = line[0] == '#' && line[1] != ' ' && strchr(line, '=');
        strcat(all, option ? line + 1 : line);
    }
    fclose(f);
    const char *p = file(all);
    ck_assert_msg(READ(&c, &fault, "--config", p) == COT_OK, "%s", fault.msg);
    ck_assert_ptr_nonnull(c.data);
    ck_assert_ptr_nonnull(c.database);
    ck_assert_ptr_nonnull(c.url);
    ck_assert_int_eq(c.books_mib, 256);
    unlink(p);
    free(all);
    cot_config_free(&c);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("server/config");
    TCase *t = tcase_create("options");
    tcase_add_test(t, test_defaults);
    tcase_add_test(t, test_words_and_options_anywhere);
    tcase_add_test(t, test_file);
    tcase_add_loop_test(t, test_bad_files, 0, (int)(sizeof bad_files / sizeof bad_files[0]));
    tcase_add_test(t, test_bad_command_lines);
    tcase_add_test(t, test_sample);
    suite_add_tcase(s, t);
    return s;
}
