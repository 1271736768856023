// The score under the fingers: choosing notes, marking stretches, and lighting up what sounds.
const Reader = (() => {
  class Reader {
    constructor(model, state, actions) {
      this.model = model;
      this.state = state;
      this.actions = actions; // { play(event index), mark(from event, to event), clear() }
      this.index = new Map(model.study.events.map((e, i) => [e.id, i]));
      this.lit = null;
      this.chosen = null;
      this.focus = 0;
      this.necks = neckLights(model);
      state.listeners.push(() => this.refresh());
      document.querySelectorAll('.systems').forEach((host) => {
        host.addEventListener('keydown', (e) => this.key(e)); // places of other studies are left to their readers
        if (actions) host.addEventListener('pointerdown', (e) => this.press(e));
      });
      this.refresh();
    }

    // After a new layout the drawn elements are others.
    refresh() {
      this.places = new Map();
      for (const { event, rect } of this.state.places) {
        if (!this.places.has(event)) this.places.set(event, []);
        this.places.get(event).push(rect);
        if (!this.actions && rect.hasAttribute('role')) rect.setAttribute('role', 'img');
      }
      const lit = this.lit;
      this.lit = null;
      this.light(lit);
      this.paint();
      this.moveFocus(this.focus, false);
    }

    // Lights up one event (an index, or null), on both staves and on the neck.
    light(index) {
      if (index === this.lit) return;
      for (const element of this.elements(this.lit)) element.classList.remove('on');
      for (const element of this.elements(index)) element.classList.add('on');
      const before = this.lit;
      this.lit = index;
      if (index !== null && before !== index) this.follow(index);
    }

    elements(index) {
      if (index === null) return [];
      const id = this.model.study.events[index].id;
      return [...(this.state.lights.get(id) || []), ...(this.places.get(id) || []), ...this.necks[index]];
    }

    follow(index) {
      const [rect] = this.places.get(this.model.study.events[index].id) || [];
      const system = rect && rect.ownerSVGElement;
      if (!system || system === this.followed) return;
      this.followed = system;
      const box = system.getBoundingClientRect();
      if (box.top >= 0 && box.bottom <= innerHeight - 110) return;
      const calm = matchMedia('(prefers-reduced-motion: reduce)').matches;
      system.scrollIntoView({ block: 'center', behavior: calm ? 'auto' : 'smooth' });
    }

    // Shows a marked stretch of events, or none.
    choose(range) {
      this.chosen = range;
      this.paint();
    }

    paint() {
      for (const [id, rects] of this.places) {
        const i = this.index.get(id);
        const inside = this.chosen !== null && i >= this.chosen[0] && i <= this.chosen[1];
        for (const rect of rects) rect.classList.toggle('chosen', inside);
      }
    }

    // The place of this study that an element lies in.
    placeAt(element) {
      const place = element.closest('.place');
      return place && (this.places.get(place.dataset.event) || []).includes(place) ? place : null;
    }

    moveFocus(index, take) {
      const events = this.model.study.events;
      if (!events.length) return;
      const next = Math.max(0, Math.min(events.length - 1, index));
      const rectOf = (i) => (this.places.get(events[i].id) || [])[0];
      const old = rectOf(this.focus), rect = rectOf(next);
      if (old) old.setAttribute('tabindex', '-1');
      if (!rect) return;
      rect.setAttribute('tabindex', '0');
      this.focus = next;
      if (take) rect.focus();
    }

    key(e) {
      const at = this.placeAt(e.target);
      if (!at) return;
      const here = this.index.get(at.dataset.event);
      const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[e.key];
      const last = this.model.study.events.length - 1;
      if (step || e.key === 'Home' || e.key === 'End') {
        const to = step ? here + step : e.key === 'Home' ? 0 : last;
        if (e.shiftKey && this.actions) this.extend(here, Math.max(0, Math.min(last, to)));
        this.moveFocus(to, true);
      } else if (this.actions && (e.key === 'Enter' || e.key === ' ')) {
        this.actions.play(here);
      } else if (this.actions && e.key === 'Escape') {
        this.anchor = null;
        this.actions.clear();
      } else return;
      e.preventDefault();
    }

    extend(here, to) {
      if (!this.chosen || this.anchor === null || this.anchor === undefined) this.anchor = here;
      this.actions.mark(Math.min(this.anchor, to), Math.max(this.anchor, to));
    }

    press(e) {
      const place = this.placeAt(e.target);
      if (!place || e.button) return;
      const start = this.index.get(place.dataset.event);
      let end = start;
      const move = (m) => {
        const under = document.elementFromPoint(m.clientX, m.clientY);
        const other = under && this.placeAt(under);
        if (!other) return;
        end = this.index.get(other.dataset.event);
        if (end !== start) this.choose([Math.min(start, end), Math.max(start, end)]);
      };
      const done = (kept) => () => {
        removeEventListener('pointermove', move);
        removeEventListener('pointerup', up);
        removeEventListener('pointercancel', cancel);
        this.moveFocus(start, false);
        if (!kept) this.actions.restore();
        else if (end === start) this.actions.play(start);
        else this.actions.mark(Math.min(start, end), Math.max(start, end));
      };
      const up = done(true), cancel = done(false);
      addEventListener('pointermove', move);
      addEventListener('pointerup', up);
      addEventListener('pointercancel', cancel);
    }
  }

  // For every event the dots of its phrase's neck and the grip it is played with.
  function neckLights(model) {
    const phraseOf = new Map(model.study.slots.map((s) => [s.number, s.phrase]));
    return model.study.events.map((event) => {
      const host = document.querySelector(`.diagrams[data-phrase="${phraseOf.get(event.slot)}"]`);
      if (!host) return [];
      const found = [];
      if (event.grip) {
        const shape = event.notes.map((n) => `${n.string}.${n.fret}`);
        const grips = [...host.querySelectorAll('.grip')].filter((f) => {
          const whole = f.dataset.grip.split(' ');
          return shape.every((place) => whole.includes(place));
        });
        if (grips.length) found.push(grips[0]);
      } else {
        for (const n of event.notes) {
          found.push(...host.querySelectorAll(`.neck g[data-string="${n.string}"][data-fret="${n.fret}"]`));
        }
      }
      return found;
    });
  }

  return Reader;
})();
