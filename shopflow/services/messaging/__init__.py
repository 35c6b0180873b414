"""Mail, the outbox, calendar feeds and the customer's private page.

A message is sent once: a sender claims it by an atomic UPDATE under a lease and notes when it
begins to hand it over. A claim lost before that is tried again; after it the message "may have
been sent", and only a user sends it again, under the same Message-ID. A calendar event's UID
comes from the job's number and booking time, its SEQUENCE is the row's version. The customer's
page shows what `customer_view` returns and nothing else.
"""
