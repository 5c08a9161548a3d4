// The class view: the link says what is asked, the server counts; here the curve is drawn.
import { $, Picture, Refused, ask, element, latest, listPlace, onPaper, painted, placeName, problemList, take, texts } from "./frame.js";
import { drawDay, drawSmall } from "./class_curve.js";
import { guessing } from "./class_guess.js";

const CHOICES = JSON.parse($("choices").textContent);
const DAY = 86400000, JULY = Date.UTC(2001, 6, 1);
const THRESHOLDS = ["tmax", "tmin", "base", "upper"];
const PAIRS = { tmax: ["tmin", "tmax"], tmin: ["tmin", "tmax"], base: ["base", "upper"], upper: ["base", "upper"] };
const STILL = matchMedia("(prefers-reduced-motion: reduce)");

let asked = {};     // key -> text, as in the link
let degrees = {};   // tmax, tmin, base, upper in the reader's units
let season = null;  // the server's answer
let drawnFor = "";  // place and units of the season's picture
let sumTop = 1;
let at = 0;         // days from sowing
let started = 0;    // when the input came that is being answered

const sums = new Picture("sums", { onPaper: (spec) => ({ ...spec, height: 220 }) });

// ---- what is asked, and its link

const system = () => (asked.units === "si" ? "si" : "us"); // the server refuses any other
const unitIn = () => (system() === "us" ? "degF" : "degC");
const unitSaid = () => (system() === "us" ? "°F" : "°C");

function fromQuery(query) {
  const given = Object.fromEntries(new URLSearchParams(query)), name = given.place || CHOICES.usual.us.place;
  const shown = given.units || CHOICES.samples[name]?.units || "us";
  return { ...CHOICES.usual[shown === "si" ? "si" : "us"], place: name, units: shown, ...Object.fromEntries(Object.entries(given).filter(([, text]) => text)) };
}

// What the server is asked; that a day is to be guessed is the page's own affair.
const address = () => `?${toQuery()}${guess.on ? "#guess" : ""}`;
const toQuery = () => new URLSearchParams(Object.entries(asked).filter(([, text]) => text)).toString();

function inUnits(text) {
  const [, number, unit] = /^\s*([-+]?[\d.]+)\s*(.*)$/.exec(text) ?? [, NaN, ""];
  if (unit === unitIn()) return Number(number);
  return Math.round(100 * (system() === "us" ? number * 1.8 + 32 : (number - 32) / 1.8)) / 100;
}

const dayOf = (date) => { const [m, d] = date.split("-").map(Number); return Math.round((Date.UTC(m >= 7 ? 2001 : 2002, m - 1, d) - JULY) / DAY); };
const dateOf = (day) => new Date(JULY + day * DAY).toISOString().slice(5, 10);
const inWords = (iso, month = "short") => new Date(`${iso}T00:00:00Z`).toLocaleDateString("en-US", { month, day: "numeric", timeZone: "UTC", ...(month === "long" ? { year: "numeric" } : {}) });

// ---- controls from what is asked

function showControls() {
  for (const one of ["us", "si"]) $(`units-${one}`).checked = asked.units === one;
  for (const span of document.querySelectorAll(".unit")) span.textContent = unitSaid();
  for (const key of THRESHOLDS) {
    const [low, high, step] = CHOICES.sliders[system()][key], value = degrees[key];
    if (!Number.isFinite(value)) continue; // the server says what is wrong with it
    Object.assign($(key), { min: Math.min(low, Math.floor(value)), max: Math.max(high, Math.ceil(value)), step });
    $(key).value = value;
    if (document.activeElement !== $(`${key}-number`) || $(`${key}-number`).checkValidity()) $(`${key}-number`).value = value;
    $(key).setAttribute("aria-valuetext", `${value} ${unitSaid()}`);
  }
  for (const input of document.querySelectorAll("input[name=curve]")) input.checked = input.value === asked.curve;
  for (const input of document.querySelectorAll("input[name=cutoff]")) {
    input.checked = input.value === asked.cutoff;
    input.disabled = !CHOICES.cutoffs[asked.curve]?.includes(input.value);
  }
  $("taken").value = asked.taken;
  if (asked.file && season?.place.key !== asked.place) listPlace($("place"), asked.place, asked.file);
  $("place").value = asked.place;
  $("cereal").value = asked.cereal;
  [$("sow").min, $("sow").max] = CHOICES.days.sow;
  $("sow").value = dayOf(asked.sow);
  $("sow-said").textContent = inWords(`2001-${asked.sow}`);
  $("sow").setAttribute("aria-valuetext", $("sow-said").textContent);
  $("link").value = `${location.origin}/class${address()}`;
  $("link-hint").textContent = asked.file ? `The link names the file ${asked.file}; whoever opens it must choose that file again.` : "";
}

