/* import: a farm's spreadsheet, or the house's own, into the book; all or nothing. */
#include "commands.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "args.h"
#include "cotyledger/wire/csv.h"
#include "cotyledger/wire/report.h"
#include "show/import.h"
#include "show/table.h"
#include "show/things.h"

const char cot_help_import[] = "Reads a CSV file (UTF-8; comma, semicolon or tab) with a row of headings, and\n"
                               "records what is new or changed. The same file twice changes nothing. With one\n"
                               "bad cell nothing is taken, and every bad cell is named. FILE may be - for the\n"
                               "standard input. docs/sheets.md says which headings and spellings are known.\n"
                               "\n"
                               "  KIND            farms, crops, varieties, formats, plates, lots, places,\n"
                               "                  raisings or orders\n"
                               "  --farm FARM     orders: whose they are, when there is no column for it\n"
                               "  --dates FORMAT  how dates are written, if not 2027-03-29: D.M.YYYY, M/D/YY ...\n"
                               "  --dry-run       show what would be recorded, and record nothing\n"
                               "\n"
                               "`import catalogue` takes the starter catalogue of crops and tray formats that\n"
                               "comes with the program. Its figures are where you start: put in your own.\n"
                               "\n"
                               "Examples:\n"
                               "  cotyl import catalogue\n"
                               "  cotyl import orders alder.csv --farm \"Alder Ford\" --dates D.M.YYYY --dry-run\n";

static const struct cot_opt opts[] = {
    {"farm", "FARM", -1}, {"dates", "FORMAT", -1}, {"dry-run", NULL, -1}, COT_OPT_END};

struct job {
    struct cot_cli *cli;
    struct cot_args args;
    struct cot_sheet_options options;
    const char *file; /* as it is called in messages */
    bool dry;
    struct cot_answer answer;
};

static enum cot_err read_stream(struct cot_cli *cli, FILE *in, const char *name, struct cot_buf *out)
{
    char chunk[65536];
    size_t n;
    while ((n = fread(chunk, 1, sizeof chunk, in)) > 0 && out->len <= COT_CSV_BYTES_MAX) cot_buf_put(out, chunk, n);
    if (ferror(in)) return cot_fail(&cli->fault, COT_IO, "unable to read %s: %s", name, strerror(errno));
    if (out->failed) return cot_fail(&cli->fault, COT_MEMORY, "out of memory while reading %s", name);
    return COT_OK;
}

static enum cot_err read_file(struct cot_cli *cli, const char *path, struct cot_buf *out)
{
    if (strcmp(path, "-") == 0) return read_stream(cli, stdin, "the standard input", out);
    FILE *in = fopen(path, "rb");
    if (!in)
        return cot_fail(&cli->fault, errno == ENOENT ? COT_NOT_FOUND : COT_IO, "unable to open %s: %s", path,
                        strerror(errno));
    enum cot_err err = read_stream(cli, in, path, out);
    fclose(in);
    return err;
}

static enum cot_err give(struct cot_cli *cli, struct cot_buf *b, FILE *to)
{
    if (b->failed) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (to == stdout) return cot_print(cli, b);
    if (b->s) fputs(b->s, to);
    return COT_OK;
}

/* Nothing is taken: every bad cell on stderr, or all of it as JSON. */
static enum cot_err refuse(struct job *j, const struct cot_sheet *s)
{
    struct cot_buf b = {0};
    if (j->cli->json) cot_import_json(j->cli, s, j->file, &b);
    else cot_import_problems_text(s, j->file, &b);
    enum cot_err err = give(j->cli, &b, j->cli->json ? stdout : stderr);
    cot_buf_free(&b);
    if (err != COT_OK) return err;
    (void)cot_fail(&j->cli->fault, COT_INVALID, "%zu problem%s in %s: nothing was taken", s->problem_total,
                   s->problem_total == 1 ? "" : "s", j->file);
    (void)cot_hint(&j->cli->fault, "correct the file and import it again");
    return COT_INVALID;
}

static enum cot_err show(struct job *j, const struct cot_sheet *s, const char *sum)
{
    struct cot_buf b = {0};
    if (j->cli->json) {
        cot_import_json(j->cli, s, j->file, &b);
    } else {
        cot_import_rows_text(j->cli, s, &b);
        if (s->note[0]) cot_put_paragraph(&b, s->note, 0, 2);
        struct cot_buf last = {0};
        cot_buf_fmt(&last, "%s: %s. Nothing was recorded.", j->file, sum);
        if (last.failed) b.failed = true;
        else cot_put_paragraph(&b, last.s, 0, 2);
        cot_buf_free(&last);
    }
    enum cot_err err = give(j->cli, &b, stdout);
    cot_buf_free(&b);
    return err;
}

