/* One stand count recorded without a network, from the command's start to its end, on the disk; against a bare process
 * that makes the same commit. On the laptop that has seen the whole season, and on one whose house has just begun. */
#include <string.h>

#include "mix.h"
#include "bench.h"

/* Code and latest day of a batch of whole trays, as the season's last one is. */
static void find_batch(struct bench_mix *m, char code[static COT_CODE_TEXT])
{
    struct cot_decoder *d = cot_decoder_new();
    struct cot_fact f;
    *code = '\0';
    for (size_t i = m->count; i-- > 0 && !*code;) {
        if (m->row[i].kind != COT_K_SOWN) continue;
        ck_assert(cot_entry_parse(d, m->row[i].line, m->row[i].len, &f, NULL) == COT_OK);
        const struct cot_value *v = cot_fact_value(&f, COT_F_CODE);
        if (v && cot_fact_int(&f, COT_F_TRAYS, 0) > 0) snprintf(code, COT_CODE_TEXT, "%.*s", (int)v->len, v->v.text);
    }
    cot_decoder_free(d);
    ck_assert_msg(*code, "the season has sown no batch");
}

static void measure(const char *name, const char *dir, const char *code, const char *day)
{
    char bare_dir[BENCH_PATH], db[BENCH_PATH + 20], row[80];
    snprintf(bare_dir, sizeof bare_dir, "%s-bare", dir);
    bench_copy_dir(dir, bare_dir);
    snprintf(db, sizeof db, "%s/journal.db", bare_dir);
    struct bench_pair p =
        bench_two((size_t)bench_number("COT_BENCH_RUNS", 41),
                  (const char *const[]){COTYL_PROGRAM, "--dir", dir, "count", code, "1:10/8/1/1/0", "--day", day, NULL},
                  (const char *const[]){FLOOR_RECORD, db, NULL});
    bench_row(name, p.ms, "ms");
    snprintf(row, sizeof row, "%s_bare", name);
    bench_row(row, p.bare_ms, "ms");
    snprintf(row, sizeof row, "%s_ratio", name);
    bench_row(row, p.ms / p.bare_ms, "x");
}

static void on_season(void)
{
    struct bench_mix m;
    char from[300], dir[BENCH_PATH], code[COT_CODE_TEXT], day[COT_DAY_TEXT];
    bench_say("record: a laptop that has seen the season");
    bench_mix_load(&m);
    find_batch(&m, code);
    cot_day_text(m.last_day, day);
    snprintf(from, sizeof from, "%s/laptops/office", bench_env("SEASON"));
    bench_path(dir, "record");
    bench_copy_dir(from, dir);
    measure("record", dir, code, day);
    bench_mix_free(&m);
}

static void on_small(void)
{
    static const char *const things[][10] = {
        {"add", "crop", "Lettuce"},
        {"add", "format", "128 square", "--rows", "8", "--cols", "16"},
        {"add", "variety", "Red Harbour", "--crop", "Lettuce"},
        {"add", "lot", "RH-1", "--variety", "Red Harbour", "--test-seeds", "400", "--test-germ", "372"},
        {"sow", "RH-1", "128 square", "--trays", "4", "--by-hand", "--day", "2026-03-02"}};
    char dir[BENCH_PATH], code[COT_CODE_TEXT];
    bench_say("record: a laptop of a new house");
    bench_path(dir, "small");
    bench_server(NULL);
    bench_house(dir, "Three Sluices");
    for (size_t i = 0; i < sizeof things / sizeof things[0]; i++) bench_cotyl(dir, things[i]);
    cot_code_make("A", 1, code);
    measure("record_small", dir, code, "2026-03-12");
}

void cot_bench(void)
{
    on_season();
    on_small();
}
