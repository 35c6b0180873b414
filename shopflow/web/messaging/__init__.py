"""Mail, the outbox, calendar feeds and the customer's private page."""
