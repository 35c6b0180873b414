"""Jobs from booking to collection, and the queries of their pages.

The states of a job follow each other by `jobs.FOLLOWS`. A job counts as done in reports on the
day it last became ready, which the audit log knows, not on the day it was fetched.
"""
