/* The entry grammar: every accepting and rejecting vector, and that what is written is read back the same. */
#include "cotyledger/wire/chain.h"
#include "cotyledger/wire/entry.h"
#include "files.h"

static struct cot_decoder *decoder;
static struct cot_fact fact;

static void setup(void)
{
    decoder = cot_decoder_new();
    ck_assert_ptr_nonnull(decoder);
}

static void teardown(void)
{
    cot_decoder_free(decoder);
}

/* Copies the bytes to a block of exactly their size, so that a sanitizer sees a read past the end. */
static enum cot_err parse(const char *bytes, size_t len, struct cot_fault *fault)
{
    char *exact = malloc(len ? len : 1);
    ck_assert_ptr_nonnull(exact);
    memcpy(exact, bytes, len);
    memset(fault, 0, sizeof *fault);
    enum cot_err err = cot_entry_parse(decoder, exact, len, &fact, fault);
    free(exact);
    return err;
}

/* File: the entry, its digest, then "fits" or "flaw: a word of the flaw". */
static void accepts(const struct file *f)
{
    struct cot_fault fault;
    struct cot_id d, want;
    char *p = f->bytes, *entry = take_line(&p), *digest = take_line(&p), *verdict = take_line(&p);
    size_t len = (size_t)(digest - entry) - 1;
    ck_assert_msg(parse(entry, len, &fault) == COT_OK, "%s: refused: %s", f->path, fault.msg);
    cot_digest(entry, len, &d);
    ck_assert_msg(cot_id_parse(digest, strlen(digest), &want), "%s: digest", f->path);
    ck_assert_msg(cot_id_cmp(&d, &want) == 0, "%s: another digest", f->path);
    if (strcmp(verdict, "fits") == 0) {
        ck_assert_msg(fact.flaw[0] == '\0', "%s: flaw: %s", f->path, fact.flaw);
        return;
    }
    ck_assert_msg(strncmp(verdict, "flaw: ", 6) == 0, "%s: verdict %s", f->path, verdict);
    ck_assert_msg(fact.flaw[0] != '\0', "%s: no flaw", f->path);
    ck_assert_msg(strstr(fact.flaw, verdict + 6) != NULL, "%s: flaw without \"%s\": %s", f->path, verdict + 6,
                  fact.flaw);
}

/* File: words of the refusal, then the bytes up to the last line break. */
static void rejects(const struct file *f)
{
    struct cot_fault fault;
    char *p = f->bytes, *why = take_line(&p);
    size_t len = f->len - (size_t)(p - f->bytes) - 1;
    enum cot_err err = parse(p, len, &fault);
    ck_assert_msg(err == COT_MALFORMED, "%s: %s", f->path, err ? fault.msg : "accepted");
    ck_assert_msg(strstr(fault.msg, why) != NULL, "%s: not \"%s\" but: %s", f->path, why, fault.msg);
}

START_TEST(accepting_vectors)
{
    each_file("vectors/entry/accept", 80, accepts);
}
END_TEST

START_TEST(rejecting_vectors)
{
    each_file("vectors/entry/reject", 130, rejects);
}
END_TEST

/* The vectors named kind-* are in the written form: reading and writing one gives its bytes. */
static void rewrites(const struct file *f)
{
    struct cot_fault fault;
    struct cot_buf out = {0};
    if (!strstr(f->path, "/kind-") && !strstr(f->path, "/null-") && !strstr(f->path, "/count-")) return;
    char *p = f->bytes, *entry = take_line(&p);
    ck_assert_msg(cot_entry_parse(decoder, entry, strlen(entry), &fact, &fault) == COT_OK, "%s: %s", f->path,
                  fault.msg);
    ck_assert_msg(cot_entry_write(&fact, &out, &fault) == COT_OK, "%s: %s", f->path, fault.msg);
    ck_assert_msg(strcmp(out.s, entry) == 0, "%s:\n%s\n%s", f->path, entry, out.s);
    cot_buf_free(&out);
}

START_TEST(written_as_read)
{
    each_file("vectors/entry/accept", 80, rewrites);
}
END_TEST

/* There is a vector kind-NAME for each kind of the table. */
START_TEST(a_vector_for_each_kind)
{
    for (int k = COT_K_UNKNOWN + 1; k < COT_K_TOTAL; k++) {
        char path[512];
        snprintf(path, sizeof path, "%s/vectors/entry/accept/kind-%s.txt", COT_TESTS_DIR,
                 cot_kind_row((enum cot_kind)k)->name);
        FILE *f = fopen(path, "rb");
        ck_assert_msg(f != NULL, "%s is missing", path);
        fclose(f);
    }
}
END_TEST

