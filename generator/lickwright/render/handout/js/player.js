// The sound: decoded once, stretched to a speed, played in a loop to the sample. It knows nothing of the page.
const Player = (() => {
  const FADE_S = 0.004, LEAD_S = 0.08, BEATS_COUNTED = 4;

  class Player {
    // `map` is the time map of all parts; `names` are theirs, `data(name)` gives a part's base64 text.
    constructor(map, names, data) {
      this.map = map;
      this.data = data;
      this.names = names;
      this.levels = Object.fromEntries(names.map((name) => [name, 0]));
      this.rate = 1;
      this.loop = null;     // [from, to] in seconds of the recording at its own speed
      this.running = null;  // what is playing now
      this.cache = new Map();
      this.wish = 0;
    }

    seconds(tick) { return this.map.origin_s + (tick - this.map.first_tick) * this.map.tick_s; }

    get playing() { return this.running !== null; }

    async ready() {
      if (!this.context) {
        this.context = new AudioContext();
        this.gains = {};
        for (const name of this.names) {
          this.gains[name] = this.context.createGain();
          this.gains[name].gain.value = this.levels[name];
          this.gains[name].connect(this.context.destination);
        }
      }
      if (this.context.state !== 'running') await this.context.resume();
      if (!this.parts) {
        const decoded = await Promise.all(this.names.map((name) => {
          const bytes = Uint8Array.from(atob(this.data(name)), (c) => c.charCodeAt(0));
          return this.context.decodeAudioData(bytes.buffer);
        }));
        const length = Math.min(...decoded.map((d) => d.length));
        this.parts = decoded.map((d) => d.getChannelData(0).subarray(0, length));
        this.cache.set(1, this.parts);
      }
      if (!this.cache.has(this.rate)) {
        const rate = this.rate;
        const stretched = await Stretch.stretch(this.parts, rate, this.context.sampleRate);
        for (const old of [...this.cache.keys()]) if (old !== 1) this.cache.delete(old);
        this.cache.set(rate, stretched);
      }
      return this.cache.get(this.rate);
    }

    // Plays from a time of the recording; in a loop only if it lies inside the loop. False if overtaken.
    async play(from, { countIn = false } = {}) {
      const wish = ++this.wish;
      const rate = this.rate;
      const parts = await this.ready();
      if (wish !== this.wish || rate !== this.rate) return false;
      this.halt();
      const loop = this.loop && from >= this.loop[0] - 1e-6 && from < this.loop[1] ? this.loop : null;
      const counted = countIn ? BEATS_COUNTED * 12 * this.map.tick_s / rate : 0;
      const starts = this.context.currentTime + LEAD_S + counted;
      if (countIn) this.count(starts - counted, counted / BEATS_COUNTED);
      const sources = this.names.map((name, i) => this.source(name, parts[i], loop, rate, from, starts));
      this.running = { sources, from: from / rate, starts, loop: loop && loop.map((t) => t / rate), rate };
      const running = this.running;
      sources[0].onended = () => { if (this.running === running) { this.halt(); if (this.onend) this.onend(); } };
      return true;
    }

    source(name, part, loop, rate, from, starts) {
      const { sampleRate } = this.context;
      const [a, b] = loop ? loop.map((t) => Math.round(t / rate * sampleRate)) : [0, part.length];
      const slice = loop ? faded(part.subarray(a, Math.min(b, part.length)), b - a, sampleRate) : part;
      const buffer = this.context.createBuffer(1, slice.length, sampleRate);
      buffer.copyToChannel(slice, 0);
      const source = this.context.createBufferSource();
      source.buffer = buffer;
      source.loop = Boolean(loop);
      source.connect(this.gains[name]);
      source.start(starts, Math.max(0, from / rate - a / sampleRate));
      return source;
    }

    count(at, beat) {
      this.clicks = [];
      for (let i = 0; i < BEATS_COUNTED; i++) {
        const tone = this.context.createOscillator(), gain = this.context.createGain();
        tone.frequency.value = i ? 1100 : 1650;
        gain.gain.setValueAtTime(0.25, at + i * beat);
        gain.gain.exponentialRampToValueAtTime(0.001, at + i * beat + 0.06);
        tone.connect(gain).connect(this.context.destination);
        tone.start(at + i * beat);
        tone.stop(at + i * beat + 0.07);
        this.clicks.push(tone);
      }
    }

    // The time of the recording that is heard now; null while it is counted in or silent.
    position() {
      if (!this.running) return null;
      const { from, starts, loop, rate } = this.running;
      const late = this.context.outputLatency || 0;
      const past = this.context.currentTime - late - starts;
      if (past < 0) return null;
      let at = from + past;
      if (loop && at >= loop[1]) at = loop[0] + (at - loop[0]) % (loop[1] - loop[0]);
      return at * rate;
    }

    halt() {
      if (!this.running) return;
      const { sources } = this.running;
      this.running = null;
      for (const source of sources) { source.onended = null; source.stop(); source.disconnect(); }
      for (const tone of this.clicks || []) tone.disconnect();
      this.clicks = [];
    }

    stop() { this.wish++; this.halt(); }

    level(name, on) {
      this.levels[name] = on ? 1 : 0;
      if (this.gains) this.gains[name].gain.setTargetAtTime(on ? 1 : 0, this.context.currentTime, 0.01);
    }
  }

  // A copy whose ends meet without a click.
  function faded(part, length, sampleRate) {
    const copy = new Float32Array(length);
    copy.set(part.subarray(0, length));
    const fade = Math.min(Math.round(FADE_S * sampleRate), Math.floor(length / 2));
    for (let i = 0; i < fade; i++) {
      copy[i] *= i / fade;
      copy[length - 1 - i] *= i / fade;
    }
    return copy;
  }

  return Player;
})();
