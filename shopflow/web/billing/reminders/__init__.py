"""Stages of reminders of overdue invoices."""
