"""What is known of a healthy unit before its readings: of its kind, its rating, its metering device, its nameplate."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.derive.examined import Examined
from service.intake.line_set import superheat_of_lines
from service.intake.paths import FULL_STAGE_SUBCOOLING, NAMEPLATE
from service.physics.charge_targets import target_superheat
from service.reference import healthy_units as cooling
from service.reference import healthy_units_heating as heating
from service.reference.capacity_control import SET_BY_ITSELF, TARGET_RUNNING
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES
from service.uncertainty.least_squares import Prior
from service.unit.model import UnitModel, freed
from service.unit.rating import Rated

FloatArray = NDArray[np.float64]

#: How much freer a change is where only the point is sought about which hypotheses are weighed, so that it
#: also reaches a unit with a severe fault.
FREE = 4.0
#: Spread of a condition that is known beforehand [K, 1]: negligible.
_PINNED = 0.01


@dataclass(frozen=True, slots=True)
class Known(ABC):
    """What is known of a visit before its readings of the unit: ``given`` are the conditions that were
    read, ``efficiency`` the logarithm of the rated one of the full capacity."""

    model: UnitModel
    visit: Examined
    given: Mapping[str, float]
    has_baseline: bool
    rated: Rated | None
    efficiency: float | None

    def prior(self) -> tuple[Prior, FloatArray]:
        """What is known of a healthy unit, its conditions, and of any change; and the scale of steps (P,)."""
        layout = self.model.layout
        before = {f"{name}_before": value for name, value in layout.ratings["rating"].items()}
        given = self.given if self.has_baseline else {**self.given, **before}
        usual = self.model.prior(given, rated=self.rated is not None)
        steps = np.sqrt(np.diagonal(usual.covariance))
        mean, spread = usual.mean.copy(), steps.copy()
        self._of_the_unit(mean, spread)
        self._of_the_capacity(mean, spread)
        spread = freed(layout, spread, [n for n in self.given if self.has_baseline or not n.endswith("_before")])
        if not self.has_baseline:
            spread[[layout.index[name] for name in before]] = _PINNED
        for name in layout.changes:
            spread[layout.index[name]] = FREE * layout.parameters[name].spread
        return Prior(mean, np.diag(spread**2)), steps

    def _of_the_capacity(self, mean: FloatArray, spread: FloatArray) -> None:
        """What the stage or the speed moves, and what a variable-speed unit sets for itself."""
        leaves, place = self.visit.visit.leaves, self._place("subcooling")
        stated = spread[place]
        self.model.at_its_share(mean, spread)
        if self.visit.unit.control == "variable_speed":
            for name, value in SET_BY_ITSELF[self.model.mode].items():
                spread[self._place(name)] = np.hypot(spread[self._place(name)], value)
        if self.visit.unit.running in TARGET_RUNNING and self._target(leaves) is not None:
            # A target for this stage, or for the test mode, holds as it is.
            spread[place] = stated
            mean[place] = self._target(leaves)

    def _target(self, leaves: Mapping[str, Any]) -> float | None:
        """The nameplate's subcooling [K] where it holds as it is."""
        return None

    @abstractmethod
    def _of_the_unit(self, mean: FloatArray, spread: FloatArray) -> None:
        """Means and spreads (P,) of a healthy unit in their places."""

    def _place(self, name: str) -> int:
        return self.model.layout.index[name]

    def _of_the_kind(
        self,
        mean: FloatArray,
        spread: FloatArray,
        of: tuple[Mapping[str, float], Mapping[str, float], Mapping[str, tuple[float, float]]],
        rating: tuple[float, Mapping[str, float], float, tuple[float, float]],
    ) -> None:
        """A healthy unit of its kind, size and rating: ``of`` are means, spreads and what a ductless unit has
        instead; ``rating`` the spread of its size, how means follow its efficiency, and the usual one of
        a single speed and of stages."""
        means, spreads, ductless = of
        size, slopes, usual, staged = rating
        for name, value in means.items():
            mean[self._place(name)] = value
        for name, value in spreads.items():
            spread[self._place(name)] = value
        if not self.visit.unit.ducted:
            for name, (value, deviation) in ductless.items():
                mean[self._place(name)], spread[self._place(name)] = value, deviation
        if self.rated is not None:
            spread[self._place("ln_size")] = np.hypot(size, self.rated.spread)
        better, unsure = 0.0, 0.0
        if self.efficiency is not None:
            better = self.efficiency - float(np.log(usual))
        elif self.visit.unit.control != "single_speed":
            better, unsure = float(np.log(staged[0] / usual)), staged[1]
            place = self._place("ln_efficiency")
            spread[place] = np.hypot(spread[place], 0.5 * unsure)
        for name, slope in slopes.items():
            mean[self._place(name)] += slope * better
            spread[self._place(name)] = np.hypot(spread[self._place(name)], slope * unsure)


