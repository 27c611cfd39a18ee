"""The widgets of the panel, and what they show."""

from __future__ import annotations

from html import escape

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtWidgets import (
    QComboBox,
    QCompleter,
    QFrame,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSizePolicy,
    QSplitter,
    QTabWidget,
    QTextBrowser,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from .language import tr
from .line_plot import LinePlot

_WHAT_IF_STYLE = ("QFrame#leakgeoWhatIf { background: #ffe08a; border: 1px solid #b58900; }"
                  "QFrame#leakgeoWhatIf QLabel { color: #14181d; }")  # fmt: skip


class PanelView(QWidget):
    """Line, state, plot, texts and stops."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.lines = _line_box()
        self.zoom = _button("/mActionZoomToSelected.svg", tr("Zoom to the line"))
        self.again = _button("/mActionRefresh.svg", tr("Compute again, and learn the ground again"))
        self.help = _button("/mActionHelpContents.svg", tr("Help"))
        self.state = QLabel()
        self.state.setWordWrap(True)
        self.state.setObjectName("leakgeoState")
        self.state.setTextFormat(Qt.TextFormat.PlainText)
        self.what_if, self.what_if_text, self.back = _what_if()
        self.plot, self.card, self.stops = LinePlot(), QTextBrowser(), QListWidget()
        self.card.setOpenLinks(False)
        self.stops.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.stops.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.tabs = QTabWidget()
        self.tabs.addTab(self.card, tr("Answer"))
        self.tabs.addTab(self.stops, tr("Stops"))
        self._arrange()

    def _arrange(self):
        top = QHBoxLayout()
        for widget in (self.lines, self.zoom, self.again, self.help):
            top.addWidget(widget)
        below = QSplitter(Qt.Orientation.Vertical)
        below.setChildrenCollapsible(False)
        below.addWidget(self.plot)
        below.addWidget(self.tabs)
        below.setStretchFactor(0, 1)
        below.setStretchFactor(1, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(6, 6, 6, 6)
        layout.setSpacing(4)
        layout.addLayout(top)
        layout.addWidget(self.state)
        layout.addWidget(self.what_if)
        layout.addWidget(below, 1)

    def say(self, text, *, problem=False):
        """Show the state; a problem is bold."""
        self.state.setText(text)
        font = self.state.font()
        font.setBold(problem)
        self.state.setFont(font)

    def clear(self, note):
        """Show no answer, and a note in its place."""
        self.plot.set_answer(None)
        self.plot.set_note(note)
        self.card.clear()
        self.stops.clear()
        self.what_if.hide()

    def show_lines(self, lines, chosen):
        """List the lines of the job, with their addresses."""
        self.lines.blockSignals(True)
        self.lines.clear()
        for each in lines:
            name = f"{each['line']}  {each['address']}".strip()
            self.lines.addItem(name, each["line"])
        self.lines.setCurrentIndex(self.lines.findData(chosen) if chosen else -1)
        self.lines.blockSignals(False)

    def show_name(self, line):
        """Show which line is chosen."""
        row = self.lines.findData(line)
        self.lines.setCurrentIndex(row)
        if row < 0:
            self.lines.setEditText(line)

    def line_typed(self):
        """Return the line whose name, or a part of its entry, was typed; empty if none fits."""
        box, text = self.lines, self.lines.currentText().strip()
        row = box.findText(text, Qt.MatchFlag.MatchFixedString)
        row = (
            box.findData(text, Qt.ItemDataRole.UserRole, Qt.MatchFlag.MatchFixedString)
            if row < 0
            else row
        )
        row = box.findText(text, Qt.MatchFlag.MatchContains) if row < 0 and text else row
        return box.itemData(row) if row >= 0 else ""

    def show_answer(self, answer, html):
        """Show plot, texts, stops, and whether this is a "what if"."""
        self.plot.set_answer(answer)
        at = self.card.verticalScrollBar().value()
        self.card.setHtml(html)
        self.card.verticalScrollBar().setValue(at)
        self.what_if_text.setText(answer["what_if"])
        self.what_if.setVisible(bool(answer["what_if"]))
        self._show_stops(answer)

    def _show_stops(self, answer):
        """List the stops; a tick means that the answer uses the stop."""
        readings = answer["plot"]["readings"]
        self.tabs.setTabText(1, f"{answer['words']['stops']} ({len(readings)})")
        self.stops.blockSignals(True)
        at = self.stops.verticalScrollBar().value()
        self.stops.clear()
        for reading in readings:
            item = QListWidgetItem("; ".join(reading["says"]))
            item.setData(Qt.ItemDataRole.UserRole, reading["id"])
            item.setToolTip(f"<p>{'<br>'.join(map(escape, reading['says']))}</p>")
            here = reading["id"] in answer["aside"]
            if reading["state"] == "used" or here:
                item.setFlags(
                    Qt.ItemFlag.ItemIsEnabled
                    | Qt.ItemFlag.ItemIsUserCheckable
                    | Qt.ItemFlag.ItemIsSelectable
                )
                item.setCheckState(Qt.CheckState.Unchecked if here else Qt.CheckState.Checked)
            else:
                item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
            self.stops.addItem(item)
        self.stops.verticalScrollBar().setValue(at)
        self.stops.blockSignals(False)


def _line_box():
    box = QComboBox()
    box.setEditable(True)
    box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
    box.setObjectName("leakgeoLines")
    box.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
    box.lineEdit().setPlaceholderText(tr("Line"))
    box.completer().setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
    box.completer().setFilterMode(Qt.MatchFlag.MatchContains)
    box.completer().setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
    return box


def _button(icon, text):
    button = QToolButton()
    button.setIcon(QgsApplication.getThemeIcon(icon))
    button.setToolTip(text)
    button.setAutoRaise(True)
    return button


def _what_if():
    """Return the frame that says what is left out, its label, and the button back."""
    frame, text, back = QFrame(), QLabel(), QPushButton(tr("Back to the data"))
    frame.setObjectName("leakgeoWhatIf")
    frame.setStyleSheet(_WHAT_IF_STYLE)
    text.setWordWrap(True)
    text.setTextFormat(Qt.TextFormat.PlainText)
    layout = QHBoxLayout(frame)
    layout.setContentsMargins(6, 4, 6, 4)
    layout.addWidget(text, 1)
    layout.addWidget(back)
    frame.hide()
    return frame, text, back
