/* tally: stand counts line after line, from a scanner that types or from a person. */
#include <inttypes.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "cotyledger/core/count.h"
#include "count_read.h"
#include "terminal.h"
#include "work.h"

const char cot_help_tally[] = "Takes stand counts line after line, from a scanner that types or from a person:\n"
                              "code, tray, blanks, doubles. A line that begins with a number is for the batch\n"
                              "of the line before; a code alone names the batch. Each line is safe on this\n"
                              "laptop before its answer is there: what the batch likely has, what you can\n"
                              "count on, and whether to count more trays.\n"
                              "\n"
                              "  A-0012-5 3 8 2     tray 3: 8 blanks, 2 doubles\n"
                              "  4 11               tray 4 of the same batch: 11 blanks, doubles not taken\n"
                              "  5 9 1 3            tray 5, and 3 culls\n"
                              "  -                  takes back the last line (again: the one before)\n"
                              "  .                  stops; so does the end of the file, or Ctrl-D\n"
                              "\n"
                              "At a terminal - and . need no Return. Words may be parted by blanks, tabs,\n"
                              "commas or semicolons; what stands behind # is not read. Lines that cannot be\n"
                              "taken are named with their number; the others stand.\n"
                              "\n"
                              "  FILE          lines of a file in place of what is typed; - is standard input\n"
                              "  --day DAY     the day of the counts (default: today)\n"
                              "  --json        a JSON object for each line\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl tally\n"
                              "  cotyl tally counts.txt --day 2027-03-08\n";

static const struct cot_opt opts[] = {{"day", "DAY", COT_F_DAY}, COT_OPT_END};

#define LINE_MOST 200
#define WORDS_MOST 6

struct taken {
    struct cot_id digest, batch;
    int32_t tray;
};

struct tally {
    struct cot_job w;
    FILE *in; /* NULL: the terminal */
    bool has; /* a batch was named */
    struct cot_id batch;
    struct taken *taken;
    size_t count, room, lines, refused;
};

/* --- Words -------------------------------------------------------------------------------------------------------- */

/* The line's words, in place; how many, at most WORDS_MOST. */
static int split(char *line, char **word)
{
    int n = 0;
    line[strcspn(line, "#\r\n")] = '\0';
    for (char *at = strtok(line, " \t,;"); at && n < WORDS_MOST; at = strtok(NULL, " \t,;")) word[n++] = at;
    return n;
}

static bool is_number(const char *word)
{
    return word[strspn(word, "0123456789")] == '\0';
}

static const struct cot_thing *batch_now(struct tally *t)
{
    return t->has ? cot_book_thing(t->w.cli->book, &t->batch) : NULL;
}

static enum cot_err read_figures(struct tally *t, char **word, int n, struct cot_tray_count *c)
{
    struct cot_cli *cli = t->w.cli;
    const struct cot_thing *batch = batch_now(t);
    char some[COT_SOME_TEXT], where[COT_CODE_TEXT + 24];
    *c = (struct cot_tray_count){
        0, COT_COUNT_UNKNOWN, COT_COUNT_UNKNOWN, COT_COUNT_UNKNOWN, COT_COUNT_UNKNOWN, COT_COUNT_UNKNOWN};
    if (n < 2 || n > 4)
        return cot_fail(&cli->fault, COT_INVALID,
                        "tray and blanks are wanted, then doubles and culls if they were taken");
    int64_t trays = cot_batch_trays(batch) > 0 ? cot_batch_trays(batch) : 1;
    enum cot_err err = cot_tray_read(word[0], strlen(word[0]), &c->tray, &cli->fault);
    if (err == COT_OK && c->tray > trays)
        err = cot_fail(&cli->fault, COT_INVALID, "there is no tray %d: %s has %s", c->tray, cot_thing_name(batch),
                       cot_some(trays, "tray", some));
    if (err == COT_OK) err = cot_figure_read(word[1], strlen(word[1]), "blanks", &c->blanks, &cli->fault);
    if (err == COT_OK && n > 2) err = cot_figure_read(word[2], strlen(word[2]), "doubles", &c->doubles, &cli->fault);
    if (err == COT_OK && n > 3) err = cot_figure_read(word[3], strlen(word[3]), "culls", &c->culls, &cli->fault);
    snprintf(where, sizeof where, "tray %d", c->tray);
    return err == COT_OK ? cot_count_complete(c, cot_batch_tray_cells(cli, batch), where, &cli->fault) : err;
}

