"""Drafts of flow certificates: from the sessions chosen to the paper issued."""
