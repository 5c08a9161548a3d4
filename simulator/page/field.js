// One field: what is asked stands in the link, the controls show it, the server answers.
import { $, Picture, Refused, ask, element, latest, listPlace, onPaper, painted, placeName, problemList, rowsOf, take, texts } from "./frame.js";
import { followRemedies, listenRemedies, listenSheet, showHeadline } from "./field_bench.js";
import { Cursor } from "./field_cursor.js";
import { drawGrowth, growthRows } from "./field_growth.js";
import { isPrice, listen, readPrice, refusePrices, sameSeasons, showPrices } from "./prices.js";

const CHOICES = JSON.parse($("choices").textContent);
const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
const SPANS = { "October to December": "oct..dec", "January to March": "jan..mar", "October to March": "oct..mar", September: "september", ...Object.fromEntries(["October", "November", "December", "January", "February", "March", "April"].map((m) => [m, m.toLowerCase()])) };
const PLAN = ["cereal", "soil", "previous-crop", "fertilizer", "sow", "seeding", "nitrogen", "nitrogen-timing", "end", "soil-nitrate", "organic-matter"];
const MEASURED = ["soil-nitrate", "organic-matter"];
const LISTS = ["soil", "previous-crop", "cereal", "fertilizer", "ended-by"];
const RATES = ["seeding", "nitrogen", "target"];
const TO_SI = { "lb/acre": 1.120851, inch: 25.4, degF: 1 / 1.8, "kg/ha": 1, mm: 1, degC: 1 };
const SHOWN = { "lb/acre": "lb/ac", inch: "in", degF: "°F", "kg/ha": "kg/ha", mm: "mm", degC: "°C" };
const DAY = 86400000, JULY = Date.UTC(2001, 6, 1), REST = 60;  // ms that a handle rests
const season = new Picture("season", { onPaper: onOnePage });
const chance = new Picture("chance", { paper: 370, onPaper: (spec) => ({ ...spec, height: 130 }) });
const growth = new Picture("growth", { beside: 58, beneath: 56 });
const pictures = [growth, season, chance];
const cursor = new Cursor(growth, season, $("day"));

let asked = {};      // key -> text, as in the link; change: list; pin: object or null
let place = null;    // what the server says of it
let tops = {};       // where the axes end
let lowest = 0;      // to where the axis of biomass goes at the least
let span = [];       // the first and the last day of the pictures
let drawnFor = "";   // place and units of the pictures
let started = 0;     // when the input came that is being answered

// ---- what is asked, and its link

const units = () => asked.units;
const usual = (system, name) => ({ ...CHOICES.usual[system], place: name });

function fromQuery(query) {
  const given = new URLSearchParams(query), name = given.get("place") || CHOICES.usual.us.place;
  const system = given.get("units") || CHOICES.samples[name]?.units || "us";
  const read = { ...usual(system === "si" ? "si" : "us", name), units: system, change: given.getAll("change"), pin: null };
  for (const [key, value] of given) {
    if (key.startsWith("pin-")) (read.pin ??= {})[key.slice(4)] = value;
    else if (key !== "change") read[key] = value;
  }
  return read;
}

function toQuery(what = asked) {
  const made = new URLSearchParams();
  for (const [key, value] of Object.entries(what)) {
    if (key === "change") value.forEach((text) => made.append("change", text));
    else if (key === "pin") Object.entries(value ?? {}).forEach(([part, text]) => made.append(`pin-${part}`, text));
    else if (value) made.append(key, value);
  }
  return made.toString();
}

// ---- amounts and dates between links, sliders and readers

function amount(text, unit) {
  const [, number, own] = /^\s*([-+]?[\d.]+)\s*(.*)$/.exec(text) ?? [, NaN, unit];
  const factor = TO_SI[own] ?? (own.startsWith("lb") ? TO_SI["lb/acre"] : own.startsWith("in") ? 25.4 : TO_SI[unit]);
  return number * factor / TO_SI[unit];
}

