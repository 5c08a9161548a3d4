// What the picture of growth has besides its lines: every fall, and at the end of each line its
// range in a field like these and its name, where there is room for it.
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

// The data of the picture of growth, for a plot of so many pixels whose axis ends at `top`. On a
// screen the falls are drawn by `drawFalls`: as marks they would take a third of all its time.
export function growthRows(found, top, size, span, { falls = false } = {}) {
  const { stand, band, marks } = found.rows;
  return { stand, band, marks, falls: fallRows(falls ? found.falls : { ...found.falls, year: [] }), ends: endRows(found.ends, top, size, span) };
}

// Draw every fall behind a picture that is there; its own elements are the chart's to count.
export function drawFalls(box, { series, day, biomass }, top, size, span) {
  const ground = box.querySelector("svg g.root > g > path.background")?.getBoundingClientRect(), own = box.getBoundingClientRect();
  if (!ground) return;
  const x = day.map((on) => (size.wide * (on - span[0]) / (span[1] - span[0])).toFixed(1));
  const lines = biomass.map((made) => `M${made.map((value, j) => `${x[j]},${(size.high * (1 - Math.min(value / top, 1))).toFixed(1)}`).join("L")}`);
  let svg = box.querySelector("svg.falls");
  if (!svg) {
    svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("aria-hidden", "true");
    svg.append(document.createElementNS("http://www.w3.org/2000/svg", "path"));
    box.append(svg);
  }
  svg.style.cssText = `left:${ground.left - own.left - box.clientLeft}px;top:${ground.top - own.top - box.clientTop}px;width:${size.wide}px;height:${size.high}px`;
  svg.setAttribute("class", `falls ${series}`);
  svg.firstChild.setAttribute("d", lines.join(""));
}
