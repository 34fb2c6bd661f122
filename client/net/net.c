/* One call over libcurl: headers, signature, limits, and what its failures mean for a person. */
#include "net/net.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "client.h"
#include "net/curl.h"

#define ANSWER_MAX (128u << 20)
#define CONNECT_MS 8000L
#define STALL_S 30L /* no byte for so long ends a call */
#define CALL_S 300L
#define TRIES 3
#define PROGRESS_MS 2000

static const struct cot_curl *lib; /* loaded before anything else here happens */

struct cot_net {
    CURL *curl;
    char *url;
    bool quiet, show, shown, clock_told;
    const char *doing;
    int64_t began; /* ms, of the work that `doing` names */
    int64_t ahead; /* ms that this laptop's clock is ahead of the server's; 0 until told */
    long retry_after;
    struct cot_buf *answer;
    bool too_large;
    char why[CURL_ERROR_SIZE];
};

static int64_t steady_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static void pause_ms(int64_t ms)
{
    struct timespec t = {ms / 1000, (ms % 1000) * 1000000};
    nanosleep(&t, NULL);
}

/* --- Addresses
 * ------------------------------------------------------------------------------------------------------------ */

static enum cot_err load(struct cot_fault *fault)
{
    if (!lib) lib = cot_curl(fault);
    return lib ? COT_OK : COT_NETWORK;
}

static bool host_is_loopback(const char *host)
{
    int a, b, c, end = 0;
    if (strcmp(host, "localhost") == 0 || strcmp(host, "[::1]") == 0) return true;
    return sscanf(host, "127.%d.%d.%d%n", &a, &b, &c, &end) == 3 && host[end] == '\0' && a >= 0 && b >= 0 && c >= 0 &&
           a < 256 && b < 256 && c < 256;
}

/* 'h' for http, 's' for https, 0 else; whether the host is this machine. */
static char url_scheme(const char *url, bool *loopback)
{
    CURLU *u = lib->url();
    char *scheme = NULL, *host = NULL, kind = 0;
    *loopback = false;
    if (u && lib->url_set(u, CURLUPART_URL, url, 0) == CURLUE_OK &&
        lib->url_get(u, CURLUPART_SCHEME, &scheme, 0) == CURLUE_OK &&
        lib->url_get(u, CURLUPART_HOST, &host, 0) == CURLUE_OK) {
        kind = strcmp(scheme, "https") == 0 ? 's' : strcmp(scheme, "http") == 0 ? 'h' : 0;
        *loopback = host_is_loopback(host);
    }
    lib->free(scheme);
    lib->free(host);
    lib->url_cleanup(u);
    return kind;
}

bool cot_url_is_loopback(const char *url)
{
    bool loopback;
    return load(NULL) == COT_OK && url_scheme(url, &loopback) != 0 && loopback;
}

static enum cot_err check_url(const char *url, struct cot_fault *fault)
{
    bool loopback;
    enum cot_err e = load(fault);
    if (e) return e;
    char scheme = url_scheme(url, &loopback);
    if (scheme == 's' || (scheme == 'h' && loopback)) return COT_OK;
    if (!scheme) return cot_fail(fault, COT_USAGE, "the server's address \"%.200s\" is not http or https", url);
    cot_fail(fault, COT_USAGE, "plain http to another machine is not spoken: %.200s", url);
    return cot_hint(fault, "the server must be reached over https; ask whoever runs it for a new invitation");
}

/* --- libcurl's callbacks
 * ------------------------------------------------------------------------------------------------------ */

static size_t take_body(char *bytes, size_t one, size_t n, void *ctx)
{
    struct cot_net *net = ctx;
    if (net->answer->len + n * one > ANSWER_MAX) {
        net->too_large = true;
        return 0;
    }
    cot_buf_put(net->answer, bytes, n * one);
    return net->answer->failed ? 0 : n * one;
}

static size_t take_header(char *bytes, size_t one, size_t n, void *ctx)
{
    static const char name[] = "retry-after:";
    struct cot_net *net = ctx;
    size_t len = n * one;
    if (len > sizeof name - 1 && strncasecmp(bytes, name, sizeof name - 1) == 0) {
        char value[12] = "";
        size_t most = len - (sizeof name - 1);
        memcpy(value, bytes + sizeof name - 1, most < sizeof value - 1 ? most : sizeof value - 1);
        net->retry_after = strtol(value, NULL, 10);
    }
    return len;
}

