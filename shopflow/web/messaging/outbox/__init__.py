"""The outbox: what is to go out by e-mail, and what became of it."""
