"""Colours by role, sizes and the small stylesheet: the one place that knows what the window looks like.

Three looks: `sunlight` (near-white, heavy lines), `dark`, and `system`, which follows the system and takes sunlight
where the system says nothing. `large` makes targets at least 40 px high, `scale` (1.0 to 2.0) grows everything.
The hues of the four calls are blue, ochre, vermilion and ink: they stay apart for colour-blind readers and in grey.
Colour never speaks alone: `marks` gives each call its shape and word.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, ClassVar

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from benchapp.library import resources_dir
from benchapp.window.dressing import Dresser

CHOICES = ("system", "sunlight", "dark")
SCALES = (1.0, 1.25, 1.5, 1.75, 2.0)
BASE_POINTS = 10.0
LARGE = 1.3


@dataclass(frozen=True, slots=True)
class Theme:
    """One colour per role, as '#rrggbb', and the sizes that go with it [px, pt]."""

    name: str
    desk: str
    """Behind everything."""
    paper: str
    """Behind tables, fields and plots."""
    band: str
    """Every other row, quiet panels."""
    ink: str
    quiet: str
    """Ink of secondary text."""
    line: str
    """Heavy lines: frames, table head, axes."""
    grid: str
    """Light lines: table grid, plot grid."""
    accent: str
    accent_ink: str
    picked: str
    """Behind the picked row."""
    picked_ink: str
    run: str
    short_stint: str
    look_inside: str
    park: str
    trouble: str
    """A cell or a message that needs a person."""
    trouble_back: str
    note_back: str
    ceiling: str
    """The ceiling line of a plot."""
    predicted: str
    """The band of what is expected."""
    series: tuple[str, ...]
    """Plot lines, in the order to take them."""
    line_px: int = 2
    large: bool = False
    scale: float = 1.0

    @property
    def points(self) -> float:
        """Size of the text [pt]."""
        return BASE_POINTS * self.scale * (LARGE if self.large else 1.0)

    @property
    def target_px(self) -> int:
        """Least height of what a finger must hit [px]."""
        return round((44 if self.large else 30) * self.scale)

    @property
    def row_px(self) -> int:
        """Height of a table row [px]."""
        return round((44 if self.large else 28) * self.scale)

    @property
    def gap_px(self) -> int:
        """The one spacing [px]; everything is a multiple of it."""
        return round(8 * self.scale)

    @property
    def mark_px(self) -> int:
        """Side of a call's mark in a table [px]."""
        return round((22 if self.large else 16) * self.scale)

    def call_colour(self, call: str) -> str:
        """Colour of one of the four calls; quiet ink for no call."""
        return {
            "Run": self.run,
            "Short stint": self.short_stint,
            "Look inside": self.look_inside,
            "Park": self.park,
        }.get(call, self.quiet)


SUNLIGHT = Theme(
    name="sunlight",
    desk="#f1f0ea",
    paper="#fffefb",
    band="#f6f5ef",
    ink="#101416",
    quiet="#4b5357",
    line="#22292d",
    grid="#cfcfc6",
    accent="#0d5a55",
    accent_ink="#ffffff",
    picked="#cfe5e1",
    picked_ink="#06201e",
    run="#1c62ad",
    short_stint="#b97a00",
    look_inside="#c0451a",
    park="#17181a",
    trouble="#a3123f",
    trouble_back="#fbe3e6",
    note_back="#f4ecd0",
    ceiling="#7a3d8f",
    predicted="#8fb7b2",
    series=("#0d5a55", "#c0451a", "#1c62ad", "#7a3d8f", "#b97a00", "#4b5357", "#2f7d32", "#8a1f4d"),
    line_px=2,
)

