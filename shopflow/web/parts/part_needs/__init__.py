"""Parts that the heads of a job need."""