const rangeOf = (key) => CHOICES.ranges[units()][key];
const dayOf = (date) => { const [m, d] = date.split("-").map(Number); return Math.round((Date.UTC(m >= 7 ? 2001 : 2002, m - 1, d) - JULY) / DAY); };
const dateOf = (day) => new Date(JULY + day * DAY).toISOString().slice(5, 10);
const NAMED = Object.fromEntries(["short", "long"].map((month) => [month, new Intl.DateTimeFormat("en-US", { month, day: "numeric", timeZone: "UTC" })]));
const inWords = (date, form = "short") => NAMED[form].format(JULY + dayOf(date) * DAY);
const DIGITS = [0, 1].map((digits) => new Intl.NumberFormat("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits }));

function spelled(value, unit) {
  const digits = unit === "inch" || unit.startsWith("deg") ? 1 : 0;
  return `${DIGITS[digits].format(Math.round(value * 10) / 10)} ${SHOWN[unit]}`;
}

function say(key, text, aloud = text) { $(`${key}-said`).textContent = text; $(key).setAttribute("aria-valuetext", aloud); }

function setSlider(key, low, high, step, value) {
  const slider = $(key);
  slider.min = low; slider.max = high; slider.step = step; slider.value = value;
}

// ---- controls from what is asked

const RAIN = /^rain ([a-z]+) = ([\d.]+ (?:inch|mm))$/i, WARM = /^temperature ([a-z.]+) ([+-]) ([\d.]+ deg[FC])$/i;

function readChanges() {
  const found = { rain: null, warm: null, words: [] };
  for (const text of asked.change) {
    const rain = RAIN.exec(text), warm = WARM.exec(text);
    const month = rain && MONTHS.findIndex((name) => name.toLowerCase().startsWith(rain[1].toLowerCase()));
    if (rain && !found.rain && month >= 0) found.rain = { month, text: rain[2] };
    else if (warm && !found.warm && Object.values(SPANS).includes(warm[1].toLowerCase())) found.warm = { span: warm[1].toLowerCase(), text: `${warm[2] === "-" ? "-" : ""}${warm[3]}` };
    else found.words.push(text);
  }
  return found;
}

function showTiming() {
  const timing = asked["nitrogen-timing"], date = /\d{1,2}-\d{1,2}/.exec(timing)?.[0];
  const form = Object.entries(CHOICES.shares).find(([, text]) => text === (date ? timing.replace(date, "{}") : timing));
  const list = $("share"), own = list.querySelector("option[value=own]");
  own?.remove();
  if (form) list.value = form[0];
  else list.append(element("option", { value: "own", selected: "" }, timing));
  const dated = Boolean(form && date);
  $("fed").disabled = !dated;
  const fed = date ?? "02-15";
  setSlider("fed", ...CHOICES.days.fed, 1, dayOf(fed));
  if (dated) say("fed", inWords(fed), inWords(fed, "long")); else say("fed", "–", "no date");
}

let yearsOf = null;  // the place whose falls the list has
function showYears() {
  if (yearsOf === null || yearsOf !== place?.key) {
    $("year").replaceChildren(element("option", { value: "all" }, place ? `all ${place.years.length} falls` : "all falls"),
      ...(place?.years ?? []).toReversed().map((year) => element("option", { value: year }, `the fall of ${year}`)));
    yearsOf = place?.key ?? null;
  }
  if (![...$("year").options].some((o) => o.value === asked.year)) $("year").append(element("option", { value: asked.year }, asked.year));
}

function showControls() {
  for (const system of ["us", "si"]) $(`units-${system}`).checked = units() === system;
  if (place && !(place.key in CHOICES.samples)) listPlace($("place"), place.key, placeName(place));
  $("place").value = asked.place;
  showYears();
  $("year").value = asked.year;
  for (const key of LISTS) $(key).value = asked[key];
  for (const key of MEASURED) if (document.activeElement !== $(key)) $(key).value = asked[key];
  if (MEASURED.some((key) => asked[key])) $("measured").open = true;
  for (const key of ["sow", "end"]) {
    setSlider(key, ...CHOICES.days[key], 1, dayOf(asked[key]));
    say(key, inWords(asked[key]), inWords(asked[key], "long"));
  }
  for (const key of RATES) {
    const [low, high, step, unit] = rangeOf(key), value = amount(asked[key], unit);
    setSlider(key, low, high, step, value);
    say(key, spelled(key === "target" ? 10 * Math.round(value / 10) : value, unit));  // biomass to tens
    const [number, given] = asked[key].split(/ (.*)/);
    $(`${key}-said`).title = given && given !== unit ? `given as ${number} ${SHOWN[given] ?? given}` : "";
  }
  showTiming();
  showChanges();
  const climate = CHOICES.samples[asked.place]?.climate;
  $("climate").textContent = climate ? `${climate} An invented place, its weather made, not measured.` : place ? `${place.invented ? "An invented place, its weather made, not measured" : asked.file ? `From ${asked.file}` : "From your file"}: ${place.first} to ${place.last}, ${Number(place.latitude).toFixed(1)} degrees north.` : "";
  $("unpin").hidden = !asked.pin;
}

function showChanges() {
  const { rain, warm, words } = readChanges();
  const [low, high, step, unit] = rangeOf("rain");
  $("rain-on").checked = Boolean(rain);
  if (rain) $("rain-month").value = rain.month;
  const month = Number($("rain-month").value), was = parseFloat(place?.rain?.[month] ?? "");
  const value = rain ? amount(rain.text, unit) : was || low;
  setSlider("rain", low, high, step, value);
  say("rain", rain ? spelled(value, unit) : "as it was", rain ? `${spelled(value, unit)} every ${MONTHS[month]}` : "as recorded");
  $("rain-was").textContent = place?.rain ? `(${place.rain[month]} as recorded, on average)` : "";
  const degrees = warm ? amount(warm.text, rangeOf("warmth")[3]) : 0;
  if (warm) $("warm-span").value = warm.span;
  setSlider("warmth", ...rangeOf("warmth").slice(0, 3), degrees);
  say("warmth", degrees ? `${degrees > 0 ? "+" : "−"}${spelled(Math.abs(degrees), rangeOf("warmth")[3])}` : "as it was",
    degrees ? `${spelled(Math.abs(degrees), rangeOf("warmth")[3])} ${degrees > 0 ? "warmer" : "cooler"}` : "as recorded");
  if (document.activeElement !== $("words")) $("words").value = words.join("; ");
  $("as-recorded").disabled = !asked.change.length;
}

// ---- what is asked from a control

function readWeather(id) {
  const now = readChanges(), rainUnit = rangeOf("rain")[3], warmUnit = rangeOf("warmth")[3], made = [];
  const month = MONTHS[$("rain-month").value];
  const rain = id === "rain" || (id === "rain-on" ? $("rain-on").checked : Boolean(now.rain));
  if (rain) made.push(`rain ${month.toLowerCase()} = ${id === "rain" || !now.rain ? `${$("rain").value} ${rainUnit}` : now.rain.text}`);
  const step = id === "warmth" || !now.warm ? Number($("warmth").value) : amount(now.warm.text, warmUnit);
  if (step) made.push(`temperature ${$("warm-span").value} ${step > 0 ? "+" : "-"} ${id === "warmth" || !now.warm ? `${Math.abs(step)} ${warmUnit}` : now.warm.text.replace("-", "")}`);
  const words = id === "words" ? $("words").value.split(";").map((text) => text.trim()).filter(Boolean) : now.words;
  asked.change = [...made, ...words];
}

function readControl(control, commit) {
  const { id, value, name } = control;
  if (control.dataset.price !== undefined) return readPrice(control, asked, commit);
  if (name === "units") asked.units = value;
  else if (id === "place") { asked = { ...asked, place: value, year: "all", file: "" }; }
  else if (id === "year" || LISTS.includes(id)) asked[id] = value;
  else if (MEASURED.includes(id)) asked[id] = value.trim();
  else if (id === "sow" || id === "end") asked[id] = dateOf(Number(value));
  else if (RATES.includes(id)) asked[id] = `${value} ${rangeOf(id)[3]}`;
  else if (id === "share" || id === "fed") {
    const form = CHOICES.shares[$("share").value];
    if (form) asked["nitrogen-timing"] = form.replace("{}", dateOf(Number($("fed").value)));
  } else if (id === "rain-month" && !$("rain-on").checked) { /* nothing is changed yet */ }
  else if (["rain-on", "rain-month", "rain", "warm-span", "warmth", "words"].includes(id)) readWeather(id);
  else return false;
  return true;
}

// ---- the answer

function showProblems(problems, more = 0) {
  for (const bad of document.querySelectorAll("[aria-invalid]:not([data-price])")) {
    bad.removeAttribute("aria-invalid");
    bad.removeAttribute("aria-errormessage");
  }
  for (const said of document.querySelectorAll("p.fault.at-field")) said.remove();
  const controls = { "nitrogen-timing": "share", change: "words" }, elsewhere = [], marked = new Set();
  for (const problem of problems) {
    const control = $(controls[problem.where] ?? problem.where);
    if (!control || !control.closest("#asked")) { elsewhere.push(problem); continue; }
    const { id } = control, text = `${problem.what} ${problem.remedy}`;
    if (marked.has(id)) { $(`${id}-wrong`).append(` ${text}`); continue; }
    marked.add(id);
    control.setAttribute("aria-invalid", "true");
    control.setAttribute("aria-errormessage", `${id}-wrong`);
    control.closest(".row").after(element("p", { class: "fault at-field", id: `${id}-wrong`, role: "alert" }, text));
  }
  document.querySelector("p.fault.at-field")?.scrollIntoView({ block: "nearest" });
  for (const id of ["answer", "rest"]) $(id).classList.toggle("stale", problems.length > 0);
  const where = marked.size ? " What is wrong stands at its field." : "";
  if (problems.length && !answer) $("answer").replaceChildren(element("p", { class: "first" }, "Nothing is grown yet."));
  $("problems").replaceChildren(...(problems.length ? [element("div", { class: "problem" },
    `This cannot be grown${answer ? "; below stands the last that could" : ""}.${where}`, ...(elsewhere.length || more ? [problemList(elsewhere, more)] : []))] : []));
}

function fill(table, caption, heads, rows, last = "") {
  table.replaceChildren(element("caption", {}, caption),
    element("thead", {}, element("tr", {}, ...heads.map((head) => element("th", { scope: "col" }, head)))),
    element("tbody", {}, ...rows.map(([first, ...rest]) => element("tr", first === last ? { class: "total" } : {}, element("th", { scope: "row" }, first), ...texts(rest, "td")))));
}

function showCost(found, query) {
  fill($("cost"), units() === "us" ? "By the acre." : "By the hectare.", ["item", "this plan", ...(asked.pin ? ["pinned plan"] : [])], found.cost.rows, "total");
  $("cost-said").textContent = found.cost.said;
  $("cost-caution").textContent = found.cost.caution;
  $("command").textContent = found.command;
  showPrices(found.cost, query);
}

function showSight(found) {
  showHeadline(found);
  $("key").replaceChildren(...Object.entries(found.labels).map(([name, text]) => element("li", { class: name }, text)));
  $("words-made").textContent = asked.change.length ? `Now changed: ${asked.change.join("; ")}.` : "";
  $("pinned-said").textContent = found.pinned ? `Pinned: ${found.pinned}.` : "";
}

function showRest(found) {
  $("rest").replaceChildren(...texts(found.sentences, "p"));
  $("caution").textContent = found.cautions.slice(0, 2).join(" ");
  $("cautions").replaceChildren(...texts(found.cautions));
  $("notes").replaceChildren(...texts(found.notes));
  const names = Object.values(found.heads);
  const mean = asked.year === "all" && names.length ? "Means over the falls, of stages the median, on the last day." : "On the last day.";
  fill($("numbers"), mean, ["what", ...names], found.numbers);
  $("stages").parentElement.hidden = !found.stages.length;  // nothing came up
  fill($("stages"), asked.year === "all" ? "The day on which half of the falls have reached a stage." : "The day on which a stage is reached.", ["stage", ...names], found.stages);
  $("chance-said").replaceChildren(element("p", {}, found.chance.said), element("ul", { class: "key" }, ...found.chance.rows.map(([name, text]) => element("li", { class: name }, text))));
  $("in-words").textContent = found.asked;
  const all = asked.year === "all";
  $("season-said").textContent = `${all ? "Lines: the mean of the falls on each day" : "Lines: the one fall"}; dark band: 8 of 10 falls; thin lines: single falls; bars at the end: in a field like these. Rain, drainage and losses are summed from September.`;
}

function axesFor(highest) {
  for (const [name, seen] of Object.entries(highest)) {
    if (name === "coldest" ? seen < tops[name] : seen > tops[name]) tops[name] = name === "coldest" ? 10 * Math.floor(seen / 10) : rounded(seen);
  }
  const { made, biomass, ...season } = tops;
  return { season, growth: { biomass }, chance: { made } };
}

function rounded(value) {
  const power = 10 ** Math.floor(Math.log10(Math.max(value, 1e-9)));
  return [1, 1.2, 1.4, 1.6, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10].find((step) => step * power >= value * 1.02 || step === 10) * power;
}

// The season so low that the answer has room above it: its last panels abreast, each with its months.
function onOnePage(spec) {
  const { layer, title } = growth.spec, [stages, ...low] = structuredClone(spec.vconcat);
  for (const panel of low) {
    panel.height = 92;
    for (const { encoding } of panel.layer) if (encoding.x) Object.assign(encoding.x.axis, { labels: true, ticks: true, domain: true });
  }
  return { ...spec, params: [...spec.params, ...growth.spec.params], datasets: { ...growth.spec.datasets, ...spec.datasets, ...drawnRows(PAPER_PLOT) },
    vconcat: [{ layer, title, height: PAPER_PLOT.high }, { ...stages, height: 112 }, { hconcat: low, spacing: 14 }] };
}

const PAPER_PLOT = { wide: 780, high: 120 };  // of growth [px]
const drawnRows = (size) => Object.fromEntries(Object.entries(growthRows(answer, tops.biomass, size, span)).map(([name, columns]) => [name, rowsOf(columns)]));

async function drawPictures(query) {
  const made = await (await ask(`/pictures?${query}`)).json();
  place = { ...made.place, rain: made.rain };
  ({ tops, span, lowest } = made);
  const axes = axesFor({});
  for (const [name, picture] of Object.entries({ growth, season, chance })) [picture.spec, picture.signals] = [made[name], axes[name]];
  drawnFor = `${asked.place} ${units()}`;
}

function showWay({ came, went, most, said, unit }, heads) {
  const bar = (value) => element("td", {}, element("span", { class: "amount" }, value.toFixed(0)), element("i", { class: "bar", style: `width:${(100 * value / most).toFixed(1)}%` }));
  const side = (name, rows) => element("tbody", {}, element("tr", {}, element("th", { scope: "rowgroup", colspan: 1 + Object.keys(heads).length }, name)),
    ...rows.map(([what, ...values], i) => element("tr", i === rows.length - 1 ? { class: "total" } : {}, element("th", { scope: "row" }, what),
      ...values.map((value, of) => { const cell = i === rows.length - 1 ? element("td", {}, value.toFixed(0)) : bar(value); cell.classList.add(Object.keys(heads)[of]); return cell; }))));
  $("way-said").textContent = said;
  $("way").replaceChildren(element("caption", {}, `Nitrogen, ${unit}, from September to the end of the stand${asked.year === "all" ? "; means over the falls" : ""}.`),
    element("thead", {}, element("tr", {}, ...["", ...Object.values(heads)].map((head) => (head ? element("th", { scope: "col" }, head) : element("td"))))),
    side("It came from", came), side("It went to", went));
}

let answer = null, grown = "";  // the last, and what it answers
let plot = null;  // where growth lies in its box [px]
function pointed() {
  const us = units() === "us", { rows, falls, heads } = answer;
  cursor.take({ rows, falls, heads, span, top: tops.biomass,
    units: us ? { biomass: "lb/ac", water: "in", nitrogen: "lb/ac", air: "°F" } : { biomass: "kg/ha", water: "mm", nitrogen: "kg/ha", air: "°C" },
    digits: { water: us ? 1 : 0, air: us ? 0 : 1 } });
}

async function frameGrowth() {
  await growth.draw(growth.spec, {});
  [plot] = cursor.frames(growth.box);
}

const drawGrown = () => plot && drawGrowth(growth.box, plot, answer, tops.biomass, span);

function takeIn(found) {
  answer = { ...answer, ...found, rows: { ...answer?.rows, ...found.rows } };
  highest = { ...highest, ...found.highest };
  return axesFor(found.highest);
}

async function answerAnew(query) {
  const fresh = drawnFor !== `${asked.place} ${units()}`;
  if (fresh) await drawPictures(query);
  const found = await (await ask(`/answer${fresh ? "" : "/sight"}?${query}`)).json();
  const axes = takeIn(found);
  grown = query;
  showProblems([]);
  showSight(found);
  if (fresh) { showControls(); await frameGrowth(); }
  if (growth.signals.biomass !== axes.growth.biomass) await growth.change({}, axes.growth);
  drawGrown();
  waiting = async (now) => below(fresh ? found : await (await ask(`/answer/rest?${now}`)).json(), fresh, now);
  if (fresh) await drawWaiting(query);
  followRemedies(query, takeOver);
}

// What stands below the answer and its growth.
async function below(found, fresh, query) {
  if (toQuery() !== query) return;  // the handle has moved on
  const axes = takeIn(found), { curve, goal, fall, days, air, marks } = answer.rows;
  showRest(answer);
  showCost(found, query);
  showWay(found.balance, answer.heads);
  await Promise.all([[season, { days, air, marks }], [chance, { curve, goal, fall }]].map(([picture, data]) => {
    const signals = axes[picture.box.id];
    if (!fresh) return picture.change(data, signals);
    picture.data = data;
    return picture.draw(picture.spec, signals);
  }));
  pointed();
}

let waiting = null;  // what is below, of an older answer
async function drawWaiting(query) {
  const draw = waiting;
  waiting = null;
  await draw?.(query);
}

// Resolves once the handles have rested, or something else is asked.
let wake = () => {};
const rested = () => new Promise((done) => { wake = done; setTimeout(done, REST); });

// Take a remedy over as the plan.
function takeOver(asks) {
  act(() => Object.assign(asked, asks));
}

async function priceAnew(query) {
  const found = await (await ask(`/cost?${query}`)).json();
  showProblems([]);
  showCost(found, query);
}

let highest = {}, answered = "", keeping = false;
const refresh = latest(async () => {
  const query = toQuery(), since = started;
  try {
    if (query === answered) return await drawWaiting(query);
    await (sameSeasons(query, answered) ? priceAnew(query) : answerAnew(query));
    if (keeping) keep();  // a price is kept once it is read
    keeping = false;
    answered = query;
    if (since) {
      await painted();
      performance.measure("input to paint", { start: since, end: performance.now() });
    }
    if (waiting) await rested();
    if (toQuery() === query) await drawWaiting(query);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (refusePrices(error.problems, asked)) {
      keeping = false;
      if (location.search) history.replaceState(null, "", `?${toQuery()}`);
      showLink();
      refresh();
      return;
    }
    showProblems(error.problems, error.more);
    answered = query;
  }
  document.body.dataset.settled = query;
});

// ---- events

let settle;
function changed(event, commit) {
  if (["words", ...MEASURED].includes(event.target.id) && !commit) return;  // half a word is no fault
  if (!readControl(event.target, commit)) return;
  started = event.timeStamp;
  const busy = (now) => { for (const id of ["answer", "prices-said"]) $(id).setAttribute("aria-busy", now); };
  busy(true);  // a screen reader waits until the slider rests
  clearTimeout(settle);
  settle = setTimeout(busy, 500, false);
  if (event.target.type === "range" || commit) showControls();
  showLink();
  if (commit && isPrice(event.target.id)) keeping = true;
  else if (commit) keep();
  wake();
  refresh();
}

function keep() {
  if (location.search.slice(1) !== toQuery()) history.pushState(null, "", `?${toQuery()}`);
}

function showLink() {
  $("link").value = `${location.origin}/?${toQuery()}`;
  $("link-hint").textContent = asked.file ? `The link names the file ${asked.file}; whoever opens it must choose that file again.` : "";
}

function act(change) { change(asked); started = performance.now(); showControls(); showLink(); keep(); wake(); refresh(); }

async function readFile() {
  const file = $("file").files[0];
  $("faults").replaceChildren();
  if (!file) { $("read-said").textContent = "Choose a file first."; return; }
  $("read-said").textContent = `Reading ${file.name} …`;
  const about = new URLSearchParams({ name: file.name, latitude: $("latitude").value, "units-of-file": $("units-of-file").value, "date-format": $("date-format").value, site: $("site").value });
  try {
    const read = await (await ask(`/weather?${about}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json();
    $("read-said").textContent = `${read.site}: ${read.years.length} falls can be used, ${read.years[0]} to ${read.years.at(-1)}.`;
    place = { ...read, rain: null };
    act(() => { asked = { ...asked, place: read.key, file: file.name, year: "all" }; });
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    $("read-said").textContent = "";
    const { problems, more = 0 } = error, table = element("table");
    fill(table, `${file.name} cannot be used: ${problems.length + more} ${problems.length + more === 1 ? "fault" : "faults"}.`, ["where", "what is wrong", "what to do"], problems.map((p) => [p.where, p.what, p.remedy]));
    table.querySelectorAll("td, thead th").forEach((cell) => cell.classList.add("words"));
    $("faults").replaceChildren(element("div", { class: "problem scroll" }, table, ...(more ? [element("p", {}, `and ${more} more like these.`)] : [])));
  }
}

// What was said of another file is not true of this one.
function forgetFile() {
  const kept = ["latitude", "units-of-file", "site", "date-format"].filter((id) => $(id).value);
  kept.forEach((id) => { $(id).value = ""; });
  $("faults").replaceChildren();
  const names = { latitude: "latitude", "units-of-file": "units", site: "site", "date-format": "dates" };
  $("read-said").textContent = kept.length ? `Another file: the ${kept.map((id) => names[id]).join(", ")} said of the last one ${kept.length > 1 ? "are" : "is"} taken out.` : "";
}

async function copyLink() {
  $("link").select();
  await navigator.clipboard.writeText($("link").value).catch(() => document.execCommand("copy"));
  $("take-said").textContent = "The link is copied.";
}

$("rain-month").append(...MONTHS.map((name, i) => element("option", { value: i }, name)));
$("rain-month").value = "10";
$("warm-span").append(...Object.entries(SPANS).map(([name, span]) => element("option", { value: span }, name)));
for (const listener of [$("asked"), $("ended-by"), $("units-us"), $("units-si")]) {
  listener.addEventListener("input", (event) => changed(event, false));
  listener.addEventListener("change", (event) => changed(event, true));
}
$("asked").addEventListener("submit", (event) => event.preventDefault());
$("rain-month").addEventListener("change", () => showChanges());
$("as-recorded").addEventListener("click", () => act(() => { asked.change = []; $("words").value = ""; }));
$("pin").addEventListener("click", () => act(() => { asked.pin = Object.fromEntries(PLAN.map((key) => [key, asked[key]])); }));
$("unpin").addEventListener("click", () => { act(() => { asked.pin = null; }); $("pin").focus(); });
$("fit").addEventListener("click", () => act(() => {
  answered = "";  // the same question, on other axes
  delete document.body.dataset.settled;
  for (const [name, seen] of Object.entries(highest)) if (["biomass", "made", "water", "nitrogen"].includes(name)) tops[name] = name === "biomass" ? Math.max(rounded(seen), lowest) : rounded(seen);
}));
$("read").addEventListener("click", readFile);
$("file").addEventListener("change", forgetFile);
$("copy").addEventListener("click", copyLink);
for (const button of document.querySelectorAll("[data-get]")) button.addEventListener("click", () => take(`${button.dataset.get}?${toQuery()}`, button.dataset.name, $("take-said")));
for (const button of document.querySelectorAll("[data-sheet]")) {
  button.addEventListener("click", () => {
    const file = `${$("sheet").value}.${button.dataset.sheet}`;
    take(`/sheet/${file}?${toQuery()}`, `sheet-${file}`, $("take-said"));
  });
}
addEventListener("popstate", () => { asked = fromQuery(location.search); showControls(); showLink(); refresh(); });
onPaper([season, chance]);
// Growth fills the room that its box has; the others are as wide as theirs.
let resized;
async function redraw() {
  if (!answer || matchMedia("print").matches) return;
  const moved = pictures.filter((picture) => picture.spec && picture.moved());
  await Promise.all(moved.map((picture) => (picture === growth ? frameGrowth() : picture.draw(picture.spec, {}))));
  if (!moved.length) return;
  drawGrown();
  pointed();
}
new ResizeObserver(() => { clearTimeout(resized); resized = setTimeout(redraw, 120); }).observe($("growth"));
addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(redraw, 120); });

listenRemedies(() => grown, takeOver);
listenSheet();
listen(act, problemList);
asked = fromQuery(location.search);
showControls();
showLink();
refresh();
