"""E-mail: building a message, handing it to the shop's own server, and sealing what is secret."""
