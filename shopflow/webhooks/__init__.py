"""Posting to an address that the shop's owner named: signing, judging the address, the request.

Signatures follow Standard Webhooks 1.0.0 (github.com/standard-webhooks/standard-webhooks): one
HMAC-SHA-256 over id, time and body. RFC 9421 (HTTP Message Signatures) was weighed instead: it also
covers the method and the address, and asks of every receiver a parser of structured fields and a
canonical form of each covered part. Here a receiver needs ten lines of any standard library, and
the body, which is all that it acts on, is covered whole.
"""
