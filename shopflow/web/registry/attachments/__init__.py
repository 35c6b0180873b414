"""Photos and documents of jobs."""
