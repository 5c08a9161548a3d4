// A plan as controls and as a link, for the views of a plan: what is asked, answered and refused.
import { $, Refused, ask, element, latest, painted, problemList, take, texts } from "./frame.js";

const CHOICES = JSON.parse($("choices").textContent);
const TO_SI = { "lb/acre": 1.120851, inch: 25.4, "kg/ha": 1, mm: 1 };
const SHOWN = { "lb/acre": "lb/ac", inch: "in", "kg/ha": "kg/ha", mm: "mm" };
const DAY = 86400000, JULY = Date.UTC(2001, 6, 1), PAPER = 680;
const LEFT_BEHIND = /^(pin-|target$|ended-by$)/;

const dayOf = (date) => { const [m, d] = date.split("-").map(Number); return Math.round((Date.UTC(m >= 7 ? 2001 : 2002, m - 1, d) - JULY) / DAY); };
const dateOf = (day) => new Date(JULY + day * DAY).toISOString().slice(5, 10);
const spoken = (date, month) => new Date(JULY + dayOf(date) * DAY).toLocaleDateString("en-US", { month, day: "numeric", timeZone: "UTC" });
export const inWords = (iso, month = "short") => new Date(`${iso}T00:00:00Z`).toLocaleDateString("en-US", { month, day: "numeric", year: "numeric", timeZone: "UTC" }).replace(",", "");

export function fill(table, caption, heads, rows) {
  table.replaceChildren(element("caption", {}, caption),
    element("thead", {}, element("tr", {}, ...heads.map((head) => element("th", { scope: "col" }, head)))),
    element("tbody", {}, ...rows.map(([first, ...rest]) => element("tr", {}, element("th", { scope: "row" }, first), ...texts(rest, "td")))));
}

