"""Promised dates as an iCalendar object (RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from icalendar import Calendar, Event

from shopflow.services.messaging.feeds import Promise

ASK_AGAIN = timedelta(hours=1)


def calendar(name: str, promises: Iterable[Promise]) -> bytes:
    """A calendar of whole days that keep nobody busy, one an event, folded and escaped."""
    component = Calendar()
    component.add("prodid", "-//shopflow//promised dates//EN")
    component.add("version", "2.0")
    component.add("calscale", "GREGORIAN")
    component.add("name", name)
    # What calendars asked for before RFC 7986 named it.
    component.add("x-wr-calname", name)
    component.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})
    for promise in promises:
        component.add_component(_event(promise))
    return bytes(component.to_ical())


def _event(promise: Promise) -> Event:
    event = Event()
    event.add("uid", promise.uid)
    # Without a METHOD this is when the event was last changed (RFC 5545, 3.8.7.2).
    event.add("dtstamp", promise.changed_at)
    event.add("last-modified", promise.changed_at)
    event.add("sequence", promise.sequence)
    event.add("dtstart", promise.day)
    event.add("dtend", promise.day + timedelta(days=1))
    event.add("summary", promise.title)
    event.add("description", promise.about)
    event.add("transp", "TRANSPARENT")
    if promise.address:
        event.add("url", promise.address)
    return event