function showSeasonControls() {
  const { key, years, site, first, last } = season.place;
  if (!(key in CHOICES.samples)) listPlace($("place"), key, placeName(season.place));
  $("year").replaceChildren(...years.toReversed().map((year) => element("option", { value: year }, `the fall of ${year}`)));
  $("year").value = season.year;
  Object.assign($("taken"), { min: first, max: last });
  $("taken-at").textContent = `at ${site}`;
  $("on").max = season.days.length - 1;
  $("moves").disabled = false;
}

function drawCurve(width = $("curve").clientWidth - 10) {
  const drawn = drawDay($("curve"), { width, ...degrees, shape: asked.curve, cutoff: asked.cutoff, axis: CHOICES.axis[system()], unit: unitSaid(), hidden: guess.hides(), guessed: guess.points() });
  guess.pictured(drawn);
  $("hatch-said").hidden = !drawn?.off;
  for (const cell of $("day-values").querySelectorAll("td:has(label)")) {
    const [shape, cutoff] = cell.dataset.method.split(" ");
    drawSmall(cell.querySelector(".small"), { ...degrees, shape, cutoff });
  }
}

// ---- answers

const wrong = { day: [], season: [] };
function showProblems(of, found) {
  wrong[of] = found;
  const problems = [...new Map([...wrong.day, ...wrong.season].map((p) => [`${p.where} ${p.what}`, p])).values()];
  for (const bad of document.querySelectorAll("[aria-invalid]")) bad.removeAttribute("aria-invalid");
  for (const { where } of problems) ($(`${where}-number`) ?? $(where))?.setAttribute("aria-invalid", "true");
  $("problems").replaceChildren(...(problems.length ? [element("div", { class: "problem" }, "This cannot be counted; below stands the last that could.",
    problemList(problems))] : []));
}

function fillGrid(id, textOf, own, unit) {
  for (const cell of $(id).querySelectorAll("td[data-method]")) {
    const key = cell.dataset.method, text = textOf(key);
    if (text === undefined) continue;
    const place = cell.querySelector(".value") ?? cell, input = cell.querySelector("input"), chosen = key === `${asked.curve} ${asked.cutoff}`;
    place.textContent = text;
    cell.classList.toggle("chosen", chosen);
    if (input) { input.checked = chosen; input.setAttribute("aria-label", `${CHOICES.names[key]}: ${text} ${unit}`); }
    if (key === own) place.append(element("span", { class: "own", role: "img", "aria-label": "the simulator's own" }, "●"));
  }
}

// Questions anew, each as unfolded as it was.
function showQuestions(id, questions) {
  const open = [...$(id).children].map((one) => one.open);
  if ([...$(id).children].length === questions.length) {
    questions.forEach(({ question, answer }, i) => {
      const [summary] = $(id).children[i].children;
      summary.textContent = question;
      $(id).children[i].replaceChildren(summary, ...texts(answer, "p"));
    });
    return;
  }
  $(id).replaceChildren(...questions.map(({ question, answer }, i) => element("details", open[i] ? { open: "" } : {}, element("summary", {}, question), ...texts(answer, "p"))));
}

function say(id, words) {
  const [line] = $(id).children, text = words.replace(/ (°[CF])(?: (d)\b)?/g, (_, unit, d) => `\u00a0${unit}${d ? "\u00a0d" : ""}`); // a number keeps its unit
  if (line.textContent !== text) line.textContent = text;
}

const askDay = latest(async () => {
  const query = toQuery(), since = started;
  try {
    const found = await (await ask(`/class/day?${query}`)).json();
    showProblems("day", []);
    if (asked.taken) { degrees = { ...degrees, ...found.shown }; showControls(); drawCurve(); }
    $("from").textContent = found.from;
    fillGrid("day-values", (key) => found.values[key], found.own_cell, `${found.unit} d`);
    say("day-said", found.said);
    $("day-own").textContent = found.own;
    $("own-dot").hidden = !found.own_cell;
    $("name-of").textContent = found.name[0].toUpperCase() + found.name.slice(1);
    $("formula").replaceChildren(...found.formula.map((line, i) => element("p", { class: i === found.formula.length - 1 ? "hint" : "formula" }, line)));
    guess.answered(Number(found.values[`${asked.curve} ${asked.cutoff}`]));
    $("working").replaceChildren(...texts(found.working));
    $("chosen-key").textContent = `${found.name}, between the limits above`;
    showQuestions("day-questions", found.questions);
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    showProblems("day", error.problems);
  }
  if (since) {
    await painted();
    performance.measure("input to paint", { start: since, end: performance.now() });
  }
  document.body.dataset.day = query;
});