/* Every cut of an entry is refused, and so is every byte made a control character. */
START_TEST(cuts_and_controls)
{
    struct file f;
    struct cot_fault fault;
    char path[512];
    snprintf(path, sizeof path, "%s/vectors/entry/accept/kind-count.txt", COT_TESTS_DIR);
    file_read(path, &f);
    char *p = f.bytes, *entry = take_line(&p);
    size_t len = strlen(entry);
    ck_assert_int_eq(parse(entry, len, &fault), COT_OK);
    for (size_t n = 0; n < len; n++)
        ck_assert_msg(parse(entry, n, &fault) == COT_MALFORMED, "cut to %zu bytes: accepted", n);
    for (size_t i = 0; i < len; i++) {
        char keep = entry[i];
        entry[i] = '\1';
        ck_assert_msg(parse(entry, len, &fault) == COT_MALFORMED, "control at byte %zu: accepted", i);
        entry[i] = keep;
    }
    free(f.bytes);
}
END_TEST

/* An entry whose body has `n` unknown keys; the last one is called like number `twin`, when that is not itself. */
static enum cot_err parse_keys(int n, int twin, struct cot_fault *fault)
{
    struct cot_buf b = {0};
    struct file f;
    char path[512];
    snprintf(path, sizeof path, "%s/vectors/entry/accept/kind-note.txt", COT_TESTS_DIR);
    file_read(path, &f);
    char *body = strstr(f.bytes, "\"body\":{");
    ck_assert_ptr_nonnull(body);
    cot_buf_put(&b, f.bytes, (size_t)(body + 8 - f.bytes));
    for (int i = 0; i < n; i++) cot_buf_fmt(&b, "%s\"%x\":1", i ? "," : "", (unsigned)(i == n - 1 ? twin : i));
    cot_buf_str(&b, "}}");
    enum cot_err err = parse(b.s, b.len, fault);
    cot_buf_free(&b);
    free(f.bytes);
    return err;
}

START_TEST(duplicates_among_few_and_many)
{
    static const int sizes[] = {2, 3, 15, 16, 17, 18, 100, 1500};
    struct cot_fault fault;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        int n = sizes[i], twins[] = {0, n / 2, n - 2};
        ck_assert_msg(parse_keys(n, n - 1, &fault) == COT_OK, "%d keys: %s", n, fault.msg);
        for (int t = 0; t < 3; t++) {
            if (twins[t] == n - 1) continue;
            ck_assert_msg(parse_keys(n, twins[t], &fault) == COT_MALFORMED, "%d keys, the last like %d: accepted", n,
                          twins[t]);
            ck_assert_ptr_nonnull(strstr(fault.msg, "duplicate"));
        }
    }
}
END_TEST

static void start_fact(struct cot_fact *f)
{
    memset(f, 0, sizeof *f);
    f->kind = COT_K_NOTE;
    f->number = 1;
    f->has_member = true;
    memcpy(f->tag, "B", 2);
}

START_TEST(values_are_read)
{
    struct file f;
    char path[512];
    struct cot_fault fault;
    snprintf(path, sizeof path, "%s/vectors/entry/accept/kind-count.txt", COT_TESTS_DIR);
    file_read(path, &f);
    char *p = f.bytes, *entry = take_line(&p);
    ck_assert_int_eq(cot_entry_parse(decoder, entry, strlen(entry), &fact, &fault), COT_OK);
    ck_assert_int_eq(fact.kind, COT_K_COUNT);
    ck_assert_str_eq(fact.tag, "B");
    ck_assert_int_eq(fact.number, 12);
    ck_assert_int_eq(fact.clock, 1806307200000LL);
    ck_assert_int_eq(fact.seen, 345);
    ck_assert(fact.has_member && fact.has_about && !fact.has_farm && !fact.has_carries);
    ck_assert_int_eq(fact.value_count, 2);
    ck_assert_int_eq(fact.value[0].field, COT_F_DAY);
    ck_assert_int_eq(fact.value[0].v.i, 20906); /* 2027-03-29 */
    const struct cot_tray_count *c = fact.value[1].v.counts;
    ck_assert_uint_eq(fact.value[1].len, 2);
    ck_assert(c[0].tray == 3 && c[0].looked == 72 && c[0].usable == 66 && c[0].blanks == 4 && c[0].culls == 2 &&
              c[0].doubles == 1);
    ck_assert(c[1].tray == 5 && c[1].culls == 0 && c[1].doubles == COT_COUNT_UNKNOWN);
    free(f.bytes);
}
END_TEST

