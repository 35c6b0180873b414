"""An independent computation of bench sessions, written from the description of the session file.

It shares no code with the package: plain Python, one number at a time, its own unit factors.
"""
