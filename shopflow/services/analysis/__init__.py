"""Comparing flow tests: gains, gain by step, and the working behind each result.

A comparison is its address (`/compare?s=12&s=15`), so that it can be bookmarked and sent. What
is compared is the effective area; the flow shown beside it is restated to one pressure and one
air. The difference between two tests belongs to all the steps between them that cut metal on
that side.
"""
