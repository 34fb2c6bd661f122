#include "fixture.h"

#include <check.h>
#include <fcntl.h>
#include <pty.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "journal/journal.h"
#include "key.h"

#define WORDS_MAX 64
#define SEEN_MOST 65536
#define T0 1798700000000LL /* 2026-12-31, before the fixture's now */

const char *const cot_fixture_house[] = {
    "add crop Lettuce --tray-days 35 --tray-days-max 49 --chamber-days 2 --count-days 14 --emergence 97% "
    "--usable-share 96%",
    "add crop Tomato --tray-days 42",
    "add variety \"Red Harbour\" --crop Lettuce",
    "add variety \"Pale Sluice\" --crop Lettuce",
    "add variety \"Kiln Red\" --crop Tomato",
    "add format \"128 square\" --rows 8 --cols 16 --cell-ml 25.1",
    "add format \"50 round\" --rows 5 --cols 10",
    "add plate \"128 one-hole\" --cells 128 --holes 1",
    "add plate \"98 one-hole\" --cells 98 --holes 1",
    "add lot RH-2601 --variety \"Red Harbour\" --form pelleted --test-seeds 400 --test-germ 372",
    "add lot TR-2601 --variety \"Pale Sluice\" --label-germ 92% --treated --treatment \"seed dressing\" --use-by "
    "2027-01-31",
    "add lot KR-2601 --variety \"Kiln Red\" --label-germ 90%",
    "add farm \"Alder Ford\"",
    "add farm \"Weir Hill\"",
    "order \"Alder Ford\" \"Red Harbour\" --plants 500 --format \"128 square\" --on 2027-04-05 --late 3",
    "order \"Weir Hill\" \"Kiln Red\" --trays 2 --format \"128 square\" --on 2027-04-12",
    "promise A-0001-B",
    "sow RH-2601 \"128 square\" --trays 6 --plate \"128 one-hole\" --bench 3 --day 2027-02-15",
    "sow KR-2601 \"128 square\" --rows 3 --shared \"mixed 1\" --day 2027-02-15",
    "sow RH-2601 \"128 square\" --trays 30 --day 2027-02-22",
    NULL,
};

static void house_fact(struct cot_fixture *f, struct cot_fact *fact, enum cot_kind kind)
{
    memset(fact, 0, sizeof *fact);
    fact->kind = kind;
    snprintf(fact->kind_name, sizeof fact->kind_name, "%s", cot_kind_row(kind)->name);
    memcpy(fact->tag, "H", 2);
    fact->house = f->house;
    fact->number = ++f->house_number;
    fact->clock = T0 + f->position;
    fact->seen = f->position;
    memset(fact->salt, (int)f->house_number, sizeof fact->salt);
}

/* Puts a row as fetching it would have. */
static struct cot_id put_row(struct cot_fixture *f, struct cot_journal *j, const struct cot_fact *fact)
{
    struct cot_fault fault = {0};
    struct cot_buf line = {0};
    char flaw[160];
    ck_assert_msg(cot_fact_check(fact, flaw), "fixture: %s", flaw);
    ck_assert_msg(cot_entry_write(fact, &line, &fault) == COT_OK, "fixture: %s", fault.msg);
    struct cot_ledger_row row = {.position = ++f->position,
                                 .receipt = T0 + f->position,
                                 .number = fact->number,
                                 .body = line.s,
                                 .len = line.len};
    snprintf(row.tag, sizeof row.tag, "%s", fact->tag);
    cot_digest(line.s, line.len, &row.digest);
    cot_ledger_next(&f->ledger, row.position, row.receipt, row.tag, row.number, &row.digest);
    row.chain = f->ledger;
    ck_assert_msg(cot_journal_put_row(j, &row, &fault) == COT_OK, "fixture: %s", fault.msg);
    cot_buf_free(&line);
    return row.digest;
}

static void set_text(struct cot_fact *fact, enum cot_field field, const char *text)
{
    ck_assert(cot_fact_set_text(fact, field, text, strlen(text)));
}

static struct cot_id put_member(struct cot_fixture *f, struct cot_journal *j, const char *name, enum cot_part part)
{
    struct cot_fact fact;
    house_fact(f, &fact, COT_K_MEMBER);
    set_text(&fact, COT_F_NAME, name);
    ck_assert(cot_fact_set_int(&fact, COT_F_PART, part));
    fact.has_farm = part == COT_PART_BUYER;
    fact.farm = f->farm;
    return put_row(f, j, &fact);
}

