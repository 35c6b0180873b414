"""Session files for the command line's tests: invented readings, as varied as the format allows."""

from __future__ import annotations

INTAKE_US = """
schema = 1
title = "Cylinder 2"
stage = "as received"
side = "intake"
[air]
barometer = "29.41 inHg"
temperature = "71.5 degF"
humidity = "48 %"
[valve]
head_diameter = "1.732 in"
stem_diameter = "0.2750 in"
seat_angle = "45 deg"
seat_width = "0.060 in"
throat_diameter = "1.530 in"
[port]
area = "1.72 in2"
[bench]
name = "north"
calibration_id = "N-7"
test_pressure = "25 inH2O"
calibration_factor = 1.013
leakage = "0.8 cfm"
[uncertainty]
calibration = "1.2 %"
repeatability = "0.4 %"
pressure = "0.3 %"
lift = "0.001 in"
[readings]
lift_unit = "in"
flow_unit = "cfm"
lift = [0.05, 0.1, 0.2, 0.3, 0.4, 0.45]
flow = [[23.5, 23.9], [47.8], [101.0, 101.5, 100.8], [140.5, 141.0], [160.2], [164.0, 164.4]]
"""

AFTER_US = (
    INTAKE_US.replace("as received", "seat cut")
    .replace("29.41 inHg", "996.2 mbar")
    .replace("71.5 degF", "22.4 degC")
    .replace("[0.05, 0.1, 0.2, 0.3, 0.4, 0.45]", "[0.06, 0.15, 0.25, 0.35, 0.45]")
    .replace(
        "[[23.5, 23.9], [47.8], [101.0, 101.5, 100.8], [140.5, 141.0], [160.2], [164.0, 164.4]]",
        "[[30.5, 30.9], [79.0], [127.5, 128.0], [154.5, 155.5, 155.0], [166.0]]",
    )
)

EXHAUST_SI = """
schema = 1
side = "exhaust"
measured_at = 2026-02-03T09:15:00-06:00
[air]
barometer = "98.71 kPa"
temperature = "293.4 K"
[valve]
head_diameter = "36.5 mm"
stem_diameter = "7 mm"
seat_angle = "30 deg"
seat_width = "1.8 mm"
throat_diameter = "31.5 mm"
[port]
area = "690 mm2"
[bench]
test_pressure = "7.2 kPa"
reference_pressure = "6974.48948 Pa"
leakage = "0.9 m3/h"
[uncertainty]
calibration = "2 %"
lift = "0.02 mm"
[readings]
lift_unit = "mm"
flow_unit = "L/s"
lift = [1, 2.5, 4, 6, 8, 10, 12]
flow = [[8.1, 8.2], [19.9, 20.1], [31.5], [44.6, 44.2, 44.9], [52.3], [56.1], [57.8, 57.6]]
"""

TWO_VALVES = """
schema = 1
side = "intake"
[air]
barometer = "1013.25 hPa"
temperature = "20 degC"
humidity = "50 %"
[valve]
head_diameter = "33 mm"
count = 2
[bench]
test_pressure = "28 inH2O"
[readings]
lift_unit = "cm"
flow_unit = "m3/h"
lift = [0.2, 0.4, 0.6, 0.8, 1.0]
flow = [[72.0], [142.5], [205.0], [251.0], [278.5]]
""".replace("1013.25 hPa", "1013.25 mbar")

PERCENT = """
schema = 1
side = "exhaust"
[air]
barometer = "29.92 inHg"
temperature = "75 degF"
humidity = "30 %"
[valve]
head_diameter = "1.50 in"
[port]
area = "1.1 in2"
[bench]
name = "south"
calibration_id = "S-2"
test_pressure = "10 inH2O"
reading = "percent of range"
range = "120 cfm"
leakage = "0.4 %"
calibration_factor = 0.988
[uncertainty]
repeatability = "0.6 %"
calibration = "1.5 %"
[readings]
lift_unit = "in"
flow_unit = "%"
lift = [0.1, 0.2, 0.3, 0.4]
flow = [[24.5, 24.8], [48.0, 48.4], [64.1], [71.9, 72.3, 72.0]]
"""

PERCENT_LATER = PERCENT.replace("[64.1]", "[66.0, 66.3]").replace("[48.0, 48.4]", "[48.2]")

ONE_LIFT = """
schema = 1
side = "intake"
[air]
barometer = "101325 Pa"
temperature = "20 degC"
[valve]
head_diameter = "44 mm"
[bench]
test_pressure = "28 inH2O"
leakage = "0.5 cfm"
[uncertainty]
calibration = "1 %"
repeatability = "0.5 %"
lift = "0.05 mm"
[readings]
lift_unit = "mm"
flow_unit = "cfm"
lift = [10]
flow = [[171.0]]
"""

