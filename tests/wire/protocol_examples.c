/* The parts of docs/protocol.md that come out of the code: tables of kinds, fields and errors, and examples with real
 * keys.
 *
 *   protocol_examples docs/protocol.md            fails when the page differs from what the code says
 *   protocol_examples --write docs/protocol.md    writes it anew
 *
 * A part stands between `<!-- from the code: NAME -->` and `<!-- end -->`. */
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cotyledger/wire/entry.h"
#include "cotyledger/wire/request.h"

/* --- Tables ----------------------------------------------------------------------------------------------------- */

static void put_who_may(struct cot_buf *b, unsigned by)
{
    static const struct {
        unsigned bit;
        const char *word;
    } parts[] = {{COT_BY_HOUSE, "house"}, {COT_BY_MANAGER, "manager"}, {COT_BY_HAND, "hand"}, {COT_BY_BUYER, "buyer"}};
    const char *comma = "";
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        if (!(by & parts[i].bit)) continue;
        cot_buf_fmt(b, "%s%s", comma, parts[i].word);
        comma = ", ";
    }
}

static void put_kind_fields(struct cot_buf *b, const struct cot_kind_row *k)
{
    for (unsigned i = 0; i < k->field_count; i++)
        cot_buf_fmt(b, "%s%s%s", i ? " " : "", cot_field_row(k->fields[i].field)->name,
                    k->fields[i].required ? "!" : "");
}

static void put_kinds(struct cot_buf *b)
{
    static const char *const see[] = {[COT_SEE_HOUSE] = "house",
                                      [COT_SEE_CATALOGUE] = "catalogue",
                                      [COT_SEE_FARM] = "farm",
                                      [COT_SEE_FARM_OR_HOUSE] = "farm or house",
                                      [COT_SEE_FARM_OR_CATALOGUE] = "farm or catalogue"};
    cot_buf_str(
        b, "| kind | what | makes | about | who may | scope | marks | fields |\n|---|---|---|---|---|---|---|---|\n");
    for (int k = COT_K_UNKNOWN + 1; k < COT_K_TOTAL; k++) {
        const struct cot_kind_row *row = cot_kind_row((enum cot_kind)k);
        cot_buf_fmt(b, "| `%s` | %s | %s | %s%s | ", row->name, row->what,
                    row->makes == COT_THING_NONE ? "" : cot_thing_word(row->makes),
                    row->about == COT_THING_NONE ? "" : cot_thing_word(row->about),
                    row->flags & COT_KIND_ABOUT_OPTIONAL ? " or none" : "");
        put_who_may(b, row->by);
        cot_buf_fmt(b, " | %s |%s%s | ", see[row->see], row->flags & COT_KIND_ADMIN ? " online" : "",
                    row->flags & COT_KIND_PHYSICAL ? " physical" : "");
        put_kind_fields(b, row);
        cot_buf_str(b, " |\n");
    }
}

static const char *const type_words[] = {
    [COT_T_NONE] = "null",         [COT_T_INT] = "integer",    [COT_T_BOOL] = "true or false",
    [COT_T_TEXT] = "text",         [COT_T_DAY] = "day",        [COT_T_WORD] = "word",
    [COT_T_ID] = "identity",       [COT_T_IDS] = "identities", [COT_T_NUMBERS] = "tray numbers",
    [COT_T_TRAYS] = "tray counts",
};

/* The words of a word field, without the table's separator. */
static void put_words(struct cot_buf *b, enum cot_field f)
{
    char word[16];
    for (int i = 0; cot_word_text(f, i, word), strcmp(word, "?") != 0; i++)
        cot_buf_fmt(b, "%s`%s`", i ? ", " : "", word);
}

