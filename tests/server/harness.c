#include "harness.h"

#include <check.h>
#include <curl/curl.h>
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <pwd.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static void pause_ms(long ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000};
    nanosleep(&t, NULL);
}

/* --- The program
 * ------------------------------------------------------------------------------------------------------ */
void cot_server_make(struct cot_server *s)
{
    memset(s, 0, sizeof *s);
    ck_assert_int_ge(sodium_init(), 0);
    const char *tmp = getenv("TMPDIR");
    snprintf(s->scratch, sizeof s->scratch, "%s/cotyld-test-XXXXXX", tmp && *tmp ? tmp : "/tmp");
    ck_assert_ptr_nonnull(mkdtemp(s->scratch));
    ck_assert_int_eq(chmod(s->scratch, 0711), 0); /* cotyld gives up root before it comes here */
    snprintf(s->data, sizeof s->data, "%s/d", s->scratch);
    snprintf(s->log, sizeof s->log, "%s/log", s->scratch);
}

static char *read_whole(const char *path)
{
    FILE *f = fopen(path, "re");
    struct cot_buf b = {0};
    char part[4096];
    cot_buf_str(&b, "");
    for (size_t n; f && (n = fread(part, 1, sizeof part, f)) > 0;) cot_buf_put(&b, part, n);
    if (f) fclose(f);
    return b.s ? b.s : strdup("");
}

char *cot_server_log(const struct cot_server *s)
{
    return read_whole(s->log);
}

static pid_t run_on(const struct cot_server *s, const char *database, const char *const *args, const char *out)
{
    const char *argv[32] = {COTYLD_PROGRAM, database ? "--database" : "--data", database ? database : s->data};
    struct stat st;
    int n = 3;
    for (; args && *args && n < 31; args++) argv[n++] = *args;
    pid_t pid = fork();
    if (pid != 0) return pid;
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    int err = open(s->log, O_WRONLY | O_CREAT | O_APPEND, 0644),
        to = open(out ? out : "/dev/null", O_WRONLY | O_CREAT | O_TRUNC, 0644);
    dup2(err, 2);
    dup2(to, 1);
    /* The database knows this system's users: be the one it runs as from the start. */
    if (database && getuid() == 0 && (stat(s->data, &st) != 0 || setgid(st.st_gid) != 0 || setuid(st.st_uid) != 0))
        _exit(126);
    execv(argv[0], (char *const *)argv);
    _exit(127);
}

static pid_t run(const struct cot_server *s, const char *const *args, const char *out)
{
    return run_on(s, NULL, args, out);
}

