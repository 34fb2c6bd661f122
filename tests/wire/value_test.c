/* One value as a person types it: what is taken, and the words for what is not. */
#include "../core/season.h"
#include "cotyledger/wire/sheet.h"

struct house {
    struct season s;
    struct cot_book *book;
    void *keep;
};

static void house_new(struct house *h)
{
    season_new(&h->s, 1);
    struct cot_id lettuce = add_crop(&h->s, "Lettuce", 28, 42), kale = add_crop(&h->s, "Kale", 28, 42);
    add_variety(&h->s, "Red Harbour", &lettuce);
    add_variety(&h->s, "Green Pontoon", &lettuce);
    add_variety(&h->s, "Green Bollard", &kale);
    add_variety(&h->s, "Black, White / Grey", &kale);
    add_format(&h->s, "128 square", 8, 16);
    add_format(&h->s, "72", 6, 12);
    add_named(&h->s, COT_K_FARM, "Alder Ford");
    h->book = season_book(&h->s, NULL);
    h->keep = cot_keep_new();
}

static void house_free(struct house *h)
{
    cot_book_free(h->book);
    cot_keep_free(h->keep);
    season_free(&h->s);
}

/* The value as it is read, in words; or the fault with a ! before it. */
static void read_words(struct house *h, enum cot_field field, const char *typed, const char *dates, struct cot_buf *out)
{
    struct cot_fact f = {.kind = COT_K_LINE};
    struct cot_fault fault = {0};
    enum cot_err err = cot_value_read(h->book, &f, field, typed, strlen(typed), dates, h->keep, &fault);
    cot_buf_clear(out);
    cot_buf_str(out, "");
    if (err != COT_OK) {
        ck_assert_msg(fault.msg[0] && fault.hint[0], "%s: a fault needs what is wrong and what would do: %s", typed,
                      fault.msg);
        ck_assert_int_eq(f.value_count, 0);
        cot_buf_fmt(out, "!%s", fault.msg);
    } else if (f.value_count > 0) {
        cot_value_text(h->book, &f.value[0], out);
    }
}

