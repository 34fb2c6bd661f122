/* Headings: what farms write above their columns. Words are squeezed (see cot_squeeze): no case, blanks, punctuation,
 * accents. */
#include "sheet_inner.h"

#include <stdio.h>
#include <string.h>

#define ANY COT_K_UNKNOWN

/* First fitting row counts, so a kind's own rows stand above those for any kind. Dictionary words of four languages. */
static const struct heading {
    enum cot_kind kind;
    int what;
    const char *words;
} headings[] = {
    {COT_K_FARM, COT_F_NAME,
     "farm farmname grower customer client betrieb hof kunde ferme exploitation bedrijf boerderij klant"},
    {COT_K_FARM, COT_F_CONTACT, "contactdetails phone telephone email mail kontakt telefon telefoon howtoreach"},
    {COT_K_FARM, COT_F_OWN, "ownfields ownfarm houseown thehousesown eigen eigener"},
    {COT_K_CROP, COT_F_NAME, "crop cropname vegetable kultur kulturart gemuse culture legume gewas groente"},
    {COT_K_CROP, COT_F_LATIN,
     "latinname botanical scientificname species botanischername nomlatin wetenschappelijkenaam"},
    {COT_K_CROP, COT_F_TRAY_DAYS, "daysintray daystoready raisingdays days tage jours dagen anzuchttage"},
    {COT_K_CROP, COT_F_TRAY_DAYS_MAX, "maxdays daysmax longest longestintray daystopastuse pastuse"},
    {COT_K_CROP, COT_F_CHAMBER_DAYS, "chamber daysinchamber germinationchamber"},
    {COT_K_CROP, COT_F_COUNT_DAYS, "count countday daystocount standcount"},
    {COT_K_CROP, COT_F_HARDEN_DAYS, "hardening hardeningoff hardeningdays"},
    {COT_K_CROP, COT_F_EMERGENCE, "emergencerate houseemergence emerged aufgang levee opkomst"},
    {COT_K_CROP, COT_F_USABLE_SHARE, "usable share usableplants brauchbar bruikbaar utilisable"},
    {COT_K_CROP, COT_F_MIN_GERM, "minimumgermination lowestgermination mingermination lawfulminimum"},
    {COT_K_CROP, COT_F_SHAPE, "seedshape"},
    {COT_K_CROP, COT_F_EMERGE_DAYS, "daystoemergence emergencedays"},
    {COT_K_CROP, COT_F_LATER_LOSS, "laterlosses"},
    {COT_K_CROP, COT_F_GROUP, "group warmth temperature temperaturgruppe groupedetemperature temperatuurgroep"},
    {COT_K_PLACE, COT_F_NAME, "place placename bench benchname platz tisch emplacement tablette plaats tafel"},
    {COT_K_PLACE, COT_F_SORT, "sort sortofplace type kind art sorte soort"},
    {COT_K_PLACE, COT_F_SPOTS, "traysthatithold trays traysitholds holds capacity room platze places plaatsen"},
    {COT_K_PLACE, COT_F_GROUP, "warmth temperature temperaturgruppe groupedetemperature temperatuurgroep"},
    {COT_K_PLACE, COT_F_CELSIUS, "degrees degreesc temperaturec"},
    {COT_K_PLACE, COT_F_FROM, "fromday firstday inusefrom start ab apartirde vanaf"},
    {COT_K_PLACE, COT_F_UNTIL, "untilday lastday inuseuntil end bis jusque tot"},
    {COT_K_RAISING, COT_F_NAME, "raising raisingdays anzucht elevage opkweek"},
    {COT_K_RAISING, COT_F_FORMAT, "tray trayformat traytype traysize platte plateau"},
    {COT_K_RAISING, COT_F_FROM_WEEK, "firstweek fromisoweek week weekfrom abwoche vanweek"},
    {COT_K_RAISING, COT_F_TO_WEEK, "lastweek untilweek toisoweek weekto biswoche totweek"},
    {COT_K_RAISING, COT_F_TRAY_DAYS, "daysintray daystoready days tage jours dagen anzuchttage"},
    {COT_K_RAISING, COT_F_TRAY_DAYS_MAX, "maxdays daysmax longest longestintray daystopastuse pastuse"},
    {COT_K_RAISING, COT_F_CHAMBER_DAYS, "chamber daysinchamber germinationchamber"},
    {COT_K_RAISING, COT_F_POT_DAYS, "daystopottingon potonafter pottedonafter"},
    {COT_K_RAISING, COT_F_POT_FORMAT, "potonto pottedonto potonformat into"},
    {COT_K_VARIETY, COT_F_NAME,
     "variety varietyname cultivar cultivarname cv var sorte sortenname variete ras rasnaam"},
    {COT_K_FORMAT, COT_F_NAME, "format trayformat tray traytype traysize platte plateau plaque"},
    {COT_K_FORMAT, COT_F_ROWS, "rowsofcells numberofrows reihen rangs rangees rijen"},
    {COT_K_FORMAT, COT_F_COLS, "columns columnsofcells numberofcolumns spalten colonnes kolommen"},
    {COT_K_FORMAT, COT_F_CELL_UL, "volume cell cellsize volumepercell zellvolumen volumen celvolume inhoud"},
    {COT_K_FORMAT, COT_F_LENGTH_UM, "length long traylength lange longueur lengte"},
    {COT_K_FORMAT, COT_F_WIDTH_UM, "width wide traywidth breite largeur breedte"},
    {COT_K_FORMAT, COT_F_TRAY_PLANTS, "plantspertray plantsintray plantsatray plants"},
    {COT_K_PLATE, COT_F_NAME, "plate platename seederplate saplatte zaaiplaat"},
    {COT_K_PLATE, COT_F_CELLS, "cellcount numberofcells cellsfilled zellen cellen alveoles"},
    {COT_K_PLATE, COT_F_HOLES, "holespercell holesforacell numberofholes locher trous gaten"},
    {COT_K_PLATE, COT_F_HOLE_UM, "hole holediameter diameter lochgrosse"},
    {COT_K_PLATE, COT_F_MISSES, "missed"},
    {COT_K_PLATE, COT_F_TWOS, "doubles"},
    {COT_K_LOT, COT_F_NAME,
     "lot lotname lotnumber lotno lotnr seedlot charge chargennummer partie numerodelot partij partijnummer"},
    {COT_K_LOT, COT_F_FORM, "seedform type coating"},
    {COT_K_LOT, COT_F_TREATED, "treatedseed gebeizt traite traitee behandeld"},
    {COT_K_LOT, COT_F_TREATMENT, "treatedwith beize beizmittel traitement behandeling"},
    {COT_K_LOT, COT_F_ORGANIC, "organicseed bio okologisch biologique biologisch"},
    {COT_K_LOT, COT_F_OWNER, "ownedby belongsto farm eigentumer proprietaire eigenaar"},
    {COT_K_LOT, COT_F_TEST_SEEDS, "tested seedsintest testedseeds numbertested"},
    {COT_K_LOT, COT_F_TEST_GERM, "germinated germinatedintest numbergerminated gekeimt"},
    {COT_K_LOT, COT_F_LABEL_GERM,
     "labelgermination germination germ germinationrate keimfahigkeit keimrate kiemkracht kieming tauxdegermination"},
    {COT_K_LOT, COT_F_TEST_DAY, "testdate dateoftest testedon germinationtest"},
    {COT_K_LOT, COT_F_USE_BY, "expiry expires expirydate bestbefore usebydate haltbarbis houdbaartot"},
    {COT_K_LOT, COT_F_REPLICATES, "reps"},
    {COT_K_LOT, COT_F_SUPPLIER, "boughtfrom seller lieferant fournisseur leverancier"},
    {COT_K_LOT, COT_F_STOCK_SEEDS, "seeds seedcount numberofseeds seedsonhand seedsinstock samen korn graines zaden"},
    {COT_K_LOT, COT_F_STOCK_MG, "weight stockweight seedweight weightonhand gewicht poids"},
    {COT_K_LOT, COT_COL_STOCK, "stock onhand instock amount quantity qty bestand menge quantite voorraad hoeveelheid"},
    {COT_K_LOT, COT_COL_CROP, "crop cropname vegetable kultur kulturart culture gewas"},
    {COT_K_LINE, COT_F_PLANTS,
     "plantswanted plantsneeded plantsordered numberofplants noofplants plantcount seedlings starts transplants "
     "pflanzen "
     "jungpflanzen plantes plantules planten stuks stuck"},
    {COT_K_LINE, COT_F_TRAYS,
     "trayswanted traysneeded traysordered numberoftrays nooftrays traycount flats platten plateaux plaques "
     "trayaantal"},
    {COT_K_LINE, COT_COL_QUANTITY,
     "qty quantity amount number count howmany menge anzahl quantite nombre aantal hoeveelheid"},
    {COT_K_LINE, COT_COL_UNIT, "unit units uom einheit unite eenheid"},
    {COT_K_LINE, COT_F_FORMAT, "tray traytype traysize cellsize plugsize plugtray trayformat platte plateau traymaat"},
    {COT_K_LINE, COT_F_DATE,
     "collectingday collectdate collectiondate collection collect pickup pickupdate needed neededby needby dateneeded "
     "wanted "
     "wantedby datewanted delivery deliverydate deliverby due duedate readyby datum termin liefertermin lieferdatum "
     "abholdatum "
     "abholung livraison datedelivraison datedelenlevement leverdatum levering ophaaldatum"},
    {COT_K_LINE, COT_F_EARLY, "daysearly earlier daysearlier maxearly fruher plustot vroeger"},
    {COT_K_LINE, COT_F_LATE, "dayslate later dayslater maxlate spater plustard"},
    {COT_K_LINE, COT_F_LEAST,
     "minimum min minimumplants minplants atleast leastplants mindestens mindestmenge minimaal aumoins"},
    {COT_K_LINE, COT_F_SUBS,
     "substitutes substitute substitution alternatives alternative alternativevariety willdoinstead instead ersatz "
     "ersatzsorte "
     "alternativsorte remplacement vervanging vervanger"},
    {COT_K_LINE, COT_F_REF,
     "reference yourref yourreference ourref orderno ordernr ordernumber orderref po pono ponumber referenz referentie "
     "bestellnummer bestelnummer numerodecommande"},
    {COT_K_LINE, COT_F_UNTREATED, "untreatedseed untreatedonly notreatment ungebeizt nontraite onbehandeld"},
    {COT_K_LINE, COT_F_ORGANIC, "organicseed organiconly bio biologique biologisch okologisch"},
    {COT_K_LINE, COT_F_OWN_SEED, "farmseed ourseed ourownseed eigenessaatgut semencedeferme eigenzaad"},
    {COT_K_LINE, COT_F_PRIORITY, "prio rank prioritat priorite prioriteit"},
    {COT_K_LINE, COT_F_CLOSING, "closingday closingdate lastchange changesuntil"},
    {COT_K_LINE, COT_F_WAIT_UNTIL, "keepuntil waituntilday"},
    {COT_K_LINE, COT_COL_FARM,
     "farm farmname grower customer client betrieb hof kunde ferme exploitation bedrijf boerderij klant"},
    {COT_K_LINE, COT_COL_CROP, "crop cropname vegetable kultur kulturart culture gewas"},
    {ANY, COT_F_NAME, "title naam nom bezeichnung designation"},
    {ANY, COT_F_CROP, "cropname species vegetable kultur kulturart culture espece gewas"},
    {ANY, COT_F_VARIETY, "cultivar varietyname cultivarname cv var sorte variete ras"},
    {ANY, COT_F_SEEDS_PER_G, "seedspergram seedsg seedsagram seedsingram graineparg"},
    {ANY, COT_F_PATTERN, "cellpattern layout muster"},
    {ANY, COT_F_SOURCE, "sources reference quelle bron"},
    {ANY, COT_F_TEXT,
     "note notes remark remarks comment comments bemerkung bemerkungen notiz remarque remarques opmerking opmerkingen"},
};

