// A month's rain: biomass with and without nitrogen, and leached nitrate, as curves.
import { $, element, texts } from "./frame.js";
import { along, area, line, paper, pointing, scale, svg, upright } from "./drawn.js";
import { fill } from "./plan.js";
import { view } from "./plan_view.js";

const LEFT = 62, RIGHT = 14, TOP = 34, GAP = 56;
let shown = null, at = null, x = (value) => value, drawnFor = "", tops = {};

function draw(found, width = $("rain").clientWidth - 2) {
  shown = found;
  const { rows, units } = found, of = `${found.asked.place} ${found.asked.units}`, middle = $("line").value;
  if (drawnFor !== of) [tops, drawnFor] = [{ biomass: 0, leached: 0 }, of]; // axes stand still until a line would leave them
  for (const name of ["biomass", "leached"]) tops[name] = Math.max(tops[name], found.tops[name]);
  const small = width < 500, high = small ? 200 : 230, low = 110, right = width - RIGHT;
  const ends = [0, found.tops.rain], deep = [TOP + high, TOP + high + GAP + low];
  x = scale(ends, [LEFT, right]);
  const y = scale([0, tops.biomass], [deep[0], TOP]), down = scale([0, tops.leached], [deep[1], deep[1] - low]);
  const points = (name, up) => rows.map((row) => [x(row.rain), up(row[name])]);
  const inside = (value) => Math.min(Math.max(value, 0), ends[1]);
  const strip = (top, bottom) => svg("rect", { class: "record", x: x(inside(found.recorded[0])), width: Math.max(x(inside(found.recorded[1])) - x(inside(found.recorded[0])), 0), y: top, height: bottom - top });
  const rule = (value, kind) => (value > ends[1] ? [] : [svg("line", { class: kind, x1: x(value), x2: x(value), y1: TOP, y2: deep[1] })]);
  const word = (value, text, up) => (value > ends[1] ? [] : [svg("text", { class: "halo", x: x(value) + (value > 0.7 * ends[1] ? -5 : 5), y: up, "text-anchor": value > 0.7 * ends[1] ? "end" : "start" }, text)]);
  paper($("rain"), width, deep[1] + 42,
    strip(TOP, deep[0]), strip(deep[1] - low, deep[1]),
    svg("path", { class: "field-band", d: area(points("field_high", y), points("field_low", y)) }),
    svg("path", { class: "fall-band", d: area(points("high", y), points("low", y)) }),
    svg("path", { class: "fall-band", d: area(points("leached_high", down), points("leached_low", down)) }),
    upright(y, [0, tops.biomass], { left: LEFT, right, title: `biomass, ${units.biomass}`, digits: 0 }),
    upright(down, [0, tops.leached], { left: LEFT, right, count: 3, title: `leached nitrate nitrogen, ${units.leached}`, digits: 0 }),
    along(x, ends, { bottom: deep[1], right, count: small ? 5 : 8, title: `rain in ${found.asked.month}, ${units.rain}` }),
    along(x, ends, { bottom: deep[0], right, count: small ? 5 : 8 }),
    ...rule(found.usual, "usual"), ...found.half.flatMap((value) => rule(value, "half")),
    ...(found.fed ? [svg("path", { class: "line bare", d: line(points(`bare_${middle}`, y)) })] : []),
    svg("path", { class: "line made", d: line(points(middle, y)) }),
    svg("path", { class: "line lost", d: line(points(`leached_${middle}`, down)) }),
    ...word(found.usual, "usual", TOP + 12), ...found.half.flatMap((value) => word(value, "nitrogen brings half", TOP + 28)),
    svg("g", { id: "here" }));
  $("here").append(svg("line", { class: "cursor", y1: TOP, y2: deep[1] }), svg("circle", { class: "dot made", r: 5 }), svg("circle", { class: "dot lost", r: 5 }));
  $("here").places = rows.map((row) => [x(row.rain), y(row[middle]), down(row[`leached_${middle}`])]);
  $("kinds").replaceChildren(...[["mark-made", found.fed ? "with the nitrogen" : "biomass"], ...(found.fed ? [["mark-bare", "without nitrogen"]] : []), ["mark-falls", found.ranged], ["mark-field", "in a field like these"],
    ["mark-record", "the record's own range"], ...(found.half.length ? [["mark-half", found.sure ? "nitrogen brings half" : "nitrogen brings half, which cannot be told for a field"]] : [])].map(([kind, text]) => element("li", { class: kind }, text)));
  $("point").max = rows.length - 1;
  const nearest = rows.reduce((best, row, i) => (Math.abs(row.rain - (at ?? found.usual)) < Math.abs(rows[best].rain - (at ?? found.usual)) ? i : best), 0);
  point(nearest);
  $("notes").replaceChildren(...texts(found.notes));
  fill($("table"), `Biomass in ${units.biomass}, nitrate nitrogen in ${units.leached}, all falls.`, [`rain, ${units.rain}`, "mean", "middle fall", found.ranged, "in a field like these", "mean without nitrogen", "mean leached"], rows.map((row) => row.cells));
}

function point(i) {
  const row = shown.rows[i], [across, ...up] = $("here").places[i], [rule, ...dots] = $("here").children;
  at = row.rain;
  $("point").value = i;
  $("point-said").textContent = `${row.cells[0]} ${shown.units.rain}`;
  $("point").setAttribute("aria-valuetext", row.told);
  $("pointed").textContent = row.told;
  for (const end of ["x1", "x2"]) rule.setAttribute(end, across);
  dots.forEach((dot, of) => { dot.setAttribute("cx", across); dot.setAttribute("cy", up[of]); });
}

$("point").addEventListener("input", (event) => shown && point(Number(event.target.value)));
$("line").addEventListener("change", () => shown && draw(shown));
pointing($("rain"), (across) => {
  if (!shown) return;
  const off = shown.rows.map((row) => Math.abs(x(row.rain) - across));
  point(off.indexOf(Math.min(...off)));
});
view({ path: "/rain", draw, own: { month: "", most: "" }, limits: { most: { us: [1, 39, 1, "inch"], si: [25, 1000, 25, "mm"] } } });
