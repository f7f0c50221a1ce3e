"""What the two commands `python3 -m demo` and `python3 -m tests` share: make `.venv`, install, say what happens.

Standard library only, and written so that a too old Python still reaches the sentence that says it is too old.
"""

import ctypes
import hashlib
import os
import shutil
import subprocess
import sys

MINIMUM = (3, 11)

# Measured on a bare Debian 12 in the order in which the imports fail; package -> library it brings.
OFFSCREEN_LIBRARIES = (
    ("libgl1", "libGL.so.1"),
    ("libegl1", "libEGL.so.1"),
    ("libxkbcommon0", "libxkbcommon.so.0"),
    ("libdbus-1-3", "libdbus-1.so.3"),
    ("libfontconfig1", "libfontconfig.so.1"),
    ("libglib2.0-0", "libglib-2.0.so.0"),
)
WINDOW_LIBRARIES = (
    ("libxcb-cursor0", "libxcb-cursor.so.0"),
    ("libxcb-icccm4", "libxcb-icccm.so.4"),
    ("libxcb-keysyms1", "libxcb-keysyms.so.1"),
    ("libxcb-image0", "libxcb-image.so.0"),
    ("libxcb-render-util0", "libxcb-render-util.so.0"),
    ("libxcb-shape0", "libxcb-shape.so.0"),
    ("libxcb-xinerama0", "libxcb-xinerama.so.0"),
    ("libxkbcommon-x11-0", "libxkbcommon-x11.so.0"),
)
# A machine without any font shows boxes instead of letters, in the window and on the sheet.
FONT_PACKAGE = "fonts-dejavu-core"


def say(text):
    """One line to the person, at once."""
    print(text, flush=True)


def stop(sentence):
    """Ends with one clear sentence on stderr and exit code 1."""
    print(sentence, file=sys.stderr, flush=True)
    raise SystemExit(1)


def root_folder():
    """The checkout that this file lies in."""
    return os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


def check_python(version=sys.version_info):
    """Refuses a Python that is too old."""
    if tuple(version[:2]) < MINIMUM:
        stop(
            "This is Python %d.%d and Race Oil Bench needs %d.%d or later: install a newer Python and run the same "
            "command with it." % (version[0], version[1], MINIMUM[0], MINIMUM[1])
        )


def check_venv_module():
    """Refuses a Python whose `venv` or `ensurepip` was split off by the system's packager."""
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        stop(
            "This Python has no 'venv' module, so nothing was installed: on Debian or Ubuntu run "
            "'sudo apt-get install python3-venv', then the same command again."
        )


def venv_python(root):
    """Path of the interpreter inside `.venv`."""
    if os.name == "nt":
        return os.path.join(root, ".venv", "Scripts", "python.exe")
    return os.path.join(root, ".venv", "bin", "python")


