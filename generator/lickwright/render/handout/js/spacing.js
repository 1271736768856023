// Which notes there are, how much room each needs, and how bars share out among systems.
const Spacing = (() => {
  const V = VexFlow;
  const pen = document.createElement('canvas').getContext('2d');
  const VALUES = { whole: 'w', half: 'h', quarter: 'q', eighth: '8', '16th': '16', '32nd': '32' };
  const HEAD = 12;         // a notehead's width
  const BAR_PAD = 11;      // from a bar line to the first ink
  const BAR_END = 9;       // from the last ink to the bar line
  const EXPONENT = 0.62;   // how room grows with duration
  const EIGHTH = 4;        // ticks
  const ROOM = { screen: 19, print: 15 }; // least room of an eighth before bars move to the next system
  const TAB_SIZE = 14.2;
  const SMALL_TAB_SIZE = 10.5;

  const keyOf = (head) =>
    `${head.letter.toLowerCase()}${{ '-1': 'b', 0: '', 1: '#' }[head.alter]}/${head.octave}`;

  const isPre = (note) => Boolean(note.bend && note.bend.kind.startsWith('pre'));

  // Whether a bend is let down within this written piece of its note.
  const comesDown = (note, item) => Boolean(note.released) && note.bend.down > item.from
    && note.bend.down <= item.from + item.ticks;

  // What stands on the tab line for a note.
  const tabText = (note, strings) =>
    note.muted ? strings.dead : note.tied ? `(${note.fret})` : String(note.fret);

  // The small notes before a note or chord: grace notes, and the fretted note under a bend.
  function graceOf(event) {
    const before = event.notes.filter((n) => n.grace || n.fretted);
    if (!before.length) return null;
    const ordered = before.map((n) => ({ note: n, head: n.grace || n.fretted }));
    ordered.sort((a, b) => a.head.octave * 7 + 'CDEFGAB'.indexOf(a.head.letter)
      - b.head.octave * 7 - 'CDEFGAB'.indexOf(b.head.letter));
    const silent = before.every((n) => isPre(n) && !n.grace);
    const small = new V.GraceNote({
      keys: ordered.map((o) => keyOf(o.head)), duration: silent ? 'q' : '8', slash: !silent, stemDirection: 1,
    });
    ordered.forEach((o, i) => {
      if (o.head.accidental) small.addModifier(new V.Accidental(o.head.accidental), i);
    });
    if (silent) small.getStem().setVisibility(false);
    return { small, ordered, silent };
  }

  function buildNote(model, item, index) {
    const event = item.event === null ? null : model.events[item.event];
    const duration = VALUES[item.value];
    const note = new V.StaveNote({
      keys: event ? event.notes.map((n) => keyOf(n.head) + (n.muted ? '/x2' : ''))
        : [model.clef === 'bass' ? 'd/3' : 'b/4'],
      duration: duration + (event ? '' : 'r'), dots: item.dots, autoStem: true, clef: model.clef,
    });
    if (item.dots) {
      const lines = note.getKeyProps().map((p) => p.line);
      lines.forEach((line, i) => { if (lines.indexOf(line) === i) V.Dot.buildAndAttach([note], { index: i }); });
    }
    note.setAttribute('id', `${model.mark || ''}n${index}`);
    const built = { index, item, event, note, grace: null };
    if (event && !item.tied) {
      event.notes.forEach((n, i) => {
        if (n.head.accidental) note.addModifier(new V.Accidental(n.head.accidental), i);
      });
      built.grace = graceOf(event);
      if (built.grace) {
        built.grace.group = new V.GraceNoteGroup([built.grace.small], false);
        note.addModifier(built.grace.group, 0);
      }
    }
    return built;
  }

  function groupsOf(items, key) {
    const groups = new Map();
    items.forEach((b) => {
      if (b.item[key] === null) return;
      const name = `${b.item.bar}:${b.item[key]}`;
      if (!groups.has(name)) groups.set(name, []);
      groups.get(name).push(b);
    });
    return [...groups.values()];
  }

  // VexFlow notes for a run of items, beamed, with their widths known.
  function build(model, items) {
    const built = items.map((item) => buildNote(model, item, item.index));
    const beams = groupsOf(built, 'beam').map((run) => new V.Beam(run.map((b) => b.note), true));
    const voice = new V.Voice({ numBeats: 4, beatValue: 4 }).setMode(V.VoiceMode.SOFT);
    voice.addTickables(built.map((b) => b.note));
    new V.Formatter().joinVoices([voice]).format([voice], 400);
    for (const b of built) if (b.grace) makeRoom(b);
    for (const b of built) b.column = column(b, model.strings);
    return { built, beams, tuplets: groupsOf(built, 'tuplet') };
  }

  // VexFlow lets a small note stand on a head that is moved to the left of its stem: keep it clear.
  function makeRoom(b) {
    const { group } = b.grace;
    b.grace.room = group.getWidth() + 2;
    b.shift = b.note.getLeftDisplacedHeadPx();
    if (b.shift) group.setSpacingFromNextModifier(group.getSpacingFromNextModifier() + b.shift);
  }

  // Ink to the left and right of a notehead's left edge, on the staff and on the tab.
  function column(built, strings) {
    const { note, event, item } = built;
    const metrics = note.getTickContext().getMetrics();
    const flagged = event && item.beam === null && /eighth|16th|32nd/.test(item.value);
    let right = metrics.notePx + (item.dots ? 7 : 0)
      + (flagged && note.getStemDirection() === 1 ? 8 : 0);
    const left = metrics.modLeftPx + (built.shift || 0);
    const tab = { left: 0, right: 0 };
    if (event && event.notes.some((n) => comesDown(n, item))) right = Math.max(right, HEAD + 25);
    if (event && !item.tied) {
      for (const n of event.notes) {
        const half = Svg.width(tabText(n, strings), TAB_SIZE) / 2;
        let reach = HEAD / 2 + half, lead = half - HEAD / 2;
        if (n.trillHead) right = Math.max(right, HEAD + 25);
        if (n.bend && n.bend.size === 1) right = Math.max(right, HEAD + 9);
        if (n.bend) reach += n.bend.down !== null ? 40 : isPre(n) ? 6 : 17;
        if (n.trill !== null) reach += Svg.width(`(${n.trill})`, SMALL_TAB_SIZE) + 3;
        if (n.graceFret !== null) lead += Svg.width(String(n.graceFret), SMALL_TAB_SIZE) + 9;
        if (event.ring) right = Math.max(right, HEAD + 15);
        tab.left = Math.max(tab.left, lead);
        tab.right = Math.max(tab.right, reach);
      }
    }
    return { left, right, tab };
  }

  // The least distance from one column to the next.
  function least(a, b, joined) {
    const staff = a.column.right + b.column.left + 3;
    const tab = a.column.tab.right + b.column.tab.left + (joined ? 11 : 4);
    const tie = a.item.ties ? HEAD + 13 : 0;
    return Math.max(staff, a.event && b.event ? tab : 0, tie);
  }

  // VexFlow measures every sign anew; the same signs come again and again.
  const measured = new Map();
  V.Element.prototype.measureText = function measureText() {
    const { family, size, weight, style } = this.fontInfo;
    const key = `${this.text}|${family}|${size}|${weight}|${style}`;
    if (!measured.has(key)) {
      pen.font = V.Font.toCSSString(V.Font.validate(this.fontInfo));
      measured.set(key, pen.measureText(this.text));
    }
    this._textMetrics = measured.get(key);
    this._height = this._textMetrics.actualBoundingBoxAscent + this._textMetrics.actualBoundingBoxDescent;
    this._width = this._textMetrics.width;
    this.metricsValid = true;
    return this._textMetrics;
  };

  // Room for every bar: its lead before the first column, and (weight, least) of each gap.
  function measure(model) {
    let index = 0;
    const bars = model.bars.map((bar, number) => {
      const items = bar.items.map((item) => ({
        ...item, bar: number, index: index++, // `from`: ticks since the event's onset
        from: item.event === null ? 0 : item.tick - model.study.events[item.event].onset,
      }));
      const fresh = build(model, items);
      const { built } = fresh;
      const gaps = built.map((b, i) => {
        const weight = Math.pow(b.item.ticks / EIGHTH, EXPONENT);
        const next = built[i + 1];
        if (!next) {
          const ink = b.event ? Math.max(b.column.right, b.column.tab.right) : HEAD;
          return { weight, least: ink + BAR_END + (b.item.ties ? 8 : 0) };
        }
        const joined = next.event && next.event.notes.some((n) => n.from !== null);
        return { weight, least: least(b, next, joined) };
      });
      const lead = BAR_PAD + Math.max(built[0].column.left, built[0].column.tab.left);
      return { number, items, lead, gaps, fresh };
    });
    chordRoom(model, bars);
    return bars;
  }

  // A chord symbol has room up to the next one or to its bar's end: else the gaps after it grow.
  function chordRoom(model, bars) {
    model.chords.forEach((chord, i) => {
      const number = Math.floor(chord.tick / 48);
      const next = model.chords[i + 1] ? model.chords[i + 1].tick : Infinity;
      const { items, gaps } = bars[number];
      const between = items.map((_, k) => k).filter((k) => items[k].tick >= chord.tick && items[k].tick < next);
      const room = between.reduce((sum, k) => sum + gaps[k].least, 0);
      const wanted = Svg.width(chord.symbol, 17, 'bold') + 8;
      if (between.length && room < wanted) {
        between.forEach((k) => { gaps[k].least += (wanted - room) / between.length; });
      }
    });
  }

  // A bar's notes: those made for measuring once, then new ones (VexFlow's are drawn only once).
  function notesOf(model, bar) {
    const { fresh } = bar;
    bar.fresh = null;
    return fresh || build(model, bar.items);
  }

  const barWidth = (bar, k) =>
    bar.lead + bar.gaps.reduce((sum, g) => sum + Math.max(k * g.weight, g.least), 0);

  // The spacing constant at which the bars fill a width.
  function solve(bars, wanted) {
    let low = 1, high = 400;
    for (let i = 0; i < 40; i++) {
      const k = (low + high) / 2;
      if (bars.reduce((sum, bar) => sum + barWidth(bar, k), 0) > wanted) high = k; else low = k;
    }
    return low;
  }

  // The room of a bar at a spacing constant in the study that needs the most of it.
  const widest = (parts, number, k) => Math.max(...parts.map((part) => barWidth(part.bars[number], k)));
  const numbers = (system) => Array.from({ length: system.to - system.from }, (_, i) => system.from + i);

  // The systems of one study, or of several under one another: whole phrases in steps of 4, 2 or 1 bars, the most
  // that every phrase has room for. `parts` are [{ bars, available }].
  function plan(parts, phrases, medium) {
    const cut = (phrase, step) => {
      const systems = [];
      for (let from = phrase.first_bar; from <= phrase.last_bar; from += step) {
        systems.push({ phrase: phrase.number, from, to: Math.min(from + step, phrase.last_bar + 1) });
      }
      return systems;
    };
    const fits = (s) => numbers(s).reduce((sum, n) => sum + widest(parts, n, ROOM[medium]), 0)
      <= Math.min(...parts.map((part) => part.available(s.from === 0)));
    const step = [4, 2].find((n) => phrases.every((p) => cut(p, n).every(fits))) || 1;
    return phrases.flatMap((p) => cut(p, step));
  }

  // The widths of a system's bars when several studies share them and they fill `wanted`.
  function shared(parts, system, wanted) {
    let low = 1, high = 400;
    for (let i = 0; i < 40; i++) {
      const k = (low + high) / 2;
      if (numbers(system).reduce((sum, n) => sum + widest(parts, n, k), 0) > wanted) high = k; else low = k;
    }
    return numbers(system).map((n) => widest(parts, n, low));
  }

  return { measure, plan, shared, solve, notesOf, tabText, isPre, comesDown, keyOf, HEAD, TAB_SIZE, SMALL_TAB_SIZE };
})();
