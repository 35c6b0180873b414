"""The ledger for bookkeeping: accounts, columns and files."""
