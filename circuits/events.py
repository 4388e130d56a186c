"""What circuits tell the rest of the house, without knowing who listens."""

from django.dispatch import Signal

#: A revision was published. Sent inside the transaction that wrote it, with `revision`, `by`
#: and `at`; a listener that fails takes the revision back with it.
revision_published = Signal()
