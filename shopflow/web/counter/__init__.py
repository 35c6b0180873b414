"""Taking heads in and handing them back."""
