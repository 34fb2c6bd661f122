/* Farms' spreadsheets: dialects, natural keys, what changes, and every bad cell by name. */
#include "../core/season.h"
#include "cotyledger/wire/sheet.h"
#include "files.h"

struct house {
    struct season s;
    struct cot_book *book;
    struct cot_id alder, brook;
};

static const struct cot_thing *thing(struct house *h, const struct cot_id *id)
{
    return cot_book_thing(h->book, id);
}

static void house_new(struct house *h)
{
    season_new(&h->s, 1);
    struct cot_id lettuce = add_crop(&h->s, "Lettuce", 28, 42), kale = add_crop(&h->s, "Kale", 28, 42);
    add_variety(&h->s, "Red Harbour", &lettuce);
    add_variety(&h->s, "Green Pontoon", &lettuce);
    add_variety(&h->s, "Old Quay", &lettuce);
    add_variety(&h->s, "Old Quay", &kale);
    add_format(&h->s, "128", 8, 16);
    add_format(&h->s, "128 deep", 8, 16);
    h->alder = add_named(&h->s, COT_K_FARM, "Alder Ford");
    h->brook = add_named(&h->s, COT_K_FARM, "Brook End");
    h->book = season_book(&h->s, NULL);
}

static void house_free(struct house *h)
{
    cot_book_free(h->book);
    season_free(&h->s);
}

static enum cot_err try_sheet(struct house *h, enum cot_kind kind, const char *bytes, size_t len, const char *dates,
                              bool alder, struct cot_sheet *out, struct cot_fault *fault)
{
    struct cot_csv *csv = NULL;
    struct cot_sheet_options o = {.kind = kind, .farm = alder ? thing(h, &h->alder) : NULL, .date_format = dates};
    *fault = (struct cot_fault){0};
    ck_assert_msg(cot_csv_open(bytes, len, &csv, fault) == COT_OK, "%s", fault->msg);
    enum cot_err err = cot_sheet_read(h->book, csv, &o, out, fault);
    cot_csv_free(csv);
    return err;
}

static void read_sheet(struct house *h, enum cot_kind kind, const char *text, const char *dates, struct cot_sheet *out)
{
    struct cot_fault fault;
    enum cot_err err = try_sheet(h, kind, text, strlen(text), dates, kind == COT_K_LINE, out, &fault);
    ck_assert_msg(err == COT_OK, "%s", fault.msg);
}

static void no_problems(const struct cot_sheet *s)
{
    if (s->problem_count > 0)
        ck_abort_msg("line %zu, column %zu, %s: %s", s->problem[0].line, s->problem[0].column, s->problem[0].heading,
                     s->problem[0].reason);
}

/* Records the new and changed rows as the manager does; how many. */
static size_t record(struct house *h, const struct cot_sheet *sheet)
{
    size_t n = 0;
    for (size_t i = 0; i < sheet->row_count; i++) {
        const struct cot_sheet_row *row = &sheet->row[i];
        if (row->what == COT_SHEET_SAME) continue;
        h->s.next = row->fact;
        if (row->what == COT_SHEET_NEW && row->fact.kind == COT_K_LINE) new_code(&h->s);
        const struct cot_id *digest = done(&h->s);
        ck_assert_int_eq(cot_book_put(h->book, &h->s.row[h->s.rows - 1]), COT_OK);
        struct cot_note note;
        ck_assert(cot_book_verdict(h->book, digest, &note));
        ck_assert_msg(note.verdict == COT_BOOKED, "%s", note.reason);
        n++;
    }
    return n;
}

static size_t count(const struct cot_sheet *s, enum cot_sheet_what what)
{
    size_t n = 0;
    for (size_t i = 0; i < s->row_count; i++) n += s->row[i].what == what;
    return n;
}

/* Reads and records; how many entries were recorded. */
static size_t import(struct house *h, enum cot_kind kind, const char *text, const char *dates)
{
    struct cot_sheet sheet;
    read_sheet(h, kind, text, dates, &sheet);
    no_problems(&sheet);
    size_t n = record(h, &sheet);
    cot_sheet_free(&sheet);
    return n;
}

/* --- Dialects ------------------------------------------------------------------------------------------------------
 */

