// The player's buttons: what is pressed becomes what sounds, what sounds is shown in the score.
const Controls = (() => {
  function start(model, state) {
    const byId = (id) => document.getElementById(id);
    const map = model.sound;
    const player = new Player(map, (name) => byId(`sound-${name}`).textContent);
    const events = model.study.events;
    const times = map.events.map(([id, from, to]) => ({ id, from, to }));
    const indexOf = new Map(events.map((e, i) => [e.id, i]));
    const play = byId('play'), repeat = byId('repeat'), speed = byId('speed'), status = byId('status');
    const progress = byId('progress'), marked = byId('marked');
    let chosen = null, resumeAt = null;

    const reader = new Reader(model, state, { play: playFrom, mark, clear, restore: () => reader.choose(chosen) });

    const say = (text) => { status.textContent = text; };
    const place = (i) => events[i].onset;
    const ticks = (i) => [place(i), i + 1 < events.length ? place(i + 1) : events[i].onset + events[i].duration];

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
      reader.light(null);
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
      if (value !== 'marked') { chosen = null; reader.choose(null); }
      const range = value === 'marked' ? chosenTicks() : value === '' ? null : [model.ranges[value].from, model.ranges[value].to];
      player.loop = range && range.map((t) => player.seconds(t));
    }

    const chosenTicks = () => [ticks(chosen[0])[0], ticks(chosen[1])[1]];

    function mark(from, to) {
      chosen = [from, to];
      reader.choose(chosen);
      marked.hidden = marked.disabled = false;
      const where = (i) => model.events[i].label.split(':')[0];
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
        reader.light(eventAt(at));
        progress.style.transform = `scaleX(${Math.min(1, at / map.length_s)})`;
      }
      requestAnimationFrame(tick);
    }

    player.onend = () => { reader.light(null); progress.style.transform = 'scaleX(0)'; show(); };
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
    for (const name of player.names) {
      const box = byId(name);
      player.level(name, box.checked);
      box.addEventListener('change', () => player.level(name, box.checked));
    }
    show();
    return { player, reader, eventAt };
  }

  return { start };
})();
