"""The terms of a score in words, with both values; their points add up to it."""

from collections.abc import Iterable, Mapping

import numpy as np

from cases.search.compared import Compared
from cases.search.points import Found, Points
from cases.search.posterior import LOWEST_POINTS, READING, Posterior
from cases.search.postings import Posting
from cases.search.query import Query
from cases.search.results import PastCase, Reason, Speaks, Term
from cases.search.spelling import Meaning, TypedWord
from circuits.units import format_in


class Explainer:
    """Puts the terms of scores into words."""

    def __init__(
        self,
        query: Query,
        points: Points,
        codes: Mapping[str, int],
        cases: Iterable[PastCase],
    ) -> None:
        self.query, self.points, self.codes = query, points, codes
        self._values = {case.pk: case.values for case in cases}
        self._asked = [self._asked_there(query.by_number[slot.number]) for slot in query.slots]
        self._faults: dict[int, tuple[Reason, ...]] = {}

    def _asked_there(self, asked: Compared) -> tuple[str, str]:
        """Return a reading that is asked for in words, and its unit."""
        circuit = self.query.circuit
        entry = circuit.entry_at(asked.place) if circuit is not None else None
        unit = entry.unit if entry is not None else "V"
        return f"{asked.place} in '{asked.phase}': {format_in(asked.value, unit)} here", unit

    def reasons(self, found: Found, standing: str) -> tuple[Reason, ...]:
        """Return the terms of one case's score; their points add up to it."""
        return (
            *self._readings(found),
            *self._codes(found),
            *self._words(found),
            self._standing(found, standing),
            *self._of_fault(found.fault),
        )

    def _place(self, found: Found, term: int) -> int | None:
        """Return where the case stands in the posting of a term; None where it lacks it."""
        return self._posting(found, term).place_of(found.row)

    def _posting(self, found: Found, term: int) -> Posting:
        # The case is in sight, so of the whole posting it does not matter who may see the rest.
        return self.points.sight.views[found.view].segment.posting(term)

    def _readings(self, found: Found) -> Iterable[Reason]:
        values = self._values[found.case]
        for (here, unit), table, reading in zip(
            self._asked, self.points.tables, self.points.readings, strict=True
        ):
            posting = self._posting(found, reading.term)
            place = posting.place_of(found.row)
            if place is None:
                yield Reason(
                    term=Term.READING,
                    speaks=Speaks.SILENT,
                    points=0.0,
                    words=f"{here}, not measured there",
                )
                continue
            points = float(table[posting.steps[place].view(np.uint8)])
            value = values.get(reading.term)
            there = format_in(value, unit) if value is not None else "another figure"
            yield Reason(
                term=Term.READING,
                speaks=Speaks.FOR if points > 0 else Speaks.AGAINST,
                points=points,
                words=f"{here}, {there} there",
            )

    def _codes(self, found: Found) -> Iterable[Reason]:
        for code, term in self.codes.items():
            if self._place(found, term) is not None:
                yield Reason(
                    term=Term.CODE,
                    speaks=Speaks.FOR,
                    points=self.points.code_points[term],
                    words=f"{code} was set there too",
                )

    def shared_words(self, found: Found) -> Iterable[tuple[TypedWord, Meaning]]:
        """Yield the words asked for that a case has, and what each is there."""
        for typed in self.points.words:
            for meaning in typed.meanings:
                if self._place(found, meaning.term) is not None:
                    yield typed, meaning
                    break

    def _words(self, found: Found) -> Iterable[Reason]:
        for typed, meaning in self.shared_words(found):
            other = "" if meaning.text == typed.word else f", there '{meaning.text}'"
            yield Reason(
                term=Term.WORD,
                speaks=Speaks.FOR,
                points=meaning.points,
                words=f"'{typed.word}'{other}",
            )

    def _standing(self, found: Found, standing: str) -> Reason:
        points = self.points.standing_points(found.view, found.row)
        return Reason(
            term=Term.STANDING,
            speaks=Speaks.AGAINST if points < 0 else Speaks.FOR,
            points=points,
            words=f"the case stands as {standing}",
        )

    def _of_fault(self, fault: int) -> tuple[Reason, ...]:
        """Return what a fault in sight gives to each of its cases."""
        if fault not in self._faults:
            self._faults[fault] = tuple(self._fault(fault))
        return self._faults[fault]

    def _fault(self, fault: int) -> Iterable[Reason]:
        posterior = self.points.posterior
        place = posterior.place_of(int(self.points.sight.faults[fault]))
        if place is None:
            yield _weighs(0.0, "what was wrong there tells nothing here")
        else:
            yield from _steps(posterior, place)
        doubt = self.points.doubt(fault)
        if doubt.cases:
            many = "a case that reads" if doubt.cases == 1 else f"{doubt.cases} cases that read"
            yield Reason(
                term=Term.FAULT,
                speaks=Speaks.AGAINST,
                points=doubt.points,
                words=f"{many} like this turned out not to be this fault",
            )


def _steps(posterior: Posterior, place: int) -> Iterable[Reason]:
    """Yield what is behind a fault's likelihood, each step from the one before."""
    after = posterior.after_each[:, place]
    moved = np.diff(after)
    readings = [step.what == READING for step in posterior.steps]
    cases = posterior.cases[place]
    yield _weighs(
        float(after[0]),
        f"how common the fault is: {cases:.3g} of {posterior.cases.sum():.3g} cases, by how well"
        " they stand",
    )
    for chosen, words in (
        (readings, "these readings beside what the fault shows, by the circuit and past cases"),
        ([not each for each in readings], "these codes and words beside other cases of the fault"),
    ):
        if any(chosen):
            yield _weighs(float(moved[np.array(chosen)].sum()), words)
    held = float(posterior.points[place] - after[-1])
    if held > 0:
        yield _weighs(held, f"nothing counts for less than {LOWEST_POINTS:g}: it may be a slip")


def _weighs(points: float, words: str) -> Reason:
    return Reason(term=Term.FAULT, speaks=Speaks.WEIGHS, points=points, words=words)