static const struct {
    enum cot_field field;
    const char *typed, *want, *dates;
} good[] = {
    {COT_F_PLANTS, "400", "400 plants", NULL},
    {COT_F_PLANTS, " 400 plants ", "400 plants", NULL},
    {COT_F_PLANTS, "1,200", "1200 plants", NULL},
    {COT_F_PLANTS, "1 200", "1200 plants", NULL},
    {COT_F_PLANTS,
     "1\xc2\xa0"
     "200",
     "1200 plants", NULL},
    {COT_F_PLANTS,
     "1\xe2\x80\xaf"
     "200 seedlings",
     "1200 plants", NULL},
    {COT_F_PLANTS, "1'200", "1200 plants", NULL},
    {COT_F_PLANTS, "1.200.000", "1200000 plants", NULL},
    {COT_F_PLANTS, "1,200.0", "1200 plants", NULL},
    {COT_F_PLANTS, "1.200,00", "1200 plants", NULL},
    {COT_F_PLANTS, "400,0", "400 plants", NULL},
    {COT_F_PLANTS, "1", "1 plant", NULL},
    {COT_F_TRAYS, "6 trays", "6 trays", NULL},
    {COT_F_CELL_UL, "25.1 ml", "25.1 mL", NULL},
    {COT_F_CELL_UL, "25,1", "25.1 mL", NULL},
    {COT_F_CELL_UL, "25.1ML", "25.1 mL", NULL},
    {COT_F_CELL_UL, "25100 \xc2\xb5l", "25.1 mL", NULL},
    {COT_F_CELL_UL, "0.0251 l", "25.1 mL", NULL},
    {COT_F_CELL_UL, "25 cm\xc2\xb3", "25 mL", NULL},
    {COT_F_CELL_UL, "1.53 cu. in.", "25.072 mL", NULL}, /* 1.53 x 16.387064 */
    {COT_F_CELL_UL, "25.125", "25.125 mL", NULL},       /* 25125 mL would be no cell */
    {COT_F_CELL_UL, "1.2500", "1.25 mL", NULL},
    {COT_F_LENGTH_UM, "540", "540 mm", NULL},
    {COT_F_LENGTH_UM, "54 cm", "540 mm", NULL},
    {COT_F_LENGTH_UM, "21.22 in", "538.988 mm", NULL},
    {COT_F_LENGTH_UM, "21.22\"", "538.988 mm", NULL},
    {COT_F_STOCK_MG, "12.5", "12.5 g", NULL},
    {COT_F_STOCK_MG, "1.5 kg", "1500 g", NULL},
    {COT_F_STOCK_MG, "1 oz", "28.35 g", NULL}, /* 28.349523125 g, to the milligram */
    {COT_F_LABEL_GERM, "84 %", "84 %", NULL},
    {COT_F_LABEL_GERM, "84%", "84 %", NULL},
    {COT_F_LABEL_GERM, "84", "84 %", NULL},
    {COT_F_LABEL_GERM, "0.84", "84 %", NULL},
    {COT_F_LABEL_GERM, "0,845", "84.5 %", NULL},
    {COT_F_LABEL_GERM, "840 \xe2\x80\xb0", "84 %", NULL},
    {COT_F_LABEL_GERM, "100 %", "100 %", NULL},
    {COT_F_LABEL_GERM, "1 %", "1 %", NULL},
    {COT_F_LABEL_GERM, "0", "0 %", NULL},
    {COT_F_CONFIDENCE, "90%", "90 %", NULL},
    {COT_F_TRAY_DAYS, "3 weeks", "21 days", NULL},
    {COT_F_SEEDS_PER_G, "890 /g", "890 seeds a gram", NULL},
    {COT_F_UTC_OFFSET, "-60", "-60 minutes", NULL},
    {COT_F_UTC_OFFSET,
     "\xe2\x88\x92"
     "60",
     "-60 minutes", NULL},
    {COT_F_ORGANIC, "X", "yes", NULL},
    {COT_F_ORGANIC, "Yes", "yes", NULL},
    {COT_F_ORGANIC, "TRUE", "yes", NULL},
    {COT_F_ORGANIC, "1", "yes", NULL},
    {COT_F_ORGANIC, "no", "no", NULL},
    {COT_F_ORGANIC, "0", "no", NULL},
    {COT_F_DATE, "2027-03-29", "2027-03-29", NULL},
    {COT_F_DATE, "2027-03-29 00:00:00", "2027-03-29", NULL},
    {COT_F_DATE, "29.3.2027", "2027-03-29", "D.M.YYYY"},
    {COT_F_DATE, "3/29/27", "2027-03-29", "M/D/YY"},
    {COT_F_DATE, "2027-03-29", "2027-03-29", "D.M.YYYY"},
    {COT_F_FORM, "Pelleted", "pelleted", NULL},
    {COT_F_FORM, "pellet", "pelleted", NULL},
    {COT_F_SHARE, "pro rata", "prorata", NULL},
    {COT_F_VARIETY, "Red Harbour", "Red Harbour", NULL},
    {COT_F_VARIETY, "red h", "Red Harbour", NULL},
    {COT_F_VARIETY, "Black, White / Grey", "Black, White / Grey", NULL},
    {COT_F_FORMAT, "72", "72", NULL},
    {COT_F_FORMAT, "any", "", NULL},
    {COT_F_OWNER, "alder ford", "Alder Ford", NULL},
    {COT_F_SUBS, "Red Harbour", "Red Harbour", NULL},
    {COT_F_SUBS, "Green Pontoon, Red Harbour", "Green Pontoon, Red Harbour", NULL},
    {COT_F_SUBS, "Green Pontoon/Red Harbour", "Green Pontoon, Red Harbour", NULL},
    {COT_F_SUBS, "Red Harbour ; Green Bollard", "Red Harbour, Green Bollard", NULL},
    {COT_F_SUBS, "Black, White / Grey", "Black, White / Grey", NULL},
    {COT_F_WHICH, "5-7, 1 3,3", "1, 3, 5-7", NULL},
    {COT_F_WORK_DAYS, "mon-fri", "Mon, Tue, Wed, Thu, Fri", NULL},
    {COT_F_WORK_DAYS, "1-5", "Mon, Tue, Wed, Thu, Fri", NULL},
    {COT_F_WORK_DAYS, "Sat, monday;THU thu", "Mon, Thu, Sat", NULL},
    {COT_F_WORK_DAYS, "1,2,3,4,5,6,7", "Mon, Tue, Wed, Thu, Fri, Sat, Sun", NULL},
    {COT_F_MIX_L, "1200", "1200 L", NULL},
    {COT_F_MIX_L, "1200 litres", "1200 L", NULL},
    {COT_F_MIX_L, "1.2 m3", "1200 L", NULL},
    {COT_F_LABELS, "1 label", "1 label", NULL},
    {COT_F_TEXT, " two\r\n  lines\tand a tab ", "two lines and a tab", NULL},
    {COT_F_CODE, "a 1 " /* the check character is added below */, NULL, NULL},
};