DARK = Theme(
    name="dark",
    desk="#14171a",
    paper="#1b1f22",
    band="#22272b",
    ink="#efeee8",
    quiet="#aab2b5",
    line="#78838a",
    grid="#363d42",
    accent="#67c4b8",
    accent_ink="#08211e",
    picked="#24504c",
    picked_ink="#f4fffd",
    run="#6fb0f2",
    short_stint="#efbd45",
    look_inside="#ff8b57",
    park="#f7f6f1",
    trouble="#ff8ba5",
    trouble_back="#4a1f2a",
    note_back="#3b351f",
    ceiling="#cf9be0",
    predicted="#3d6d69",
    series=("#67c4b8", "#ff8b57", "#6fb0f2", "#cf9be0", "#efbd45", "#aab2b5", "#8fcf8f", "#ff8ba5"),
    line_px=2,
)


class _State:
    """What is chosen and what that came to."""

    choice = "system"
    theme = SUNLIGHT
    dresser: Dresser | None = None
    at_once: ClassVar[list[Callable[[], None]]] = []


def dresser() -> Dresser:
    """The one that changes the look of the running program."""
    if _State.dresser is None:
        _State.dresser = Dresser()
    return _State.dresser


def with_the_change(refit: Callable[[], None]) -> None:
    """Calls a module's function in the midst of each change, before any widget takes the new look."""
    _State.at_once.append(refit)


def follow(widget: QWidget, method: Callable[[], Any]) -> None:
    """Calls a widget's method after each change of the look: for whoever paints or measures by itself."""
    dresser().follow(widget, method)


class WhenSeen(QObject):
    """Paints a widget again after the look has changed: at once where it is in sight, else just before it is shown.

    For what takes long (plots); a look is then put on without drawing what nobody sees."""

    def __init__(self, widget: QWidget, paint: Callable[[], None]) -> None:
        super().__init__(widget)
        self._widget, self._paint, self._behind = widget, paint, False
        follow(widget, self._changed)

    def _changed(self) -> None:
        if self._widget.isVisible():
            self._paint()
        elif not self._behind:
            self._behind = True
            self._widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Catches up when the widget comes into sight."""
        if self._behind and event.type() == QEvent.Type.Show:
            self._behind = False
            self._widget.removeEventFilter(self)
            self._paint()
        return super().eventFilter(watched, event)


def current() -> Theme:
    """The theme in force; roles are its fields."""
    return _State.theme


def choice() -> str:
    """What the person chose: 'system', 'sunlight' or 'dark'."""
    return _State.choice


def colour(role: str) -> QColor:
    """The colour of a role ("ink", "ceiling", …). Raises AttributeError for an unknown role."""
    return QColor(getattr(_State.theme, role))


def system_is_dark() -> bool:
    """True where the system says dark. Unknown (bare X11, offscreen) counts as light."""
    return QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark


def apply(choice: str = "system", large: bool = False, scale: float = 1.0) -> Theme:
    """Puts a look in force over the whole application at once. Returns the theme."""
    change(choice, large, scale)
    dresser().finish()
    return _State.theme


def change(choice: str = "system", large: bool = False, scale: float = 1.0) -> None:
    """Puts a look in force a piece in each turn of the event loop, what is in sight at one go."""
    if choice not in CHOICES:
        choice = "system"
    dark = choice == "dark" or (choice == "system" and system_is_dark())
    base = DARK if dark else SUNLIGHT
    values = {name: getattr(base, name) for name in Theme.__slots__}
    theme = Theme(**{**values, "large": large, "scale": min(2.0, max(1.0, scale))})
    if isinstance(QApplication.instance(), QApplication):
        dresser().begin(partial(_put_on, choice, theme), _refit)
    else:
        _State.choice, _State.theme = choice, theme


def _put_on(choice: str, theme: Theme, app: QApplication) -> None:
    _State.choice, _State.theme = choice, theme
    font = QFont(app.font())
    font.setPointSizeF(theme.points)
    app.setFont(font)
    app.setPalette(palette(theme))
    app.setStyleSheet(stylesheet(theme))


def _refit() -> None:
    for refit in _State.at_once:
        refit()


def palette(theme: Theme) -> QPalette:
    """The theme as a Qt palette."""
    made = QPalette()
    role = QPalette.ColorRole
    pairs = {
        role.Window: theme.desk,
        role.WindowText: theme.ink,
        role.Base: theme.paper,
        role.AlternateBase: theme.band,
        role.Text: theme.ink,
        role.PlaceholderText: theme.quiet,
        role.Button: theme.band,
        role.ButtonText: theme.ink,
        role.BrightText: theme.trouble,
        role.Highlight: theme.picked,
        role.HighlightedText: theme.picked_ink,
        role.ToolTipBase: theme.paper,
        role.ToolTipText: theme.ink,
        role.Link: theme.accent,
        role.Light: theme.paper,
        role.Midlight: theme.band,
        role.Mid: theme.grid,
        role.Dark: theme.line,
        role.Shadow: theme.line,
        role.Accent: theme.accent,
    }
    for which, value in pairs.items():
        made.setColor(which, QColor(value))
    for which in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, which, QColor(theme.quiet))
    return made


def stylesheet(theme: Theme) -> str:
    """The few rules that a palette cannot say."""
    t, gap, half = theme, theme.gap_px, max(2, theme.gap_px // 2)
    field = max(24, t.target_px - 6)
    tick = round(t.row_px * 0.5)
    down = (resources_dir() / "icons" / f"down-{t.name}.svg").as_posix()
    return f"""
