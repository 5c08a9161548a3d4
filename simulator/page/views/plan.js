// Fields of records and plans: what is asked stands in the link, the fields show it, faults stand below them.
import { $, Refused, ask, element, listPlace, placeName, problemList } from "./frame.js";

export const CHOICES = JSON.parse($("choices").textContent);
const TO_SI = { "lb/acre": 1.120851, "kg/ha": 1, inch: 25.4, mm: 1 };
const SHOWN = { "lb/acre": "lb/ac", "kg/ha": "kg/ha", inch: "in", mm: "mm" };
const DAY = 86400000, JULY = Date.UTC(2001, 6, 1);
const PLAN = ["cereal", "soil", "previous-crop", "fertilizer", "sow", "end", "seeding", "nitrogen", "nitrogen-timing", "soil-nitrate", "organic-matter"];
const FIELDS = "[data-list], [data-day], [data-rate], [data-amount], [data-words], [data-choice]";

export const dayOf = (date) => { const [m, d] = date.split("-").map(Number); return Math.round((Date.UTC(m >= 7 ? 2001 : 2002, m - 1, d) - JULY) / DAY); };
export const dateOf = (day) => new Date(JULY + day * DAY).toISOString().slice(5, 10);
export const inWords = (date, form = "short") => new Date(JULY + dayOf(date) * DAY).toLocaleDateString("en-US", { month: form, day: "numeric", timeZone: "UTC" });

export function fill(table, caption, heads, rows) {
  table.replaceChildren(element("caption", {}, caption),
    element("thead", {}, element("tr", {}, ...heads.map((head) => (head ? element("th", { scope: "col" }, head) : element("td"))))),
    element("tbody", {}, ...rows.map(([first, ...rest]) => element("tr", {}, element("th", { scope: "row" }, first), ...rest.map((text) => element("td", {}, text))))));
}

// A view's question. Every plan has keys that begin alike: sides, such as ["a-", "b-"], or [""].
export class Asking {
  // own: the view's keys, as they are where a link does not say them; several: those of a list;
  // limits and spans: between what its own rates and dates are; forget: what another place makes of no use
  constructor({ sides = [""], own = {}, several = [], limits = {}, spans = {}, forget = [], path, changed }) {
    Object.assign(this, { sides, own, several, limits, spans, forget, path, changed, asked: {}, answered: {}, started: 0, given: { ...CHOICES.given }, uploads: { ...CHOICES.given } });
  }

  get units() { return this.asked.units; }
  get massUnit() { return CHOICES.units[this.units]; }
  has(key) { return this.asked[key] !== undefined; }
  get(key) { return this.asked[key] || this.answered[key] || ""; } // answered: what stands in place of what is not said

  fromQuery(query) {
    const given = new URLSearchParams(query), first = CHOICES.usual.us.place;
    const system = given.get("units") ?? CHOICES.samples[given.get(`${this.sides[0]}place`) ?? first] ?? "us";
    this.asked = { units: system === "si" ? "si" : "us", ...this.own };
    const usual = CHOICES.usual[this.units], fresh = ![...given.keys()].some((key) => key.startsWith(this.sides[1] ?? ""));
    this.asked.target = usual.target;
    for (const side of this.sides) for (const key of ["place", "file", ...PLAN]) this.asked[`${side}${key}`] = (fresh && CHOICES.second?.[`${side}${key}`]) || (usual[key] ?? "");
    for (const key of this.several) this.asked[key] = given.getAll(key).filter(Boolean);
    for (const side of this.sides) this.asked[`${side}file`] = this.given[this.asked[`${side}place`]] ?? "";
    for (const [key, value] of given) if (!this.several.includes(key)) this.asked[key] = value;
  }

  toQuery() {
    const made = new URLSearchParams();
    for (const [key, value] of Object.entries(this.asked)) {
      if (Array.isArray(value)) value.forEach((text) => made.append(key, text));
      else if (value) made.append(key, value);
    }
    return made.toString();
  }

  // In a unit; what was given in another is rounded to so much.
  amount(text, unit = this.massUnit, step = 1) {
    const [, number, own] = /^\s*([-+]?[\d.]+)\s*(.*)$/.exec(text) ?? [];
    if (number === undefined) return NaN;
    if (!own || own === unit) return Math.round(number * 10) / 10;
    const factor = TO_SI[own] ?? (own.startsWith("lb") ? TO_SI["lb/acre"] : own.startsWith("in") ? TO_SI.inch : TO_SI[unit]);
    return step * Math.round(number * factor / TO_SI[unit] / step);
  }

