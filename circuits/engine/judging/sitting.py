"""The readings that were taken at one temperature, and the circuit as it is then."""

from collections.abc import Sequence

from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import Situation, unbent_input_ohms
from circuits.engine.faults import Suspect
from circuits.engine.network import Network
from circuits.engine.readings import Place, Reading
from circuits.engine.settling.chart import Chart
from circuits.engine.settling.phases import PhaseRun, Went


class Sitting:
    """The readings taken at one temperature, with the circuit as it is then."""

    def __init__(self, network: Network, suspects: Sequence[Suspect | None]) -> None:
        self.run = PhaseRun(network, suspects)
        self.readers: dict[Situation, list[tuple[Place, float]]] = {}
        self.chart: Chart | None = None

    def seat(self, reading: Reading) -> tuple[Situation, int]:
        """Return in which situation a reading is taken, and as which of its places."""
        situation = Situation.of_reading(reading)
        seats = self.readers.setdefault(situation, [])
        seat = (reading.place, unbent_input_ohms(reading.meter.input_ohms))
        if seat not in seats:
            seats.append(seat)
        return situation, seats.index(seat)

    def draw_chart(self) -> None:
        self.chart = self.run.chart(self.readers)

    def settle(self, trials: Trials) -> Went:
        """Return where trials come to rest in the situations of these readings."""
        if self.chart is None or trials.suspect.shape[1] > 1:
            return self.run.go(trials, self.readers)
        return self.run.read_charted(self.chart, trials, self.readers)
