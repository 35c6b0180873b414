"""The price list: prices of steps and parts by engine type and number of valves."""