static int wait_status(pid_t pid)
{
    int status;
    while (waitpid(pid, &status, 0) < 0) ck_assert_int_eq(errno, EINTR);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

/* The port of the last "serving" line after `from` bytes of log; 0: none yet. */
static int find_port(const struct cot_server *s, size_t from)
{
    char *log = cot_server_log(s);
    int port = 0;
    const char *line = strlen(log) > from ? strstr(log + from, " serving ") : NULL;
    const char *at = line ? strstr(line, " port=") : NULL;
    if (at) port = atoi(at + 6);
    free(log);
    return port;
}

static bool start_on(struct cot_server *s, const char *database, const char *const *more, int *status)
{
    const char *args[32] = {"--listen", "127.0.0.1:0"};
    int n = more && *more && strcmp(*more, "--listen") == 0 ? 0 : 2, ended; /* or the port that the test wants again */
    for (; more && *more && n < 31; more++) args[n++] = *more;
    char *before = cot_server_log(s);
    size_t from = strlen(before);
    free(before);
    s->pid = run_on(s, database, args, NULL);
    ck_assert_int_gt(s->pid, 0);
    while (!(s->port = find_port(s, from))) {
        if (waitpid(s->pid, &ended, WNOHANG) == s->pid) {
            s->pid = 0;
            if (status) *status = WIFEXITED(ended) ? WEXITSTATUS(ended) : -WTERMSIG(ended);
            return false;
        }
        pause_ms(10);
    }
    return true;
}

bool cot_server_start(struct cot_server *s, const char *const *more, int *status)
{
    return start_on(s, NULL, more, status);
}

bool cot_server_start_on(struct cot_server *s, const char *database)
{
    return start_on(s, database, NULL, NULL);
}

int cot_server_stop(struct cot_server *s, int signal)
{
    pid_t pid = s->pid;
    s->pid = 0;
    if (pid <= 0) return 0;
    kill(pid, signal);
    return wait_status(pid);
}

/* After a hard end the database is told to stop by the system, and takes a moment. */
static void wait_database_gone(const struct cot_server *s)
{
    char path[120];
    snprintf(path, sizeof path, "%s/pg/postmaster.pid", s->data);
    for (int i = 0; i < 3000 && access(path, F_OK) == 0; i++) pause_ms(10);
}

static int remove_one(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
    (void)st, (void)type, (void)ftw;
    return remove(path);
}

void cot_server_remove(struct cot_server *s)
{
    if (!*s->scratch) return;
    cot_server_stop(s, SIGTERM);
    wait_database_gone(s);
    nftw(s->scratch, remove_one, 32, FTW_DEPTH | FTW_PHYS);
    *s->scratch = '\0';
}

int cot_server_command(struct cot_server *s, char **out, const char *const *args)
{
    char path[100];
    snprintf(path, sizeof path, "%s/out-XXXXXX", s->scratch);
    int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    close(fd);
    int status = wait_status(run(s, args, path));
    if (out) *out = read_whole(path);
    unlink(path);
    return status;
}

void cot_server_conninfo(const struct cot_server *s, const char *role, char *out, size_t len)
{
    snprintf(out, len, "host=%s/s port=5432 dbname=cotyledger user=%s", s->data, role);
}

void cot_as_user(const struct cot_server *s, bool begin)
{
    struct stat st;
    if (getuid() != 0) return;
    if (!begin) {
        ck_assert_int_eq(seteuid(0), 0);
        ck_assert_int_eq(setegid(0), 0);
        return;
    }
    ck_assert_int_eq(stat(s->data, &st), 0);
    /* Its group too: a scratch folder may let the server's user through by the group alone. */
    ck_assert_int_eq(setegid(st.st_gid), 0);
    ck_assert_int_eq(seteuid(st.st_uid), 0);
}

/* --- HTTP
 * ---------------------------------------------------------------------------------------------------------------- */
void cot_reply_free(struct cot_reply *r)
{
    free(r->body);
    memset(r, 0, sizeof *r);
}

enum cot_err cot_reply_code(const struct cot_reply *r)
{
    struct cot_fault fault;
    if (r->status == 200) return COT_OK;
    cot_problem_read(r->body ? r->body : "", r->len, &fault);
    return fault.code;
}

static size_t on_body(char *bytes, size_t size, size_t n, void *ctx)
{
    cot_buf_put(ctx, bytes, size * n);
    return size * n;
}

static struct curl_slist *header_list(const struct cot_http_header *headers, size_t n)
{
    struct curl_slist *list = curl_slist_append(NULL, "Expect:");
    for (size_t i = 0; i < n; i++) {
        char line[4096];
        if (!headers[i].value) continue;
        snprintf(line, sizeof line, "%s: %s", headers[i].name, headers[i].value);
        list = curl_slist_append(list, line);
    }
    return list;
}

bool cot_http_call(const struct cot_server *s, const char *method, const char *target,
                   const struct cot_http_header *headers, size_t n, const void *body, size_t len, struct cot_reply *out)
{
    char url[2048];
    struct cot_buf got = {0};
    CURL *c = curl_easy_init();
    struct curl_slist *list = header_list(headers, n);
    memset(out, 0, sizeof *out);
    ck_assert_ptr_nonnull(c);
    snprintf(url, sizeof url, "%s://127.0.0.1:%d%s", s->tls ? "https" : "http", s->port, target);
    curl_easy_setopt(c, CURLOPT_URL, url);
    curl_easy_setopt(c, CURLOPT_PATH_AS_IS, 1L);
    curl_easy_setopt(c, CURLOPT_SSL_VERIFYPEER, 0L); /* the certificate of a test is made by the test */
    curl_easy_setopt(c, CURLOPT_SSL_VERIFYHOST, 0L);
    curl_easy_setopt(c, CURLOPT_CUSTOMREQUEST, method);
    curl_easy_setopt(c, CURLOPT_HTTPHEADER, list);
    curl_easy_setopt(c, CURLOPT_TIMEOUT, 60L);
    curl_easy_setopt(c, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(c, CURLOPT_WRITEFUNCTION, on_body);
    curl_easy_setopt(c, CURLOPT_WRITEDATA, &got);
    if (strcmp(method, "GET") != 0 || len) {
        curl_easy_setopt(c, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)len);
        curl_easy_setopt(c, CURLOPT_POSTFIELDS, body ? body : "");
    }
    bool answered = curl_easy_perform(c) == CURLE_OK;
    long status = 0;
    const char *type = NULL;
    curl_easy_getinfo(c, CURLINFO_RESPONSE_CODE, &status);
    curl_easy_getinfo(c, CURLINFO_CONTENT_TYPE, &type);
    out->status = (int)status;
    snprintf(out->type, sizeof out->type, "%s", type ? type : "");
    out->body = got.s;
    out->len = got.len;
    curl_slist_free_all(list);
    curl_easy_cleanup(c);
    return answered && status != 0;
}

static const char *usual_type(const char *method, const char *path)
{
    if (strcmp(path, "/v1/pages") == 0) return "application/x-ndjson";
    return strcmp(method, "POST") == 0 ? "application/json" : "application/octet-stream";
}

static int64_t now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_REALTIME, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

bool cot_signed_call_changed(const struct cot_device *d, const char *method, const char *path, const char *query,
                             const char *type, const void *body, size_t len,
                             void (*change)(struct cot_signed *s, void *ctx), void *ctx, struct cot_reply *out)
{
    struct cot_buf digest = {0}, input = {0}, signature = {0};
    char house[COT_HOUSE_TEXT], target[1024];
    struct cot_signature_params p = {.created = (now_ms() + d->clock_off) / 1000};
    if (!type) type = usual_type(method, path);
    if (!query) query = "";
    struct cot_request r = {.method = method,
                            .path = path,
                            .query = query,
                            .content_type = type,
                            .body = body ? body : "",
                            .body_len = len,
                            .house = d->house};
    randombytes_buf(p.nonce, sizeof p.nonce);
    memcpy(p.tag, d->tag, sizeof p.tag);
    cot_request_sign(&r, &p, &d->key, &digest, &input, &signature);
    cot_house_text(&d->house, house);
    struct cot_signed all = {strdup(method), strdup(path),     strdup(query),   strdup(type),
                             strdup(house),  strdup(digest.s), strdup(input.s), strdup(signature.s)};
    if (change) change(&all, ctx);
    snprintf(target, sizeof target, "%s%s%s", all.path, *all.query ? "?" : "", all.query);
    struct cot_http_header headers[] = {{"Cotyledger-House", all.house},
                                        {"Content-Type", all.type},
                                        {"Content-Digest", all.digest},
                                        {"Signature-Input", all.input},
                                        {"Signature", all.signature}};
    bool answered = cot_http_call(d->server, all.method, target, headers, 5, body, len, out);
    char *parts[] = {all.method, all.path, all.query, all.type, all.house, all.digest, all.input, all.signature};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) free(parts[i]);
    cot_buf_free(&digest);
    cot_buf_free(&input);
    cot_buf_free(&signature);
    return answered;
}