static int progress(void *ctx, curl_off_t down_all, curl_off_t down, curl_off_t up_all, curl_off_t up)
{
    struct cot_net *net = ctx;
    (void)down_all;
    (void)up_all;
    if (!net->show || !net->doing || steady_ms() - net->began < PROGRESS_MS) return 0;
    fprintf(stderr, "\r%s: %lld kB sent, %lld kB received  ", net->doing, (long long)(up / 1024),
            (long long)(down / 1024));
    net->shown = true;
    return 0;
}

void cot_net_doing(struct cot_net *n, const char *what)
{
    if (n->shown) fprintf(stderr, "\r%60s\r", "");
    n->shown = false;
    n->doing = what;
    n->began = steady_ms();
}

/* --- Opening
 * ------------------------------------------------------------------------------------------------------------------ */

static CURLcode set_pin(CURL *c, const struct cot_id *pin)
{
    char b64[sodium_base64_ENCODED_LEN(32, sodium_base64_VARIANT_ORIGINAL)], text[80];
    sodium_bin2base64(b64, sizeof b64, pin->b, sizeof pin->b, sodium_base64_VARIANT_ORIGINAL);
    snprintf(text, sizeof text, "sha256//%s", b64);
    CURLcode rc = lib->easy_setopt(c, CURLOPT_PINNEDPUBLICKEY, text);
    if (rc == CURLE_OK) rc = lib->easy_setopt(c, CURLOPT_SSL_VERIFYPEER, 0L);
    if (rc == CURLE_OK) rc = lib->easy_setopt(c, CURLOPT_SSL_VERIFYHOST, 0L);
    return rc;
}

static CURLcode set_up(struct cot_net *n, const struct cot_id *pin)
{
    CURL *c = n->curl;
    CURLcode rc = lib->easy_setopt(c, CURLOPT_PROTOCOLS_STR, "http,https");
    if (rc == CURLE_OK) rc = pin ? set_pin(c, pin) : CURLE_OK;
    lib->easy_setopt(c, CURLOPT_NOSIGNAL, 1L);
    lib->easy_setopt(c, CURLOPT_FOLLOWLOCATION, 0L);
    lib->easy_setopt(c, CURLOPT_CONNECTTIMEOUT_MS, CONNECT_MS);
    lib->easy_setopt(c, CURLOPT_LOW_SPEED_LIMIT, 1L);
    lib->easy_setopt(c, CURLOPT_LOW_SPEED_TIME, STALL_S);
    lib->easy_setopt(c, CURLOPT_TIMEOUT, CALL_S);
    lib->easy_setopt(c, CURLOPT_ERRORBUFFER, n->why);
    lib->easy_setopt(c, CURLOPT_USERAGENT, "cotyl/" COT_VERSION);
    lib->easy_setopt(c, CURLOPT_WRITEFUNCTION, take_body);
    lib->easy_setopt(c, CURLOPT_WRITEDATA, n);
    lib->easy_setopt(c, CURLOPT_HEADERFUNCTION, take_header);
    lib->easy_setopt(c, CURLOPT_HEADERDATA, n);
    lib->easy_setopt(c, CURLOPT_NOPROGRESS, 0L);
    lib->easy_setopt(c, CURLOPT_XFERINFOFUNCTION, progress);
    lib->easy_setopt(c, CURLOPT_XFERINFODATA, n);
    return rc;
}

enum cot_err cot_net_open(const char *url, const struct cot_id *pin, bool quiet, struct cot_net **out,
                          struct cot_fault *fault)
{
    enum cot_err e = check_url(url, fault);
    struct cot_net *n = NULL;
    *out = NULL;
    if (e) return e;
    n = calloc(1, sizeof *n);
    if (n) n->curl = lib->easy_init();
    if (n) n->url = strdup(url);
    if (!n || !n->curl || !n->url) {
        cot_net_close(n);
        return cot_fail(fault, COT_MEMORY, "out of memory");
    }
    for (size_t len = strlen(n->url); len && n->url[len - 1] == '/'; len--) n->url[len - 1] = '\0';
    n->quiet = quiet;
    n->show = !quiet && isatty(STDERR_FILENO);
    if (set_up(n, pin) != CURLE_OK) {
        cot_net_close(n);
        return cot_fail(fault, COT_INTERNAL, "libcurl here cannot pin a certificate");
    }
    *out = n;
    return COT_OK;
}