  show() {
    for (const system of ["us", "si"]) $(`units-${system}`).checked = this.units === system;
    for (const field of document.querySelectorAll(FIELDS)) {
      const { dataset, id } = field;
      if (dataset.choice !== undefined) field.checked = field.value === this.get(field.name);
      else if (!this.has(id)) continue;
      else if (dataset.list !== undefined) this.choose(id);
      else if (dataset.day !== undefined) this.showDate(field, this.get(id));
      else if (dataset.rate !== undefined) this.showRate(field, this.get(id));
      else if (dataset.amount !== undefined) this.showAmount(id);
      else if (document.activeElement !== field) field.value = this.asked[id];
    }
    $("link").value = `${location.origin}${this.path}?${this.toQuery()}`;
    const named = this.sides.filter((side) => this.asked[`${side}file`]), files = (ours) => named.filter((side) => this.asked[`${side}place`] in CHOICES.given === ours).map((side) => this.asked[`${side}file`]);
    const [started, read] = [files(true), files(false)];
    $("link-hint").textContent = `${started.length ? `It is of ${started[0]}, which the page was started with. ` : ""}${read.length ? `It names ${read.join(" and ")}; whoever opens it must choose the file again.` : ""}`;
  }

  choose(id) {
    const list = $(id), value = this.get(id);
    const name = this.uploads[value] ?? (id.endsWith("place") && this.asked[`${id.slice(0, -5)}file`] || value);
    if (value && (this.uploads[value] || ![...list.options].some((one) => one.value === value))) listPlace(list, value, name);
    list.value = value;
  }

  say(slider, text, aloud = text) {
    $(`${slider.id}-said`).textContent = text;
    slider.setAttribute("aria-valuetext", aloud);
  }

  showDate(slider, text) {
    if (!text) return;
    const [low, high] = this.spans[slider.id] ?? CHOICES.days[slider.id.replace(/^[ab]-|-[ab]$/g, "")], day = dayOf(text);
    Object.assign(slider, { min: Math.min(low, day), max: Math.max(high, day) });
    slider.value = day;
    this.say(slider, inWords(text), inWords(text, "long"));
  }

  rateLimits(id) { return (this.limits[id] ?? { us: CHOICES.ranges.us[id], si: CHOICES.ranges.si[id] })[this.units]; }

  showRate(slider, text) {
    if (!text) return;
    const [min, max, step, unit] = this.rateLimits(slider.id), digits = unit === "inch" ? 1 : 0, value = this.amount(text, unit, 10 ** -digits);
    Object.assign(slider, { min, max, step });
    slider.value = value;
    this.say(slider, `${value.toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: Math.max(digits, 1) })} ${SHOWN[unit]}`);
  }

  showAmount(id) {
    $(`${id}-unit`).textContent = SHOWN[this.massUnit];
    if (document.activeElement !== $(id)) $(id).value = this.amount(this.asked[id], this.massUnit, id === "target" ? 10 : 1);
  }

  // A field's say; commit: it was left, or chosen.
  read(field, commit) {
    const { id, value, name } = field;
    if (name === "units") this.asked.units = value;
    else if (field.dataset.choice !== undefined) this.asked[name] = value;
    else if (field.dataset.day !== undefined) this.asked[id] = dateOf(Number(value));
    else if (field.dataset.rate !== undefined) this.asked[id] = `${value} ${this.rateLimits(id)[3]}`;
    else if (field.dataset.amount !== undefined) {
      if (!commit || value === "") return false;
      this.asked[id] = `${value} ${this.massUnit}`;
    } else if (id.endsWith("place")) this.move(id.slice(0, -5), value, this.given[value] ?? "");
    else if (field.tagName === "SELECT" && this.has(id)) this.asked[id] = value;
    else if (field.dataset.words !== undefined) {
      if (!commit) return false;
      this.asked[id] = value.trim();
    } else return false;
    return true;
  }

  // Another place's years are not this one's.
  move(side, place, file) { Object.assign(this.asked, { [`${side}place`]: place, [`${side}file`]: file }, Object.fromEntries(this.forget.map((key) => [key, ""]))); }

