"""The papers as PDF, to print or save."""
