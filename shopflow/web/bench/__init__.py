"""Flow benches and flow tests: taking, storing and reading them."""
