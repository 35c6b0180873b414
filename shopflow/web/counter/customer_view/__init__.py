"""The page a customer opens by a private link, without an account."""