START_TEST(writer_refuses_what_the_reader_would)
{
    static const char *const bad[] = {"two\nlines", "a\ttab", "bell\a", "\x7f", "c1 \xc2\x85", "stray \xff byte"};
    struct cot_fact f;
    struct cot_fault fault;
    struct cot_buf out = {0};
    cot_buf_str(&out, "before");
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        start_fact(&f);
        ck_assert(cot_fact_set_text(&f, COT_F_TEXT, bad[i], strlen(bad[i])));
        ck_assert_int_eq(cot_entry_write(&f, &out, &fault), COT_INVALID);
        ck_assert_str_eq(out.s, "before");
    }
    cot_buf_free(&out);
}
END_TEST

START_TEST(writer_stops_at_the_limit)
{
    static char text[COT_ENTRY_MAX];
    struct cot_fact f;
    struct cot_fault fault;
    struct cot_buf out = {0};
    memset(text, 'x', sizeof text);
    start_fact(&f);
    ck_assert(cot_fact_set_text(&f, COT_F_TEXT, text, 1));
    ck_assert_int_eq(cot_entry_write(&f, &out, &fault), COT_OK);
    size_t room = COT_ENTRY_MAX - out.len + 1;
    cot_buf_clear(&out);
    ck_assert(cot_fact_set_text(&f, COT_F_TEXT, text, room));
    ck_assert_int_eq(cot_entry_write(&f, &out, &fault), COT_OK);
    ck_assert_uint_eq(out.len, COT_ENTRY_MAX);
    cot_buf_clear(&out);
    ck_assert(cot_fact_set_text(&f, COT_F_TEXT, text, room + 1));
    ck_assert_int_eq(cot_entry_write(&f, &out, &fault), COT_TOO_LARGE);
    cot_buf_free(&out);
}
END_TEST

/* The decoder's scratch holds the largest arrays that the tables of kinds and fields allow. */
START_TEST(arrays_at_their_limits)
{
    static int32_t numbers[400];
    static struct cot_tray_count counts[200];
    struct cot_fault fault;
    struct cot_buf out = {0};
    struct cot_fact f;
    for (int i = 0; i < 400; i++) numbers[i] = i + 1;
    for (int i = 0; i < 200; i++) counts[i] = (struct cot_tray_count){i + 1, 9, 5, 3, 1, 0};
    start_fact(&f);
    f.kind = COT_K_COUNT;
    f.has_about = true;
    ck_assert(cot_fact_set_counts(&f, COT_F_COUNTS, counts, 200) && cot_fact_set_int(&f, COT_F_DAY, 20000));
    ck_assert_int_eq(cot_entry_write(&f, &out, &fault), COT_OK);
    ck_assert_int_eq(cot_entry_parse(decoder, out.s, out.len, &fact, &fault), COT_OK);
    ck_assert_str_eq(fact.flaw, "");
    ck_assert_int_eq(memcmp(fact.value[1].v.counts, counts, sizeof counts), 0);
    cot_buf_clear(&out);
    start_fact(&f);
    f.kind = COT_K_MOVED;
    f.has_about = true;
    ck_assert(cot_fact_set_numbers(&f, COT_F_WHICH, numbers, 400) && cot_fact_set_int(&f, COT_F_DAY, 20000));
    ck_assert(cot_fact_set_text(&f, COT_F_BENCH, "4", 1));
    ck_assert_int_eq(cot_entry_write(&f, &out, &fault), COT_OK);
    ck_assert_int_eq(cot_entry_parse(decoder, out.s, out.len, &fact, &fault), COT_OK);
    ck_assert_str_eq(fact.flaw, "");
    ck_assert_int_eq(memcmp(cot_fact_value(&fact, COT_F_WHICH)->v.numbers, numbers, sizeof numbers), 0);
    cot_buf_free(&out);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/entry");
    TCase *t = tcase_create("entry");
    tcase_add_checked_fixture(t, setup, teardown);
    tcase_add_test(t, accepting_vectors);
    tcase_add_test(t, rejecting_vectors);
    tcase_add_test(t, written_as_read);
    tcase_add_test(t, a_vector_for_each_kind);
    tcase_add_test(t, cuts_and_controls);
    tcase_add_test(t, duplicates_among_few_and_many);
    tcase_add_test(t, values_are_read);
    tcase_add_test(t, writer_refuses_what_the_reader_would);
    tcase_add_test(t, writer_stops_at_the_limit);
    tcase_add_test(t, arrays_at_their_limits);
    suite_add_tcase(s, t);
    return s;
}
