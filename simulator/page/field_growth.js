// The picture of growth: every fall, each line and its stages, and at its end its range in a field
// like these and its name, where there is room for it.
import { area, line, svg } from "./drawn.js";

const LETTER = 7.6, GAP = 17, AFTER = 26; // px: a letter, between two names, from a line to its name

// Rows of every fall from its days, years and values.
function fallRows({ series, day, year, biomass }) {
  const rows = { series: [], year: [], day: [], biomass: [] };
  year.forEach((of, i) => day.forEach((on, j) => {
    rows.series.push(series); rows.year.push(of); rows.day.push(on); rows.biomass.push(biomass[i][j]);
  }));
  return rows;
}

// Move names apart that would stand on each other: each as near to its line as the others let it.
function apart(values, least) {
  const order = values.map((_, i) => i).sort((a, b) => values[a] - values[b]), at = [...values];
  for (let i = 1; i < order.length; i += 1) at[order[i]] = Math.max(at[order[i]], at[order[i - 1]] + least);
  return at;
}

function endRows({ name, ...rows }, top, size, span) {
  const kept = rows.biomass.map((value, i) => (value === null ? -1 : i)).filter((i) => i >= 0);
  const of = (column) => kept.map((i) => column[i]);
  const names = of(name), days = of(rows.day);
  const fits = names.map((text, i) => (span[1] - days[i]) / (span[1] - span[0]) * size.wide > AFTER + LETTER * text.length);
  const made = of(rows.biomass), at = apart(made.map((value) => Math.min(value, top)), GAP / size.high * top);
  return {
    series: of(rows.series), day: days, low: of(rows.low), high: of(rows.high), at,
    after: names.map((text, i) => (fits[i] ? text : "")), before: names.map((text, i) => (fits[i] ? "" : text)),
  };
}

// The data of the picture of growth on paper, for a plot of so many pixels whose axis ends at `top`.
export function growthRows(found, top, size, span) {
  const { stand, band, marks } = found.rows;
  return { stand, band, marks, falls: fallRows(found.falls), ends: endRows(found.ends, top, size, span) };
}

const BESIDE = { recorded: 5, changed: 10, pinned: 15 }; // px from a line's end to its range in a field
const DOT = 4.7, ABOVE = 11; // px: half of a stage's point, from the axis to a name

// Each series' rows of columns, in the order of the first.
function bySeries({ series, ...columns }) {
  const found = new Map();
  series.forEach((name, i) => {
    if (!found.has(name)) found.set(name, []);
    found.get(name).push(Object.fromEntries(Object.entries(columns).map(([of, values]) => [of, values[i]])));
  });
  return [...found];
}

// Draw how the stands grow into a picture that has its axes: it follows a dragged handle, for which
// the script that draws all other pictures takes too long.
export function drawGrowth(box, frame, { rows, falls, ends }, top, span) {
  const { left, width, height } = frame, size = { wide: width, high: height };
  const x = (day) => width * (day - span[0]) / (span[1] - span[0]), y = (made) => height * (1 - Math.min(made / top, 1));
  const at = (of) => ({ day, ...made }) => [x(day), y(made[of])];
  const days = falls.day.map(x), thin = falls.biomass.map((made) => line(made.map((value, i) => [days[i], y(value)]))).join("");
  const drawn = [svg("g", { class: `falls ${falls.series}` }, svg("path", { d: thin }))];
  for (const [name, band] of bySeries(rows.band)) drawn.push(svg("path", { class: `band ${name}`, d: area(band.map(at("high")), band.map(at("low"))) }));
  for (const [name, stand] of bySeries(rows.stand)) drawn.push(svg("path", { class: `line ${name}`, d: line(stand.map(at("biomass"))) }));
  for (const [name, marks] of bySeries(rows.marks)) drawn.push(...marks.map(at("biomass")).map(([cx, cy]) => svg("circle", { class: `stage ${name}`, cx, cy, r: DOT })));
  for (const [name, [end]] of bySeries(endRows(ends, top, size, span))) {
    const across = x(end.day), beside = across + BESIDE[name], high = Math.min(y(end.at), height - ABOVE);
    drawn.push(svg("line", { class: `range ${name}`, x1: beside, x2: beside, y1: y(end.low), y2: y(end.high) }),
      svg("text", end.after ? { x: across + 22, y: high, dy: ".35em" } : { x: across - 8, y: high - 8, "text-anchor": "end" }, end.after || end.before));
  }
  let over = box.querySelector("svg.grown");
  if (!over) box.append(over = svg("svg", { class: "grown", "aria-hidden": "true" }));
  over.style.cssText = `left:${left}px;top:${frame.top}px;width:${width}px;height:${height}px`;
  over.replaceChildren(...drawn);
}