START_TEST(takes)
{
    struct house h;
    struct cot_buf got = {0};
    char code[COT_CODE_TEXT];
    const char *typed = good[_i].typed, *want = good[_i].want;
    house_new(&h);
    cot_code_make("A", 1, code);
    char loose[16];
    snprintf(loose, sizeof loose, "a 1 %c", code[strlen(code) - 1]);
    if (!want) typed = loose, want = code;
    read_words(&h, good[_i].field, typed, good[_i].dates, &got);
    ck_assert_msg(strcmp(got.s, want) == 0, "\"%s\": %s", typed, got.s);
    cot_buf_free(&got);
    house_free(&h);
}
END_TEST

static const struct {
    enum cot_field field;
    const char *typed, *want, *dates;
} bad[] = {
    {COT_F_PLANTS, "", "!plants: \"\" is no number", NULL},
    {COT_F_PLANTS, "many", "!plants: \"many\" is no number", NULL},
    {COT_F_PLANTS, "ca. 400", "!plants: \"ca. 400\" is no number", NULL},
    {COT_F_PLANTS, "1.200", "!plants: \"1.200\" can be read in two ways", NULL},
    {COT_F_PLANTS, "12,5", "!plants: \"12,5\" is not a whole number", NULL},
    {COT_F_PLANTS, "12,00,000", "!plants: \"12,00,000\" is no number", NULL},
    {COT_F_PLANTS, "1,20", "!plants: \"1,20\" is not a whole number", NULL},
    {COT_F_PLANTS, "1 20", "!plants: \"1 20\" is no number", NULL},
    {COT_F_PLANTS, "1e3", "!plants: \"1e3\" has a unit", NULL},
    {COT_F_PLANTS, "0x10", "!plants: \"0x10\" has a unit", NULL},
    {COT_F_PLANTS, "400-500", "!plants: \"400-500\" is no number", NULL},
    {COT_F_PLANTS, "-5", "!plants: \"-5\" is out of range", NULL},
    {COT_F_PLANTS, "10000001", "!plants: \"10000001\" is out of range", NULL},
    {COT_F_PLANTS, "99999999999999999999", "!plants: \"99999999999999999999\" is no number", NULL},
    {COT_F_PLANTS, "6 trays", "!plants: \"6 trays\" has a unit that does not fit here", NULL},
    {COT_F_PLANTS, "4\x1b[2J", "!plants: \"4\\u{001B}[2J\" has a unit", NULL},
    {COT_F_PLANTS,
     "\xe2\x80\xae"
     "004",
     "!plants: \"\\u{202E}004\" is no number", NULL},
    {COT_F_CELL_UL, "1.250", "!cell volume: \"1.250\" can be read in two ways", NULL},
    {COT_F_CELL_UL, "1,250 ml", "!cell volume: \"1,250 ml\" can be read in two ways", NULL},
    {COT_F_CELL_UL, "25 mm", "!cell volume: \"25 mm\" has a unit that does not fit here", NULL},
    {COT_F_CELL_UL, "0.01", "!cell volume: \"0.01\" is out of range", NULL},
    {COT_F_LABEL_GERM, "1", "!germination on the label: \"1\" can be read as 1 % or as 100 %", NULL},
    {COT_F_LABEL_GERM, "1.0", "!germination on the label: \"1.0\" can be read as 1 % or as 100 %", NULL},
    {COT_F_LABEL_GERM, "101 %", "!germination on the label: \"101 %\" is over 100 %", NULL},
    {COT_F_LABEL_GERM, "840", "!germination on the label: \"840\" is over 100 %", NULL},
    {COT_F_LABEL_GERM, "-1 %", "!germination on the label: \"-1 %\" is out of range", NULL},
    {COT_F_CONFIDENCE, "30%", "!confidence the house works with: \"30%\" is out of range", NULL},
    {COT_F_ORGANIC, "maybe", "!organic seed: \"maybe\" is neither yes nor no", NULL},
    {COT_F_DATE, "2027-02-30", "!collecting date: \"2027-02-30\" is no date", NULL},
    {COT_F_DATE, "29.3.2027", "!collecting date: \"29.3.2027\" is no date", NULL},
    {COT_F_DATE, "3/29/2027", "!collecting date: \"3/29/2027\" is no date", "D/M/YYYY"},
    {COT_F_DATE, "46840", "!collecting date: \"46840\" is a spreadsheet's day number", NULL},
    {COT_F_DATE, "2027-01-13", "!collecting date: \"2027-01-13\" is no date", "YYYY-DD-MM"},
    {COT_F_DATE, "1899-12-31", "!collecting date: \"1899-12-31\" is ", NULL},
    {COT_F_FORM, "pe lle x", "!seed form: \"pe lle x\" is none of the words", NULL},
    {COT_F_FORM, "p", "!seed form: \"p\" is none of the words", NULL},
    {COT_F_WORK_DAYS, "0-5", "!working days, 1 is Monday: \"0-5\" has a day that no week has", NULL},
    {COT_F_WORK_DAYS, "mon-8", "!working days, 1 is Monday: \"mon-8\" has a day that no week has", NULL},
    {COT_F_WORK_DAYS, "fri-mon", "!working days, 1 is Monday: \"fri-mon\" begins after it ends", NULL},
    {COT_F_WORK_DAYS, "monfri", "!working days, 1 is Monday: \"monfri\" is no list of weekdays", NULL},
    {COT_F_WORK_DAYS, "mo", "!working days, 1 is Monday: \"mo\" is no list of weekdays", NULL},
    {COT_F_WORK_DAYS, "1-7,1-7", "!working days, 1 is Monday: \"1-7,1-7\" names a day twice", NULL},
    {COT_F_MIX_L, "1.2", "!growing mix on hand: ", NULL},
    {COT_F_WHICH, "7-5", "!tray numbers: \"7-5\" has a tray number that cannot be", NULL},
    {COT_F_WHICH, "0", "!tray numbers: \"0\" has a tray number that cannot be", NULL},
    {COT_F_WHICH, "1..3", "!tray numbers: \"1..3\" is no list of trays", NULL},
    {COT_F_WHICH, "1-99999", "!tray numbers: \"1-99999\" names too many trays", NULL},
    {COT_F_WHICH, " , ", "!tray numbers: \",\" is no list of trays", NULL},
    {COT_F_TEXT,
     "a\x07"
     "b",
     "!what was noted: \"a\\u{0007}b\" has a control character", NULL},
    {COT_F_TEXT,
     "a\xc2\x85"
     "b",
     "!what was noted: \"a\\u{0085}b\" has a control character", NULL},
    {COT_F_TEXT, "\t", "!what was noted: \"\" is empty", NULL},
    {COT_F_VARIETY, "Green", "!variety: ", NULL},
    {COT_F_VARIETY, "Blue Jetty", "!variety: ", NULL},
    {COT_F_SUBS, "Red Harbour, Red Harbour",
     "!varieties that will do instead, best first: \"Red Harbour, Red Harbour\" names one twice", NULL},
    {COT_F_SUBS, "Red Harbour,,Green Bollard", "!varieties that will do instead, best first: ", NULL},
    {COT_F_CODE, "A-0001-?", "!code on the tag: ", NULL},
    {COT_F_KEY, "short", "!public key (Ed25519): \"short\" is no key", NULL},
    {COT_F_COUNTS, "3:72", "!figures of the trays counted: ", NULL},
};

