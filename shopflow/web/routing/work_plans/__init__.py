"""The routings a shop saves to use again."""
