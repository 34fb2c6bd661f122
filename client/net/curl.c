#include "net/curl.h"

#include <dlfcn.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#define NAME(member)                                                                                                   \
    {                                                                                                                  \
        "curl_" #member, offsetof(struct cot_curl, member)                                                             \
    }
static const struct {
    const char *name;
    size_t at;
} names[] = {
    NAME(global_init),   NAME(easy_init),    NAME(easy_setopt),  NAME(easy_perform),   NAME(easy_getinfo),
    NAME(easy_strerror), NAME(easy_cleanup), NAME(slist_append), NAME(slist_free_all), NAME(url),
    NAME(url_set),       NAME(url_get),      NAME(url_cleanup),  NAME(free),
};
#undef NAME

_Static_assert(sizeof(void (*)(void)) == sizeof(void *), "dlsym gives functions as pointers to objects");

static bool find_all(void *library, struct cot_curl *out)
{
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        void *symbol = dlsym(library, names[i].name);
        if (!symbol) return false;
        memcpy((char *)out + names[i].at, &symbol, sizeof symbol);
    }
    return true;
}

const struct cot_curl *cot_curl(struct cot_fault *fault)
{
    static struct cot_curl table;
    static bool there;
    if (there) return &table;
    void *library = dlopen(COT_CURL_FILE, RTLD_NOW | RTLD_LOCAL); /* stays until the process ends */
    there = library && find_all(library, &table) && table.global_init(CURL_GLOBAL_DEFAULT) == CURLE_OK;
    if (there) return &table;
    const char *why = dlerror();
    cot_fail(fault, COT_NETWORK, "unable to load %s: %.300s", COT_CURL_FILE, why ? why : "it does not start");
    if (fault) cot_hint(fault, "install libcurl; everything that needs no server works without it");
    return NULL;
}