  change(event, commit) {
    if (!this.read(event.target, commit)) return;
    this.started = event.timeStamp;
    this.show();
    if (commit) this.keep();
    this.changed();
  }

  act(change) { change(this.asked); this.started = performance.now(); this.show(); this.keep(); this.changed(); }

  keep() { if (location.search.slice(1) !== this.toQuery()) history.pushState(null, "", `?${this.toQuery()}`); }

  // A key that asks for nothing anew, such as the day that is looked at.
  note(key, value) {
    this.asked[key] = value;
    history.replaceState(null, "", `?${this.toQuery()}`);
    $("link").value = `${location.origin}${this.path}?${this.toQuery()}`;
    document.body.dataset.settled = this.toQuery();
  }

  // A fault stands below its field, in a sentence; what has no field, on top.
  showProblems(problems, what, more = 0) {
    for (const said of document.querySelectorAll(".fault[data-said]")) { said.textContent = ""; delete said.dataset.said; }
    for (const bad of document.querySelectorAll("[aria-invalid]")) bad.removeAttribute("aria-invalid");
    const rest = [];
    for (const problem of problems) {
      const key = problem.where.split(" ")[0], said = $(`${key}-fault`);
      $(key)?.setAttribute("aria-invalid", "true");
      if (!said) { rest.push(problem); continue; }
      said.textContent = `${said.textContent} ${problem.what} ${problem.remedy}`.trim();
      said.dataset.said = "";
      said.closest("details")?.setAttribute("open", "");
    }
    const hint = problems.length > rest.length ? [element("p", {}, "What is wrong stands at its field.")] : [];
    $("problems").replaceChildren(...(problems.length ? [element("div", { class: "problem" }, what, ...hint, ...(rest.length ? [problemList(rest, more)] : []))] : []));
  }

  // Read a file for a side; its place is asked of then.
  async readFile(side) {
    const file = $(`${side}file`).files[0], said = $(`${side}read-said`), fault = $(`${side}file-fault`);
    fault.replaceChildren();
    if (!file) { said.textContent = ""; fault.textContent = "Choose a file first."; return; }
    said.textContent = `Reading ${file.name} …`;
    const about = new URLSearchParams({ name: file.name, latitude: $(`${side}latitude`).value, "units-of-file": $(`${side}units-of-file`).value });
    try {
      const read = await (await ask(`/weather?${about}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json();
      said.textContent = `${read.site}: ${read.years.length} falls can be used, to ${read.last}.`;
      this.given[read.key] = file.name;
      this.uploads[read.key] = placeName(read);
      this.act(() => this.move(side, read.key, file.name));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      said.textContent = "";
      fault.replaceChildren(`${file.name} cannot be used.`, problemList(error.problems, error.more));
    }
  }

  start(forms) {
    for (const form of [...forms, $("units-us"), $("units-si")]) {
      form.addEventListener("input", (event) => { if (event.target.type !== "radio") this.change(event, false); });
      form.addEventListener("change", (event) => this.change(event, true));
      form.addEventListener("submit", (event) => event.preventDefault());
    }
    for (const side of this.sides) $(`${side}read`)?.addEventListener("click", () => this.readFile(side));
    addEventListener("popstate", () => { this.fromQuery(location.search); this.show(); this.changed(); });
    $("print").addEventListener("click", () => print());
    $("copy").addEventListener("click", async () => {
      $("link").select();
      await navigator.clipboard.writeText($("link").value).catch(() => document.execCommand("copy"));
      $("link-hint").textContent = "The link is copied.";
    });
    this.fromQuery(location.search);
    this.show();
    this.changed();
  }
}

// Say in an element that an answer takes long, where none stands there yet; returns how to stop.
export function saidToTakeLong(said) {
  if (said.textContent) return () => {};
  said.textContent = "Working it out …";
  const later = setTimeout(() => { said.textContent = "Working it out; the first time on a machine it takes half a minute or more …"; }, 6000);
  return () => { clearTimeout(later); if (said.textContent.startsWith("Working it out")) said.textContent = ""; };
}

// Draw pictures again where the screen has another width.
export function onResize(pictures) {
  let resized;
  addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => { for (const p of pictures) if (p.spec && p.box.clientWidth - 14 !== p.width) p.draw(p.spec, {}); }, 200); });
}
