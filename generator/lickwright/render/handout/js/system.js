// One system: both staves at their distance, bar lines, chord symbols, labels, and places to press.
const System = (() => {
  const V = VexFlow;
  const X0 = 9;           // room for the bracket
  const CHORD_SIZE = 17, LABEL_SIZE = 11.5;

  // What the drawing modules share about a system.
  function viewOf(model, bars, system, width, svg, lights) {
    const own = bars.slice(system.from, system.to);
    const first = system.from === 0;
    const made = own.map((bar) => Spacing.notesOf(model, bar));
    const [built, beams, tuplets] = ['built', 'beams', 'tuplets'].map((key) => made.flatMap((m) => m[key]));
    const head = system.head || Staff.headWidth(model, first);
    const filling = system.widths ? null : Spacing.solve(own, width - head - 1);
    const x = new Map(), lines = [];
    let at = head;
    for (const [n, bar] of own.entries()) {
      const start = at;
      const k = filling || Spacing.solve([bar], system.widths[n]);
      at += bar.lead;
      bar.items.forEach((item, i) => {
        x.set(item.index, at);
        at += Math.max(k * bar.gaps[i].weight, bar.gaps[i].least);
      });
      lines.push({ number: bar.number, from: start, to: at });
      if (bar.items[0].barRest) x.set(bar.items[0].index, (start + at) / 2 - 6);
    }
    return complete({ model, first, width, svg, built, beams, tuplets, x, lines, head }, system, lights);
  }

  function complete(view, system, lights) {
    const { model, built, x } = view;
    view.start = system.from * 48;
    view.end = system.to * 48;
    view.right = view.width;
    view.musicLeft = view.head + 10;
    view.letters = [];
    view.departures = new Map();
    const points = built.map((b) => [b.item.tick, x.get(b.index) + Spacing.HEAD / 2]);
    view.lines.forEach((line) => points.push([(line.number + 1) * 48 - 0.01, line.to]));
    points.sort((a, b) => a[0] - b[0]);
    // The x of a tick, straight between columns.
    view.xAt = (tick) => {
      if (tick <= points[0][0]) return points[0][1];
      for (let i = 1; i < points.length; i++) {
        if (tick <= points[i][0]) {
          const [t0, x0] = points[i - 1], [t1, x1] = points[i];
          return x0 + (x1 - x0) * (tick - t0) / (t1 - t0 || 1);
        }
      }
      return view.width;
    };
    view.lastOf = (event) => [...built].reverse().find((b) => b.item.event === event) || null;
    view.firstOf = (b) => built.find((o) => o.item.event === b.item.event && !o.item.tied) || null;
    view.after = (i) => built[i + 1] || null;
    const last = built[built.length - 1];
    view.next = last.item.event === null ? null : model.events[last.item.event + 1] || null;
    view.light = (event, element) => {
      if (!lights.has(event.id)) lights.set(event.id, []);
      lights.get(event.id).push(element);
    };
    return view;
  }

  // The least distance between the staves at which no ink of one meets ink of the other.
  function distance(view) {
    let need = Staff.LINES + 26;
    for (const [a1, a2, low] of view.staff.down.boxes) {
      for (const [b1, b2, high] of view.tab.up.boxes) {
        if (a1 < b2 && a2 > b1) need = Math.max(need, low - high + (low > Staff.LINES && high < 0 ? 5 : 9));
      }
    }
    return need;
  }

  function chordRow(view, parent) {
    const { up } = view.staff;
    const own = view.model.chords.filter((c) => c.tick >= view.start && c.tick < view.end);
    const placed = own.map((chord) => {
      const x = view.xAt(chord.tick) - Spacing.HEAD / 2;
      return { ...chord, x, width: Svg.width(chord.symbol, CHORD_SIZE, 'bold') };
    });
    const baseline = Math.min(-15, ...placed.map((c) => up.reach(c.x - 2, c.x + c.width + 2, 0) - 6));
    for (const c of placed) {
      Svg.text(parent, c.x, baseline, c.symbol, CHORD_SIZE, { anchor: 'start', weight: 'bold', cls: 'chord' });
      up.add(c.x - 4, c.x + c.width + 4, baseline - CHORD_SIZE * 0.8);
    }
    return baseline;
  }

  // The lick's letter and role, over the bar number's row, where the lick begins.
  function labels(view, parent) {
    const { up } = view.staff;
    if (view.lines[0].number > 0) {
      Svg.text(parent, 2, up.reach(0, 16, -16) - 4, String(view.lines[0].number + 1), 10.5,
        { anchor: 'start', style: 'italic', cls: 'bar-number' });
      up.add(0, 16, -31);
    }
    for (const slot of view.model.slots) {
      if (slot.from < view.start || slot.from >= view.end) continue;
      const starts = view.built.find((b) => b.event && !b.item.tied && b.item.tick >= slot.from);
      const x = starts ? view.x.get(starts.index) : view.xAt(slot.from);
      const width = Svg.width(slot.label, LABEL_SIZE);
      const left = Math.min(x, view.width - width);
      const y = up.reach(left - 3, left + width + 3, -8) - 5;
      Svg.text(parent, left, y, slot.label, LABEL_SIZE, { anchor: 'start', style: 'italic', cls: 'label' });
      up.add(left - 3, left + width + 3, y - LABEL_SIZE * 0.8);
    }
  }

  function barLines(view, parent, tabTop) {
    const { bottom } = view.tab;
    const final = view.lines[view.lines.length - 1].number === view.model.bars.length - 1;
    const foot = tabTop + bottom;
    Svg.segment(parent, 0, 0, 0, foot, 'bar-line');
    Svg.make('path', { d: `M-4 -3V${foot + 3}`, class: 'brace' }, parent);
    Svg.line(parent, `M-4.9 -3q4 -1 6 -5M-4.9 ${foot + 3}q4 1 6 5`, 'brace-tip');
    view.lines.forEach((line, i) => {
      const end = final && i === view.lines.length - 1;
      const x = i === view.lines.length - 1 ? view.width : line.to;
      if (end) {
        Svg.segment(parent, x - 6, 0, x - 6, foot, 'bar-line');
        Svg.segment(parent, x - 1.5, 0, x - 1.5, foot, 'bar-line final');
      } else Svg.segment(parent, x - 0.5, 0, x - 0.5, foot, 'bar-line');
    });
  }

  // A place to press for every event (its part in this system).
  function places(view, parent, top, height) {
    const starts = view.built.filter((b) => b.event);
    const made = [];
    starts.forEach((b) => {
      const x = view.x.get(b.index) - Math.min(9, b.column.left + 2);
      const next = view.after(view.built.indexOf(b));
      const line = view.lines.find((l) => l.number === b.item.bar);
      const end = next && next.item.bar === b.item.bar ? view.x.get(next.index) - 9 : line.to - 2;
      const rect = Svg.make('rect', {
        x: Svg.round(x), y: Svg.round(top), width: Svg.round(Math.max(14, end - x)), height: Svg.round(height),
        rx: 3, class: 'place', 'data-event': b.event.id,
      }, parent);
      if (!b.item.tied) {
        rect.setAttribute('role', 'button');
        rect.setAttribute('tabindex', '-1');
        rect.setAttribute('aria-label', b.event.label);
      }
      made.push({ event: b.event.id, rect });
    });
    return made;
  }

  // Draws a system `cssWidth` pixels wide into `host`; gives the places to press.
  function draw(model, bars, system, host, cssWidth, scale, lights) {
    const width = cssWidth / scale - X0 - 2;
    const context = new V.Renderer(host, V.Renderer.Backends.SVG).getContext();
    const svg = host.querySelector('svg');
    svg.setAttribute('class', 'system');
    svg.removeAttribute('pointer-events');
    const view = viewOf(model, bars, system, width, svg, lights);
    Svg.make('g', { class: 'under' }, svg);
    Staff.draw(view, context);
    const tab = Tab.draw(view);
    const tabTop = distance(view);
    const over = Svg.make('g', {}, svg);
    chordRow(view, over);
    labels(view, over);
    barLines(view, over, tabTop);
    tab.setAttribute('transform', `translate(0 ${Svg.round(tabTop)})`);
    svg.appendChild(tab);
    const top = Math.min(...view.staff.up.boxes.map((b) => b[2])) - 3;
    const bottom = tabTop + Math.max(...view.tab.down.boxes.map((b) => b[2])) + 4;
    const placed = places(view, svg, -12, tabTop + view.tab.bottom + 24);
    for (const element of [...svg.querySelectorAll('text')]) element.setAttribute('aria-hidden', 'true');
    const height = bottom - top;
    svg.setAttribute('viewBox', `${-X0} ${Svg.round(top)} ${Svg.round(width + X0 + 2)} ${Svg.round(height)}`);
    svg.setAttribute('width', Svg.round(cssWidth));
    svg.setAttribute('height', Svg.round(height * scale));
    svg.removeAttribute('style');
    svg.setAttribute('data-from', system.from);
    svg.setAttribute('data-to', system.to);
    return placed;
  }

  // Room for bars in a system at a width, after its head; the head is the widest of the studies under one another.
  const available = (models, cssWidth, scale) => {
    const width = cssWidth / scale - X0 - 3;
    return (first) => width - head(models, first);
  };
  const head = (models, first) => Math.max(...models.map((model) => Staff.headWidth(model, first)));

  return { draw, available, head };
})();