static void put_range(struct cot_buf *b, enum cot_field f, const struct cot_field_row *row)
{
    switch (row->type) {
    case COT_T_INT:
        cot_buf_fmt(b, "%lld to %lld %s", (long long)row->min, (long long)row->max, row->unit);
        break;
    case COT_T_TEXT:
        cot_buf_fmt(b, "1 to %lld bytes", (long long)row->max);
        break;
    case COT_T_WORD:
        put_words(b, f);
        break;
    case COT_T_IDS:
    case COT_T_NUMBERS:
    case COT_T_TRAYS:
        cot_buf_fmt(b, "1 to %lld", (long long)row->max);
        break;
    default:
        break;
    }
}

static void put_fields(struct cot_buf *b)
{
    cot_buf_str(b, "| no. | field | type | range | what |\n|---|---|---|---|---|\n");
    for (int f = 0; f < COT_F_COUNT; f++) {
        const struct cot_field_row *row = cot_field_row((enum cot_field)f);
        cot_buf_fmt(b, "| %d | `%s` | %s | ", f, row->name, type_words[row->type]);
        put_range(b, (enum cot_field)f, row);
        cot_buf_fmt(b, " | %s |\n", row->what);
    }
}

static void put_errors(struct cot_buf *b)
{
    cot_buf_str(b, "| type `urn:cotyledger:problem:` | status | title |\n|---|---|---|\n");
    for (int e = COT_OK + 1; e < COT_ERR_COUNT; e++) {
        const struct cot_err_row *row = cot_err_row((enum cot_err)e);
        cot_buf_fmt(b, "| `%s` | %d | %s |\n", row->name, row->http_status, row->title);
    }
}

static void put_limits(struct cot_buf *b)
{
    cot_buf_str(b, "| what | limit |\n|---|---|\n");
    cot_buf_fmt(b, "| an entry | %d bytes |\n", COT_ENTRY_MAX);
    cot_buf_fmt(b, "| depth of an entry | %d |\n", COT_ENTRY_DEPTH);
    cot_buf_fmt(b, "| an integer | -%lld to %lld |\n", COT_INT_MAX, COT_INT_MAX);
    cot_buf_fmt(b, "| a page | %d entries, %u bytes |\n", COT_PAGE_ENTRIES_MAX, COT_PAGE_BYTES_MAX);
    cot_buf_fmt(b, "| `created` of a request from the server's time | %d seconds |\n", COT_CLOCK_TOLERANCE);
}

/* --- The example: a house, its manager, the manager's laptop, a farm and a plate ------------------------------------
 */

#define ROWS 5

struct example {
    struct cot_house_id house;
    struct cot_keypair house_key, key;
    struct cot_buf line[ROWS];
    struct cot_id digest[ROWS], chain[ROWS], ledger[ROWS];
    int64_t receipt[ROWS];
    char tag[ROWS][COT_TAG_MAX + 1];
    struct cot_buf seal[2]; /* of the house's page and the laptop's */
};
static struct example ex;

static void seed_of(const char *name, uint8_t out[static 32])
{
    char text[80];
    int n = snprintf(text, sizeof text, "cotyledger example %s", name);
    crypto_hash_sha256(out, (const uint8_t *)text, (size_t)n);
}

static void die(const char *what)
{
    fprintf(stderr, "protocol_examples: %s\n", what);
    exit(1);
}

static void set_text(struct cot_fact *f, enum cot_field field, const char *s)
{
    if (!cot_fact_set_text(f, field, s, strlen(s))) die("too many fields");
}

static void set_int(struct cot_fact *f, enum cot_field field, int64_t i)
{
    if (!cot_fact_set_int(f, field, i)) die("too many fields");
}

static void set_id(struct cot_fact *f, enum cot_field field, const struct cot_id *id)
{
    if (!cot_fact_set_ids(f, field, id, 1)) die("too many fields");
}

