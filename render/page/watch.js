// Served by `ferrule watch`: when the text was saved, the page is renewed in its place.
const byTitle = (of, title) => $$(of).find((each) => each.dataset.title === title);

// What the page looks like, in words that outlast it: titles stay where numbers may change.
function remember() {
  const titles = Object.entries(state.looks).map(([key, at]) => [figure(key)?.dataset.title, at]);
  return {
    titles, sheet: figure()?.dataset.title,
    table: document.getElementById(state.table)?.dataset.title,
    focus: document.activeElement?.id,
    scrolled: $$('#find, #main, #detail, .table.on .scroll').map((each) => each.scrollTop),
    down: window.scrollY,
  };
}

// Reading all sheets takes the browser longest: the one looked at is made first, the others when it
// was drawn, or when anything is done before that.
const SHEET = /(<figure (?:[^">]|"[^"]*")*>)(.*?)(<\/figure>)/gs;
const waiting = new Map();

function apart(text) {
  const drawn = [];
  const shell = text.replace(SHEET, (all, open, inner, close) => {
    drawn.push(inner);
    return open + close;
  });
  return { page: new DOMParser().parseFromString(shell, 'text/html'), drawn };
}

function fill(paper) {
  if (!waiting.has(paper)) return;
  paper.innerHTML = waiting.get(paper); // the report's own markup, from where the page came
  waiting.delete(paper);
}

function fillRest() {
  if (!waiting.size) return;
  for (const paper of [...waiting.keys()]) fill(paper);
  const down = $('#detail').scrollTop;
  search();
  pick(state.pick);
  $('#detail').scrollTop = down;
}

function restore(was) {
  state.looks = Object.fromEntries(was.titles
    .map(([title, at]) => [byTitle('.paper', title)?.id, at]).filter(([key]) => key));
  state.sheet = byTitle('.paper', was.sheet)?.id ?? '';
  state.table = byTitle('.table', was.table)?.id ?? '';
  fill(figure() ?? firstDrawing());
  start();
  $$('#find, #main, #detail, .table.on .scroll')
    .forEach((each, index) => { each.scrollTop = was.scrolled[index] ?? 0; });
  window.scrollTo(0, was.down);
  if (was.focus) document.getElementById(was.focus)?.focus({ preventScroll: true });
}

function renew({ page: next, drawn }) {
  const was = remember();
  waiting.clear();
  $$('.paper', next).forEach((paper, index) => waiting.set(paper, drawn[index]));
  hovered = '';
  document.title = next.title;
  document.body.dataset.version = next.body.dataset.version;
  $('#pens').textContent = next.getElementById('pens').textContent;
  $('#page').replaceChildren(...next.getElementById('page').childNodes);
  restore(was);
  announce($('#trouble') ? 'The text has mistakes.' : 'The sheets are renewed.');
  performance.mark('ferrule-renewed');
  requestAnimationFrame(() => setTimeout(fillRest));
}

function lost(gone) {
  $('#lost')?.remove();
  const words = '`ferrule watch` has ended or cannot be reached: the page is as it was last.';
  if (gone) $('#page').prepend(make('p', { id: 'lost', role: 'alert' }, words));
}

const news = new EventSource('/events');
news.addEventListener('open', () => lost(false));
news.addEventListener('error', () => lost(true));
news.addEventListener('message', async (event) => {
  if (event.data === document.body.dataset.version) return;
  try {
    const text = await (await fetch('/')).text();
    renew(apart(text));
  } catch {
    lost(true);
  }
});
for (const act of ['keydown', 'pointerdown', 'click', 'wheel', 'input', 'change', 'beforeprint']) {
  window.addEventListener(act, fillRest, { capture: true, passive: true });
}