// A view at a path: draw(found, width) shows an answer; it is called anew when its room changes.
export function view({ path, draw, ranges = {}, dates = {}, filled = () => {} }) {
  const limits = (rate) => (ranges[rate] ?? Object.fromEntries(Object.entries(CHOICES.ranges).map(([system, of]) => [system, of[rate]])))[system()];
  const spans = { ...CHOICES.days, ...Object.fromEntries(Object.entries(dates).map(([key, ends]) => [key, ends.map(dayOf)])) };
  const controls = () => document.querySelectorAll("[data-key]");
  let asked = {}, change = [], found = null, started = 0;

  const system = () => (asked.units === "si" ? "si" : "us"); // the server refuses any other
  function fromQuery(query) {
    const given = new URLSearchParams(query), name = given.get("place") || CHOICES.usual.us.place;
    const units = given.get("units") || CHOICES.samples[name]?.units || "us";
    const read = { ...CHOICES.usual[units === "si" ? "si" : "us"], place: name, units };
    for (const [key, value] of given) if (key !== "change" && value) read[key] = value;
    change = given.getAll("change").filter(Boolean);
    return Object.fromEntries(Object.entries(read).filter(([key]) => !LEFT_BEHIND.test(key)));
  }
  const toQuery = () => new URLSearchParams([...Object.entries(asked).filter(([, value]) => value), ...change.map((text) => ["change", text])]).toString();
  const texts_of = () => ({ ...found?.asked, ...asked, ...(asked.year === "all" && found ? { year: found.asked.year } : {}) });

  function amount(text, unit) {
    const [, number, own] = /^\s*([-+]?[\d.]+)\s*(.*)$/.exec(text) ?? [, NaN, unit];
    const factor = TO_SI[own] ?? (own.startsWith("lb") ? TO_SI["lb/acre"] : own.startsWith("in") ? 25.4 : TO_SI[unit]);
    return number * factor / TO_SI[unit];
  }

  function showControl(control, text) {
    const { rate, date } = control.dataset;
    if (control.type === "radio") control.checked = control.value === text;
    else if (control.type !== "range") { if (document.activeElement !== control || control.tagName === "SELECT") control.value = text ?? ""; }
    else if (text && date) {
      const [low, high] = spans[date];
      Object.assign(control, { min: low, max: high, step: 1 });
      control.value = dayOf(text);
      say(control, spoken(text, "short"), spoken(text, "long"));
    } else if (text && rate) {
      const [low, high, step, unit] = limits(rate), value = amount(text, unit);
      Object.assign(control, { min: low, max: high, step });
      control.value = value;
      const digits = unit === "inch" ? 1 : 0;
      say(control, `${value.toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits })} ${SHOWN[unit]}`);
    }
  }

  function say(control, text, aloud = text) { $(`${control.id}-said`).textContent = text; control.setAttribute("aria-valuetext", aloud); }

  function showControls() {
    const now = texts_of(), place = found?.place;
    for (const one of ["us", "si"]) $(`units-${one}`).checked = system() === one;
    if (place && ![...$("place").options].some((o) => o.value === place.key)) $("place").append(element("option", { value: place.key }, `${place.site} (your file)`));
    if ($("year") && found?.years && $("year").dataset.of !== place.key) {
      $("year").replaceChildren(...found.years.toReversed().map((year) => element("option", { value: year }, `the fall of ${year}`)));
      $("year").dataset.of = place.key;
    }
    for (const control of controls()) showControl(control, now[control.dataset.key]);
    filled(now);
    $("link").value = `${location.origin}${path}?${toQuery()}`;
    $("link-hint").textContent = asked.file ? `The link names the file ${asked.file}; whoever opens it must choose that file again.` : "";
  }

  function read(control, commit) {
    const { key, rate, date } = control.dataset;
    if (control.name === "units") asked.units = control.value;
    else if (!key || (control.type === "text" && !commit)) return false; // half a word is no fault
    else if (key === "place") asked = { ...asked, place: control.value, year: "all", file: "" };
    else if (control.type === "range" && date) asked[key] = dateOf(Number(control.value));
    else if (control.type === "range") asked[key] = `${control.value} ${limits(rate)[3]}`;
    else asked[key] = control.value.trim();
    return true;
  }

  function refuse(problems, more = 0) {
    for (const control of document.querySelectorAll("[aria-invalid]")) control.removeAttribute("aria-invalid");
    for (const fault of document.querySelectorAll(".ask-fault")) fault.textContent = "";
    const elsewhere = [];
    for (const problem of problems) {
      const fault = $(`${problem.where}-fault`), control = $(problem.where) ?? document.querySelector(`[data-key="${problem.where}"]`);
      if (!fault) { elsewhere.push(problem); continue; }
      fault.textContent = `${problem.what} ${problem.remedy}`;
      control?.setAttribute("aria-invalid", "true");
      if (fault.closest("details")) fault.closest("details").open = true;
    }
    for (const id of ["said", "rest"]) $(id).classList.toggle("stale", problems.length > 0);
    $("problems").replaceChildren(...(problems.length ? [element("div", { class: "problem" }, "This cannot be grown; below stands the last that could.",
      ...(elsewhere.length || more ? [problemList(elsewhere, more)] : []))] : []));
  }

  function show() {
    $("said").replaceChildren(element("p", { class: "first" }, found.first));
    $("rest").replaceChildren(...texts(found.rest, "p"));
    $("in-words").textContent = found.in_words;
    $("cautions").replaceChildren(...texts(found.cautions));
    $("command").textContent = found.command;
    $("command-part").hidden = !found.command;
    $("to-field").href = `/?${found.to_field}`;
    $("changed").hidden = !found.changes.length;
    $("changed").firstElementChild.textContent = `The weather is changed: ${found.changes.join("; ")}.`;
    draw(found);
  }

  const refresh = latest(async () => {
    const query = toQuery(), since = started;
    try {
      found = await (await ask(`${path}/answer?${query}`)).json();
      refuse([]);
      showControls();
      show();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      refuse(error.problems, error.more);
    }
    if (since) {
      await painted();
      performance.measure("input to paint", { start: since, end: performance.now() });
    }
    document.body.dataset.settled = query;
  });

  let settle;
  function changed(event, commit) {
    if (!read(event.target, commit)) return;
    started = event.timeStamp;
    const busy = (now) => { for (const id of ["said", "rest"]) $(id).setAttribute("aria-busy", now); };
    busy(true); // a screen reader waits until the slider rests
    clearTimeout(settle);
    settle = setTimeout(busy, 500, false);
    showControls();
    if (commit && location.search.slice(1) !== toQuery()) history.pushState(null, "", `?${toQuery()}`);
    refresh();
  }

  function act(what) { what(); started = performance.now(); showControls(); history.pushState(null, "", `?${toQuery()}`); refresh(); }

  async function readFile() {
    const file = $("file").files[0];
    if (!file) { $("read-said").textContent = "Choose a file first."; return; }
    $("read-said").textContent = `Reading ${file.name} …`;
    const about = new URLSearchParams({ name: file.name, latitude: $("latitude").value });
    try {
      const taken = await (await ask(`/weather?${about}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json();
      $("read-said").textContent = `${taken.site}: ${taken.years.length} falls can be used.`;
      act(() => Object.assign(asked, { place: taken.key, file: file.name, year: "all" }));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      $("read-said").replaceChildren(element("div", { class: "problem" }, `${file.name} cannot be used.`, problemList(error.problems, error.more)));
    }
  }

  function listen() {
    for (const heard of [$("asked"), $("units-us"), $("units-si")]) {
      heard.addEventListener("input", (event) => changed(event, false));
      heard.addEventListener("change", (event) => changed(event, true));
    }
    $("asked").addEventListener("submit", (event) => event.preventDefault());
    $("as-recorded").addEventListener("click", () => act(() => { change = []; }));
    $("read").addEventListener("click", readFile);
    $("print").addEventListener("click", () => print());
    $("csv").addEventListener("click", () => take(`${$("csv").dataset.get}?${toQuery()}`, $("csv").dataset.name, $("take-said")));
    $("copy").addEventListener("click", async () => {
      $("link").select();
      await navigator.clipboard.writeText($("link").value).catch(() => document.execCommand("copy"));
      $("take-said").textContent = "The link is copied.";
    });
    addEventListener("popstate", () => { asked = fromQuery(location.search); showControls(); refresh(); });
    addEventListener("beforeprint", () => { if (found) draw(found, PAPER); });
    addEventListener("afterprint", () => { if (found) draw(found); });
    let resized;
    addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => { if (found) draw(found); }, 150); });
  }

  listen();
  asked = fromQuery(location.search);
  showControls();
  refresh();
  // a key of its own that asks for nothing anew, such as the day that is looked at
  return { keep(key, value) { asked[key] = value; history.replaceState(null, "", `?${toQuery()}`); $("link").value = `${location.origin}${path}?${toQuery()}`; document.body.dataset.settled = toQuery(); }, given: (key) => asked[key] };
}