/* Fills the header, writes the line, and moves the chains on. */
static void add_row(int i, struct cot_fact *f, const char *tag, int64_t n, int64_t receipt)
{
    char name[20];
    uint8_t salt[32];
    struct cot_fault fault;
    snprintf(name, sizeof name, "salt %d", i + 1);
    seed_of(name, salt);
    memcpy(f->salt, salt, sizeof f->salt);
    memcpy(f->tag, tag, strlen(tag) + 1);
    f->house = ex.house;
    f->number = n;
    f->clock = receipt - 500;
    if (!cot_fact_check(f, f->flaw)) die(f->flaw);
    if (cot_entry_write(f, &ex.line[i], &fault) != COT_OK) die(fault.msg);
    memcpy(ex.tag[i], tag, strlen(tag) + 1);
    ex.receipt[i] = receipt;
    cot_digest(ex.line[i].s, ex.line[i].len, &ex.digest[i]);
    if (n == 1) cot_chain_start(&ex.house, tag, &ex.chain[i]);
    else ex.chain[i] = ex.chain[i - 1];
    cot_chain_next(&ex.chain[i], n, &ex.digest[i]);
    if (i == 0) cot_ledger_start(&ex.house, &ex.ledger[i]);
    else ex.ledger[i] = ex.ledger[i - 1];
    cot_ledger_next(&ex.ledger[i], i + 1, receipt, tag, n, &ex.digest[i]);
}

static void seal_rows(int which, int first, int last)
{
    struct cot_seal s = {.house = ex.house, .first = 1, .last = last - first + 1, .after = ex.chain[last]};
    memcpy(s.tag, ex.tag[first], sizeof s.tag);
    cot_chain_start(&ex.house, s.tag, &s.before);
    cot_seal_sign(&s, which == 0 ? &ex.house_key : &ex.key, &ex.seal[which]);
}

static void make_example(void)
{
    uint8_t seed[32];
    seed_of("house", seed);
    memcpy(ex.house.b, seed, sizeof ex.house.b);
    seed_of("house key", seed);
    cot_keypair_from_seed(seed, &ex.house_key);
    seed_of("device key", seed);
    cot_keypair_from_seed(seed, &ex.key);

    struct cot_fact house = {.kind = COT_K_HOUSE}, member = {.kind = COT_K_MEMBER}, device = {.kind = COT_K_DEVICE};
    set_text(&house, COT_F_NAME, "Ashbrook Starts");
    set_id(&house, COT_F_KEY, &ex.house_key.pub);
    set_int(&house, COT_F_RULES, COT_RULES_VERSION);
    add_row(0, &house, "H", 1, 1806307200000);
    set_text(&member, COT_F_NAME, "Wren");
    set_int(&member, COT_F_PART, COT_PART_MANAGER);
    add_row(1, &member, "H", 2, 1806307200000);
    set_id(&device, COT_F_MEMBER, &ex.digest[1]);
    set_id(&device, COT_F_KEY, &ex.key.pub);
    set_text(&device, COT_F_TAG, "A");
    set_text(&device, COT_F_LABEL, "bench laptop");
    add_row(2, &device, "H", 3, 1806307200000);

    struct cot_fact farm = {.kind = COT_K_FARM, .has_member = true, .member = ex.digest[1], .seen = 3}, plate = farm;
    set_text(&farm, COT_F_NAME, "Alder Ford");
    add_row(3, &farm, "A", 1, 1806307260000);
    plate.kind = COT_K_PLATE;
    set_text(&plate, COT_F_NAME, "128 one-hole");
    set_int(&plate, COT_F_CELLS, 128);
    set_int(&plate, COT_F_HOLES, 1);
    add_row(4, &plate, "A", 2, 1806307260000);
    seal_rows(0, 0, 2);
    seal_rows(1, 3, 4);
}

static void put_named(struct cot_buf *b, const char *name, const void *bytes, size_t len)
{
    char text[200];
    cot_b64_text(bytes, len, text);
    cot_buf_fmt(b, "%-14s %s\n", name, text);
}