START_TEST(refuses)
{
    struct house h;
    struct cot_buf got = {0};
    house_new(&h);
    read_words(&h, bad[_i].field, bad[_i].typed, bad[_i].dates, &got);
    ck_assert_msg(strncmp(got.s, bad[_i].want, strlen(bad[_i].want)) == 0, "\"%s\": %s", bad[_i].typed, got.s);
    for (const char *p = got.s; *p; p++)
        ck_assert_msg((unsigned char)*p >= ' ', "\"%s\": the message is not safe to show", bad[_i].typed);
    cot_buf_free(&got);
    house_free(&h);
}
END_TEST

/* "any" says nothing of a new line, and takes the format from one that has it. */
START_TEST(any_format)
{
    struct house h;
    struct cot_fact f = {.kind = COT_K_LINE, .has_about = true};
    house_new(&h);
    ck_assert_int_eq(cot_value_read(h.book, &f, COT_F_FORMAT, "Any", 3, NULL, h.keep, NULL), COT_OK);
    ck_assert_uint_eq(f.value_count, 1);
    ck_assert_int_eq(f.value[0].type, COT_T_NONE);
    house_free(&h);
}
END_TEST

/* A long and hostile cell is cut in the message, between characters. */
START_TEST(long_cells)
{
    struct house h;
    struct cot_fault fault = {0};
    struct cot_fact f = {0};
    char cell[4000];
    house_new(&h);
    for (size_t i = 0; i + 2 <= sizeof cell; i += 2) memcpy(cell + i, "\xc3\xa9", 2);
    ck_assert_int_eq(cot_value_read(h.book, &f, COT_F_PLANTS, cell, sizeof cell, NULL, h.keep, &fault), COT_INVALID);
    ck_assert(cot_utf8_valid(fault.msg, strlen(fault.msg)));
    ck_assert_uint_lt(strlen(fault.msg), 120);
    memset(&fault, 0, sizeof fault);
    ck_assert_int_eq(cot_value_read(h.book, &f, COT_F_TEXT, cell, sizeof cell, NULL, h.keep, &fault), COT_INVALID);
    ck_assert_ptr_nonnull(strstr(fault.msg, "is too long"));
    house_free(&h);
}
END_TEST

