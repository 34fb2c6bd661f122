/* libcurl, loaded when the server is first spoken to: loading it, with the thirty libraries that it brings, takes
 * longer than most commands take without a network. Names as in libcurl, without `curl_`. Inside the room. */
#ifndef COTYL_NET_CURL_H
#define COTYL_NET_CURL_H

#include <curl/curl.h>

#include "cotyledger/core/err.h"

struct cot_curl {
    CURLcode (*global_init)(long flags);
    CURL *(*easy_init)(void);
    CURLcode (*easy_setopt)(CURL *curl, CURLoption option, ...);
    CURLcode (*easy_perform)(CURL *curl);
    CURLcode (*easy_getinfo)(CURL *curl, CURLINFO info, ...);
    const char *(*easy_strerror)(CURLcode code);
    void (*easy_cleanup)(CURL *curl);
    struct curl_slist *(*slist_append)(struct curl_slist *list, const char *line);
    void (*slist_free_all)(struct curl_slist *list);
    CURLU *(*url)(void);
    CURLUcode (*url_set)(CURLU *url, CURLUPart part, const char *value, unsigned flags);
    CURLUcode (*url_get)(const CURLU *url, CURLUPart part, char **value, unsigned flags);
    void (*url_cleanup)(CURLU *url);
    void (*free)(void *p);
};
/* The one table; NULL when libcurl is not there: COT_NETWORK with words. `fault` may be NULL. */
const struct cot_curl *cot_curl(struct cot_fault *fault);

#endif
