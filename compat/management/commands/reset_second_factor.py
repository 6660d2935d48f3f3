"""Takes every second factor off a person, for whoever runs the machine when nobody else can."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shared.factors import take_off_everything
from shared.models import Person


class Command(BaseCommand):
    """Take passkeys, time codes and recovery codes off one person; their sessions end and the trail says so."""

    help = "take every second factor off a person who lost theirs"

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the username."""
        parser.add_argument("username")

    def handle(self, *_: Any, **options: Any) -> None:
        """Do it, or say that there is no such person."""
        person = Person.objects.filter(username=options["username"]).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {options['username']}.")
        take_off_everything(person, by=None, now=timezone.now())
        self.stdout.write(f"{person} ({person.username}) signs in with the secret alone now.")
