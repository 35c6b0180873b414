"""The physics of the flow bench, in SI: knows neither web, database nor files.

Functions take floats or numpy arrays and broadcast as numpy does, so that one session and a
hundred thousand are the same call.
"""
