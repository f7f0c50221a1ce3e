"""Photos in the window: taken in from a camera's file, thumbnails, one large.

Nothing is decoded before its head was read (`intake.photo`), only as JPEG or PNG, within a limit of memory, and in the
background. What is kept is drawn anew: no larger than a finding needs, turned upright, without the place and time that
cameras write into their files."""

from __future__ import annotations

from collections import OrderedDict
from pathlib import Path
from typing import Any

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QSize, Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QIcon, QImage, QImageReader, QKeyEvent, QPixmap
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import photo
from benchapp.intake import photo as outside
from benchapp.problems import BenchProblem
from benchapp.window import spacing, theme

KEPT_SIDE = 2400
"""Longest side of a kept photo [px]: a flake on a pleat is still sharp, and a backup stays small. Chosen."""
KEPT_QUALITY = 85
MEMORY_MB = 512
"""No picture may take more memory than that while it is decoded: what `intake.photo` lets through needs 480."""
THUMB_PX = 160
PICTURES = "Pictures (*.jpg *.jpeg *.png *.JPG *.JPEG *.PNG);;All files (*)"
SUFFIXES = (".jpg", ".jpeg", ".png")


# --- decoding and taking in: pure, for the background


def decoded(data: bytes, most_px: int = KEPT_SIDE) -> QImage:
    """A picture no larger than `most_px` on its longest side, upright. Raises BenchProblem for what is none."""
    head = outside.look(data)
    held = QByteArray(data)
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    QImageReader.setAllocationLimit(MEMORY_MB)
    reader = QImageReader(buffer, head.kind.encode("ascii"))
    reader.setAutoDetectImageFormat(False)
    reader.setAutoTransform(True)
    size = QSize(head.width, head.height)
    if max(head.width, head.height) > most_px:
        reader.setScaledSize(size.scaled(most_px, most_px, Qt.AspectRatioMode.KeepAspectRatio).expandedTo(QSize(1, 1)))
    image = reader.read()
    if image.isNull():
        raise BenchProblem(
            "The picture is damaged: it cannot be drawn.",
            "Nothing was added.",
            "Copy it from the camera again, or take another.",
        )
    return image


def prepared(data: bytes) -> bytes:
    """A camera's picture as it is kept: drawn anew as JPEG. Raises BenchProblem."""
    image = decoded(data).convertToFormat(QImage.Format.Format_RGB32)
    for quality in (KEPT_QUALITY, 70, 50):
        held = QByteArray()
        buffer = QBuffer(held)
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        image.save(buffer, "JPEG", quality)
        kept = bytes(held.data())
        if len(kept) <= outside.LARGEST_KEPT:
            return kept
    raise BenchProblem(
        "The picture stays too large however it is written.", "Nothing was added.", "Cut it to what it shows."
    )


Taken = tuple[str, bytes, str, QImage]
"""Path of a camera's file, the picture as it is kept, why it was refused or '', and its small picture."""


def take_file(path: str) -> Taken:
    """Reads a camera's file: pure, for the background."""
    file = Path(path)
    try:
        if file.stat().st_size > outside.LARGEST_FILE:
            outside.look(b"\0" * (outside.LARGEST_FILE + 1))
        kept = prepared(file.read_bytes())
        return path, kept, "", decoded(kept, THUMB_PX)
    except BenchProblem as problem:
        return path, b"", f"{file.name}: {problem.what} {problem.means} {problem.do}", QImage()
    except OSError as error:
        why = error.strerror or type(error).__name__
        return path, b"", f"{file.name} could not be read ({why}). Nothing was added.", QImage()


def thumb_of(sha256: str, data: bytes) -> tuple[str, QImage]:
    """The small picture of a photo, empty where it cannot be drawn: pure, for the background."""
    try:
        return sha256, decoded(data, THUMB_PX)
    except BenchProblem:
        return sha256, QImage()


# --- thumbnails


class Thumbs(QObject):
    """Small pictures by the hash of their photo, made in the background, the last few hundred kept."""

    ready = Signal(str)
    MOST = 300

    def __init__(self, session: Any) -> None:
        super().__init__(session)
        self._session = session
        self._kept: OrderedDict[str, QPixmap] = OrderedDict()
        self._asked: set[str] = set()
        session.opened.connect(self._forget)

    def _forget(self) -> None:
        self._kept.clear()
        self._asked.clear()

    def of(self, sha256: str) -> QPixmap:
        """The small picture, or an empty one while it is made; `ready` tells when it is there."""
        if sha256 in self._kept:
            self._kept.move_to_end(sha256)
            return self._kept[sha256]
        if sha256 not in self._asked and self._session.bench is not None:
            self._asked.add(sha256)
            data = self._session.look(photo.data_of, sha256)
            if data is not None:
                self._session.background(thumb_of, (sha256, data), self._made)
        return QPixmap()

    def _made(self, found: tuple[str, QImage]) -> None:
        sha256, image = found
        self._kept[sha256] = QPixmap.fromImage(image)
        while len(self._kept) > self.MOST:
            old, _ = self._kept.popitem(last=False)
            self._asked.discard(old)
        self.ready.emit(sha256)


