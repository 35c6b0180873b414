"""Webhooks: the owner names addresses, and looks at what was posted to them."""