static const struct {
    const char *what, *bytes, *dates;
} dialects[] = {
    {"English, commas",
     "Variety,Plants,Format,Date,Substitutes,Notes\r\nRed Harbour,\"1,200\",128,2027-03-25,Green Pontoon,early bed\r\n"
     "Green Pontoon,440,any,2027-04-01,,\r\n",
     NULL},
    {"German, semicolons and a byte order mark",
     "\xef\xbb\xbf"
     "Abholdatum;Sorte;Menge;Platte;Ersatzsorte;Bemerkung\r\n"
     "25.3.2027;Red Harbour;1 200;128;Green Pontoon;early bed\r\n1.4.2027;Green Pontoon;440;;;\r\n",
     "D.M.YYYY"},
    {"French",
     "Vari\xc3\xa9t\xc3\xa9;Quantit\xc3\xa9;Plateau;Date;Remplacement;Remarque\n"
     "Red Harbour;1\xc2\xa0"
     "200;128;25/3/27;Green Pontoon;early bed\nGreen Pontoon;440 plants;;1/4/27;;\n",
     "D/M/YY"},
    {"Dutch, tabs",
     "Ras\tAantal\tTray\tLeverdatum\tVervanging\tOpmerking\nred harbour\t1200\t128\t25-03-2027\tgreen pontoon\tearly "
     "bed\n"
     "Green Pontoon\t440\t\t01-04-2027\t\t\n",
     "DD-MM-YYYY"},
    {"other order, quotes, units, blank rows and columns",
     "\"cv.\",\"Notes\",\"\",\"needed by\",\"QTY\",\"unit\",\"tray type\",\"will do instead\"\n\n"
     "\"Red Harbour\",\"early\nbed\",\"\",\"3/25/2027\",\"1,200\",\"Plants\",\"128\",\"Green Pontoon\"\n,,,,,,,\n"
     "\"Green Pontoon\",\"\",\"\",\"4/1/2027\",\"440 plants\",\"\",\"Any\",\"\"\n",
     "M/D/YYYY"},
};

static void check_order(struct house *h, const struct cot_sheet_row *row, const char *variety, int64_t plants,
                        const char *day, const char *format, const char *sub, const char *note)
{
    char text[COT_DAY_TEXT];
    const struct cot_fact *f = &row->fact;
    const struct cot_value *t = cot_fact_value(f, COT_F_TEXT), *s = cot_fact_value(f, COT_F_SUBS);
    ck_assert_int_eq(row->what, COT_SHEET_NEW);
    ck_assert(f->has_farm && cot_id_cmp(&f->farm, &h->alder) == 0 && !f->has_about);
    ck_assert_str_eq(cot_thing_name(thing(h, cot_fact_id(f, COT_F_VARIETY))), variety);
    ck_assert_int_eq(cot_fact_int(f, COT_F_PLANTS, 0), plants);
    cot_day_text((int32_t)cot_fact_int(f, COT_F_DATE, 0), text);
    ck_assert_str_eq(text, day);
    const struct cot_id *form = cot_fact_id(f, COT_F_FORMAT);
    ck_assert_str_eq(form ? cot_thing_name(thing(h, form)) : "", format);
    ck_assert_str_eq(s ? cot_thing_name(thing(h, s->v.ids)) : "", sub);
    ck_assert_str_eq(t ? t->v.text : "", note);
}

START_TEST(five_dialects)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    read_sheet(&h, COT_K_LINE, dialects[_i].bytes, dialects[_i].dates, &sheet);
    no_problems(&sheet);
    ck_assert_uint_eq(sheet.row_count, 2);
    check_order(&h, &sheet.row[0], "Red Harbour", 1200, "2027-03-25", "128", "Green Pontoon", "early bed");
    check_order(&h, &sheet.row[1], "Green Pontoon", 440, "2027-04-01", "", "", "");
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* "Qty" alone is read as plants, and that is said; with a unit it is not open. */
START_TEST(open_quantities)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    read_sheet(&h, COT_K_LINE,
               "Variety,Qty,Format,Date\nRed Harbour,6,128,2027-03-25\nRed Harbour,6 trays,128,2027-04-01\n", NULL,
               &sheet);
    no_problems(&sheet);
    ck_assert_ptr_nonnull(strstr(sheet.note, "\"Qty\", is read as plants"));
    ck_assert_int_eq(cot_fact_int(&sheet.row[0].fact, COT_F_PLANTS, 0), 6);
    ck_assert_int_eq(cot_fact_int(&sheet.row[1].fact, COT_F_TRAYS, 0), 6);
    ck_assert_ptr_null(cot_fact_value(&sheet.row[1].fact, COT_F_PLANTS));
    cot_sheet_free(&sheet);
    read_sheet(&h, COT_K_LINE, "Variety,Qty (trays),Format,Date\nRed Harbour,6,128,2027-03-25\n", NULL, &sheet);
    no_problems(&sheet);
    ck_assert_str_eq(sheet.note, "");
    ck_assert_int_eq(cot_fact_int(&sheet.row[0].fact, COT_F_TRAYS, 0), 6);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* --- The same file twice ---------------------------------------------------------------------------------------------
 */

