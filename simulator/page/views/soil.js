// The soil column through a season: what lies how deep on a day, beside what stands and what rains.
import { $, latest } from "./frame.js";
import { along, area, formatted, line, paper, pointing, scale, svg, upright } from "./drawn.js";
import { fill } from "./plan.js";
import { listYears, view } from "./plan_view.js";

const inWords = (iso, month = "short") => new Date(`${iso}T00:00:00Z`).toLocaleDateString("en-US", { month, day: "numeric", year: "numeric", timeZone: "UTC" }).replace(",", "");
const STILL = matchMedia("(prefers-reduced-motion: reduce)");
const LEFT = 62, RIGHT = 12, TOP = 34, A_DAY = 45; // ms of a day that is played
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
let shown = null, at = 0, playing = 0, across = (day) => day, moved = () => {}, drawnFor = "", tops = {};

function draw(found, width = 0) {
  const fresh = shown === null || found.dates[0] !== shown.dates[0];
  const day = shown?.dates[at];
  shown = found;
  const of = `${found.asked.place} ${found.asked.units}`;
  if (drawnFor !== of) [tops, drawnFor] = [{}, of];
  for (const [name, end] of Object.entries(found.tops)) tops[name] = Math.max(tops[name] ?? 0, end); // axes stand still
  drawColumn(width ? width / 2 : $("column").clientWidth - 2);
  drawSeason(width ? width / 2 : $("season").clientWidth - 2);
  $("day").max = found.dates.length - 1;
  $("soil-hint").textContent = `Nitrate is nitrogen, ${found.units.nitrate} of soil. Water is a share of the soil's volume: below ${formatted(found.held[0], 1)} percent roots get none, above ${formatted(found.held[1], 1)} percent it drains. Light band: in a field like these, from late February on.`;
  const wanted = fresh ? found.dates.findIndex((date) => date.slice(5) === here.get("day")) : found.dates.indexOf(day);
  moveTo(wanted >= 0 ? wanted : found.sown);
}

function drawColumn(width) {
  const { bottoms, units, held } = shown, tall = 346, deep = bottoms.at(-1), half = (width - LEFT - RIGHT - 18) / 2;
  const y = scale([0, deep], [TOP, tall]), sides = [[LEFT, LEFT + half], [LEFT + half + 18, width - RIGHT]];
  const x = [scale([0, tops.nitrate], sides[0]), scale([0, tops.water], sides[1])];
  const layer = (kind, side) => bottoms.map((bottom, i) => svg("rect", { class: kind, x: sides[side][0], y: y(i ? bottoms[i - 1] : 0), height: y(bottom) - y(i ? bottoms[i - 1] : 0) - 1, width: 0 }));
  const nitrate = layer("nitrate", 0), water = layer("water", 1), rooted = svg("rect", { class: "rooted", x: LEFT, y: TOP, width: width - RIGHT - LEFT });
  const front = svg("line", { class: "front", x1: LEFT, x2: width - RIGHT }), word = svg("text", { class: "halo front-said", x: width - RIGHT - 4, "text-anchor": "end" });
  paper($("column"), width, tall + 42, rooted,
    upright(y, [0, deep], { left: LEFT, right: width - RIGHT, title: `depth, ${units.depth}`, digits: 0 }),
    ...nitrate, ...water,
    ...held.map((share) => svg("line", { class: "held", x1: x[1](share), x2: x[1](share), y1: TOP, y2: tall })),
    front, word,
    along(x[0], [0, tops.nitrate], { bottom: tall, right: sides[0][1], count: 3, title: "nitrate", digits: 0 }),
    along(x[1], [0, tops.water], { bottom: tall, right: sides[1][1], count: 3, title: "water, percent" }));
  moved = (day) => {
    nitrate.forEach((bar, i) => bar.setAttribute("width", x[0](shown.nitrate[day][i]) - sides[0][0]));
    water.forEach((bar, i) => bar.setAttribute("width", x[1](shown.water[day][i]) - sides[1][0]));
    const root = shown.roots[day], reach = y(Math.min(root, deep));
    rooted.setAttribute("height", reach - TOP);
    for (const end of ["y1", "y2"]) front.setAttribute(end, reach);
    front.setAttribute("visibility", root > 0 ? "visible" : "hidden");
    word.textContent = root > 0 ? `roots reach ${shown.reach[day]}` : "";
    word.setAttribute("y", reach > tall - 20 ? reach - 6 : reach + 15);
  };
}