static void put_keys(struct cot_buf *b)
{
    uint8_t seed[32];
    cot_buf_str(b, "```\n");
    put_named(b, "house", ex.house.b, sizeof ex.house.b);
    seed_of("house key", seed);
    put_named(b, "house seed", seed, sizeof seed);
    put_named(b, "house key", ex.house_key.pub.b, 32);
    seed_of("device key", seed);
    put_named(b, "device A seed", seed, sizeof seed);
    put_named(b, "device A key", ex.key.pub.b, 32);
    cot_buf_str(b, "```\n");
}

static void put_entries(struct cot_buf *b)
{
    struct cot_id start;
    cot_buf_str(b, "```\n");
    cot_chain_start(&ex.house, "H", &start);
    put_named(b, "h(0) of H", start.b, 32);
    cot_chain_start(&ex.house, "A", &start);
    put_named(b, "h(0) of A", start.b, 32);
    cot_ledger_start(&ex.house, &start);
    put_named(b, "L(0)", start.b, 32);
    for (int i = 0; i < ROWS; i++) {
        cot_buf_fmt(b, "\n%s\n", ex.line[i].s);
        put_named(b, "  digest d", ex.digest[i].b, 32);
        put_named(b, "  chain h", ex.chain[i].b, 32);
        cot_buf_fmt(b, "%-14s %d, receipt %lld\n", "  position", i + 1, (long long)ex.receipt[i]);
        put_named(b, "  ledger L", ex.ledger[i].b, 32);
    }
    cot_buf_str(b, "```\n");
}

static void put_page(struct cot_buf *b)
{
    struct cot_fault fault;
    struct cot_buf payload = {0}, page = {0};
    if (cot_jws_open(COT_JWS_SEAL, ex.seal[1].s, ex.seal[1].len, &ex.key.pub, &payload, &fault) != COT_OK)
        die(fault.msg);
    cot_page_start(&page, ex.seal[1].s, ex.seal[1].len);
    cot_buf_fmt(&page, "%s\n%s\n", ex.line[3].s, ex.line[4].s);
    cot_buf_fmt(b,
                "The payload of the seal of laptop A's page:\n\n```\n%s\n```\n\nThe page, three lines, %zu "
                "bytes:\n\n```\n%s```\n",
                payload.s, page.len, page.s);
    cot_buf_free(&payload);
    cot_buf_free(&page);
}

static void put_feed(struct cot_buf *b)
{
    struct cot_head head = {ex.house, 1, ROWS, ex.ledger[ROWS - 1]};
    struct cot_buf jws = {0}, payload = {0}, feed = {0};
    struct cot_fault fault;
    cot_head_sign(&head, &ex.house_key, &jws);
    if (cot_jws_open(COT_JWS_HEAD, jws.s, jws.len, &ex.house_key.pub, &payload, &fault) != COT_OK) die(fault.msg);
    cot_feed_row(&feed, 4, ex.receipt[3], "A", 1, ex.line[3].s, ex.line[3].len);
    cot_feed_hole(&feed, 5, ex.receipt[4], "A", 2, &ex.digest[4]);
    cot_feed_seal(&feed, ex.seal[1].s, ex.seal[1].len);
    cot_feed_head(&feed, jws.s, jws.len);
    cot_buf_fmt(b, "The payload of the head at position %d:\n\n```\n%s\n```\n\n", ROWS, payload.s);
    cot_buf_fmt(b, "What a buyer of Alder Ford gets for `GET /v1/ledger?after=3`; the plate is a hole:\n\n```\n%s```\n",
                feed.s);
    cot_buf_free(&jws);
    cot_buf_free(&payload);
    cot_buf_free(&feed);
}

