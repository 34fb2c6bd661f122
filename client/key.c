/* Key files, and randomness that the demo can foretell. */
#include "key.h"

#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define SEED_LEN 32
#define LINE_HEAD "cotyledger-key:1:"
#define KEY_LINE_MAX 128

bool cot_demo_seed_set(void)
{
    const char *seed = getenv("COTYLEDGER_DEMO_SEED");
    return seed && *seed;
}

void cot_random(void *out, size_t n, const char *purpose)
{
    crypto_hash_sha256_state st;
    uint8_t h[32];
    if (!cot_demo_seed_set()) {
        randombytes_buf(out, n);
        return;
    }
    const char *seed = getenv("COTYLEDGER_DEMO_SEED");
    static const char tag[] = "cotyledger demo v1";
    crypto_hash_sha256_init(&st);
    crypto_hash_sha256_update(&st, (const uint8_t *)tag, sizeof tag);
    crypto_hash_sha256_update(&st, (const uint8_t *)seed, strlen(seed) + 1);
    crypto_hash_sha256_update(&st, (const uint8_t *)purpose, strlen(purpose));
    crypto_hash_sha256_final(&st, h);
    memcpy(out, h, n < sizeof h ? n : sizeof h);
}

static void key_path(const char *dir, int64_t generation, char out[static 4096])
{
    snprintf(out, 4096, "%s/key.%lld", dir, (long long)generation);
}

static enum cot_err refuse_open_to_others(int fd, const char *path, struct cot_fault *fault)
{
    struct stat st;
    if (fstat(fd, &st) != 0) return cot_fail(fault, COT_IO, "unable to look at %.400s: %s", path, strerror(errno));
    if ((st.st_mode & 077) == 0) return COT_OK;
    cot_fail(fault, COT_NOT_ALLOWED, "the secret key %.400s can be read by others (mode %03o)", path,
             (unsigned)(st.st_mode & 0777));
    return cot_hint(fault,
                    "chmod 600 it; when somebody may have copied it, have a manager close this laptop and join again");
}

enum cot_err cot_key_load(const char *dir, int64_t generation, struct cot_keypair *out, struct cot_fault *fault)
{
    char path[4096], line[KEY_LINE_MAX] = "";
    uint8_t seed[SEED_LEN];
    key_path(dir, generation, path);
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (fd < 0) {
        enum cot_err code = errno == ENOENT ? COT_NOT_FOUND : COT_IO;
        return cot_fail(fault, code, "unable to open the secret key %.400s: %s", path, strerror(errno));
    }
    enum cot_err e = refuse_open_to_others(fd, path, fault);
    ssize_t n = e ? 0 : read(fd, line, sizeof line - 1);
    size_t head = strlen(LINE_HEAD), text = COT_B64_LEN(SEED_LEN);
    if (!e && (n != (ssize_t)(head + text + 1) || memcmp(line, LINE_HEAD, head) != 0 || line[head + text] != '\n' ||
               !cot_b64_parse(line + head, text, seed, SEED_LEN)))
        e = cot_fail(fault, COT_MALFORMED, "the secret key %.400s is damaged", path);
    if (!e) cot_keypair_from_seed(seed, out);
    close(fd);
    sodium_memzero(seed, sizeof seed);
    sodium_memzero(line, sizeof line);
    return e;
}

/* The folder's entry must be on the disk too before the house is told of the key. */
static bool sync_dir(const char *dir)
{
    int fd = open(dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    if (fd >= 0) close(fd);
    return ok;
}

static enum cot_err write_key(const char *dir, int fd, const char *path, const uint8_t seed[static SEED_LEN],
                              struct cot_fault *fault)
{
    char line[KEY_LINE_MAX], text[COT_B64_LEN(SEED_LEN) + 1];
    enum cot_err e = COT_OK;
    cot_b64_text(seed, SEED_LEN, text);
    int n = snprintf(line, sizeof line, "%s%s\n", LINE_HEAD, text);
    if (write(fd, line, (size_t)n) != n || fsync(fd) != 0 || !sync_dir(dir)) {
        e = cot_fail(fault, COT_IO, "unable to write the secret key %.400s: %s", path, strerror(errno));
        unlink(path);
    }
    sodium_memzero(line, sizeof line);
    sodium_memzero(text, sizeof text);
    return e;
}

enum cot_err cot_key_make(const char *dir, int64_t generation, const char *purpose, struct cot_keypair *out,
                          struct cot_fault *fault)
{
    char path[4096];
    uint8_t seed[SEED_LEN];
    key_path(dir, generation, path);
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (fd < 0 && errno == EEXIST) return cot_key_load(dir, generation, out, fault);
    if (fd < 0) return cot_fail(fault, COT_IO, "unable to make the secret key %.400s: %s", path, strerror(errno));
    cot_random(seed, sizeof seed, purpose);
    enum cot_err e = write_key(dir, fd, path, seed, fault);
    close(fd);
    if (!e) cot_keypair_from_seed(seed, out);
    sodium_memzero(seed, sizeof seed);
    return e;
}
