"""A bench without hardware: instruments that speak SCPI and Modbus on loopback, and their faults.

The true flow, pressure and air of each moment are known, so that what the agent takes can be held
against them. A fault is of one kind at a time and lasts until the next lift is set.
"""
