"""Promised dates for people's own calendars."""
