"""One warm process of leakgeo, which answers requests about the lines of a job."""

from __future__ import annotations

import json
import time

from qgis.PyQt.QtCore import QObject, QProcess, QProcessEnvironment, QTimer, pyqtSignal

from .language import tr
from .program import environment

#: Version of requests and answers that this plugin knows.
FORMAT = 1
# Seconds to wait before the next start after so many deaths in a row.
_BACK_OFF_S = (0.0, 1.0, 3.0, 10.0, 30.0)
# Milliseconds to end with its input, before it is killed; and to answer, before it is given up.
_MS_TO_END, _MS_TO_ANSWER = 1500, 300_000
_LONGEST_NOTE = 300


class Asker(QObject):
    """A process that keeps a job read; it is started by the first request.

    Signals
    -------
    answered : dict
        Answer to the newest request; older ones are dropped.
    failed : str
        Why there is no process; the next request starts it again.
    started : no value
        The process is started, and reads the job.
    """

    answered = pyqtSignal(dict)
    failed = pyqtSignal(str)
    started = pyqtSignal()

    def __init__(self, parent=None):
        super().__init__(parent)
        self.process, self.command = None, None
        self.asked = self.deaths = 0
        self.died_at, self._newest, self._to_send = 0.0, {}, {}
        self._buffer, self._notes = b"", b""
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.timeout.connect(self._start)
        self._patience = QTimer(self)
        self._patience.setSingleShot(True)
        self._patience.setInterval(_MS_TO_ANSWER)
        self._patience.timeout.connect(self._give_up)

    def use(self, executable, job):
        """Choose program and job; a process of another job is ended."""
        command = [str(executable), "ask", str(job), "--serve"]
        if command != self.command:
            self.close()
            self.command, self.deaths = command, 0

    def ask(self, **request):
        """Send a request; answers to older ones of its kind are no longer wanted.

        Returns
        -------
        int
            The ``id`` of the answer.
        """
        self.asked += 1
        kind = "line" if "line" in request else "lines"
        self._newest[kind] = self.asked
        self._to_send[kind] = {"id": self.asked, "panel": "1", **request}
        self._patience.start()
        if self.process is None:
            self._start_in_time()
        elif self.process.state() == QProcess.ProcessState.Running:
            self._send()
        return self.asked

    def is_waiting(self):
        """Return whether an answer is due."""
        return bool(self._newest)

    def seconds_to_start(self):
        """Return the seconds until the process is started again; 0 if it runs or starts now."""
        return max(self._later.remainingTime(), 0) / 1000.0

    def close(self):
        """End the process: it ends with its input, or is killed."""
        self._later.stop()
        self._patience.stop()
        process, self.process = self.process, None
        self._newest, self._to_send = {}, {}
        if process is None:
            return
        process.finished.disconnect()
        process.errorOccurred.disconnect()
        process.started.disconnect()
        process.readyReadStandardOutput.disconnect()
        process.readyReadStandardError.disconnect()
        process.finished.connect(process.deleteLater)
        process.closeWriteChannel()
        QTimer.singleShot(_MS_TO_END, process.kill)

    def _start_in_time(self):
        wait = _BACK_OFF_S[min(self.deaths, len(_BACK_OFF_S) - 1)]
        left = self.died_at + wait - time.monotonic() if self.deaths else 0.0
        if not self._later.isActive():
            self._later.start(max(0, round(1000 * left)))

    def _start(self):
        if self.command is None or self.process is not None:
            return
        self._buffer, self._notes = b"", b""
        process = self.process = QProcess(self)
        variables = QProcessEnvironment()
        for name, value in environment().items():
            variables.insert(name, value)
        process.setProcessEnvironment(variables)
        process.started.connect(self._has_started)
        process.readyReadStandardOutput.connect(self._read)
        process.readyReadStandardError.connect(self._read_notes)
        process.finished.connect(self._has_ended)
        process.errorOccurred.connect(self._has_failed)
        process.start(self.command[0], self.command[1:])

    def _has_started(self):
        self.started.emit()
        self._send()

    def _send(self):
        for request in self._to_send.values():
            self.process.write(json.dumps(request).encode() + b"\n")
        self._to_send = {}

    def _read(self):
        self._buffer += bytes(self.process.readAllStandardOutput())
        *lines, self._buffer = self._buffer.split(b"\n")
        for line in lines:
            try:
                answer = json.loads(line.decode("utf-8"))
            except ValueError:
                continue  # printed by a library
            self._take(answer)

    def _take(self, answer):
        if answer.get("ready"):
            if answer["format"] != FORMAT:
                text = tr(
                    "leakgeo {version} answers in format {format}, and this plugin reads format "
                    "{known}. Build the plugin of that version."
                )
                version, found = answer["leakgeo"], answer["format"]
                self.failed.emit(text.format(version=version, format=found, known=FORMAT))
            return
        kind = next((k for k, number in self._newest.items() if number == answer.get("id")), None)
        if kind is None or answer.get("superseded"):
            return
        del self._newest[kind]
        if not self._newest:
            self._patience.stop()
        # It works, so the next death is the first.
        self.deaths = 0
        self.answered.emit(answer)

    def _give_up(self):
        """Kill a process that does not answer."""
        if self.process is not None:
            self.process.kill()

    def _read_notes(self):
        self._notes = (self._notes + bytes(self.process.readAllStandardError()))[-4000:]

    def _has_failed(self, error):
        if error == QProcess.ProcessError.FailedToStart:
            self._died(tr("{program} can't be started.").format(program=self.command[0]))

    def _has_ended(self, code, _status):
        last = self._notes.decode("utf-8", "replace").strip().splitlines()[-1:]
        self._died(last[0] if last else tr("It ended with exit code {code}.").format(code=code))

    def _died(self, why):
        if self.process is None:
            return
        self.process.deleteLater()
        self.process = None
        self.deaths, self.died_at = self.deaths + 1, time.monotonic()
        self._newest, self._to_send = {}, {}
        stopped = tr("leakgeo stopped. It starts again when it is asked.")
        self.failed.emit(f"{stopped} {why}"[:_LONGEST_NOTE])