bool cot_signed_call(const struct cot_device *d, const char *method, const char *path, const char *query,
                     const char *type, const void *body, size_t len, struct cot_reply *out)
{
    return cot_signed_call_changed(d, method, path, query, type, body, len, NULL, NULL, out);
}

int64_t cot_json_int(const char *json, size_t len, const char *name)
{
    int64_t v = 0;
    ck_assert_msg(cot_problem_int(json, len, name, &v), "no number \"%s\" in %.*s", name, (int)len, json);
    return v;
}

bool cot_json_text(const char *json, size_t len, const char *name, char *out, size_t out_len)
{
    return cot_problem_text(json, len, name, out, out_len);
}

/* --- Devices
 * --------------------------------------------------------------------------------------------------------------- */
static void read_id(const struct cot_reply *r, const char *name, struct cot_id *out)
{
    char text[64];
    if (!cot_json_text(r->body, r->len, name, text, sizeof text)) return; /* null */
    ck_assert(cot_id_parse(text, strlen(text), out));
}

static void take_answer(struct cot_device *d, const struct cot_reply *r)
{
    char part[16];
    ck_assert(cot_json_text(r->body, r->len, "tag", d->tag, sizeof d->tag));
    ck_assert(cot_json_text(r->body, r->len, "part", part, sizeof part));
    d->part = (enum cot_part)cot_word_index(COT_F_PART, part, strlen(part));
    read_id(r, "house_key", &d->house_key);
    read_id(r, "member", &d->member);
    read_id(r, "farm", &d->farm);
    d->joined = cot_json_int(r->body, r->len, "position");
    d->number = 0;
    cot_chain_start(&d->house, d->tag, &d->chain);
}