QToolTip {{ color: {t.ink}; background: {t.paper}; border: {t.line_px}px solid {t.line}; padding: {half}px; }}
QPushButton {{ min-height: {field}px; padding: 0 {gap * 2}px; border: {t.line_px}px solid {t.line};
  border-radius: 3px; background: {t.paper}; color: {t.ink}; }}
QPushButton:hover {{ background: {t.picked}; color: {t.picked_ink}; }}
QPushButton:focus {{ border-color: {t.accent}; background: {t.picked}; color: {t.picked_ink}; }}
QPushButton:default {{ background: {t.accent}; color: {t.accent_ink}; border-color: {t.accent}; }}
QPushButton:default:focus {{ border-color: {t.ink}; }}
QPushButton:disabled {{ color: {t.quiet}; border-color: {t.grid}; background: {t.band}; }}
QLineEdit, QComboBox, QPlainTextEdit {{ min-height: {field}px; padding: 0 {gap}px; border: {t.line_px}px solid {t.grid};
  border-radius: 3px; background: {t.paper}; color: {t.ink}; selection-background-color: {t.accent};
  selection-color: {t.accent_ink}; }}
QLineEdit:focus, QComboBox:focus, QPlainTextEdit:focus {{ border-color: {t.accent}; }}
QLineEdit[trouble="true"] {{ border-color: {t.trouble}; background: {t.trouble_back}; }}
QComboBox::drop-down {{ border: 0; width: {gap * 3}px; }}
QComboBox::down-arrow {{ image: url("{down}"); width: {gap * 2}px; height: {gap * 2}px; }}
QComboBox QAbstractItemView::item {{ min-height: {max(22, t.target_px - 8)}px; }}
QCheckBox {{ min-height: {t.target_px}px; spacing: {gap}px; }}
QCheckBox::indicator, QAbstractItemView::indicator, QGroupBox::indicator {{ width: {tick}px; height: {tick}px;
  border: {t.line_px}px solid {t.line}; background: {t.paper}; }}
QCheckBox::indicator:checked, QAbstractItemView::indicator:checked, QGroupBox::indicator:checked {{
  background: {t.accent}; border-color: {t.ink}; }}
QCheckBox::indicator:indeterminate, QAbstractItemView::indicator:indeterminate {{ background: {t.grid}; }}
QCheckBox::indicator:focus, QCheckBox:focus::indicator {{ border-color: {t.accent}; }}
QCheckBox::indicator:disabled, QAbstractItemView::indicator:disabled {{ border-color: {t.grid}; }}
QAbstractItemView {{ background: {t.paper}; alternate-background-color: {t.band}; color: {t.ink};
  border: {t.line_px}px solid {t.line}; gridline-color: {t.grid}; outline: 0;
  selection-background-color: {t.picked}; selection-color: {t.picked_ink}; }}
