"""What people read: help of an algorithm, and what leakgeo says while it runs."""

from __future__ import annotations

from html import escape

CAUTION = "Nothing here clears a dig: local law, the one-call centre and licensed people decide."


def help_of(step, layers):
    """Give the help of a step as HTML, all of it in leakgeo's own words."""
    rows = [f"<p>{escape(step['summary'])}</p><p>{escape(step['help'])}</p>", "<h3>Layers</h3>"]
    rows += [_item(layer["title"], layer["description"]) for layer in layers]
    group = ""
    for told in (p for p in step["parameters"] if p["kind"] != "job"):
        if told["group"] != group:
            group = told["group"]
            rows.append(f"<h3>{escape(group)}</h3>")
        rows.append(_item(told["name"], told["help"], _default(told)))
    rows.append(f"<h3>It makes</h3><p>{escape(', '.join(step['makes']))}</p>")
    rows.append(f"<p><b>{escape(CAUTION)}</b></p>")
    return "".join(rows)


def _item(name, text, more=""):
    return f"<p><b>{escape(name)}</b> {escape(text)}{escape(more)}</p>"


def _default(told):
    unit = f" {told['unit']}" if told["unit"] else ""
    if told["default"] in (None, "", [], False):
        return f" (in {told['unit']})" if unit else ""
    return f" (default {told['default']}{unit})"


def sentence(fault):
    """Say a fault: its layer and feature, what is wrong, and what to do."""
    where = f"{fault['layer']} {fault['feature']}".strip()
    said = f"{where}: {fault['problem']}" if where else fault["problem"]
    return f"{said} {fault['what_to_do']}".strip()


def tell(feedback, event, steps):
    """Tell an event in the host's log and bar; gives an error as text, else None."""
    kind = event.get("event") if isinstance(event, dict) else None
    if kind == "progress":
        _progress(feedback, event, steps)
    elif kind == "error":
        return sentence(event)
    elif kind == "note":
        feedback.pushInfo(event["message"])
    elif isinstance(event, str) and event:
        feedback.pushConsoleInfo(event)
    return None


def _progress(feedback, event, steps):
    """Each step of the chain has an equal part of the bar."""
    step, done, total = event["step"], event["done"] or 0, event["total"] or 0
    if step in steps:
        part = done / total if total else 0.0
        feedback.setProgress(100 * (steps.index(step) + part) / len(steps))
    elif total:
        feedback.setProgress(100 * done / total)
    left = event.get("seconds_left")
    more = f" {done} of {total}" if total else ""
    feedback.setProgressText(f"{step}{more}{'' if left is None else f', about {left:.0f} s left'}")


def tell_faults(feedback, faults, most=20):
    """Tell what was found in the data; the gravest first, no more than a screenful."""
    order = ("stops", "rejected", "noted")
    told = sorted(faults, key=lambda fault: order.index(fault["effect"]))
    for fault in told[:most]:
        say = feedback.pushInfo if fault["effect"] == "noted" else feedback.pushWarning
        say(f"{fault['effect']}: {sentence(fault)}")
    if len(told) > most:
        feedback.pushInfo(f"... and {len(told) - most} more, all in the table of faults.")


def tell_lines(feedback, document, most=20):
    """Tell what came of each line, the most urgent first."""
    lines = document.get("lines") or []
    for line in lines[:most]:
        feedback.pushInfo(f"{line['line_id']}: {line['message'] or line['status']}")
    if len(lines) > most:
        feedback.pushInfo(f"... and {len(lines) - most} more, all in the table of lines.")
    feedback.pushInfo(document.get("caution") or CAUTION)
