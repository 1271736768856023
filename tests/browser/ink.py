"""Measures what a page has drawn: counts of notes, boxes of text, tips of arrows."""

from __future__ import annotations

from collections import Counter

#: The ink of each text: its baseline and size give a tighter box than the font's own, which is mostly air.
TEXT_BOXES = """() => [...document.querySelectorAll('svg.system')].flatMap((svg, s) =>
  [...svg.querySelectorAll('text.t')].map((t) => {
    const box = t.getBoundingClientRect(), size = parseFloat(t.getAttribute('font-size'));
    const m = t.getScreenCTM();
    const base = +t.getAttribute('y') * m.d + m.f;
    const small = /^[a-z ]+$/.test(t.textContent);
    return { system: s, text: t.textContent, cls: t.getAttribute('class'), scale: m.d,
      x1: box.left, x2: box.right, y1: base - size * m.d * 0.72, y2: base + (small ? 1 : 0) };
  }))"""

MARKS = """() => ({
  heads: [...document.querySelectorAll('[data-head]')].map((e) => e.dataset.head),
  figures: [...document.querySelectorAll('[data-note]')].map((e) => e.dataset.note),
})"""

TIPS = """() => [...document.querySelectorAll('.bend-tip, .release-tip')].map((e) => {
  const up = e.classList.contains('bend-tip'), box = e.getBoundingClientRect(), m = e.getScreenCTM();
  return { up, tip: up ? box.top : box.bottom, target: +e.dataset.target * m.d + m.f,
    note: e.dataset.bend || e.dataset.release };
})"""


def overlaps(boxes: list[dict], slack: float = 0.6) -> list[str]:
    """Pairs of texts of one system whose boxes meet, in words."""
    found = []
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            if a["system"] != b["system"]:
                continue
            wide = min(a["x2"], b["x2"]) - max(a["x1"], b["x1"])
            tall = min(a["y2"], b["y2"]) - max(a["y1"], b["y1"])
            if wide > slack and tall > slack:
                found.append(f"{a['text']!r} ({a['cls']}) and {b['text']!r} ({b['cls']})")
    return found


def expected_notes(study) -> Counter:
    """Each note of a study once, as the page names it."""
    return Counter(f"{event.id}:{note.string}" for event, note in study.notes())


def faults(opened, study) -> list[str]:
    """Everything that is wrong with the drawing of a study, in words."""
    found = list(opened.troubles)
    marks = opened.value(MARKS)
    for name in ("heads", "figures"):
        if Counter(marks[name]) != expected_notes(study):
            found.append(
                f"{name}: {Counter(marks[name]) - expected_notes(study)} too many, "
                f"{expected_notes(study) - Counter(marks[name])} missing"
            )
    found += overlaps(opened.value(TEXT_BOXES))
    found += [f"tip {t}" for t in opened.value(TIPS) if abs(t["tip"] - t["target"]) > 2]
    if opened.value("document.documentElement.scrollWidth > innerWidth"):
        found.append("the page scrolls sideways")
    return found
