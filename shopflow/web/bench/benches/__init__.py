"""Flow benches, their ranges and calibrations."""
