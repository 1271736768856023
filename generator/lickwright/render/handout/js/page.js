// Starts the handout: its score, its reader and player, and the hand that diagrams are drawn for.
const Page = (() => {
  const model = JSON.parse(document.getElementById('model').textContent);
  const hosts = [...document.querySelectorAll('.systems')];
  const state = Sheet.stateOf();

  function boxOf(part, system) {
    const box = document.createElement('div');
    box.className = 'system-box';
    hosts[system.phrase].appendChild(box);
    return box;
  }

  async function start() {
    const sheet = new Sheet([{ model, state }], model.study.phrases, {
      boxOf,
      clear: () => hosts.forEach((host) => host.replaceChildren()),
      screenWidth: () => Math.floor(hosts[0].clientWidth),
    });
    await sheet.start();
    hands();
    const parts = model.sound ? Controls.start([{ model, state }]) : { reader: new Reader(model, state, null) };
    window.handout = { state, ...parts }; // for whoever looks into the page from its console
    document.documentElement.dataset.ready = 'yes';
  }

  function hands() {
    const box = document.getElementById('left-handed');
    if (box) box.addEventListener('change', () => { document.documentElement.dataset.hand = box.checked ? 'left' : 'right'; });
  }

  return { start };
})();
Page.start();
