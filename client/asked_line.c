#include "asked_line.h"

#include "cotyledger/wire/sheet.h"

#include <string.h>

void cot_take_subs(struct cot_buf *subs, int *argc, char **argv)
{
    int kept = 1;
    bool ended = false;
    for (int i = 1; i < *argc; i++) {
        const char *value = strncmp(argv[i], "--sub=", 6) == 0 ? argv[i] + 6 : NULL;
        ended = ended || strcmp(argv[i], "--") == 0;
        if (!value && strcmp(argv[i], "--sub") == 0 && i + 1 < *argc) value = argv[i + 1];
        if (ended || !value) {
            argv[kept++] = argv[i];
            continue;
        }
        i += value == argv[i + 1];
        cot_buf_fmt(subs, "%s%s", subs->len ? "," : "", value);
    }
    argv[kept] = NULL;
    *argc = kept;
}

enum cot_err cot_subs_put(struct cot_cli *cli, const struct cot_buf *subs, void *keep, struct cot_fact *f)
{
    if (subs->failed) return cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    if (subs->len == 0) return COT_OK;
    enum cot_err err = cot_value_read(cli->book, f, COT_F_SUBS, subs->s, subs->len, NULL, keep, &cli->fault);
    return err == COT_OK ? err : cot_within(&cli->fault, "--sub");
}

enum cot_err cot_whose_what(struct cot_cli *cli, const struct cot_args *a, struct cot_fact *f)
{
    const struct cot_thing *farm = NULL, *variety;
    bool buyer = cli->me.part == COT_PART_BUYER, said = a->count == 2;
    enum cot_err err = said ? cot_book_find(cli->book, COT_THING_FARM, a->word[0], &farm, &cli->fault) : COT_OK;
    if (err != COT_OK) return err;
    if (buyer && said && cot_id_cmp(&farm->id, &cli->me.farm) != 0)
        return cot_fail(&cli->fault, COT_NOT_ALLOWED, "a buyer orders for the own farm only");
    f->has_farm = true;
    f->farm = buyer ? cli->me.farm : farm->id;
    err = cot_book_find(cli->book, COT_THING_VARIETY, a->word[said], &variety, &cli->fault);
    if (err != COT_OK) return err;
    return cot_fact_set_ids(f, COT_F_VARIETY, &variety->id, 1)
               ? COT_OK
               : cot_fail(&cli->fault, COT_INTERNAL, "too many fields for one entry");
}
