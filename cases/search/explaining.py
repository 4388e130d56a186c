"""The terms of a score in words, with both values; their points add up to it."""

from collections.abc import Iterable, Mapping

import numpy as np

from cases.documents.verdicts import JudgedReading
from cases.search.past_cases import logged_values
from cases.search.points import Found, Points
from cases.search.posterior import LOWEST_POINTS, READING, Posterior
from cases.search.query import Query
from cases.search.results import PastCase, Reason, Speaks, Term
from cases.search.segment import Posting
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
        slots: Mapping[str, int],
    ) -> None:
        self.query, self.points, self.codes = query, points, codes
        self.slots = slots
        self.judged = query.judged
        self._postings: dict[tuple[int, int], Posting] = {}
        self._where = {case.pk: case.lines for case in cases}
        asked = set(slots.values())
        self._logged = logged_values(
            [
                reading
                for where in self._where.values()
                for slot, reading in where.items()
                if slot in asked
            ]
        )

    def reasons(self, found: Found, standing: str) -> tuple[Reason, ...]:
        """Return the terms of one case's score; their points add up to it."""
        return (
            *self._readings(found),
            *self._codes(found),
            *self._words(found),
            self._standing(found, standing),
            *self._fault(found),
        )

    def _place(self, found: Found, term: int) -> int | None:
        """Return where the case stands in the posting of a term; None where it lacks it."""
        key = (found.view, term)
        if key not in self._postings:
            self._postings[key] = self.points.sight.views[found.view].posting(term)
        return self._postings[key].place_of(found.row)

    def _readings(self, found: Found) -> Iterable[Reason]:
        where = self._where[found.case]
        for asked, table, reading in zip(
            self.query.slots, self.points.tables, self.points.readings, strict=True
        ):
            judged = self.judged[asked.number]
            where_asked = f"{judged.place} in '{judged.phase}'"
            here = format_in(judged.value, self._unit(judged.place))
            place = self._place(found, reading.term)
            if place is None:
                words = f"{where_asked}: {here} here, not measured there"
                yield Reason(term=Term.READING, speaks=Speaks.SILENT, points=0.0, words=words)
                continue
            steps = self._postings[found.view, reading.term].steps[place]
            points = float(table[steps.view(np.uint8)])
            there = self._there(where.get(reading.term), judged)
            yield Reason(
                term=Term.READING,
                speaks=Speaks.FOR if points > 0 else Speaks.AGAINST,
                points=points,
                words=f"{where_asked}: {here} here, {there} there",
            )

    def _there(self, number: int | None, judged: JudgedReading) -> str:
        value = self._logged.get(number) if number is not None else None
        if value is None:
            return "another figure"
        return format_in(value, self._unit(judged.place))

    def _unit(self, place: str) -> str:
        entry = self.query.circuit.entry_at(place) if self.query.circuit is not None else None
        return entry.unit if entry is not None else "V"

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

    def _fault(self, found: Found) -> Iterable[Reason]:
        posterior = self.points.posterior
        place = posterior.place_of(int(self.points.sight.faults[found.fault]))
        if place is None:
            yield _weighs(0.0, "what was wrong there tells nothing here")
        else:
            yield from _steps(posterior, place)
        doubt = self.points.doubt(found.fault)
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
