/**
 * What the page does, in the plain script of any browser: no library, no network. Every text goes in as text, never as markup; the one
 * piece of markup, the plan, is our own drawing.
 */
export const EVIDENCE_SCRIPT = String.raw`
(() => {
  const data = JSON.parse(document.getElementById('data').textContent);
  const state = { lang: 0, sort: 'number', down: false, text: '', ranks: new Set(), change: '', chosen: 0, lines: true };
  const L = () => data.languages[state.lang];
  const el = (name, attributes, ...children) => {
    const node = document.createElement(name);
    for (const [key, value] of Object.entries(attributes || {})) {
      if (key.startsWith('on')) node.addEventListener(key.slice(2), value);
      else if (value !== null && value !== false) node.setAttribute(key, value === true ? '' : value);
    }
    node.append(...children.flat(3).filter((child) => child !== null && child !== undefined));
    return node;
  };
  const bars = (rank) => el('span', { class: 'bars', 'aria-hidden': 'true' }, [0, 1, 2, 3, 4].map((k) => el('i', { class: k < 5 - rank ? 'on' : '' })));
  const rows = (list) => el('dl', { class: 'rows' }, list.map((row) => [el('dt', {}, row.label), el('dd', {}, row.text)]));
  const table = (head, body, size) => el('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': head.join(', ') },
    el('table', {}, el('thead', {}, el('tr', {}, head.map((cell) => el('th', { scope: 'col' }, cell)))),
      el('tbody', {}, body.map((row) => el('tr', {}, row.map((cell) => el('td', { style: 'white-space:pre-line' }, cell)))))));
  const pct = (x) => (100 * x).toFixed(3) + '%';

  // The crop lies behind its drawing, shifted and sized as on the page of the report.
  const look = (of, w, h) => {
    const box = el('div', { class: 'look', style: 'aspect-ratio:' + w + '/' + h });
    const p = of.picture;
    box.append(el('img', { src: p.file, alt: p.alt, style: 'left:' + pct((of.shiftLeftMm || 0) / w) + ';top:' + pct((of.shiftTopMm || 0) / h) + ';width:' + pct(p.widthMm / w) + ';height:' + pct(p.heightMm / h) }));
    box.append(el('img', { class: 'lines', src: of.drawing.file, alt: '' }));
    return box;
  };
  const figure = (of, caption) => el('figure', {}, look(of, of.drawing.widthMm, of.drawing.heightMm), el('figcaption', {}, caption));

  const shown = () => data.entries.map((entry, i) => ({ ...entry, i, page: L().pages[i] })).filter((e) => {
    const words = (e.number + ' ' + e.page.component + ' ' + e.page.place + ' ' + e.page.priority + ' ' + e.page.of).toLowerCase();
    return (state.ranks.size === 0 || state.ranks.has(e.rank)) && (state.change === '' || e.change === state.change)
      && state.text.toLowerCase().split(/\s+/).every((word) => words.includes(word));
  }).sort((a, b) => {
    const by = { number: (e) => e.i, priority: (e) => e.rank, component: (e) => e.page.component, place: (e) => e.place, rate: (e) => e.rateHz, change: (e) => e.change || '' }[state.sort];
    const [x, y] = [by(a), by(b)];
    const order = typeof x === 'string' ? x.localeCompare(y, L().code) : x - y;
    return (state.down ? -order : order) || a.i - b.i;
  });

  function choose(i, focus) {
    state.chosen = i;
    detail();
    for (const row of document.querySelectorAll('tr.row')) row.setAttribute('aria-selected', String(Number(row.dataset.i) === i));
    for (const mark of document.querySelectorAll('.map [data-finding]')) mark.classList.toggle('chosen', mark.dataset.finding === data.entries[i].number);
    history.replaceState(null, '', '#' + data.entries[i].number);
    if (focus) { const at = document.getElementById('detail'); at.focus({ preventScroll: window.innerWidth > 1000 }); if (window.innerWidth <= 1000) at.scrollIntoView(); }
  }

  function head() {
    const w = L().words;
    document.documentElement.lang = L().code;
    document.title = L().title;
    document.getElementById('head').replaceChildren(
      el('div', { class: 'top' },
        el('div', {}, el('p', { class: 'kind' }, w.reportKind), el('h1', {}, L().title)),
        el('div', { role: 'group', 'aria-label': w.evidenceLanguage }, data.languages.map((one, k) =>
          el('button', { type: 'button', lang: one.code, 'aria-pressed': String(k === state.lang), onclick: () => { state.lang = k; all(); } }, one.name)))),
      el('p', { class: 'advice' }, w.coverAdvice),
      el('details', {}, el('summary', {}, L().lead[0] + ' ' + w.evidenceMore),
        el('dl', { class: 'facts' }, L().facts.map((fact) => el('div', {}, el('dt', {}, fact.label), el('dd', {}, fact.text)))),
        L().lead.slice(1).map((text) => el('p', { style: 'max-width:90ch;margin:6px 0' }, text))));
    document.getElementById('foot').replaceChildren(el('h2', { style: 'margin-top:0' }, w.cautions), el('ol', {}, L().cautions.map((text) => el('li', {}, text))));
  }

  function tools() {
    const w = L().words;
    const changes = [...new Set(data.entries.map((e) => e.change).filter(Boolean))];
    return el('form', { class: 'tools', role: 'search', onsubmit: (event) => event.preventDefault() },
      el('label', {}, w.evidenceSearch, el('input', { type: 'search', value: state.text, oninput: (event) => { state.text = event.target.value; list(); } })),
      el('fieldset', {}, el('legend', {}, w.priority), L().priorities.map((name, rank) => {
        if (!data.entries.some((e) => e.rank === rank)) return null;
        return el('label', { class: 'choice' }, el('input', { type: 'checkbox', checked: state.ranks.has(rank), onchange: (event) => { event.target.checked ? state.ranks.add(rank) : state.ranks.delete(rank); list(); } }), bars(rank), name);
      })),
      changes.length === 0 ? null : el('label', {}, w.change, el('select', { onchange: (event) => { state.change = event.target.value; list(); } },
        el('option', { value: '' }, w.evidenceAll), changes.map((change) => el('option', { value: change, selected: change === state.change }, L().changeNames[change] || change)))),
      el('p', { class: 'muted', id: 'count', role: 'status', style: 'margin:0' }));
  }

  function list() {
    const w = L().words;
    const found = shown();
    const column = (key, title, narrow) => el('th', { scope: 'col', class: narrow ? 'hide-narrow' : '', 'aria-sort': state.sort === key ? (state.down ? 'descending' : 'ascending') : 'none' },
      el('button', { type: 'button', onclick: () => { state.down = state.sort === key ? !state.down : key === 'rate'; state.sort = key; list(); document.querySelector('th[aria-sort=ascending] button, th[aria-sort=descending] button').focus(); } }, title));
    const compared = data.entries.some((e) => e.change);
    document.getElementById('list').replaceChildren(el('table', {},
      el('caption', { class: 'muted', style: 'text-align:left;position:absolute;left:-9999px' }, w.tableOfFindings),
      el('thead', {}, el('tr', {}, column('number', w.colFinding), column('priority', w.priority), column('component', w.colComponent), column('place', w.colPlace), column('rate', w.rate, true), compared ? column('change', w.change, true) : null)),
      el('tbody', {}, found.map((e) => el('tr', { class: 'row', 'data-i': String(e.i), 'aria-selected': String(e.i === state.chosen), onclick: () => choose(e.i, true) },
        el('td', {}, el('button', { type: 'button', class: 'open', 'aria-label': w.evidenceOpen + ' ' + e.number, onclick: (event) => { event.stopPropagation(); choose(e.i, true); } }, e.number)),
        el('td', {}, bars(e.rank), e.page.priority), el('td', {}, e.page.component), el('td', {}, e.page.place), el('td', { class: 'hide-narrow', style: 'white-space:pre-line' }, L().rates[e.i]),
        compared ? el('td', { class: 'hide-narrow' }, e.change ? L().changeNames[e.change] : '–') : null)))));
    document.getElementById('count').textContent = w.evidenceShown.replace('{n}', found.length).replace('{all}', data.entries.length);
  }

  function detail() {
    const w = L().words;
    const at = document.getElementById('detail');
    if (data.entries.length === 0) { at.replaceChildren(el('p', {}, w.summaryEmpty)); return; }
    const page = L().pages[state.chosen];
    const order = shown().map((e) => e.i);
    const here = order.indexOf(state.chosen);
    const step = (by) => { const to = order[here + by]; if (to !== undefined) choose(to, true); };
    const part = (title, body) => body === null ? null : [el('h3', {}, title), body];
    at.replaceChildren(
      el('div', { class: 'nav' }, el('span', { class: 'muted' }, page.of),
        el('button', { type: 'button', disabled: here <= 0, onclick: () => step(-1) }, w.evidencePrevious),
        el('button', { type: 'button', disabled: here < 0 || here + 1 >= order.length, onclick: () => step(1) }, w.evidenceNext)),
      el('h2', { style: 'margin-top:0' }, page.number + '  ' + page.component + ', ' + page.place),
      el('p', { style: 'margin:0 0 10px' }, bars(page.rank), el('strong', {}, page.priority)),
      ...(page.overlay === null ? [el('p', { class: 'muted' }, w.noEvidence)] : [
        el('button', { type: 'button', style: 'margin-bottom:8px', 'aria-pressed': String(state.lines), onclick: (event) => {
          state.lines = !state.lines;
          document.getElementById('looks').classList.toggle('plainlook', !state.lines);
          event.currentTarget.setAttribute('aria-pressed', String(state.lines)); } }, w.evidenceLines),
        el('div', { id: 'looks', class: state.lines ? '' : 'plainlook' }, figure(page.overlay, page.overlay.caption),
          el('div', { class: 'pair' },
            page.plain === null ? null : figure(page.plain, page.plain.caption),
            page.second === null ? null : figure(page.second, page.second.caption)))]),
      ...(part(w.blockGrade, rows(page.grade)) || []),
      ...(part(w.blockWhere, rows(page.where)) || []),
      ...(part(w.blockRate, rows(page.strength)) || []),
      ...(page.history.length === 0 ? [] : part(w.history, table([w.colCampaign, w.colSeen, w.rate, w.colRange, w.colWeather, w.priority], page.history))),
      ...(part(w.blockCandidates, table([w.candidate, w.probability, w.distance], page.candidates)) || []),
      ...(part(w.blockConditions, rows(page.conditions)) || []),
      el('div', { class: 'pair', style: 'margin-top:14px' }, [page.side, page.plan].filter(Boolean).map((one) =>
        el('figure', {}, el('img', { class: 'drawing', src: one.image.file, alt: one.image.alt, loading: 'lazy' }), el('figcaption', {}, one.caption)))),
      ...(page.review.length === 0 ? [] : part(w.blockReview, el('p', { style: 'margin:0;white-space:pre-line' }, page.review.join('\n')))),
      ...(page.notes.length === 0 ? [] : part(w.notes, el('ul', {}, page.notes.map((note) => el('li', {}, note))))));
  }

  function all() {
    const w = L().words;
    head();
    const map = el('div', { class: 'map' });
    map.innerHTML = L().mapSvg;
    const svg = map.querySelector('svg');
    if (svg) { svg.setAttribute('role', 'img'); svg.setAttribute('aria-label', w.mapWhole); }
    for (const mark of map.querySelectorAll('[data-finding]')) mark.addEventListener('click', () => choose(data.entries.findIndex((e) => e.number === mark.dataset.finding), true));
    document.getElementById('main').replaceChildren(
      el('details', { open: window.innerHeight > 900 }, el('summary', {}, w.maps), map),
      tools(),
      el('div', { class: 'columns' },
        el('section', { class: 'list', id: 'list', 'aria-label': w.tableOfFindings, tabindex: '0' }),
        el('section', { class: 'detail', id: 'detail', tabindex: '-1', 'aria-label': w.findings })),
      ...(L().changes === null ? [] : [el('h2', {}, w.changes), el('p', { style: 'max-width:90ch' }, L().changes.lead), table(L().changes.head, L().changes.rows)]));
    list();
    if (data.entries.length > 0) choose(state.chosen, false); else detail();
  }

  const asked = data.entries.findIndex((e) => '#' + e.number === location.hash);
  if (asked >= 0) state.chosen = asked;
  const german = data.languages.findIndex((one) => (navigator.language || '').startsWith(one.code));
  if (german >= 0) state.lang = german;
  all();
})();
`;
