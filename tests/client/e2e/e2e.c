#include "e2e.h"

#include <arpa/inet.h>
#include <check.h>
#include <ctype.h>
#include <fcntl.h>
#include <ftw.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

struct cot_server e2e_server;
static char scratch[64];
#define LAPTOPS_MOST 64
static char *said[LAPTOPS_MOST][2]; /* what each laptop's last command said */

/* --- The server
 * ------------------------------------------------------------------------------------------------------------------ */

static int drop(const char *path, const struct stat *st, int type, struct FTW *at)
{
    (void)st, (void)type, (void)at;
    return remove(path);
}

void e2e_start(void)
{
    const char *tmp = getenv("TMPDIR");
    snprintf(scratch, sizeof scratch, "%s/cotyl-e2e-XXXXXX", tmp && *tmp ? tmp : "/tmp");
    ck_assert_ptr_nonnull(mkdtemp(scratch));
    cot_server_make(&e2e_server);
    ck_assert(cot_server_start(&e2e_server, NULL, NULL));
}

void e2e_stop(void)
{
    cot_server_remove(&e2e_server);
    nftw(scratch, drop, 32, FTW_DEPTH | FTW_PHYS);
}

void e2e_restart(void (*between)(void *ctx), void *ctx)
{
    char listen[40];
    snprintf(listen, sizeof listen, "127.0.0.1:%d", e2e_server.port);
    ck_assert_int_eq(cot_server_stop(&e2e_server, SIGTERM), 0);
    if (between) between(ctx);
    ck_assert(cot_server_start(&e2e_server, COT_ARGS("--listen", listen), NULL));
}

/* --- Running
 * ---------------------------------------------------------------------------------------------------------------------
 */

static char *read_file(const char *path)
{
    struct cot_buf b = {0};
    char part[4096];
    FILE *f = fopen(path, "re");
    cot_buf_str(&b, "");
    for (size_t n; f && (n = fread(part, 1, sizeof part, f)) > 0;) cot_buf_put(&b, part, n);
    if (f) fclose(f);
    return b.s;
}

static int split(char *line, char **argv, int most)
{
    int n = 0;
    for (char *p = line; *p && n < most - 1;) {
        while (*p == ' ') p++;
        if (!*p) break;
        bool quoted = *p == '"';
        argv[n++] = p += quoted;
        while (*p && *p != (quoted ? '"' : ' ')) p++;
        if (*p) *p++ = '\0';
    }
    argv[n] = NULL;
    return n;
}