def thumbs(session: Any) -> Thumbs:
    """The thumbnails of a session."""
    found = session.findChild(Thumbs)
    return found if found is not None else Thumbs(session)


# --- one large


class PhotoDialog(QDialog):
    """One photo as large as there is room; Left and Right go to the others."""

    def __init__(
        self, session: Any, parent: QWidget | None, pictures: tuple[bytes, ...], title: str, at: int = 0
    ) -> None:
        super().__init__(parent)
        self.session = session
        self.setWindowTitle(title)
        self._pictures, self._at, self._image = pictures, max(0, min(at, len(pictures) - 1)), QImage()
        self.picture = QLabel(self)
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.words = QLabel(self)
        self.words.setProperty("role", "quiet")
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.before = self._button("&Before", self._go_back)
        self.after = self._button("&Next", self._go_on)
        close = self._button("Back", self.reject)
        row = QHBoxLayout()
        row.addWidget(self.words, 1)
        for button in (self.before, self.after, close):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.addWidget(self.picture, 1)
        column.addLayout(row)
        room = self.screen().availableGeometry().size()
        self.resize(min(1100, room.width() - 24), min(820, room.height() - 48))
        self._show()

    def _button(self, text: str, method: Any) -> QPushButton:
        made = QPushButton(text, self)
        made.setAutoDefault(False)
        made.clicked.connect(method)
        return made

    def _show(self) -> None:
        many = len(self._pictures)
        self.words.setText(f"{self._at + 1} of {many}: Left and Right go to the others" if many > 1 else "")
        for button, there in ((self.before, self._at > 0), (self.after, self._at + 1 < many)):
            button.setVisible(many > 1)
            button.setEnabled(there)
        self.picture.setAccessibleName(f"{self.windowTitle()}, photo {self._at + 1} of {many}")
        self._image = QImage()
        self.picture.setText("…")
        self.session.background(thumb_large, (self._at, self._pictures[self._at]), self._arrived, kind="photo")

    def _arrived(self, found: tuple[int, QImage]) -> None:
        at, image = found
        if at == self._at:
            self._image = image
            self._fit()

    def _fit(self) -> None:
        if self._image.isNull():
            self.picture.setText("This picture cannot be drawn.")
            return
        shown = self._image.scaled(
            self.picture.size() * self.devicePixelRatioF(),
            Qt.AspectRatioMode.KeepAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
        shown.setDevicePixelRatio(self.devicePixelRatioF())
        self.picture.setPixmap(QPixmap.fromImage(shown))

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        if not self._image.isNull():
            self._fit()

    def _go_back(self) -> None:
        self._go(-1)

    def _go_on(self) -> None:
        self._go(1)

    def _go(self, by: int) -> None:
        at = max(0, min(len(self._pictures) - 1, self._at + by))
        if at != self._at:
            self._at = at
            self._show()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_PageUp: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_PageDown: 1}
        if event.key() in steps:
            self._go(steps[event.key()])
            return
        super().keyPressEvent(event)


def thumb_large(at: int, data: bytes) -> tuple[int, QImage]:
    """A photo to be shown large, empty where it cannot be drawn: pure, for the background."""
    try:
        return at, decoded(data)
    except BenchProblem:
        return at, QImage()


def show_photos(session: Any, parent: QWidget, shown: tuple[photo.Photo, ...], title: str) -> bool:
    """Opens photos of the bench file large. False (and a message) where none can be read."""
    pictures = tuple(data for each in shown if (data := session.look(photo.data_of, each.sha256)) is not None)
    if pictures:
        session.ask.show(PhotoDialog(session, parent, pictures, title))
    return bool(pictures)


# --- the strip in a form


