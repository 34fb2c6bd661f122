#include "calendar/ical.h"

#include <dlfcn.h>
#include <libical/ical.h>
#include <stddef.h>
#include <string.h>
#include <time.h>

#include "cotyledger/core/day.h"

struct ical {
    icalcomponent *(*component_new_vcalendar)(void);
    icalcomponent *(*component_new_vevent)(void);
    void (*component_add_property)(icalcomponent *, icalproperty *);
    void (*component_add_component)(icalcomponent *, icalcomponent *);
    char *(*component_as_ical_string_r)(icalcomponent *);
    void (*component_free)(icalcomponent *);
    icalproperty *(*property_new_version)(const char *);
    icalproperty *(*property_new_prodid)(const char *);
    icalproperty *(*property_new_x)(const char *);
    void (*property_set_x_name)(icalproperty *, const char *);
    icalproperty *(*property_new_uid)(const char *);
    icalproperty *(*property_new_dtstamp)(struct icaltimetype);
    icalproperty *(*property_new_dtstart)(struct icaltimetype);
    icalproperty *(*property_new_summary)(const char *);
    icalproperty *(*property_new_description)(const char *);
    icalproperty *(*property_new_location)(const char *);
    icalproperty *(*property_new_status)(icalproperty_status);
    icalproperty *(*property_new_transp)(icalproperty_transp);
    struct icaltimetype (*time_from_timet_with_zone)(time_t, int, const icaltimezone *);
    icaltimezone *(*timezone_get_utc_timezone)(void);
    void (*memory_free_buffer)(void *);
};

#define NAME(member)                                                                                                   \
    {                                                                                                                  \
        "ical" #member, offsetof(struct ical, member)                                                                  \
    }
static const struct {
    const char *name;
    size_t at;
} names[] = {
    NAME(component_new_vcalendar),   NAME(component_new_vevent),       NAME(component_add_property),
    NAME(component_add_component),   NAME(component_as_ical_string_r), NAME(component_free),
    NAME(property_new_version),      NAME(property_new_prodid),        NAME(property_new_x),
    NAME(property_set_x_name),       NAME(property_new_uid),           NAME(property_new_dtstamp),
    NAME(property_new_dtstart),      NAME(property_new_summary),       NAME(property_new_description),
    NAME(property_new_location),     NAME(property_new_status),        NAME(property_new_transp),
    NAME(time_from_timet_with_zone), NAME(timezone_get_utc_timezone),  NAME(memory_free_buffer),
};
#undef NAME

static enum cot_err load(struct ical *out, struct cot_fault *fault)
{
    void *library = dlopen(COT_ICAL_FILE, RTLD_NOW | RTLD_LOCAL); /* stays until the process ends */
    bool there = library != NULL;
    for (size_t i = 0; there && i < sizeof names / sizeof names[0]; i++) {
        void *symbol = dlsym(library, names[i].name);
        there = symbol != NULL;
        if (there) memcpy((char *)out + names[i].at, &symbol, sizeof symbol);
    }
    if (there) return COT_OK;
    const char *why = dlerror();
    (void)cot_fail(fault, COT_IO, "unable to load %s: %.300s", COT_ICAL_FILE, why ? why : "it is another version");
    return cot_hint(fault, "install libical3; everything but calendars works without it");
}

static struct icaltimetype date_of(int32_t day)
{
    struct icaltimetype t = {.is_date = 1};
    cot_day_split(day, &t.year, &t.month, &t.day);
    return t;
}

static icalcomponent *event_of(const struct ical *l, const struct cot_ical_event *e)
{
    icalcomponent *v = l->component_new_vevent();
    struct icaltimetype stamp =
        l->time_from_timet_with_zone((time_t)(e->stamp / 1000), 0, l->timezone_get_utc_timezone());
    l->component_add_property(v, l->property_new_uid(e->uid));
    l->component_add_property(v, l->property_new_dtstamp(stamp));
    l->component_add_property(v, l->property_new_dtstart(date_of(e->day)));
    l->component_add_property(v, l->property_new_summary(e->summary));
    if (e->description[0]) l->component_add_property(v, l->property_new_description(e->description));
    if (e->location[0]) l->component_add_property(v, l->property_new_location(e->location));
    l->component_add_property(v, l->property_new_status(e->cancelled ? ICAL_STATUS_CANCELLED : ICAL_STATUS_CONFIRMED));
    l->component_add_property(v, l->property_new_transp(ICAL_TRANSP_TRANSPARENT)); /* nobody is busy all day with it */
    return v;
}

enum cot_err cot_ical_write(const char *name, const struct cot_ical_event *event, size_t n, struct cot_buf *out,
                            struct cot_fault *fault)
{
    struct ical l;
    enum cot_err err = load(&l, fault);
    if (err != COT_OK) return err;
    icalcomponent *calendar = l.component_new_vcalendar();
    icalproperty *called = l.property_new_x(name);
    l.property_set_x_name(called, "X-WR-CALNAME");
    l.component_add_property(calendar, l.property_new_version("2.0"));
    l.component_add_property(calendar, l.property_new_prodid("-//Cotyledger//cotyl " COT_VERSION "//EN"));
    l.component_add_property(calendar, called);
    for (size_t i = 0; i < n; i++) l.component_add_component(calendar, event_of(&l, &event[i]));
    char *text = l.component_as_ical_string_r(calendar);
    l.component_free(calendar);
    if (!text) return cot_fail(fault, COT_MEMORY, "out of memory");
    cot_buf_str(out, text);
    l.memory_free_buffer(text);
    return out->failed ? cot_fail(fault, COT_MEMORY, "out of memory") : COT_OK;
}