static const struct {
    enum cot_kind kind;
    const char *text;
    size_t rows;
} kinds[] = {
    {COT_K_FARM, "Farm,Contact,Own\nHeron Mead,heron@heron-mead.example.org,\nThe Glasshouse Field,'+00 0000,yes\n", 2},
    {COT_K_CROP,
     "Crop,Botanical name,Days in tray,Longest in tray,Emergence %,Usable %\nBeet,Beta vulgaris,28,42,95,96.5\n", 1},
    {COT_K_VARIETY, "Variety,Crop\nRed Harbour,Kale\nCopper Tarn,Lettuce\n", 2},
    {COT_K_FORMAT, "Name,Rows,Columns,Cell volume (mL),Length (mm),Width (in)\n200,10,20,13.9,539,11\n", 1},
    {COT_K_PLATE, "Plate,Cells,Holes,Hole (mm)\n128 one-hole,128,1,0.5\n", 1},
    {COT_K_LOT,
     "Lot,Variety,Form,Treated,Seeds tested,Germinated,Germination,Stock,Use by\nRH-1,Red "
     "Harbour,pelleted,no,400,372,,5000 seeds,\n"
     "RH-2,Red Harbour,raw,yes,,,\"92,5 %\",12.5 g,2027-06-01\n",
     2},
    {COT_K_PLACE,
     "Place,Type,Trays,Warmth,In use from\nbench 1,bench,40 trays,,\nKeimkammer,chamber,60,warm,2027-01-04\n", 2},
    {COT_K_RAISING,
     "Name,Crop,Tray,First week,Last week,Days,Chamber,Pot on to,Potted on after\nLettuce in "
     "winter,Lettuce,,40,9,42,3,,\n"
     "Lettuce plugs,Lettuce,,,,30,,128,2 weeks\n",
     2},
    {COT_K_LINE,
     "Ref,Variety,Trays,Format,Date,Early,Late,Least,Organic\nA1,Red Harbour,4,128,2027-03-25,2,3,,yes\nA2,Red "
     "Harbour,4,128,2027-03-25,,,,\n",
     2},
    {COT_K_LINE,
     "Variety,Plants,Format,Date\nRed Harbour,300,128,2027-05-01\nRed Harbour,200,128,2027-05-01\nGreen "
     "Pontoon,80,,2027-05-01\n",
     3},
};

START_TEST(twice_changes_nothing)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    ck_assert_uint_eq(import(&h, kinds[_i].kind, kinds[_i].text, NULL), kinds[_i].rows);
    read_sheet(&h, kinds[_i].kind, kinds[_i].text, NULL, &sheet);
    no_problems(&sheet);
    ck_assert_uint_eq(count(&sheet, COT_SHEET_SAME), kinds[_i].rows);
    ck_assert_uint_eq(sheet.row_count, kinds[_i].rows);
    for (size_t i = 0; i < sheet.row_count; i++) ck_assert_ptr_nonnull(sheet.row[i].thing);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* --- What changes
 * ------------------------------------------------------------------------------------------------------ */

START_TEST(only_what_changed)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    import(&h, COT_K_LINE,
           "Ref,Variety,Plants,Format,Date,Late,Note\nA1,Red Harbour,300,128,2027-03-25,3,hold for rain\n", NULL);
    read_sheet(&h, COT_K_LINE, "Ref,Variety,Plants,Format,Date,Late,Note\nA1,Red Harbour,350,128,2027-04-01,,none\n",
               NULL, &sheet);
    no_problems(&sheet);
    const struct cot_fact *f = &sheet.row[0].fact;
    ck_assert_int_eq(sheet.row[0].what, COT_SHEET_CHANGE);
    ck_assert(f->has_about && cot_id_cmp(&f->about, &sheet.row[0].thing->id) == 0);
    ck_assert_uint_eq(f->value_count, 3); /* the empty cell says nothing, "none" clears */
    ck_assert_int_eq(cot_fact_int(f, COT_F_PLANTS, 0), 350);
    ck_assert_ptr_nonnull(cot_fact_value(f, COT_F_DATE));
    ck_assert_int_eq(cot_fact_value(f, COT_F_TEXT)->type, COT_T_NONE);
    record(&h, &sheet);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