/* The book of the rows that a reader gets: all, or what a buyer of `farm` sees. */
static void put_book_digest(struct cot_buf *b, const char *whose, const struct cot_id *farm)
{
    char text[COT_BOOK_DIGEST_TEXT];
    struct cot_book *book = cot_book_new(farm);
    struct cot_decoder *decoder = cot_decoder_new();
    if (!book || !decoder) die("out of memory");
    for (int i = 0; i < ROWS; i++) {
        struct cot_fact f;
        struct cot_fault fault;
        struct cot_id of;
        if (cot_entry_parse(decoder, ex.line[i].s, ex.line[i].len, &f, &fault) != COT_OK) die(fault.msg);
        if (farm && cot_fact_scope(&f, &ex.digest[i], &of) == COT_SCOPE_HOUSE) continue;
        struct cot_row row = {i + 1, ex.receipt[i], ex.digest[i], &f};
        if (cot_book_put(book, &row) != COT_OK) die("the book cannot take a row");
    }
    if (cot_book_digest(book, text) != COT_OK) die("the book has no digest");
    cot_buf_fmt(b, "%-14s %s\n", whose, text);
    cot_decoder_free(decoder);
    cot_book_free(book);
}

static void put_book(struct cot_buf *b)
{
    cot_buf_str(b, "```\n");
    put_book_digest(b, "staff", NULL);
    put_book_digest(b, "Alder Ford", &ex.digest[3]);
    cot_buf_str(b, "```\n");
}

static void put_request(struct cot_buf *b)
{
    uint8_t nonce[32];
    struct cot_request r = {"GET", "/v1/ledger", "after=3", "application/octet-stream", "", 0, ex.house};
    struct cot_signature_params p = {.created = 1806307300, .tag = "A"};
    struct cot_buf digest = {0}, input = {0}, signature = {0}, base = {0};
    char house[COT_HOUSE_TEXT];
    seed_of("nonce", nonce);
    memcpy(p.nonce, nonce, sizeof p.nonce);
    cot_request_sign(&r, &p, &ex.key, &digest, &input, &signature);
    cot_request_base(&r, &p, digest.s, &base);
    cot_house_text(&ex.house, house);
    cot_buf_fmt(b, "The signature base, %zu bytes, no line feed at its end:\n\n```\n%s\n```\n\n", base.len, base.s);
    cot_buf_fmt(b,
                "The request's head:\n\n```\nGET /v1/ledger?after=3 HTTP/1.1\nHost: "
                "starts.example.org:7443\nCotyledger-House: %s\n",
                house);
    cot_buf_fmt(b, "Content-Type: %s\nContent-Digest: %s\nSignature-Input: %s\nSignature: %s\n```\n", r.content_type,
                digest.s, input.s, signature.s);
    cot_buf_free(&digest);
    cot_buf_free(&input);
    cot_buf_free(&signature);
    cot_buf_free(&base);
}

static void put_join(struct cot_buf *b)
{
    uint8_t secret[32];
    struct cot_invitation i = {.house = ex.house, .has_pin = true, .url = "https://starts.example.org:7443"};
    struct cot_id hash;
    struct cot_buf line = {0}, jws = {0}, payload = {0};
    struct cot_fault fault;
    seed_of("secret", secret);
    memcpy(i.secret, secret, sizeof i.secret);
    crypto_hash_sha256(i.fingerprint.b, ex.house_key.pub.b, 32);
    seed_of("certificate", i.pin.b);
    cot_invitation_text(&i, &line);
    cot_invitation_hash(i.secret, &hash);
    cot_join_sign(&ex.house, &hash, &ex.key, &jws);
    if (cot_jws_open(COT_JWS_JOIN, jws.s, jws.len, &ex.key.pub, &payload, &fault) != COT_OK) die(fault.msg);
    cot_buf_fmt(b, "```\n%s\n\n", line.s);
    put_named(b, "its hash", hash.b, 32);
    cot_buf_fmt(b, "\nthe join proof's payload\n%s\nthe join proof\n%s\n```\n", payload.s, jws.s);
    cot_buf_free(&line);
    cot_buf_free(&jws);
    cot_buf_free(&payload);
}

