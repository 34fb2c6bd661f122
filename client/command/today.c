/* today, week, done: the list on the wall, and saying that a job of it is done. */
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "commands.h"
#include "cotyledger/core/today.h"
#include "show/asked.h"
#include "show/table.h"
#include "show/today.h"
#include "terminal.h"
#include "work.h"

const char cot_help_today[] = "Lists what there is to do today: trays to fill, sowings, trays to move out of\n"
                              "the chamber, stand counts with the numbers of the trays to count (drawn, so\n"
                              "that nobody picks the good ones), blanks to fill, potting on, hardening off,\n"
                              "and what is pulled for collecting. What is late comes along and says so.\n"
                              "\n"
                              "The letters before a job are its mark: `cotyl done MARK` records it.\n"
                              "\n"
                              "  --on DAY       another day (default: today)\n"
                              "  --csv, --json  for spreadsheets and programs; see docs/reports.md\n"
                              "\n"
                              "Examples:\n"
                              "  cotyl today\n"
                              "  cotyl today --on 2027-03-08\n";

const char cot_help_week[] = "Lists what there is to do in a week, day by day. As `cotyl today`.\n"
                             "\n"
                             "  WEEK           an ISO week such as 2027-W09 (default: this week, from today)\n"
                             "  --on DAY       from another day to the end of its week\n"
                             "  --csv, --json  for spreadsheets and programs\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl week\n"
                             "  cotyl week 2027-W12\n";

const char cot_help_done[] = "Records that a job of today's list is done, with what the list says: the sowing,\n"
                             "the move, the hand-over ... What was done otherwise is said behind it, with the\n"
                             "options of the command that records it (sow, move, patch, pot-on, hand-over).\n"
                             "A job that is recorded is off the list; saying it twice records nothing.\n"
                             "\n"
                             "Without a mark, at a terminal, it goes through the list: one key for each job,\n"
                             "y when it is done, n when it is not, q to stop.\n"
                             "\n"
                             "  --on DAY       of the list of that day (default: today)\n"
                             "\n"
                             "Examples:\n"
                             "  cotyl done\n"
                             "  cotyl done KTXBD\n"
                             "  cotyl done KTXBD --trays 4 --bench 1-03\n";

static const struct cot_opt opts[] = {{"on", "DAY", -1}, {"csv", NULL, -1}, COT_OPT_END};

static enum cot_err staff_only(struct cot_cli *cli)
{
    if (cli->me.part != COT_PART_BUYER) return COT_OK;
    return cot_fail(&cli->fault, COT_NOT_ALLOWED, "the list is the house's: `cotyl orders` shows your lines");
}

static enum cot_err print_days(struct cot_cli *cli, int32_t from, int32_t to, const char *csv)
{
    struct cot_today t = {0};
    enum cot_form form;
    enum cot_err err = cot_form_asked(cli, csv, &form);
    if (err == COT_OK) err = cot_today_read(cli->book, from, to, &t, &cli->fault);
    if (err == COT_OK) err = cot_today_print(cli, &t, form);
    cot_today_free(&t);
    return err;
}

enum cot_err cot_cmd_today(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    int32_t on;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 0, &args);
    if (err != COT_OK) return err;
    err = staff_only(cli);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &on);
    if (err == COT_OK) err = print_days(cli, on, on, cot_args_value(&args, opts, "csv"));
    cot_args_free(&args);
    return err;
}

/* "2027-W09", or "W09" of this year's weeks. */
static enum cot_err read_week(struct cot_cli *cli, const char *typed, int32_t today, int32_t *monday)
{
    int year, week, weekday, n = 0;
    cot_week_of(today, &year, &week, &weekday);
    bool whole = sscanf(typed, "%4d-W%2d%n", &year, &week, &n) == 2 && typed[n] == '\0';
    if (!whole) whole = (*typed == 'W' || *typed == 'w') && sscanf(typed + 1, "%2d%n", &week, &n) == 1 && !typed[1 + n];
    *monday = whole ? cot_week_day(year, week, 1) : COT_DAY_NONE;
    if (*monday != COT_DAY_NONE) return COT_OK;
    (void)cot_fail(&cli->fault, COT_INVALID, "\"%.40s\" is no week", typed);
    return cot_hint(&cli->fault, "write it like 2027-W09");
}

