"""The catalog of parts with their stock."""
