"""Forecasts of the next cut, with every case they are from."""
