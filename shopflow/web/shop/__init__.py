"""The shop itself: its settings, house style, opening hours and built-in lists."""
