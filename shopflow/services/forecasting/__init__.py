"""Forecasts of what the next cut will give, from the shop's own past tests.

A case is one head's gain by a set of steps (`services/bench/gain_cases.py`); the model is in
`calc/forecast.py`. A forecast never rests on tests of the head it is of, nor on tests saved after
the moment it is made at.

A forecast is kept when the first of its steps is started: that is the last moment at which nobody
can know the outcome, the plan is then as it will be done, and every head passes it, whether or not
it was quoted. It is written once and never changed, so that what came can be held against it.
"""
