"""The first checks of a part, in the vehicle and on the bench."""

from pydantic import Field

from api.serializers.documents import Shown


class CheckShown(Shown):
    """One check, and the place and phase under which its reading can be logged."""

    what: str
    place: str = Field(description="A place of the circuit, or two connections as `K30 - K87`.")
    phase: str
    red: str
    black: str
    meter: str
    when: str = Field(description="The phase in words; on the bench what is fed and asked.")
    expected: str
    otherwise: tuple[str, ...]
    cautions: tuple[str, ...]


class PartSheetShown(Shown):
    """The checks of a part in the order of the trade."""

    circuit: str
    revision: int
    part: str
    cautions: tuple[str, ...]
    precedence: str = Field(description="Who comes before this sheet.")
    checks: tuple[CheckShown, ...]
