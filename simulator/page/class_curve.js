// The class view's picture of a day: its curve, and what a method counts of it shaded.
// It only draws; what is counted comes from the server.

const HALF_STEPS = 240;

// Temperature over the day, as a method takes it to run: points of hour and degrees.
function curveOf(shape, high, low, steps = HALF_STEPS) {
  const middle = (high + low) / 2, half = (high - low) / 2;
  if (shape === "mean") return [[0, middle], [24, middle]];
  if (shape === "ends") return [[0, low], [6, low], [6, high], [18, high], [18, low], [24, low]];
  if (shape === "triangle") return [[0, low], [12, high], [24, low]];
  return Array.from({ length: 2 * steps + 1 }, (_, i) => [i * 12 / steps, middle - half * Math.cos(i * Math.PI / steps)]);
}

// The same with a point wherever it crosses a level.
function crossed(points, levels) {
  const made = [points[0]];
  for (let i = 1; i < points.length; i++) {
    const [h0, t0] = points[i - 1], [h1, t1] = points[i];
    const between = levels.map((level) => (level - t0) / (t1 - t0)).filter((part) => part > 0 && part < 1).sort((a, b) => a - b);
    for (const part of between) made.push([h0 + part * (h1 - h0), t0 + part * (t1 - t0)]);
    made.push([h1, t1]);
  }
  return made;
}

// What a cutoff counts of a day, in pieces: hours h, temperatures t, the edge e of what is counted.
// An intermediate cutoff folds the curve down at the limit.
function pieces(points, { base, upper, cutoff }) {
  const folds = cutoff === "intermediate", through = crossed(points, folds ? [base, upper, 2 * upper - base] : [base, upper]), found = [];
  for (let i = 1; i < through.length; i++) {
    const [h0, t0] = through[i - 1], [h1, t1] = through[i], middle = (t0 + t1) / 2;
    if (h1 <= h0 || middle <= base) continue; // a jump has no area
    const edge = (t) => middle <= upper || cutoff === "none" ? t : cutoff === "horizontal" ? upper : folds ? 2 * upper - t : base;
    found.push({ h0, h1, t0, t1, e0: edge(t0), e1: edge(t1) });
  }
  return found;
}

const area = ({ h0, h1, e0, e1 }, base) => (h1 - h0) * ((e0 + e1) / 2 - base);
const total = (found, base) => Math.max(found.reduce((sum, piece) => sum + area(piece, base), 0), 0);

// What a method counts of a curve, degrees times days: for a curve that is drawn by hand.
export const countOf = (points, day) => total(pieces(points, day), day.base) / 24;

// From one end of the day, the hour up to which so much is counted.
function hourAt(found, much, base, back) {
  let left = much;
  for (const piece of back ? found.toReversed() : found) {
    const has = Math.max(area(piece, base), 0);
    if (has < left) { left -= has; continue; }
    const [y0, y1] = back ? [piece.e1 - base, piece.e0 - base] : [piece.e0 - base, piece.e1 - base];
    const slope = (y1 - y0) / (piece.h1 - piece.h0), step = left > 0 ? 2 * left / (y0 + Math.sqrt(Math.max(y0 * y0 + 2 * left * slope, 0))) : 0;
    return back ? piece.h1 - step : piece.h0 + step;
  }
  return back ? 0 : 24;
}

// The pieces with what of them is shaded. Hours so hot that the fold goes below the base count below
// nothing, and take off as much of the hours beside them: those are not shaded either.
function shaded(points, day) {
  const { base } = day, found = pieces(points, day);
  if (!found.some((piece) => area(piece, base) < 0)) return found.map((piece) => ({ ...piece, kept: true }));
  const half = total(found, base) / 2, first = hourAt(found, half, base, false), last = hourAt(found, half, base, true);
  return found.flatMap((piece) => {
    const at = (hour, from, to) => from + (to - from) * (hour - piece.h0) / (piece.h1 - piece.h0);
    const ends = [piece.h0, ...[first, last].filter((hour) => hour > piece.h0 && hour < piece.h1), piece.h1];
    return ends.slice(1).map((h1, i) => {
      const h0 = ends[i], part = { h0, h1, t0: at(h0, piece.t0, piece.t1), t1: at(h1, piece.t0, piece.t1), e0: at(h0, piece.e0, piece.e1), e1: at(h1, piece.e0, piece.e1) };
      return { ...part, kept: area(part, base) > 0 && (h1 <= first || h0 >= last) };
    });
  });
}

// Outlines between two edges, each the same at the end of a piece as at the start of the next.
function outlines(found, edges) {
  const made = [];
  let run = null, until = NaN;
  for (const piece of found) {
    const [[a0, a1], [b0, b1]] = edges(piece);
    if (a0 <= b0 && a1 <= b1) continue;
    if (!run || piece.h0 !== until) made.push(run = { above: [], below: [] });
    run.above.push([piece.h0, a0], [piece.h1, a1]);
    run.below.push([piece.h0, b0], [piece.h1, b1]);
    until = piece.h1;
  }
  return made.map(({ above, below }) => [...above, ...below.toReversed()]);
}

// A day's areas: what is counted, and what an intermediate cutoff takes off again below the limit.
function areasOf(points, day) {
  const { base, upper, cutoff } = day, found = shaded(points, day);
  const floor = ({ kept, e0, e1 }) => (kept ? [e0, e1] : [base, base]);
  return {
    counted: outlines(found, (piece) => [floor(piece), [base, base]]),
    off: cutoff === "intermediate" ? outlines(found, (piece) => [[Math.min(piece.t0, upper), Math.min(piece.t1, upper)], floor(piece)]) : [],
    fold: cutoff === "intermediate" ? found.filter(({ t0, t1, e0, e1 }) => t0 + t1 > 2 * upper && e0 + e1 > 2 * base).map(({ h0, h1, e0, e1 }) => [[h0, e0], [h1, e1]]) : [],
  };
}