const rowsNow = () => {
  const all = Object.values(season.sums), chosen = season.sums[`${asked.curve} ${asked.cutoff}`] ?? season.own;
  return {
    sums: { day: season.days, own: season.own, chosen, least: season.days.map((_, i) => Math.min(...all.map((sum) => sum[i]))), most: season.days.map((_, i) => Math.max(...all.map((sum) => sum[i]))) },
    stages: Object.fromEntries(["day", "sum", "above", "under", "narrowest"].map((name) => [name, season.stages.map((s) => s[name])])),
  };
};

const askSeason = latest(async () => {
  const query = toQuery(), since = started;
  try {
    const fresh = drawnFor !== `${asked.place} ${asked.units}`;
    const picture = fresh ? await (await ask(`/class/picture?${query}`)).json() : null;
    season = await (await ask(`/class/season?${query}`)).json();
    showProblems("season", []);
    showSeasonControls();
    at = indexOf(asked.on);
    showQuestions("season-questions", season.questions);
    $("season-title").textContent = `${season.title}.`;
    $("apart").textContent = season.apart;
    const rows = rowsNow(), most = Math.max(...rows.sums.most, ...season.own);
    if (picture) sumTop = picture.top;
    if (most > sumTop) sumTop = 500 * Math.ceil(most / 500); // the axis stands still until a line would leave it
    const signals = { today: season.days[at], sumTop };
    if (picture) {
      sums.data = rows;
      await sums.draw(picture.picture, signals);
      drawnFor = `${asked.place} ${asked.units}`;
    } else await sums.change(rows, signals);
    showUnnamed();
    showDay();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    showProblems("season", error.problems);
  }
  if (since) {
    await painted();
    performance.measure("season to paint", { start: since, end: performance.now() });
  }
  document.body.dataset.season = query;
});

// Which names of stages have no room in the picture; the table has them all.
function showUnnamed() {
  const small = season.stages.filter((s) => s.narrowest > sums.wide).map((s) => `${s.name} on ${s.date.slice(0, -5)}`);
  $("unnamed").textContent = small.length ? `Points without a name: ${small.join(", ")}.` : "";
}

function indexOf(date) {
  const found = season.dates.findIndex((iso) => iso.slice(5) === date);
  return found >= 0 ? found : dayOf(date) < dayOf(asked.sow) ? 0 : season.dates.length - 1;
}

// What stands below the picture, up to the day.
function showDay() {
  const iso = season.dates[at], reached = season.stages.filter((s) => s.at <= at), last = reached.at(-1);
  Object.assign($("on"), { value: at });
  $("on-said").textContent = inWords(iso);
  $("on").setAttribute("aria-valuetext", inWords(iso, "long"));
  const said = (value) => `${Math.round(value).toLocaleString("en-US")} ${season.unit}`;
  fillGrid("sum-values", (key) => season.sums[key] && Math.round(season.sums[key][at]).toLocaleString("en-US"), season.own_cell);
  say("sum-said", `By ${inWords(iso, "long")}, ${at === 0 ? "the day of sowing" : `${at} days after sowing`}: ${said(season.own[at])} by the simulator's own count. ${last ? `The stand has reached ${last.name}.` : "The seed is in the ground."}`);
  $("sum-limits").textContent = `In ${season.unit}, above ${season.base} and up to ${season.upper}, the limits set above. That day: ${season.tmin[at]} to ${season.tmax[at]} ${season.degrees}.`.replaceAll("-", "−");
  $("stages").replaceChildren(...season.stages.map((s) => element("tr", s.at > at ? { class: "to-come" } : {}, element("th", { scope: "row" }, s.name), ...texts([s.zadoks, s.date, String(s.at), s.told], "td"))));
  $("sum-unit").textContent = season.unit;
  $("next").disabled = !season.stages.some((s) => s.at > at);
}

