"""Where a screening is worked out: in a process of its own beside the web server, or at once.

``launch`` is the one door: another way to run the same pieces takes its place by one setting. A piece is written once,
by whoever comes first, so that any number of workers may meet on one screening: nothing is lost, nothing counted twice.
"""

from __future__ import annotations

import logging
import subprocess
import sys
from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone

from compat.screening.kernel import Screen
from compat.screening.models import Screening, ScreeningPiece
from compat.screening.moving import move
from compat.screening.pieces import pieces
from compat.screening.queries import subjects_of
from compat.screening.states import OPEN_STATES, Move, MoveError, State
from shared.calc.errors import AccordError
from shared.lazy import Lazily

_LOG = logging.getLogger(__name__)
_MAX_TROUBLE = 300


def launch(key: int) -> None:
    """Work a screening out as the setting SCREENING_RUNS says: “at once” or in “a process”.

    The first, small piece is worked out at once either way, so that rows are there when the page opens.
    """
    if settings.SCREENING_RUNS == "at once":
        work(key)
        return
    work(key, most_pieces=1)
    if Screening.objects.filter(pk=key, state__in=[str(state) for state in OPEN_STATES]).exists():
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
    try:
        _work(screening, most_pieces)
    except MoveError:  # cancelled meanwhile
        return
    except Exception as error:
        _LOG.exception("Screening %s failed", screening.public_id)
        trouble = str(error) if isinstance(error, AccordError) else "The program failed; its log says where."
        if State(Screening.objects.values_list("state", flat=True).get(pk=key)) in OPEN_STATES:
            move(screening, Move.FAIL, now=timezone.now(), trouble=trouble[:_MAX_TROUBLE])
        if not isinstance(error, AccordError):
            raise


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
    subjects = subjects_of(screening)
    return Screen(
        screening.screening_terms(),
        Lazily(subjects.ships, lambda row: row.ship_facts()),
        Lazily(subjects.berths, lambda row: row.berth_facts()),
    )


def _work(screening: Screening, most_pieces: int | None) -> None:
    screen = screen_of(screening)
    kept = set(screening.pieces.values_list("start", flat=True))
    made = 0
    for start, stop in pieces(screening.total, len(screening.berths)):
        if start in kept:
            continue
        if most_pieces is not None and made >= most_pieces:
            return
        if not Screening.objects.filter(pk=screening.pk, state=str(State.RUNNING)).exists():
            return
        work_piece(screening, screen, start, stop, timezone.now())
        made += 1
    if _counted(screening) == screening.total:
        screening.refresh_from_db(fields=["state"])
        move(screening, Move.FINISH, now=timezone.now(), done=screening.total)


def _counted(screening: Screening) -> int:
    return int(screening.pieces.aggregate(done=Sum("stop") - Sum("start"))["done"] or 0)
