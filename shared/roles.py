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

    ALL = "all", "Every act of the other side on values, and what follows"
    STATES = "states", "Only accords opened, settled, signed, in force, taken back, withdrawn or amended"
    NONE = "none", "Nothing"


ACTING_ROLES = frozenset({Role.ADMINISTRATOR, Role.OFFICER})
