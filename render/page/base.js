// What all parts of the page share: what is shown, and short words for looking things up.
const state = {
  view: 'overview', sheet: '', table: '', looks: {}, pick: '',
  query: { text: '', place: '', cable: '', finding: '' },
};
let data = { names: {}, modes: [], texts: [] };

const $ = (selector, root = document) => root.querySelector(selector);
const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];

// An element with properties and children; strings become text, never markup.
function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(properties)) {
    if (key in element) element[key] = value;
    else element.setAttribute(key, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

const announce = (words) => { $('#status').textContent = words; };
const cableOf = (name) => data.names[name]?.c ?? name;
const coresOf = (name) => data.names[name]?.o ?? [];

// A name with what it is part of and what it is made of.
const kin = (name) => [...new Set([name, cableOf(name), ...coresOf(name)])];
