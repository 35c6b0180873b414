"""Simulated shops of known truth, whose session files go through the program as anyone's would."""
