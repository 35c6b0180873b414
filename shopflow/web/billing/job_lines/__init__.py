"""Lines of a job: parts, outside work, freight, fees, discounts and text."""
