"""The program on the machine beside a flow bench: reads its instruments, posts what is steady.

It knows neither the web app nor the database: it talks to `/api/1` over HTTP, with a token that may
post to its one bench. A reading goes through these, each a module:

- `instruments` ask one device by an open protocol and return a number, or say what went wrong;
- `channels` scale and filter it, and refuse what cannot be, or does not move;
- `capturing` waits until every channel is steady, takes its samples, and notes doubts;
- `journal` has it on the disk before anything else happens to it;
- `posting` sends what the journal holds, in order, each until the server has said yes or no.

None of these trusts the one before: an answer of another form than stated is a fault and not a
number, after which the connection is opened anew, since a late answer would else be taken for the
next one's for good.
"""