void cot_net_close(struct cot_net *n)
{
    if (!n) return;
    cot_net_doing(n, NULL);
    if (n->curl) lib->easy_cleanup(n->curl);
    free(n->url);
    free(n);
}

/* --- One call
 * -------------------------------------------------------------------------------------------------------------------
 */

static void add_header(struct curl_slist **list, bool *ok, const char *name, const char *value)
{
    struct cot_buf line = {0};
    cot_buf_fmt(&line, "%s: %s", name, value);
    struct curl_slist *more = line.failed ? NULL : lib->slist_append(*list, line.s);
    if (more) *list = more;
    else *ok = false;
    cot_buf_free(&line);
}

/* An empty body has a type too: it is signed. */
static const char *type_of(const struct cot_call *c)
{
    return c->content_type[0] ? c->content_type : "application/octet-stream";
}

static void add_signature(struct cot_net *n, const struct cot_call *c, struct curl_slist **list, bool *ok)
{
    struct cot_request r = {c->method, c->path, c->query, type_of(c), c->body, c->len, *c->house};
    struct cot_signature_params p = {.created = (cot_now_ms() - n->ahead) / 1000};
    struct cot_buf digest = {0}, input = {0}, signature = {0};
    randombytes_buf(p.nonce, sizeof p.nonce);
    snprintf(p.tag, sizeof p.tag, "%s", c->tag);
    cot_request_sign(&r, &p, c->key, &digest, &input, &signature);
    if (digest.failed || input.failed || signature.failed) *ok = false;
    else {
        add_header(list, ok, "Content-Digest", digest.s);
        add_header(list, ok, "Signature-Input", input.s);
        add_header(list, ok, "Signature", signature.s);
    }
    cot_buf_free(&digest);
    cot_buf_free(&input);
    cot_buf_free(&signature);
}

static struct curl_slist *headers_of(struct cot_net *n, const struct cot_call *c)
{
    struct curl_slist *list = NULL;
    char house[COT_HOUSE_TEXT];
    bool ok = true;
    cot_house_text(c->house, house);
    add_header(&list, &ok, "Cotyledger-House", house);
    add_header(&list, &ok, "Content-Type", type_of(c));
    add_header(&list, &ok, "Expect", "");
    if (c->key) add_signature(n, c, &list, &ok);
    if (ok) return list;
    lib->slist_free_all(list);
    return NULL;
}

static enum cot_err explain(struct cot_net *n, CURLcode rc, struct cot_fault *fault)
{
    switch (rc) {
    case CURLE_OPERATION_TIMEDOUT:
        cot_fail(fault, COT_TIMEOUT, "the server at %.200s takes too long to answer", n->url);
        return cot_hint(fault, "what was recorded is safe here; sync again later");
    case CURLE_SSL_PINNEDPUBKEYNOTMATCH:
        cot_fail(fault, COT_UNAUTHENTIC, "the server at %.200s is not the one of the invitation: its key is another",
                 n->url);
        return cot_hint(fault,
                        "do not go on; ask whoever runs the server whether its certificate was renewed with a new key");
    case CURLE_PEER_FAILED_VERIFICATION:
    case CURLE_SSL_CACERT_BADFILE:
        return cot_fail(fault, COT_UNAUTHENTIC, "the certificate of %.200s does not verify: %.300s", n->url, n->why);
    case CURLE_WRITE_ERROR:
        if (n->too_large) return cot_fail(fault, COT_TOO_LARGE, "the server's answer is over %u MiB", ANSWER_MAX >> 20);
        return cot_fail(fault, COT_MEMORY, "out of memory");
    default:
        cot_fail(fault, COT_NETWORK, "the server at %.200s cannot be reached: %.300s", n->url,
                 n->why[0] ? n->why : lib->easy_strerror(rc));
        return cot_hint(fault, "what was recorded is safe here; sync again when there is a signal");
    }
}