QTableView::item {{ padding: 0 {gap - 3}px; }}
QHeaderView {{ background: {t.band}; border: 0; }}
QHeaderView::section {{ background: {t.band}; color: {t.ink}; padding: {half}px {gap}px; border: 0;
  border-bottom: {t.line_px}px solid {t.line}; border-right: 1px solid {t.grid}; font-weight: 600; }}
QTabWidget::pane {{ border: 0; border-top: {t.line_px}px solid {t.line}; }}
QTabBar {{ font-size: {t.points:.1f}pt; }}
QTabBar::tab {{ min-height: {field}px; padding: 0 {gap * 2}px; color: {t.quiet}; background: transparent;
  border-bottom: {t.line_px * 2}px solid transparent; }}
QTabBar::tab:selected {{ color: {t.ink}; border-bottom-color: {t.accent}; font-weight: 600; }}
QTabBar::tab:focus {{ color: {t.accent}; }}
QMenuBar {{ background: {t.desk}; color: {t.ink}; border-bottom: 1px solid {t.grid}; }}
QMenuBar::item {{ padding: {half}px {gap + half}px; background: transparent; }}
QMenuBar::item:selected, QMenu::item:selected {{ background: {t.picked}; color: {t.picked_ink}; }}
QMenu {{ background: {t.paper}; color: {t.ink}; border: {t.line_px}px solid {t.line}; }}
QMenu::item {{ padding: {half + 1}px {gap * 3}px; min-height: {max(18, field - gap)}px; }}
QMenu::item:disabled {{ color: {t.quiet}; }}
QMenu::separator {{ height: 1px; background: {t.grid}; margin: {half}px 0; }}
QStatusBar {{ background: {t.desk}; color: {t.quiet}; border-top: 1px solid {t.grid}; }}
QStatusBar::item {{ border: 0; }}
QSplitter::handle {{ background: {t.desk}; }}
QScrollArea {{ border: 0; background: transparent; }}
QLabel[role="title"] {{ font-size: {t.points * 1.5:.1f}pt; font-weight: 600; }}
QLabel[role="head"] {{ font-size: {t.points * 1.1:.1f}pt; font-weight: 600; }}
QLabel[role="quiet"] {{ color: {t.quiet}; }}
QLabel[role="trouble"] {{ color: {t.trouble}; }}
QFrame[role="rail"] {{ background: {t.band}; border: 0; border-right: {t.line_px}px solid {t.line}; }}
QFrame[role="rule"] {{ background: {t.grid}; border: 0; max-height: 1px; min-height: 1px; }}
QFrame[role="message"] {{ background: {t.note_back}; border: 0; border-bottom: {t.line_px}px solid {t.line}; }}
QFrame[role="message"][trouble="true"] {{ background: {t.trouble_back}; border-bottom-color: {t.trouble}; }}
QFrame[role="card"] {{ background: {t.paper}; border: {t.line_px}px solid {t.line}; border-radius: 3px; }}
QToolButton[role="opener"] {{ border: {t.line_px}px solid transparent; border-radius: 3px; background: transparent; }}
QToolButton[role="opener"]:hover {{ background: {t.picked}; }}
QToolButton[role="opener"]:focus {{ border-color: {t.accent}; }}
QToolButton[role="rail"] {{ min-height: {t.target_px + gap}px; padding: {half}px {gap}px; border: 0;
  border-left: {half}px solid transparent; background: transparent; color: {t.ink}; text-align: left; }}
QToolButton[role="rail"]:hover {{ background: {t.picked}; color: {t.picked_ink}; }}
QToolButton[role="rail"]:focus {{ border-left-color: {t.line}; background: {t.picked}; color: {t.picked_ink}; }}
QToolButton[role="rail"]:checked {{ background: {t.paper}; border-left-color: {t.accent}; font-weight: 600; }}
"""
