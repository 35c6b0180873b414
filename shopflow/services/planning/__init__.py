"""The floor, capacity and reports.

A promise is at risk by `calc.capacity`: heads are done in the order of their promises, a step
counts in full until it is signed off, one user works on a head at a time, and only what is left
of today counts.
"""