bool cot_device_join(const struct cot_server *s, const char *line, struct cot_device *out, struct cot_reply *reply)
{
    struct cot_invitation i;
    struct cot_fault fault = {0};
    struct cot_id hash;
    struct cot_buf proof = {0}, body = {0};
    struct cot_reply r;
    char house[COT_HOUSE_TEXT];
    ck_assert_msg(cot_invitation_parse(line, strcspn(line, "\n"), &i, &fault) == COT_OK, "%s", fault.msg);
    memset(out, 0, sizeof *out);
    out->server = s;
    out->house = i.house;
    cot_keypair_new(&out->key);
    cot_invitation_hash(i.secret, &hash);
    cot_join_sign(&i.house, &hash, &out->key, &proof);
    cot_buf_fmt(&body, "{\"proof\":\"%s\",\"label\":\"bench laptop\"}", proof.s);
    cot_house_text(&i.house, house);
    struct cot_http_header headers[] = {{"Cotyledger-House", house}, {"Content-Type", "application/json"}};
    ck_assert(cot_http_call(s, "POST", "/v1/join", headers, 2, body.s, body.len, &r));
    bool good = r.status == 200;
    if (good) take_answer(out, &r);
    if (reply) *reply = r;
    else cot_reply_free(&r);
    cot_buf_free(&proof);
    cot_buf_free(&body);
    return good;
}

void cot_found(struct cot_server *s, const char *name, struct cot_device *manager)
{
    char *invitation;
    ck_assert_int_eq(cot_server_command(s, &invitation, COT_ARGS("new-house", name, "--manager", "Mara Quill")), 0);
    ck_assert(cot_device_join(s, invitation, manager, NULL));
    ck_assert_int_eq(manager->part, COT_PART_MANAGER);
    free(invitation);
}