class PhotoStrip(QWidget):
    """The photos of an entry in its form: drag camera files onto it, or choose them. Enter opens one large, Delete
    takes it away; all of it counts when the form is confirmed."""

    trouble = Signal(str)

    def __init__(self, session: Any, shown: tuple[photo.Photo, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self._held = list(shown)
        self._added: list[bytes] = []
        self._small: list[QImage] = []
        self._gone: list[str] = []
        self._waiting = 0
        self.setAcceptDrops(True)
        self.list = QListWidget(self)
        self.list.setObjectName("photos")
        self.list.setAccessibleName("Photos")
        self.list.setAccessibleDescription("Enter opens one large, Delete takes it away")
        self.list.setViewMode(QListWidget.ViewMode.IconMode)
        self.list.setMovement(QListWidget.Movement.Static)
        self.list.setWrapping(False)
        self.list.setFlow(QListWidget.Flow.LeftToRight)
        side = round(72 * theme.current().scale)
        self.list.setIconSize(QSize(side, side))
        self.list.setFixedHeight(side + 36)
        self.list.setAcceptDrops(False)
        self.list.itemActivated.connect(self._open)
        self.words = QLabel("Drag photos of a camera here, or choose them. JPEG or PNG.", self)
        self.words.setProperty("role", "quiet")
        self.words.setWordWrap(True)
        self.choose = QPushButton("&Photo from a file…", self)
        self.choose.setAutoDefault(False)
        self.choose.clicked.connect(self._choose)
        row = QHBoxLayout()
        row.addWidget(self.words, 1)
        row.addWidget(self.choose)
        column = QVBoxLayout(self)
        spacing.around(column, 0, 0, 0, 1)
        column.addWidget(self.list)
        column.addLayout(row)
        thumbs(session).ready.connect(self._thumb_ready)
        self._fill()

    @property
    def busy(self) -> bool:
        """A photo is still being read."""
        return self._waiting > 0

    def added(self) -> tuple[bytes, ...]:
        """Pictures to add when the form is confirmed."""
        return tuple(self._added)

    def taken_away(self) -> tuple[str, ...]:
        """Keys of photos to withdraw then."""
        return tuple(self._gone)

    def _fill(self) -> None:
        self.list.clear()
        for place, each in enumerate(self._held):
            self._item(thumbs(self.session).of(each.sha256), f"Photo {place + 1}")
        for place, small in enumerate(self._small, start=len(self._held)):
            self._item(QPixmap.fromImage(small), f"Photo {place + 1}, new")
        self.list.setVisible(self.list.count() > 0)

    def _item(self, pixmap: QPixmap, words: str) -> None:
        item = QListWidgetItem(QIcon(pixmap), words)
        item.setToolTip(f"{words}: Enter opens it large, Delete takes it away")
        self.list.addItem(item)

    def _thumb_ready(self, sha256: str) -> None:
        if any(each.sha256 == sha256 for each in self._held):
            self._fill()

    # --- taking in

    def _choose(self) -> None:
        path = self.session.ask.open_file(self, "Photo", PICTURES)
        if path:
            self.take([path])

    def take(self, paths: list[str]) -> None:
        """Reads these files in the background and adds what they show."""
        for path in paths:
            self._waiting += 1
            self.session.background(take_file, (path,), self._taken)
        self.words.setText("Reading…" if paths else self.words.text())

    def _taken(self, found: Taken) -> None:
        _path, data, wrong, small = found
        self._waiting -= 1
        if wrong:
            self.trouble.emit(wrong)
        elif data not in self._added:
            self._added.append(data)
            self._small.append(small)
            self._fill()
        if not self._waiting:
            count = len(self._held) + len(self._added)
            self.words.setText(f"{count} photo{'' if count == 1 else 's'}. Drag more here, or choose them.")

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped_pictures(event.mimeData()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = dropped_pictures(event.mimeData())
        if paths:
            event.acceptProposedAction()
            self.take(paths)

    # --- looking and taking away

    def _open(self, item: QListWidgetItem) -> None:
        pictures = [data for each in self._held if (data := self.session.look(photo.data_of, each.sha256)) is not None]
        pictures += self._added
        if pictures:
            at = self.list.row(item)
            self.session.ask.show(PhotoDialog(self.session, self, tuple(pictures), "Photos of this entry", at))

    def remove_at(self, row: int) -> None:
        """Takes a photo away from the entry."""
        if 0 <= row < len(self._held):
            self._gone.append(self._held.pop(row).key)
        elif row >= 0 and row - len(self._held) < len(self._added):
            del self._added[row - len(self._held)]
            del self._small[row - len(self._held)]
        self._fill()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove_at(self.list.currentRow())
            return
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.list.currentItem() is not None:
            self._open(self.list.currentItem())
            return
        super().keyPressEvent(event)


def dropped_pictures(mime: Any) -> list[str]:
    """Paths of the pictures among what is dragged."""
    paths = [url.toLocalFile() for url in mime.urls()]
    return [path for path in paths if path.lower().endswith(SUFFIXES)]
