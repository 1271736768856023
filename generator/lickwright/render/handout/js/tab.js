// The tab staff of one system: string lines, fret numbers, and every sign between them.
const Tab = (() => {
  const GAP = 12.5; // between string lines
  const SIZE = Spacing.TAB_SIZE, SMALL = Spacing.SMALL_TAB_SIZE;
  const HALF = SIZE * 0.36; // half the height of a figure
  const FINGER = 10.5;
  const WAVE = '\ueab0';

  const yOf = (string) => (string - 1) * GAP;
  // How high a bend's arrow reaches over the top line, by its size in quarter tones.
  const bendHeight = (size) => -(8 + 3.4 * size);

  function draw(view) {
    const strings = view.model.study.neck.tuning.length;
    const bottom = yOf(strings);
    const group = Svg.make('g', { class: 'tab' });
    for (let s = 1; s <= strings; s++) Svg.segment(group, 0, yOf(s), view.width, yOf(s), 'string');
    clef(group, bottom);
    const up = new Svg.Outline(-1), down = new Svg.Outline(1);
    up.add(-50, view.width + 50, 0);
    down.add(-50, view.width + 50, bottom);
    view.tab = { group, up, down, bottom };
    for (const b of view.built) numbers(view, b);
    for (const b of view.built) bends(view, b);
    bendFromBefore(view);
    for (const b of view.built) links(view, b);
    openLinks(view);
    for (const b of view.built) vibrato(view, b);
    fingers(view);
    letters(view);
    return group;
  }

  function clef(group, bottom) {
    const size = Math.min(16, bottom * 0.26);
    ['T', 'A', 'B'].forEach((letter, i) => {
      const y = bottom / 2 + (i - 1) * size * 0.98 + size * 0.36;
      const element = Svg.text(group, 13, y, letter, size, { weight: 'bold', cls: 'clef' });
      element.setAttribute('aria-hidden', 'true');
    });
  }

  const centre = (view, b) => view.x.get(b.index) + Spacing.HEAD / 2;

  function figure(view, event, x, y, content, size, cls = 'fret') {
    const element = Svg.text(view.tab.group, x, y + size * 0.36, content, size, { cls });
    view.light(event, element);
    const half = Svg.width(content, size) / 2;
    view.tab.up.add(x - half, x + half, y - size * 0.4);
    view.tab.down.add(x - half, x + half, y + size * 0.4);
    return element;
  }

  function numbers(view, b) {
    if (!b.event || b.item.tied) return;
    const x = centre(view, b);
    for (const n of b.event.notes) {
      const y = yOf(n.string), content = Spacing.tabText(n, view.model.strings);
      const half = Svg.width(content, SIZE) / 2;
      figure(view, b.event, x, y, content, SIZE).setAttribute('data-note', `${b.event.id}:${n.string}`);
      if (n.trill !== null) {
        const other = `(${n.trill})`;
        figure(view, b.event, x + half + 2 + Svg.width(other, SMALL) / 2, y, other, SMALL, 'fret small');
      }
      if (n.graceFret !== null) grace(view, b, n, x - half, y);
    }
  }

  function grace(view, b, n, right, y) {
    const content = String(n.graceFret), width = Svg.width(content, SMALL);
    const x = right - 7.5 - width / 2;
    figure(view, b.event, x, y, content, SMALL, 'fret small');
    if (n.graceBy === 'slide') {
      const tilt = n.graceFret < n.fret ? 2.6 : -2.6;
      view.light(b.event, Svg.segment(view.tab.group, x + width / 2 + 1, y + tilt, right - 0.8, y - tilt, 'slide'));
    } else {
      arc(view, b.event, x, right + 3, y, n.graceBy === 'hammer-on' ? view.model.strings.hammer : view.model.strings.pull, n.string);
    }
  }

  // An arc over two figures of one string; its letter waits until all else is in place.
  function arc(view, event, x1, x2, y, letter, string, open = '') {
    const level = y - HALF - 1.5;
    view.light(event, Svg.arc(view.tab.group, x1, level, x2, level, -4.5, open));
    view.tab.up.add(x1, x2, level - 5.5);
    if (letter) view.letters.push({ x: (x1 + x2) / 2, letter, string, event });
  }

  function bends(view, b) {
    if (!b.event || b.item.tied) return;
    const onset = view.model.study.events[b.item.event].onset;
    for (const n of b.event.notes) if (n.bend) bend(view, b, n, onset);
  }

  function bend(view, b, n, onset) {
    const { group, up } = view.tab;
    const y = yOf(n.string), top = bendHeight(n.bend.size), x = centre(view, b);
    const half = Svg.width(Spacing.tabText(n, view.model.strings), SIZE) / 2;
    const tip = Spacing.isPre(n) ? x : x + half + clamp(view.xAt(onset + n.bend.up) - x - half, 9, 14);
    const shaft = top + 5;
    const path = Spacing.isPre(n) ? `M${x} ${y - HALF - 1.5}V${shaft}`
      : `M${x + half + 1} ${y}C${tip - 1} ${y} ${tip} ${y - 2} ${tip} ${Math.min(y - 7, shaft + 3)}V${shaft}`;
    view.light(b.event, Svg.line(group, path, 'line bend'));
    const head = Svg.arrowhead(group, tip, top, -1, 'solid bend-tip');
    head.setAttribute('data-bend', `${b.event.id}:${n.string}`);
    head.setAttribute('data-target', top);
    view.light(b.event, head);
    const width = Svg.width(n.bend.label, 10.5);
    const right = Math.max(tip + 4, n.bend.down !== null ? tip + 12 : tip);
    const label = Math.min(top, up.reach(tip - width / 2, tip + width / 2, top)) - 3;
    view.light(b.event, Svg.text(group, tip, label, n.bend.label, 10.5, { cls: 'bend-label' }));
    up.add(tip - width / 2 - 1, tip + width / 2 + 1, label - 9);
    up.add(x, right, top);
    if (n.bend.down !== null) release(view, b.event, n, onset, tip, top, half);
    else if (view.model.study.events[b.item.event].duration + onset > view.end) hold(view, b.event, tip, view.right - 4, top);
  }

  const clamp = (value, low, high) => Math.max(low, Math.min(high, value));

  function hold(view, event, x1, x2, top) {
    if (x2 - x1 < 6) return;
    view.light(event, Svg.segment(view.tab.group, x1 + 4, top, x2, top, 'dashed'));
    view.tab.up.add(x1, x2, top - 1);
  }

  // From the top of a bend down to the fret in brackets, or to the system's edge if it comes down later.
  function release(view, event, n, onset, tip, top, half) {
    const { group, up } = view.tab;
    const y = yOf(n.string), leaves = onset + n.bend.leaves, lands = onset + n.bend.down;
    if (lands > view.end) { hold(view, event, tip, view.right - 4, top); return; }
    const content = `(${n.fret})`, width = Svg.width(content, SMALL);
    const next = view.built.find((b) => b.event && b.event !== event && b.item.tick > onset);
    const limit = next ? view.x.get(next.index) - 5 - next.column.tab.left - width / 2 : view.right - width / 2 - 3;
    const x = clamp(view.xAt(lands) + 3, tip + 12, Math.max(tip + 12, limit));
    const start = clamp(view.xAt(leaves), tip, x - 11);
    if (start - tip > 3) view.light(event, Svg.segment(group, tip + 2, top, start, top, 'line bend'));
    const end = y - HALF - 3;
    view.light(event, Svg.line(group, `M${start} ${top}C${start + (x - start) * 0.7} ${top} ${x} ${top + 4} ${x} ${end - 5}`, 'line bend'));
    const head = Svg.arrowhead(group, x, end, 1, 'solid release-tip');
    head.setAttribute('data-release', `${event.id}:${n.string}`);
    head.setAttribute('data-target', end);
    view.light(event, head);
    figure(view, event, x, y, content, SMALL, 'fret small');
    up.add(start, x + 2, top - 1);
    view.departures.set(`${event.id}:${n.string}`, { x, half: width / 2 });
  }

  // A bend that began in the system before: held, and coming down here if it does.
  function bendFromBefore(view) {
    const b = view.built[0];
    if (!b.event || !b.item.tied) return;
    const onset = view.model.study.events[b.item.event].onset;
    for (const n of b.event.notes) {
      if (!n.bend || n.bend.size < 2) continue;
      const top = bendHeight(n.bend.size);
      if (n.bend.down !== null && onset + n.bend.down <= view.start) continue;
      if (n.bend.down === null) hold(view, b.event, view.musicLeft - 12, centre(view, b) + 4, top);
      else release(view, b.event, n, onset, view.musicLeft - 10, top, 4);
    }
  }

  // The place where a note is left for the next: its figure, or its released one.
  function departure(view, b, n) {
    const released = view.departures.get(`${b.event.id}:${n.string}`);
    if (released) return released;
    const first = view.firstOf(b);
    if (!first) return { x: view.musicLeft - 12, half: 0 };
    return { x: centre(view, first), half: Svg.width(Spacing.tabText(n, view.model.strings), SIZE) / 2 };
  }

  const letterOf = (view, n) =>
    ({ 'hammer-on': view.model.strings.hammer, 'pull-off': view.model.strings.pull, slide: '' })[n.technique];

  function links(view, b) {
    if (!b.event || b.item.tied) return;
    for (const n of b.event.notes) {
      if (n.from === null || n.tied) continue;
      const a = view.lastOf(n.from);
      const source = a ? a.event.notes.find((o) => o.string === n.string) : null;
      join(view, a, source, b, n);
    }
  }

  // The arc, and for a slide the line, between two figures; either may lie beyond the system.
  function join(view, a, from, b, n) {
    const y = yOf(n.string), event = (b || a).event;
    const here = a ? departure(view, a, from) : { x: view.musicLeft - 12, half: 0 };
    const x2 = b ? centre(view, b) : view.right - 3;
    const half = b ? Svg.width(Spacing.tabText(n, view.model.strings), SIZE) / 2 : 0;
    const open = a && b ? '' : a ? 'right' : 'left';
    arc(view, event, here.x + 1, x2 - 1, y, letterOf(view, n), n.string, open);
    if (n.technique !== 'slide') return;
    const fromFret = from ? from.fret : view.model.events[n.from].notes.find((o) => o.string === n.string).fret;
    const tilt = fromFret < n.fret ? 3.4 : -3.4;
    const grace = b && n.graceFret !== null ? 14 : 0;
    view.light(event, Svg.segment(view.tab.group, here.x + here.half + 2, y + tilt, x2 - half - 2 - grace, y - tilt, 'slide'));
  }

  function openLinks(view) {
    const b = view.built[view.built.length - 1];
    if (!view.next || !b.event || b.item.ties) return;
    for (const n of view.next.notes) {
      if (n.from !== b.item.event || n.tied) continue;
      join(view, b, b.event.notes.find((o) => o.string === n.string), null, n);
    }
  }

  // One wave for as long as the note lasts in this system.
  function vibrato(view, b) {
    if (!b.event || !b.event.notes.some((n) => n.vibrato)) return;
    const own = view.built.filter((o) => o.event === b.event);
    if (own[0] !== b) return;
    const last = own[own.length - 1];
    const { group, up } = view.tab;
    const x1 = centre(view, b) - 4;
    const end = view.xAt(last.item.tick + last.item.ticks) - 20;
    const x2 = last.item.ties ? end + 6 : Math.min(end, x1 + 110);
    const wave = Svg.glyphWidth(WAVE, 0.62);
    const count = Math.max(2, Math.floor((x2 - x1) / wave));
    const y = up.reach(x1, x1 + count * wave, -1) - 3;
    view.light(b.event, Svg.glyph(group, x1, y, WAVE.repeat(count), 0.62, 'wave'));
    up.add(x1, x1 + count * wave, y - 6);
  }

  // One row of fingers a string that is played, under the staff, the highest string on top.
  function fingers(view) {
    const { group, down, bottom } = view.tab;
    for (const b of view.built) {
      if (!b.event || b.item.tied || !b.event.showFingers) continue;
      const x = centre(view, b);
      const shown = b.event.notes.filter((n) => n.finger && !n.tied && !n.muted)
        .sort((p, q) => p.string - q.string);
      shown.forEach((n, row) => {
        const y = bottom + 15.5 + row * 10.5;
        view.light(b.event, Svg.text(group, x, y, n.finger, FINGER, { cls: 'finger' }));
        down.add(x - 4, x + 4, y + 1);
      });
    }
  }

  // H and P over their arcs, clear of everything; two of the same place share one letter.
  function letters(view) {
    const { group, up } = view.tab;
    const seen = new Set();
    for (const { x, letter, event } of view.letters) {
      const key = `${Math.round(x)}:${letter}`;
      if (seen.has(key)) continue;
      seen.add(key);
      const half = Svg.width(letter, 10) / 2 + 1;
      const y = up.reach(x - half, x + half, -1) - 2.5;
      view.light(event, Svg.text(group, x, y, letter, 10, { cls: 'letter' }));
      up.add(x - half, x + half, y - 8.5);
    }
  }

  return { draw, yOf, GAP };
})();
