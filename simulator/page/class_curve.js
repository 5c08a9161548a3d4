// The class view's picture of a day: its curve, and what a method counts of it shaded.
// It only draws; what is counted comes from the server.

const HALF_STEPS = 240;

// Temperature over the day, as a method takes it to run: points of hour and degrees.
function curveOf(shape, high, low) {
  const middle = (high + low) / 2, half = (high - low) / 2;
  if (shape === "mean") return [[0, middle], [24, middle]];
  if (shape === "ends") return [[0, low], [6, low], [6, high], [18, high], [18, low], [24, low]];
  if (shape === "triangle") return [[0, low], [12, high], [24, low]];
  return Array.from({ length: 2 * HALF_STEPS + 1 }, (_, i) => [i * 12 / HALF_STEPS, middle - half * Math.cos(i * Math.PI / HALF_STEPS)]);
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

// Outlines of the area between an upper and a lower edge, where a segment is to be kept.
function outlines(points, keep, upper, lower) {
  const found = [];
  let run = [];
  const close = () => {
    if (run.length > 1) found.push([...run.map(([h, t]) => [h, upper(t)]), ...run.toReversed().map(([h, t]) => [h, lower(t)])]);
    run = [];
  };
  for (let i = 1; i < points.length; i++) {
    const middle = (points[i - 1][1] + points[i][1]) / 2;
    if (!keep(middle)) { close(); continue; }
    if (!run.length) run.push(points[i - 1]);
    run.push(points[i]);
  }
  close();
  return found;
}

const SVG = "http://www.w3.org/2000/svg";
function svg(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.textContent = text;
  return made;
}

// Draw a day into a box; tell whether anything is taken off again.
export function drawDay(box, { tmax, tmin, base, upper, shape, cutoff, axis, unit, width: room }) {
  const width = Math.max(room, 200), height = Math.min(380, Math.max(250, 0.55 * width));
  if (![tmax, tmin, base, upper].every(Number.isFinite) || tmax < tmin || base >= upper) return false;
  let [low, high] = axis;
  low = Math.min(low, 10 * Math.floor((Math.min(tmin, base) - 1) / 10));
  high = Math.max(high, 10 * Math.ceil((Math.max(tmax, upper) + 1) / 10));
  const left = 52, right = 62, above = 12, below = 44;
  const x = (hour) => left + hour / 24 * (width - left - right), y = (degree) => above + (high - degree) / (high - low) * (height - above - below);
  const path = (points) => points.map(([h, t], i) => `${i ? "L" : "M"}${x(h).toFixed(2)} ${y(t).toFixed(2)}`).join("");
  const closed = (areas) => areas.map((points) => `${path(points)}Z`).join("");
  const air = curveOf(shape, tmax, tmin), points = crossed(air, [base, upper]);
  const top = cutoff === "none" ? Infinity : upper;
  const counted = outlines(points, (t) => t > base && (cutoff !== "vertical" || t <= upper), (t) => Math.min(Math.max(t, base), top), () => base);
  const off = cutoff === "intermediate" ? outlines(points, (t) => t > upper, (t) => t, () => upper) : [];

  const drawing = svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
  const hatched = svg("pattern", { id: "hatched", width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
  hatched.append(svg("rect", { width: 2.5, height: 7, fill: "#cc5f10" }));
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
    svg("path", { class: "counted", d: closed(counted) }), svg("path", { class: "taken-off", d: closed(off) }),
    ...[base, upper].map((t) => svg("line", { class: "limit", x1: left, x2: width - right, y1: y(t), y2: y(t) })),
    svg("path", { class: "air", d: path(air) }),
    ...[["B", base, 12], ["U", upper, -2]].map(([name, t, lower]) => svg("text", { x: width - right + 6, y: y(t) + lower }, `${name} ${t}`.replace("-", "−"))));
  box.replaceChildren(drawing);
  return off.length > 0;
}