enum cot_err cot_cmd_week(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args args;
    int32_t from, monday;
    int year, week, weekday;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 1, &args);
    if (err != COT_OK) return err;
    err = staff_only(cli);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &from);
    if (err == COT_OK && args.count > 0) {
        err = read_week(cli, args.word[0], from, &monday);
        from = monday;
    } else if (err == COT_OK) {
        cot_week_of(from, &year, &week, &weekday);
        monday = from - weekday + 1;
    }
    if (err == COT_OK) err = print_days(cli, from, monday + 6, cot_args_value(&args, opts, "csv"));
    cot_args_free(&args);
    return err;
}

/* --- Done --------------------------------------------------------------------------------------------------------- */

#define WORDS 40

/* The command line that records a job, of the words that `done` was given and those of the job. */
struct line {
    char *word[WORDS];
    char text[10][160]; /* a name has 120 bytes at most */
    int count, texts;
};

static void put(struct line *l, const char *word)
{
    if (l->count < WORDS && l->texts < 10) {
        snprintf(l->text[l->texts], sizeof l->text[0], "%s", word);
        l->word[l->count++] = l->text[l->texts++];
    }
}

static void put_int(struct line *l, const char *option, int64_t n)
{
    char text[24];
    snprintf(text, sizeof text, "%lld", (long long)n);
    put(l, option);
    put(l, text);
}

/* Whether the person said the option. */
static bool said(int argc, char **argv, const char *option)
{
    size_t len = strlen(option);
    for (int i = 1; i < argc; i++)
        if (strncmp(argv[i], option, len) == 0 && (argv[i][len] == '\0' || argv[i][len] == '=')) return true;
    return false;
}

struct doing {
    enum cot_err (*run)(struct cot_cli *cli, int argc, char **argv);
    const char *command;
};

/* The words of the job; false for one that has figures to be looked at. */
static bool words_of(const struct cot_today_job *j, int argc, char **argv, struct line *l, struct doing *d)
{
    static const struct doing does[] = {
        [COT_TODAY_SOW] = {cot_cmd_sow, "sow"},
        [COT_TODAY_UP] = {cot_cmd_move, "move"},
        [COT_TODAY_PATCH] = {cot_cmd_patch, "patch"},
        [COT_TODAY_THIN] = {cot_cmd_thin, "thin"},
        [COT_TODAY_POT_ON] = {cot_cmd_pot_on, "pot-on"},
        [COT_TODAY_HARDEN] = {cot_cmd_move, "move"},
        [COT_TODAY_PULL] = {cot_cmd_hand_over, "hand-over"},
    };
    const char *batch = j->batch ? cot_thing_name(j->batch) : "";
    if (j->sort == COT_TODAY_TRAYS || j->sort == COT_TODAY_COUNT) return false;
    *d = does[j->sort];
    put(l, d->command);
    if (j->sort == COT_TODAY_SOW) {
        put(l, "--planned");
        put(l, cot_thing_name(j->planned));
        if (!said(argc, argv, "--trays") && !said(argc, argv, "--rows"))
            put_int(l, j->rows > 0 ? "--rows" : "--trays", j->rows > 0 ? j->rows : j->trays);
        return true;
    }
    if (j->sort == COT_TODAY_PULL) put(l, cot_thing_name(j->line));
    put(l, batch);
    if (j->sort == COT_TODAY_POT_ON) put(l, cot_thing_name(j->format));
    bool moves = j->sort == COT_TODAY_UP || j->sort == COT_TODAY_HARDEN;
    if (moves && j->bench[0] && !said(argc, argv, "--bench")) {
        put(l, "--bench");
        put(l, j->bench);
    }
    if (!moves && !said(argc, argv, "--plants")) put_int(l, "--plants", j->plants);
    if ((j->sort == COT_TODAY_POT_ON || j->sort == COT_TODAY_PULL) && j->trays > 0 && !said(argc, argv, "--trays"))
        put_int(l, "--trays", j->trays);
    return true;
}

