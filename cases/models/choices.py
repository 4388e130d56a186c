"""The short lists that a case is filled in from."""

from django.db import models

# The longest fault code: those of heavy vehicles are written out, as in SPN 168 FMI 18.
CODE_LENGTH = 24

#: What is claimed when the claim is that the circuit is in order.
HEALTHY = "healthy"


class Role(models.TextChoices):
    """What a person is in a shop."""

    TECHNICIAN = "technician"
    TRAINER = "trainer"
    OWNER = "owner"


class Symptom(models.TextChoices):
    """What the driver notices, without a cause in it."""

    DOES_NOT_CRANK = "does-not-crank", "does not crank"
    CRANKS_SLOWLY = "cranks-slowly", "cranks slowly"
    CRANKS_NO_START = "cranks-no-start", "cranks, does not start"
    STARTS_AND_DIES = "starts-and-dies", "starts and dies"
    CUTS_OUT = "cuts-out", "cuts out while driving"
    LACKS_POWER = "lacks-power", "lacks power"
    RUNS_ROUGH = "runs-rough", "runs rough"
    RUNS_HOT = "runs-hot", "runs hot"
    NOT_CHARGING = "not-charging", "does not charge"
    FLAT_AFTER_STANDING = "flat-after-standing", "battery flat after standing"
    LIGHTS_WRONG = "lights-wrong", "lights dim, dead or odd"
    WARNING_LAMP = "warning-lamp", "warning lamp on"
    STEERING_HEAVY = "steering-heavy", "steering heavy"
    DOES_NOTHING = "does-nothing", "something electrical does nothing"
    RUNS_ON = "runs-on", "something electrical does not switch off"
    BLOWS_FUSES = "blows-fuses", "blows fuses"
    OTHER = "other", "something else"


class Outcome(models.TextChoices):
    """How the job ended."""

    OPEN = "open", "still open"
    FIXED = "fixed", "complaint gone"
    NOT_FIXED = "not-fixed", "complaint not gone"
    LEFT = "left", "cause known, not repaired"
    NO_FAULT = "no-fault", "no fault found"


class CodeStatus(models.TextChoices):
    """How a module held a fault code when it was read."""

    PRESENT = "present"
    STORED = "stored"
    PENDING = "pending"


class Statistic(models.TextChoices):
    """Which figure of the display was written down."""

    STEADY = "steady"
    MINIMUM = "minimum"
    MAXIMUM = "maximum"
    AVERAGE = "average"


class SymptomPresent(models.TextChoices):
    """Whether the complaint could be felt while the reading was taken."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Stage(models.TextChoices):
    """Whether a reading was taken before or after the repair."""

    BEFORE = "before", "before the repair"
    AFTER = "after", "after the repair"


class EarnedStanding(models.TextChoices):
    """How well a case stands by its record, apart from the time that has passed since."""

    NOTE = "note"
    CLAIMED = "claimed"
    CONSISTENT = "consistent"
    PROVEN = "proven"
    VERIFIED = "verified"
    DOUBTFUL = "doubtful"
    WITHDRAWN = "withdrawn"


class TermKind(models.TextChoices):
    """What search compares by."""

    SLOT = "slot"
    ROLE = "role"
    CODE = "code"
    WORD = "word"
    FAULT = "fault"
    VEHICLE = "vehicle"


class LogForm(models.TextChoices):
    """The two forms in which an older log comes."""

    TABLE = "table", "table (CSV)"
    LINES = "lines", "JSON, a case on each line"


class Wanted(models.TextChoices):
    """What is to be done with an older log."""

    CHECK = "check", "Check it first; nothing comes in yet"
    GOOD = "good", "Take every good case in"
    ALL = "all", "All or nothing: one bad line, and nothing comes in"


class LogState(models.TextChoices):
    """How far an older log has come."""

    WAITING = "waiting", "being gone through"
    CHECKED = "checked", "checked"
    TAKEN_IN = "taken in", "taken in"
    REFUSED = "refused", "nothing came in"
