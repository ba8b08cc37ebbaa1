"""The papers as pages for a browser, from the same content: one file that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any

__all__ = ["page_of"]

_STYLE = """
:root { color-scheme: light; }
body { font: 17px/1.45 Georgia, "Times New Roman", serif; color: #111; background: #fff; max-width: 52rem;
  margin: 2rem auto; padding: 0 1.2rem; overflow-wrap: break-word; }
h1 { font-size: 1.7rem; margin: .3rem 0 .6rem; line-height: 1.2; }
h2 { font-size: 1.15rem; margin: 1.5rem 0 .5rem; }
h3 { font-size: 1.02rem; margin: 0 0 .3rem; }
p { margin: .4rem 0; }
.small { color: #444; font-size: .88rem; }
.top { display: flex; justify-content: space-between; gap: 1rem; }
.answer { font-size: 1.25rem; font-weight: bold; border-left: .3rem solid #111; background: #f3f3f3;
  padding: .7rem .9rem; margin: 1rem 0; }
.gap { display: grid; grid-template-columns: 1fr 21rem; gap: 1.2rem; align-items: center; border-top: 1px solid #bbb;
  padding: .7rem 0; break-inside: avoid; }
.gap svg { width: 100%; height: auto; }
@media (max-width: 44rem) { .gap { grid-template-columns: 1fr; } }
table { border-collapse: collapse; width: 100%; margin: .6rem 0; }
th, td { border: 1px solid #111; padding: .5rem; text-align: left; vertical-align: top; }
th { overflow-wrap: anywhere; min-width: 5rem; }
tr { break-inside: avoid; }
td.write { min-width: 4.5rem; }
ul.ticks { list-style: none; padding: 0; }
ul.ticks li { padding: .15rem 0 .15rem 2rem; text-indent: -2rem; }
ul.ticks li::before { content: "☐"; display: inline-block; width: 2rem; text-indent: 0; font-size: 1.2em;
  line-height: 1; }
ol { margin: 0; padding-left: 1.4rem; }
.sign { display: grid; grid-auto-flow: column; gap: 2rem; margin-top: 3.5rem; }
.sign div { border-top: 1px solid #111; padding-top: .2rem; font-size: .88rem; }
@media print { body { margin: 0; max-width: none; font-size: 11pt; } }
"""


def page_of(content: dict[str, Any]) -> str:
    """The page of a paper's content. Text that somebody typed is shown as text."""
    body = {"letter": _letter, "sheet": _sheet, "card": _card}[content["kind"]](content)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{escape(content['title'])}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        + "\n".join(body)
        + f'\n<p class="small">{escape(content["made"])} · {escape(content["date"])}</p>\n</body>\n</html>\n'
    )


def _letter(content: dict[str, Any]) -> list[str]:
    parts = [
        _top(content["shop"], content["date"]),
        f"<h1>{escape(content['title'])}</h1>",
        *(f"<p>{escape(item['label'])}: {escape(item['text'])}</p>" for item in content["head"]),
        f'<p class="answer">{escape(content["answer"])}</p>',
        *_paragraphs(content["explanation"]),
        "<h2>Place by place</h2>",
    ]
    for gap in content["gaps"]:
        text = "".join(_paragraphs([" ".join(gap["sentences"])]))
        pictures = [_picture(gap["picture"], gap["alt"]), *(_section(p) for p in gap["sections"])]
        parts.append(
            f'<section class="gap"><div><h3>{escape(gap["name"])}: {escape(gap["status"])}</h3>{text}</div>'
            f"<div>{''.join(pictures)}</div></section>"
        )
    parts.append(f'<p class="small">{escape(content["key"])}</p>')
    sections = (
        ("How it was measured", content["state"]),
        ("How alike they are", content["balances"]),
        ("What to watch", content["watch"]),
        ("Notes", [content["notes"]] if content["notes"] else []),
    )
    for title, sentences in sections:
        if sentences:
            parts += [f"<h2>{title}</h2>", *_paragraphs(sentences)]
    noted = " ".join([*content["grounds"], *content["cautions"], content["licensed"]])
    return [*parts, "<h2>Please note</h2>", *_paragraphs([noted]), _sign(f"{label}, date" for label in content["sign"])]


def _top(left: str, right: str) -> str:
    return f'<p class="small top"><span>{escape(left)}</span><span>{escape(right)}</span></p>'


def _picture(svg: str, alt: str) -> str:
    return f'<figure role="img" aria-label="{escape(alt)}" style="margin:0">{svg}</figure>'


def _section(section: dict[str, str]) -> str:
    return f'{_picture(section["svg"], section["alt"])}<p class="small">{escape(section["caption"])}</p>'


def _sheet(content: dict[str, Any]) -> list[str]:
    tighten = (
        _ticks(content["tightening"])
        if content["tightening"]
        else ("<p>The job states no tightening values. From the service data: ______________________</p>")
    )
    read = "".join(
        f"<tr><th>{escape(gap['name'])}</th><td>{escape(gap['allowed'])}</td><td>{escape(gap['read'])}</td>"
        '<td class="write"></td><td class="write"></td><td class="write"></td></tr>'
        for gap in content["gaps"]
    )
    return [
        _top(" · ".join(text for text in ("Bench sheet", content["shop"]) if text), content["date"]),
        f"<h1>{escape(content['title'])}</h1>",
        *_paragraphs([content["machine"]] if content["machine"] else []),
        f'<p class="answer">{escape(content["answer"])}</p><p class="small">{escape(content["units"])}</p>',
        "<h2>1 Prepare</h2>",
        _ticks(content["prepare"]),
        "<h2>2 Tighten</h2>",
        tighten,
        "<h2>3 Read</h2>",
        _ticks(content["read"]),
        *_paragraphs(f"In the trial assembly: {line}" for line in content["state"]),
        "<table><tr><th>place</th><th>allowed</th><th>read on trial</th><th>goes</th><th>does not go</th>"
        f"<th>who, when</th></tr>{read}</table>",
        *_paragraphs([f"Allowed according to: {'; '.join(content['sources'])}."]),
        "<h2>4 Fit</h2>",
        "<p>In this order, piece 1 against the fixed face.</p>",
        "<table><tr><th></th><th>place</th><th>pieces</th><th>then reads</th><th>read</th></tr>"
        f"{''.join(_fit_row(place) for place in content['places'])}</table>",
        "<h2>5 Afterwards</h2>",
        _ticks(content["afterwards"]),
        *_paragraphs([" ".join(content["cautions"])]),
        _sign(content["sign"]),
        *(_bench_cards(content) if content["card"] else []),
    ]


def _card(content: dict[str, Any]) -> list[str]:
    return [
        _top(" · ".join(text for text in ("Bench card", content["shop"]) if text), content["date"]),
        f"<h1>{escape(content['title'])}</h1>",
        *_paragraphs([content["machine"]] if content["machine"] else []),
        f'<p class="answer">{escape(content["answer"])}</p><p class="small">{escape(content["units"])}</p>',
        "<h2>Read the final gap, fit what its row says</h2>",
        *(_bench_card(card) for card in content["cards"]),
        *_paragraphs(content["told"]),
        *_paragraphs([" ".join(content["cautions"])]),
        _sign(content["sign"]),
    ]


def _bench_cards(content: dict[str, Any]) -> list[str]:
    """The bench card as the end of the sheet."""
    card = content["card"]
    return [
        f"<h2>{escape(card['heading'])}</h2>",
        *_paragraphs([card["answer"]]),
        *(_bench_card(one) for one in card["cards"]),
        *_paragraphs(card["told"]),
    ]


def _bench_card(card: dict[str, Any]) -> str:
    rows = "".join(
        f"<tr><td>{'' if row['hole'] else '☐'}</td><th>{escape(row['read'])}</th>"
        f"<td>{'<b>' if row['hole'] else ''}{escape(row['fit'])}{'</b>' if row['hole'] else ''}</td>"
        '<td class="write"></td></tr>'
        for row in card["rows"]
    )
    return (
        f"<h3>{escape(card['name'])}</h3>"
        f'<p class="small">allowed {escape(card["allowed"])}, read {escape(card["how"])}</p>'
        f"<table><tr><th></th><th>final reading</th><th>then</th><th>read</th></tr>{rows}</table>"
        f'<p class="small">{escape("; ".join(card["notes"]))}</p>'
    )


def _fit_row(place: dict[str, Any]) -> str:
    pieces = escape(place["nothing"])
    if place["pieces"]:
        rows = [
            f"<li><b>{escape(piece['name'])}</b><br>{escape(piece['thickness'])}<br>{escape(piece['known'])} ________"
            + (f"<br>lies in: {escape(piece['at'])}" if piece["at"] else "")
            + "</li>"
            for piece in place["pieces"]
        ]
        pieces = f"<ol>{''.join(rows)}</ol>"
    then = [
        "<br>".join(
            escape(line)
            for line in (then["gap"], then["expected"], f"allowed {then['allowed']}", then["doubt"])
            if line
        )
        for then in place["then"]
    ]
    return (
        f"<tr><td>☐</td><th>{escape(place['name'])}</th><td>{pieces}</td><td>{'<br>'.join(then)}</td>"
        '<td class="write"></td></tr>'
    )


def _paragraphs(sentences: Iterable[str]) -> list[str]:
    return [f"<p>{escape(sentence)}</p>" for sentence in sentences]


def _ticks(items: Iterable[str]) -> str:
    return f'<ul class="ticks">{"".join(f"<li>{escape(item)}</li>" for item in items)}</ul>'


def _sign(labels: Iterable[str]) -> str:
    return f'<div class="sign">{"".join(f"<div>{escape(label)}</div>" for label in labels)}</div>'
