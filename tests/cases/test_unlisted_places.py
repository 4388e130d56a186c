"""Readings at places that a circuit does not list: between any two connections, and on the bench.

Relay: 85 ohm +-10 % and 141 mA at 12 V (a relay maker's data for a mini ISO relay). What stands in
series adds: Ohm's law.
"""

import pytest

from cases.documents.readings import NewReading
from cases.errors import PhaseNotInCircuit, PlaceNotInCircuit
from cases.models import Case
from cases.services.cases import claim_fault
from cases.services.readings import add_reading, add_readings
from circuits.models import Revision
from tests.cast import MONDAY, Cast, judgement_on, logged, one_reading, publish, verdict_on

WINDING = "bench: winding K4.coil"
COIL_OPEN = "resistance:K4.coil"

pytestmark = pytest.mark.django_db


@pytest.fixture
def horn(cast: Cast) -> Revision:
    return publish("horn.txt", by=cast.technician)


def taken(cast: Cast, case: Case, *readings: NewReading) -> Case:
    add_readings(case=case, readings=readings, by=cast.technician, at=MONDAY)
    return Case.objects.get(pk=case.pk)


def test_two_leads_read_the_same_whether_the_place_is_listed_or_not(cast: Cast, horn) -> None:
    listed = logged(cast, horn, claim="resistance:LOW")
    unlisted = logged(cast, horn, claim="resistance:LOW")
    taken(cast, listed, one_reading("TP1", "blow", "12.40"), one_reading("TP2", "blow", "8.00"))
    taken(
        cast,
        unlisted,
        one_reading("TP1", "blow", "12.40"),
        one_reading("LOp - LOg", "blow", "8.00"),
    )
    first, second = judgement_on(listed), judgement_on(unlisted)

    assert first.healthy.misfit == second.healthy.misfit
    assert [each.suspect for each in first.findings] == [each.suspect for each in second.findings]
    assert [each.severity for each in first.findings] == [each.severity for each in second.findings]


def test_a_clamp_goes_round_any_part(cast: Cast, horn) -> None:
    case = taken(cast, logged(cast, horn), one_reading("round F9", "blow", "0.00"))
    before = judgement_on(case)

    assert before.healthy.outcome == "does not fit"
    assert "resistance:BTN" in [each.suspect for each in before.findings if each.outcome == "fits"]


@pytest.mark.parametrize("text", ["85.0", "90.2", "78.0"])
def test_a_sound_winding_on_the_bench_accuses_nobody(cast: Cast, horn, text) -> None:
    case = taken(cast, logged(cast, horn), one_reading(WINDING, "bench", text))

    assert judgement_on(case).healthy.outcome == "fits"


def test_ohms_too_many_on_the_bench_are_the_windings_own(cast: Cast, horn) -> None:
    """120 ohm on a winding of 85 +-10 %: 35 +-9 ohm are added, and no other part is in sight."""
    case = taken(cast, logged(cast, horn), one_reading(WINDING, "bench", "120.0"))
    claim_fault(case=case, suspect=COIL_OPEN, by=cast.technician, at=MONDAY)
    before = judgement_on(case)
    fitting = {each.suspect for each in before.findings if each.outcome == "fits"}

    assert before.claim is not None
    assert before.claim.outcome == "fits"
    assert before.claim.severity == pytest.approx(35.0, abs=9.0)
    assert {name.partition(":")[2] for name in fitting} == {"K4.coil"}


def test_an_open_winding_shows_ol_on_the_bench(cast: Cast, horn) -> None:
    case = taken(cast, logged(cast, horn), one_reading(WINDING, "bench", "OL"))
    claim_fault(case=case, suspect=COIL_OPEN, by=cast.technician, at=MONDAY)

    assert verdict_on(case).outcome == "fits"
    assert judgement_on(case).healthy.outcome == "does not fit"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("9.0 mV", "as a part in order, where at most 14 mV at 1.75 A is expected"),
        ("240 mV", "higher than a part in order, where at most 14 mV at 1.75 A is expected"),
    ],
)
def test_a_drop_under_a_load_of_the_bench_is_compared_and_set_aside(
    cast: Cast, horn, text, words
) -> None:
    place = "bench: K4.con under load, made"
    case = taken(cast, logged(cast, horn), one_reading(place, "bench", text))
    (aside,) = verdict_on(case).set_aside

    assert aside.place == place
    assert words in aside.because


@pytest.mark.parametrize(
    ("place", "phase", "error"),
    [
        (WINDING, "blow", PhaseNotInCircuit),
        ("TP1", "bench", PhaseNotInCircuit),
        ("LOp - nowhere", "blow", PlaceNotInCircuit),
        ("round nothing", "blow", PlaceNotInCircuit),
        ("bench: winding K9.coil", "bench", PlaceNotInCircuit),
    ],
)
def test_a_place_or_phase_that_is_not_there_is_refused(
    cast: Cast, horn, place, phase, error
) -> None:
    case = logged(cast, horn)

    with pytest.raises(error):
        add_reading(
            case=case, reading=one_reading(place, phase, "1.0"), by=cast.technician, at=MONDAY
        )
    assert not case.readings.exists()


def test_a_circuit_that_belongs_to_licensed_people_has_no_bench(cast: Cast) -> None:
    steering = publish("power_steering.txt", by=cast.technician, swap=("near-airbag", "airbag"))
    case = logged(cast, steering)

    with pytest.raises(PlaceNotInCircuit):
        add_reading(
            case=case,
            reading=one_reading("bench: winding K1.coil", "bench", "85"),
            by=cast.technician,
            at=MONDAY,
        )
