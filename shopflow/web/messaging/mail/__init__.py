"""Sending papers by e-mail: the form, the outbox, the mail server."""
