"""Where a bench file lies: free space, network and sync folders."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

LOW_SPACE_BYTES = 200 * 1024 * 1024
"""Below this a person is warned: even deleting needs room for the journal."""

_NETWORK = {"nfs", "nfs4", "cifs", "smbfs", "smb3", "fuse.sshfs", "9p", "afs", "davfs", "fuse.rclone", "webdav"}
_SYNC_WORDS = ("onedrive", "dropbox", "google drive", "googledrive", "icloud", "nextcloud", "owncloud", "syncthing",
               "mobile documents", "creative cloud", "box sync", "pcloud", "megasync")  # fmt: skip


def free_bytes(path: Path) -> int | None:
    """Free space on the disk that holds `path` [bytes], or None where it cannot be told."""
    try:
        return shutil.disk_usage(path if path.is_dir() else path.parent).free
    except OSError:
        return None


def low_space(path: Path) -> str:
    """A warning when the disk is nearly full, or ''."""
    free = free_bytes(path)
    if free is None or free >= LOW_SPACE_BYTES:
        return ""
    return (
        f"Only {free // (1024 * 1024)} MB are left on the disk that holds {path.name}. What is saved is safe, but soon "
        "nothing more can be written. Free some space, or copy the bench file out to another disk."
    )


def _file_system(path: Path) -> str:
    """Kind of file system under `path` as the system calls it; '' where that cannot be told."""
    try:
        lines = Path("/proc/self/mounts").read_text(encoding="utf-8", errors="replace").splitlines()
        place = path.resolve()
    except OSError:
        return ""
    best, kind = "", ""
    for line in lines:
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        mount = fields[1].replace("\\040", " ")
        if place.is_relative_to(mount) and len(mount) >= len(best):
            best, kind = mount, fields[2]
    return kind


def doubtful_place(path: Path) -> str:
    """A warning when the file lies where locks and flushes cannot be trusted, or ''."""
    parts = " ".join(part.lower() for part in path.resolve().parts[:-1])
    if any(word in parts for word in _SYNC_WORDS):
        where = "a folder that another program synchronises"
    elif str(path).startswith(("\\\\", "//")) or (sys.platform.startswith("linux") and _file_system(path) in _NETWORK):
        where = "a network folder"
    else:
        return ""
    return (
        f"{path.name} lies in {where}. Such folders do not keep the promises that saving rests on, and two computers "
        "may write at once. Copy it to this computer's own disk to work on it, and copy it back when done."
    )
