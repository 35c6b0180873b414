"""Invoices, and the credit notes that take them back."""
