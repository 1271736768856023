// The player's buttons: what is pressed becomes what sounds, what sounds is shown in the score.
const Controls = (() => {
  // `parts` are the studies on the page, [{ model, state }]. Their guitars run together and one of them is heard,
  // so that another takes over at the same place without a gap.
  function start(parts, { onhear = () => {} } = {}) {
    const byId = (id) => document.getElementById(id);
    const { model } = parts[0];
    const map = model.sound;
    const guitars = parts.map((_, i) => (parts.length > 1 ? `guitar-${i + 1}` : 'guitar'));
    const player = new Player(map, [...guitars, 'band', 'click'], (name) => byId(`sound-${name}`).textContent);
    const scores = parts.map((part, i) => scoreOf(part, i));
    const voices = [...document.querySelectorAll('input[name="voice"]')];
    let voice = 0; // the number of the study that is heard
    const play = byId('play'), repeat = byId('repeat'), speed = byId('speed'), status = byId('status');
    const progress = byId('progress'), marked = byId('marked');
    let chosen = null, resumeAt = null; // chosen: { by: number of a study, range: [from event, to event] }

    function scoreOf(part, i) {
      const { events } = part.model.study;
      const reader = new Reader(part.model, part.state, {
        play: (index) => { hear(i); playFrom(index); },
        mark: (from, to) => { hear(i); mark(from, to); },
        clear: () => clear(),
        restore: () => reader.choose(chosen && chosen.by === i ? chosen.range : null),
      });
      return {
        reader, events, labels: part.model.events,
        times: part.model.sound.events.map(([id, from, to]) => ({ id, from, to })),
        indexOf: new Map(events.map((e, k) => [e.id, k])),
      };
    }

    const score = () => scores[voice];
    const say = (text) => { status.textContent = text; };
    const place = (i, events = score().events) => events[i].onset;
    const ticks = (i, events) => [
      place(i, events), i + 1 < events.length ? place(i + 1, events) : events[i].onset + events[i].duration];

    function show() {
      play.classList.toggle('playing', player.playing);
      byId('play-text').textContent = player.playing ? model.strings.pause : model.strings.play;
    }

    async function go(at, countIn) {
      say(model.strings.loading);
      play.disabled = true;
      try {
        if (await player.play(at, { countIn })) {
          say(player.loop ? model.strings.stretch.replace('{label}', loopLabel()) : '');
          tick();
        }
      } catch (error) {
        say(model.strings.failed);
      }
      play.disabled = false;
      show();
    }

    const loopLabel = () => (repeat.value === 'marked' ? marked.textContent : repeat.selectedOptions[0].textContent);
    const counted = () => byId('count-in').checked;

    function pause() {
      resumeAt = player.position() ?? resumeAt;
      player.stop();
      score().reader.light(null);
      say('');
      show();
    }

    function playFrom(index) {
      const at = player.seconds(place(index));
      if (player.loop && (at < player.loop[0] - 1e-6 || at >= player.loop[1])) select('');
      go(at, counted());
    }

    function toggle() {
      if (player.playing) { pause(); return; }
      const first = player.loop ? player.loop[0] : player.seconds(0);
      const inside = resumeAt !== null && (!player.loop || (resumeAt >= player.loop[0] && resumeAt < player.loop[1]));
      go(inside ? resumeAt : first, counted());
      resumeAt = null;
    }

    // Sets what is repeated: an entry of the list, "marked", or nothing.
    function select(value) {
      repeat.value = value;
      if (value !== 'marked') unmark();
      const range = value === 'marked' ? chosenTicks() : value === '' ? null : [model.ranges[value].from, model.ranges[value].to];
      player.loop = range && range.map((t) => player.seconds(t));
    }

    function chosenTicks() {
      const { events } = scores[chosen.by];
      return [ticks(chosen.range[0], events)[0], ticks(chosen.range[1], events)[1]];
    }

    function unmark() {
      if (chosen) scores[chosen.by].reader.choose(null);
      chosen = null;
    }

    function mark(from, to) {
      if (chosen && chosen.by !== voice) unmark();
      chosen = { by: voice, range: [from, to] };
      score().reader.choose(chosen.range);
      marked.hidden = marked.disabled = false;
      const where = (i) => score().labels[i].label.split(':')[0];
      marked.textContent = `${model.strings.marked}: ${where(from)} – ${where(to)}`;
      select('marked');
      resumeAt = null;
      say(marked.textContent);
      if (player.playing) go(player.loop[0], false);
    }

    function clear() {
      select('');
      marked.hidden = marked.disabled = true;
      if (player.playing) go(player.position() ?? player.seconds(0), false);
      else say('');
    }

    function eventAt(seconds) {
      const { times, indexOf } = score();
      let low = 0, high = times.length;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (times[middle].from <= seconds) low = middle + 1; else high = middle;
      }
      const found = times[low - 1];
      return found && seconds < found.to ? indexOf.get(found.id) : null;
    }

    function tick() {
      if (!player.playing) return;
      const at = player.position();
      if (at !== null) {
        score().reader.light(eventAt(at));
        progress.style.transform = `scaleX(${Math.min(1, at / map.length_s)})`;
      }
      requestAnimationFrame(tick);
    }

    // Another study is heard from now on, at the same place.
    function hear(i) {
      if (i === voice) return;
      score().reader.light(null);
      player.level(guitars[voice], false);
      voice = i;
      player.level(guitars[voice], true);
      if (voices[i]) voices[i].checked = true;
      onhear();
    }

    // Plays a study from a tick, or goes on from there.
    function playAt(i, tick) {
      hear(i);
      const at = player.seconds(tick);
      if (player.loop && (at < player.loop[0] - 1e-6 || at >= player.loop[1])) select('');
      go(at, counted() && !player.playing);
    }

    player.onend = () => { score().reader.light(null); progress.style.transform = 'scaleX(0)'; show(); };
    play.addEventListener('click', toggle);
    repeat.addEventListener('change', () => {
      select(repeat.value);
      resumeAt = null;
      if (player.playing && player.loop) go(player.loop[0], false);
      else if (player.playing) go(player.position() ?? player.seconds(0), false);
    });
    speed.addEventListener('change', () => {
      const at = player.position();
      player.rate = Number(speed.value) / 100;
      if (player.playing) go(at ?? (player.loop ? player.loop[0] : player.seconds(0)), false);
    });
    player.level(guitars[0], true);
    for (const box of ['guitar', 'band', 'click'].map(byId).filter(Boolean)) {
      player.level(box.id, box.checked);
      box.addEventListener('change', () => player.level(box.id, box.checked));
    }
    voices.forEach((box, i) => box.addEventListener('change', () => hear(i)));
    show();
    const readers = scores.map((s) => s.reader);
    return { player, reader: readers[0], readers, eventAt, hear, playAt, voice: () => voice };
  }

  return { start };
})();
