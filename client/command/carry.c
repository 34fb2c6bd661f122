/* export-unsent, carry: what a closed laptop could not send is written to a file, sealed as a page is, and recorded
 * again by one of the staff: the facts of the work only, each naming the entry it stands for. */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "args.h"
#include "commands.h"
#include "journal/journal.h"
#include "sync/sync.h"

const char cot_help_export_unsent[] =
    "Writes what this laptop could not send to a new file: for a laptop that was\n"
    "closed. One of the staff records it with `cotyl carry FILE`. The file is sealed\n"
    "with this laptop's key; it can be read by whoever has it.\n"
    "\n"
    "Example:\n"
    "  cotyl export-unsent bench-laptop.unsent\n";

const char cot_help_carry[] = "Records what another laptop wrote out with `cotyl export-unsent`, when that\n"
                              "laptop is closed: sowings, counts, losses, hand-overs, what happened in the\n"
                              "greenhouse. Notes, orders and promises are not carried. Each entry names the\n"
                              "one it stands for, so carrying twice counts once. Codes stay as they\n"
                              "are on the tags.\n"
                              "\n"
                              "Example:\n"
                              "  cotyl carry bench-laptop.unsent\n";

#define FILE_BYTES_MAX (64u << 20)

/* --- export-unsent
 * --------------------------------------------------------------------------------------------------------------- */

static enum cot_err write_pages(struct cot_cli *cli, int fd, const char *path, int64_t first, int64_t last)
{
    struct cot_buf page = {0};
    enum cot_err e = COT_OK;
    while (!e && first <= last) {
        int64_t end = last;
        cot_buf_clear(&page);
        e = cot_sync_page(cli, first, &end, &page);
        for (size_t at = 0; !e && at < page.len;) {
            ssize_t n = write(fd, page.s + at, page.len - at);
            if (n < 0) e = cot_fail(&cli->fault, COT_IO, "unable to write %.300s: %s", path, strerror(errno));
            else at += (size_t)n;
        }
        first = end + 1;
    }
    if (!e && fsync(fd) != 0) e = cot_fail(&cli->fault, COT_IO, "unable to write %.300s: %s", path, strerror(errno));
    cot_buf_free(&page);
    return e;
}

enum cot_err cot_cmd_export_unsent(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    struct cot_own_head own;
    int fd = -1;
    enum cot_err e = cot_args_read(cli, argc, argv, NULL, 1, 1, &a);
    if (e) return e;
    const char *path = a.word[0];
    e = cot_journal_own_head(cli->journal, &cli->me.house, cli->me.tag, &own, &cli->fault);
    if (!e && !own.unsent) e = cot_fail(&cli->fault, COT_NOT_FOUND, "nothing waits here to be sent");
    if (!e && (fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600)) < 0)
        e = cot_fail(&cli->fault, COT_IO, "unable to make %.300s: %s", path, strerror(errno));
    if (!e) e = write_pages(cli, fd, path, own.number - own.unsent + 1, own.number);
    if (fd >= 0) close(fd);
    if (e && fd >= 0) unlink(path);
    if (!e && cli->json) printf("{\"written\":%lld}\n", (long long)own.unsent);
    else if (!e)
        printf("%lld entr%s written. One of the staff records it: cotyl carry FILE\n", (long long)own.unsent,
               own.unsent == 1 ? "y" : "ies");
    cot_args_free(&a);
    return e;
}

/* --- carry
 * ------------------------------------------------------------------------------------------------------------------------
 */

struct carrying {
    struct cot_cli *cli;
    char *bytes;
    size_t len;
    struct cot_id *taken; /* digests that some entry here carries already */
    size_t taken_count, taken_cap;
    int64_t carried, before, others; /* now; already; not facts of the work */
};

static enum cot_err read_file(struct carrying *c, const char *path)
{
    struct stat st;
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    enum cot_err e = COT_OK;
    if (fd < 0 || fstat(fd, &st) != 0) {
        e = cot_fail(&c->cli->fault, errno == ENOENT ? COT_NOT_FOUND : COT_IO, "unable to read %.300s: %s", path,
                     strerror(errno));
        goto out;
    }
    if (st.st_size > FILE_BYTES_MAX) {
        e = cot_fail(&c->cli->fault, COT_TOO_LARGE, "%.300s is over %u MiB", path, FILE_BYTES_MAX >> 20);
        goto out;
    }
    c->bytes = malloc((size_t)st.st_size + 1);
    ssize_t n = c->bytes ? read(fd, c->bytes, (size_t)st.st_size) : -1;
    if (n != st.st_size) e = cot_fail(&c->cli->fault, COT_IO, "unable to read %.300s", path);
    c->len = n > 0 ? (size_t)n : 0;
out:
    if (fd >= 0) close(fd);
    return e;
}

/* A page ends where the next line starts with a seal. */
static size_t page_end(const struct carrying *c, size_t from)
{
    static const char mark[] = "\n{\"seal\":";
    const char *next = c->len > from + 1 ? memmem(c->bytes + from + 1, c->len - from - 1, mark, sizeof mark - 1) : NULL;
    return next ? (size_t)(next - c->bytes) + 1 : c->len;
}

