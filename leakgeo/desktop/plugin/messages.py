"""Texts in QGIS: the help of an algorithm, and the log and progress of a run."""

from __future__ import annotations

from html import escape

from .language import tr, tr_catalog

# Exit code of a run that rejected lines.
_SOME_REJECTED = 1


def caution():
    """Return what holds for every result."""
    return tr(
        "Nothing here clears a dig: local law, the one-call centre and licensed people decide."
    )


def help_html(step, layers):
    """Return the help of a step as HTML, from the texts of the catalog."""
    rows = [f"<p>{escape(tr_catalog(step[key]))}</p>" for key in ("summary", "help")]
    rows += [f"<h3>{escape(tr('Layers'))}</h3>"] if layers else []
    for layer in layers:
        rows.append(_item(tr_catalog(layer["title"]), tr_catalog(layer["description"])))
    group = ""
    for parameter in (p for p in step["parameters"] if p["kind"] != "job"):
        if parameter["group"] != group:
            group = parameter["group"]
            rows.append(f"<h3>{escape(tr_catalog(group))}</h3>")
        rows.append(_item(parameter["name"], tr_catalog(parameter["help"]), _default(parameter)))
    if step["makes"]:
        rows.append(f"<h3>{escape(tr('Results'))}</h3><p>{escape(', '.join(step['makes']))}</p>")
    rows.append(f"<p><b>{escape(caution())}</b></p>")
    return "".join(rows)


def _item(name, text, more=""):
    return f"<p><b>{escape(name)}</b> {escape(text)}{escape(more)}</p>"


def _default(parameter):
    unit = f" {parameter['unit']}" if parameter["unit"] else ""
    if parameter["default"] in (None, "", [], False):
        return f" ({tr('in {unit}').format(unit=parameter['unit'])})" if unit else ""
    return f" ({tr('default {value}').format(value=parameter['default'])}{unit})"


def fault_text(fault):
    """Return a fault as text: layer and feature, what is wrong, and what to do."""
    where = f"{fault['layer']} {fault['feature']}".strip()
    problem = f"{where}: {fault['problem']}" if where else fault["problem"]
    return f"{problem} {fault['what_to_do']}".strip()


def show_event(feedback, event, steps):
    """Show an event of the run in the log and the progress bar.

    Parameters
    ----------
    feedback : QgsProcessingFeedback
    event : dict or str
        Event of leakgeo, or another line that it wrote to stderr.
    steps : list of str
        Names of the steps of the run, in order.

    Returns
    -------
    str or None
        Text of an error, which is not shown yet; None for other events.
    """
    kind = event.get("event") if isinstance(event, dict) else None
    if kind == "progress":
        _show_progress(feedback, event, steps)
    elif kind == "error":
        return fault_text(event)
    elif kind == "note":
        feedback.pushInfo(event["message"])
    elif isinstance(event, str) and event:
        feedback.pushConsoleInfo(event)
    return None


def _show_progress(feedback, event, steps):
    """Show progress; each step has an equal part of the bar."""
    step, done, total = event["step"], event["done"] or 0, event["total"] or 0
    if step in steps:
        part = done / total if total else 0.0
        feedback.setProgress(100 * (steps.index(step) + part) / len(steps))
    elif total:
        feedback.setProgress(100 * done / total)
    left = event.get("seconds_left")
    count = f" {tr('{done} of {total}').format(done=done, total=total)}" if total else ""
    rest = "" if left is None else tr(", about {seconds} s left").format(seconds=f"{left:.0f}")
    feedback.setProgressText(f"{step}{count}{rest}")


def show_faults(feedback, faults, most=20):
    """Show up to `most` faults in the log, the most serious first."""
    order = ("stops", "rejected", "noted")
    by_effect = sorted(faults, key=lambda fault: order.index(fault["effect"]))
    for fault in by_effect[:most]:
        push = feedback.pushInfo if fault["effect"] == "noted" else feedback.pushWarning
        push(f"{_effect(fault['effect'])}: {fault_text(fault)}")
    if len(by_effect) > most:
        more = tr("... and {count} more, all in the table of faults.")
        feedback.pushInfo(more.format(count=len(by_effect) - most))


def _effect(effect):
    """Return what a fault does to the job, in words."""
    words = {"stops": tr("stops"), "rejected": tr("rejected"), "noted": tr("noted")}
    return words.get(effect, effect)


def nothing_done(code, document, made, most=5):
    """Return why a run gave no result at all; an empty text if it gave one.

    Parameters
    ----------
    code : int
        Exit code; 1 means that lines were rejected.
    document : dict
        Document of leakgeo.
    made : list of str
        Layers that the command makes.
    most : int
        Number of reasons to list.
    """
    lines, rows = document.get("lines") or [], dict(document.get("layers") or {})
    if any(line["status"] != "rejected" for line in lines):
        return ""
    readings = (document.get("counts") or {}).get("readings") or {}
    unused = bool(readings.get("in")) and not readings.get("used")
    if unused:  # the layer keeps every row that was read
        rows.pop("readings_on_route", None)
    lost = lines or unused or code == _SOME_REJECTED
    if not lost or (not lines and any(rows.get(layer) for layer in made)):
        return ""
    reasons = [f"{line['line_id']}: {line['message'] or line['status']}" for line in lines]
    reasons += [fault_text(f) for f in document.get("faults", []) if f["effect"] == "rejected"]
    reasons = list(dict.fromkeys(reasons))
    more = tr("... and {count} more.").format(count=len(reasons) - most)
    listed = [*reasons[:most], *([more] if len(reasons) > most else [])]
    return "\n".join([tr("No line was worked out."), *listed])


def show_lines(feedback, document, most=20):
    """Show the result of up to `most` lines in the log, the most urgent first."""
    lines = document.get("lines") or []
    for line in lines[:most]:
        feedback.pushInfo(f"{line['line_id']}: {line['message'] or line['status']}")
    if len(lines) > most:
        more = tr("... and {count} more, all in the table of lines.")
        feedback.pushInfo(more.format(count=len(lines) - most))
    feedback.pushInfo(document.get("caution") or caution())
