"""Springs of heads and engine types: their records, and what they come to valve by valve.

A value comes from the most particular record that has it: measured at the valve, then the head's
own springs, its hand-off note, and what is usual on its engine type. Where it came from is told.
"""
