"""Readings written as a table: a row for each place, a column for each phase, a dash for none.

        prime   run
TP1     12.35   14.12
TP2     6.79    -
"""

from cases.documents.readings import NewReading


def readings(table: str, **same_for_all: object) -> list[NewReading]:
    """Return the readings of a table, in the order of its rows; a dash is no reading."""
    rows = [line.split() for line in table.strip().splitlines()]
    phases, places = rows[0], rows[1:]
    found = []
    for row in places:
        assert len(row) == len(phases) + 1, f"{row[0]}: one figure or dash for each phase"
        for phase, text in zip(phases, row[1:], strict=True):
            if text != "-":
                values = {"place": row[0], "phase": phase, "text": text, **same_for_all}
                found.append(NewReading.model_validate(values))
    return found
