"""Customers' private links, as the shop makes and revokes them."""
