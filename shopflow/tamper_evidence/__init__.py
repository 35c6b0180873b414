"""Records that prove themselves: each version of a row has its digest in a Merkle tree log.

A commit appends, in the same transaction, one entry for each row it wrote (`logged_session`): no
service does anything for it. The log's head, its size and 32 bytes, stands for all entries before
it. Printed on a certificate, mailed out each day or time-stamped by an authority, it shows a log
that was written anew behind the program's back, which nothing inside the database can.

The tree is RFC 9162's and not a plain chain, so that the head at any earlier size is known from one
pass. Writers append one after the other: the head's row is locked from the first digest to the
commit, since entries must stand in the order of commits. Digests are of what the database gives
back and not of what Python sent, so that a check compares like with like on either database.
"""
