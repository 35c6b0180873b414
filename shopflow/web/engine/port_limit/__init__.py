"""What limits a port, as it is and with sizes changed on paper."""
