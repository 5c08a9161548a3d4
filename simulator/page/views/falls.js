// Fall by fall: the differences of two plans in order, a bar a fall.
import { $, element } from "./frame.js";
import { paper, pointing, scale, svg, upright } from "./drawn.js";
import { dayOf, fill } from "./plan.js";
import { view } from "./plan_view.js";

const SHAPES = { dry: "M0 -6L6 5L-6 5Z", normal: "M-5 0A5 5 0 1 1 5 0A5 5 0 1 1 -5 0Z", wet: "M-5 -5H5V5H-5Z", "": "M-5 0H5" };
const LEFT = 62, RIGHT = 8, TOP = 34;
let at = null, shown = null, drawnFor = "", low = 0, high = 0, step = 1;

const symbol = (kind) => svg("svg", { viewBox: "-7 -7 14 14", width: 14, height: 14, "aria-hidden": "true" }, svg("path", { class: `kind-${kind || "none"}`, d: SHAPES[kind] }));

function draw(found, width = $("falls").clientWidth - 2) {
  shown = found;
  const { rows, in_field: field } = found, of = `${found.asked.place} ${found.asked.units} ${found.asked.against}`;
  if (drawnFor !== of) [low, high, drawnFor] = [0, 0, of]; // the axis stands still until a bar would leave it
  low = Math.min(low, found.tops[0]);
  high = Math.max(high, found.tops[1]);
  step = (width - RIGHT - LEFT) / rows.length;
  const tall = width < 500 ? 300 : 370, right = width - RIGHT, bottom = tall - (step < 15 ? 10 : step < 36 ? 44 : 28);
  const y = scale([low, high], [bottom, TOP]);
  const middle = (i) => LEFT + (i + 0.5) * step, wide = Math.max(step * 0.56, 1.5);
  const made = [
    svg("rect", { class: "field-band", x: LEFT, width: right - LEFT, y: y(field[1]), height: y(field[0]) - y(field[1]) }),
    upright(y, [low, high], { left: LEFT, right, count: 6, title: `${found.names[1]}: more (+) or less (−) biomass, ${found.unit}`, digits: 0 }),
    ...rows.map((row, i) => svg("rect", { class: `bar kind-${row.kind || "none"}`, x: middle(i) - wide / 2, width: wide, y: Math.min(y(0), y(row.difference)), height: Math.max(Math.abs(y(row.difference) - y(0)), 1) })),
    ...(step < 7 ? [] : rows.map((row, i) => svg("path", { class: `mark kind-${row.kind || "none"}`, d: SHAPES[row.kind], transform: `translate(${middle(i)} ${y(row.difference)}) scale(${Math.min(step / 16, 1)})` }))),
    svg("line", { class: "zero", x1: LEFT, x2: right, y1: y(0), y2: y(0) }),
    svg("line", { class: "mean", x1: LEFT, x2: right, y1: y(found.mean), y2: y(found.mean) }),
    ...(step < 15 ? [] : rows.map((row, i) => svg("text", { class: "year", transform: step < 36 ? `translate(${middle(i) + 4} ${bottom + 8}) rotate(-90)` : `translate(${middle(i)} ${bottom + 20})`, "text-anchor": step < 36 ? "end" : "middle" }, row.year))),
    svg("rect", { id: "here", class: "here", y: TOP - 4, height: bottom - TOP + 8, width: Math.max(step, 4) }),
  ];
  paper($("falls"), width, tall, ...made);
  $("kinds").replaceChildren(...found.kinds.map((kind) => element("li", {}, symbol(kind), ` ${kind} fall`)), element("li", { class: "mark-field" }, "difference in a field like these"), element("li", { class: "mark-mean" }, "mean"));
  $("point").max = rows.length - 1;
  const kept = rows.findIndex((row) => row.year === at);
  point(kept >= 0 ? kept : rows.length - 1);
  $("falls-hint").textContent = `Each bar is one fall${found.kinds.length ? "; dry, normal and wet are thirds of the record's falls by the rain of October to December" : ""}. Band: 8 of 10 in a field like these. Point at a bar, or move the slider.`;
  fill($("table"), `Biomass at the end, ${found.unit}; the falls in which the second plan lags most first.`, ["fall", "kind", ...found.names, "difference"],
    rows.map((row) => [row.year, row.kind || "–", ...row.cells]));
}

function point(i) {
  const row = shown.rows[Math.min(Math.max(i, 0), shown.rows.length - 1)];
  at = row.year;
  $("point").value = shown.rows.indexOf(row);
  $("point-said").textContent = row.year;
  $("point").setAttribute("aria-valuetext", row.told);
  $("pointed").textContent = row.told;
  $("here")?.setAttribute("x", LEFT + shown.rows.indexOf(row) * step + (step - Math.max(step, 4)) / 2);
}

$("point").addEventListener("input", (event) => shown && point(Number(event.target.value)));
pointing($("falls"), (x) => shown && point(Math.floor((x - LEFT) / step)));
view({
  path: "/falls", draw, own: { against: "", "sow-b": "", fed: "" }, spans: { fed: ["12-15", "04-15"].map(dayOf) },
  filled: ({ asked: { against } }) => { $("second-sowing").hidden = against !== "sow"; $("second-nitrogen").hidden = against === "sow"; },
});
