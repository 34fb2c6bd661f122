/* members, devices: tables. close, end: a laptop, or all of a member's, is of the house no longer. */
#include <stdlib.h>
#include <string.h>

#include "args.h"
#include "commands.h"
#include "people.h"
#include "show/table.h"

const char cot_help_members[] = "Who is of the house: name, part, farm (of buyers), and how many of the laptops\n"
                                "are open. A member without an open laptop can do nothing.\n"
                                "\n"
                                "  --csv   name,part,farm,devices,open; with --json the same members\n";

const char cot_help_devices[] = "The laptops of the house, their tags, and whose they are. Codes that a laptop\n"
                                "makes start with its tag; a tag is never used again.\n"
                                "\n"
                                "  --csv   tag,member,label,open,this; with --json the same members\n";

const char cot_help_close[] = "Closes a laptop: it was lost, sold, or is done with. What it sent stays; what it\n"
                              "has not sent is refused from now on (its owner can write it out with\n"
                              "export-unsent, and one of the staff can carry it over). Made online.\n"
                              "\n"
                              "  --why TEXT\n"
                              "\n"
                              "  cotyl close C --why \"left on the bus\"\n";

const char cot_help_end[] = "Ends what a member may do: closes each of the member's laptops. What they\n"
                            "recorded stays. Made online.\n"
                            "\n"
                            "  --why TEXT    the reason\n"
                            "\n"
                            "Example:\n"
                            "  cotyl end Sorrel --why \"season over\"\n";

static const char *name_of(struct cot_cli *cli, const struct cot_id *id)
{
    const struct cot_thing *t = id ? cot_book_thing(cli->book, id) : NULL;
    return t ? cot_thing_name(t) : "";
}

static bool has_farm(const struct cot_thing *t)
{
    static const struct cot_id none;
    return cot_id_cmp(&t->farm, &none) != 0;
}

/* Prints and frees the table in the form asked for. */
static enum cot_err give(struct cot_cli *cli, const char *csv, struct cot_table *t)
{
    enum cot_form form;
    enum cot_err e = cot_form_asked(cli, csv, &form);
    if (!e) e = cot_table_print(cli, t, form, "none");
    cot_table_free(t);
    return e;
}

static const struct cot_opt csv_only[] = {{"csv", NULL, -1}, COT_OPT_END};

enum cot_err cot_cmd_members(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_col cols[] = {{"name", "NAME", false, false},
                                          {"part", "PART", false, false},
                                          {"farm", "FARM", false, false},
                                          {"devices", "LAPTOPS", true, false},
                                          {"open", "OPEN", true, false}};
    struct cot_args a;
    struct cot_table t;
    size_t n, all, open;
    enum cot_err e = cot_args_read(cli, argc, argv, csv_only, 0, 0, &a);
    if (e) return e;
    const struct cot_thing **m = cot_things_by_name(cli, COT_THING_MEMBER, &n);
    cot_table_init(&t, cols, sizeof cols / sizeof cols[0]);
    for (size_t i = 0; i < n; i++) {
        char part[16];
        cot_word_text(COT_F_PART, (int)cot_thing_int(m[i], COT_F_PART, -1), part);
        cot_member_devices(cli, &m[i]->id, &all, &open);
        cot_table_text(&t, cot_thing_name(m[i]));
        cot_table_text(&t, part);
        cot_table_text(&t, has_farm(m[i]) ? name_of(cli, &m[i]->farm) : NULL);
        cot_table_int(&t, (int64_t)all);
        cot_table_int(&t, (int64_t)open);
    }
    free(m);
    e = give(cli, cot_args_value(&a, csv_only, "csv"), &t);
    cot_args_free(&a);
    return e;
}

enum cot_err cot_cmd_devices(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_col cols[] = {{"tag", "TAG", false, false},
                                          {"member", "OF", false, false},
                                          {"label", "WHAT", false, false},
                                          {"open", "OPEN", false, true},
                                          {"this", "THIS ONE", false, true}};
    struct cot_args a;
    struct cot_table t;
    size_t n;
    enum cot_err e = cot_args_read(cli, argc, argv, csv_only, 0, 0, &a);
    if (e) return e;
    const struct cot_thing **d = cot_things_by_name(cli, COT_THING_DEVICE, &n);
    cot_table_init(&t, cols, sizeof cols / sizeof cols[0]);
    for (size_t i = 0; i < n; i++) {
        cot_table_text(&t, cot_thing_text(d[i], COT_F_TAG));
        cot_table_text(&t, name_of(cli, cot_thing_id(d[i], COT_F_MEMBER)));
        cot_table_text(&t, cot_thing_text(d[i], COT_F_LABEL));
        cot_table_yes(&t, cot_device_open(cli, d[i]));
        cot_table_yes(&t, strcmp(cot_thing_text(d[i], COT_F_TAG), cli->me.tag) == 0);
    }
    free(d);
    e = give(cli, cot_args_value(&a, csv_only, "csv"), &t);
    cot_args_free(&a);
    return e;
}