static enum cot_err not_listed(struct cot_cli *cli, const char *typed, int32_t on)
{
    char date[COT_DATE_TEXT];
    (void)cot_fail(&cli->fault, COT_NOT_FOUND, "no job \"%.20s\" is on the list of %s: nothing was recorded", typed,
                   cot_date(on, date));
    return cot_hint(&cli->fault, "it may be recorded already; `cotyl today` shows what is left");
}

static enum cot_err find_job(struct cot_cli *cli, const struct cot_today *t, const char *typed,
                             const struct cot_today_job **out)
{
    size_t n = 0;
    for (size_t i = 0; i < t->jobs; i++) {
        char mark[COT_TODAY_MARK];
        cot_today_mark(&t->job[i], mark);
        if (!mark[0] || strcasecmp(mark, typed) != 0) continue;
        *out = &t->job[i];
        n++;
    }
    if (n == 0) return not_listed(cli, typed, t->from);
    if (n == 1) return COT_OK;
    return cot_fail(&cli->fault, COT_AMBIGUOUS, "two jobs have the mark %.20s: record each with its own command",
                    typed);
}

/* What must be looked at is typed by whoever looked. */
static enum cot_err look_first(struct cot_cli *cli, const struct cot_today_job *j)
{
    struct cot_buf b = {0};
    if (j->sort == COT_TODAY_TRAYS)
        return cot_fail(&cli->fault, COT_INVALID, "trays are filled for the sowings and pottings that are listed");
    for (int32_t i = 0; i < j->which_count; i++)
        cot_buf_fmt(&b, " %d:LOOKED/USABLE/BLANKS/CULLS/DOUBLES", (int)j->which[i]);
    (void)cot_fail(&cli->fault, COT_INVALID, "a count has figures that only you can see");
    enum cot_err err = cot_hint(&cli->fault, "cotyl count %s%s", cot_thing_name(j->batch),
                                b.len > 0 ? b.s : " 1:LOOKED/USABLE/BLANKS/CULLS/DOUBLES");
    cot_buf_free(&b);
    return err;
}

/* What is yet to come is not done. */
static enum cot_err not_yet(struct cot_cli *cli, int32_t on)
{
    char date[COT_DATE_TEXT];
    int32_t today = cot_today(cli);
    if (on <= today) return COT_OK;
    (void)cot_fail(&cli->fault, COT_INVALID, "%s is yet to come: nothing was recorded", cot_date(on, date));
    return cot_hint(&cli->fault, "say it on the day; what was done early is recorded by its own command");
}

/* Options of `done` itself end with the mark and --on DAY; what is left goes to the command. */
static int take_own(int argc, char **argv, char **rest, const char **mark, const char **on)
{
    int n = 0;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--on") == 0 && i + 1 < argc) *on = argv[++i];
        else if (strncmp(argv[i], "--on=", 5) == 0) *on = argv[i] + 5;
        else if (i == 1 && argv[i][0] != '-') *mark = argv[i];
        else rest[n++] = argv[i];
    }
    return n;
}

static enum cot_err do_job(struct cot_cli *cli, const struct cot_today_job *j, const char *on, int argc, char **argv,
                           char **rest, int n)
{
    struct line l = {.count = 0};
    struct doing d;
    if (!words_of(j, argc, argv, &l, &d)) return look_first(cli, j);
    if (on && !said(argc, argv, "--day")) {
        put(&l, "--day");
        put(&l, on);
    }
    for (int i = 0; i < n && l.count < WORDS; i++) l.word[l.count++] = rest[i];
    return d.run(cli, l.count, l.word);
}

