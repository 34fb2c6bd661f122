/* The reports against golden files (tests/vectors/report, written anew with COT_WRITE_VECTORS=1 and then read aloud),
 * their shape, and docs/reports.md. */
#include "../core/season.h"
#include "cotyledger/wire/chain.h"
#include "cotyledger/wire/csv.h"
#include "cotyledger/wire/report.h"
#include "files.h"

#define WIDE_FARM "\xe6\xb5\xb7\xe8\xbe\xba\xe3\x81\xae\xe8\xbe\xb2\xe5\xa0\xb4"
#define LONG_FARM "The Farm at the Very End of the Longest Lane in the Whole of the Parish, Near the River"
#define LONG_VARIETY "Early Narrow Leaved Winter Lettuce of the Northern Harbour Side"

struct house {
    struct season s;
    struct cot_book *book;
    struct cot_id alder, wide, lane, empty;
    struct cot_id red, green, tarn, square, deep;
    struct cot_id red_batch, green_batch;
    int32_t on;
};

static int32_t day(int month, int mday)
{
    return cot_day_of(2027, month, mday);
}

static struct cot_id line(struct house *h, const struct cot_id *farm, const struct cot_id *variety, int plants,
                          int32_t date, int promised)
{
    start_line(&h->s, farm, variety, plants, date);
    point(&h->s, COT_F_FORMAT, &h->square);
    struct cot_id id = *done(&h->s);
    if (promised > 0) promise(&h->s, &id, farm, promised);
    return id;
}

static void catalogue(struct house *h)
{
    struct cot_id lettuce = add_crop(&h->s, "Lettuce", 28, 42);
    h->red = add_variety(&h->s, "Red Harbour", &lettuce);
    h->green = add_variety(&h->s, "Green Pontoon", &lettuce);
    h->tarn = add_variety(&h->s, LONG_VARIETY, &lettuce);
    h->square = add_format(&h->s, "128 square", 8, 16);
    h->deep = add_format(&h->s, "128 deep", 8, 16);
    h->alder = add_named(&h->s, COT_K_FARM, "Alder Ford");
    h->wide = add_named(&h->s, COT_K_FARM, WIDE_FARM);
    h->lane = add_named(&h->s, COT_K_FARM, LONG_FARM);
    h->empty = add_named(&h->s, COT_K_FARM, "Quiet Acre");
}

static void batches(struct house *h)
{
    static const struct cot_tray_count counts[] = {{1, 128, 118, 7, 3, 2}, {4, 128, 121, 5, 2, COT_COUNT_UNKNOWN}};
    start_lot(&h->s, "RH-1", &h->red, 380);
    struct cot_id red_lot = *done(&h->s);
    start_lot(&h->s, "GP-1", &h->green, 352);
    say(&h->s, COT_F_TREATED, 1);
    name(&h->s, COT_F_TREATMENT, "as its label says");
    struct cot_id green_lot = *done(&h->s);
    start_sown(&h->s, &red_lot, &h->square, 8, day(2, 18));
    h->red_batch = *done(&h->s);
    start_sown(&h->s, &green_lot, &h->square, 4, day(2, 20));
    h->green_batch = *done(&h->s);
    make(&h->s, COT_K_COUNT);
    about(&h->s, &h->red_batch);
    say(&h->s, COT_F_DAY, day(3, 4));
    ck_assert(cot_fact_set_counts(&h->s.next, COT_F_COUNTS, counts, 2));
    done(&h->s);
}

