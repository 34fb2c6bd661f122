/* answer: the house's word on a queried entry or a request. */
#include <string.h>

#include "answer.h"
#include "args.h"
#include "commands.h"
#include "entries.h"

const char cot_help_answer[] = "Answers an entry that is queried, or a change that waits for the house's word.\n"
                               "The answer stands whatever arrives later. Say which by the eight characters\n"
                               "that `cotyl status` shows, or by the code of the line or batch when only one\n"
                               "entry about it waits.\n"
                               "\n"
                               "  --as booked   it stands\n"
                               "  --as aside    it is left out\n"
                               "  --why TEXT    shown to whoever recorded it\n"
                               "\n"
                               "  cotyl answer bX3kq0Zw --as booked --why \"rang the farm\"\n";

static bool answerable(const struct cot_note *note)
{
    return note->verdict == COT_QUERIED || note->verdict == COT_REQUEST || note->verdict == COT_ASIDE;
}

/* The only entry about a thing that waits. */
static enum cot_err one_about(struct cot_cli *cli, const struct cot_id *thing, const char *typed, struct cot_note *note)
{
    size_t n, waiting = 0;
    const struct cot_note *all = cot_book_history(cli->book, thing, &n);
    for (size_t i = 0; i < n; i++) {
        if (all[i].verdict != COT_QUERIED && all[i].verdict != COT_REQUEST) continue;
        *note = all[i];
        waiting++;
    }
    if (waiting == 1) return COT_OK;
    if (waiting == 0) {
        cot_fail(&cli->fault, COT_CONFLICT, "nothing about \"%.40s\" waits for an answer", typed);
        return cot_hint(&cli->fault, "cotyl status lists what does");
    }
    cot_fail(&cli->fault, COT_AMBIGUOUS, "%zu entries about \"%.40s\" wait for an answer", waiting, typed);
    return cot_hint(&cli->fault, "cotyl status lists them, each with the eight characters to name it by");
}

static enum cot_err which(struct cot_cli *cli, const char *typed, struct cot_note *note)
{
    struct cot_id id;
    enum cot_err e = cot_entry_find(cli, typed, &id);
    if (e) return e;
    if (!cot_book_verdict(cli->book, &id, note))
        return cot_fail(&cli->fault, COT_NOT_FOUND, "no entry \"%.40s\" is here", typed);
    if (answerable(note)) return COT_OK;
    return one_about(cli, &id, typed, note);
}

enum cot_err cot_cmd_answer(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"as", "booked|aside", COT_F_AS}, {"why", "TEXT", COT_F_WHY}, COT_OPT_END};
    struct cot_args a;
    struct cot_note note;
    struct cot_answer out = {0};
    struct cot_fact f;
    memset(&f, 0, sizeof f);
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 1, 1, &a);
    if (e) return e;
    if (!cot_args_value(&a, opts, "as")) e = cot_fail(&cli->fault, COT_USAGE, "answer needs --as booked or --as aside");
    if (!e) e = which(cli, a.word[0], &note);
    if (!e) e = cot_args_fields(cli, &a, opts, &f);
    if (!e) {
        struct cot_buf words = {0};
        f.kind = COT_K_ANSWER;
        f.has_about = true;
        f.about = note.digest;
        f.has_farm = note.fact->has_farm;
        f.farm = note.fact->farm;
        cot_entry_words(cli, note.fact, &words);
        cot_answer_line(&out, "%s: %s", cot_fact_int(&f, COT_F_AS, 0) == 0 ? "Booked" : "Left out",
                        words.s ? words.s : "");
        cot_buf_free(&words);
        e = cot_answer_record(cli, &out, &f, 1);
    }
    if (!e) e = cot_answer_give(cli, &out);
    cot_answer_free(&out);
    cot_args_free(&a);
    return e;
}
