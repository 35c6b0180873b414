"""The floor: every open head, and where it stands."""
