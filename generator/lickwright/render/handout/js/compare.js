// Starts the page that holds studies side by side: the same bars under one another, a player that goes from one to
// the next at the same place, a table that puts them in order.
const Compare = (() => {
  const data = JSON.parse(document.getElementById('model').textContent);
  const parts = data.entries.map((entry) => ({
    model: { ...entry, strings: data.strings }, state: Sheet.stateOf(),
  }));
  const hosts = [...document.querySelectorAll('.systems')];
  const rows = []; // [{ part, element }] of what is drawn now
  let controls = null, groups = new Map(), sheet = null;

  const beside = () => (innerWidth <= 760 ? 28 : 34);

  function clear() {
    hosts.forEach((host) => host.replaceChildren());
    groups = new Map();
    rows.length = 0;
  }

  function boxOf(part, system) {
    if (!groups.has(system.from)) {
      const group = document.createElement('div');
      group.className = 'group';
      hosts[system.phrase].appendChild(group);
      groups.set(system.from, group);
    }
    const row = document.createElement('div'), box = document.createElement('div');
    row.className = 'row';
    box.className = 'system-box';
    row.append(label(part, system), box);
    groups.get(system.from).appendChild(row);
    rows.push({ part, element: row });
    return box;
  }

  // The study's number before its system; with sound a button that plays it from there.
  function label(part, system) {
    const { number } = parts[part].model;
    const element = document.createElement(parts[part].model.sound ? 'button' : 'span');
    element.className = 'hear';
    element.textContent = number;
    if (parts[part].model.sound) {
      element.type = 'button';
      element.setAttribute('aria-label',
        data.strings.hear.replace('{number}', number).replace('{bar}', system.from + 1));
      element.addEventListener('click', () => controls.playAt(part, system.from * 48));
    }
    return element;
  }

  // A thick stroke on the tab's lowest line, behind its figures, under every note that differs from the first study.
  const BELOW_TAB = 12; // how far a place to press reaches below that line
  function marks() {
    for (const { model, state } of parts) {
      const differs = new Set(model.differs);
      for (const { event, rect } of state.places) {
        if (!differs.has(event)) continue;
        const [x, y, width, height] = ['x', 'y', 'width', 'height'].map((name) => Number(rect.getAttribute(name)));
        const under = rect.ownerSVGElement.querySelector('.under');
        Svg.make('path', { d: `M${x} ${y + height - BELOW_TAB}h${width}`, class: 'differs' }, under);
      }
    }
    heard();
  }

  function heard() {
    const now = controls ? controls.voice() : null;
    for (const { part, element } of rows) element.classList.toggle('heard', part === now);
  }

  // ---- the order

  const given = document.getElementById('given'), order = document.getElementById('order');

  function sortBy(button) {
    const scale = button.closest('tr').dataset.scale;
    const again = button.getAttribute('aria-pressed') === 'true' && button.dataset.way === 'most';
    const way = again ? 'least' : 'most';
    const value = (i) => parts[i].model.values[scale];
    const side = way === 'most' ? -1 : 1;
    const missing = (i) => (value(i) === null ? 1 : 0);
    const wanted = parts.map((_, i) => i)
      .sort((a, b) => missing(a) - missing(b) || side * (value(a) - value(b)) || a - b);
    pressed(button);
    button.dataset.way = way;
    arrange(wanted);
    order.textContent = data.strings.sorted.replace('{label}', button.textContent).replace('{way}', data.strings[way]);
  }

  function pressed(button) {
    for (const other of document.querySelectorAll('.sort')) other.setAttribute('aria-pressed', String(other === button));
    given.hidden = !button;
  }

  // Puts the columns of the tables and the systems into an order of studies.
  function arrange(wanted) {
    for (const row of document.querySelectorAll('.measures tr')) {
      const cells = new Map([...row.querySelectorAll('[data-entry]')].map((cell) => [Number(cell.dataset.entry), cell]));
      for (const i of wanted) row.appendChild(cells.get(parts[i].model.number));
    }
    sheet.reorder(wanted);
  }

  function orders() {
    for (const button of document.querySelectorAll('.sort')) button.addEventListener('click', () => sortBy(button));
    given.addEventListener('click', () => {
      pressed(null);
      arrange(parts.map((_, i) => i));
      order.textContent = data.strings.given;
      document.querySelector('.sort').focus();
    });
  }

  // The number keys choose who is heard, unless they are switched off or something is typed into.
  function keys(e) {
    const box = document.getElementById('digits');
    const number = Number(e.key);
    if (!box.checked || e.ctrlKey || e.altKey || e.metaKey || e.target.closest('select')) return;
    if (Number.isInteger(number) && number >= 1 && number <= parts.length) controls.hear(number - 1);
  }

  async function start() {
    parts[0].state.listeners.push(marks);
    sheet = new Sheet(parts, data.phrases, {
      boxOf, clear, beside, screenWidth: () => Math.floor(hosts[0].clientWidth),
    });
    await sheet.start();
    orders();
    let readers = [];
    if (parts[0].model.sound) {
      controls = Controls.start(parts, { onhear: heard });
      addEventListener('keydown', keys);
      heard();
    } else readers = parts.map(({ model, state }) => new Reader(model, state, null));
    window.compare = { sheet, parts, readers, ...controls }; // for whoever looks into the page from its console
    document.documentElement.dataset.ready = 'yes';
  }

  return { start };
})();
Compare.start();
