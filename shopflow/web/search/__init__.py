"""Search: past jobs by engine type, and every record by free text."""
