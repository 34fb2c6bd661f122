#include "clock.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sodium.h>
#include <time.h>

#include "cotyledger/core/day.h"

static bool read_demo(const char *path, int64_t *ms)
{
    char text[64] = "";
    FILE *f = fopen(path, "re");
    if (!f) return false;
    bool got = fgets(text, sizeof text, f) != NULL;
    fclose(f);
    int32_t day;
    int hour = 0, minute = 0, second = 0;
    if (!got || strlen(text) < 20 || !cot_day_parse(text, 10, &day)) return false;
    char end = 0;
    if (sscanf(text + 10, "T%2d:%2d:%2d%c", &hour, &minute, &second, &end) != 4 || end != 'Z') return false;
    *ms = (((int64_t)day * 24 + hour) * 60 + minute) * 60000 + (int64_t)second * 1000;
    return true;
}

int64_t cot_clock_ms(void)
{
    const char *demo = getenv("COTYLEDGER_DEMO_CLOCK");
    int64_t ms;
    if (demo && read_demo(demo, &ms)) return ms;
    struct timespec t;
    clock_gettime(CLOCK_REALTIME, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

void cot_chance(void *out, size_t len, const char *purpose)
{
    static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    static uint64_t count;
    const char *seed = getenv("COTYLEDGER_DEMO_SEED");
    if (!seed) {
        randombytes_buf(out, len);
        return;
    }
    pthread_mutex_lock(&lock);
    uint64_t n = count++;
    pthread_mutex_unlock(&lock);
    uint8_t key[randombytes_SEEDBYTES];
    crypto_generichash_state s;
    crypto_generichash_init(&s, NULL, 0, sizeof key);
    crypto_generichash_update(&s, (const uint8_t *)seed, strlen(seed) + 1);
    crypto_generichash_update(&s, (const uint8_t *)purpose, strlen(purpose) + 1);
    crypto_generichash_update(&s, (const uint8_t *)&n, sizeof n);
    crypto_generichash_final(&s, key, sizeof key);
    randombytes_buf_deterministic(out, len, key);
}

bool cot_clock_check(void)
{
    const char *demo = getenv("COTYLEDGER_DEMO_CLOCK");
    int64_t ms;
    if (getenv("COTYLEDGER_DEMO_SEED"))
        fputs("cotyld: warning: keys and ids are made from COTYLEDGER_DEMO_SEED: for demonstrations only\n", stderr);
    if (!demo) return true;
    if (!read_demo(demo, &ms)) {
        fprintf(stderr, "cotyld: COTYLEDGER_DEMO_CLOCK: %s holds no instant like 2027-03-29T08:00:00Z\n", demo);
        return false;
    }
    fputs("cotyld: warning: the time comes from COTYLEDGER_DEMO_CLOCK: for demonstrations only\n", stderr);
    return true;
}
