// What the views share: asking the server, naming faults, drawing pictures that keep their axes.

export const $ = (id) => document.getElementById(id);

export class Refused extends Error {
  constructor(problems, more = 0) { super(problems.map((p) => p.what).join(" ")); this.problems = problems; this.more = more; }
}

// Ask the server; a refusal carries its problems, each with where, what and remedy.
export async function ask(path, options = {}) {
  let response;
  try {
    response = await fetch(path, { credentials: "same-origin", ...options });
  } catch {
    throw new Refused([{ where: "page", what: "The program does not answer.", remedy: "Start it again with: fallsown page" }]);
  }
  if (response.ok) return response;
  const said = await response.json().catch(() => ({}));
  throw new Refused(said.problems ?? [{ where: "page", what: `It answered ${response.status}.`, remedy: "Try again." }], said.more);
}

export function element(name, attributes = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

// A place in a list: its name, and what it is.
export const placeName = ({ site, invented }) => `${site} (${invented ? "invented" : "your file"})`;

// List a place that the page did not know when it was made; what it is called may be known later.
export function listPlace(list, key, name) {
  const known = [...list.options].find((one) => one.value === key);
  if (!known) list.append(element("option", { value: key, "data-listed": "" }, name));
  else if (known.dataset.listed !== undefined) known.textContent = name;
}

// A number below nothing has a minus, which no line breaks at.
export const signed = (text) => String(text).replace(/(^|[ (])-(?=\d)/g, "$1\u2212");

export function texts(list, name = "li") { return list.map((text) => element(name, {}, signed(text))); }

export function problemList(problems, more = 0) {
  const list = element("ul", {}, ...problems.map((p) => element("li", {}, element("strong", {}, p.where), `: ${p.what} ${p.remedy}`)));
  if (more) list.append(element("li", {}, `and ${more} more like these.`));
  return list;
}

// Take a file away; what is said of it stands in an element.
export async function take(address, name, said) {
  said.textContent = "Being made …";
  try {
    const data = await (await ask(address)).blob();
    const link = element("a", { href: URL.createObjectURL(data), download: name });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    said.textContent = `${name} is made.`;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    said.replaceChildren(problemList(error.problems, error.more));
  }
}

// Rows of objects from columns, as the server sends them.
export function rowsOf(columns) {
  const names = Object.keys(columns), length = columns[names[0]].length;
  return Array.from({ length }, (_, i) => {
    const row = {};
    for (const name of names) row[name] = columns[name][i];
    return row;
  });
}

let loading;
function charts() {
  loading ??= import(document.body.dataset.charts).then(() => window.vegaEmbed);
  return loading;
}

const LOW = 190, TITLE = 26; // px: a box under which a picture has no title, and what that takes

const NARROW = 480; // px: a picture whose title is cut short
const PAPER = 860; // a page between its margins, for letters of 9 points [px]

// A picture in an element: its data change, its axes do not unless they are told to.
export class Picture {
  // beside: what axes take of its width; beneath: of its height, where it fills its box;
  // onPaper: its specification there, and paper: the width of its box
  constructor(id, { beside = 78, beneath = 0, paper = PAPER, onPaper = (spec) => spec } = {}) {
    this.box = $(id);
    Object.assign(this, { beside, beneath, paper, onPaper, view: null, data: {}, signals: {} });
  }

  // What is left to the plot of a picture that fills its box; a low one has no title and few ticks.
  plot() {
    const low = this.box.clientHeight < LOW, room = this.box.clientHeight - 14 - this.beneath + (low ? TITLE : 0);
    return { low, wide: Math.max(this.box.clientWidth - 14 - this.beside, 90), high: Math.max(room, 60) };
  }

  // Whether its box has another size than when it was drawn.
  moved() {
    return this.box.clientWidth - 14 !== this.width || (this.beneath > 0 && this.plot().high !== this.high);
  }

  async draw(spec, signals) {
    const width = this.box.clientWidth - 14;
    Object.assign(this, { spec, width, high: this.plot().high });
    Object.assign(this.signals, signals);
    if (width >= 0) await this.embed(spec, width); // or it is not shown on this screen
  }

  async embed(spec, width) {
    const show = await charts();
    const fitted = structuredClone(spec);
    if (width < NARROW && typeof fitted.title === "string") [fitted.title] = fitted.title.split(";");
    fitted.datasets = { ...fitted.datasets, ...Object.fromEntries(Object.entries(this.data).map(([name, columns]) => [name, rowsOf(columns)])) };
    for (const [name, value] of Object.entries(this.signals)) fitted.params.find((p) => p.name === name).value = value;
    const fit = (part, room) => {
      const abreast = part.hconcat ?? [];
      for (const one of abreast) fit(one, room / abreast.length);
      if (!abreast.length) this.wide = part.width = Math.max(room - this.beside, 90);
    };
    for (const part of fitted.vconcat ?? [fitted]) fit(part, width);
    if (this.beneath) this.fill(fitted);
    for (const param of fitted.params) if (param.name === "wide") param.value = this.wide; // which says what names have room
    const { view } = await show(this.box, fitted, { renderer: "svg", actions: false, ast: true, defaultStyle: false, tooltip: false });
    this.view?.finalize();
    this.view = view;
    this.box.querySelectorAll("svg").forEach((svg) => svg.setAttribute("aria-hidden", "true"));
  }

  // Make a picture as high as its box.
  fill(fitted) {
    const { high, low } = this.plot();
    fitted.height = high;
    if (!low) return;
    fitted.title = null;
    for (const { encoding } of fitted.layer) if (encoding?.y?.axis) encoding.y.axis.tickCount = 2;
  }

  async change(data, signals = {}) {
    this.data = data;
    Object.assign(this.signals, signals);
    if (!this.view) return;
    for (const [name, value] of Object.entries(this.signals)) this.view.signal(name, value);
    for (const [name, columns] of Object.entries(data)) this.view.data(name, rowsOf(columns));
    await this.view.runAsync();
  }
}

// On paper pictures are drawn for its page, whatever the screen; a browser sets the page when they are.
export function onPaper(pictures, drawn = () => {}) {
  const shown = () => pictures.filter((p) => p.view);
  addEventListener("beforeprint", () => Promise.all(shown().map((p) => p.embed(p.onPaper(p.spec), p.paper))).then(() => drawn(PAPER)));
  addEventListener("afterprint", () => Promise.all(shown().map((p) => p.draw(p.spec, {}))).then(() => drawn()));
}

// Never more than one in flight, and the latest wins.
export function latest(work) {
  let busy = false, wanted = false;
  return async function run() {
    wanted = true;
    if (busy) return;
    busy = true;
    try {
      while (wanted) { wanted = false; await work(); }
    } finally { busy = false; }
  };
}

// Resolves when what was drawn has been painted.
export const painted = () => new Promise((done) => requestAnimationFrame(() => {
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = () => done();
  port2.postMessage(null);
}));