static bool in_words(const char *words, const char *word)
{
    size_t len = strlen(word);
    for (const char *p = words; *p;) {
        size_t n = strcspn(p, " ");
        if (n == len && memcmp(p, word, n) == 0) return true;
        p += n + (p[n] == ' ');
    }
    return false;
}

/* The names that the program's own lists write: the field's name, with the unit that people use in it. */
static bool own_name(enum cot_field field, const char *squeezed, char unit[static COT_SQUEEZED])
{
    static const struct {
        const char *of, *tail, *shown;
    } tails[] = {
        {"uL", "ul", "ml"},
        {"um", "um", "mm"},
        {"mg", "mg", "g"},
        {"per mille", "", "percent"},
    };
    const struct cot_field_row *row = cot_field_row(field);
    char name[COT_SQUEEZED];
    cot_squeeze(row->name, strlen(row->name), name);
    if (strcmp(name, squeezed) == 0) {
        for (size_t i = 0; i < 3; i++)
            if (strcmp(tails[i].of, row->unit) == 0) snprintf(unit, COT_SQUEEZED, "%s", tails[i].tail);
        return true;
    }
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        size_t stem = strlen(name) - strlen(tails[i].tail);
        if (strcmp(tails[i].of, row->unit) != 0 || strncmp(name, squeezed, stem) != 0) continue;
        if (strcmp(squeezed + stem, tails[i].shown) != 0) continue;
        snprintf(unit, COT_SQUEEZED, "%s", tails[i].shown);
        return true;
    }
    cot_squeeze(row->what, strlen(row->what), name);
    return strcmp(name, squeezed) == 0;
}