/* Every state a line can be in. */
static void orders(struct house *h)
{
    struct cot_id id = line(h, &h->alder, &h->red, 500, day(3, 25), 500);
    hand_over(&h->s, &id, &h->alder, &h->red_batch, 128, day(3, 20));
    line(h, &h->alder, &h->green, 424, day(3, 25), 424); /* treated; in doubt */
    line(h, &h->alder, &h->red, 90, day(3, 26), 60);     /* part promised */
    start_line(&h->s, &h->alder, &h->tarn, 200, day(3, 25));
    ck_assert(cot_fact_set_ids(&h->s.next, COT_F_SUBS, &h->red, 1));
    say(&h->s, COT_F_LEAST, 150);
    id = *done(&h->s);
    promise(&h->s, &id, &h->alder, 200);            /* served by a substitute */
    line(h, &h->wide, &h->red, 120, day(3, 23), 0); /* waiting */
    start_line(&h->s, &h->wide, &h->tarn, 400, day(3, 25));
    say(&h->s, COT_F_LEAST, 300);
    name(&h->s, COT_F_REF, "=A1+1");
    id = *done(&h->s);
    promise(&h->s, &id, &h->wide, 400); /* short, below the least worth having */
    id = line(h, &h->lane, &h->red, 60, day(3, 18), 0);
    make(&h->s, COT_K_PROMISE); /* another day */
    of_farm(&h->s, &h->lane);
    about(&h->s, &id);
    say(&h->s, COT_F_PLANTS, 60);
    say(&h->s, COT_F_DATE, day(3, 26));
    done(&h->s);
    id = line(h, &h->lane, &h->green, 70, day(3, 30), 0);
    make(&h->s, COT_K_DECLINED);
    of_farm(&h->s, &h->lane);
    about(&h->s, &id);
    done(&h->s);
    id = line(h, &h->lane, &h->red, 30, day(3, 20), 30);
    struct cot_id out = hand_over(&h->s, &id, &h->lane, &h->red_batch, 20, day(3, 19));
    make(&h->s, COT_K_BACK);
    of_farm(&h->s, &h->lane);
    about(&h->s, &out);
    say(&h->s, COT_F_DAY, day(3, 20));
    say(&h->s, COT_F_PLANTS, 4);
    say(&h->s, COT_F_WERE_USABLE, 0);
    name(&h->s, COT_F_WHY, "wilted on the way");
    done(&h->s);
    make(&h->s, COT_K_WITHDRAWN);
    of_farm(&h->s, &h->lane);
    about(&h->s, &id);
    done(&h->s);
}

static void house_new(struct house *h)
{
    memset(h, 0, sizeof *h);
    season_new(&h->s, 5);
    h->on = day(3, 21);
    catalogue(h);
    batches(h);
    orders(h);
    h->book = season_book(&h->s, NULL);
}

static void house_free(struct house *h)
{
    cot_book_free(h->book);
    season_free(&h->s);
}

static void fill_report(struct house *h, const struct cot_id *farm, enum cot_form form, struct cot_buf *out)
{
    struct cot_fill fill;
    ck_assert_int_eq(cot_fill_read(h->book, h->on, &fill), COT_OK);
    ck_assert_int_eq(cot_report_fill(&fill, h->book, farm, form, out), COT_OK);
    cot_fill_free(&fill);
}

static void handover_report(struct house *h, enum cot_form form, struct cot_buf *out)
{
    struct cot_handover_row *rows = NULL;
    size_t n = 0;
    ck_assert_int_eq(cot_handovers_read(h->book, h->on, &rows, &n), COT_OK);
    ck_assert_int_eq(cot_report_handovers(rows, n, h->book, h->on, form, out), COT_OK);
    free(rows);
}

/* The digest is of this book (checked), and goes out of the golden files: it changes with every rule of the book. */
static void mask_digest(struct house *h, const struct cot_buf *in, struct cot_buf *out)
{
    char digest[COT_BOOK_DIGEST_TEXT];
    ck_assert_int_eq(cot_book_digest(h->book, digest), COT_OK);
    const char *p = in->s, *found;
    ck_assert_ptr_nonnull(strstr(p, digest));
    cot_buf_str(out, "");
    while ((found = strstr(p, digest)) != NULL) {
        cot_buf_put(out, p, (size_t)(found - p));
        cot_buf_str(out, "1:DIGEST");
        p = found + strlen(digest);
    }
    cot_buf_str(out, p);
    digest[10] = '\0'; /* the short one */
    char *brief = strstr(out->s, digest);
    if (brief) memcpy(brief, "1:DIGEST..", 10);
}

static const struct {
    const char *file;
    bool handovers, one;
    enum cot_form form;
} golden[] = {
    {"fill.txt", false, false, COT_FORM_TEXT},      {"fill.csv", false, false, COT_FORM_CSV},
    {"fill.json", false, false, COT_FORM_JSON},     {"fill_alder.txt", false, true, COT_FORM_TEXT},
    {"handovers.txt", true, false, COT_FORM_TEXT},  {"handovers.csv", true, false, COT_FORM_CSV},
    {"handovers.json", true, false, COT_FORM_JSON},
};

static void report(struct house *h, int which, struct cot_buf *out)
{
    if (golden[which].handovers) handover_report(h, golden[which].form, out);
    else fill_report(h, golden[which].one ? &h->alder : NULL, golden[which].form, out);
}

