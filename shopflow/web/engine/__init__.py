"""The engine that heads go on."""
