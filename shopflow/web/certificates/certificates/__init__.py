"""Issuing flow certificates, and correcting them by a new revision."""
