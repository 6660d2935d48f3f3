"""Who someone is: the kind of their organisation and their role in it."""

from django.db.models import TextChoices


class Kind(TextChoices):
    """What an organisation does here."""

    SHIP = "ship", "Ship operator"
    TERMINAL = "terminal", "Terminal operator"
    AUDIT = "audit", "Auditor"


class Role(TextChoices):
    """What a person may do for their organisation."""

    ADMINISTRATOR = "administrator", "Administrator: people, data and agreements"
    OFFICER = "officer", "Officer: data and agreements"
    READER = "reader", "Reader: looks only"


class Notices(TextChoices):
    """Which acts of the other side a person is told of by mail."""

    ALL = "all", "Every act: values, checklist settled, signatures, withdrawals, amendments"
    STATES = "states", "Only when an accord is opened, settled, signed, in force, taken back, withdrawn or amended"
    NONE = "none", "Nothing by mail"


ACTING_ROLES = frozenset({Role.ADMINISTRATOR, Role.OFFICER})
