"""Webhooks: what happens in the shop, posted to addresses that its owner named.

Events are read from the record log, as `services.changes` does: every row of the log of changes
(`event`) has its entry there, in the order of the commits, so that none is left out between two
cursors. Each address has a cursor of its own and a queue of deliveries, which one courier at a time
works through in order. A delivery that fails is tried again before any after it; what may have
arrived is posted again under the same id: at least once, and in order.
"""
