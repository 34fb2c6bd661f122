# Reads an iCalendar file with another parser than the one that wrote it, and prints a line an event.
import sys

from icalendar import Calendar

with open(sys.argv[1], "rb") as f:
    calendar = Calendar.from_ical(f.read())
assert str(calendar["VERSION"]) == "2.0" and calendar.get("PRODID") and str(calendar["X-WR-CALNAME"])
seen = set()
for event in calendar.walk("VEVENT"):
    assert not event.is_broken if hasattr(event, "is_broken") else True
    uid, start, stamp = str(event["UID"]), event["DTSTART"].dt, event["DTSTAMP"].dt
    assert uid not in seen, "two events with one UID"
    assert stamp.utcoffset().total_seconds() == 0, "DTSTAMP is not in UTC"
    assert event["DTSTART"].params.get("VALUE") == "DATE", "not a whole day"
    seen.add(uid)
    print(start.isoformat(), str(event["STATUS"]), uid, str(event["SUMMARY"]), sep="|")
