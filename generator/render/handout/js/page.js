// Starts the page: lays the score out for the screen and for paper, and wires reader and player to it.
const Page = (() => {
  const model = JSON.parse(document.getElementById('model').textContent);
  const PRINT = { width: 688, scale: 0.665 }; // 182 mm at 96 px an inch: between A4's margins, and Letter's
  const scaleFor = (width) => (width >= 1000 ? 0.86 : width >= 600 ? 0.78 : 0.68);
  const hosts = [...document.querySelectorAll('.systems')];
  const state = { bars: null, width: 0, medium: 'screen', lights: new Map(), places: [], listeners: [] };

  function layout(width, medium) {
    const began = performance.now();
    const scale = medium === 'print' ? PRINT.scale : scaleFor(width);
    state.lights = new Map();
    state.places = [];
    if (!state.bars) state.bars = Spacing.measure(model);
    const systems = Spacing.plan(model, state.bars, System.available(model, width, scale), medium);
    hosts.forEach((host) => host.replaceChildren());
    for (const system of systems) {
      const box = document.createElement('div');
      box.className = 'system-box';
      hosts[system.phrase].appendChild(box);
      state.places.push(...System.draw(model, state.bars, system, box, width, scale, state.lights));
    }
    state.width = width;
    state.medium = medium;
    state.systems = systems;
    state.layoutMs = performance.now() - began;
    state.listeners.forEach((listener) => listener());
  }

  const screenWidth = () => Math.floor(hosts[0].clientWidth);

  function onScreen() {
    if (state.medium === 'screen' && Math.abs(screenWidth() - state.width) < 2) return;
    layout(screenWidth(), 'screen');
  }

  async function start() {
    await Promise.all(['40px Bravura', '14px Academico', 'bold 14px Academico'].map((f) => document.fonts.load(f)));
    onScreen();
    state.firstLayoutMs = state.layoutMs;
    let waiting = 0;
    addEventListener('resize', () => {
      cancelAnimationFrame(waiting);
      waiting = requestAnimationFrame(() => { if (state.medium === 'screen') onScreen(); });
    });
    addEventListener('beforeprint', () => layout(PRINT.width, 'print'));
    addEventListener('afterprint', () => onScreen());
    hands();
    const parts = model.sound ? Controls.start(model, state) : { reader: new Reader(model, state, null) };
    window.handout = { state, ...parts }; // for whoever looks into the page from its console
    document.documentElement.dataset.ready = 'yes';
  }

  function hands() {
    const box = document.getElementById('left-handed');
    if (box) box.addEventListener('change', () => { document.documentElement.dataset.hand = box.checked ? 'left' : 'right'; });
  }

  return { start, state, model };
})();
Page.start();