START_TEST(golden_files)
{
    struct house h;
    struct cot_buf raw = {0}, got = {0};
    struct file want;
    char path[1200];
    house_new(&h);
    report(&h, _i, &raw);
    mask_digest(&h, &raw, &got);
    snprintf(path, sizeof path, "%s/vectors/report/%s", COT_TESTS_DIR, golden[_i].file);
    if (getenv("COT_WRITE_VECTORS")) {
        FILE *f = fopen(path, "wb");
        ck_assert_ptr_nonnull(f);
        ck_assert_uint_eq(fwrite(got.s, 1, got.len, f), got.len);
        ck_assert_int_eq(fclose(f), 0);
    }
    file_read(path, &want);
    ck_assert_msg(want.len == got.len && memcmp(want.bytes, got.s, got.len) == 0,
                  "%s differs; COT_WRITE_VECTORS=1 writes it anew", golden[_i].file);
    free(want.bytes);
    cot_buf_free(&raw);
    cot_buf_free(&got);
    house_free(&h);
}
END_TEST

/* No line of a text is wider than 80 columns, ends in a blank, or holds a control character. */
START_TEST(texts_fit)
{
    struct house h;
    struct cot_buf b = {0};
    house_new(&h);
    report(&h, _i, &b);
    if (golden[_i].form == COT_FORM_TEXT) {
        for (const char *p = b.s; *p;) {
            size_t n = strcspn(p, "\n");
            ck_assert_msg(cot_text_columns(p, n) <= 80, "%.*s", (int)n, p);
            ck_assert_msg(n == 0 || p[n - 1] != ' ', "%.*s|", (int)n, p);
            for (size_t i = 0; i < n; i++) ck_assert((unsigned char)p[i] >= 0x20 && p[i] != 0x7f);
            ck_assert_int_eq(p[n], '\n');
            p += n + 1;
        }
    }
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

/* The columns of numbers stand under their headings, whatever the names. */
START_TEST(columns_stay_aligned)
{
    struct house h;
    struct cot_buf b = {0};
    house_new(&h);
    fill_report(&h, NULL, COT_FORM_TEXT, &b);
    const char *lines[] = {"500       500          128", "424       424            0", "200       200            0"};
    for (size_t i = 0; i < 3; i++) {
        const char *at = strstr(b.s, lines[i]);
        ck_assert_msg(at != NULL, "%s", lines[i]);
        ck_assert(at - 7 >= b.s && at[-8] == '\n');
    }
    for (const char *p = b.s; (p = strstr(p, "2027-W")) != NULL; p++) {
        const char *start = p;
        while (start > b.s && start[-1] != '\n') start--;
        size_t column = cot_text_columns(start, (size_t)(p - start));
        ck_assert_msg(column == 60 || strncmp(start, "as of", 5) == 0, "%.60s", start);
    }
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

START_TEST(csv_is_regular)
{
    struct house h;
    struct cot_buf b = {0};
    struct cot_csv *c = NULL;
    house_new(&h);
    if (_i == 0) fill_report(&h, NULL, COT_FORM_CSV, &b);
    else handover_report(&h, COT_FORM_CSV, &b);
    ck_assert_int_eq(cot_csv_open(b.s, b.len, &c, NULL), COT_OK);
    ck_assert_uint_gt(cot_csv_count(c), 2);
    for (size_t i = 1; i < cot_csv_count(c); i++)
        ck_assert_uint_eq(cot_csv_record(c, i)->count, cot_csv_record(c, 0)->count);
    if (_i == 0) ck_assert_ptr_nonnull(strstr(b.s, ",'=A1+1,")); /* no formula for a spreadsheet to run */
    cot_csv_free(c);
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

/* The two forms for programs tell the same figures. */
START_TEST(json_says_what_csv_says)
{
    struct house h;
    struct cot_buf csv = {0}, js = {0};
    struct cot_csv *c = NULL;
    house_new(&h);
    fill_report(&h, NULL, COT_FORM_CSV, &csv);
    fill_report(&h, NULL, COT_FORM_JSON, &js);
    ck_assert_int_eq(cot_csv_open(csv.s, csv.len, &c, NULL), COT_OK);
    json_t *root = json_loadb(js.s, js.len, JSON_REJECT_DUPLICATES, NULL);
    ck_assert_ptr_nonnull(root);
    size_t row = 1, k, i;
    json_t *farm, *l;
    json_array_foreach(json_object_get(root, "farms"), k, farm)
    {
        json_array_foreach(json_object_get(farm, "lines"), i, l)
        {
            const struct cot_csv_record *heads = cot_csv_record(c, 0), *r = cot_csv_record(c, row++);
            ck_assert_ptr_nonnull(r);
            for (size_t col = 0; col < heads->count; col++) {
                const json_t *v = json_object_get(l, heads->cell[col]);
                if (json_is_integer(v)) ck_assert_int_eq(json_integer_value(v), strtoll(r->cell[col], NULL, 10));
                if (json_is_real(v)) ck_assert_double_eq(json_real_value(v), strtod(r->cell[col], NULL));
                if (json_is_boolean(v)) ck_assert_str_eq(json_is_true(v) ? "yes" : "no", r->cell[col]);
                if (json_is_string(v)) ck_assert_str_eq(json_string_value(v), r->cell[col] + (r->cell[col][0] == '\''));
            }
        }
    }
    ck_assert_uint_eq(row, cot_csv_count(c));
    json_decref(root);
    cot_csv_free(c);
    cot_buf_free(&csv);
    cot_buf_free(&js);
    house_free(&h);
}
END_TEST

START_TEST(a_farm_without_lines)
{
    struct house h;
    struct cot_buf b = {0};
    house_new(&h);
    fill_report(&h, &h.empty, COT_FORM_TEXT, &b);
    ck_assert_ptr_nonnull(strstr(b.s, "Quiet Acre\n==========\nNo lines.\n"));
    ck_assert_ptr_null(strstr(b.s, "Alder"));
    cot_buf_clear(&b);
    fill_report(&h, &h.empty, COT_FORM_JSON, &b);
    ck_assert_ptr_nonnull(strstr(b.s, "\"farms\":[]"));
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

/* A farm's report holds its own lines only, the same bytes as in the whole. */
START_TEST(one_farm_is_a_part_of_all)
{
    struct house h;
    struct cot_buf all = {0}, one = {0};
    house_new(&h);
    fill_report(&h, NULL, COT_FORM_TEXT, &all);
    fill_report(&h, &h.alder, COT_FORM_TEXT, &one);
    const char *start = strstr(one.s, "Alder Ford\n"), *end = strstr(one.s, "As of ");
    ck_assert(start && end && start < end);
    char *part = strndup(start, (size_t)(end - start));
    ck_assert_ptr_nonnull(strstr(all.s, part));
    ck_assert_ptr_null(strstr(one.s, "Parish"));
    free(part);
    cot_buf_free(&all);
    cot_buf_free(&one);
    house_free(&h);
}
END_TEST

/* A line in trays of no format: nobody can say how many plants that is, and the text says so. */
START_TEST(trays_of_no_format)
{
    struct house h;
    struct cot_buf b = {0};
    house_new(&h);
    start_line(&h.s, &h.empty, &h.red, 50, day(3, 25));
    struct cot_id id = *done(&h.s);
    make(&h.s, COT_K_LINE);
    of_farm(&h.s, &h.empty);
    about(&h.s, &id);
    say(&h.s, COT_F_TRAYS, 3);
    done(&h.s);
    cot_book_free(h.book);
    h.book = season_book(&h.s, NULL);
    fill_report(&h, &h.empty, COT_FORM_TEXT, &b);
    ck_assert_ptr_nonnull(strstr(b.s, "in doubt"));
    ck_assert_ptr_nonnull(strstr(b.s, "does not say of which tray format"));
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

/* Position and digest may be of the reader's own view. */
START_TEST(names_the_view_it_is_told)
{
    struct house h;
    struct cot_fill fill;
    struct cot_buf b = {0};
    char own[COT_BOOK_DIGEST_TEXT], all[COT_BOOK_DIGEST_TEXT];
    house_new(&h);
    struct cot_book *view = cot_book_new(&h.alder);
    for (size_t i = 0; i < 5; i++) ck_assert_int_eq(cot_book_put(view, &h.s.row[i]), COT_OK);
    ck_assert_int_eq(cot_fill_read(h.book, h.on, &fill), COT_OK);
    ck_assert_int_eq(cot_report_fill_seen(&fill, h.book, &h.alder, COT_FORM_JSON, view, &b), COT_OK);
    ck_assert_int_eq(cot_book_digest(view, own), COT_OK);
    ck_assert_int_eq(cot_book_digest(h.book, all), COT_OK);
    ck_assert_ptr_nonnull(strstr(b.s, "\"position\":5,"));
    ck_assert_ptr_nonnull(strstr(b.s, own));
    ck_assert_ptr_null(strstr(b.s, all));
    cot_buf_free(&b);
    cot_fill_free(&fill);
    cot_book_free(view);
    house_free(&h);
}
END_TEST

/* What is not sent yet is in the figures, not in the digest, and that is said. */
START_TEST(unsent_entries_are_told)
{
    struct house h;
    struct cot_buf b = {0};
    house_new(&h);
    start_line(&h.s, &h.alder, &h.red, 9, day(3, 29));
    season_put(&h.s, false, false);
    ck_assert_int_eq(cot_book_put(h.book, &h.s.row[h.s.rows - 1]), COT_OK);
    fill_report(&h, NULL, COT_FORM_TEXT, &b);
    ck_assert_ptr_nonnull(strstr(b.s, "(1 entry not sent yet is in the figures, not in the digest)\n"));
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

START_TEST(words_of_figures)
{
    static const struct {
        int permille;
        const char *odds;
    } odds[] = {
        {900, "9 in 10"}, {950, "19 in 20"}, {500, "1 in 2"}, {999, "999 in 1000"}, {975, "39 in 40"}, {800, "4 in 5"},
    };
    static const struct {
        double p;
        const char *text;
    } chances[] = {
        {0, "0 %"},      {1e-9, "under 1 %"},  {0.004, "under 1 %"},
        {0.005, "1 %"},  {0.5, "50 %"},        {0.945, "95 %"},
        {0.994, "99 %"}, {0.996, "over 99 %"}, {0.999999999, "over 99 %"},
        {1, "100 %"},
    };
    char text[COT_ODDS_TEXT];
    for (size_t i = 0; i < sizeof odds / sizeof odds[0]; i++) {
        cot_odds_text(odds[i].permille, text);
        ck_assert_str_eq(text, odds[i].odds);
    }
    for (size_t i = 0; i < sizeof chances / sizeof chances[0]; i++) {
        cot_chance_text(chances[i].p, text);
        ck_assert_str_eq(text, chances[i].text);
    }
    cot_chance_beside(0.8967, 900, text);
    ck_assert_str_eq(text, "89.6 %");
    cot_chance_beside(0.899999999, 900, text);
    ck_assert_str_eq(text, "89.9 %");
    cot_chance_beside(0.9, 900, text);
    ck_assert_str_eq(text, "90 %");
    cot_chance_beside(0.894, 900, text);
    ck_assert_str_eq(text, "89 %");
    cot_chance_beside(0.9975, 999, text);
    ck_assert_str_eq(text, "99.7 %");
}
END_TEST

static const struct {
    const char *s;
    size_t width;
    const char *want;
} fits[] = {
    {"abc", 5, "abc  "},
    {"abcde", 5, "abcde"},
    {"abcdef", 5, "abcd\xe2\x80\xa6"},
    {"", 3, "   "},
    {"\xe6\xb5\xb7\xe8\xbe\xba", 4, "\xe6\xb5\xb7\xe8\xbe\xba"}, /* two wide characters */
    {"\xe6\xb5\xb7\xe8\xbe\xba\xe3\x81\xae", 5, "\xe6\xb5\xb7\xe8\xbe\xba\xe2\x80\xa6"},
    {"\xe6\xb5\xb7\xe8\xbe\xba\xe3\x81\xae", 4, "\xe6\xb5\xb7\xe2\x80\xa6 "}, /* no half of a character: a blank */
    {"e\xcc\x81"
     "e",
     2,
     "e\xcc\x81"
     "e"}, /* a combining mark takes no column */
    {"a\x1b[1m", 12, "a\\u{001B}[1m"},
};

START_TEST(fits_a_column)
{
    struct cot_buf b = {0};
    cot_put_fit(&b, fits[_i].s, strlen(fits[_i].s), fits[_i].width);
    ck_assert_str_eq(b.s, fits[_i].want);
    ck_assert_uint_eq(cot_text_columns(b.s, b.len), fits[_i].width);
    cot_buf_free(&b);
}
END_TEST

/* --- docs/reports.md -------------------------------------------------------------------------------------------------
 */

/* Names in the first column of the tables under a heading of the page, up to the next heading: "a,b,c". */
static void page_names(const char *page, const char *heading, struct cot_buf *out)
{
    char line[200];
    snprintf(line, sizeof line, "\n%s\n", heading);
    const char *p = strstr(page, line);
    ck_assert_msg(p != NULL, "docs/reports.md has no heading %s", heading);
    const char *end = strstr(p + strlen(line), "\n#");
    cot_buf_str(out, "");
    while ((p = strstr(p, "\n| `")) != NULL && (!end || p < end)) {
        p += 4;
        cot_buf_fmt(out, "%s%.*s", out->len ? "," : "", (int)strcspn(p, "`"), p);
    }
}

static void json_names(json_t *object, struct cot_buf *out)
{
    cot_buf_str(out, "");
    ck_assert(json_is_object(object));
    for (void *i = json_object_iter(object); i; i = json_object_iter_next(object, i))
        cot_buf_fmt(out, "%s%s", out->len ? "," : "", json_object_iter_key(i));
}

static json_t *first_with(json_t *list, const char *key)
{
    size_t i;
    json_t *v;
    json_array_foreach(list, i, v) if (!key || json_array_size(json_object_get(v, key)) > 0) return v;
    return NULL;
}

static json_t *part_of(json_t *root, const char *part)
{
    json_t *farm = first_with(json_object_get(root, "farms"), NULL),
           *l = first_with(json_object_get(farm, "lines"), "batches");
    if (strcmp(part, "report") == 0) return root;
    if (strcmp(part, "farm") == 0) return farm;
    if (strcmp(part, "supply") == 0) return first_with(json_object_get(root, "supply"), NULL);
    if (strcmp(part, "line") == 0) return l;
    if (strcmp(part, "batch") == 0) return first_with(json_object_get(l, "batches"), NULL);
    return first_with(json_object_get(root, "handovers"), NULL);
}

static const struct {
    const char *heading, *part;
    bool handovers;
} parts[] = {
    {"### fill as CSV", NULL, false},
    {"### fill as JSON: the report", "report", false},
    {"### fill as JSON: a farm", "farm", false},
    {"### fill as JSON: what a batch gives", "supply", false},
    {"### fill as JSON: a line", "line", false},
    {"### fill as JSON: a batch", "batch", false},
    {"### handovers as CSV", NULL, true},
    {"### handovers as JSON: the report", "report", true},
    {"### handovers as JSON: a hand-over", "hand-over", true},
};

START_TEST(page_names_every_key)
{
    struct house h;
    struct file page;
    struct cot_buf want = {0}, got = {0}, b = {0};
    char path[1200];
    house_new(&h);
    snprintf(path, sizeof path, "%s/../docs/reports.md", COT_TESTS_DIR);
    file_read(path, &page);
    page_names(page.bytes, parts[_i].heading, &want);
    enum cot_form form = parts[_i].part ? COT_FORM_JSON : COT_FORM_CSV;
    if (parts[_i].handovers) handover_report(&h, form, &b);
    else fill_report(&h, NULL, form, &b);
    if (parts[_i].part) {
        json_t *root = json_loadb(b.s, b.len, JSON_REJECT_DUPLICATES, NULL);
        ck_assert_ptr_nonnull(root);
        json_names(part_of(root, parts[_i].part), &got);
        json_decref(root);
    } else {
        cot_buf_put(&got, b.s, strcspn(b.s, "\r"));
    }
    ck_assert_str_eq(got.s, want.s);
    free(page.bytes);
    cot_buf_free(&want);
    cot_buf_free(&got);
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/report");
    const int reports = (int)(sizeof golden / sizeof golden[0]);
    TCase *t = tcase_create("reports");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, golden_files, 0, reports);
    tcase_add_loop_test(t, texts_fit, 0, reports);
    tcase_add_test(t, columns_stay_aligned);
    tcase_add_loop_test(t, csv_is_regular, 0, 2);
    tcase_add_test(t, json_says_what_csv_says);
    tcase_add_test(t, a_farm_without_lines);
    tcase_add_test(t, one_farm_is_a_part_of_all);
    tcase_add_test(t, trays_of_no_format);
    tcase_add_test(t, names_the_view_it_is_told);
    tcase_add_test(t, unsent_entries_are_told);
    tcase_add_test(t, words_of_figures);
    tcase_add_loop_test(t, fits_a_column, 0, (int)(sizeof fits / sizeof fits[0]));
    tcase_add_loop_test(t, page_names_every_key, 0, (int)(sizeof parts / sizeof parts[0]));
    suite_add_tcase(s, t);
    return s;
}
