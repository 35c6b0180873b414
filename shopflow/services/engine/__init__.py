"""The engine that heads go on: its cams, and what they make of its ports."""