static void exec_cotyl(const struct laptop *l, const char *line, const char *out, const char *err)
{
    char *copy = strdup(line), *argv[60] = {(char[]){COTYL_PROGRAM}, (char[]){"--dir"}, (char *)(uintptr_t)l->dir};
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    split(copy, argv + 3, 56);
    int o = open(out, O_WRONLY | O_CREAT | O_TRUNC, 0600), e = open(err, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    dup2(open("/dev/null", O_RDONLY), 0);
    dup2(o, 1);
    dup2(e, 2);
    execv(argv[0], argv);
    _exit(127);
}

int e2e_run(struct laptop *l, const char *line)
{
    char out[160], err[160];
    int status;
    snprintf(out, sizeof out, "%s.out", l->dir);
    snprintf(err, sizeof err, "%s.err", l->dir);
    pid_t pid = fork();
    if (pid == 0) exec_cotyl(l, line, out, err);
    ck_assert_int_eq(waitpid(pid, &status, 0), pid);
    free(said[l->number][0]);
    free(said[l->number][1]);
    l->out = said[l->number][0] = read_file(out);
    l->err = said[l->number][1] = read_file(err);
    for (char *p = l->err; *p; p++)
        if (*p == '\n' || (*p == ' ' && p[1] == ' ')) *p = ' ';
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

const char *e2e_must(struct laptop *l, const char *line)
{
    int code = e2e_run(l, line);
    ck_assert_msg(code == 0, "cotyl %s: exit %d: %s", line, code, l->err);
    return l->out;
}

/* `words` in `text`, where any run of blanks is one blank. */
static bool has_words(const char *text, const char *words)
{
    struct cot_buf b = {0};
    for (const char *p = text; *p; p++)
        if (!isspace((unsigned char)*p) || !isspace((unsigned char)p[1]))
            cot_buf_put(&b, isspace((unsigned char)*p) ? " " : p, 1);
    bool found = b.s && strstr(b.s, words) != NULL;
    cot_buf_free(&b);
    return found;
}

void e2e_refused(struct laptop *l, const char *line, enum cot_err err, const char *words)
{
    int code = e2e_run(l, line);
    ck_assert_msg(code == cot_err_row(err)->exit_code, "cotyl %s: exit %d, not %d: %s%s", line, code,
                  cot_err_row(err)->exit_code, l->out, l->err);
    ck_assert_msg(has_words(l->err, words), "cotyl %s: no \"%s\" in: %s", line, words, l->err);
}

void e2e_env(const char *name, const char *value)
{
    if (value) setenv(name, value, 1);
    else unsetenv(name);
}

/* --- Laptops
 * -----------------------------------------------------------------------------------------------------------------------
 */

void e2e_laptop(struct laptop *l)
{
    static int count;
    memset(l, 0, sizeof *l);
    l->number = count++;
    ck_assert_int_lt(l->number, LAPTOPS_MOST);
    snprintf(l->dir, sizeof l->dir, "%s/%d-%d", scratch, (int)getpid(), l->number);
}

void e2e_house(struct laptop *manager, char house[static 23], const char *url)
{
    static const char *const things[] = {"add crop Lettuce --tray-days 28 --count-days 10",
                                         "add format \"128 square\" --rows 8 --cols 16",
                                         "add variety \"Red Harbour\" --crop Lettuce",
                                         "add lot RH-1 --variety \"Red Harbour\" --test-seeds 400 --test-germ 372",
                                         "add farm \"Alder Ford\"",
                                         "sync"};
    char own[40], file[200], line[260], *invitation = NULL;
    e2e_laptop(manager);
    snprintf(own, sizeof own, "http://127.0.0.1:%d", e2e_server.port);
    ck_assert_int_eq(
        cot_server_command(&e2e_server, &invitation,
                           COT_ARGS("--url", url ? url : own, "new-house", "Three Sluices", "--manager", "Wren")),
        0);
    snprintf(file, sizeof file, "%s.invitation", manager->dir);
    FILE *f = fopen(file, "we");
    fputs(invitation, f);
    fclose(f);
    ck_assert_int_eq(sscanf(invitation, "cotyledger-invitation:1:%22[^:]", house), 1);
    free(invitation);
    snprintf(line, sizeof line, "join --invitation %s --label office", file);
    e2e_must(manager, line);
    for (size_t i = 0; i < sizeof things / sizeof things[0]; i++) e2e_must(manager, things[i]);
}

void e2e_join(struct laptop *manager, struct laptop *l, const char *line)
{
    char text[400];
    e2e_laptop(l);
    snprintf(text, sizeof text, "invite %s --out %s.invitation", line, l->dir);
    e2e_must(manager, text);
    snprintf(text, sizeof text, "join --invitation %s.invitation --label bench", l->dir);
    e2e_must(l, text);
}

void e2e_copy(const struct laptop *from, struct laptop *to)
{
    int status;
    e2e_laptop(to);
    pid_t pid = fork();
    if (pid == 0) {
        execlp("cp", "cp", "-a", from->dir, to->dir, (char *)NULL);
        _exit(127);
    }
    ck_assert_int_eq(waitpid(pid, &status, 0), pid);
    ck_assert_int_eq(status, 0);
}

int64_t e2e_status_int(struct laptop *l, const char *member)
{
    const char *json = e2e_must(l, "status --json");
    return cot_json_int(json, strlen(json), member);
}

void e2e_status_text(struct laptop *l, const char *member, char *out, size_t len)
{
    const char *json = e2e_must(l, "status --json");
    ck_assert_msg(cot_json_text(json, strlen(json), member, out, len), "no %s in %s", member, json);
}

void e2e_same_book(const char *house, struct laptop **l, size_t n)
{
    char *answer = NULL, theirs[100], mine[100];
    ck_assert_int_eq(cot_server_command(&e2e_server, &answer, COT_ARGS("book", "--house", house)), 0);
    ck_assert(cot_json_text(answer, strlen(answer), "book", theirs, sizeof theirs));
    for (size_t i = 0; i < n; i++) {
        ck_assert_int_eq(e2e_status_int(l[i], "unsent"), 0);
        ck_assert_int_eq(e2e_status_int(l[i], "position"), cot_json_int(answer, strlen(answer), "position"));
        e2e_status_text(l[i], "book", mine, sizeof mine);
        ck_assert_str_eq(mine, theirs);
        e2e_must(l[i], "verify");
    }
    free(answer);
}

/* --- The door in between
 * ------------------------------------------------------------------------------------------------------------ */

static void send_all(int fd, const char *bytes, size_t len)
{
    while (len) {
        ssize_t n = send(fd, bytes, len, MSG_NOSIGNAL);
        if (n <= 0) return;
        bytes += n;
        len -= (size_t)n;
    }
}

static int connect_to(int port)
{
    struct sockaddr_in a = {
        .sin_family = AF_INET, .sin_port = htons((uint16_t)port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (connect(fd, (struct sockaddr *)&a, sizeof a) == 0) return fd;
    close(fd);
    return -1;
}

/* One connection: bytes pass both ways; an answer that is to be lost is read, and the laptop hears no more. */
static void pass(struct e2e_door *d, int laptop, int server)
{
    char bytes[16384];
    long answered = 0;
    bool lost = false;
    struct pollfd p[2] = {{laptop, POLLIN, 0}, {server, POLLIN, 0}};
    while (!lost && poll(p, 2, 30000) > 0) {
        for (int from = 0; from < 2 && !lost; from++) {
            if (!(p[from].revents & (POLLIN | POLLHUP))) continue;
            ssize_t n = recv(p[from].fd, bytes, sizeof bytes, 0);
            if (n <= 0) return;
            long most = d->cut_answers_at;
            const char *text = from == 1 ? d->spoil : NULL;
            char *at = text ? memmem(bytes, (size_t)n, text, strlen(text)) : NULL;
            if (at && at + strlen(text) < bytes + n) {
                at[strlen(text)] ^= 1;
                d->dropped++;
            }
            if (from == 1 && d->lose_answers > 0) {
                d->lose_answers--;
                lost = true;
            } else if (from == 1 && most && answered + n > most) {
                send_all(laptop, bytes, (size_t)(most - answered));
                lost = true;
            } else send_all(p[1 - from].fd, bytes, (size_t)n);
            if (from == 1) answered += n;
            if (lost) d->dropped++;
        }
    }
}

static void *door_thread(void *ctx)
{
    struct e2e_door *d = ctx;
    for (;;) {
        int laptop = accept(d->fd, NULL, NULL);
        if (laptop < 0) return NULL;
        int server = connect_to(e2e_server.port);
        if (server >= 0) pass(d, laptop, server);
        close(laptop);
        if (server >= 0) close(server);
    }
}

void e2e_door_open(struct e2e_door *d)
{
    struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t len = sizeof a;
    memset(d, 0, sizeof *d);
    d->fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    ck_assert_int_eq(bind(d->fd, (struct sockaddr *)&a, sizeof a), 0);
    ck_assert_int_eq(listen(d->fd, 16), 0);
    ck_assert_int_eq(getsockname(d->fd, (struct sockaddr *)&a, &len), 0);
    d->port = ntohs(a.sin_port);
    ck_assert_int_eq(pthread_create(&d->thread, NULL, door_thread, d), 0);
}

void e2e_door_close(struct e2e_door *d)
{
    shutdown(d->fd, SHUT_RDWR);
    pthread_join(d->thread, NULL);
    close(d->fd);
}
