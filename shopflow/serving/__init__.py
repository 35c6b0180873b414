"""Serving the app: worker processes, each with a front door that stands up to strangers.

**Why waitress, in processes of its own.** On an invented shop (2 busy cores, 50 keep-alive clients,
requests a second of `/look-up`, `/jobs` and the floor; two rounds): waitress with one process 290,
105, 45 and 191, 97, 24; with two 269, 190, 64; granian 2.8 with two workers of 4 threads 737, 177,
48 and 482, 84, 24. Where a page does real work the servers are alike and the second process is what
counts; granian leads by what answers nothing (`/health` 1,300 to 1,900 against 990). Twenty bodies
that drip shut granian's visitors out (both requests of a round failed after 4 s; it reads bodies in
the threads that answer) and made waitress's wait 0.05 s: it reads whole requests before a thread
sees them. Two granian workers held 440 MB, two forked waitress ones 365. So the server that needs
no proxy in front of it stays, and is forked once a core.

**The door** (`door`, `connection`, `request`) is what waitress lacks, as subclasses of its server,
channel and parser: caps of bodies by who sends them, known from the headers alone and so before
anything is spooled, for chunked bodies too; limits of connections by address and in all; deadlines
for headers, bodies and stalled readers. Limits are of each process. A refused body is answered by
the app's own page with 413, and what still arrives of it is thrown away for some seconds, or the
client would see a reset line instead of the answer.

**The processes** (`workers`): the command opens the sockets and makes the app once, then forks a
worker for each core and one process that sends mail, and starts another in place of any that ends.
All end with it. What must be counted once for all (throttles, numbers, claims of messages) is in
the database; the processes share the machine's clock.
"""
