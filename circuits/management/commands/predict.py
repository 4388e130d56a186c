"""`manage.py predict`: what a meter shows at every place of a circuit."""

from argparse import ArgumentParser
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from circuits.documents.predictions import all_faults_document, prediction_document
from circuits.engine import AS_IT_STANDS, EngineError, Fault, Network, Rig
from circuits.faults import named_fault
from circuits.management.answering import CIRCUIT_REFUSALS, answering, given_circuit, in_columns
from circuits.on_vehicles.open_rules import rules_to_settle
from circuits.on_vehicles.references import references_at
from circuits.predicting.curve_picture import Here, Panel, draw_curves
from circuits.predicting.curves import severity_curves
from circuits.predicting.severities import SeverityScale
from circuits.predicting.tables import (
    NO_REFERENCES,
    PredictedTable,
    References,
    predicted_table,
    tables_of_all_faults,
)
from circuits.sheet import Sheet, engine_places, to_network
from circuits.units import UnitError, parse_quantity

PRECEDENCE = (
    "Typical values of this drawing, not a specification: the maker's procedure comes first."
)


class BadRequest(ValueError):
    """The command was asked for something that it cannot do."""


class Command(BaseCommand):
    help = (
        "Print what a meter shows at every place of a circuit, in every phase, healthy or with a "
        "fault; or draw how it changes as a fault gets worse. CIRCUIT is a file (text form or "
        "JSON) or the key of a stored circuit. "
        "Exit status: 0 done, 2 bad input, 70 a mistake of ours."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("circuit", metavar="CIRCUIT")
        parser.add_argument(
            "--phase", action="append", default=[], help="only this phase; may be given again"
        )
        parser.add_argument(
            "--place", action="append", default=[], help="only this place; may be given again"
        )
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--fault", help="a fault such as resistance:C40 or ground-short:S5")
        which.add_argument(
            "--all-faults",
            action="store_true",
            help="every fault of the circuit, at some severities and as bad as it can be",
        )
        parser.add_argument(
            "--severity",
            help="how bad: 1.1 Ohm, open, short, 0.5 V, healthy; left out: as bad as it can be",
        )
        parser.add_argument(
            "--unplug", action="append", default=[], help="a part that is out; may be given again"
        )
        parser.add_argument("--lamp", help="a test lamp across the leads, such as 21 W")
        form = parser.add_mutually_exclusive_group()
        form.add_argument("--table", action="store_true", help="a table for people (the default)")
        form.add_argument("--json", action="store_true", help="JSON for programs")
        form.add_argument(
            "--plot",
            metavar="FILE.svg",
            help="draw the reading against the severity of --fault; without --place, every place "
            "at which the fault can be told from healthy",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        with answering(self.stderr, (*CIRCUIT_REFUSALS, EngineError, UnitError, BadRequest)):
            asked = _asked(options)
            written = _written(asked, options)
        self.stdout.write(written)


# ------------------------------------------------------------------------------ what is asked


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the command was asked for; `sheet` holds the places that were named, or all."""

    sheet: Sheet
    network: Network
    fault: Fault | None
    rig: Rig
    phases: tuple[str, ...]
    places_named: bool
    references: References


def _asked(options: dict[str, Any]) -> Asked:
    whole, stored = given_circuit(options["circuit"])
    network = to_network(whole)
    _known("phase", options["phase"], whole.phase_keys)
    _known("place", options["place"], [place.key for place in whole.places])
    fault = None
    if options["fault"]:
        fault = named_fault(network, options["fault"], options["severity"] or "")
    elif options["severity"]:
        raise BadRequest("--severity belongs to a --fault; say which.")
    lamp_watts = parse_quantity(options["lamp"], "W").number if options["lamp"] else None
    rig = AS_IT_STANDS
    if options["unplug"] or lamp_watts:
        rig = Rig(unplugged=frozenset(options["unplug"]), lamp_watts=lamp_watts)
    named = options["place"]
    kept = tuple(place for place in whole.places if not named or place.key in named)
    return Asked(
        sheet=whole.model_copy(update={"places": kept}),
        network=network,
        fault=fault,
        rig=rig,
        phases=tuple(options["phase"]),
        places_named=bool(named),
        references=references_at(stored) if stored is not None else NO_REFERENCES,
    )


def _known(what: str, named: list[str], known: list[str] | tuple[str, ...]) -> None:
    for name in named:
        if name not in known:
            raise BadRequest(
                f"There is no {what} '{name}'; this circuit has {', '.join(known) or 'none'}."
            )


# ------------------------------------------------------------------------------ what is given


def _written(asked: Asked, options: dict[str, Any]) -> str:
    if options["plot"]:
        return _plotted(asked, options["plot"], severity_given=bool(options["severity"]))
    table = predicted_table(
        asked.sheet,
        asked.network,
        fault=asked.fault,
        rig=asked.rig,
        phases=asked.phases,
        references=asked.references,
    )
    if not options["all_faults"]:
        if options["json"]:
            rules = rules_to_settle(asked.sheet)
            return prediction_document(asked.sheet, table, rules).model_dump_json(indent=1)
        return "\n".join(_table_lines(asked.sheet, table))
    tables = tables_of_all_faults(asked.sheet, asked.network, rig=asked.rig, phases=asked.phases)
    if options["json"]:
        return all_faults_document(asked.sheet, table, tables).model_dump_json(indent=1)
    return "\n".join(_all_faults_lines(asked.sheet, table, tables))


def _title(sheet: Sheet) -> str:
    vehicle = sheet.vehicle
    made = " ".join(word for word in (vehicle.make, vehicle.model) if word)
    return f"{vehicle.title}{f' ({made})' if made else ''}"


def _table_lines(sheet: Sheet, table: PredictedTable) -> Iterator[str]:
    yield _title(sheet)
    if table.fault is not None:
        yield f"With {table.fault_words}. A star marks what parts it from healthy."
    for phase in table.phases:
        yield ""
        yield phase.words
        yield from _columns(table, phase.key)
    yield from _seen_lines(table)
    for rule in rules_to_settle(sheet):
        yield ""
        yield f"{rule.words}."
        yield from (f"  told apart at {parting.words}" for parting in rule.partings)
        if not rule.partings:
            yield "  No listed place tells the two apart."
    yield ""
    yield PRECEDENCE


def _seen_lines(table: PredictedTable) -> Iterator[str]:
    words = {phase.key: phase.words for phase in table.phases}
    seen = [
        f"  {line.place.key}, {words[cell.phase]}: {cell.seen_words}"
        + ("; outside what the drawing allows" if cell.seen.doubted else "")
        for line in table.lines
        for cell in line.cells
        if cell.seen is not None
    ]
    if seen:
        yield from ("", "Healthy vehicles", *seen)


def _columns(table: PredictedTable, phase: str) -> Iterator[str]:
    head = ["place", "", "healthy", "normal range", *(["with the fault"] if table.fault else [])]
    rows = [head]
    for line in table.lines:
        row = [line.place.key, line.label]
        if not line.cells:
            rows.append([*row, f"not computed: {line.place.not_computed}"])
            continue
        cell = line.in_phase(phase)
        row += [cell.healthy.words, f"{cell.healthy.low} to {cell.healthy.high}"]
        if cell.faulty is not None:
            row.append(f"{cell.faulty.words}{' *' if cell.tells_apart else ''}")
        rows.append(row)
    full = [row for row in rows if len(row) == len(head)]
    widths = [max(len(row[column]) for row in full) for column in range(len(head))]
    widths[1] = max(len(row[1]) for row in rows)
    yield from in_columns(rows, widths)


def _all_faults_lines(
    sheet: Sheet, healthy: PredictedTable, tables: tuple[PredictedTable, ...]
) -> Iterator[str]:
    """Yield a table for each phase: a row for each fault, a column for each place."""
    yield _title(sheet)
    yield (
        f"Every fault of the circuit, {len(tables)} in all with their severities. "
        "A star marks what parts it from healthy."
    )
    places = [line.place for line in healthy.lines if line.cells]
    for place in places:
        yield f"  {place.key}  {place.label}"
    for phase in healthy.phases:
        yield ""
        yield phase.words
        rows = [["", *(place.key for place in places)]]
        rows.append(["healthy", *_row(healthy, phase.key)])
        rows += [[table.fault_words, *_row(table, phase.key)] for table in tables]
        widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
        yield from in_columns(rows, widths)
    yield ""
    yield PRECEDENCE


def _row(table: PredictedTable, phase: str) -> Iterator[str]:
    for line in table.lines:
        if line.cells:
            cell = line.in_phase(phase)
            yield f"{(cell.faulty or cell.healthy).words}{' *' if cell.tells_apart else ''}"


# ----------------------------------------------------------------------------------- picture


def _plotted(asked: Asked, file: str, *, severity_given: bool) -> str:
    """Write the picture, whole or not at all; return what is said of it."""
    fault = asked.fault
    if fault is None:
        raise BadRequest("--plot draws one fault as it gets worse; say which with --fault.")
    if Path(file).suffix.lower() != ".svg":
        raise BadRequest(f"--plot writes SVG; give '{file}' a name that ends in .svg.")
    if not SeverityScale(fault.suspect).graded:
        raise BadRequest(
            f"{fault.suspect.describe()}: that is so or it is not, so there is no curve to draw. "
            "Leave out --plot to see the readings."
        )
    places = engine_places(asked.sheet)
    curves = severity_curves(asked.network, places, fault.suspect, rig=asked.rig)
    shown = [place.key for place in places] if asked.places_named else curves.telling_places
    if not shown:
        raise BadRequest(
            f"{fault.suspect.describe()}: no place of this circuit shows it at any severity. "
            "Name a --place to draw it all the same."
        )
    table = predicted_table(asked.sheet, asked.network, fault=fault, rig=asked.rig)
    panels = [
        Panel(
            place=line.place,
            phases=asked.sheet.phases,
            curves=curves.at(line.place.key, asked.phases),
            here=Here.of(line, fault) if severity_given else None,
        )
        for line in table.lines
        if line.place.key in shown and line.cells
    ]
    _save(Path(file), draw_curves(curves.scale, panels))
    return f"{file} shows {', '.join(shown)} with {fault.suspect.describe()}.\n{PRECEDENCE}"


def _save(path: Path, picture: str) -> None:
    """Write a file so that it is there whole, or as it was before."""
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_text(picture, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BadRequest(f"'{path}' cannot be written: {error.strerror}.") from error
