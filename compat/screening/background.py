"""Where a screening is worked out: in a process of its own beside the web server, by workers at a broker, or at once.

``launch`` is the one door. A piece is written once, by whoever comes first, so that any number of workers may meet on
one screening: nothing is lost, nothing counted twice.
"""

from __future__ import annotations

import logging
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, InterfaceError, OperationalError, transaction
from django.db.models import Sum
from django.utils import timezone

from compat.fit.doubts import Doubtful, doubtful
from compat.fit.stored import versions_of
from compat.screening.kernel import Screen
from compat.screening.models import Screening, ScreeningPiece
from compat.screening.moving import move
from compat.screening.pieces import pieces
from compat.screening.states import OPEN_STATES, Move, MoveError, State
from shared.calc.errors import AccordError
from shared.jobs import BrokerError, has_broker, send
from shared.lazy import Lazily
from terminals.models import BerthRevision
from vessels.models import VesselRevision

PIECE = "screening piece"
_LOG = logging.getLogger(__name__)
_MAX_TROUBLE = 300


def launch(key: int) -> None:
    """Work a screening out: “at once” where SCREENING_RUNS says so, else by the broker's workers or in “a process”.

    The first, small piece is worked out at once in any case, so that rows are there when the page opens. A broker that
    does not answer stops nothing: a process beside the web server does the work then.
    """
    if settings.SCREENING_RUNS == "at once":
        work(key)
        return
    work(key, most_pieces=1)
    screening = Screening.objects.get(pk=key)
    if State(screening.state) in OPEN_STATES and not (has_broker() and _handed_over(screening)):
        command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "run_screening", str(key)]
        subprocess.Popen(  # noqa: S603 - the command is ours
            command, cwd=settings.BASE_DIR, stdin=subprocess.DEVNULL, start_new_session=True, close_fds=True
        )


def work(key: int, most_pieces: int | None = None) -> None:
    """Work out the pieces of a screening that are missing, until it is done, cancelled or fails."""
    screening = Screening.objects.get(pk=key)
    try:
        move(screening, Move.START, now=timezone.now())
    except MoveError:
        return
    with _failures_told(screening):
        _work(screening, most_pieces)


def work_on(key: int, start: int, stop: int) -> None:
    """Work out one piece of a running screening, where it is missing; whoever does the last one finishes it."""
    screening = Screening.objects.filter(pk=key, state=str(State.RUNNING)).first()
    if screening is None:
        return
    with _failures_told(screening):
        if not screening.pieces.filter(start=start).exists():
            work_piece(screening, _screen_kept(screening.public_id), start, stop, timezone.now())
        _finish_if_complete(screening)


def work_piece(screening: Screening, screen: Screen, start: int, stop: int, now: datetime) -> bool:
    """Work out one piece and keep it; return False where another worker had kept it already."""
    made = screen.results(start, stop)
    try:
        with transaction.atomic():
            ScreeningPiece.objects.create(screening=screening, start=start, stop=stop, columns=made.to_bytes())
            counted = _counted(screening)
            Screening.objects.filter(pk=screening.pk).update(done=counted, beat_at=now)
    except IntegrityError:
        return False
    screening.done = counted
    return True


def screen_of(screening: Screening) -> Screen:
    """Return a screening ready to be worked out; documents are read when they are first needed."""
    berths = BerthRevision.objects.in_bulk(screening.berths)
    today = screening.made_at.date()

    def ship_doubts(key: int) -> Doubtful:
        row = VesselRevision.objects.get(pk=key)
        return doubtful("ship", row.ship_facts(), versions_of(row), today)

    def berth_doubts(key: int) -> Doubtful:
        return doubtful("berth", berths[key].berth_facts(), versions_of(berths[key]), today)

    return Screen(
        screening.screening_terms(),
        Lazily(screening.ships, lambda key: VesselRevision.objects.get(pk=key).ship_facts()),
        Lazily(screening.berths, lambda key: berths[key].berth_facts()),
        (Lazily(screening.ships, ship_doubts), Lazily(screening.berths, berth_doubts)),
    )


@lru_cache(maxsize=1)
def _screen_kept(public_id: UUID) -> Screen:
    """Return the screening that this process works on; what was screened never changes, so its sides stay good."""
    return screen_of(Screening.objects.get(public_id=public_id))


def _handed_over(screening: Screening) -> bool:
    """Hand every missing piece to the broker; return False where it does not take them."""
    try:
        for start, stop in _missing(screening):
            send(PIECE, screening.pk, start, stop)
    except BrokerError:
        _LOG.exception("Screening %s is worked out beside the web server.", screening.public_id)
        return False
    return True


@contextmanager
def _failures_told(screening: Screening) -> Iterator[None]:
    """Let a screening fail with the reason; a database that is away is none, and is left to whoever tries again."""
    try:
        yield
    except MoveError:  # cancelled or finished meanwhile
        return
    except (OperationalError, InterfaceError):
        raise
    except Exception as error:
        _LOG.exception("Screening %s failed", screening.public_id)
        trouble = str(error) if isinstance(error, AccordError) else "The program failed; its log says where."
        screening.refresh_from_db(fields=["state"])
        if State(screening.state) in OPEN_STATES:
            move(screening, Move.FAIL, now=timezone.now(), trouble=trouble[:_MAX_TROUBLE])
        if not isinstance(error, AccordError):
            raise


def _work(screening: Screening, most_pieces: int | None) -> None:
    screen = screen_of(screening)
    for made, (start, stop) in enumerate(_missing(screening)):
        if most_pieces is not None and made >= most_pieces:
            return
        if not Screening.objects.filter(pk=screening.pk, state=str(State.RUNNING)).exists():
            return
        work_piece(screening, screen, start, stop, timezone.now())
    _finish_if_complete(screening)


def _missing(screening: Screening) -> Iterator[tuple[int, int]]:
    kept = set(screening.pieces.values_list("start", flat=True))
    for start, stop in pieces(screening.total, len(screening.berths)):
        if start not in kept:
            yield start, stop


def _finish_if_complete(screening: Screening) -> None:
    if _counted(screening) == screening.total:
        screening.refresh_from_db(fields=["state"])
        move(screening, Move.FINISH, now=timezone.now(), done=screening.total)


def _counted(screening: Screening) -> int:
    return int(screening.pieces.aggregate(done=Sum("stop") - Sum("start"))["done"] or 0)
