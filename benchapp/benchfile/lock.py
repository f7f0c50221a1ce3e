"""The lock file beside a bench file: who has it open, and whether the last one closed it cleanly.

The bench file itself is never opened by hand (closing it would drop SQLite's own locks), so the operating system's lock
lies on a file of our own. It is given back by the system when the program is killed; what is written in it then stays,
and that is how the next start knows of an unclean stop.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import getpass
import json
import os
import socket
import sys
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds (or left behind) a lock."""

    who: str
    host: str
    pid: int
    since: str

    def words(self) -> str:
        where = "on this computer" if self.host == socket.gethostname() else f"on {self.host or 'another computer'}"
        return f"{self.who or 'someone'} {where}, since {self._since() or 'an unknown time'}"

    def _since(self) -> str:
        """The moment by the clock of whoever reads it; as it is written where it is none."""
        try:
            return dt.datetime.fromisoformat(self.since).astimezone().strftime("%Y-%m-%d %H:%M")
        except ValueError:
            return self.since


def lock_path(bench_path: Path) -> Path:
    """The lock file's place: beside the bench file."""
    return bench_path.with_name(bench_path.name + "-lock")


def user_name() -> str:
    """The system's name for the person at the keyboard."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


if sys.platform == "win32":
    import msvcrt

    _FAR = 1 << 30
    """Locked beyond the text, because a locked byte cannot be read by others there."""

    def _try_lock(handle: int) -> bool:
        os.lseek(handle, _FAR, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


class Lock:
    """A lock file. After `take()`: `held`, `holder` (who else has it, or who left it), `unclean` (left by a stop)."""

    def __init__(self, bench_path: Path) -> None:
        self.path = lock_path(bench_path)
        self.held = False
        self.unclean = False
        self.holder: Holder | None = None
        self._handle: int | None = None

    def take(self, who: str, take_over: bool = False) -> bool:
        """True when the lock is ours. Raises OSError where no lock file can be made (a read-only folder)."""
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
        ours = _try_lock(handle)
        self.holder = _read(handle)
        elsewhere = self.holder is not None and self.holder.host != socket.gethostname()
        if not ours or (elsewhere and not take_over):
            os.close(handle)
            return False
        self.unclean = self.holder is not None
        self._handle = handle
        try:
            _write(handle, who)
        except OSError:  # a full disk: the lock holds all the same
            with contextlib.suppress(OSError):
                os.ftruncate(handle, 0)
        self.held = True
        return True

    def give_back(self, clean: bool = True) -> None:
        """Gives the lock back; `clean=False` leaves the mark of an unclean stop."""
        if self._handle is None:
            return
        if clean:
            with contextlib.suppress(OSError):
                os.ftruncate(self._handle, 0)
            if sys.platform != "win32":
                with contextlib.suppress(OSError):
                    self.path.unlink()
        os.close(self._handle)
        if clean and sys.platform == "win32":
            with contextlib.suppress(OSError):
                self.path.unlink()
        self._handle = None
        self.held = False


def left_elsewhere(bench_path: Path) -> Holder | None:
    """Who left a lock behind on another computer that nobody holds as far as this one can tell; None otherwise.

    Such a lock may be taken over by a person who knows that the other computer is off (`Lock.take(take_over=True)`)."""
    try:
        handle = os.open(lock_path(bench_path), os.O_RDWR)
    except OSError:
        return None
    try:
        holder = _read(handle) if _try_lock(handle) else None
    finally:
        os.close(handle)  # and with it the lock that was tried
    return holder if holder is not None and holder.host != socket.gethostname() else None


def _write(handle: int, who: str) -> None:
    now = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    text = json.dumps({"who": who, "host": socket.gethostname(), "pid": os.getpid(), "since": now})
    os.ftruncate(handle, 0)
    os.lseek(handle, 0, os.SEEK_SET)
    os.write(handle, text.encode("utf-8"))
    os.fsync(handle)


def _read(handle: int) -> Holder | None:
    os.lseek(handle, 0, os.SEEK_SET)
    text = os.read(handle, 4096).decode("utf-8", errors="replace")
    if not text.strip():
        return None
    try:
        said = json.loads(text)
        return Holder(str(said["who"]), str(said["host"]), int(said["pid"]), str(said["since"]))
    except (ValueError, KeyError, TypeError):
        return Holder("someone", socket.gethostname(), 0, "")
