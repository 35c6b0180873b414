"""Work without a network: pages opened before stay open, what is entered waits in a queue.

A service worker of ours keeps the style sheets, scripts and the pages in `KEPT`, and puts forms in
`QUEUED` that do not reach the server into a queue in the browser's own database; flow tests and
sheets of measurements put what they could not save there too. Pages send the queue in its order
once the server answers. Each entry carries a key by which the server saves it once, and what the
server refuses stays in the queue with the reason until somebody decides.
"""
