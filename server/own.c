#include "own.h"

#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "cotyledger/wire/entry.h"

struct writing {
    struct cot_page_entry *line;
    struct cot_kept kept;
    struct cot_decoder *decoder;
    struct cot_fact *read; /* each entry as it reads back */
    struct cot_id chain;
};

static enum cot_err write_line(struct cot_session *s, struct cot_fact *f, struct writing *w, size_t i, int64_t now,
                               struct cot_fault *fault)
{
    struct cot_buf line = {0};
    f->house = s->id;
    memcpy(f->tag, COT_OWN_TAG, sizeof COT_OWN_TAG);
    f->number = s->head.number + 1 + (int64_t)i;
    f->clock = now;
    f->tick = (int32_t)i;
    f->seen = s->head.position;
    cot_chance(f->salt, sizeof f->salt, "salt");
    strncpy(f->kind_name, cot_kind_row(f->kind)->name, sizeof f->kind_name - 1);
    if (!cot_fact_check(f, f->flaw)) return cot_fail(fault, COT_INVALID, "%s", f->flaw);
    enum cot_err err = cot_entry_write(f, &line, fault);
    if (!err) err = cot_entry_parse(w->decoder, line.s, line.len, w->read, fault);
    if (err) {
        cot_buf_free(&line);
        return err;
    }
    struct cot_page_entry *e = &w->line[i];
    e->line = line.s; /* owned by the array from here on */
    e->len = line.len;
    cot_digest(e->line, e->len, &e->digest);
    cot_chain_next(&w->chain, f->number, &e->digest);
    cot_kept_add(&w->kept, w->read, &e->digest);
    return COT_OK;
}

static enum cot_err add(struct cot_session *s, struct writing *w, size_t n, int64_t now, struct cot_fault *fault)
{
    const struct cot_keypair *key;
    enum cot_err err = cot_session_key(s, &key, fault);
    if (err) return err;
    struct cot_buf jws = {0};
    struct cot_seal seal = {.house = s->id,
                            .tag = COT_OWN_TAG,
                            .first = s->head.number + 1,
                            .last = s->head.number + (int64_t)n,
                            .before = s->head.journal,
                            .after = w->chain};
    cot_seal_sign(&seal, key, &jws);
    struct cot_new_page page = {.tag = COT_OWN_TAG,
                                .receipt = now > s->head.receipt ? now : s->head.receipt,
                                .seal = jws.s,
                                .seal_len = jws.len,
                                .journal = w->chain};
    err = jws.failed ? cot_fail(fault, COT_MEMORY, "out of memory")
                     : cot_session_add(s, &page, &w->kept, w->line, 0, fault);
    cot_buf_free(&jws);
    return err;
}

enum cot_err cot_own_write(struct cot_session *s, struct cot_fact *fact, size_t n, struct cot_id *digest,
                           struct cot_fault *fault)
{
    struct writing w = {.line = calloc(n, sizeof *w.line),
                        .decoder = cot_decoder_new(),
                        .read = malloc(sizeof *w.read),
                        .chain = s->head.journal};
    int64_t now = cot_clock_ms();
    enum cot_err err = w.line && w.decoder && w.read ? COT_OK : cot_fail(fault, COT_MEMORY, "out of memory");
    for (size_t i = 0; !err && i < n; i++) err = write_line(s, &fact[i], &w, i, now, fault);
    if (!err) err = add(s, &w, n, now, fault);
    for (size_t i = 0; !err && digest && i < n; i++) digest[i] = w.line[i].digest;
    for (size_t i = 0; w.line && i < n; i++) free((char *)w.line[i].line);
    free(w.line);
    free(w.read);
    cot_kept_free(&w.kept);
    cot_decoder_free(w.decoder);
    return err;
}