/* --- One key a job ------------------------------------------------------------------------------------------------ */

/* The first job of the list that was not asked about and can be recorded with what the list says. */
static const struct cot_today_job *next_job(const struct cot_today *t, char (*asked)[COT_TODAY_MARK], size_t n)
{
    for (size_t i = 0; i < t->jobs; i++) {
        char mark[COT_TODAY_MARK];
        size_t k = 0;
        if (t->job[i].sort == COT_TODAY_TRAYS || t->job[i].sort == COT_TODAY_COUNT) continue;
        cot_today_mark(&t->job[i], mark);
        while (k < n && strcmp(asked[k], mark) != 0) k++;
        if (k == n) return &t->job[i];
    }
    return NULL;
}

#define ASKED_MOST 400

/* Asks about the job and does as the key says; *more is false when that was the last. The book may move what it has
 * with each recording, so the list is read again for each. */
static enum cot_err ask_one(struct cot_cli *cli, int32_t day, const char *on, char (*asked)[COT_TODAY_MARK], size_t *n,
                            bool *more)
{
    struct cot_today t = {0};
    char *words[] = {(char *)(uintptr_t) "done"}, *none[] = {NULL};
    enum cot_err err = cot_today_read(cli->book, day, day, &t, &cli->fault);
    const struct cot_today_job *j = err == COT_OK && *n < ASKED_MOST ? next_job(&t, asked, *n) : NULL;
    *more = j != NULL;
    if (j) {
        cot_today_mark(j, asked[(*n)++]);
        err = cot_today_ask(cli, j);
        int key = err == COT_OK ? cot_key_read() : 'q';
        *more = key != 'q' && key != 'Q';
        if (key == 'y' || key == 'Y') err = do_job(cli, j, on, 1, words, none, 0);
    }
    cot_today_free(&t);
    return err;
}

/* A job that cannot be recorded so is said, and the next is asked about. */
static enum cot_err ask_all(struct cot_cli *cli, int32_t day, const char *on)
{
    static char asked[ASKED_MOST][COT_TODAY_MARK];
    size_t n = 0;
    bool more = true;
    enum cot_err err = COT_OK, first = COT_OK;
    while (more) {
        err = ask_one(cli, day, on, asked, &n, &more);
        if (err == COT_OK) continue;
        printf("%s\n", cli->fault.msg);
        if (first == COT_OK) first = err;
        if (err == COT_MEMORY || err == COT_IO) break;
    }
    if (n == 0) puts("Nothing of the list can be said done by a key.");
    return first;
}

enum cot_err cot_cmd_done(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_today t = {0};
    const struct cot_today_job *j = NULL;
    const char *mark = NULL, *on = NULL;
    char **rest = calloc((size_t)argc + 1, sizeof *rest);
    struct cot_args args = {0};
    int32_t day = 0;
    if (!rest) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    int n = take_own(argc, argv, rest, &mark, &on);
    char *asked[] = {argv[0], (char *)(uintptr_t) "--on", (char *)(uintptr_t)on};
    enum cot_err err = cot_args_read(cli, on ? 3 : 1, asked, opts, 0, 0, &args);
    if (err == COT_OK) err = staff_only(cli);
    if (err == COT_OK) err = cot_day_asked(cli, &args, opts, "on", &day);
    if (err == COT_OK) err = not_yet(cli, day);
    if (err == COT_OK && !mark && (n > 0 || !cot_at_terminal()))
        err = cot_misuse(cli, "say first which job is done, by the letters before it in `cotyl today`");
    if (err == COT_OK && !mark) err = ask_all(cli, day, on);
    if (err == COT_OK && mark) err = cot_today_read(cli->book, day, day, &t, &cli->fault);
    if (err == COT_OK && mark) err = find_job(cli, &t, mark, &j);
    if (err == COT_OK && mark) err = do_job(cli, j, on, argc, argv, rest, n);
    cot_today_free(&t);
    cot_args_free(&args);
    free(rest);
    return err;
}