def works(python):
    """Whether the interpreter starts and has pip: an interrupted first run can leave half a folder."""
    if not os.path.exists(python):
        return False
    done = subprocess.run([python, "-m", "pip", "--version"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return done.returncode == 0


def make_venv(root):
    """Makes `.venv` where there is none that works; returns its interpreter."""
    python = venv_python(root)
    if works(python):
        return python
    check_venv_module()
    say("Making a private Python in .venv ...")
    done = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", os.path.join(root, ".venv")],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, universal_newlines=True,
    )  # fmt: skip
    if done.returncode or not works(python):
        last = (done.stdout or "").strip().splitlines()[-1:] or ["no reason given"]
        stop("The folder .venv could not be made (%s): check that the disk has room and may be written." % last[0])
    return python


def stamp_for(root, extras):
    """Changes when what must be installed changes."""
    with open(os.path.join(root, "pyproject.toml"), "rb") as project:
        digest = hashlib.sha256(project.read() + extras.encode() + sys.version.encode() + root.encode()).hexdigest()
    return os.path.join(root, ".venv", "installed-%s-%s" % (extras or "plain", digest[:16]))


def read_progress(line):
    """The short form of one line of the installer's output, or '' where a person need not see it."""
    words = line.split()
    if len(words) >= 2 and words[0] == "Collecting":
        return "  looking up " + words[1].split(";")[0]
    if len(words) >= 2 and words[0] == "Downloading":
        return "  fetching   " + " ".join(words[1:4]).rsplit("/", 1)[-1]
    if line.startswith("Installing collected packages"):
        return "  installing ..."
    return ""


def install(root, python, extras):
    """Installs the project and what it needs into `.venv`, once per state of pyproject.toml."""
    stamp = stamp_for(root, extras)
    if os.path.exists(stamp):
        return
    say("Installing what the bench needs (the first time this takes a minute or two) ...")
    what = root + ("[%s]" % extras if extras else "")
    command = [python, "-m", "pip", "install", "--disable-pip-version-check", "--progress-bar", "off", "-e", what]
    running = subprocess.Popen(
        command, cwd=root, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, universal_newlines=True, errors="replace"
    )
    lines = []
    for line in running.stdout:
        lines.append(line.rstrip())
        short = read_progress(line)
        if short:
            say(short)
    if running.wait():
        stop(why_not_installed(lines))
    with open(stamp, "w") as done:
        done.write("ok\n")
    say("Installed.")


def why_not_installed(lines):
    """One sentence from the installer's output: no network, no room, or its own last word."""
    text = "\n".join(lines).lower()
    if any(sign in text for sign in (
        "name resolution", "getaddrinfo", "connection refused", "network is unreachable", "newconnectionerror",
        "max retries", "timed out", "proxyerror", "could not find a version",
    )):  # fmt: skip
        return (
            "The packages could not be fetched, so nothing was installed: there seems to be no network here; connect "
            "once and run the same command again (afterwards none is needed)."
        )
    if "no space left" in text:
        return "The disk is full, so the installation stopped: free about 1 GB and run the same command again."
    errors = [line for line in lines if line.lower().startswith("error")]
    return "The installation stopped: %s" % (errors or lines or ["the installer gave no reason"])[-1]


def missing_packages(wanted):
    """System packages whose library cannot be loaded here."""
    missing = []
    for package, library in wanted:
        try:
            ctypes.CDLL(library)
        except OSError:
            missing.append(package)
    return missing


def has_fonts():
    """Whether any font file lies in the usual places."""
    for folder in ("/usr/share/fonts", "/usr/local/share/fonts", os.path.expanduser("~/.fonts")):
        for _, _, files in os.walk(folder):
            if any(name.lower().endswith((".ttf", ".otf", ".pfb", ".ttc")) for name in files):
                return True
    return False


def ensure_libraries(window):
    """On Linux: the system libraries Qt loads. Installed where we may, else the exact command is printed."""
    if not sys.platform.startswith("linux"):
        return
    packages = missing_packages(OFFSCREEN_LIBRARIES + (WINDOW_LIBRARIES if window else ()))
    if not has_fonts():
        packages.append(FONT_PACKAGE)
    if not packages:
        return
    command = "apt-get install -y --no-install-recommends " + " ".join(packages)
    if not shutil.which("apt-get"):
        stop(
            "Qt needs system libraries that are missing here: install what your system calls %s, then run the same "
            "command again." % ", ".join(packages)
        )
    if os.geteuid() != 0:
        stop("Qt needs system libraries that are missing here: run 'sudo %s', then the same command again." % command)
    say("Installing system libraries for Qt: %s ..." % ", ".join(packages))
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    subprocess.run(["apt-get", "update"], env=environment, **quiet)
    if subprocess.run(command.split(), env=environment, **quiet).returncode:
        stop("The system libraries for Qt could not be installed: run '%s' and read its last lines." % command)


def has_display():
    """Whether a window can be shown here."""
    if not sys.platform.startswith("linux"):
        return True
    if os.environ.get("QT_QPA_PLATFORM", "") in ("offscreen", "minimal", "vnc"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def prepare(extras, window):
    """All of it, in order; returns (root folder, interpreter of .venv)."""
    check_python()
    root = root_folder()
    python = make_venv(root)
    install(root, python, extras)
    ensure_libraries(window)
    return root, python
