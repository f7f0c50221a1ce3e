"""Room for a view in any window: in one smaller than the view needs it is scrolled, never cut off."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QStackedWidget, QWidget

from benchapp.window import theme


def open_at(dialog: QWidget, wide: int, high: int) -> None:
    """The size that a dialog opens at [px in the plain look]: larger with its type, never beyond its screen."""
    room, times = dialog.screen().availableGeometry().size(), theme.current().points / theme.BASE_POINTS
    dialog.resize(min(round(wide * times), room.width() - 24), min(round(high * times), room.height() - 48))


class Whole(QScrollArea):
    """Shows the page at hand of a stack. Only the least size of that page counts, never what others would like."""

    def __init__(self, stack: QStackedWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(_Holder(stack))


class Upright(QScrollArea):
    """Scrolls a page up and down only: it is never narrower than what stands in it."""

    def __init__(self, page: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWidget(page)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Whatever changes in the page: words that wrap have all their lines."""
        if event.type() == QEvent.Type.LayoutRequest and watched is self.widget():
            self._give_room()
        return super().eventFilter(watched, event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._give_room()
        super().resizeEvent(event)

    def _give_room(self) -> None:
        """A scroll area asks for the least size of a page only, which knows nothing of how often its words wrap."""
        page = self.widget()
        if page is None:
            return  # it goes, and its page went before it
        if page.layout() is not None and page.layout().hasHeightForWidth():
            page.setMinimumHeight(page.layout().minimumHeightForWidth(self.viewport().width()))

    def minimumSizeHint(self) -> QSize:
        if self.widget() is None:
            return super().minimumSizeHint()
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(self.widget().minimumSizeHint().width() + bar, super().minimumSizeHint().height())


class PageAtHand(QStackedWidget):
    """Pages in one place that asks for no more room than the one in front needs: the others may still be in an older,
    larger look."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.currentChanged.connect(lambda _place: self.updateGeometry())

    def minimumSizeHint(self) -> QSize:
        page = self.currentWidget()
        return super().minimumSizeHint() if page is None else page.minimumSizeHint()


class _Holder(QWidget):
    """Holds the stack without a layout: with one, words that wrap would make the page grow."""

    def __init__(self, stack: QStackedWidget) -> None:
        super().__init__()
        self.stack = stack
        stack.setParent(self)
        stack.currentChanged.connect(lambda _place: self.updateGeometry())

    def minimumSizeHint(self) -> QSize:
        page = self.stack.currentWidget()
        return QSize(0, 0) if page is None else page.minimumSizeHint()

    def sizeHint(self) -> QSize:
        return self.minimumSizeHint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.stack.setGeometry(self.rect())

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        return super().event(event)
