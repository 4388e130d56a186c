"""What a learner sends: a reading to be taken, then the fault it points to."""

from cases.forms.deeds import SuspectForm
from cases.forms.rigs import RigForm


class AskForm(RigForm):
    """A reading to take: where, in which phase, with what in or out."""


class NameFaultForm(SuspectForm):
    """The fault a learner settles on."""
