"""Standard texts of a flow certificate, used unless its data replaces them.

A certificate holds them as they stand in its language when it is filled.
"""

from __future__ import annotations

from shopflow.texts import lazy

METHOD = (
    lazy(
        "Steady flow of room air through the port with the valve held at each lift, at a constant "
        "pressure difference across the head: drawn from the room into the cylinder on the intake "
        "side, blown from the cylinder into the room on the exhaust side. Each reading is "
        "corrected for the bench's calibration and for the leakage with the valve shut."
    ),
    lazy(
        "Flow as tested is the corrected flow at the test pressure, at room-air density. It is "
        "restated to the reference pressure in two ways, each named: isentropic, the flow of the "
        "same effective area; and by the square root of the pressure ratio, which is a "
        "convention, exact for incompressible flow only. The inch of water is the conventional "
        "one, 249.08891 Pa. Air density is after CIPM-2007."
    ),
    lazy(
        "A discharge coefficient is the effective area (mass flow over that of an ideal "
        "isentropic nozzle across the same pressures, γ 1.4) over the area named: curtain π·D·L, "
        "head π·D²/4, or the least geometric area of valve and seat. Velocity is the reference "
        "flow over the port area stated; kinetic energy flux is half the density times flow times "
        "velocity squared."
    ),
)
UNCERTAINTY = (
    lazy(
        "The uncertainty stated, U, is expanded for 95 % confidence with the coverage factor of "
        "its effective degrees of freedom (JCGM 100:2008), from repeats, the scale's division, "
        "calibration, test pressure, lift setting, leakage and air density, each as far as it was "
        "recorded; one that was not is named as not stated. Sizes count as far as their own "
        "uncertainty is stated with them (u, standard), and are taken as exact otherwise. It does "
        "not cover differences between benches, entry shapes or adapters."
    ),
    lazy(
        "A change is judged on the effective area, which to first order depends on neither the air "
        "nor the test pressure. It is called a gain or a loss only where chance would call an "
        "unchanged head so at most once in twenty, over all lifts together; the mean over lift is "
        "judged by itself. Otherwise no difference is shown, or the uncertainty is not stated."
    ),
)
SCOPE = (
    lazy(
        "The results are of this head alone, as tested. They do not promise power or fitness for "
        "any use. No statement of conformity is made and no accreditation is claimed. Reproduce "
        "in full only."
    ),
)
LEFT_OUT = lazy("Excluded readings are listed with their test and the reason.")
DEPARTURES = lazy(
    "Excluded readings are listed with their test and the reason. No other departure was recorded."
)
COMPARED = {
    "the first": lazy("Each later session is compared with the first one of the same port."),
    "the one before": lazy("Each later session is compared with the one before of the same port."),
    "nothing": lazy("The flow tests are not compared with one another."),
}
"""Basis of each comparison, by the choice made in the draft."""

SET_UP = lazy(
    "Entry radius, stub pipe and bore adapter: as stated with each session under set-up; where "
    "nothing is stated they were not recorded."
)
