// Drawing primitives. Lengths are in units of a tenth of a staff space; y grows downwards.
const Svg = (() => {
  const NS = 'http://www.w3.org/2000/svg';
  const SERIF = 'Academico, Georgia, serif';
  const MUSIC = 'Bravura';
  const SPACE = 40; // font size at which Bravura's staff space is 10
  const pen = document.createElement('canvas').getContext('2d');
  const widths = new Map();

  function make(name, attributes, parent) {
    const element = document.createElementNS(NS, name);
    for (const key in attributes) element.setAttribute(key, attributes[key]);
    if (parent) parent.appendChild(element);
    return element;
  }

  const round = (n) => Math.round(n * 100) / 100;

  function width(content, size, weight = 'normal', family = SERIF) {
    const key = `${weight} ${size} ${family} ${content}`;
    if (!widths.has(key)) {
      pen.font = `${weight} ${size}px ${family}`;
      widths.set(key, pen.measureText(content).width);
    }
    return widths.get(key);
  }

  // Text with its baseline at y; `x` is its middle, or its left edge with anchor "start".
  function text(parent, x, y, content, size, options = {}) {
    const { anchor = 'middle', weight = 'normal', style = 'normal', family = SERIF, cls = '' } = options;
    const element = make('text', {
      x: round(x), y: round(y), 'font-size': size, 'font-weight': weight, 'font-style': style,
      'font-family': family, 'text-anchor': anchor, class: `t ${cls}`,
    }, parent);
    element.textContent = content;
    return element;
  }

  // A music glyph at the size of the staff times `scale`, its left edge at x; outside the text boxes.
  function glyph(parent, x, y, code, scale = 1, cls = '') {
    const element = make('text', {
      x: round(x), y: round(y), 'font-size': SPACE * scale, 'font-family': MUSIC, class: `glyph ${cls}`,
    }, parent);
    element.textContent = code;
    return element;
  }

  const glyphWidth = (code, scale = 1) => width(code, SPACE * scale, 'normal', MUSIC);

  const line = (parent, d, cls = 'line') => make('path', { d, class: cls }, parent);

  const segment = (parent, x1, y1, x2, y2, cls = 'line') =>
    line(parent, `M${round(x1)} ${round(y1)}L${round(x2)} ${round(y2)}`, cls);

  // A filled arc, thick in its middle; `height` below zero bows upwards. A half ends level at its open side.
  function arc(parent, x1, y1, x2, y2, height, open = '', cls = 'solid') {
    const thick = 1.7 * Math.sign(height);
    const span = x2 - x1;
    const a = x1 + span * 0.25, b = x2 - span * 0.25;
    let d;
    if (open === 'right') {
      const top = y1 + height;
      d = `M${x1} ${y1}C${a} ${y1 + height * 0.9} ${b} ${top} ${x2} ${top}`
        + `L${x2} ${top + thick}C${b} ${top + thick} ${a} ${y1 + height * 0.9 + thick} ${x1} ${y1}Z`;
    } else if (open === 'left') {
      const top = y2 + height;
      d = `M${x1} ${top}C${a} ${top} ${b} ${y2 + height * 0.9} ${x2} ${y2}`
        + `C${b} ${y2 + height * 0.9 + thick} ${a} ${top + thick} ${x1} ${top + thick}Z`;
    } else {
      const c = height * 1.33;
      d = `M${x1} ${y1}C${a} ${y1 + c} ${b} ${y2 + c} ${x2} ${y2}`
        + `C${b} ${y2 + c + thick} ${a} ${y1 + c + thick} ${x1} ${y1}Z`;
    }
    return make('path', { d: d.replace(/-?\d+\.\d{3,}/g, (n) => round(+n)), class: cls }, parent);
  }

  // An arrowhead whose point is at (x, y), pointing up (-1) or down (1).
  const arrowhead = (parent, x, y, direction, cls = 'solid') =>
    make('path', {
      d: `M${round(x)} ${round(y)}l-2.9 ${-6.5 * direction}q2.9 ${1.6 * direction} 5.8 0Z`, class: cls,
    }, parent);

  // The outline of the ink on one side of a staff: -1 its upper side, 1 its lower side.
  class Outline {
    constructor(side) { this.side = side; this.boxes = []; }
    add(x1, x2, y) { this.boxes.push([Math.min(x1, x2), Math.max(x1, x2), y]); }
    // The farthest ink between x1 and x2, or `level` where nothing goes beyond it.
    reach(x1, x2, level) {
      let y = level;
      for (const [a, b, far] of this.boxes) {
        if (a < x2 && b > x1 && (far - y) * this.side > 0) y = far;
      }
      return y;
    }
  }

  return { make, text, glyph, glyphWidth, width, line, segment, arc, arrowhead, round, Outline, SERIF };
})();
