"""Starts a process whose clock is off by TEST_CLOCK_OFF seconds; Python imports this first."""

import os
import time

import time_machine

off = float(os.environ.get("TEST_CLOCK_OFF", "0"))
if off:
    time_machine.travel(time.time() + off, tick=True).start()