static void put_device(struct cot_fixture *f, struct cot_journal *j, const char *tag, const struct cot_id *member,
                       const struct cot_id *key, bool buyer)
{
    struct cot_fact fact;
    house_fact(f, &fact, COT_K_DEVICE);
    ck_assert(cot_fact_set_ids(&fact, COT_F_MEMBER, member, 1) && cot_fact_set_ids(&fact, COT_F_KEY, key, 1));
    set_text(&fact, COT_F_TAG, tag);
    fact.has_farm = buyer;
    fact.farm = f->farm;
    (void)put_row(f, j, &fact);
}

/* The farm, crop and variety that a buyer's order needs, written by the manager's laptop B. */
static void put_for_buyer(struct cot_fixture *f, struct cot_journal *j)
{
    static const enum cot_kind kind[] = {COT_K_FARM, COT_K_CROP, COT_K_VARIETY};
    static const char *const name[] = {"Alder Ford", "Lettuce", "Red Harbour"};
    struct cot_id made = {{0}};
    struct cot_keypair key;
    cot_keypair_new(&key);
    put_device(f, j, "B", &f->manager, &key.pub, false);
    for (int i = 0; i < 3; i++) {
        struct cot_fact fact;
        house_fact(f, &fact, kind[i]);
        f->house_number--;
        memcpy(fact.tag, "B", 2);
        fact.number = i + 1;
        fact.salt[1] = (uint8_t)(i + 1);
        fact.has_member = true;
        fact.member = f->manager;
        set_text(&fact, COT_F_NAME, name[i]);
        if (kind[i] == COT_K_VARIETY) ck_assert(cot_fact_set_ids(&fact, COT_F_CROP, &made, 1));
        made = put_row(f, j, &fact);
        if (kind[i] == COT_K_FARM) f->farm = made;
    }
}

static void found_house(struct cot_fixture *f, struct cot_journal *j)
{
    struct cot_fact fact;
    house_fact(f, &fact, COT_K_HOUSE);
    set_text(&fact, COT_F_NAME, "Three Sluices");
    ck_assert(cot_fact_set_ids(&fact, COT_F_KEY, &f->house_key.pub, 1) &&
              cot_fact_set_int(&fact, COT_F_RULES, COT_RULES_VERSION));
    (void)put_row(f, j, &fact);
    f->manager = put_member(f, j, "Wren", COT_PART_MANAGER);
}

static void join(struct cot_fixture *f, enum cot_part part)
{
    struct cot_fault fault = {0};
    struct cot_journal *j;
    struct cot_keypair key;
    struct cot_identity me = {
        .house = f->house, .house_key = f->house_key.pub, .tag = "A", .part = part, .url = "http://127.0.0.1:9"};
    ck_assert_msg(cot_journal_open(f->dir, true, &j, &fault) == COT_OK, "fixture: %s", fault.msg);
    ck_assert_msg(cot_key_make(f->dir, 1, "fixture", &key, &fault) == COT_OK, "fixture: %s", fault.msg);
    found_house(f, j);
    if (part == COT_PART_BUYER) put_for_buyer(f, j);
    me.member =
        part == COT_PART_MANAGER ? f->manager : put_member(f, j, part == COT_PART_BUYER ? "Teal" : "Sorrel", part);
    me.farm = f->farm;
    put_device(f, j, "A", &me.member, &key.pub, part == COT_PART_BUYER);
    struct cot_stand_at where = {.epoch = 1, .position = f->position, .ledger = f->ledger, .high = T0 + f->position};
    ck_assert_msg(cot_journal_set_identity(j, &me, 1, &fault) == COT_OK, "fixture: %s", fault.msg);
    ck_assert_msg(cot_journal_set_where(j, &where, &fault) == COT_OK, "fixture: %s", fault.msg);
    cot_journal_close(j);
}

void cot_fixture_set_clock(struct cot_fixture *f, const char *instant)
{
    FILE *clock = fopen(f->clock, "w");
    ck_assert_ptr_nonnull(clock);
    fprintf(clock, "%s\n", instant);
    ck_assert_int_eq(fclose(clock), 0);
}