CHOKED = """
schema = 1
side = "intake"
[air]
barometer = "14.6 psi"
temperature = "68 degF"
humidity = "10 %"
[valve]
head_diameter = "30 mm"
stem_diameter = "6 mm"
seat_angle = "44.5 deg"
seat_width = "1.2 mm"
throat_diameter = "26 mm"
[bench]
test_pressure = "9 psi"
reference_pressure = "9 psi"
[readings]
lift_unit = "mm"
flow_unit = "m3/s"
lift = [1.0, 3.0, 5.0]
flow = [[0.014, 0.0141], [0.042], [0.066]]
"""

CHOKED_EXHAUST = CHOKED.replace('"intake"', '"exhaust"').replace("9 psi", "20 psi")

LOW_SEAT = (
    EXHAUST_SI.replace("30 deg", "39 deg")
    .replace('"exhaust"', '"intake"')
    .replace("7.2 kPa", "720 mmH2O")
)

ALL = {
    "intake, US units": INTAKE_US,
    "intake after a seat cut": AFTER_US,
    "exhaust, SI units, seat geometry": EXHAUST_SI,
    "two valves, no seat, no port": TWO_VALVES,
    "percent of range, leakage in percent": PERCENT,
    "percent of range, later": PERCENT_LATER,
    "one lift, one run": ONE_LIFT,
    "choked intake": CHOKED,
    "choked exhaust": CHOKED_EXHAUST,
    "39 degree seat, mmH2O": LOW_SEAT,
}


METERED = """
schema = 1
side = "intake"
[air]
barometer = "101325 Pa"
temperature = "20 degC"
humidity = "40 %"
[valve]
head_diameter = "44 mm"
[bench]
test_pressure = "28 inH2O"
reading = "pressure difference"
element = "orifice plate, corner taps"
element_diameter = "60.0 mm"
pipe_diameter = "100 mm"
meter_pressure = "94.35 kPa"
meter_temperature = "24 degC"
leakage = "9 Pa"
[uncertainty]
repeatability = "1.0 %"
[readings]
lift_unit = "mm"
flow_unit = "Pa"
lift = [4, 8]
flow = [[420, 424.0], [1500]]
"""

OWN_ELEMENT = (
    METERED.replace("orifice plate, corner taps", "own coefficient")
    .replace('element_diameter = "60.0 mm"', "element_coefficient = 0.6120")
    .replace('pipe_diameter = "100 mm"', 'element_area = "28.3 cm2"')
)

STRAYING = """
schema = 1
side = "exhaust"
[air]
barometer = "29.92 inHg"
temperature = "68 degF"
[valve]
head_diameter = "36 mm"
[bench]
test_pressure = "28 inH2O"
leakage = "0.9 cfm"
leakage_pressure = "20 inH2O"
meter = "volume"
meter_temperature = "95 degF"
[readings]
lift_unit = "mm"
flow_unit = "cfm"
lift = [3, 9]
flow = [[60.0, 61], [121.5]]
pressure_unit = "inH2O"
pressure = [[28.0, 28.20], [26.1]]
[[excluded]]
lift = 9
run = 2
flow = 70
reason = "valve slipped"
pressure = 26.0
"""

EXTENDED = {"metered": METERED, "own element": OWN_ELEMENT, "straying": STRAYING}
"""Sessions of benches that read or hold their pressure otherwise than the plainest."""

STATED_US = (
    INTAKE_US.replace("[bench]", '[bench]\ngauge_id = "G-1"')
    .replace("[uncertainty]", '[uncertainty]\nresolution = "0.5 cfm"\nleakage = "0.2 cfm"')
    .replace('lift = "0.001 in"', 'density = "0.4 %"\nlift = "0.001 in"')
)
"""Every uncertainty and every tag stated."""

STATED_US_LATER = (
    STATED_US.replace("29.41 inHg", "28.1 inHg")
    .replace("25 inH2O", "18 inH2O")
    .replace("[0.05, 0.1, 0.2, 0.3, 0.4, 0.45]", "[0.05, 0.15, 0.25, 0.3, 0.4]")
    .replace(
        "[[23.5, 23.9], [47.8], [101.0, 101.5, 100.8], [140.5, 141.0], [160.2], [164.0, 164.4]]",
        "[[20.5, 21.0], [65.5], [104.5, 105.0], [126.5, 127.0, 127.0], [143.5]]",
    )
)
STATED_ONE = STATED_US.replace("[0.05, 0.1, 0.2, 0.3, 0.4, 0.45]", "[0.3]").replace(
    "[[23.5, 23.9], [47.8], [101.0, 101.5, 100.8], [140.5, 141.0], [160.2], [164.0, 164.4]]",
    "[[145.0, 145.5]]",
)
RESTRICTION = STATED_US.replace(
    "[bench]", '[bench]\nmeter = "restriction"\nscale_density = "1.2 kg/m3"'
).replace("0.8 cfm", "0.7 cfm")
RESTRICTION_HIGH = RESTRICTION.replace("29.41 inHg", "20.7 inHg")
ALL |= {
    "all stated": STATED_US,
    "all stated, another day": STATED_US_LATER,
    "all stated, one lift": STATED_ONE,
}
