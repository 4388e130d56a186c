"""Could this circuit, with the claimed fault, have shown these readings, and which other could.

Every suspect is tried over its whole range of severity, healthy among them. At each severity the
readings are compared with the prediction jointly: what the parts' tolerances and the meter allow
is put into one covariance, because a tolerance moves all the readings that its part touches
together (JCGM 100:2008, 5.2). The misfit is the chi-square of what is left; a suspect fits if the
best of its severities passes at 99.5 %. Where healthy passes as well, the readings cannot say. A
suspect that the readings taken one by one exclude by far is told with its nearest severity alone.
What was read without the symptom and as a healthy circuit gives it is no evidence at all.
"""

from collections.abc import Sequence
from dataclasses import replace

from circuits.engine.ambient import temperature_notes
from circuits.engine.faults import Suspect
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.comparing import Comparison
from circuits.engine.judging.doubles import double_findings
from circuits.engine.judging.intermittent import heard_of, undecided
from circuits.engine.judging.verdict import Parting, Twins, Verdict
from circuits.engine.listing import UnknownSuspect, suspects
from circuits.engine.network import Network
from circuits.engine.readings import Place, Reading


def judge(
    network: Network,
    readings: Sequence[Reading],
    *,
    claim: str | None = None,
    supply_places: Sequence[str] = (),
    places: Sequence[Place] = (),
    rivals: bool = True,
    doubles: bool = False,
) -> Verdict:
    """Return what the readings allow.

    Parameters
    ----------
    claim
        The id of the claimed fault, or none for an open case.
    supply_places
        Keys of the places that read the supply itself: what was logged there shifts the source
        before anything is judged, so that a car at 11.6 V is not called faulty.
    places
        The circuit's listed places: what no reading there can part are twins.
    rivals
        Whether every other suspect is tried; without, the claim and healthy alone.
    doubles
        Whether pairs of faults are tried where no single one fits, which takes seconds.

    Raises
    ------
    UnknownSuspect
        The claim is not a fault of this circuit.
    BadPlace, BadPhase
        A reading names something that is not in the circuit.
    ValueError
        There is no reading to judge.

    Examples
    --------
    Six volts are missing at a lamp whose feed should lose a tenth of one:

    >>> from circuits.engine import Battery, Network, Place, Reading, Resistor, judge
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> at_lamp = Place(key="lamp", red="in", black="minus")
    >>> logged = Reading(place=at_lamp, phase="as drawn", value=6.27, step=0.01)
    >>> verdict = judge(lamp, [logged], claim="resistance:W1")
    >>> str(verdict.claim.outcome), round(verdict.claim.severity)
    ('fits', 6)
    """
    if not readings:
        raise ValueError("there is no reading to judge; log at least one")
    listed = suspects(network)
    if claim is not None and claim not in {suspect.id for suspect in listed}:
        raise UnknownSuspect.among(claim, [suspect.id for suspect in listed])
    tried = listed if rivals else [suspect for suspect in listed if suspect.id == claim]
    heard = heard_of(network, readings, supply_places)
    shifted, readings, aside = heard.network, heard.readings, heard.aside
    if not readings:
        return _nothing_left(tried, claim, aside, heard.notes)
    bench = Bench(shifted, readings, tried)
    healthy, findings = bench.findings()
    notes = (*heard.notes, *temperature_notes(shifted, readings))
    fitting = [finding for finding in findings if finding.passes]
    twins: tuple[Twins, ...] = ()
    partings: tuple[Parting, ...] = ()
    if fitting:
        comparison = Comparison(shifted, readings, fitting, places)
        watts, overloads = comparison.watts(), comparison.overloads()
        findings = [
            replace(
                finding,
                watts=watts.get(finding.id),
                overloads=overloads.get(finding.id, ()),
            )
            for finding in findings
        ]
        twins = comparison.twins()
        partings = comparison.partings(twins)
    findings.sort(key=lambda finding: (not finding.passes, finding.misfit))
    return Verdict(
        claim=next((finding for finding in findings if finding.id == claim), None),
        healthy=healthy,
        findings=tuple(findings),
        twins=twins,
        partings=partings,
        readings=tuple(readings),
        notes=notes,
        slips=bench.slips() if rivals else (),
        doubles=double_findings(bench) if rivals and doubles else (),
        set_aside=aside,
    )


def _nothing_left(
    tried: Sequence[Suspect], claim: str | None, aside: tuple[Reading, ...], notes: Sequence[str]
) -> Verdict:
    findings = tuple(map(undecided, tried))
    return Verdict(
        claim=next((finding for finding in findings if finding.id == claim), None),
        healthy=undecided(None),
        findings=findings,
        twins=(),
        partings=(),
        readings=(),
        notes=tuple(notes),
        set_aside=aside,
    )
