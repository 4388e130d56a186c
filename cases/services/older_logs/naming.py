"""The circuits that an older log names, among those that are stored here."""

from dataclasses import replace

from rapidfuzz import process

from cases.documents.cases import CircuitReference
from cases.errors import BadRows, RowProblem
from cases.services.exchange import circuit_problems
from circuits.models import Circuit, Revision
from circuits.services import revision_saying
from circuits.sheet import SheetErrors, read_any

_PUBLISH = "Publish it first, or leave the circuit out."


class Circuits:
    """Finds circuits by key, title, digest or text; each is looked up once."""

    def __init__(self) -> None:
        self._found: dict[CircuitReference, Revision | BadRows] = {}
        self._titles: dict[str, list[str]] = {}
        for key, title in Circuit.objects.values_list("key", "title"):
            self._titles.setdefault(title.casefold(), []).append(key)
            self._titles.setdefault(key.casefold(), [key])

    def revision(self, reference: CircuitReference | None) -> Revision | None:
        """Return the revision that is meant, the newest where none is told.

        Raises
        ------
        BadRows
            There is no such circuit here, or more than one.
        """
        if reference is None:
            return None
        if reference not in self._found:
            try:
                self._found[reference] = self._look_up(reference)
            except BadRows as refusal:
                self._found[reference] = refusal
        found = self._found[reference]
        if isinstance(found, BadRows):
            raise found
        return found

    def _look_up(self, reference: CircuitReference) -> Revision:
        if reference.text:
            return _by_text(reference.text)
        revisions = Revision.objects.select_related("circuit")
        if reference.digest:
            known = revisions.filter(digest=reference.digest).first()
            if known is not None:
                return known
        of_circuit = revisions.filter(circuit__key=self._key(reference.circuit))
        if reference.revision is not None:
            of_circuit = of_circuit.filter(number=reference.revision)
        found = of_circuit.order_by("-number").first()
        if found is None:
            which = f" revision {reference.revision}" if reference.revision is not None else ""
            raise _refusal(f"'{reference.circuit}' has no{which} here.", _PUBLISH)
        return found

    def _key(self, name: str) -> str:
        keys = self._titles.get(name.casefold(), [])
        if len(keys) > 1:
            raise _refusal(f"there are {len(keys)} circuits called '{name}'.", _one_of(keys))
        if keys:
            return keys[0]
        near = process.extract(name.casefold(), list(self._titles), limit=2, score_cutoff=60)
        hint = f"Did you mean {' or '.join(each for each, *_ in near)}? " if near else ""
        raise _refusal(f"there is no circuit '{name}' here.", f"{hint}{_PUBLISH}")


def _by_text(text: str) -> Revision:
    try:
        stored = revision_saying(read_any(text))
    except SheetErrors as error:
        # The lines of these are lines of the circuit's own text.
        raise BadRows(
            [
                replace(each, line=0, column=f"{each.column}, line {each.line} of its text")
                for each in circuit_problems(error)
            ]
        ) from None
    if stored is None:
        raise _refusal("the circuit in the file is not stored here.", _PUBLISH)
    return stored


def _one_of(keys: list[str]) -> str:
    return f"Write its key: {' or '.join(sorted(keys))}."


def _refusal(problem: str, mend: str) -> BadRows:
    return BadRows([RowProblem(0, "circuit", problem, mend)])
