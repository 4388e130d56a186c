"""`manage.py predict`: what a meter shows at every place of a circuit."""

import sys
import traceback
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from circuits.documents import prediction_document
from circuits.engine import AS_IT_STANDS, EngineError, Rig
from circuits.errors import CircuitError
from circuits.faults import named_fault
from circuits.predictions import PredictedTable, predicted_table
from circuits.services import circuit_by_key, latest_revision, sheet_of
from circuits.sheet import Sheet, SheetErrors, read_any, to_network
from circuits.units import UnitError, parse_quantity

BAD_INPUT = 2
OUR_BUG = 70


class BadRequest(ValueError):
    """The command was asked for something that it cannot do."""


class Command(BaseCommand):
    help = (
        "Print what a meter shows at every place of a circuit, in every phase, healthy or with a "
        "fault. CIRCUIT is a file (text form or JSON) or the key of a stored circuit. "
        "Exit status: 0 done, 2 bad input, 70 a mistake of ours."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("circuit", metavar="CIRCUIT")
        parser.add_argument(
            "--phase", action="append", default=[], help="only this phase; may be given again"
        )
        parser.add_argument("--fault", help="a fault such as resistance:C40 or ground-short:S5")
        parser.add_argument(
            "--severity", help="how bad: 1.1 Ohm, open, short, 0.5 V; left out: open or short"
        )
        parser.add_argument(
            "--unplug", action="append", default=[], help="a part that is out; may be given again"
        )
        parser.add_argument("--lamp", help="a test lamp across the leads, such as 21 W")
        form = parser.add_mutually_exclusive_group()
        form.add_argument("--table", action="store_true", help="a table for people (the default)")
        form.add_argument("--json", action="store_true", help="JSON for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            sheet, table = _asked_table(options)
            written = _as_json(sheet, table) if options["json"] else _as_table(sheet, table)
        except (SheetErrors, CircuitError, EngineError, UnitError, BadRequest, OSError) as error:
            self.stderr.write(str(error))
            sys.exit(BAD_INPUT)
        except Exception:
            self.stderr.write(traceback.format_exc())
            self.stderr.write("This is a mistake of ours; please report it with the lines above.")
            sys.exit(OUR_BUG)
        self.stdout.write(written)


def _asked_table(options: dict[str, Any]) -> tuple[Sheet, PredictedTable]:
    sheet = _sheet(options["circuit"])
    network = to_network(sheet)
    for phase in options["phase"]:
        if phase not in sheet.phase_keys:
            raise BadRequest(
                f"There is no phase '{phase}'; this circuit has {', '.join(sheet.phase_keys)}."
            )
    fault = None
    if options["fault"]:
        fault = named_fault(network, options["fault"], options["severity"] or "")
    elif options["severity"]:
        raise BadRequest("--severity belongs to a --fault; say which.")
    lamp_watts = parse_quantity(options["lamp"], "W").number if options["lamp"] else None
    rig = AS_IT_STANDS
    if options["unplug"] or lamp_watts:
        rig = Rig(unplugged=frozenset(options["unplug"]), lamp_watts=lamp_watts)
    table = predicted_table(sheet, network, fault=fault, rig=rig, phases=tuple(options["phase"]))
    return sheet, table


def _sheet(circuit: str) -> Sheet:
    path = Path(circuit)
    if path.is_file():
        return read_any(path.read_bytes())
    if path.suffix or len(path.parts) > 1:
        raise BadRequest(f"There is no file '{circuit}'.")
    return sheet_of(latest_revision(circuit_by_key(circuit)))


# ------------------------------------------------------------------------------------- form


def _as_json(sheet: Sheet, table: PredictedTable) -> str:
    return prediction_document(sheet, table).model_dump_json(indent=1)


def _as_table(sheet: Sheet, table: PredictedTable) -> str:
    return "\n".join(_table_lines(sheet, table))


def _table_lines(sheet: Sheet, table: PredictedTable) -> Iterator[str]:
    vehicle = sheet.vehicle
    made = " ".join(word for word in (vehicle.make, vehicle.model) if word)
    yield f"{vehicle.title}{f' ({made})' if made else ''}"
    if table.fault is not None:
        yield f"With {table.fault_words}. A star marks what parts it from healthy."
    for phase in table.phases:
        yield ""
        yield phase.words
        yield from _columns(table, phase.key)
    yield ""
    yield "Typical values of this drawing, not a specification: the maker's procedure comes first."


def _columns(table: PredictedTable, phase: str) -> Iterator[str]:
    head = ["place", "", "healthy", "normal range", *(["with the fault"] if table.fault else [])]
    rows = [head]
    for line in table.lines:
        row = [line.place.key, line.place.label]
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
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield f"  {'  '.join(cells)}".rstrip()
