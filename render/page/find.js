// Search and filters: one set of names, for the list, the tables, the findings and the sheets.
const MOST_LISTED = 400;

function said(name, facts) {
  return [name, facts.l, facts.k, facts.r, ...facts.p, facts.c].join(' ').toLowerCase();
}

// The cable itself, its cores, and what they end on.
function withCable(cable) {
  const cores = coresOf(cable);
  const ends = cores.flatMap((core) => data.names[core].e.map(([device]) => device));
  return new Set([cable, ...cores, ...ends]);
}

function findingFits(wanted, index) {
  const found = document.getElementById(`finding-${index + 1}`).dataset;
  return wanted === 'any' || found.severity === wanted || found.rule === wanted;
}

function matching() {
  const { text, place, cable, finding } = state.query;
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  const near = cable ? withCable(cable) : null;
  return Object.entries(data.names).filter(([name, facts]) =>
    words.every((word) => said(name, facts).includes(word))
    && (!place || facts.p.includes(place))
    && (!near || near.has(name))
    && (!finding || (facts.f ?? []).some((index) => findingFits(finding, index))))
    .map(([name]) => name);
}

function search() {
  const asked = Object.values(state.query).some((value) => value.trim());
  const found = asked ? matching() : Object.keys(data.names).filter((name) => cableOf(name) === name);
  list(found);
  narrow(asked ? new Set(found.flatMap((name) => [name, cableOf(name)])) : null);
  const count = `${found.length} ${found.length === 1 ? 'name' : 'names'}`;
  $('#count').textContent = asked ? `${count} found` : count;
  return found;
}

function list(found) {
  const rows = found.slice(0, MOST_LISTED).map((name) => {
    const facts = data.names[name];
    const label = make('span', { className: 'label' }, facts.l || facts.r || facts.k);
    const flag = facts.f ? make('span', { className: 'dot' }, `${facts.f.length}`,
      make('span', { className: 'unseen' }, facts.f.length > 1 ? ' findings' : ' finding')) : null;
    const chosen = name === state.pick ? { 'aria-current': 'true' } : {};
    return make('li', {}, make('button', { type: 'button', 'data-pick': name, ...chosen },
      make('b', {}, name), ' ', label, flag));
  });
  const rest = found.length - rows.length;
  if (rest > 0) rows.push(make('li', { className: 'hint' }, `and ${rest} more: narrow the search`));
  $('#results').replaceChildren(...rows);
}

function narrow(names) {
  const out = (name) => names !== null && !names.has(name);
  for (const row of $$('tbody tr[data-n]')) row.hidden = out(row.dataset.n);
  for (const row of $$('.table tbody tr:not([data-n])')) row.hidden = names !== null;
  $('#board').classList.toggle('narrowed', names !== null);
  for (const group of $$('.paper [data-n]')) group.classList.toggle('kept', !out(group.dataset.n));
  const wanted = state.query.finding;
  left('#rows-left', names, '.table tbody tr[data-n]', 'rows');
  for (const each of $$('.finding')) {
    const on = each.dataset.on.split(' ');
    each.hidden = names !== null && (!on.some((name) => names.has(name))
      || (wanted !== '' && !findingFits(wanted, Number(each.dataset.finding))));
  }
  left('#findings-left', names, '.finding', 'findings');
}

// Says that not all is shown, and how much of it.
function left(note, names, of, words) {
  const all = $$(of);
  const shown = all.filter((each) => !each.hidden).length;
  $(note).hidden = names === null || !all.length;
  $(note).textContent = `Search and filters leave ${shown} of ${all.length} ${words}.`;
}

const FIELDS = { q: 'text', place: 'place', cable: 'cable', finding: 'finding' };

function listenToSearch() {
  for (const kind of ['input', 'change']) {
    document.addEventListener(kind, (event) => {
      const key = event.target.closest('#find') && FIELDS[event.target.id];
      if (!key || state.query[key] === event.target.value) return;
      state.query[key] = event.target.value;
      search();
    });
  }
  document.addEventListener('submit', (event) => {
    event.preventDefault();
    const [first] = search();
    if (!first || !state.query.text) return;
    pick(first);
    bringUp(first);
  });
  document.addEventListener('reset', (event) => {
    event.preventDefault();
    for (const key of Object.values(FIELDS)) state.query[key] = '';
    fillIn();
    search();
    $('#q').focus();
  });
}

// Puts the query into the fields, as far as they still have such a choice.
function fillIn() {
  for (const [id, key] of Object.entries(FIELDS)) {
    const field = document.getElementById(id);
    field.value = state.query[key];
    if (field.value !== state.query[key]) state.query[key] = field.value = '';
  }
}
