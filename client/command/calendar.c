/* calendar: sowings, counts, hardening, collecting, for the calendar that people carry with them. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "aside.h"
#include "calendar/ical.h"
#include "commands.h"
#include "cotyledger/core/calendar.h"
#include "show/asked.h"
#include "show/table.h"
#include "work.h"

const char cot_help_calendar[] = "Writes the days of sowing, moving out of the chamber, stand counts, potting on,\n"
                                 "hardening off and collecting as an iCalendar file, which calendars of phones\n"
                                 "and laptops take. Taken again later, it moves what has moved: an event keeps\n"
                                 "its identity; what was dropped or withdrawn is marked as cancelled. A buyer\n"
                                 "gets the days of the own lines.\n"
                                 "\n"
                                 "  --from DAY    from this day (default: today)\n"
                                 "  --until DAY   to this day (default: a year later)\n"
                                 "  --farm FARM   only what this farm collects\n"
                                 "  --out FILE    into a file, whole or not at all\n"
                                 "\n"
                                 "Examples:\n"
                                 "  cotyl calendar --out house.ics\n"
                                 "  cotyl calendar --farm \"Alder Ford\" --out alder.ics\n";

static const struct cot_opt opts[] = {
    {"from", "DAY", -1}, {"until", "DAY", -1}, {"farm", "FARM", -1}, {"out", "FILE", -1}, COT_OPT_END};

#define AHEAD 365

static const struct {
    const char *word, *says;
} sorts[] = {
    [COT_EVENT_SOW] = {"sow", "Sow"},
    [COT_EVENT_UP] = {"up", "Out of the chamber"},
    [COT_EVENT_COUNT] = {"count", "Count"},
    [COT_EVENT_POT_ON] = {"pot", "Pot on"},
    [COT_EVENT_HARDEN] = {"harden", "Harden off"},
    [COT_EVENT_COLLECT] = {"collect", "Collect"},
};

static const char *name_of(const struct cot_thing *t)
{
    return t ? cot_thing_name(t) : "?";
}

/* Texts of an event, kept as long as the calendar is written. */
struct words {
    char uid[120], summary[400], description[400];
};

static void put_words(struct cot_cli *cli, const struct cot_event *e, struct words *w)
{
    char id[COT_ID_TEXT], house[COT_HOUSE_TEXT], amount[80] = "";
    cot_id_text(&e->of->id, id);
    cot_house_text(&cli->me.house, house);
    snprintf(w->uid, sizeof w->uid, "%s-%s@%s", sorts[e->sort].word, id, house);
    if (e->plants > 0) snprintf(amount, sizeof amount, "%" PRId64 " ", e->plants);
    else if (e->trays > 0) snprintf(amount, sizeof amount, "%" PRId64 " x %.50s ", e->trays, name_of(e->format));
    snprintf(w->summary, sizeof w->summary, "%s: %s%.120s%s%.120s", sorts[e->sort].says, amount, name_of(e->variety),
             e->farm ? ", " : "", e->farm ? name_of(e->farm) : "");
    snprintf(w->description, sizeof w->description, "%s%s%s%.120s",
             e->batch ? cot_thing_name(e->batch) : cot_thing_name(e->of),
             e->batch || e->sort == COT_EVENT_COLLECT ? "" : " (planned)", e->lot ? ", lot " : "",
             e->lot ? cot_thing_name(e->lot) : "");
}

static enum cot_err write_events(struct cot_cli *cli, const struct cot_event *event, size_t n,
                                 const struct cot_thing *farm, const char *file)
{
    struct words *words = calloc(n + 1, sizeof *words);
    struct cot_ical_event *out = calloc(n + 1, sizeof *out);
    struct cot_buf text = {0};
    size_t kept = 0;
    enum cot_err err = words && out ? COT_OK : cot_fail(&cli->fault, COT_MEMORY, "out of memory");
    for (size_t i = 0; err == COT_OK && i < n; i++) {
        if (farm && event[i].farm != farm) continue;
        struct words *w = &words[kept];
        put_words(cli, &event[i], w);
        out[kept++] = (struct cot_ical_event){w->uid,         event[i].stamp, event[i].day, w->summary,
                                              w->description, event[i].bench, event[i].gone};
    }
    const struct cot_thing *house = cot_book_house(cli->book);
    if (err == COT_OK)
        err = cot_ical_write(farm ? cot_thing_name(farm) : name_of(house), out, kept, &text, &cli->fault);
    if (err == COT_OK) err = file ? cot_write_aside(cli, file, text.s, text.len) : cot_print(cli, &text);
    if (err == COT_OK && file) fprintf(stderr, "%zu days written to %s.\n", kept, file);
    cot_buf_free(&text);
    free(words);
    free(out);
    return err;
}

static enum cot_err read_span(struct cot_cli *cli, const struct cot_args *a, int32_t *from, int32_t *until)
{
    enum cot_err err = cot_day_asked(cli, a, opts, "from", from);
    *until = *from + AHEAD;
    if (err == COT_OK && cot_args_value(a, opts, "until")) err = cot_day_asked(cli, a, opts, "until", until);
    if (err == COT_OK && *until < *from) err = cot_misuse(cli, "--until is before --from");
    return err;
}

enum cot_err cot_cmd_calendar(struct cot_cli *cli, int argc, char **argv)
{
    struct cot_args a;
    struct cot_event *event = NULL;
    const struct cot_thing *farm = NULL;
    size_t n = 0;
    int32_t from, until;
    enum cot_err err = cot_args_read(cli, argc, argv, opts, 0, 0, &a);
    if (err != COT_OK) return err;
    const char *named = cot_args_value(&a, opts, "farm");
    err = read_span(cli, &a, &from, &until);
    if (err == COT_OK && cli->json) err = cot_misuse(cli, "a calendar has one form: leave --json out");
    if (err == COT_OK && named) err = cot_book_find(cli->book, COT_THING_FARM, named, &farm, &cli->fault);
    if (err == COT_OK) err = cot_calendar_read(cli->book, cot_today(cli), from, until, &event, &n, &cli->fault);
    if (err == COT_OK) err = write_events(cli, event, n, farm, cot_args_value(&a, opts, "out"));
    free(event);
    cot_args_free(&a);
    return err;
}
