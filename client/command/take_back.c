/* take-back: an entry recorded by mistake is answered by one that takes it back. */
#include "commands.h"
#include "entries.h"
#include "work.h"

const char cot_help_take_back[] = "Takes back what was recorded by mistake. Nothing is wiped out: it stays in the\n"
                                  "record, and no longer counts. What it takes back is shown.\n"
                                  "\n"
                                  "  last          what this laptop recorded last and did not take back\n"
                                  "  CODE          the sowing, potting on or order line that made this code\n"
                                  "  CHARACTERS    the first 8 or more of the characters in brackets that\n"
                                  "                `cotyl history` shows\n"
                                  "\n"
                                  "  --why TEXT    the reason\n"
                                  "\n"
                                  "Members, laptops and house rules are not taken back: set them anew.\n"
                                  "\n"
                                  "Examples:\n"
                                  "  cotyl take-back last\n"
                                  "  cotyl take-back A-0012-5 --why \"sown once, recorded twice\"\n";

static const struct cot_opt opts[] = {{"why", "TEXT", COT_F_WHY}, COT_OPT_END};

static enum cot_err check_entry(struct cot_job *w, const struct cot_note *note)
{
    struct cot_cli *cli = w->cli;
    const struct cot_kind_row *row = cot_kind_row(note->fact->kind);
    if (row->flags & COT_KIND_ADMIN) {
        (void)cot_fail(&cli->fault, COT_INVALID, "this kind of record is not taken back: %s", row->what);
        return cot_hint(&cli->fault, "set it anew: `cotyl rule`, `cotyl invite --member`, `cotyl close`");
    }
    if (note->verdict == COT_TAKEN_BACK)
        return cot_fail(&cli->fault, COT_INVALID, "%s: it is taken back already", w->args.word[0]);
    if (note->fact->kind == COT_K_TAKEN_BACK) {
        (void)cot_fail(&cli->fault, COT_INVALID, "a taking back is not taken back");
        return cot_hint(&cli->fault, "record again what was taken back by mistake");
    }
    return COT_OK;
}

/* The row's scope is that of the entry taken back. */
static void take_scope(struct cot_job *w, const struct cot_fact *f, const struct cot_id *digest)
{
    struct cot_id farm;
    if (cot_fact_scope(f, digest, &farm) == COT_SCOPE_FARM) cot_job_farm(w, &farm);
}

static void warn_later(struct cot_job *w, const struct cot_id *id)
{
    size_t n, later = 0;
    const struct cot_note *note = cot_book_history(w->cli->book, id, &n);
    const struct cot_thing *t = cot_book_thing(w->cli->book, id);
    for (size_t i = 0; t && i < n; i++)
        if (cot_id_cmp(&note[i].digest, id) != 0 && note[i].verdict == COT_BOOKED) later++;
    if (later > 0)
        cot_answer_warn(&w->answer, "%zu later record%s about %s %s left without it.", later, later == 1 ? "" : "s",
                        cot_thing_name(t), later == 1 ? "is" : "are");
}

/* Said before it is recorded. */
static enum cot_err show(struct cot_job *w, const struct cot_fact *f)
{
    struct cot_buf text = {0}, out = {0};
    enum cot_err err = COT_OK;
    cot_buf_str(&text, "This takes back: ");
    cot_entry_words(w->cli, f, &text);
    cot_buf_str(&text, ".");
    if (text.s) cot_put_wrapped(&out, text.s, text.len, 2);
    if (text.failed || out.failed) err = cot_fail(&w->cli->fault, COT_MEMORY, "out of memory: nothing was recorded");
    else if (!w->cli->json && (fputs(out.s, stdout) < 0 || fflush(stdout) != 0))
        err = cot_fail(&w->cli->fault, COT_IO, "unable to write to standard output: nothing was recorded");
    cot_buf_free(&text);
    cot_buf_free(&out);
    return err;
}

enum cot_err cot_cmd_take_back(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_job w;
    struct cot_note note;
    struct cot_id id;
    enum cot_err err = cot_job_start(&w, cli, COT_K_TAKEN_BACK, argc, argv, opts, 1, 1);
    if (err == COT_OK) err = cot_entry_find(cli, w.args.word[0], &id);
    if (err == COT_OK && (!cot_book_verdict(cli->book, &id, &note) || !note.fact))
        err = cot_fail(&cli->fault, COT_NOT_FOUND, "%s: it is not here yet: `cotyl sync` first", w.args.word[0]);
    if (err == COT_OK) err = check_entry(&w, &note);
    if (err == COT_OK) err = show(&w, note.fact);
    if (err != COT_OK) goto out;
    w.fact.has_about = true;
    w.fact.about = id;
    take_scope(&w, note.fact, &id);
    warn_later(&w, &id);
    err = cot_job_record(&w);
    if (err == COT_OK) cot_answer_line(&w.answer, "Taken back. The reports no longer count it.");
out:
    return cot_job_end(&w, err);
}
