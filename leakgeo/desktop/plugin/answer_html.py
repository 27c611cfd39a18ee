"""The texts of an answer as HTML; leakgeo writes the texts."""

from __future__ import annotations

from html import escape


def answer_html(answer, ink, faint, hold):
    """Return the card of a line and what follows from it as HTML.

    Parameters
    ----------
    answer : dict
        Answer of ``leakgeo ask``.
    ink, faint, hold : str
        Colours of text, of headings, and of the word for a hold.
    """
    words = answer["words"]
    parts = [_card(answer["card"], ink, hold)]
    parts += [f"<h4>{escape(each['title'])}</h4>{_card(each['card'], ink, hold)}"
              for each in answer["marks"]]  # fmt: skip
    stops = [" ".join(stop["says"]) for stop in answer["plot"]["next"]]
    sure = [*answer["odds"], *([answer["limit"]] if answer["limit"] else [])]
    parts.append(_section(words["how_sure"], sure))
    parts.append(_section(words["evidence"], answer["evidence"]))
    parts.append(_section(words["else"], [answer["else"]] if answer["else"] else []))
    parts.append(_actions(answer))
    parts.append(_section(words["l_next"], stops))
    parts.append(_section(words["holds"], answer["holds"]))
    parts.append(_section("", answer["cautions"] + answer["action_cautions"]))
    parts.append(_section(words["faults"], answer["faults"]))
    parts.append(f"<p><b>{escape(answer['caution'])}</b></p>")
    style = (f"<style>h4 {{ color: {faint}; margin: 10px 0 2px 0; }} p {{ margin: 4px 0; }} "
             "ul { margin: 0 0 0 -22px; } li { margin: 2px 0; }</style>")  # fmt: skip
    return style + "".join(parts)


def _card(card, ink, hold):
    rows = []
    if card["hold"]:
        rows.append(f"<p><b><span style='color: {hold}'>{escape(card['hold_label'])}:</span> "
                    f"{escape(card['hold'])}</b></p>")  # fmt: skip
    rows += [f"<p style='color: {ink}'>{escape(card[name])}</p>"
             for name in ("where", "next") if card[name]]  # fmt: skip
    return "".join(rows)


def _section(head, texts):
    if not texts:
        return ""
    listed = "".join(f"<li>{escape(text)}</li>" for text in texts)
    titled = f"<h4>{escape(head[:1].upper() + head[1:])}</h4>" if head else ""
    return f"{titled}<ul>{listed}</ul>"


def _actions(answer):
    if not answer["actions"]:
        return ""
    heads = "".join(f"<th align='left'>{escape(head)}</th>" for head in answer["action_heads"])
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>"
        for row in answer["actions"]
    )
    title = escape(answer["words"]["actions"])
    return f"<h4>{title}</h4><table cellpadding='3'><tr>{heads}</tr>{rows}</table>"
