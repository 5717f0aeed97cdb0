// The sheet on the board: zoom and pan.  A look is a centre in mm and how many times it is enlarged.
const MOST = 16;
const drag = { pointers: new Map(), moved: false };

const figure = (key = state.sheet) => document.getElementById(key);
const sizeOf = (key) => [Number(figure(key).dataset.wide), Number(figure(key).dataset.high)];

function look(key = state.sheet) {
  const [wide, high] = sizeOf(key);
  return (state.looks[key] ??= { x: wide / 2, y: high / 2, k: 1 });
}

function frame(key) {
  const room = $('#board').getBoundingClientRect();
  const [wide, high] = sizeOf(key);
  const shape = room.width / Math.max(room.height, 1) || 1;
  const across = (Math.max(wide, high * shape) * 1.01) / look(key).k;
  return { across, down: across / shape, perPixel: across / Math.max(room.width, 1) };
}

function drawLook(key = state.sheet) {
  if (!figure(key)) return;
  const at = look(key);
  const [wide, high] = sizeOf(key);
  at.k = Math.min(Math.max(at.k, 1), MOST);
  at.x = Math.min(Math.max(at.x, 0), wide);
  at.y = Math.min(Math.max(at.y, 0), high);
  const { across, down } = frame(key);
  const box = [at.x - across / 2, at.y - down / 2, across, down];
  $('svg', figure(key)).setAttribute('viewBox', box.map((n) => n.toFixed(3)).join(' '));
  $('#zoom').value = `${Math.round(at.k * 100)} %`;
}

function zoomBy(factor, point) {
  const at = look();
  const fixed = point ?? { x: at.x, y: at.y };
  const before = at.k;
  at.k = Math.min(Math.max(at.k * factor, 1), MOST);
  at.x = fixed.x - ((fixed.x - at.x) * before) / at.k;
  at.y = fixed.y - ((fixed.y - at.y) * before) / at.k;
  drawLook();
}

function panBy(right, down) {
  const seen = frame(state.sheet);
  look().x += right * seen.across;
  look().y += down * seen.down;
  drawLook();
}

function fit() {
  delete state.looks[state.sheet];
  drawLook();
}

// Where a point of the screen lies on the sheet, in mm.
function onSheet(x, y) {
  const room = $('#board').getBoundingClientRect();
  const { perPixel, across, down } = frame(state.sheet);
  const at = look();
  return {
    x: at.x - across / 2 + (x - room.left) * perPixel,
    y: at.y - down / 2 + (y - room.top) * perPixel,
  };
}

// The name drawn nearest to a point of the screen: thin lines need not be met exactly.
function nameAt(x, y, reach) {
  for (const far of [0, reach / 2, reach]) {
    for (const [dx, dy] of [[0, 0], [far, 0], [-far, 0], [0, far], [0, -far]]) {
      const found = document.elementFromPoint(x + dx, y + dy)?.closest('#board [data-n]');
      if (found) return found.dataset.n;
    }
  }
  return '';
}

// What the overview tells already need not be the first to be seen.
const firstDrawing = () => $('.paper:not([data-doc="Cover"])') ?? $('.paper');

function showSheet(key) {
  const chosen = figure(key) ?? firstDrawing();
  if (!chosen) return;
  state.sheet = chosen.id;
  for (const each of $$('.paper.on')) each.classList.remove('on');
  chosen.classList.add('on');
  $('#sheet').value = chosen.id;
  drawLook();
}

function turn(step) {
  const keys = $$('.paper').map((each) => each.id);
  const next = keys.indexOf(state.sheet) + step;
  if (!keys[next]) return;
  showSheet(keys[next]);
  announce(`Sheet: ${figure().dataset.title}`);
}

// The sheet with the part of it where a name is drawn.
function showOn(key, name) {
  showSheet(key);
  const boxes = marked(name).filter((each) => figure(key).contains(each) && each.getBBox)
    .map((each) => each.getBBox()).filter((box) => box.width || box.height);
  if (!boxes.length) return;
  const left = Math.min(...boxes.map((b) => b.x));
  const top = Math.min(...boxes.map((b) => b.y));
  const right = Math.max(...boxes.map((b) => b.x + b.width));
  const bottom = Math.max(...boxes.map((b) => b.y + b.height));
  const at = look(key);
  Object.assign(at, { x: (left + right) / 2, y: (top + bottom) / 2, k: 1 });
  const { across, down } = frame(key);
  at.k = Math.max(1, Math.min(across / Math.max(2 * (right - left), 130),
    down / Math.max(2 * (bottom - top), 90)));
  drawLook(key);
}

const STEPS = {
  'zoom-in': () => zoomBy(1.4), 'zoom-out': () => zoomBy(1 / 1.4), fit,
  left: () => panBy(-0.2, 0), right: () => panBy(0.2, 0),
  up: () => panBy(0, -0.2), down: () => panBy(0, 0.2),
  before: () => turn(-1), after: () => turn(1),
};
const KEYS = {
  '+': 'zoom-in', '=': 'zoom-in', '-': 'zoom-out', 0: 'fit',
  ArrowLeft: 'left', ArrowRight: 'right', ArrowUp: 'up', ArrowDown: 'down',
  PageUp: 'before', PageDown: 'after',
};

function centre() {
  const points = [...drag.pointers.values()];
  const [a, b = a] = points;
  return { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, apart: Math.hypot(a.x - b.x, a.y - b.y) };
}

function dragged(event) {
  const before = centre();
  drag.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  const now = centre();
  const { perPixel } = frame(state.sheet);
  look().x -= (now.x - before.x) * perPixel;
  look().y -= (now.y - before.y) * perPixel;
  if (drag.pointers.size > 1 && before.apart) {
    zoomBy(now.apart / before.apart, onSheet(now.x, now.y));
  } else drawLook();
}

function listenToBoard() {
  document.addEventListener('pointerdown', (event) => {
    if (!event.target.closest('#board') || event.button) return;
    drag.moved &&= drag.pointers.size > 0;
    drag.start = { x: event.clientX, y: event.clientY };
    drag.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  document.addEventListener('pointermove', (event) => {
    if (!event.buttons) drag.pointers.delete(event.pointerId); // let go outside the window
    if (!drag.pointers.has(event.pointerId)) return;
    const far = Math.hypot(event.clientX - drag.start.x, event.clientY - drag.start.y);
    if (!drag.moved && far < 5 && drag.pointers.size < 2) return;
    if (!drag.moved) $('#board').setPointerCapture(event.pointerId);
    drag.moved = true;
    dragged(event);
  });
  for (const end of ['pointerup', 'pointercancel']) {
    document.addEventListener(end, (event) => drag.pointers.delete(event.pointerId));
  }
  document.addEventListener('wheel', (event) => {
    if (!event.target.closest?.('#board')) return;
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY * 0.0015), onSheet(event.clientX, event.clientY));
  }, { passive: false });
  document.addEventListener('keydown', (event) => {
    const step = event.target.id === 'board' && !event.ctrlKey && !event.altKey && !event.metaKey
      && KEYS[event.key];
    if (!step) return;
    event.preventDefault();
    STEPS[step]();
  });
  window.addEventListener('resize', () => { if (state.view === 'sheets') drawLook(); });
}
