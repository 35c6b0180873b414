"""Handing heads back to the customer.

A collection freezes the parts, documents and balance of that moment; reversing it marks it so,
and the next one is a row of its own.
"""
