"""A job's money: where it stands, and payments."""
