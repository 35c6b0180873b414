"""The log of changes in words, as pages of jobs, heads, customers and people show it."""
