// Slower or faster at the same pitch: waveform-similarity overlap-add, the same cuts for all parts, so that
// parts that start together stay together to the sample.
// W. Verhelst, M. Roelands, "An overlap-add technique based on waveform similarity (WSOLA)", ICASSP 1993.
const Stretch = (() => {
  const WINDOW_S = 0.046, SEARCH_S = 0.011, COARSE = 4, SLICE_MS = 12;
  const breath = () => new Promise((resolve) => setTimeout(resolve, 0));

  function mixed(parts) {
    const sum = new Float32Array(parts[0].length);
    for (const part of parts) for (let i = 0; i < sum.length; i++) sum[i] += part[i];
    return sum;
  }

  // Where, round `near`, the input goes on most like what follows at `natural`.
  function bestMatch(input, natural, near, search, length) {
    const score = (at, step) => {
      let dot = 0, energy = 1e-9;
      for (let i = 0; i < length; i += step) {
        const v = input[at + i];
        dot += v * input[natural + i];
        energy += v * v;
      }
      return dot / Math.sqrt(energy);
    };
    const low = Math.max(0, near - search), high = Math.min(input.length - length - 1, near + search);
    let best = Math.max(0, Math.min(near, high)), top = -Infinity;
    for (let at = low; at <= high; at += COARSE) {
      const s = score(at, COARSE);
      if (s > top) { top = s; best = at; }
    }
    top = -Infinity;
    const middle = best;
    for (let at = Math.max(low, middle - COARSE); at <= Math.min(high, middle + COARSE); at++) {
      const s = score(at, 1);
      if (s > top) { top = s; best = at; }
    }
    return best;
  }

  // `parts` (equally long channels) at `rate` times their speed; gives new channels, length / rate long.
  async function stretch(parts, rate, sampleRate) {
    if (rate === 1) return parts;
    const hop = Math.round(WINDOW_S * sampleRate / 2), window = 2 * hop;
    const search = Math.round(SEARCH_S * sampleRate);
    const hann = Float32Array.from({ length: window }, (_, i) => 0.5 - 0.5 * Math.cos(2 * Math.PI * i / window));
    const pad = (part) => { const padded = new Float32Array(part.length + 4 * window); padded.set(part, hop); return padded; };
    const padded = parts.map(pad), guide = mixed(padded);
    const length = Math.ceil(parts[0].length / rate);
    const out = parts.map(() => new Float32Array(length + 2 * window));
    let last = 0, since = performance.now();
    for (let k = 0; k * hop < length + hop; k++) {
      const near = Math.round(k * hop * rate);
      if (near + window >= guide.length) break;
      const natural = last + hop;
      const at = k === 0 || natural + hop >= guide.length ? near : bestMatch(guide, natural, near, search, hop);
      for (let p = 0; p < padded.length; p++) {
        const from = padded[p], to = out[p], base = k * hop;
        for (let i = 0; i < window; i++) to[base + i] += from[at + i] * hann[i];
      }
      last = at;
      if (performance.now() - since > SLICE_MS) { await breath(); since = performance.now(); }
    }
    return out.map((channel) => channel.subarray(hop, hop + length));
  }

  return { stretch };
})();
