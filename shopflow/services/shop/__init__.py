"""The shop itself: settings, house style, opening hours, built-in kinds and periods.

The house style is a row of its own, created when it is first changed; until then documents use
its defaults.
"""
