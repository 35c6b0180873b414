"""Speed, held against a limit measured beside it in the same run: `python -m tests.benchmarks`."""
