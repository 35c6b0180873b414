"""Jobs: booking in, a job's page, and the page of each head on it."""
