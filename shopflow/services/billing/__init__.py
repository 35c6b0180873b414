"""Money: prices, quotes, invoices, credit notes and payments.

Money is whole hundredths in the database and Decimal outside it. Tax is calculated once on a
document's sum and rounded half up, after EN 16931-1. A quote is frozen when sent; only the
customer's answer is added. An invoice takes its number in the transaction that issues it, so
that a year has no gap, and never changes afterwards. A credit note never exceeds what is left of
its invoice. A warranty return is charged at nothing, line by line.
"""
