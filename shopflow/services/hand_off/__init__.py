"""Hand-off notes and the calculations an assembler needs.

The hand-off sheet assumes nothing: a result that lacks an input says which.
"""
