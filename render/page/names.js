// Choosing a name: marked wherever it is drawn or listed, and what is known of it told.
const marked = (name) => kin(name).flatMap((each) => $$(`[data-n="${CSS.escape(each)}"]`))
  .filter((each) => !(each.dataset.n !== name && coresOf(each.dataset.n).length
    && figureHas(each, name)));

// A core is marked itself where it is drawn; elsewhere the cable it lies in stands for it.
const figureHas = (element, name) => {
  const paper = element.closest('.paper');
  return paper && $(`[data-n="${CSS.escape(name)}"]`, paper) !== null;
};

function unmark(tint) {
  for (const each of $$(`.halo.${tint}`)) each.remove();
  for (const each of $$(`tr.${tint}, .line.${tint}`)) each.classList.remove(tint);
}

function mark(name, tint) {
  unmark(tint);
  if (!data.names[name]) return;
  for (const each of marked(name)) {
    if (each instanceof SVGElement) halo(each, tint);
    else each.classList.add(tint);
  }
  lineOf(name)?.classList.add(tint);
}

// A copy of what is drawn, laid under it as a broad coloured edge.
function halo(group, tint) {
  const copy = group.cloneNode(true);
  for (const each of $$('title, [data-n]', copy)) each.remove();
  for (const each of [copy, ...$$('[id]', copy)]) each.removeAttribute('id');
  copy.removeAttribute('data-n');
  copy.setAttribute('class', `halo ${tint}`);
  copy.setAttribute('aria-hidden', 'true');
  group.before(copy);
}

function lineOf(name) {
  const facts = data.names[name];
  return facts && document.getElementById(`line-${data.files.indexOf(facts.w) + 1}-${facts.s}`);
}

function pick(name) {
  state.pick = data.names[name] ? name : '';
  mark(state.pick, 'chosen');
  tell(state.pick);
  $('#detail').classList.toggle('open', Boolean(state.pick));
  document.body.classList.toggle('telling', Boolean(state.pick));
  if (state.view === 'sheets') drawLook(); // beside what is told, the board may be smaller
  for (const each of $$('#results [aria-current]')) each.removeAttribute('aria-current');
  if (!state.pick) return;
  $(`#results [data-pick="${CSS.escape(name)}"]`)?.setAttribute('aria-current', 'true');
  const facts = data.names[name];
  announce(`${name} ${facts.l || facts.k} chosen, on ${sheetsOf(name).length} sheets.`);
}

let hovered = '';
function hover(name) {
  if (name === hovered) return;
  hovered = name;
  mark(name, 'hovered');
  if (!state.pick) tell(name);
}

// A name looked up while sheets are shown: brought before the eye, on this sheet if it has it.
function bringUp(name) {
  const papers = sheetsOf(name);
  if (state.view !== 'sheets' || !papers.length) return;
  showOn(papers.includes(figure()) ? state.sheet : papers[0].id, name);
}

function sheetsOf(name) {
  const found = new Set(marked(name).map((each) => each.closest('.paper')));
  return $$('.paper').filter((paper) => found.has(paper));
}

const button = (words, properties) => make('button', { type: 'button', ...properties }, words);
const nameButton = (name) => button(name, { className: 'name', 'data-pick': name });

function tell(name) {
  const facts = data.names[name];
  const told = facts ? [...head(name, facts), ...links(name, facts), ...derived(name)]
    : [make('p', { className: 'hint' }, 'Choose a device, conductor or cable: on a sheet, in a '
      + 'table, or in the list. It is marked wherever it is drawn, and its figures are derived '
      + 'here.')];
  $('#told').replaceChildren(...told);
  $('#detail').scrollTop = 0;
}

function head(name, facts) {
  const what = [facts.k, facts.r].filter(Boolean).join(', ');
  return [
    make('h2', {}, name, facts.l ? make('span', { className: 'label' }, ` ${facts.l}`) : null),
    make('p', {}, what),
  ];
}

function links(name, facts) {
  const rows = [];
  const row = (title, parts) => parts.length && rows.push(make('dt', {}, title),
    make('dd', {}, ...parts.flatMap((part) => [part, ' '])));
  row('Place', [facts.p.join(' to ')].filter(Boolean));
  row('Ends', (facts.e ?? []).map(([device, terminal], index) => make('span', {},
    index ? 'to ' : '', nameButton(device), ` terminal ${terminal}`)));
  row('Cable', facts.c ? [nameButton(facts.c)] : []);
  row('Cores', coresOf(name).map(nameButton));
  row('Conductors', Object.entries(data.names)
    .filter(([, each]) => each.e?.some(([device]) => device === name))
    .map(([each]) => nameButton(each)));
  row('Findings', (facts.f ?? []).map((index) => {
    const found = document.getElementById(`finding-${index + 1}`);
    const tint = found.dataset.severity === 'accepted' ? 'clean' : found.dataset.severity;
    return make('a', { href: `#finding-${index + 1}`, className: `flag ${tint}` },
      found.dataset.rule);
  }));
  row('Sheets', byDocument(sheetsOf(name)));
  row('Text', [make('a', { href: `#${lineOf(name)?.id}` }, `${facts.w}, line ${facts.s}`)]);
  return [make('dl', {}, ...rows)];
}

// A button a sheet, those of one document together.
function byDocument(papers) {
  const documents = [...new Set(papers.map((paper) => paper.dataset.doc))];
  return documents.map((doc) => make('span', { className: 'doc' }, doc,
    ...papers.filter((paper) => paper.dataset.doc === doc).flatMap((paper) => [' ', button(
      paper.dataset.series.split('/')[0],
      { className: 'name', 'data-sheet': paper.id, title: paper.dataset.title,
        'aria-label': `Show on sheet ${paper.dataset.series}, ${paper.dataset.title}` },
    )])));
}

function derived(name) {
  const parts = coresOf(name).length ? coresOf(name) : [name];
  return parts.flatMap((part) => {
    const sections = data.names[part]?.d ?? [];
    const blocks = sections.map(([title, mode, ...lines]) => make('section', {},
      make('h4', {}, data.texts[title],
        mode < 0 ? null : make('span', { className: 'label' }, ` mode ${data.modes[mode]}`)),
      make('ul', { className: 'steps' }, ...lines.map((n) => make('li', {}, data.texts[n])))));
    return [make('h3', {}, parts.length > 1 ? `Derivation of ${part}` : 'Derivation'), ...blocks];
  });
}

function listenToNames() {
  document.addEventListener('click', (event) => {
    const chosen = event.target.closest('[data-pick]');
    const shown = event.target.closest('[data-sheet]');
    const sought = event.target.closest('[data-show]');
    if (sought) {
      pick(sought.dataset.show);
      show('sheets');
      bringUp(state.pick);
    } else if (shown) {
      show('sheets');
      showOn(shown.dataset.sheet, state.pick);
    } else if (chosen) {
      pick(chosen.dataset.pick);
      if (chosen.closest('#results')) bringUp(state.pick);
    }
    else if (event.target.closest('#board') && !drag.moved) {
      const name = nameAt(event.clientX, event.clientY, event.pointerType === 'touch' ? 14 : 6);
      if (name) pick(name);
    }
  });
  document.addEventListener('mousemove', (event) => {
    if (drag.pointers.size) return;
    const row = event.target.closest?.('tr[data-n]');
    const board = event.target.closest?.('#board');
    hover(row ? row.dataset.n : board ? nameAt(event.clientX, event.clientY, 4) : '');
  });
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Escape' || !state.pick) return;
    const inside = $('#detail').contains(document.activeElement);
    pick('');
    if (inside) $('#main').focus();
  });
}