const SVG = "http://www.w3.org/2000/svg";
export function svg(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.textContent = text;
  return made;
}

// Draw a day into a box, or only its ends where it is to be guessed, and a curve drawn by hand. Tells
// whether anything is taken off again, and where in the day a place on the screen lies.
export function drawDay(box, { tmax, tmin, base, upper, shape, cutoff, axis, unit, width: room, hidden, guessed }) {
  const width = Math.max(room, 200), height = Math.min(380, Math.max(250, 0.55 * width));
  if (![tmax, tmin, base, upper].every(Number.isFinite) || tmax < tmin || base >= upper) return null;
  let [low, high] = axis;
  low = Math.min(low, 10 * Math.floor((Math.min(tmin, base) - 1) / 10));
  high = Math.max(high, 10 * Math.ceil((Math.max(tmax, upper) + 1) / 10));
  const left = 52, right = 62, above = 12, below = 44;
  const x = (hour) => left + hour / 24 * (width - left - right), y = (degree) => above + (high - degree) / (high - low) * (height - above - below);
  const path = (points) => points.map(([h, t], i) => `${i ? "L" : "M"}${x(h).toFixed(2)} ${y(t).toFixed(2)}`).join("");
  const closed = (areas) => areas.map((points) => `${path(points)}Z`).join("");
  const air = curveOf(shape, tmax, tmin), { counted, off, fold } = areasOf(air, { base, upper, cutoff });

  const drawing = svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
  const hatched = svg("pattern", { id: "hatched", width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
  hatched.append(svg("rect", { class: "hatch", width: 2.5, height: 7 }));
  const held = svg("defs");
  held.append(hatched);
  drawing.append(held);
  for (let degree = Math.ceil(low / 10) * 10; degree <= high; degree += 10) {
    drawing.append(svg("line", { class: "grid", x1: left, x2: width - right, y1: y(degree), y2: y(degree), "data-degree": degree }),
      ...((degree / 10) % 2 && high - low > 70 ? [] : [svg("text", { x: left - 7, y: y(degree) + 4, "text-anchor": "end" }, String(degree).replace("-", "−"))]));
  }
  for (let hour = 0; hour <= 24; hour += 6) drawing.append(svg("line", { class: "grid", x1: x(hour), x2: x(hour), y1: above, y2: height - below, "data-hour": hour }), svg("text", { x: x(hour), y: height - below + 18, "text-anchor": "middle" }, hour));
  drawing.append(
    svg("text", { x: (left + width - right) / 2, y: height - 6, "text-anchor": "middle" }, "hours from the lowest (h)"),
    svg("text", { transform: `translate(14 ${(height - below) / 2}) rotate(-90)`, "text-anchor": "middle" }, `air (${unit})`),
    ...(hidden ? [tmax, tmin].flatMap((t, i) => [svg("line", { class: "end", x1: left, x2: width - right, y1: y(t), y2: y(t) }), svg("text", { x: left + 6, y: y(t) + (i ? 15 : -5) }, i ? "lowest" : "highest")])
      : [svg("path", { class: "counted", d: closed(counted) }), svg("path", { class: "taken-off", d: closed(off) })]),
    ...[base, upper].map((t) => svg("line", { class: "limit", x1: left, x2: width - right, y1: y(t), y2: y(t) })),
    ...(hidden ? [] : [svg("path", { class: "fold", d: fold.map(path).join("") }), svg("path", { class: "air", d: path(air) })]),
    ...(guessed.length ? [svg("path", { class: "guessed", d: path(guessed.length > 1 ? guessed : [...guessed, ...guessed]) })] : []),
    ...[["B", base, 12], ["U", upper, -2]].map(([name, t, lower]) => svg("text", { x: width - right + 6, y: y(t) + lower }, `${name} ${t}`.replace("-", "−"))));
  box.replaceChildren(drawing);
  const at = (right_, down) => {
    const { left: x0, top: y0, width: wide } = drawing.getBoundingClientRect(), scale = width / wide;
    return [((right_ - x0) * scale - left) / (width - left - right) * 24, high - ((down - y0) * scale - above) / (height - above - below) * (high - low)];
  };
  return { off: off.length > 0 && !hidden, at };
}

// A small picture of a day as one method has it; all are on one scale.
export function drawSmall(box, { tmax, tmin, base, upper, shape, cutoff }) {
  if (![tmax, tmin, base, upper].every(Number.isFinite) || tmax < tmin || base >= upper) return;
  const width = 96, height = 56, low = Math.min(tmin, base), high = Math.max(tmax, upper);
  const x = (hour) => 2 + hour / 24 * (width - 4), y = (degree) => 3 + (high - degree) / (high - low) * (height - 6);
  const path = (points) => points.map(([h, t], i) => `${i ? "L" : "M"}${x(h).toFixed(2)} ${y(t).toFixed(2)}`).join("");
  const air = curveOf(shape, tmax, tmin, 60), { counted, off } = areasOf(air, { base, upper, cutoff });
  const closed = (areas) => areas.map((points) => `${path(points)}Z`).join("");
  const drawing = svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height });
  drawing.append(svg("path", { class: "counted", d: closed(counted) }), svg("path", { class: "taken-off", d: closed(off) }),
    ...[base, upper].map((t) => svg("line", { class: "limit", x1: 2, x2: width - 2, y1: y(t), y2: y(t) })),
    svg("path", { class: "air", d: path(air) }));
  box.replaceChildren(drawing);
}