const moveDay = latest(async () => {
  const since = started;
  showDay();
  sums.signals.today = season.days[at];
  await sums.view?.signal("today", season.days[at]).runAsync();
  if (since) {
    await painted();
    performance.measure("day to paint", { start: since, end: performance.now() });
  }
});

function moveTo(index) {
  at = Math.min(Math.max(index, 0), season.days.length - 1);
  asked.on = season.dates[at].slice(5).replace("02-29", "02-28");
  $("link").value = `${location.origin}/class${address()}`;
  return moveDay();
}

// ---- play: runs by itself; where motion is to be reduced, each press is a week

let playing = 0;
function stop() {
  cancelAnimationFrame(playing);
  playing = 0;
  showPlay();
  const [line] = $("sum-said").children, text = line.textContent;
  $("sum-said").setAttribute("aria-live", "polite");
  line.textContent = ""; // or where it came to stand would not be spoken
  requestAnimationFrame(() => { line.textContent ||= text; });
  keepDay();
}

function showPlay() { $("play").textContent = STILL.matches ? "A week on" : playing ? "Stop" : "Let it grow"; }

function play() {
  started = performance.now();
  if (STILL.matches) { moveTo(at + 7 < season.days.length ? at + 7 : at === season.days.length - 1 ? 0 : season.days.length - 1).then(keepDay); return; }
  if (playing) { stop(); return; }
  if (at >= season.days.length - 1) at = 0;
  $("sum-said").setAttribute("aria-live", "off"); // or a reader would speak every day of it
  const from = at, begun = performance.now(), perDay = 35;
  const step = (now) => {
    started = 0;
    moveTo(from + Math.floor(Math.max(now - begun, 0) / perDay));
    if (at >= season.days.length - 1) stop(); else playing = requestAnimationFrame(step);
  };
  playing = requestAnimationFrame(step);
  showPlay();
}

// ---- events

function keep() {
  if (location.search.slice(1) !== toQuery()) history.pushState(null, "", address());
}

// The day to look at is no step of its own to go back by.
function keepDay() { history.replaceState(null, "", address()); }

let settle;
function quietly() {
  $("day-said").setAttribute("aria-busy", "true");
  clearTimeout(settle);
  settle = setTimeout(() => $("day-said").setAttribute("aria-busy", "false"), 500);
}

// A threshold from its slider or number; a slider takes the other of its pair along.
function setThreshold(key, value, along) {
  if (asked.taken && (key === "tmax" || key === "tmin")) for (const one of ["tmax", "tmin"]) asked[one] = `${degrees[one]} ${unitIn()}`;
  if (key === "tmax" || key === "tmin") asked.taken = "";
  const changes = { [key]: value }, [below, above] = PAIRS[key], gap = key === "base" || key === "upper" ? CHOICES.sliders[system()][key][2] : 0;
  if (along && key === below && value > degrees[above] - gap) changes[above] = value + gap;
  if (along && key === above && value < degrees[below] + gap) changes[below] = value - gap;
  for (const [name, set] of Object.entries(changes)) { degrees[name] = set; asked[name] = `${set} ${unitIn()}`; }
  return key === "base" || key === "upper";
}

function dayChanged(event) {
  const { id, name, value, type } = event.target;
  let both = name === "curve" || name === "cutoff";
  if (event.type === "input" && type === "number") return;
  started = event.timeStamp;
  if (both) {
    asked[name] = value;
    if (!CHOICES.cutoffs[asked.curve]?.includes(asked.cutoff)) asked.cutoff = "horizontal";
  } else if (id === "taken") asked.taken = value;
  else if (value !== "") both = setThreshold(id.replace("-number", ""), Number(value), type === "range");
  refresh(both, event.type === "change");
}

// One of the small pictures says both how the day runs and the cutoff.
function methodChosen(event) {
  started = event.timeStamp;
  [asked.curve, asked.cutoff] = event.target.value.split(" ");
  refresh(true, true);
}

function refresh(both, commit) {
  quietly();
  guess.asked();
  showControls();
  drawCurve();
  askDay();
  if (both) askSeason();
  if (commit) keep();
}

function seasonChanged(event) {
  const { id, value } = event.target;
  if (!["place", "year", "cereal", "sow"].includes(id)) return;
  started = event.timeStamp;
  asked[id] = id === "sow" ? dateOf(Number(value)) : value;
  if (id === "place") { asked.year = ""; asked.file = value in CHOICES.samples ? "" : asked.file; if (asked.taken) setThreshold("tmax", degrees.tmax, false); }
  showControls();
  if (id === "place") askDay();
  askSeason();
  if (event.type === "change") keep();
}