static void invite(struct cot_device *manager, const struct cot_id *member, const struct cot_id *hash)
{
    char member_text[COT_ID_TEXT], hash_text[COT_ID_TEXT], body[300];
    struct cot_reply r;
    cot_id_text(member, member_text);
    cot_id_text(hash, hash_text);
    int n = snprintf(body, sizeof body, "{\"member\":\"%s\",\"hash\":\"%s\",\"expires\":%lld}", member_text, hash_text,
                     (long long)now_ms() + 86400000);
    ck_assert(cot_signed_call(manager, "POST", "/v1/invitations", NULL, NULL, body, (size_t)n, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    cot_reply_free(&r);
}

void cot_device_invite(struct cot_device *manager, const char *name, enum cot_part part, const struct cot_id *farm,
                       struct cot_device *out)
{
    struct cot_fact f = cot_fact_named(COT_K_MEMBER, name);
    struct cot_invitation i = {.house = manager->house, .url = "http://127.0.0.1:7443"};
    struct cot_id hash;
    struct cot_buf line = {0};
    ck_assert(cot_fact_set_int(&f, COT_F_PART, part));
    if (farm) {
        f.has_farm = true;
        f.farm = *farm;
    }
    struct cot_id member = cot_device_write(manager, &f);
    randombytes_buf(i.secret, sizeof i.secret);
    crypto_hash_sha256(i.fingerprint.b, manager->house_key.b, sizeof manager->house_key.b);
    cot_invitation_hash(i.secret, &hash);
    invite(manager, &member, &hash);
    cot_invitation_text(&i, &line);
    ck_assert(cot_device_join(manager->server, line.s, out, NULL));
    ck_assert_int_eq(out->part, part);
    cot_buf_free(&line);
}

/* --- Pages
 * ----------------------------------------------------------------------------------------------------------------- */
void cot_draft_start(struct cot_draft *p, struct cot_device *d)
{
    memset(p, 0, sizeof *p);
    p->device = d;
    p->before = d->chain;
    p->first = d->number + 1;
}

struct cot_id cot_draft_add(struct cot_draft *p, struct cot_fact *f)
{
    struct cot_device *d = p->device;
    struct cot_buf line = {0};
    struct cot_fault fault = {0};
    f->house = d->house;
    memcpy(f->tag, d->tag, sizeof f->tag);
    f->number = ++d->number;
    f->clock = now_ms() + d->clock_off;
    f->has_member = true;
    f->member = d->member;
    f->seen = d->joined;
    randombytes_buf(f->salt, sizeof f->salt);
    ck_assert_msg(cot_entry_write(f, &line, &fault) == COT_OK, "%s", fault.msg);
    cot_digest(line.s, line.len, &p->last);
    cot_chain_next(&d->chain, f->number, &p->last);
    cot_buf_put(&p->lines, line.s, line.len);
    cot_buf_str(&p->lines, "\n");
    cot_buf_free(&line);
    return p->last;
}

void cot_draft_end(struct cot_draft *p, struct cot_buf *page)
{
    struct cot_device *d = p->device;
    struct cot_seal seal = {
        .house = d->house, .first = p->first, .last = d->number, .before = p->before, .after = d->chain};
    struct cot_buf jws = {0};
    memcpy(seal.tag, d->tag, sizeof seal.tag);
    cot_seal_sign(&seal, &d->key, &jws);
    memset(page, 0, sizeof *page);
    cot_page_start(page, jws.s, jws.len);
    cot_buf_put(page, p->lines.s, p->lines.len);
    cot_buf_free(&jws);
    cot_buf_free(&p->lines);
}

bool cot_send(const struct cot_device *d, const struct cot_buf *page, struct cot_reply *out)
{
    return cot_signed_call(d, "POST", "/v1/pages", NULL, NULL, page->s, page->len, out);
}

struct cot_id cot_device_write(struct cot_device *d, struct cot_fact *f)
{
    struct cot_draft p;
    struct cot_buf page;
    struct cot_reply r;
    cot_draft_start(&p, d);
    struct cot_id digest = cot_draft_add(&p, f);
    cot_draft_end(&p, &page);
    ck_assert(cot_send(d, &page, &r));
    ck_assert_msg(r.status == 200, "%s", r.body);
    cot_reply_free(&r);
    cot_buf_free(&page);
    return digest;
}

struct cot_fact cot_fact_named(enum cot_kind kind, const char *name)
{
    struct cot_fact f = {.kind = kind};
    ck_assert(cot_fact_set_text(&f, COT_F_NAME, name, strlen(name)));
    return f;
}

struct cot_fact cot_fact_note(const char *text)
{
    struct cot_fact f = {.kind = COT_K_NOTE};
    ck_assert(cot_fact_set_text(&f, COT_F_TEXT, text, strlen(text)));
    return f;
}

struct cot_fact cot_fact_line(const struct cot_device *d, int64_t number, const struct cot_id *farm,
                              const struct cot_id *variety, int64_t plants, const char *day)
{
    static char code[64][COT_CODE_TEXT];
    static unsigned next;
    struct cot_fact f = {.kind = COT_K_LINE, .has_farm = true, .farm = *farm};
    char *mine = code[next++ % 64];
    int32_t date;
    cot_code_make(d->tag, (uint32_t)number, mine);
    ck_assert(cot_day_parse(day, strlen(day), &date));
    ck_assert(cot_fact_set_text(&f, COT_F_CODE, mine, strlen(mine)) &&
              cot_fact_set_ids(&f, COT_F_VARIETY, variety, 1) && cot_fact_set_int(&f, COT_F_PLANTS, plants) &&
              cot_fact_set_int(&f, COT_F_DATE, date));
    return f;
}
