"""Collection: handing a job over at the counter, or to a carrier."""