function unitsChanged(event) {
  started = event.timeStamp;
  asked.units = event.target.value;
  restore();
  keep();
}

// Everything from what is asked.
function restore() {
  degrees = Object.fromEntries(THRESHOLDS.map((key) => [key, inUnits(asked[key])]));
  refresh(true, false);
}

async function readFile() {
  const file = $("file").files[0];
  if (!file) { $("read-said").textContent = "Choose a file first."; return; }
  $("read-said").textContent = `Reading ${file.name} …`;
  const about = new URLSearchParams({ name: file.name, latitude: $("latitude").value, "units-of-file": $("units-of-file").value });
  try {
    const read = await (await ask(`/weather?${about}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json();
    $("read-said").textContent = `${read.site}: ${read.years.length} falls can be used.`;
    Object.assign(asked, { place: read.key, file: file.name, year: "" });
    restore();
    keep();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    const { problems, more = 0 } = error;
    $("read-said").replaceChildren(element("div", { class: "problem" }, `${file.name} cannot be used.`, problemList(problems, more)));
  }
}

for (const id of ["day-asked", "season-asked"]) {
  for (const kind of ["input", "change"]) $(id).addEventListener(kind, id === "day-asked" ? dayChanged : seasonChanged);
  $(id).addEventListener("submit", (event) => event.preventDefault());
}
$("day-values").addEventListener("change", methodChosen);
for (const system of ["us", "si"]) $(`units-${system}`).addEventListener("change", unitsChanged);
$("own-limits").addEventListener("click", () => {
  started = performance.now();
  for (const key of ["base", "upper"]) { asked[key] = CHOICES.own[system()][key]; degrees[key] = inUnits(asked[key]); }
  refresh(true, true);
});
$("on").addEventListener("input", (event) => { started = event.timeStamp; if (playing) stop(); moveTo(Number(event.target.value)); });
$("on").addEventListener("change", keepDay);
$("play").addEventListener("click", play);
STILL.addEventListener("change", showPlay);
$("next").addEventListener("click", () => {
  started = performance.now();
  if (playing) stop();
  const next = season.stages.find((s) => s.at > at);
  if (next) moveTo(next.at).then(keepDay);
});
$("show-day").addEventListener("click", () => {
  if (playing) stop();
  started = performance.now();
  asked.taken = season.dates[at];
  refresh(false, true);
  $("day-head").scrollIntoView();
});
$("read").addEventListener("click", readFile);
$("print").addEventListener("click", () => print());
for (const button of document.querySelectorAll("[data-get]")) button.addEventListener("click", () => take(`${button.dataset.get}?${toQuery()}`, button.dataset.name, $("take-said")));
onPaper([sums], (width) => { drawCurve(width); if (season) showUnnamed(); });
$("copy").addEventListener("click", async () => {
  $("link").select();
  await navigator.clipboard.writeText($("link").value).catch(() => document.execCommand("copy"));
  $("link-hint").textContent = "The link is copied.";
});
addEventListener("popstate", () => {
  asked = fromQuery(location.search);
  if (guess.on !== (location.hash === "#guess") && ["", "#guess"].includes(location.hash)) guess.set(!guess.on);
  restore();
});
let resized;
addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => { drawCurve(); if (sums.spec && sums.box.clientWidth - 14 !== sums.width) sums.draw(sums.spec, {}).then(showUnnamed); }, 200); });

const guess = guessing({
  day: () => ({ ...degrees, cutoff: asked.cutoff }),
  key: () => `${THRESHOLDS.map((key) => (system() === "us" ? (degrees[key] - 32) / 1.8 : degrees[key]).toFixed(1)).join(" ")} ${asked.curve} ${asked.cutoff}`,
  name: () => CHOICES.names[`${asked.curve} ${asked.cutoff}`] ?? "the method",
  us: () => system() === "us",
  axis: () => CHOICES.axis[system()],
  redraw: () => drawCurve(),
  changed: () => { keepDay(); showControls(); },
});

asked = fromQuery(location.search);
degrees = Object.fromEntries(THRESHOLDS.map((key) => [key, inUnits(asked[key])]));
if (location.hash === "#guess") guess.set(true);
showPlay();
restore();