static void make_root(struct cot_fixture *f)
{
    const char *tmp = getenv("TMPDIR");
    snprintf(f->root, sizeof f->root, "%.40s/cotyl-XXXXXX", tmp && *tmp ? tmp : "/tmp");
    ck_assert_ptr_nonnull(mkdtemp(f->root));
    snprintf(f->dir, sizeof f->dir, "%s/laptop", f->root);
    snprintf(f->clock, sizeof f->clock, "%s/clock", f->root);
    cot_fixture_set_clock(f, COT_FIXTURE_NOW);
}

void cot_fixture_copy(struct cot_fixture *f, const struct cot_fixture *from)
{
    char command[256];
    *f = *from;
    f->out = f->err = NULL;
    make_root(f);
    snprintf(command, sizeof command, "cp -rp '%s' '%s'", from->dir, f->dir);
    ck_assert_int_eq(system(command), 0);
}

void cot_fixture_start(struct cot_fixture *f, enum cot_part part)
{
    memset(f, 0, sizeof *f);
    ck_assert_int_ge(sodium_init(), 0);
    make_root(f);
    memset(&f->house, 7, sizeof f->house);
    cot_keypair_new(&f->house_key);
    cot_ledger_start(&f->house, &f->ledger);
    join(f, part);
}

void cot_fixture_end(struct cot_fixture *f)
{
    char command[128];
    free(f->out);
    free(f->err);
    snprintf(command, sizeof command, "rm -rf '%s'", f->root);
    ck_assert_int_eq(system(command), 0);
}

/* Splits in place: blanks part words, quotes keep blanks, "" is an empty word. */
static int split(char *line, char **word)
{
    int n = 0;
    char *to = line;
    while (*line) {
        bool quoted = false;
        while (*line == ' ') line++;
        if (!*line) break;
        ck_assert_int_lt(n, WORDS_MAX - 1);
        word[n++] = to;
        for (; *line && (quoted || *line != ' '); line++) {
            if (*line == '"') quoted = !quoted;
            else *to++ = *line;
        }
        if (*line) line++;
        *to++ = '\0';
    }
    word[n] = NULL;
    return n;
}

static char *slurp(const char *path)
{
    char *s = NULL;
    size_t len = 0, got;
    char part[4096];
    FILE *in = fopen(path, "r");
    ck_assert_ptr_nonnull(in);
    while ((got = fread(part, 1, sizeof part, in)) > 0) {
        s = realloc(s, len + got + 1);
        ck_assert_ptr_nonnull(s);
        memcpy(s + len, part, got);
        len += got;
    }
    fclose(in);
    if (!s) s = calloc(1, 1);
    ck_assert_ptr_nonnull(s);
    s[len] = '\0';
    return s;
}

/* `out` NULL: reads from and writes to the terminal that it has. */
static void become(struct cot_fixture *f, const char *out, const char *err, char **argv)
{
    int e = open(err, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (e < 0 || dup2(e, 2) < 0) _exit(126);
    if (out) {
        int o = open(out, O_WRONLY | O_CREAT | O_TRUNC, 0600), in = open("/dev/null", O_RDONLY);
        if (o < 0 || in < 0 || dup2(in, 0) < 0 || dup2(o, 1) < 0) _exit(126);
    }
    setenv("COTYL_DIR", f->dir, 1);
    setenv("COTYLEDGER_DEMO_CLOCK", f->clock, 1);
    unsetenv("COTYLEDGER_DEMO_SEED");
    execv(COTYL_PROGRAM, argv);
    _exit(127);
}

int cot_fixture_run(struct cot_fixture *f, const char *line)
{
    char out[128], err[128], text[4096], *word[WORDS_MAX] = {"cotyl"};
    int status;
    snprintf(out, sizeof out, "%s/out", f->root);
    snprintf(err, sizeof err, "%s/err", f->root);
    ck_assert_uint_lt(strlen(line), sizeof text);
    snprintf(text, sizeof text, "%s", line);
    (void)split(text, word + 1);
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) become(f, out, err, word);
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    free(f->out);
    free(f->err);
    f->out = slurp(out);
    f->err = slurp(err);
    ck_assert_msg(WIFEXITED(status), "cotyl %s: killed by signal %d: %s", line, WTERMSIG(status), f->err);
    return WEXITSTATUS(status);
}