START_TEST(trays_take_the_place_of_plants)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    import(&h, COT_K_LINE, "Ref,Variety,Plants,Format,Date\nA1,Red Harbour,300,128,2027-03-25\n", NULL);
    read_sheet(&h, COT_K_LINE, "Ref,Variety,Trays,Format,Date\nA1,Red Harbour,3,128,2027-03-25\n", NULL, &sheet);
    no_problems(&sheet);
    ck_assert_uint_eq(sheet.row[0].fact.value_count, 2);
    ck_assert_int_eq(cot_fact_value(&sheet.row[0].fact, COT_F_PLANTS)->type, COT_T_NONE);
    ck_assert_int_eq(cot_fact_int(&sheet.row[0].fact, COT_F_TRAYS, 0), 3);
    record(&h, &sheet);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* Without references the k-th line of a key in the file is the k-th in the book, whatever stands between them. */
START_TEST(lines_by_their_rank)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    import(&h, COT_K_LINE,
           "Variety,Plants,Format,Date\nRed Harbour,300,128,2027-05-01\nRed Harbour,200,128,2027-05-01\n", NULL);
    read_sheet(&h, COT_K_LINE,
               "Variety,Plants,Format,Date\nGreen Pontoon,1,128,2027-05-01\nRed Harbour,300,128,2027-05-01\nRed "
               "Harbour,210,128,2027-05-01\n"
               "Red Harbour,50,128,2027-05-01\nRed Harbour,300,128 deep,2027-05-01\n",
               NULL, &sheet);
    no_problems(&sheet);
    ck_assert_int_eq(sheet.row[0].what, COT_SHEET_NEW);
    ck_assert_int_eq(sheet.row[1].what, COT_SHEET_SAME);
    ck_assert_int_eq(sheet.row[2].what, COT_SHEET_CHANGE);
    ck_assert_int_eq(cot_thing_int(sheet.row[2].thing, COT_F_PLANTS, 0), 200);
    ck_assert_int_eq(sheet.row[3].what, COT_SHEET_NEW);
    ck_assert_int_eq(sheet.row[4].what, COT_SHEET_NEW);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* References are the farm's own: the same one of another farm is another line. */
START_TEST(references_are_by_farm)
{
    struct house h;
    struct cot_sheet sheet;
    struct cot_fault fault;
    static const char text[] = "Farm,Ref,Variety,Plants,Format,Date\nAlder Ford,1,Red "
                               "Harbour,300,128,2027-05-01\nBrook End,1,Red Harbour,200,128,2027-05-01\n";
    house_new(&h);
    for (int again = 0; again < 2; again++) {
        ck_assert_int_eq(try_sheet(&h, COT_K_LINE, text, strlen(text), NULL, false, &sheet, &fault), COT_OK);
        no_problems(&sheet);
        ck_assert_uint_eq(count(&sheet, again ? COT_SHEET_SAME : COT_SHEET_NEW), 2);
        record(&h, &sheet);
        cot_sheet_free(&sheet);
    }
    house_free(&h);
}
END_TEST