static void put_problem(struct cot_buf *b)
{
    struct cot_fault f;
    struct cot_buf out = {0};
    cot_fail(&f, COT_CLOCK, "the request was signed 3600 seconds before the server's time");
    cot_hint(&f, "set this device's clock right");
    cot_problem_write(&f, "\"now\":1806307300000", &out);
    cot_buf_fmt(b, "```\n%s\n```\n", out.s);
    cot_buf_free(&out);
}

/* --- The page ------------------------------------------------------------------------------------------------------
 */

static const struct {
    const char *name;
    void (*put)(struct cot_buf *b);
} sections[] = {
    {"kinds", put_kinds},       {"fields", put_fields},
    {"problems", put_errors},   {"limits", put_limits},
    {"example keys", put_keys}, {"example entries", put_entries},
    {"example page", put_page}, {"example feed", put_feed},
    {"example book", put_book}, {"example request", put_request},
    {"example join", put_join}, {"example problem", put_problem},
};
#define SECTIONS (sizeof sections / sizeof sections[0])

static void read_file(const char *path, struct cot_buf *out)
{
    char piece[4096];
    size_t n;
    FILE *f = fopen(path, "rb");
    if (!f) die("the page cannot be opened");
    while ((n = fread(piece, 1, sizeof piece, f)) > 0) cot_buf_put(out, piece, n);
    if (ferror(f) || out->failed || out->len == 0) die("the page cannot be read");
    fclose(f);
}

/* Copies the page with each section made anew; every section must be there once. */
static void renew(const char *page, struct cot_buf *out)
{
    static const char begin[] = "<!-- from the code: ", end[] = "<!-- end -->";
    bool seen[SECTIONS] = {false};
    const char *at;
    while ((at = strstr(page, begin)) != NULL) {
        const char *name = at + strlen(begin), *line_end = strchr(name, '\n'), *after = strstr(at, end);
        if (!line_end || !after || after < line_end) die("a section of the page does not end");
        size_t i = 0;
        while (i < SECTIONS && (strncmp(name, sections[i].name, strlen(sections[i].name)) != 0 ||
                                strncmp(name + strlen(sections[i].name), " -->\n", 5) != 0))
            i++;
        if (i == SECTIONS || seen[i]) die("the page has a section that is unknown, or there twice");
        seen[i] = true;
        cot_buf_put(out, page, (size_t)(line_end + 1 - page));
        sections[i].put(out);
        page = after;
        cot_buf_put(out, page, strlen(end));
        page += strlen(end);
    }
    for (size_t i = 0; i < SECTIONS; i++)
        if (!seen[i]) die(sections[i].name);
    cot_buf_str(out, page);
    if (out->failed) die("out of memory");
}

static int compare(const char *path, const struct cot_buf *is, const struct cot_buf *should)
{
    size_t line = 1, i = 0;
    if (is->len == should->len && memcmp(is->s, should->s, is->len) == 0) return 0;
    for (; is->s[i] == should->s[i]; i++) line += is->s[i] == '\n';
    fprintf(stderr, "%s, line %zu: differs from what the code says; run protocol_examples --write %s\n", path, line,
            path);
    return 1;
}

static int write_file(const char *path, const struct cot_buf *page)
{
    FILE *f = fopen(path, "wb");
    if (!f || fwrite(page->s, 1, page->len, f) != page->len || fclose(f) != 0) die("the page cannot be written");
    return 0;
}

int main(int argc, char **argv)
{
    bool writes = argc == 3 && strcmp(argv[1], "--write") == 0;
    if (argc != 2 && !writes) die("usage: protocol_examples [--write] docs/protocol.md");
    const char *path = argv[argc - 1];
    struct cot_buf is = {0}, should = {0};
    make_example();
    read_file(path, &is);
    renew(is.s, &should);
    int result = writes ? write_file(path, &should) : compare(path, &is, &should);
    cot_buf_free(&is);
    cot_buf_free(&should);
    for (int i = 0; i < ROWS; i++) cot_buf_free(&ex.line[i]);
    cot_buf_free(&ex.seal[0]);
    cot_buf_free(&ex.seal[1]);
    return result;
}
