// Lays scores out for the screen and for paper, and anew when the width changes: one study, or several whose
// bars stand under one another.
const Sheet = (() => {
  const PRINT = { width: 688, scale: 0.665 }; // 182 mm at 96 px an inch: between A4's margins, and Letter's
  const LEAST_WIDTH = 100;
  const scaleFor = (width) => (width >= 1000 ? 0.86 : width >= 600 ? 0.78 : 0.68);

  const stateOf = () => ({ bars: null, width: 0, medium: 'screen', lights: new Map(), places: [], listeners: [] });

  class Sheet {
    // `parts` are [{ model, state }]; `boxOf(part number, system)` makes the element that a system is drawn in and
    // `clear()` empties the page; `screenWidth()` is the width there is; `beside()` is what a label takes of it.
    constructor(parts, phrases, { boxOf, clear, screenWidth, beside = () => 0 }) {
      Object.assign(this, { parts, phrases, boxOf, clear, screenWidth, beside });
      this.order = parts.map((_, i) => i);
    }

    layout(width, medium) {
      const began = performance.now();
      const scale = medium === 'print' ? PRINT.scale : scaleFor(width);
      const inner = width - (medium === 'print' ? Math.min(22, this.beside()) : this.beside());
      const models = this.parts.map((part) => part.model);
      const available = System.available(models, inner, scale);
      for (const { model, state } of this.parts) {
        Object.assign(state, { lights: new Map(), places: [], width, medium });
        if (!state.bars) state.bars = Spacing.measure(model);
      }
      const measured = this.parts.map((part) => ({ bars: part.state.bars, available }));
      const systems = Spacing.plan(measured, this.phrases, medium);
      this.clear();
      for (const system of systems) {
        const first = system.from === 0;
        const aligned = this.parts.length === 1 ? system
          : { ...system, head: System.head(models, first), widths: Spacing.shared(measured, system, available(first) - 1) };
        for (const i of this.order) {
          const { model, state } = this.parts[i];
          state.places.push(
            ...System.draw(model, state.bars, aligned, this.boxOf(i, system), inner, scale, state.lights));
        }
      }
      for (const { state } of [...this.parts].reverse()) { // the first one's listeners come last
        state.systems = systems;
        state.layoutMs = performance.now() - began;
        state.listeners.forEach((listener) => listener());
      }
    }

    get shown() { return this.parts[0].state; }

    onScreen() {
      if (this.screenWidth() < LEAST_WIDTH) return; // a window that is not shown
      if (this.shown.medium === 'screen' && Math.abs(this.screenWidth() - this.shown.width) < 2) return;
      this.layout(this.screenWidth(), 'screen');
    }

    // The parts' order from top to bottom, by their numbers.
    reorder(order) {
      this.order = order;
      this.layout(this.screenWidth(), 'screen');
    }

    async start() {
      await Promise.all(['40px Bravura', '14px Academico', 'bold 14px Academico'].map((f) => document.fonts.load(f)));
      this.onScreen();
      this.shown.firstLayoutMs = this.shown.layoutMs;
      let waiting = 0;
      addEventListener('resize', () => {
        cancelAnimationFrame(waiting);
        waiting = requestAnimationFrame(() => { if (this.shown.medium === 'screen') this.onScreen(); });
      });
      addEventListener('beforeprint', () => this.layout(PRINT.width, 'print'));
      addEventListener('afterprint', () => this.onScreen());
    }
  }

  return Object.assign(Sheet, { stateOf });
})();