/* The new and the changed rows, in the order of the file, in one recording. */
static enum cot_err record(struct job *j, const struct cot_sheet *s, const struct cot_import_sum *sum)
{
    size_t n = 0;
    bool treated = false;
    if (sum->fresh + sum->changed == 0) return COT_OK;
    struct cot_fact *facts = calloc(sum->fresh + sum->changed, sizeof *facts);
    if (!facts) return cot_fail(&j->cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    for (size_t i = 0; i < s->row_count; i++) {
        if (s->row[i].what == COT_SHEET_SAME) continue;
        facts[n++] = s->row[i].fact;
        treated = treated || cot_fact_int(&s->row[i].fact, COT_F_TREATED, 0);
    }
    enum cot_err err = cot_answer_record(j->cli, &j->answer, facts, n);
    if (err == COT_OK && treated) cot_answer_caution(&j->answer, COT_CAUTION_TREATED ".");
    free(facts);
    return err;
}

static enum cot_err take(struct job *j, const struct cot_sheet *s)
{
    struct cot_import_sum sum = {0};
    char text[COT_IMPORT_SUM_TEXT];
    if (s->problem_total > 0) return refuse(j, s);
    cot_import_count(s, &sum);
    cot_import_sum_text(&sum, text);
    if (j->dry) return show(j, s, text);
    enum cot_err err = record(j, s, &sum);
    if (err != COT_OK) return err;
    if (s->note[0]) cot_answer_line(&j->answer, "%s", s->note);
    cot_answer_line(&j->answer, "%s: %s.", j->file, text);
    cot_answer_count(&j->answer, "new", sum.fresh);
    cot_answer_count(&j->answer, "changed", sum.changed);
    cot_answer_count(&j->answer, "same", sum.same);
    return cot_answer_give(j->cli, &j->answer);
}

static enum cot_err import_file(struct job *j, const char *path)
{
    struct cot_buf bytes = {0};
    struct cot_csv *csv = NULL;
    struct cot_sheet sheet = {0};
    struct cot_cli *cli = j->cli;
    j->file = strcmp(path, "-") == 0 ? "standard input" : path;
    enum cot_err err = read_file(cli, path, &bytes);
    if (err != COT_OK) goto out;
    err = cot_csv_open(bytes.s ? bytes.s : "", bytes.len, &csv, &cli->fault);
    if (err == COT_OK) err = cot_sheet_read(cli->book, csv, &j->options, &sheet, &cli->fault);
    if (err != COT_OK) {
        (void)cot_within(&cli->fault, "%s", j->file);
        goto out;
    }
    err = take(j, &sheet);
    cot_sheet_free(&sheet);
out:
    cot_answer_free(&j->answer);
    j->answer = (struct cot_answer){0};
    cot_csv_free(csv);
    cot_buf_free(&bytes);
    return err;
}

static enum cot_err import_catalogue(struct job *j)
{
    static const struct {
        const char *file;
        enum cot_kind kind;
    } parts[] = {
        {"crops.csv", COT_K_CROP},
        {"formats.csv", COT_K_FORMAT},
    };
    const char *dir = getenv("COTYL_CATALOGUE");
    if (!dir || !*dir) dir = COT_DATADIR "/catalogue";
    enum cot_err err = COT_OK;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0] && err == COT_OK; i++) {
        char path[4096];
        j->options.kind = parts[i].kind;
        if (snprintf(path, sizeof path, "%s/%s", dir, parts[i].file) >= (int)sizeof path)
            return cot_fail(&j->cli->fault, COT_USAGE, "COTYL_CATALOGUE is too long");
        err = import_file(j, path);
    }
    if (err == COT_NOT_FOUND)
        (void)cot_hint(&j->cli->fault, "set COTYL_CATALOGUE to the folder with crops.csv and formats.csv");
    return err;
}

/* A date format has a D, an M and a Y, and nothing else but marks. */
static enum cot_err read_dates(struct job *j, const char *format)
{
    bool good = format && strpbrk(format, "D") && strpbrk(format, "M") && strpbrk(format, "Y") &&
                strlen(format) <= 20 && strspn(format, "DMY ./-") == strlen(format);
    j->options.date_format = format;
    if (!format || good) return COT_OK;
    (void)cot_fail(&j->cli->fault, COT_USAGE, "--dates: \"%.40s\" is no way to write dates", format);
    return cot_hint(&j->cli->fault, "use the letters D, M and Y with marks between them: D.M.YYYY, M/D/YY");
}

static enum cot_err read_options(struct job *j)
{
    struct cot_cli *cli = j->cli;
    const char *farm = cot_args_value(&j->args, opts, "farm");
    j->dry = cot_args_value(&j->args, opts, "dry-run") != NULL;
    enum cot_err err = read_dates(j, cot_args_value(&j->args, opts, "dates"));
    if (err == COT_OK && farm) err = cot_book_find(cli->book, COT_THING_FARM, farm, &j->options.farm, &cli->fault);
    if (err == COT_OK && !farm && cli->me.part == COT_PART_BUYER)
        j->options.farm = cot_book_thing(cli->book, &cli->me.farm);
    return err;
}

enum cot_err cot_cmd_import(struct cot_cli *cli, int argc, char **argv)
{
    struct job j = {.cli = cli};
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 1, 2, &j.args);
    if (err != COT_OK) return err;
    err = read_options(&j);
    if (err != COT_OK) goto out;
    if (j.args.count == 1 && strcmp(j.args.word[0], "catalogue") == 0) {
        err = import_catalogue(&j);
        goto out;
    }
    const struct cot_sort *sort = cot_sort_by_word(j.args.word[0]);
    if (!sort || !sort->sheets) err = cot_sort_misuse(cli, j.args.word[0], true);
    else if (j.args.count < 2) err = cot_fail(&cli->fault, COT_USAGE, "import %s of which file?", sort->plural);
    if (err != COT_OK) goto out;
    j.options.kind = sort->kind;
    if (sort->kind != COT_K_LINE && cot_args_value(&j.args, opts, "farm"))
        err = cot_fail(&cli->fault, COT_USAGE, "--farm is for orders");
    if (err == COT_OK) err = import_file(&j, j.args.word[1]);
out:
    cot_args_free(&j.args);
    return err;
}
