"""Users: accounts, passwords, login sessions, API tokens and throttles."""