class KnownCooling(Known):
    """The same in cooling."""

    __slots__ = ()

    def _of_the_unit(self, mean: FloatArray, spread: FloatArray) -> None:
        self._of_the_kind(
            mean,
            spread,
            (cooling.HEALTHY_MEANS, cooling.HEALTHY, cooling.DUCTLESS),
            (cooling.RATED_SIZE, cooling.OF_THE_RATING, cooling.USUAL_EFFICIENCY, cooling.STAGED_EFFICIENCY),
        )
        if self.model.device in EXPANSION_VALVES:
            self._of_the_valve(mean, spread)
        self._of_the_nameplate(mean, spread)
        if self.model.device in FIXED_DEVICES:
            self._of_the_fixed_device(mean, spread)

    def _of_the_valve(self, mean: FloatArray, spread: FloatArray) -> None:
        """How a valve holds the superheat, read behind the lines."""
        for name, value in cooling.VALVE_SUPERHEAT.items():
            spread[self._place(name)] = value
        place = self._place("superheat_outdoor")
        spread[place] = self._short_of_head(mean, spread[place])
        added, doubt = superheat_of_lines(self.visit.visit.leaves)
        place = self._place("superheat")
        mean[place] += added
        spread[place] = np.hypot(spread[place], doubt)

    def _short_of_head(self, mean: FloatArray, spread: float) -> float:
        """Spread [1] of how a valve's superheat follows outdoor air: in cool weather the head pressure may not drive
        enough through it, however far it opens."""
        outdoor, before = (mean[self._place(name)] for name in ("outdoor_after", "outdoor_before"))
        short = cooling.COOL_OUTDOOR - outdoor
        if not short > 0.0:
            return spread
        return float(np.hypot(spread, cooling.STARVED_IN_COOL * short / max(abs(outdoor - before), 1.0)))

    def _target(self, leaves: Mapping[str, Any]) -> float | None:
        target = leaves.get(NAMEPLATE + "subcooling")
        return None if target is None else float(target)

    def _of_the_nameplate(self, mean: FloatArray, spread: FloatArray) -> None:
        leaves = self.visit.visit.leaves
        target = leaves.get(NAMEPLATE + "subcooling", leaves.get(FULL_STAGE_SUBCOOLING))
        if target is not None:
            mean[self._place("subcooling")] = float(target)
            spread[self._place("subcooling")] = cooling.SUBCOOLING_OF_TARGET

    def _of_the_fixed_device(self, mean: FloatArray, spread: FloatArray) -> None:
        """The superheat of the target table at the conditions of the baseline."""
        outdoor, wet = (np.array([mean[self._place(f"{name}_before")]]) for name in ("outdoor", "wet_bulb"))
        wanted = float(target_superheat(outdoor, wet)[0])
        place = self._place("superheat")
        if np.isfinite(wanted):
            mean[place] = wanted
        spread[place] = cooling.SUPERHEAT_OF_TARGET
        place = self._place("superheat_wet_bulb")
        spread[place] = self._beyond_the_table(mean, spread[place])

    def _beyond_the_table(self, mean: FloatArray, spread: float) -> float:
        """Spread [1] of how a fixed device's superheat follows the wet bulb: near the end of the table of targets
        liquid may come back, and how much no thermometer shows."""
        outdoor, wet, before = (
            mean[self._place(name)] for name in ("outdoor_after", "wet_bulb_after", "wet_bulb_before")
        )
        short = cooling.LEAST_TARGET - float(target_superheat(np.array([outdoor]), np.array([wet]))[0])
        if not short > 0.0:
            return spread
        return float(np.hypot(spread, short / max(abs(wet - before), 1.0)))


class KnownHeating(Known):
    """The same in heating, where a nameplate's subcooling does not hold and no table of superheat exists."""

    __slots__ = ()

    def _of_the_unit(self, mean: FloatArray, spread: FloatArray) -> None:
        self._of_the_kind(
            mean,
            spread,
            (heating.HEALTHY_MEANS, heating.HEALTHY, heating.DUCTLESS),
            (heating.RATED_SIZE, heating.OF_THE_RATING, heating.USUAL_EFFICIENCY, heating.STAGED_EFFICIENCY),
        )
        if self.model.device in EXPANSION_VALVES:
            for name, value in heating.VALVE_SUPERHEAT.items():
                spread[self._place(name)] = value
        if self.model.device in FIXED_DEVICES:
            for name, (value, deviation) in heating.FIXED_DEVICE.items():
                mean[self._place(name)], spread[self._place(name)] = value, deviation
        self._in_the_cold(mean, spread)

    def _in_the_cold(self, mean: FloatArray, spread: FloatArray) -> None:
        """Frost between defrosts, and liquid that a fixed device sends back; against a baseline both runs have them."""
        if self.has_baseline:
            return
        outdoor, usual = (mean[self._place(f"outdoor_{run}")] for run in ("after", "before"))
        freezing, taken, doubt = heating.FROST_BETWEEN_DEFROSTS
        if outdoor < freezing:
            place = self._place("ln_outdoor_units")
            mean[place] += taken
            spread[place] = np.hypot(spread[place], doubt)
        if self.model.device in FIXED_DEVICES:
            place = self._place("heat_loss")
            spread[place] = np.hypot(spread[place], heating.WET_IN_THE_COLD * max(usual - outdoor, 0.0))


KNOWN: Mapping[str, type[Known]] = MappingProxyType({"cooling": KnownCooling, "heating": KnownHeating})
