"""A head's steps: planning, doing, measuring, holding and signing off."""
