"""Looking past jobs up."""
