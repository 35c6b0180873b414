"""The guide that comes with the program."""