static int find_word(enum cot_kind kind, const char *squeezed, char unit[static COT_SQUEEZED])
{
    const struct cot_kind_row *row = cot_kind_row(kind);
    if (squeezed[0] == '\0') return COT_COL_NONE;
    for (unsigned i = 0; i < row->field_count; i++)
        if (row->fields[i].field != COT_F_CODE && own_name(row->fields[i].field, squeezed, unit))
            return (int)row->fields[i].field;
    unit[0] = '\0';
    for (size_t i = 0; i < sizeof headings / sizeof headings[0]; i++) {
        const struct heading *h = &headings[i];
        bool of_kind = h->kind == kind || (h->kind == ANY && cot_kind_field(kind, (enum cot_field)h->what));
        if (of_kind && in_words(h->words, squeezed)) return h->what;
    }
    return COT_COL_NONE;
}

/* Whether the unit may stand above such a column. */
static bool unit_fits(int what, const char *unit)
{
    if (unit[0] == '\0') return false;
    if (what == COT_COL_QUANTITY) return cot_unit_known(COT_F_PLANTS, unit) || cot_unit_known(COT_F_TRAYS, unit);
    if (what == COT_COL_STOCK) return cot_unit_known(COT_F_STOCK_SEEDS, unit) || cot_unit_known(COT_F_STOCK_MG, unit);
    return what < COT_F_COUNT && cot_field_row((enum cot_field)what)->type == COT_T_INT &&
           cot_unit_known((enum cot_field)what, unit);
}

