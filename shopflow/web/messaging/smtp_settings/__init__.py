"""The mail server the shop sends through."""