/* A withdrawn line is not found again: the file that still has it orders anew. */
START_TEST(withdrawn_lines_are_not_matched)
{
    struct house h;
    struct cot_sheet sheet;
    static const char text[] = "Ref,Variety,Plants,Format,Date\nA1,Red Harbour,300,128,2027-05-01\n";
    size_t n;
    house_new(&h);
    import(&h, COT_K_LINE, text, NULL);
    const struct cot_id line = cot_book_things(h.book, COT_THING_LINE, &n)[0]->id;
    make(&h.s, COT_K_WITHDRAWN);
    of_farm(&h.s, &h.alder);
    about(&h.s, &line);
    done(&h.s);
    ck_assert_int_eq(cot_book_put(h.book, &h.s.row[h.s.rows - 1]), COT_OK);
    read_sheet(&h, COT_K_LINE, text, NULL, &sheet);
    no_problems(&sheet);
    ck_assert_int_eq(sheet.row[0].what, COT_SHEET_NEW);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

START_TEST(codes_go_before_keys)
{
    struct house h;
    struct cot_sheet sheet;
    char text[200];
    size_t n;
    house_new(&h);
    import(&h, COT_K_LINE, "Variety,Plants,Format,Date\nRed Harbour,300,128,2027-05-01\n", NULL);
    const struct cot_thing *line = cot_book_things(h.book, COT_THING_LINE, &n)[0];
    snprintf(text, sizeof text,
             "Code,Variety,Plants,Format,Date\n%s,Green Pontoon,280,128,2027-05-08\n,Red Harbour,300,128,2027-05-01\n",
             cot_thing_text(line, COT_F_CODE));
    read_sheet(&h, COT_K_LINE, text, NULL, &sheet);
    no_problems(&sheet);
    ck_assert_int_eq(sheet.row[0].what, COT_SHEET_CHANGE);
    ck_assert_uint_eq(sheet.row[0].fact.value_count, 3);
    ck_assert_int_eq(sheet.row[1].what, COT_SHEET_NEW);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* --- Bad cells
 * ----------------------------------------------------------------------------------------------------------- */

#define L "Variety,Plants,Format,Date,Substitutes,Organic,Early\n"
static const struct {
    enum cot_kind kind;
    const char *text, *want;
} bad[] = {
    {COT_K_LINE, L "Red Harbor,300,128,2027-05-01,,,\n", "2:1: Variety: there is no variety called \"Red Harbor\"; "},
    {COT_K_LINE, L "Red,300,128,2027-05-01,,,\n",
     "2:1: Variety: there is no variety called \"Red\"; did you mean Red Harbour? write it in full"},
    {COT_K_LINE, L "Old Quay,300,128,2027-05-01,,,\n",
     "2:1: Variety: several things are called \"Old Quay\"; add a column Crop"},
    {COT_K_LINE, L ",300,128,2027-05-01,,,\n", "2:1: Variety: the variety is missing"},
    {COT_K_LINE, L "none,300,128,2027-05-01,,,\n", "2:1: Variety: the variety is missing"},
    {COT_K_LINE, L "Red Harbour,,128,2027-05-01,,,\n", "2:0: : how many plants or trays?"},
    {COT_K_LINE, L "Red Harbour,0,128,2027-05-01,,,\n", "2:0: : an order of nothing"},
    {COT_K_LINE, L "Red Harbour,1.200,128,2027-05-01,,,\n",
     "2:2: Plants: \"1.200\" can be read in two ways; write 1200"},
    {COT_K_LINE, L "Red Harbour,12.5,128,2027-05-01,,,\n", "2:2: Plants: \"12.5\" is not a whole number"},
    {COT_K_LINE, L "Red Harbour,6 trays,128,2027-05-01,,,\n",
     "2:2: Plants: \"6 trays\" has a unit that does not fit here"},
    {COT_K_LINE, L "Red Harbour,lots,128,2027-05-01,,,\n", "2:2: Plants: \"lots\" is no number"},
    {COT_K_LINE, L "Red Harbour,300,12,2027-05-01,,,\n", "2:3: Format: there is no tray format called \"12\""},
    {COT_K_LINE, L "Red Harbour,300,128,,,,\n", "2:4: Date: the collecting date is missing"},
    {COT_K_LINE, L "Red Harbour,300,128,1.5.2027,,,\n",
     "2:4: Date: \"1.5.2027\" is no date; write it as 2027-03-29, or say how dates are written"},
    {COT_K_LINE, L "Red Harbour,300,128,46873,,,\n", "2:4: Date: \"46873\" is a spreadsheet's day number"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-02-29,,,\n", "2:4: Date: \"2027-02-29\" is no date"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,Green,,\n",
     "2:5: Substitutes: there is no variety called \"Green\""},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,Red Harbour,,\n", "2:0: : a variety is no substitute for itself"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,,perhaps,\n", "2:6: Organic: \"perhaps\" is neither yes nor no"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,,,90\n",
     "2:7: Early: \"90\" is out of range; it may be 0 days to 60 days"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,,,-1\n", "2:7: Early: \"-1\" is out of range"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,,,1,more\n",
     "2:8: : the row has more cells than there are headings"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,,,\nTotal,300,,,,,\n",
     "3:1: Variety: this row looks like a total of the others"},
    {COT_K_LINE, L "Red Harbour,300,128,2027-05-01,,,\nSum:,300,,,,,\n",
     "3:1: Variety: this row looks like a total of the others"},
    {COT_K_LINE, "Plants,Variety,Format,Date\n300,Red Harbour,128,2027-05-01\n300,Gesamt,,\n",
     "3:2: Variety: this row looks like a total"},
    {COT_K_LINE, "Variety,Trays,Format,Date\nRed Harbour,3,,2027-05-01\n", "2:0: : trays: say of which tray format"},
    {COT_K_LINE, "Variety,Plants,Trays,Format,Date\nRed Harbour,300,3,128,2027-05-01\n",
     "2:0: : plants and trays: give one of them"},
    {COT_K_LINE, "Ref,Variety,Plants,Format,Date\n1,Red Harbour,3,128,2027-05-01\n1,Red Harbour,4,128,2027-05-01\n",
     "3:1: Ref: the same reference stands on line 2 already"},
    {COT_K_LINE, "Farm,Variety,Plants,Format,Date\nBrook End,Red Harbour,3,128,2027-05-01\n",
     "2:1: Farm: another farm than the one these orders are for"},
    {COT_K_LINE, "Farm,Variety,Plants,Format,Date\nBrock End,Red Harbour,3,128,2027-05-01\n",
     "2:1: Farm: there is no farm called \"Brock End\""},
    {COT_K_LINE, "Code,Variety,Plants,Format,Date\nA-0001,Red Harbour,3,128,2027-05-01\n",
     "2:1: Code: this is no code of a line"},
    {COT_K_LINE, "Code,Variety,Plants,Format,Date\n\xc2\xa0,Red Harbour,3,128,2027-05-01\nB-0417-K,,,,\n",
     "3:1: Code: this is no code of a line"},
    {COT_K_LINE, "Qty,Unit,Variety,Format,Date\n3,boxes,Red Harbour,128,2027-05-01\n",
     "2:2: Unit: write plants or trays"},
    {COT_K_LINE, "Variety,Plants,,Date\nRed Harbour,300,!,2027-05-01\n", "2:3: : there is no heading above this"},
    {COT_K_LINE, "Variety,Plants,Date,Priority\nRed Harbour,300,2027-05-01,10\n",
     "2:4: Priority: \"10\" is out of range; it may be 1 to 9"},
    {COT_K_LINE, "Variety,Plants,Date,Closing\nRed Harbour,300,2027-05-01,2027-06-01\n",
     "2:0: : last day for changes 2027-06-01 lies after collecting date 2027-05-01"},
    {COT_K_LINE, "Variety,Plants,Date,Note\nRed Harbour,300,2027-05-01,a\x1b[2Jb\n",
     "2:4: Note: \"a\\u{001B}[2Jb\" has a control character in it"},
    {COT_K_VARIETY, "Variety,Crop\nBlue Jetty,Spinach\n", "2:2: Crop: there is no crop called \"Spinach\""},
    {COT_K_VARIETY, "Variety,Crop\nBlue Jetty,Kale\nblue jetty,Kale\n",
     "3:1: Variety: the same name stands on line 2 already"},
    {COT_K_VARIETY, "Variety,Crop\nBlue Jetty,\n", "2:2: Crop: the crop is missing"},
    {COT_K_FORMAT, "Name,Rows,Columns\n9,90,90\n", "2:0: : rows x columns make 8100 cells"},
    {COT_K_FORMAT, "Name,Rows,Columns\n72,6,10\n", "2:0: : the name says 72 cells, 6 rows x 10 columns make 60"},
    {COT_K_PLACE, "Name,Sort,Space\nbench 1,bench,0\n", "2:3: Space: "},
    {COT_K_LINE, "Variety,Plants,Date,Early\nRed Harbour,100,2027-05-03,-3\n", "2:4: Early: "},
    {COT_K_LINE, "Variety,Plants,Date,Substitutes\nRed Harbour,100,2027-05-03,Red Harbour\n",
     "2:0: : a variety is no substitute for itself"},
    {COT_K_FORMAT, "Name,Rows,Columns,Cell volume (mL)\n9,3,3,1.250\n",
     "2:4: Cell volume (mL): \"1.250\" can be read in two ways"},
    {COT_K_CROP, "Crop,Days in tray,Longest\nBeet,40,30\n", "2:0: : days from sowing to ready (40) is more than"},
    {COT_K_CROP, "Crop,Emergence %\nBeet,0.95\n",
     "2:2: Emergence %: \"0.95\" stands under a heading in percent; write it with its sign"},
    {COT_K_LOT, "Lot,Variety,Stock\nRH-1,Red Harbour,5000\n",
     "2:3: Stock: seeds or grams? write it like 5000 seeds or 12.5 g"},
    {COT_K_LOT, "Lot,Variety,Seeds tested,Germinated\nRH-1,Red Harbour,400,420\n",
     "2:0: : of which germinated (420) is more than seeds tested (400)"},
    {COT_K_LOT, "Lot,Variety,Germination\nRH-1,Red Harbour,1\n",
     "2:3: Germination: \"1\" can be read as 1 % or as 100 %"},
    {COT_K_LOT, "Lot,Variety,Form\nRH-1,Red Harbour,beads\n",
     "2:3: Form: \"beads\" is none of the words for this; write one of: raw, graded, pelleted"},
};

START_TEST(names_every_bad_cell)
{
    struct house h;
    struct cot_sheet sheet;
    char got[600];
    house_new(&h);
    read_sheet(&h, bad[_i].kind, bad[_i].text, NULL, &sheet);
    ck_assert_msg(sheet.problem_count > 0, "%s: nothing wrong with it", bad[_i].want);
    ck_assert_uint_eq(sheet.row_count, 0);
    const struct cot_sheet_problem *p = &sheet.problem[sheet.problem_count - 1];
    snprintf(got, sizeof got, "%zu:%zu: %s: %s", p->line, p->column, p->heading, p->reason);
    ck_assert_msg(strncmp(got, bad[_i].want, strlen(bad[_i].want)) == 0, "want %s, got %s", bad[_i].want, got);
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

static const struct {
    enum cot_kind kind;
    const char *text, *want;
} bad_headings[] = {
    {COT_K_LINE, "", "the file is empty"},
    {COT_K_LINE, "Variety,Plants,Price,Date\n", "line 1, column 3: the heading \"Price\" is not known"},
    {COT_K_LINE, "Variety,Plants,Date,Cultivar\n", "columns 1 and 4 (\"Variety\" and \"Cultivar\") say the same thing"},
    {COT_K_LINE, "Variety,Plants,Date,Qty\n", "columns 2 and 4 (\"Plants\" and \"Qty\") say the same thing"},
    {COT_K_LINE, "Variety,Plants\n", "there is no column for the collecting date"},
    {COT_K_LINE, "Variety,Date\n", "there is no column for the quantity"},
    {COT_K_VARIETY, "Variety\n", "there is no column for the crop"},
    {COT_K_LINE,
     "Variety,Plants,Pri\x1b"
     "ce\n",
     "line 1, column 3: the heading \"Pri\\u{001B}ce\" is not known"},
    {COT_K_FORMAT, "Name,Rows,Columns,Cell volume (g)\n",
     "line 1, column 4: the heading \"Cell volume (g)\" is not known"},
};

START_TEST(refuses_headings)
{
    struct house h;
    struct cot_sheet sheet;
    struct cot_fault fault;
    const char *text = bad_headings[_i].text;
    house_new(&h);
    ck_assert_int_eq(try_sheet(&h, bad_headings[_i].kind, text, strlen(text), NULL, true, &sheet, &fault),
                     COT_MALFORMED);
    ck_assert_msg(strncmp(fault.msg, bad_headings[_i].want, strlen(bad_headings[_i].want)) == 0, "%s", fault.msg);
    house_free(&h);
}
END_TEST

START_TEST(whose_orders)
{
    struct house h;
    struct cot_sheet sheet;
    struct cot_fault fault;
    static const char text[] = "Variety,Plants,Date\nRed Harbour,3,2027-05-01\n";
    house_new(&h);
    ck_assert_int_eq(try_sheet(&h, COT_K_LINE, text, strlen(text), NULL, false, &sheet, &fault), COT_MALFORMED);
    ck_assert_ptr_nonnull(strstr(fault.msg, "no column for the farm"));
    house_free(&h);
}
END_TEST

/* All of them are counted, the first thousand kept in order; nothing is taken. */
START_TEST(many_problems)
{
    struct house h;
    struct cot_sheet sheet;
    struct cot_fault fault;
    struct cot_buf b = {0};
    house_new(&h);
    cot_buf_str(&b, "Variety,Plants,Date\nRed Harbour,3,2027-05-01\n");
    for (int i = 0; i < 1500; i++) cot_buf_str(&b, "Red Harbour,x,y\n");
    ck_assert_int_eq(try_sheet(&h, COT_K_LINE, b.s, b.len, NULL, true, &sheet, &fault), COT_OK);
    ck_assert_uint_eq(sheet.problem_total, 3000);
    ck_assert_uint_eq(sheet.problem_count, COT_SHEET_PROBLEMS_MAX);
    ck_assert_uint_eq(sheet.row_count, 0);
    for (size_t i = 1; i < sheet.problem_count; i++) {
        const struct cot_sheet_problem *a = &sheet.problem[i - 1], *p = &sheet.problem[i];
        ck_assert(a->line < p->line || (a->line == p->line && a->column < p->column));
    }
    cot_sheet_free(&sheet);
    cot_buf_free(&b);
    house_free(&h);
}
END_TEST

START_TEST(crop_says_which_variety)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    read_sheet(&h, COT_K_LINE, "Crop,Variety,Plants,Date\nKale,Old Quay,3,2027-05-01\nLettuce,old quay,4,2027-05-01\n",
               NULL, &sheet);
    no_problems(&sheet);
    const struct cot_thing *a = thing(&h, cot_fact_id(&sheet.row[0].fact, COT_F_VARIETY));
    ck_assert_str_eq(cot_thing_name(thing(&h, cot_thing_id(a, COT_F_CROP))), "Kale");
    const struct cot_thing *b = thing(&h, cot_fact_id(&sheet.row[1].fact, COT_F_VARIETY));
    ck_assert_str_eq(cot_thing_name(thing(&h, cot_thing_id(b, COT_F_CROP))), "Lettuce");
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* Text that a spreadsheet would run, or that turns a line round, is text: kept as it is, escaped when shown. */
START_TEST(hostile_text_is_text)
{
    struct house h;
    struct cot_sheet sheet;
    house_new(&h);
    read_sheet(&h, COT_K_FARM,
               "Farm,Contact\n=HYPERLINK(1),\xe2\x80\xae"
               "gro.elpmaxe\n'=1+1,x\n",
               NULL, &sheet);
    no_problems(&sheet);
    ck_assert_str_eq(cot_fact_value(&sheet.row[0].fact, COT_F_NAME)->v.text, "=HYPERLINK(1)");
    ck_assert_str_eq(cot_fact_value(&sheet.row[0].fact, COT_F_CONTACT)->v.text, "\xe2\x80\xae"
                                                                                "gro.elpmaxe");
    ck_assert_str_eq(cot_fact_value(&sheet.row[1].fact, COT_F_NAME)->v.text, "=1+1"); /* as our own lists write it */
    cot_sheet_free(&sheet);
    house_free(&h);
}
END_TEST

/* The starter catalogue that comes with the program is readable, and the same twice. */
START_TEST(starter_catalogue)
{
    static const struct {
        const char *file;
        enum cot_kind kind;
    } parts[] = {{"crops.csv", COT_K_CROP}, {"formats.csv", COT_K_FORMAT}};
    struct house h;
    struct file f;
    char path[1200];
    house_new(&h);
    for (int again = 0; again < 2; again++) {
        snprintf(path, sizeof path, "%s/../deploy/catalogue/%s", COT_TESTS_DIR, parts[_i].file);
        file_read(path, &f);
        size_t n = import(&h, parts[_i].kind, f.bytes, NULL);
        if (again) ck_assert_uint_eq(n, 0);
        else ck_assert_uint_gt(n, 5);
        free(f.bytes);
    }
    house_free(&h);
}
END_TEST

Suite *cot_suite(void)
{
    Suite *s = suite_create("wire/sheet");
    TCase *t = tcase_create("reads");
    tcase_add_loop_test(t, five_dialects, 0, (int)(sizeof dialects / sizeof dialects[0]));
    tcase_add_test(t, open_quantities);
    tcase_add_loop_test(t, twice_changes_nothing, 0, (int)(sizeof kinds / sizeof kinds[0]));
    tcase_add_test(t, only_what_changed);
    tcase_add_test(t, trays_take_the_place_of_plants);
    tcase_add_test(t, lines_by_their_rank);
    tcase_add_test(t, references_are_by_farm);
    tcase_add_test(t, withdrawn_lines_are_not_matched);
    tcase_add_test(t, codes_go_before_keys);
    tcase_add_test(t, crop_says_which_variety);
    tcase_add_test(t, hostile_text_is_text);
    tcase_add_loop_test(t, starter_catalogue, 0, 2);
    suite_add_tcase(s, t);
    TCase *b = tcase_create("refuses");
    tcase_add_loop_test(b, names_every_bad_cell, 0, (int)(sizeof bad / sizeof bad[0]));
    tcase_add_loop_test(b, refuses_headings, 0, (int)(sizeof bad_headings / sizeof bad_headings[0]));
    tcase_add_test(b, whose_orders);
    tcase_add_test(b, many_problems);
    suite_add_tcase(s, b);
    return s;
}
