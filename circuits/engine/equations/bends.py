"""By how much the curved laws of trials bend away from their chords: Newton's method at few ports.

A filament, a fan or electronics that take a power stand in the factorisation by a straight chord.
What their true law differs from it is put in as volts of their own, the *bend*. So the curved
branches are ports of an otherwise linear network, and every trial is a system of J equations only.
"""

from collections.abc import Iterator

import numpy as np

from circuits.engine.equations.moves import BoolArray, Moved, Moves
from circuits.engine.equations.wiring import Wiring
from circuits.engine.laws import Curve, FloatArray, curve_between

NEWTON_ROUNDS = 400
PLAIN_ROUNDS = 14
FIRST_CHARGING_SIEMENS = 1e3
EASY_STEP_VOLTS = 0.3
HARD_STEP_VOLTS = 1.0
NEWTON_AMPS = 1e-9
NEWTON_STEP_VOLTS = 4.0
LAST_STEP_VOLTS = 0.01
# How amps of a load that is cut off answer to anything: by rounding.
ROUNDING = 1e-12
# As far as volts run off that no law holds: beyond every threshold.
RUN_OFF_VOLTS = 200.0


class Bends:
    """The J curved laws of a wiring, and what the moves of suspects make of them."""

    def __init__(self, wiring: Wiring, moves: Moves) -> None:
        self.branches = np.array([branch for branch, _ in wiring.curved], dtype=np.intp)
        self._curves = [curve for _, curve in wiring.curved]
        self._chords = wiring.laws[self.branches, 0, 0]
        self._moves = moves

    def solve(
        self,
        moved: Moved,
        all_gain: FloatArray,
        all_straight: FloatArray,
        guess: FloatArray,
    ) -> FloatArray:
        """Return by how much the curved laws of trials bend (E, J).

        Without a guess it starts from the chord, the working point of a healthy car. What has not
        settled after some rounds begins again as if every load had a capacitor across it that is
        charged in ever longer steps (pseudo-transient continuation): a slower way, but one that a
        load whose amps fall with its volts cannot throw off.

        Parameters
        ----------
        moved
            The moves of each trial and how far they have gone.
        all_gain
            How the ports, first their volts and then their amps, answer to a bend, (E, 2 J, J).
        all_straight
            What the ports have if all follow their chords, (E, 2 J).
        """
        count = len(self.branches)
        diagonal = np.arange(count)
        runs_off = self._runs_off(moved, all_gain, all_straight)
        # A load that is cut off by itself has no volts, whatever else its law allows at no amps.
        own = np.diagonal(all_gain[:, :count], axis1=1, axis2=2)
        idle = np.abs(all_gain[:, count:]).max(axis=2) < ROUNDING
        idle &= (own != 0.0) & (np.abs(all_straight[:, count:]) < NEWTON_AMPS)
        idle |= runs_off
        goal = np.where(runs_off, -RUN_OFF_VOLTS, 0.0)
        at_rest = (goal - all_straight[:, :count]) / np.where(idle, own, 1.0)
        at_rest = np.where(idle, at_rest, 0.0)
        bend = np.where(idle, at_rest, guess)
        active = np.arange(len(bend))
        charging = np.zeros(len(bend))  # siemens
        gain, straight = all_gain, all_straight
        for round_number in range(NEWTON_ROUNDS):
            if round_number == PLAIN_ROUNDS:
                bend[active], charging[active] = at_rest[active], FIRST_CHARGING_SIEMENS
            at = straight + np.einsum("erj,ej->er", gain, bend[active])
            volts, amps = at[:, :count], at[:, count:]
            drawn, slope = self.drawn(moved, volts)
            alone = idle[active]
            miss = drawn - amps
            miss[alone] = 0.0
            still = np.abs(miss).max(axis=1) > NEWTON_AMPS
            slope += charging[active, None]
            jacobian = slope[:, :, None] * gain[:, :count]
            jacobian -= gain[:, count:]
            jacobian[alone] = 0.0
            # Two loads that are cut off together: the rest keeps their rows regular.
            jacobian[:, diagonal, diagonal] += np.where(alone, 1.0, 1e-15)
            step = np.linalg.solve(jacobian, -miss[:, :, None])[:, :, 0]
            step_volts = np.abs(np.einsum("erj,ej->er", gain[:, :count], step)).max(axis=1)
            limit = np.minimum(1.0, NEWTON_STEP_VOLTS / np.maximum(step_volts, 1e-30))
            # Who is that near takes this step as its last: a nanoamp is microvolts behind kilohms.
            # Where no law has a slope, as between fans at rest, it would be rounding and go far.
            limit[~still & (step_volts > LAST_STEP_VOLTS)] = 0.0
            bend[active] += step * limit[:, None]
            # As long as little happens the steps of time grow, and end as Newton's own.
            charging[active[step_volts < EASY_STEP_VOLTS]] /= 2
            charging[active[step_volts > HARD_STEP_VOLTS]] *= 2
            if not still.all():
                active, gain, straight = active[still], gain[still], straight[still]
                moved = moved.take(still)
            if not active.size:
                break
        return bend

    def _runs_off(self, moved: Moved, gain: FloatArray, straight: FloatArray) -> BoolArray:
        """Return which curved laws (E, J) are forced to carry amps that they carry at no volts.

        A fan that other current is to flow back through: its volts run off, until the part that
        forces the current lets go of it.
        """
        count = len(self.branches)
        amps = straight[:, count:]
        own = np.diagonal(gain[:, :count], axis1=1, axis2=2)
        forced = (np.abs(gain[:, count:]).max(axis=2) < ROUNDING) & (own != 0.0)
        forced &= amps < -NEWTON_AMPS
        some = np.flatnonzero(forced.any(axis=1))
        if some.size:
            far = np.full((len(some), count), -RUN_OFF_VOLTS)
            forced[some] &= amps[some] < self.drawn(moved.take(some), far)[0] - NEWTON_AMPS
        return np.asarray(forced)

    def drawn(self, moved: Moved, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the amps of the curved laws at their volts and their slopes, (E, J) each."""
        amps, slope = np.empty_like(volts), np.empty_like(volts)
        for number, curve in enumerate(self._curves):
            amps[:, number], slope[:, number] = curve.drawn(volts[:, number])
        for moving, number, worst in self._moving(moved):
            own, slot = np.nonzero(moved.move == moving)
            curve = curve_between(self._curves[number], worst, moved.share[own, slot])
            amps[own, number], slope[own, number] = curve.drawn(volts[own, number])
        return amps, slope

    def chord_less_slope(self, moved: Moved, volts: FloatArray) -> FloatArray:
        """Return by how many siemens chords are steeper than curves at their volts (E, J)."""
        chord = np.repeat(self._chords[None], len(moved), axis=0)
        for moving, number, _ in self._moving(moved):
            own, slot = np.nonzero(moved.move == moving)
            worst = self._moves.worst_laws[moving, 0, 0]
            chord[own, number] += moved.share[own, slot] * (worst - chord[own, number])
        return chord - self.drawn(moved, volts)[1]

    def _moving(self, moved: Moved) -> Iterator[tuple[int, int, Curve]]:
        """Yield the moves of curved laws among those of trials, which law, and its worst."""
        if not self._moves.curves:
            return
        for moving in sorted(self._moves.curves.keys() & set(np.unique(moved.move).tolist())):
            branch, worst = self._moves.curves[moving]
            yield moving, int(np.flatnonzero(self.branches == branch)[0]), worst
