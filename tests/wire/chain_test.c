/* Digests and chains against vectors that another implementation computed. */
#include "cotyledger/wire/chain.h"
#include "files.h"

static void same(const struct file *f, const struct cot_id *got, const json_t *list, size_t i)
{
    char text[COT_ID_TEXT];
    cot_id_text(got, text);
    ck_assert_msg(i < json_array_size(list), "%s: too few values", f->path);
    ck_assert_msg(strcmp(text, json_string_value(json_array_get(list, i))) == 0, "%s: value %zu is %s", f->path, i,
                  text);
}

static int64_t int_of(const json_t *o, const char *key)
{
    ck_assert(json_is_integer(json_object_get(o, key)));
    return json_integer_value(json_object_get(o, key));
}

static void check(const struct file *f)
{
    json_t *root = file_json(f), *row;
    const json_t *entries = json_object_get(root, "entries"), *rows = json_object_get(root, "rows");
    struct cot_house_id house;
    struct cot_id d, h, l;
    size_t i;
    ck_assert(cot_house_parse(text_of(f, root, "house"), strlen(text_of(f, root, "house")), &house));
    cot_chain_start(&house, json_string_value(json_object_get(json_array_get(rows, 0), "tag")), &h);
    cot_ledger_start(&house, &l);
    same(f, &h, json_object_get(root, "chain"), 0);
    same(f, &l, json_object_get(root, "ledger"), 0);
    ck_assert_uint_ge(json_array_size(rows), 1);
    json_array_foreach((json_t *)rows, i, row)
    {
        const char *entry = json_string_value(json_array_get(entries, i));
        const char *tag = json_string_value(json_object_get(row, "tag"));
        ck_assert(entry && tag);
        cot_digest(entry, strlen(entry), &d);
        same(f, &d, json_object_get(root, "digests"), i);
        cot_chain_next(&h, int_of(row, "number"), &d);
        same(f, &h, json_object_get(root, "chain"), i + 1);
        cot_ledger_next(&l, int_of(row, "position"), int_of(row, "receipt"), tag, int_of(row, "number"), &d);
        same(f, &l, json_object_get(root, "ledger"), i + 1);
    }
    json_decref(root);
}

START_TEST(chains)
{
    each_file("vectors/chain", 2, check);
}
END_TEST

/* Each part of a ledger link counts. */
START_TEST(every_part_counts)
{
    struct cot_id d = {{1}}, e = {{2}}, l[7];
    memset(l, 0, sizeof l);
    cot_ledger_next(&l[0], 1, 2, "B", 3, &d);
    cot_ledger_next(&l[1], 2, 2, "B", 3, &d);
    cot_ledger_next(&l[2], 1, 3, "B", 3, &d);
    cot_ledger_next(&l[3], 1, 2, "C", 3, &d);
    cot_ledger_next(&l[4], 1, 2, "B", 4, &d);
    cot_ledger_next(&l[5], 1, 2, "B", 3, &e);
    l[6].b[0] = 9;
    cot_ledger_next(&l[6], 1, 2, "B", 3, &d);
    for (int i = 0; i < 7; i++)
        for (int j = 0; j < i; j++) ck_assert_int_ne(cot_id_cmp(&l[i], &l[j]), 0);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/chain");
    TCase *t = tcase_create("chain");
    tcase_add_test(t, chains);
    tcase_add_test(t, every_part_counts);
    suite_add_tcase(s, t);
    return s;
}