/* "Cell volume (mL)", "Stock [g]", "Germination %", "Length, mm": the heading before `at` and the unit behind it. */
static int find_with_unit(enum cot_kind kind, const char *heading, size_t at, char unit[static COT_SQUEEZED])
{
    char base[COT_SQUEEZED], inner[COT_SQUEEZED], own[COT_SQUEEZED] = "";
    cot_squeeze(heading, at, base);
    cot_squeeze(heading + at, strlen(heading + at), inner);
    int what = find_word(kind, base, own);
    if (what == COT_COL_NONE) return COT_COL_NONE;
    const char *said = !unit_fits(what, inner) && strncmp(inner, "in", 2) == 0 ? inner + 2 : inner; /* "(in mL)" */
    if (!unit_fits(what, said)) return COT_COL_NONE;
    memmove(unit, said, strlen(said) + 1);
    return what;
}

int cot_heading_find(enum cot_kind kind, const char *heading, char unit[static COT_SQUEEZED])
{
    char squeezed[COT_SQUEEZED];
    unit[0] = '\0';
    if (*heading == '\0') return COT_COL_BLANK;
    cot_squeeze(heading, strlen(heading), squeezed);
    if (kind == COT_K_LINE && strcmp(squeezed, "code") == 0) return COT_COL_CODE;
    int what = find_word(kind, squeezed, unit);
    for (size_t i = 1; what == COT_COL_NONE && heading[i]; i++)
        if (strchr(" ([,_/%-", heading[i])) what = find_with_unit(kind, heading, i, unit);
    return what;
}

/* --- The heading row -------------------------------------------------------------------------------------------- */

int cot_column_of(const struct cot_sheet_reader *r, int what)
{
    for (size_t i = 0; i < r->column_count; i++)
        if (r->column[i].what == what) return (int)i;
    return -1;
}

