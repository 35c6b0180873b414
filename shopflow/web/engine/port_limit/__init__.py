"""Limits of a port, as it is and with sizes changed on paper."""