function drawSeason(width) {
  const { dates, units, in_field: field, tried } = shown, right = width - RIGHT;
  const panels = [["biomass", 120], ["rain", 60], ["leached", 60]], y = {};
  let top = TOP;
  across = scale([0, dates.length - 1], [LEFT, right]);
  const drawn = [];
  for (const [name, tall] of panels) {
    y[name] = scale([0, tops[name]], [top + tall, top]);
    const title = { biomass: `biomass, ${units.biomass}`, rain: `rain of the day, ${units.rain}`, leached: `nitrate leached, ${units.nitrogen}` }[name];
    drawn.push(upright(y[name], [0, tops[name]], { left: LEFT, right, count: name === "biomass" ? 3 : 2, title }));
    top += tall + 36;
  }
  const along_days = (values, name, from = 0) => values.map((value, i) => [across(i + from), y[name](value)]);
  const bottom = top - 36, months = dates.flatMap((date, i) => (date.endsWith("-01") && (width > 420 || Number(date.slice(5, 7)) % 2) ? [[i, MONTHS[Number(date.slice(5, 7)) - 1]]] : []));
  drawn.push(svg("path", { class: "field-band", d: area(along_days(field[1], "biomass", tried), along_days(field[0], "biomass", tried)) }),
    svg("path", { class: "line made", d: line(along_days(shown.biomass, "biomass")) }),
    ...shown.rain.flatMap((value, i) => (value > 0 ? [svg("line", { class: "drop", x1: across(i), x2: across(i), y1: y.rain(0), y2: y.rain(value) })] : [])),
    svg("path", { class: "line lost", d: line(along_days(shown.leached, "leached")) }),
    svg("g", { class: "axis" }, ...months.map(([i, name]) => svg("text", { x: across(i), y: bottom + 16, "text-anchor": i ? "middle" : "start" }, name))),
    svg("line", { id: "today", class: "cursor", y1: TOP, y2: bottom }));
  paper($("season"), width, bottom + 24, ...drawn);
}

function moveTo(day) {
  at = Math.min(Math.max(day, 0), shown.dates.length - 1);
  moved(at);
  for (const end of ["x1", "x2"]) $("today").setAttribute(end, across(at));
  $("day").value = at;
  $("day-said").textContent = inWords(shown.dates[at]);
  $("day").setAttribute("aria-valuetext", inWords(shown.dates[at], "long"));
  $("pointed").firstElementChild.textContent = shown.said[at];
  if (!playing) fillTable();
}

function fillTable() {
  fill($("table"), `On ${inWords(shown.dates[at])}.`, [`depth, ${shown.units.depth}`, `nitrate, ${shown.units.nitrate}`, "water, percent of the volume"],
    shown.layers.map((name, i) => [name, formatted(shown.nitrate[at][i], 1), formatted(shown.water[at][i], 1)]));
}

// The day to look at is no question of its own.
function keep() { here.note("day", shown.dates[at].slice(5)); }
const move = latest(async (day = Number($("day").value)) => moveTo(day));

// ---- play: only when asked to; where motion is to be reduced, each press is a week

function showPlay() { $("play").textContent = STILL.matches ? "A week on" : playing ? "Stop" : "Play"; }

function stop() {
  cancelAnimationFrame(playing);
  playing = 0;
  $("pointed").setAttribute("aria-live", "polite");
  const said = $("pointed").firstElementChild, text = said.textContent;
  said.textContent = ""; // or where it came to stand would not be spoken
  requestAnimationFrame(() => { said.textContent ||= text; });
  showPlay();
  fillTable();
  keep();
}

function play() {
  if (!shown) return;
  const last = shown.dates.length - 1;
  if (STILL.matches) { moveTo(at === last ? 0 : at + 7); keep(); return; }
  if (playing) { stop(); return; }
  const from = at >= last ? 0 : at, begun = performance.now();
  $("pointed").setAttribute("aria-live", "off"); // or a reader would speak every day of it
  const step = (now) => {
    moveTo(from + Math.floor(Math.max(now - begun, 0) / A_DAY));
    if (at >= last) stop(); else playing = requestAnimationFrame(step);
  };
  playing = requestAnimationFrame(step);
  showPlay();
}

$("day").addEventListener("input", () => { if (!shown) return; if (playing) { const day = Number($("day").value); stop(); $("day").value = day; } move(); });
$("day").addEventListener("change", () => shown && keep());
$("play").addEventListener("click", play);
STILL.addEventListener("change", () => (playing ? stop() : showPlay()));
pointing($("season"), (x) => { if (shown && !playing) moveTo(Math.round((x - LEFT) / Math.max(across(1) - across(0), 1e-9))); });
showPlay();
const here = view({ path: "/soil", draw, own: { year: "", day: "" }, forget: ["year"], filled: (found) => listYears($("year"), found) });
