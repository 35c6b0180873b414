"""Unpaid invoices of all customers, by age."""
