"""Storing circuits: rows lose nothing, published revisions stay, writers are told apart."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import DatabaseError, IntegrityError, transaction

from circuits.errors import CircuitExists, NoteMissing, NothingNew, OtherCircuit, UnknownCircuit
from circuits.events import revision_published
from circuits.models import Circuit, Connection, PartRow, Revision
from circuits.services import (
    circuit_by_key,
    export_text,
    import_text,
    latest_revision,
    network_of,
    places_of,
    publish_revision,
    sheet_of,
)
from circuits.sheet import SheetErrors, read_text, to_network, write_text
from circuits.stored import sheet_from_rows, with_rows

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
PUMP = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))

pytestmark = pytest.mark.django_db


@pytest.fixture
def writer():
    return User.objects.create_user("brandt")


def published(writer, sheet=PUMP, **asked):
    return publish_revision(sheet=sheet, note="First drawing.", by=writer, at=AT, **asked)


def longer_wire():
    return read_text(write_text(PUMP).replace("1.5 mm2, 1.6 m", "1.5 mm2, 1.8 m"))


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.txt")), ids=lambda path: path.stem)
def test_a_sheet_comes_back_from_its_rows_as_it_was(writer, path):
    sheet = read_text(path.read_text(encoding="utf-8"))
    revision = published(writer, sheet)

    assert sheet_from_rows(with_rows(Revision.objects.all()).get(pk=revision.pk)) == sheet
    assert export_text(revision) == write_text(sheet)


def test_a_stored_circuit_makes_the_network_of_its_sheet(writer):
    revision = published(writer)

    assert network_of(revision) == to_network(PUMP)
    assert [place.key for place in places_of(revision)] == [place.key for place in PUMP.places]


def test_revisions_are_numbered_and_the_circuit_shows_the_newest(writer):
    first = published(writer)
    second = publish_revision(
        circuit=first.circuit, sheet=longer_wire(), note="Measured W2 again.", by=writer, at=AT
    )

    assert (first.number, second.number) == (1, 2)
    assert latest_revision(first.circuit) == second
    assert sheet_of(first) == PUMP
    assert vars(Circuit.objects.with_latest().get())["latest_number"] == 2


def test_a_sealed_revision_and_its_rows_cannot_be_changed(writer):
    revision = published(writer)
    changes = (
        lambda: Revision.objects.filter(pk=revision.pk).update(note="else"),
        lambda: PartRow.objects.filter(revision=revision, name="W2").update(kind="fuse"),
        lambda: PartRow.objects.filter(revision=revision, name="W2").delete(),
        lambda: Connection.objects.create(revision=revision, order=99, node="X9", kind="pin"),
        lambda: revision.hazards.all().delete(),
    )

    for change in changes:
        with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
            change()
    assert sheet_from_rows(with_rows(Revision.objects.all()).get(pk=revision.pk)) == PUMP


def test_the_database_refuses_two_parts_of_one_name(writer):
    revision = Revision.objects.create(
        circuit=Circuit.objects.create(key="x", title="x", system="x", created_at=AT),
        number=1,
        note="x",
        author=writer,
        created_at=AT,
        title="x",
        system="x",
        supply_volts=12,
        zero="BN",
        drawn_by_us=True,
    )
    row = {"revision": revision, "name": "W1", "kind": "wire", "first": "a", "second": "b"}
    PartRow.objects.create(order=0, **row)

    with pytest.raises(IntegrityError, match="circuits_part_name_once"), transaction.atomic():
        PartRow.objects.create(order=1, **row)


def test_nothing_is_kept_of_a_revision_that_a_listener_refuses(writer):
    def refuse(**_):
        raise RuntimeError("no")

    revision_published.connect(refuse)
    try:
        with pytest.raises(RuntimeError):
            published(writer)
    finally:
        revision_published.disconnect(refuse)
    assert not Circuit.objects.exists()


def test_publishing_tells_who_did_it(writer):
    heard = []

    def hear(**news):
        heard.append(news)

    revision_published.connect(hear)
    try:
        revision = published(writer)
    finally:
        revision_published.disconnect(hear)
    assert [(news["revision"], news["by"], news["at"]) for news in heard] == [
        (revision, writer, AT)
    ]


def test_what_cannot_be_published_is_refused_in_words(writer):
    revision = published(writer)

    with pytest.raises(CircuitExists, match="fuel-pump"):
        published(writer)
    with pytest.raises(NothingNew, match="revision 1"):
        published(writer, circuit=revision.circuit)
    with pytest.raises(NoteMissing):
        publish_revision(circuit=revision.circuit, sheet=longer_wire(), note="  ", by=writer, at=AT)
    other = read_text(write_text(longer_wire()).replace("fuel-pump", "fuel-pump-2"))
    with pytest.raises(OtherCircuit, match="fuel-pump-2"):
        published(writer, other, circuit=revision.circuit)
    assert Revision.objects.count() == 1


def test_a_bad_text_stores_nothing(writer):
    text = write_text(PUMP).replace("90 Ohm", "90 V")

    with pytest.raises(SheetErrors, match=r"K3\.coil"):
        import_text(text, note="n", by=writer, at=AT)
    assert not Circuit.objects.exists()


def test_an_unknown_key_names_the_nearest(writer):
    published(writer)

    with pytest.raises(UnknownCircuit, match="Did you mean fuel-pump"):
        circuit_by_key("fuel-pmp")


def test_a_circuit_takes_the_same_queries_whatever_its_size(writer, django_assert_num_queries):
    revision = published(writer)

    # The revision with its circuit, and one query for each of the eight kinds of rows.
    with django_assert_num_queries(9):
        sheet_from_rows(with_rows(Revision.objects.all()).get(pk=revision.pk))
