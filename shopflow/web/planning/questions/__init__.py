"""Questions for customers: what the counter has to ask, and the answers."""
