"""The browser's side of shopflow: one folder per noun, and what they share."""