/* --- Answers ------------------------------------------------------------------------------------------------------ */

/* Trays to count yet for a line in doubt, or 0; the stand to `stand`. False when there is none to read. */
static bool read_stand(struct tally *t, struct cot_stand *stand, int64_t *more)
{
    struct cot_fill fill = {0};
    struct cot_count_advice advice = {0};
    int32_t on = t->w.day > t->w.today ? t->w.day : t->w.today;
    bool found = false;
    if (cot_fill_read(t->w.cli->book, on, &fill) == COT_OK)
        for (uint32_t k = 0; k < fill.batch_count && !found; k++) {
            if (!fill.batch[k] || cot_id_cmp(&fill.batch[k]->id, &t->batch) != 0) continue;
            *stand = fill.stand[k];
            found = cot_count_advise(&fill, k, &advice) == COT_OK;
        }
    *more = advice.trays > 0 ? advice.trays : 0;
    cot_fill_free(&fill);
    return found;
}

/* Short lines: they are read in a narrow window, at arm's length. */
static void say_stand(struct tally *t)
{
    struct cot_stand s;
    int64_t more;
    if (!read_stand(t, &s, &more)) return;
    if (s.trays > 0) printf("%d of %d trays: ", s.trays_counted, s.trays);
    printf("likely %" PRId64 ", count on %" PRId64 "\n", s.likely, s.count_on);
    if (s.provisional) puts("early: count again later");
    else if (more > 0) printf("COUNT %" PRId64 " MORE\n", more);
    else puts("enough counted");
}

static void json_line(struct tally *t, const struct cot_tray_count *c, const char *what, const struct cot_id *digest)
{
    struct cot_stand s;
    int64_t more;
    char id[COT_ID_TEXT];
    const struct cot_thing *batch = batch_now(t);
    cot_id_text(digest, id);
    printf("{\"line\":%zu,\"%s\":\"%s\",\"batch\":\"%s\",\"tray\":%d", t->lines, what, id,
           batch ? cot_thing_name(batch) : "", c->tray);
    if (read_stand(t, &s, &more))
        printf(",\"trays_counted\":%d,\"trays\":%d,\"likely\":%" PRId64 ",\"count_on\":%" PRId64
               ",\"provisional\":%s,\"more\":%" PRId64,
               s.trays_counted, s.trays, s.likely, s.count_on, s.provisional ? "true" : "false", more);
    puts("}");
}

static void put_figure(const char *what, int32_t n)
{
    if (n >= 0) printf(", %d %s%s", n, what, n == 1 ? "" : "s");
}

static void say_taken(struct tally *t, const struct cot_tray_count *c, const struct cot_id *digest,
                      const struct cot_answer *a)
{
    if (t->w.cli->json) {
        json_line(t, c, "recorded", digest);
        return;
    }
    printf("%s tray %d: %d blank%s", cot_thing_name(batch_now(t)), c->tray, c->blanks, c->blanks == 1 ? "" : "s");
    put_figure("double", c->doubles);
    put_figure("cull", c->culls);
    puts("");
    if (a->warnings.len > 0) fputs(a->warnings.s, stdout);
    say_stand(t);
}

/* --- Lines -------------------------------------------------------------------------------------------------------- */