/* Every integer that a field may hold is read back from the words it is shown in. */
START_TEST(numbers_come_back)
{
    struct house h;
    struct dice dice = dice_new("numbers come back");
    house_new(&h);
    for (int field = 0; field < COT_F_COUNT; field++) {
        const struct cot_field_row *row = cot_field_row((enum cot_field)field);
        if (row->type != COT_T_INT) continue;
        for (int k = 0; k < 200; k++) {
            uint64_t span = (uint64_t)(row->max - row->min) + 1;
            int64_t i = k == 0 ? row->min : k == 1 ? row->max : row->min + (int64_t)(dice_next(&dice) % span);
            struct cot_buf b = {0};
            struct cot_fact f = {0};
            struct cot_fault fault = {0};
            cot_number_text((enum cot_field)field, i, &b);
            enum cot_err err = cot_value_read(h.book, &f, (enum cot_field)field, b.s, b.len, NULL, h.keep, &fault);
            bool two_ways = strstr(fault.msg, "two ways") != NULL; /* 1.234 mL: asked for, not guessed */
            ck_assert_msg(err == COT_OK || two_ways, "%s: %s", row->name, fault.msg);
            if (err == COT_OK)
                ck_assert_msg(f.value[0].v.i == i, "%s: %s became %lld", row->name, b.s, (long long)f.value[0].v.i);
            cot_buf_free(&b);
        }
    }
    house_free(&h);
}
END_TEST

/* A house that measures in US customary units: shown so, typed as the option or heading says, or with the unit. */
START_TEST(customary_units)
{
    static const struct {
        enum cot_field field;
        const char *typed, *want;
    } of[] = {
        {COT_F_CELL_UL, "1.53 cu in", "1.53 cu in"},
        {COT_F_CELL_UL, "25.1", "1.53 cu in"},
        {COT_F_LENGTH_UM, "21.22in", "21.22 in"},
        {COT_F_HOLE_UM, "0.031\"", "0.031 in"},
        {COT_F_STOCK_MG, "1.5 oz", "1.5 oz"},
        {COT_F_STOCK_MG, "2 lb", "32 oz"},
        {COT_F_MIX_L, "40 gal", "40 gal"},
        {COT_F_MIX_L, "55 cu ft", "411 gal"},
        {COT_F_MIX_L, "1200 L", "317 gal"},
        {COT_F_PLANTS, "400", "400 plants"},
        {COT_F_MIX_L, "1200", "!growing mix on hand: \"1200\" does not say its unit"},
    };
    struct house h;
    struct cot_buf b = {0};
    house_new(&h);
    make(&h.s, COT_K_RULE);
    say(&h.s, COT_F_UNITS, 1);
    season_put(&h.s, true, true);
    cot_book_free(h.book);
    h.book = season_book(&h.s, NULL);
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        read_words(&h, of[i].field, of[i].typed, NULL, &b);
        ck_assert_str_eq(b.s, of[i].want);
    }
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/value");
    TCase *t = tcase_create("values");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, takes, 0, (int)(sizeof good / sizeof good[0]));
    tcase_add_loop_test(t, refuses, 0, (int)(sizeof bad / sizeof bad[0]));
    tcase_add_test(t, any_format);
    tcase_add_test(t, long_cells);
    tcase_add_test(t, numbers_come_back);
    tcase_add_test(t, customary_units);
    suite_add_tcase(s, t);
    return s;
}