/* --- Closing
 * ---------------------------------------------------------------------------------------------------------------- */

static void closing(const struct cot_thing *device, const char *why, struct cot_fact *f)
{
    memset(f, 0, sizeof *f);
    f->kind = COT_K_CLOSED;
    f->has_about = true;
    f->about = device->id;
    f->has_farm = has_farm(device);
    f->farm = device->farm;
    if (why && *why) cot_fact_set_text(f, COT_F_WHY, why, strlen(why));
}

static enum cot_err record_online(struct cot_cli *cli, struct cot_fact *facts, size_t n)
{
    enum cot_err e = cot_record(cli, facts, n, NULL);
    if (!e) e = cot_sync_now(cli, true);
    if (!e) return COT_OK;
    if (e == COT_NETWORK || e == COT_BUSY || e == COT_TIMEOUT)
        cot_hint(&cli->fault, "it is recorded and takes effect at the next sync");
    return e;
}

enum cot_err cot_cmd_close(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"why", "TEXT", COT_F_WHY}, COT_OPT_END};
    const struct cot_thing *device;
    struct cot_args a;
    struct cot_fact f;
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 1, 1, &a);
    if (e) return e;
    e = cot_sync_now(cli, true);
    if (!e) e = cot_device_find_tag(cli, a.word[0], &device);
    if (!e && !cot_device_open(cli, device))
        e = cot_fail(&cli->fault, COT_CONFLICT, "laptop %s is closed already", cot_thing_text(device, COT_F_TAG));
    if (!e) {
        char tag[COT_TAG_MAX + 1];
        snprintf(tag, sizeof tag, "%.4s", cot_thing_text(device, COT_F_TAG));
        closing(device, cot_args_value(&a, opts, "why"), &f);
        e = record_online(cli, &f, 1);
        if (!e && cli->json) printf("{\"closed\":[\"%s\"]}\n", tag);
        else if (!e) printf("Laptop %s is closed: the house takes nothing more from it.\n", tag);
    }
    cot_args_free(&a);
    return e;
}

#define ENDED_MAX 100

static size_t open_devices_of(struct cot_cli *cli, const struct cot_id *member, const char *why, struct cot_fact *facts)
{
    size_t n, count = 0;
    const struct cot_thing *const *d = cot_book_things(cli->book, COT_THING_DEVICE, &n);
    for (size_t i = 0; i < n && count < ENDED_MAX; i++) {
        const struct cot_id *of = cot_thing_id(d[i], COT_F_MEMBER);
        if (of && cot_id_cmp(of, member) == 0 && cot_device_open(cli, d[i])) closing(d[i], why, &facts[count++]);
    }
    return count;
}

enum cot_err cot_cmd_end(struct cot_cli *cli, int argc, char **argv)
{
    static const struct cot_opt opts[] = {{"why", "TEXT", COT_F_WHY}, COT_OPT_END};
    static struct cot_fact facts[ENDED_MAX];
    const struct cot_thing *member;
    struct cot_args a;
    size_t n = 0;
    enum cot_err e = cot_args_read(cli, argc, argv, opts, 1, 1, &a);
    if (e) return e;
    e = cot_sync_now(cli, true);
    if (!e) e = cot_book_find(cli->book, COT_THING_MEMBER, a.word[0], &member, &cli->fault);
    if (!e && cot_id_cmp(&member->id, &cli->me.member) == 0)
        e = cot_fail(&cli->fault, COT_INVALID, "that is yourself: another manager ends a manager's permission");
    if (!e) {
        n = open_devices_of(cli, &member->id, cot_args_value(&a, opts, "why"), facts);
        if (!n) e = cot_fail(&cli->fault, COT_CONFLICT, "%.120s has no open laptop", cot_thing_name(member));
    }
    if (!e) e = record_online(cli, facts, n);
    if (!e && cli->json) printf("{\"closed\":%zu}\n", n);
    else if (!e) printf("%zu laptop%s closed.\n", n, n == 1 ? " is" : "s are");
    cot_args_free(&a);
    return e;
}