static enum cot_err note_carried(void *ctx, const struct cot_ledger_row *r, struct cot_fault *fault)
{
    struct carrying *c = ctx;
    struct cot_fact f;
    if (!r->body || !memmem(r->body, r->len, "\"carries\":", 10)) return COT_OK;
    enum cot_err e = cot_entry_parse(c->cli->decoder, r->body, r->len, &f, fault);
    if (e || !f.has_carries) return e;
    if (c->taken_count == c->taken_cap) {
        size_t cap = c->taken_cap ? c->taken_cap * 2 : 64;
        struct cot_id *more = realloc(c->taken, cap * sizeof *more);
        if (!more) return cot_fail(fault, COT_MEMORY, "out of memory");
        c->taken = more;
        c->taken_cap = cap;
    }
    c->taken[c->taken_count++] = f.carries;
    return COT_OK;
}

static enum cot_err note_own(void *ctx, const struct cot_own *o, struct cot_fault *fault)
{
    struct cot_ledger_row r = {.body = o->body, .len = o->len};
    return note_carried(ctx, &r, fault);
}

static bool already(struct carrying *c, const struct cot_id *digest, const struct cot_id *carries)
{
    struct cot_note note;
    if (cot_book_verdict(c->cli->book, digest, &note)) return true;
    for (size_t i = 0; i < c->taken_count; i++)
        if (cot_id_cmp(&c->taken[i], carries) == 0) return true;
    return false;
}

static enum cot_err carry_entry(struct carrying *c, const struct cot_page_entry *entry)
{
    struct cot_fact f;
    struct cot_cli *cli = c->cli;
    enum cot_err e = cot_entry_parse(cli->decoder, entry->line, entry->len, &f, &cli->fault);
    if (e) return e;
    if (!f.has_carries) f.carries = entry->digest;
    f.has_carries = true;
    if (!(cot_kind_row(f.kind)->flags & COT_KIND_PHYSICAL)) {
        c->others++;
        return COT_OK;
    }
    if (already(c, &entry->digest, &f.carries)) {
        c->before++;
        return COT_OK;
    }
    e = cot_record(cli, &f, 1, NULL);
    if (!e) c->carried++;
    return e;
}

static enum cot_err carry_page(struct carrying *c, const char *bytes, size_t len)
{
    struct cot_cli *cli = c->cli;
    struct cot_page page = {0};
    struct cot_standing from = {0};
    struct cot_seal seal;
    const char *end = memchr(bytes, '\n', len);
    if (len < sizeof "{\"seal\":" - 1 || memcmp(bytes, "{\"seal\":", sizeof "{\"seal\":" - 1) != 0) {
        (void)cot_fail(&cli->fault, COT_MALFORMED, "this is not a file of export-unsent");
        return cot_hint(&cli->fault, "give the file that `cotyl export-unsent FILE` wrote on the closed laptop");
    }
    enum cot_err e = cot_page_read(bytes, len, NULL, cli->decoder, &page, &cli->fault);
    if (e || !end) return e ? e : cot_fail(&cli->fault, COT_MALFORMED, "not a file of export-unsent");
    seal = page.seal;
    cot_book_device(cli->book, seal.tag, INT64_MAX, &from);
    if (memcmp(&seal.house, &cli->me.house, sizeof seal.house) != 0)
        e = cot_fail(&cli->fault, COT_NOT_ALLOWED, "the file is of another house");
    else if (!from.known) e = cot_fail(&cli->fault, COT_NOT_FOUND, "laptop %s is not known here: sync first", seal.tag);
    else if (!from.closed) {
        e = cot_fail(&cli->fault, COT_CONFLICT, "laptop %s is not closed: it can send what it wrote itself", seal.tag);
        cot_hint(&cli->fault, "when it can't any more, a manager closes it first: cotyl close %s", seal.tag);
    } else e = cot_seal_open(page.jws, page.jws_len, &from.key, &seal, &cli->fault);
    for (size_t i = 0; !e && i < page.count; i++) e = carry_entry(c, &page.entry[i]);
    cot_page_free(&page);
    return e;
}

static void print_carried(const struct carrying *c)
{
    if (c->cli->json) {
        printf("{\"carried\":%lld,\"already\":%lld,\"left\":%lld}\n", (long long)c->carried, (long long)c->before,
               (long long)c->others);
        return;
    }
    printf("%lld entr%s carried over", (long long)c->carried, c->carried == 1 ? "y" : "ies");
    if (c->before) printf(", %lld here already", (long long)c->before);
    puts(".");
    if (c->others) printf("%lld left out: notes, orders and promises are not carried.\n", (long long)c->others);
}

enum cot_err cot_cmd_carry(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    struct carrying c = {.cli = cli};
    enum cot_err e = cot_args_read(cli, argc, argv, NULL, 1, 1, &a);
    if (e) return e;
    e = read_file(&c, a.word[0]);
    if (!e && !c.len) e = cot_fail(&cli->fault, COT_MALFORMED, "%.300s is empty", a.word[0]);
    if (!e) e = cot_journal_walk_ledger(cli->journal, 0, note_carried, &c, &cli->fault);
    if (!e) e = cot_journal_walk_own(cli->journal, cli->me.tag, COT_OWN_UNSENT, note_own, &c, &cli->fault);
    for (size_t at = 0; !e && at < c.len;) {
        size_t end = page_end(&c, at);
        e = carry_page(&c, c.bytes + at, end - at);
        at = end;
    }
    if (!e) print_carried(&c);
    free(c.bytes);
    free(c.taken);
    cot_args_free(&a);
    return e;
}
