"""Rows turned into the plain data of documents."""