static bool remember(struct tally *t, const struct cot_id *digest, int32_t tray)
{
    if (t->count == t->room) {
        size_t more = t->room ? 2 * t->room : 64;
        struct taken *grown = realloc(t->taken, more * sizeof *grown);
        if (!grown) return false;
        t->taken = grown;
        t->room = more;
    }
    t->taken[t->count++] = (struct taken){*digest, t->batch, tray};
    return true;
}

static enum cot_err record(struct tally *t, struct cot_fact *f, const struct cot_tray_count *c, bool back)
{
    struct cot_answer a = {0};
    enum cot_err err = cot_answer_record(t->w.cli, &a, f, 1);
    if (err == COT_OK && !back && !remember(t, &a.recorded[0].digest, c->tray)) err = COT_MEMORY;
    if (err == COT_OK && !back) say_taken(t, c, &a.recorded[0].digest, &a);
    cot_answer_free(&a);
    return err;
}

static enum cot_err take_count(struct tally *t, char **word, int n)
{
    struct cot_tray_count c;
    struct cot_fact f = {.kind = COT_K_COUNT, .has_about = true, .about = t->batch};
    enum cot_err err = read_figures(t, word, n, &c);
    if (err != COT_OK) return err;
    if (!cot_fact_set_int(&f, COT_F_DAY, t->w.day) || !cot_fact_set_counts(&f, COT_F_COUNTS, &c, 1))
        return cot_fail(&t->w.cli->fault, COT_INTERNAL, "too many fields for one entry");
    return record(t, &f, &c, false);
}

/* The last that was taken, off the list again. */
static enum cot_err take_back(struct tally *t)
{
    struct cot_cli *cli = t->w.cli;
    if (t->count == 0)
        return cot_fail(&cli->fault, COT_INVALID, "nothing was taken yet: there is nothing to take back");
    struct taken last = t->taken[t->count - 1];
    struct cot_tray_count c = {.tray = last.tray};
    struct cot_fact f = {.kind = COT_K_TAKEN_BACK, .has_about = true, .about = last.digest};
    t->batch = last.batch;
    enum cot_err err = record(t, &f, &c, true);
    if (err != COT_OK) return err;
    t->count--;
    if (cli->json) json_line(t, &c, "taken_back", &last.digest);
    else printf("taken back: %s tray %d\n", cot_thing_name(batch_now(t)), last.tray);
    if (!cli->json) say_stand(t);
    return COT_OK;
}

static enum cot_err name_batch(struct tally *t, const char *typed)
{
    const struct cot_thing *batch;
    struct cot_cli *cli = t->w.cli;
    enum cot_err err = cot_find_coded(cli, COT_THING_BATCH, typed, &batch);
    if (err != COT_OK) return err;
    t->batch = batch->id;
    t->has = true;
    return COT_OK;
}

static void say_batch(struct tally *t)
{
    char some[COT_SOME_TEXT];
    const struct cot_thing *batch = batch_now(t), *variety = cot_batch_variety(t->w.cli, batch);
    int64_t trays = cot_batch_trays(batch);
    printf("%s: %s\n", cot_thing_name(batch), variety ? cot_thing_name(variety) : "?");
    printf("%s of %s\n", trays > 0 ? cot_some(trays, "tray", some) : "rows of a tray",
           cot_name_of(t->w.cli, batch, COT_F_FORMAT));
}

static enum cot_err take_line(struct tally *t, char *line)
{
    char *word[WORDS_MOST];
    int n = split(line, word), from = 0;
    if (n == 0) return COT_OK;
    if (strcmp(word[0], "-") == 0 && n == 1) return take_back(t);
    if (!is_number(word[0])) {
        enum cot_err err = name_batch(t, word[from++]);
        if (err != COT_OK) return err;
        if (n == 1 && !t->w.cli->json) say_batch(t);
        if (n == 1) return COT_OK;
    }
    if (!t->has)
        return cot_fail(&t->w.cli->fault, COT_INVALID,
                        "of which batch? Begin with the code on its tag, such as A-0012-5");
    return take_count(t, word + from, n - from);
}

