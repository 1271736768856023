// The notation staff of one system: VexFlow's notes, then slurs, ties, small heads and marks.
const Staff = (() => {
  const V = VexFlow;
  const HEAD = Spacing.HEAD;
  const LINES = 40;
  const GLYPHS = { head: '\ue0a4', open: '\ue0f5', close: '\ue0f6', trill: '\ue566', wave: '\ueaa4' };
  const SIGNS = { b: '\ue260', '#': '\ue262', n: '\ue261' };

  function stave(model, width, first) {
    const made = new V.Stave(0, 0, width, { spaceAboveStaffLn: 0, leftBar: false, rightBar: false });
    made.addClef(model.clef, 'default', '8vb').addKeySignature(model.signature);
    if (first) made.addTimeSignature(model.study.meter);
    return made;
  }

  // Where the first bar may begin after clef, signature and, at the start, meter.
  const headWidth = (model, first) => stave(model, 400, first).getNoteStartX() - 2;

  // Puts every note at its x (of the notehead's left edge).
  function place(view, drawn) {
    for (const b of view.built) {
      b.note.setStave(drawn);
      const context = b.note.getTickContext();
      context.setX(0);
      context.setX(view.x.get(b.index) - b.note.getAbsoluteX());
    }
  }

  function draw(view, context) {
    const group = context.openGroup('notation');
    const drawn = stave(view.model, view.width, view.first);
    drawn.setContext(context).draw();
    place(view, drawn);
    for (const b of view.built) b.note.setContext(context).draw();
    for (const beam of view.beams) beam.setContext(context).draw();
    context.closeGroup();
    const up = new Svg.Outline(-1), down = new Svg.Outline(1);
    up.add(-50, view.width + 50, 0);
    down.add(-50, view.width + 50, LINES);
    up.add(-5, 40, -16); // the clef
    down.add(-5, 40, LINES + 22);
    view.staff = { group, up, down };
    for (const b of view.built) outline(view, b);
    for (const run of view.beams) beamOutline(view, run);
    tag(view);
    for (const b of view.built) marks(view, b);
    for (const b of view.built) links(view, b);
    openLinks(view);
    for (const run of view.tuplets) tuplet(view, run);
    for (const b of view.built) above(view, b);
    return group;
  }

  const headX = (view, b) => view.x.get(b.index);
  const ys = (b) => b.note.getYs();

  function outline(view, b) {
    const { up, down } = view.staff;
    const x = headX(view, b);
    const y = ys(b);
    const left = x - b.note.getTickContext().getMetrics().modLeftPx;
    if (!b.event) { up.add(x - 2, x + 14, 2); down.add(x - 2, x + 14, 38); return; }
    const signs = b.event.notes.some((n) => n.head.accidental) && !b.item.tied;
    up.add(signs ? left : x, x + HEAD, Math.min(...y) - (signs ? 14 : 5));
    down.add(signs ? left : x, x + HEAD, Math.max(...y) + (signs ? 10 : 5));
    if (b.grace) {
      const g = b.grace.small.getYs();
      up.add(left, x - 2, Math.min(...g) - (b.grace.silent ? 6 : 27));
      down.add(left, x - 2, Math.max(...g) + 5);
    }
    if (b.note.hasStem()) {
      const { topY, baseY } = b.note.getStemExtents();
      const stemX = b.note.getStemX();
      const flag = b.item.beam === null ? 9 : 1;
      const tip = b.note.getStemDirection() === 1 ? Math.min(topY, baseY) : Math.max(topY, baseY);
      (b.note.getStemDirection() === 1 ? up : down).add(stemX - 1, stemX + flag, tip);
    }
  }

  function beamOutline(view, beam) {
    const notes = beam.getNotes();
    const side = notes[0].getStemDirection() === 1 ? view.staff.up : view.staff.down;
    for (let i = 1; i < notes.length; i++) {
      const tips = [notes[i - 1], notes[i]].map((n) => n.getStemExtents().topY);
      const far = side.side < 0 ? Math.min(...tips) : Math.max(...tips);
      side.add(notes[i - 1].getStemX(), notes[i].getStemX(), far);
    }
  }

  // Marks each head with the note it stands for, so that it can be lit up and counted.
  function tag(view) {
    for (const b of view.built) {
      if (!b.event) continue;
      const drawn = view.svg.querySelector(`#vf-${view.model.mark || ''}n${b.index}`);
      view.light(b.event, drawn);
      const heads = [...drawn.children].filter((c) => c.classList.contains('vf-notehead'));
      heads.forEach((head, i) => {
        head.setAttribute(b.item.tied ? 'data-held' : 'data-head', `${b.event.id}:${b.event.notes[i].string}`);
      });
    }
  }

  const noteAt = (b, string) => b.event.notes.findIndex((n) => n.string === string);

  // The x at which a note is left: its small released head, if it has one.
  function departure(view, b, n) {
    return n.released && b.smallX ? b.smallX + 4 : headX(view, b) + HEAD / 2;
  }

  function smallHead(view, b, head, y) {
    const { group } = view.staff;
    const sign = head.accidental ? SIGNS[head.accidental] : '';
    const x = headX(view, b) + HEAD + (b.item.dots ? 9 : 4) + (sign ? 6 : 0);
    const cls = `small`;
    const parts = [Svg.glyph(group, x, y, GLYPHS.open, 0.62, cls),
      Svg.glyph(group, x + 4, y, GLYPHS.head, 0.62, cls), Svg.glyph(group, x + 12, y, GLYPHS.close, 0.62, cls)];
    if (sign) parts.push(Svg.glyph(group, x - 5, y, sign, 0.55, cls));
    parts.forEach((p) => view.light(b.event, p));
    view.staff.up.add(x - 5, x + 17, y - 6);
    view.staff.down.add(x - 5, x + 17, y + 6);
    return x + 4;
  }

  // y of a written head that VexFlow has not placed.
  function yOf(view, head) {
    const props = { C: 0, D: 1, E: 2, F: 3, G: 4, A: 5, B: 6 };
    const step = head.octave * 7 + props[head.letter];
    const bottom = view.model.clef === 'bass' ? 2 * 7 + 4 : 4 * 7 + 2; // G2 and E4 lie on the lowest line
    return LINES - (step - bottom) * 5;
  }

  // Small heads after the note, quarter-tone curls, staccato dots, ringing on.
  function marks(view, b) {
    if (!b.event) return;
    const { group, up, down } = view.staff;
    for (const n of b.event.notes) {
      if (Spacing.comesDown(n, b.item)) b.smallX = smallHead(view, b, n.released, yOf(view, n.released));
    }
    if (b.item.tied) return;
    b.event.notes.forEach((n, i) => {
      const y = ys(b)[i];
      if (n.trillHead) smallHead(view, b, n.trillHead, yOf(view, n.trillHead));
      if (n.bend && n.bend.size === 1) {
        const x = headX(view, b) + HEAD + 2;
        view.light(b.event, Svg.line(group, `M${x} ${y}q6 -1 6.5 -9`, 'line'));
        up.add(x, x + 8, y - 10);
      }
    });
    const source = view.model.study.events[b.item.event];
    if (source.staccato) {
      const side = b.note.getStemDirection();
      const far = side === 1 ? Math.max(...ys(b)) : Math.min(...ys(b));
      let y = far + 9 * side;
      if (y > 0 && y < LINES && Math.abs(y % 10) < 2) y += 5 * side; // in a space, never on a line
      const x = headX(view, b) + HEAD / 2;
      view.light(b.event, Svg.make('circle', { cx: x, cy: y, r: 1.7, class: 'solid' }, group));
      (side === 1 ? down : up).add(x - 3, x + 3, y + 3 * side);
    }
    if (b.grace) graceLink(view, b);
  }

  // From small notes to the note: a slur, or a bracket round a note that is fretted but not struck.
  function graceLink(view, b) {
    const { group, down } = view.staff;
    const { small, ordered, silent } = b.grace;
    const gx = small.getAbsoluteX();
    if (silent) {
      small.getYs().forEach((y) => {
        Svg.glyph(group, gx - 4.5, y, GLYPHS.open, 0.62);
        Svg.glyph(group, gx + 8, y, GLYPHS.close, 0.62);
      });
      return;
    }
    const lowest = Math.max(...small.getYs());
    const target = Math.max(...ys(b).filter((_, i) => ordered.some((o) => o.note === b.event.notes[i])));
    const x1 = gx + 4, x2 = headX(view, b) + 2;
    view.light(b.event, Svg.arc(group, x1, lowest + 6, x2, target + 7, 5));
    down.add(x1, x2, Math.max(lowest + 6, target + 7) + 5);
    ordered.filter((o) => o.note.graceBy === 'slide').forEach((o) => {
      const y1 = small.getYs()[ordered.indexOf(o)], y2 = ys(b)[b.event.notes.indexOf(o.note)];
      const tilt = y1 === y2 ? (o.note.graceFret < o.note.fret ? 2 : -2) : Math.sign(y1 - y2);
      const from = gx + 8.5, end = headX(view, b) - signRoom(b);
      const part = (end - from) / (headX(view, b) - from); // as far as the accidentals let it go
      if (end - from > 3) view.light(b.event, Svg.segment(group, from, y1 - tilt, end, y1 + (y2 - y1) * part + tilt * (2 * part - 1), 'slide'));
    });
  }

  // The room that accidentals take before the heads.
  function signRoom(b) {
    const left = b.note.getTickContext().getMetrics().modLeftPx;
    return Math.max(2, left - (b.grace ? b.grace.room : 0));
  }

  // A slur, tie or slide between two places; either may lie beyond the system.
  function slur(view, event, x1, y1, x2, y2, side, open) {
    const far = view.staff[side < 0 ? 'up' : 'down'];
    const height = Math.min(11, 5 + (x2 - x1) * 0.08) * side;
    view.light(event, Svg.arc(view.staff.group, x1, y1, x2, y2, height, open, 'solid slur'));
    const edge = side < 0 ? Math.min(y1, y2) : Math.max(y1, y2);
    far.add(x1 + 2, x2 - 2, edge + height);
  }

  const tieSide = (b, i) => {
    const count = b.event.notes.length;
    if (count === 1) return -b.note.getStemDirection();
    return i < count / 2 ? 1 : -1;
  };

  // A tie from head i of `a` to head j of `b`; one of them may be missing.
  function tie(view, a, i, b, j) {
    const known = a || b, k = a ? i : j;
    const side = tieSide(known, k);
    const y = ys(known)[k] + 4 * side;
    const x1 = a ? headX(view, a) + HEAD + 1 + (a.item.dots ? 6 : 0) : view.musicLeft - 12;
    const x2 = b ? headX(view, b) - 1 : view.right - 2;
    const open = a && b ? '' : a ? 'right' : 'left';
    const height = Math.min(6, 3 + (x2 - x1) * 0.06) * side;
    view.light(known.event, Svg.arc(view.staff.group, x1, y, x2, y, height, open, 'solid tie'));
    view.staff[side < 0 ? 'up' : 'down'].add(x1, x2, y + height);
  }

  // Everything that joins this note to the one before it.
  function links(view, b) {
    if (!b.event) return;
    if (b.item.tied) {
      const a = view.built.find((o) => o.index === b.index - 1);
      b.event.notes.forEach((_, i) => tie(view, a, i, b, i));
      return;
    }
    const drawn = new Set();
    b.event.notes.forEach((n, j) => {
      if (n.from === null) return;
      const a = view.lastOf(n.from);
      const i = a ? noteAt(a, n.string) : -1;
      if (n.tied) { tie(view, a, i, b, j); return; }
      if (n.technique === 'slide') slide(view, a, i, b, j);
      const side = b.event.notes.length > 1 && a && a.event.notes.length > 1
        ? tieSide(b, j) : -b.note.getStemDirection();
      if (drawn.has(side)) return;
      drawn.add(side);
      link(view, a, i, b, j, side);
    });
  }

  function link(view, a, i, b, j, side) {
    const known = b || a;
    const y2 = b ? ys(b)[j] + 7 * side : null;
    const y1 = a ? departureY(view, a, i) + 7 * side : null;
    const x2 = b ? headX(view, b) + HEAD / 2 - 1 : view.right - 2;
    const x1 = a ? departure(view, a, a.event.notes[i]) + 1 : view.musicLeft - 12;
    slur(view, known.event, x1, y1 ?? y2, x2, y2 ?? y1, side, a && b ? '' : a ? 'right' : 'left');
  }

  const departureY = (view, a, i) => {
    const n = a.event.notes[i];
    return n.released ? yOf(view, n.released) : ys(a)[i];
  };

  function slide(view, a, i, b, j) {
    const known = b || a;
    const n = b ? b.event.notes[j] : null;
    const y1 = a ? departureY(view, a, i) : ys(b)[j] + 6;
    const y2 = b ? ys(b)[j] : ys(a)[i] - 6;
    const x1 = a ? departure(view, a, a.event.notes[i]) + HEAD / 2 + 2 + (a.item.dots ? 7 : 0) : view.musicLeft - 12;
    const x2 = b ? headX(view, b) - (n.head.accidental ? 13 : 3) : view.right - 3;
    const tilt = Math.sign(y1 - y2) * 2;
    if (x2 - x1 > 4) view.light(known.event, Svg.segment(view.staff.group, x1, y1 - tilt, x2, y2 + tilt, 'slide'));
  }

  // Ties and links that leave this system to the right.
  function openLinks(view) {
    const b = view.built[view.built.length - 1];
    if (!b.event) return;
    const next = view.next;
    if (b.item.ties) b.event.notes.forEach((_, i) => tie(view, b, i, null, -1));
    if (!next || b.item.ties) return;
    next.notes.forEach((n) => {
      if (n.from !== b.item.event) return;
      const i = noteAt(b, n.string);
      if (n.tied) tie(view, b, i, null, -1);
      else {
        if (n.technique === 'slide') slide(view, b, i, null, -1);
        link(view, b, i, null, -1, -b.note.getStemDirection());
      }
    });
  }

  function tuplet(view, run) {
    const { group } = view.staff;
    const first = run[0], last = run[run.length - 1];
    const beamed = run.every((b) => b.item.beam !== null && b.item.beam === first.item.beam);
    const side = beamed ? -first.note.getStemDirection() : -1;
    const outlineSide = side < 0 ? view.staff.up : view.staff.down;
    const x1 = headX(view, first) - 1, x2 = headX(view, last) + HEAD + 1, middle = (x1 + x2) / 2;
    const edge = outlineSide.reach(x1, x2, side < 0 ? 0 : LINES);
    const baseline = side < 0 ? edge - 4 : edge + 13;
    Svg.text(group, middle, baseline, '3', 11, { style: 'italic', weight: 'bold', cls: 'tuplet' });
    if (!beamed) {
      const y = baseline - 4, hook = 5;
      Svg.line(group, `M${x1} ${y + hook}V${y}H${middle - 6}M${middle + 6} ${y}H${x2}V${y + hook}`, 'hair');
    }
    outlineSide.add(x1, x2, side < 0 ? baseline - 9 : baseline + 1);
  }

  // Signs that stand clear over everything else: trills, ringing on.
  function above(view, b) {
    if (!b.event) return;
    const { group, up, down } = view.staff;
    const trilled = b.event.notes.some((n) => n.trill !== null);
    if (trilled) {
      const x = headX(view, b);
      const end = view.xAt(b.item.tick + b.item.ticks) - 13;
      const y = up.reach(x, Math.max(end, x + 20), 0) - 5;
      let at = x;
      if (!b.item.tied) { view.light(b.event, Svg.glyph(group, x, y, GLYPHS.trill, 0.8)); at += 17; }
      const wave = Svg.glyphWidth(GLYPHS.wave, 0.8);
      const count = Math.max(0, Math.floor((end - at) / wave));
      if (count) view.light(b.event, Svg.glyph(group, at, y - 5, GLYPHS.wave.repeat(count), 0.8));
      up.add(x, Math.max(end, x + 16), y - 13);
    }
    const source = view.model.study.events[b.item.event];
    if (source.ring && !b.item.ties) {
      b.event.notes.forEach((_, i) => {
        const side = tieSide(b, i), y = ys(b)[i] + 4 * side;
        const x = headX(view, b) + HEAD + 1 + (b.item.dots ? 6 : 0);
        Svg.arc(group, x, y, x + 13, y, 3.5 * side, '', 'solid ring');
        (side < 0 ? up : down).add(x, x + 13, y + 4 * side);
      });
    }
  }

  return { draw, headWidth, LINES };
})();
