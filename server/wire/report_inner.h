/* What the files that write reports share. */
#ifndef COTYLEDGER_WIRE_REPORT_INNER_H
#define COTYLEDGER_WIRE_REPORT_INNER_H

#include "cotyledger/wire/chain.h"
#include "cotyledger/wire/report.h"

#define COT_PAGE_WIDTH 80

/* What a report is made from, and how far that reading goes. */
struct cot_report {
    const struct cot_fill *fill;
    struct cot_book *book;
    const char *house;
    int64_t position, unsent;
    char digest[COT_BOOK_DIGEST_TEXT];
    const struct cot_fill_farm *farm; /* the farms reported */
    uint32_t farm_count;
    bool only_short;                 /* lines that are covered are left out; the sums are of all */
    bool overview;                   /* all farms: the house's overview follows */
    const struct cot_thing *missing; /* the farm asked for, when it has no lines */
};
COT_MUSTCHECK enum cot_err cot_report_start(struct cot_book *book, struct cot_book *view, struct cot_report *out);

/* Allotments of line `line`: first index and, in *n, how many. */
uint32_t cot_report_allots(const struct cot_fill *f, uint32_t line, uint32_t *n);
const struct cot_thing *cot_report_variety(const struct cot_report *r, const struct cot_allot *a); /* of the batch */
bool cot_report_treated(const struct cot_report *r, uint32_t line); /* a serving batch is of treated seed */
int64_t cot_report_waiting(const struct cot_fill_line *l);          /* plants that wait for the house's promise */

struct cot_report_sum {
    uint32_t lines, covered, in_doubt, short_;
    int64_t short_by;
    double miss;
};
void cot_report_add(const struct cot_report *r, const struct cot_fill_farm *farm, struct cot_report_sum *sum);
bool cot_report_shows(const struct cot_report *r, uint32_t line); /* it is to be in this report */
/* "12 of 15 lines are covered, 2 in doubt, 1 short by 180 plants." */
void cot_report_headline(const struct cot_report_sum *s, struct cot_buf *out);

/* Farms with their sums, shortest first; the caller frees. And the sum of all. NULL: out of memory. */
struct cot_report_ranked {
    const struct cot_fill_farm *farm;
    struct cot_report_sum sum;
};
struct cot_report_ranked *cot_report_rank(const struct cot_report *r, struct cot_report_sum *all);

/* What serves the line, why it lacks, what waits, cautions: indented lines, escaped for a terminal. */
void cot_report_notes(const struct cot_report *r, uint32_t line, struct cot_buf *out);

void cot_report_fill_text(const struct cot_report *r, struct cot_buf *out);
void cot_report_fill_html(const struct cot_report *r, struct cot_buf *out);
void cot_report_fill_csv(const struct cot_report *r, struct cot_buf *out);
void cot_report_fill_json(const struct cot_report *r, struct cot_buf *out);

/* Foot of a text: as-of day, position, digest. */
void cot_report_foot(const struct cot_report *r, int32_t on, struct cot_buf *out);

/* A sentence broken at blanks so that no line passes the page; the names in it are escaped already. The first line is
 * indented by `first`, further ones by `indent`. Ends with LF. */
void cot_put_broken(struct cot_buf *out, const struct cot_buf *text, size_t first, size_t indent);

/* JSON, keys in the order of writing; `first` tells whether a comma is due. */
struct cot_json {
    struct cot_buf *out;
    bool first;
};
void cot_json_key(struct cot_json *j, const char *key);
void cot_json_text(struct cot_json *j, const char *key, const char *value); /* NULL: null */
void cot_json_int(struct cot_json *j, const char *key, int64_t value);
void cot_json_bool(struct cot_json *j, const char *key, bool value);
void cot_json_share(struct cot_json *j, const char *key, double p); /* up to 3 decimals; 0 and 1 only when exact */
void cot_json_day(struct cot_json *j, const char *key, int32_t day);
void cot_json_week(struct cot_json *j, const char *key, int32_t day);
/* CSV cells; `first` as above. */
void cot_csv_text(struct cot_json *j, const char *value);
void cot_csv_int(struct cot_json *j, int64_t value);
void cot_csv_share(struct cot_json *j, double p);
void cot_csv_day(struct cot_json *j, int32_t day);
void cot_csv_week(struct cot_json *j, int32_t day);

#endif
