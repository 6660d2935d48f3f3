"""``manage.py up``: everything from an empty folder to a served site, and again without losing anything."""

from __future__ import annotations

import errno
import os
import socket
import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.core.management.utils import get_random_secret_key
from django.utils import timezone

from compat import demo
from compat.settings import secret_key
from shared.authority import load_or_make_authority
from shared.models import Person
from shared.signing import write_private_file

_LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})
_PORTS_TRIED = 50
_NO_PAGE_ASKS_FOR = [
    *("bootstrap-*", "bootstrap.css*", "bootstrap.js*", "bootstrap.min.js*", "bootstrap.bundle.js*"),
    *("*.rtl.*", "*.esm.*", "ext", "htm*x-4*"),
]
"""What libraries carry beside the files that pages use; compressing it all would take long."""


class Command(BaseCommand):
    """Prepare the data folder and database, load the demo into an empty one, print the address, serve."""

    help = "Prepare everything that is missing, then serve the site until Ctrl-C. Running it again keeps all data."
    requires_system_checks = ()  # they run below, once there is a secret key

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the address, and whether an empty database gets the demo scenario."""
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
        parser.add_argument("--port", type=port, default=8000, help="port to listen on (default: 8000)")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *_: Any, **options: Any) -> None:
        """Prepare, say where the site is, and become its server."""
        host, wanted = options["host"], options["port"]
        found = free_port(host, wanted)
        prepare_keys()
        self.check()
        call_command("migrate", verbosity=0, interactive=False)
        gather_static_files()
        if not options["no_demo"] and not Person.objects.exists():
            self.stdout.write("The database is empty: loading the demo scenario, which takes a minute or so.")
            demo.load(now=timezone.now(), tell=self._say_what_is_next)
        if found != wanted:
            self.stdout.write(f"Port {wanted} on {host} is taken, so the site is on port {found}.")
        self._say_who_signs_in()
        self._say_where(host, found)
        self.stdout.flush()
        serve(host, found)

    def _say_what_is_next(self, words: str) -> None:
        self.stdout.write(f"  {words} …")
        self.stdout.flush()

    def _say_where(self, host: str, number: int) -> None:
        named = "localhost" if host in _LOOPBACK else host
        os.environ.setdefault("BERTH_ACCORD_SITE", f"http://{named}:{number}")
        self.stdout.write(f"\nBerth Accord is at http://{named}:{number}/  (Ctrl-C stops it)")
        if host not in _LOOPBACK and "BERTH_ACCORD_HOSTS" not in os.environ:
            self.stdout.write("Set BERTH_ACCORD_HOSTS to the names by which others call this machine.")

    def _say_who_signs_in(self) -> None:
        people = Person.objects.select_related("organisation").in_bulk(
            [entry.username for entry in demo.LOG_INS], field_name="username"
        )
        if people:
            self.stdout.write(f"\nDemo log-ins, each with the secret {demo.SECRET} unless it was changed:")
        for entry in demo.LOG_INS:
            if person := people.get(entry.username):
                of = f", {person.organisation} ({person.role})" if person.organisation else ""
                self.stdout.write(f"  {person.username:<14} {person.full_name}, {person.title}{of}")
        if not Person.objects.exists():
            self.stdout.write("Nobody can sign in yet; make the first administrator with: manage.py createsuperuser")


def prepare_keys() -> None:
    """Make the data folder, secret key and signing key where they are missing; leave them where they are not."""
    settings.DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not secret_key():
        write_private_file(settings.SECRET_KEY_FILE, get_random_secret_key().encode("ascii"))
        settings.SECRET_KEY = secret_key()
    load_or_make_authority(settings.SIGNING_KEY_FILE)


def gather_static_files() -> None:
    """Put style sheets and scripts, compressed and named by their content, where the site serves them from."""
    call_command("collectstatic", verbosity=0, interactive=False, ignore_patterns=_NO_PAGE_ASKS_FOR)


def free_port(host: str, wanted: int) -> int:
    """Return the wanted port or the next free one; raise CommandError when there is none or no such address."""
    for number in range(wanted, min(wanted + _PORTS_TRIED, 65536)):
        try:
            with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as listener:
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
                listener.bind((host, number))
                listener.listen()
        except PermissionError:
            raise CommandError(f"Port {number} needs more rights than you have; choose one from 1024 up.") from None
        except OSError as error:
            if isinstance(error, socket.gaierror) or not is_taken(error):
                raise CommandError(f"Can't listen on {host}: {error.strerror}.") from None
        else:
            return number
    raise CommandError(f"Ports {wanted} to {number} on {host} are all taken; name a free one with --port.")


def is_taken(error: OSError) -> bool:
    """Tell whether listening failed only because another program listens there."""
    return error.errno == errno.EADDRINUSE


def serve(host: str, number: int) -> None:
    """Become the web server, so that Ctrl-C and signals reach it directly."""
    address = f"[{host}]:{number}" if ":" in host else f"{host}:{number}"
    command = [sys.executable, "-m", "gunicorn", "--config", "python:compat.server", "--bind", address]
    command += ["--chdir", str(settings.BASE_DIR)]
    os.execv(sys.executable, command)  # noqa: S606 (no shell is wanted)


def port(text: str) -> int:
    """Read a port number; argparse turns the ValueError into its own sentence."""
    number = int(text)
    if not 1 <= number <= 65535:
        raise ValueError(text)
    return number
