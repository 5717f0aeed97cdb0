// The parts of the page, one at a time, and the start of it all.
function show(view) {
  state.view = view;
  for (const each of $$('.view')) each.classList.toggle('on', each.id === view);
  for (const link of $$('#views a')) {
    if (link.hash === `#${view}`) link.setAttribute('aria-current', 'page');
    else link.removeAttribute('aria-current');
  }
  if (view === 'sheets') showSheet(state.sheet);
  if (view === 'tables') showTable(state.table);
}

function showTable(key) {
  const chosen = document.getElementById(key) ?? $('.table');
  if (!chosen) return;
  state.table = chosen.id;
  for (const each of $$('.table')) each.classList.toggle('on', each === chosen);
  $('#table').value = chosen.id;
}

// Where a link within the page leads: to a part of it, a sheet, a table, a finding, a line.
function follow(hash) {
  const target = document.getElementById(decodeURIComponent(hash.slice(1)));
  const view = target?.closest('.view');
  if (!view) return;
  if (target.matches('.paper')) state.sheet = target.id;
  if (target.matches('.table')) state.table = target.id;
  show(view.id);
  if (target === view || target.matches('.paper, .table')) return;
  target.scrollIntoView({ block: 'center' });
  for (const each of $$('.arrived')) each.classList.remove('arrived');
  target.classList.add('arrived');
  target.tabIndex = -1;
  target.focus({ preventScroll: true });
}

function openFind(open) {
  document.body.classList.toggle('finding-open', open);
  $('#open-find').setAttribute('aria-expanded', String(open));
}

function listenToViews() {
  window.addEventListener('hashchange', () => follow(location.hash));
  document.addEventListener('click', (event) => {
    const link = event.target.closest('a[href^="#"]');
    if (link && link.hash === location.hash) follow(link.hash); // no change of hash, still a wish
    const step = event.target.closest('[data-step]');
    if (step) STEPS[step.dataset.step]();
    if (event.target.closest('#open-find')) openFind(!document.body.classList.contains('finding-open'));
    else if (event.target.closest('#results, #board')) openFind(false);
    if (event.target.closest('#close')) {
      pick('');
      $('#main').focus();
    }
    if (event.target.closest('#print')) {
      document.documentElement.classList.add('part'); // the browser's own command prints all
      window.print();
    }
  });
  document.addEventListener('change', (event) => {
    if (event.target.id === 'sheet') showSheet(event.target.value);
    if (event.target.id === 'table') showTable(event.target.value);
  });
  // On paper every sheet is whole, whatever part of it the screen shows.
  window.addEventListener('beforeprint', () => {
    for (const each of $$('.paper')) {
      $('svg', each).setAttribute('viewBox', `0 0 ${each.dataset.wide} ${each.dataset.high}`);
    }
  });
  window.addEventListener('afterprint', () => {
    document.documentElement.classList.remove('part');
    drawLook();
  });
}

// Makes the page what ``state`` says; again after a new page was put in its place.
function start() {
  if (!$('#data')) return; // nothing was ever drawn: there are only mistakes to show
  data = JSON.parse($('#data').textContent);
  state.sheet = figure() ? state.sheet : firstDrawing()?.id ?? '';
  fillIn();
  show(state.view);
  search();
  pick(state.pick);
}

listenToBoard();
listenToNames();
listenToSearch();
listenToViews();
start();
follow(location.hash);
performance.mark('ferrule-ready');