/* Columns that say one thing twice: the same, or a quantity beside plants and so on. */
static bool same_meaning(int a, int b)
{
    if (a == COT_COL_BLANK) return false;
    if (b == COT_COL_QUANTITY) return a == b || a == COT_F_PLANTS || a == COT_F_TRAYS;
    if (b == COT_COL_STOCK) return a == b || a == COT_F_STOCK_SEEDS || a == COT_F_STOCK_MG;
    return a == b;
}

static enum cot_err check_doubles(struct cot_sheet_reader *r)
{
    for (size_t i = 0; i < r->column_count; i++) {
        for (size_t k = 0; k < r->column_count; k++) {
            if (k == i || !same_meaning(r->column[i].what, r->column[k].what)) continue;
            char first[COT_QUOTED], second[COT_QUOTED];
            size_t a = i < k ? i : k, b = i < k ? k : i;
            cot_quote(r->column[a].heading, strlen(r->column[a].heading), first);
            cot_quote(r->column[b].heading, strlen(r->column[b].heading), second);
            enum cot_err err = cot_fail(r->fault, COT_MALFORMED, "columns %zu and %zu (%s and %s) say the same thing",
                                        a + 1, b + 1, first, second);
            (void)cot_hint(r->fault, "leave one of them out");
            return err;
        }
    }
    return COT_OK;
}

static enum cot_err missing(struct cot_sheet_reader *r, const char *what, const char *like)
{
    enum cot_err err = cot_fail(r->fault, COT_MALFORMED, "there is no column for the %s", what);
    (void)cot_hint(r->fault, "head one of the columns %s", like);
    return err;
}

static enum cot_err check_required(struct cot_sheet_reader *r)
{
    const struct cot_kind_row *row = cot_kind_row(r->o->kind);
    for (unsigned i = 0; i < row->field_count; i++) {
        enum cot_field f = row->fields[i].field;
        if (!row->fields[i].required || f == COT_F_CODE || cot_column_of(r, (int)f) >= 0) continue;
        return missing(r, cot_field_row(f)->what, cot_field_row(f)->name);
    }
    if (r->o->kind != COT_K_LINE) return COT_OK;
    if (cot_column_of(r, COT_F_PLANTS) < 0 && cot_column_of(r, COT_F_TRAYS) < 0 &&
        cot_column_of(r, COT_COL_QUANTITY) < 0)
        return missing(r, "quantity", "plants or trays");
    if (!r->o->farm && cot_column_of(r, COT_COL_FARM) < 0)
        return missing(r, "farm", "farm, or say whose orders they are (--farm FARM)");
    return COT_OK;
}

/* Names the headings that would do, so that nobody has to look them up. */
static enum cot_err unknown_heading(struct cot_sheet_reader *r, size_t column)
{
    char quoted[COT_QUOTED], list[400] = "";
    const struct cot_kind_row *row = cot_kind_row(r->o->kind);
    cot_quote(r->column[column].heading, strlen(r->column[column].heading), quoted);
    for (unsigned i = 0; i < row->field_count; i++) {
        size_t used = strlen(list);
        if (row->fields[i].field != COT_F_CODE)
            snprintf(list + used, sizeof list - used, "%s%s", used ? ", " : "",
                     cot_field_row(row->fields[i].field)->name);
    }
    enum cot_err err = cot_fail(r->fault, COT_MALFORMED, "line %zu, column %zu: the heading %s is not known",
                                cot_csv_record(r->csv, 0)->line, column + 1, quoted);
    (void)cot_hint(r->fault, "headings are: %s; or leave the column out", list);
    return err;
}

enum cot_err cot_headings_read(struct cot_sheet_reader *r)
{
    const struct cot_csv_record *first = cot_csv_record(r->csv, 0);
    if (!first) return cot_fail(r->fault, COT_MALFORMED, "the file is empty: its first row must be the headings");
    r->column_count = first->count;
    for (size_t i = 0; i < first->count; i++) {
        struct cot_column *c = &r->column[i];
        c->heading = first->cell[i];
        c->what = cot_heading_find(r->o->kind, c->heading, c->unit);
        if (c->what == COT_COL_NONE) return unknown_heading(r, i);
    }
    enum cot_err err = check_doubles(r);
    return err != COT_OK ? err : check_required(r);
}