static enum cot_err answer_of(struct cot_net *n, struct cot_buf *answer, struct cot_fault *fault)
{
    long status = 0;
    struct cot_fault told = {0};
    lib->easy_getinfo(n->curl, CURLINFO_RESPONSE_CODE, &status);
    if (status == 200) return COT_OK;
    cot_problem_read(answer->s ? answer->s : "", answer->len, &told);
    if (told.code == COT_NETWORK || told.code == COT_OK) {
        cot_fail(fault, status == 503 ? COT_BUSY : COT_NETWORK, "%.200s answered %ld, which is not an answer of cotyld",
                 n->url, status);
        return cot_hint(fault, "is that the right address, and is the server running?");
    }
    *fault = told;
    return told.code;
}

static enum cot_err call_once(struct cot_net *n, const struct cot_call *c, struct cot_buf *answer,
                              struct cot_fault *fault)
{
    struct cot_buf url = {0};
    struct curl_slist *headers = headers_of(n, c);
    enum cot_err e = COT_OK;
    bool get = strcmp(c->method, "GET") == 0;
    cot_buf_clear(answer);
    cot_buf_fmt(&url, "%s%s%s%s", n->url, c->path, c->query[0] ? "?" : "", c->query);
    if (!headers || url.failed) {
        e = cot_fail(fault, COT_MEMORY, "out of memory");
        goto out;
    }
    n->answer = answer;
    n->retry_after = 0;
    n->too_large = false;
    n->why[0] = '\0';
    lib->easy_setopt(n->curl, CURLOPT_URL, url.s);
    lib->easy_setopt(n->curl, CURLOPT_HTTPHEADER, headers);
    if (get) lib->easy_setopt(n->curl, CURLOPT_HTTPGET, 1L);
    else {
        lib->easy_setopt(n->curl, CURLOPT_POST, 1L);
        lib->easy_setopt(n->curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)c->len);
        lib->easy_setopt(n->curl, CURLOPT_POSTFIELDS, c->len ? c->body : "");
    }
    CURLcode rc = lib->easy_perform(n->curl);
    e = rc == CURLE_OK ? answer_of(n, answer, fault) : explain(n, rc, fault);
    if (rc != CURLE_OK) cot_buf_clear(answer);
out:
    cot_buf_free(&url);
    lib->slist_free_all(headers);
    return e;
}

/* --- Calls that are tried again
 * --------------------------------------------------------------------------------------------------- */

void cot_span_text(int64_t ms, char out[static 32])
{
    static const struct {
        int64_t ms;
        const char *word;
    } units[] = {{31557600000, "year"}, {2629800000, "month"}, {86400000, "day"},
                 {3600000, "hour"},     {60000, "minute"},     {1000, "second"}};
    if (ms < 0) ms = -ms;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        int64_t n = ms / units[i].ms;
        if (n < 1) continue;
        snprintf(out, 32, "%lld %s%s", (long long)n, units[i].word, n == 1 ? "" : "s");
        return;
    }
    snprintf(out, 32, "0 seconds");
}

static bool learn_time(struct cot_net *n, const struct cot_buf *answer)
{
    int64_t now;
    char span[32];
    if (!answer->s || !cot_problem_int(answer->s, answer->len, "now", &now)) return false;
    n->ahead = cot_now_ms() - now;
    if (n->clock_told) return true;
    n->clock_told = true;
    cot_span_text(n->ahead, span);
    fprintf(stderr,
            "note: this laptop's clock is %s %s the server's; set it when you can.\n"
            "      Nothing is lost: the days of the work are the ones you gave.\n",
            span, n->ahead > 0 ? "ahead of" : "behind");
    return true;
}

static bool passing(enum cot_err e)
{
    return e == COT_BUSY || e == COT_NETWORK;
}

enum cot_err cot_net_call(struct cot_net *n, const struct cot_call *c, struct cot_buf *answer, struct cot_fault *fault)
{
    int64_t wait = 300;
    bool told = false;
    for (int tries = 1;; tries++) {
        enum cot_err e = call_once(n, c, answer, fault);
        if (e == COT_CLOCK && !told && learn_time(n, answer)) {
            told = true;
            continue;
        }
        if (!passing(e) || tries >= TRIES) return e;
        int64_t asked = n->retry_after > 0 ? n->retry_after * 1000 : wait;
        pause_ms(asked < 5000 ? asked : 5000);
        wait *= 3;
    }
}