/* --- The command -------------------------------------------------------------------------------------------------- */

/* What is wrong with a line is said, and the next is read. */
static void refuse(struct tally *t)
{
    struct cot_fault *fault = &t->w.cli->fault;
    t->refused++;
    if (t->w.cli->json) {
        struct cot_buf b = {0};
        cot_put_json(&b, fault->msg, strlen(fault->msg));
        printf("{\"line\":%zu,\"refused\":%s}\n", t->lines, b.s ? b.s : "\"\"");
        cot_buf_free(&b);
    } else if (t->in) {
        fprintf(stderr, "line %zu: %s\n", t->lines, fault->msg);
    } else {
        printf("\aNOT TAKEN: %s\n", fault->msg);
    }
    *fault = (struct cot_fault){0};
}

static bool next_line(struct tally *t, char *line)
{
    if (!t->in) return cot_line_typed(line, LINE_MOST, "-.");
    return fgets(line, LINE_MOST, t->in) != NULL;
}

/* A line that does not fit is no count: its rest is not taken for the next line. */
static bool too_long(struct tally *t, const char *line)
{
    int c;
    if (!t->in || strlen(line) + 1 < LINE_MOST || strchr(line, '\n')) return false;
    while ((c = fgetc(t->in)) != EOF && c != '\n') continue;
    return true;
}

/* A point alone. */
static bool stops(const char *line)
{
    line += strspn(line, " \t");
    return line[0] == '.' && line[1 + strspn(line + 1, " \t\r\n")] == '\0';
}

static enum cot_err take_all(struct tally *t)
{
    char line[LINE_MOST];
    while (next_line(t, line)) {
        t->lines++;
        if (stops(line)) break;
        enum cot_err err = too_long(t, line)
                               ? cot_fail(&t->w.cli->fault, COT_INVALID, "the line is too long for a count")
                               : take_line(t, line);
        if (err == COT_MEMORY || err == COT_IO || err == COT_INTERNAL) return err;
        if (err != COT_OK) refuse(t);
        if (fflush(stdout) != 0) return cot_fail(&t->w.cli->fault, COT_IO, "unable to write to standard output");
    }
    return COT_OK;
}

/* At a terminal what was refused was seen and typed again; a file's lines were not. */
static enum cot_err end(struct tally *t)
{
    struct cot_cli *cli = t->w.cli;
    char some[COT_SOME_TEXT];
    if (!cli->json) printf("%s taken.\n", cot_some((int64_t)t->count, "count", some));
    if (!t->in || t->refused == 0) return COT_OK;
    (void)cot_fail(&cli->fault, COT_INVALID, "%s not taken, see above", cot_some((int64_t)t->refused, "line", some));
    return cot_hint(&cli->fault, "mend them and give them alone: the others are recorded");
}

enum cot_err cot_cmd_tally(struct cot_cli *cli, int argc, char **argv)
{
    struct tally t = {0};
    enum cot_err err = cot_job_start(&t.w, cli, COT_K_COUNT, argc, argv, opts, 0, 1);
    const char *file = err == COT_OK && t.w.args.count > 0 ? t.w.args.word[0] : NULL;
    if (err == COT_OK && file && strcmp(file, "-") != 0) {
        t.in = fopen(file, "r");
        if (!t.in) err = cot_fail(&cli->fault, COT_NOT_FOUND, "%s: cannot be opened", file);
    } else if (err == COT_OK && (file || !cot_at_terminal())) {
        t.in = stdin;
    }
    if (err == COT_OK && !t.in) puts("code tray blanks doubles; - takes back, . stops");
    if (err == COT_OK) err = take_all(&t);
    if (err == COT_OK) err = end(&t);
    if (t.in && t.in != stdin) fclose(t.in);
    free(t.taken);
    cot_args_free(&t.w.args);
    cot_answer_free(&t.w.answer);
    return err;
}