void cot_fixture_keys(struct cot_fixture *f, const char *line, const char *keys)
{
    char err[128], text[4096], *word[WORDS_MAX] = {"cotyl"};
    int status, terminal;
    size_t have = 0;
    ssize_t got;
    snprintf(err, sizeof err, "%s/err", f->root);
    ck_assert_uint_lt(strlen(line), sizeof text);
    snprintf(text, sizeof text, "%s", line);
    (void)split(text, word + 1);
    pid_t child = forkpty(&terminal, NULL, NULL, NULL);
    ck_assert_int_ge(child, 0);
    if (child == 0) become(f, NULL, err, word);
    ck_assert_int_eq(write(terminal, keys, strlen(keys)), (ssize_t)strlen(keys));
    free(f->out);
    f->out = calloc(1, SEEN_MOST);
    ck_assert_ptr_nonnull(f->out);
    while (have + 1 < SEEN_MOST && (got = read(terminal, f->out + have, SEEN_MOST - 1 - have)) > 0) have += (size_t)got;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    close(terminal);
    ck_assert_msg(WIFEXITED(status) && WEXITSTATUS(status) == 0, "cotyl %s at a terminal: %s", line, f->out);
}

void cot_fixture_must(struct cot_fixture *f, const char *line)
{
    int code = cot_fixture_run(f, line);
    ck_assert_msg(code == 0, "cotyl %s: exit %d: %s", line, code, f->err);
}

void cot_fixture_play(struct cot_fixture *f, const char *const *lines)
{
    for (; *lines; lines++) cot_fixture_must(f, *lines);
}

static struct cot_journal *open_journal(struct cot_fixture *f)
{
    struct cot_fault fault = {0};
    struct cot_journal *j;
    ck_assert_msg(cot_journal_open(f->dir, false, &j, &fault) == COT_OK, "fixture: %s", fault.msg);
    return j;
}

void cot_fixture_head(struct cot_fixture *f, int64_t *number, struct cot_id *chain)
{
    struct cot_fault fault = {0};
    struct cot_own_head head;
    struct cot_journal *j = open_journal(f);
    ck_assert_msg(cot_journal_own_head(j, &f->house, "A", &head, &fault) == COT_OK, "fixture: %s", fault.msg);
    *number = head.number;
    *chain = head.chain;
    cot_journal_close(j);
}

static enum cot_err keep_last(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    char **line = ctx;
    (void)fault;
    free(*line);
    *line = strndup(o->body, o->len);
    return *line ? COT_OK : COT_MEMORY;
}

char *cot_fixture_last_entry(struct cot_fixture *f)
{
    struct cot_fault fault = {0};
    char *line = NULL;
    struct cot_journal *j = open_journal(f);
    ck_assert_msg(cot_journal_walk_own(j, "A", -1, keep_last, &line, &fault) == COT_OK, "fixture: %s", fault.msg);
    cot_journal_close(j);
    ck_assert_ptr_nonnull(line);
    return line;
}

/* Line breaks and runs of blanks become one blank. */
static void flatten(char *s)
{
    char *to = s;
    for (const char *from = s; *from; from++) {
        bool blank = *from == '\n' || *from == ' ';
        if (!blank || (to > s && to[-1] != ' ')) *to++ = blank ? ' ' : *from;
    }
    *to = '\0';
}

bool cot_fixture_has(const char *text, const char *what)
{
    char *flat = strdup(text), *words = strdup(what);
    ck_assert(flat && words);
    flatten(flat);
    flatten(words);
    bool found = strstr(flat, words) != NULL;
    free(flat);
    free(words);
    return found;
}

static void has(const char *text, const char *what)
{
    ck_assert_msg(cot_fixture_has(text, what), "there is\n%s\nwithout \"%s\"", text, what);
}

void cot_fixture_says(struct cot_fixture *f, const char *what)
{
    has(f->out, what);
}

void cot_fixture_warns(struct cot_fixture *f, const char *what)
{
    has(f->err, what);
}

void cot_fixture_entry_has(struct cot_fixture *f, const char *what)
{
    char *line = cot_fixture_last_entry(f);
    has(line, what);
    free(line);
}
