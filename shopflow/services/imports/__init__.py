"""Importing customers, heads and past results from CSV, all or nothing.

An import is planned, shown and then carried out: the file waits under its SHA-256, and a plan
that no longer matches the records is shown again. It is read and checked in a transaction that
only reads; SQLite's write lock is held while rows are written. Past results are read by their
kind (`patterns`): of rows alike in all but names, date and flows the first is checked as a flow
test file and the others only in what is their own. Rows are written a table at a time (`bulk`);
a test holds them equal to those written by the shop's verbs.
"""
