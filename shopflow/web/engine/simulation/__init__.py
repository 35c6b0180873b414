"""Flow tests of a head for engine simulation."""
