"""Flow tests for a one-dimensional engine simulation: a table, the same as JSON, and a README.

Only what was measured is written: no lift, pressure ratio or direction of flow is made up.
"""

from shopflow.simulation.archive import archive, csv_of, json_of
from shopflow.simulation.port import TestedPort, tested_ports

__all__ = ["TestedPort", "archive", "csv_of", "json_of", "tested_ports"]
