// What views draw with: shapes, scales and axes as SVG, in the colours of the style sheet.

export function svg(name, attributes = {}, ...inside) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

export const scale = ([low, high], [from, to]) => (value) => from + (value - low) / (high - low) * (to - from);
export const formatted = (value, digits = 0) => value.toLocaleString("en-US", { maximumFractionDigits: digits }).replace("-", "−");
export const line = (points) => points.map(([x, y], i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
export const area = (upper, lower) => (upper.length ? `${line(upper)}${line(lower.toReversed()).replace("M", "L")}Z` : "");

// Round numbers between two ends, about so many.
export function ticks(low, high, count) {
  const rough = (high - low) / count, power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].find((one) => one * power >= rough - 1e-9) * power, made = [];
  for (let at = Math.ceil(low / step - 1e-9); at * step <= high + step * 1e-9; at++) made.push(Number((at * step).toPrecision(12)));
  return made;
}

// A panel's quiet lines and the numbers left of it; its title stands above.
export function upright(y, [low, high], { left, right, count = 5, title, digits = 1 }) {
  return svg("g", { class: "axis" },
    ...ticks(low, high, count).flatMap((at) => [svg("line", { class: "grid", x1: left, x2: right, y1: y(at), y2: y(at) }),
      svg("text", { x: left - 6, y: y(at) + 4, "text-anchor": "end" }, formatted(at, digits))]),
    svg("text", { class: "title", x: 2, y: Math.min(y(low), y(high)) - 10 }, title));
}

// Numbers below a panel, and their title.
export function along(x, [low, high], { bottom, right, count = 6, title = "", digits = 1 }) {
  return svg("g", { class: "axis" },
    ...ticks(low, high, count).map((at) => svg("text", { x: x(at), y: bottom + 16, "text-anchor": "middle" }, formatted(at, digits))),
    svg("text", { class: "title", x: right, y: bottom + 34, "text-anchor": "end" }, title));
}

export function paper(box, width, height, ...inside) {
  const made = svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" }, ...inside);
  box.replaceChildren(made);
  return made;
}

// Which of evenly spread things lies under a pointer, as long as it is pressed or hovers.
export function pointing(box, found) {
  const hear = (event) => {
    const drawn = box.querySelector("svg")?.getBoundingClientRect();
    if (drawn) found((event.clientX - drawn.left) * box.querySelector("svg").viewBox.baseVal.width / drawn.width);
  };
  box.addEventListener("pointermove", hear);
  box.addEventListener("pointerdown", hear);
}
