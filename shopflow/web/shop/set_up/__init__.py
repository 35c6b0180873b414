"""The first start: making the shop and its owner."""
