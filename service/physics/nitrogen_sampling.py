"""Compressibility of nitrogen sampled from CoolProp into one polynomial.

Over the pressures and temperatures of a pressure test it is so smooth that a few dozen Chebyshev terms hold it to a
millionth.

References
----------
Span, R. et al. (2000). A reference equation of state for the thermodynamic properties of nitrogen. J. Phys. Chem.
Ref. Data 29, 1361-1433.
"""

from __future__ import annotations

import numpy as np

from service.physics.array_types import FloatArray
from service.physics.vapour_sampling import fit, nodes

#: Ranges of absolute pressure [Pa] and temperature [K]: to 1,600 psi, -40 to 176 °F.
PRESSURES = (1e4, 1.1e7)
TEMPERATURES = (233.15, 353.15)
#: Terms over pressure and over temperature.
TERMS = (11, 9)


def sample() -> dict[str, FloatArray]:
    """``compressibility`` (11, 9): Chebyshev coefficients over pressure and temperature; ``molar_mass`` [kg/mol]."""
    import CoolProp  # noqa: PLC0415 - takes seconds; first start only
    from CoolProp import CoolProp as properties  # noqa: N813, PLC0415

    state = properties.AbstractState("HEOS", "Nitrogen")
    unit_x, pressures = nodes(TERMS[0], *PRESSURES)
    unit_y, temperatures = nodes(TERMS[1], *TEMPERATURES)
    values = np.empty(TERMS)
    for row, pressure in enumerate(pressures.tolist()):
        for column, temperature in enumerate(temperatures.tolist()):
            state.update(CoolProp.PT_INPUTS, pressure, temperature)
            values[row, column] = state.compressibility_factor()
    return {"compressibility": fit(unit_x, unit_y, values), "molar_mass": np.array([state.molar_mass()])}
