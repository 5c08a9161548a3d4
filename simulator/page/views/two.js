// Two side by side: a record and a plan each, and what lies between them.
import { $, Picture, Refused, ask, element, latest, onPaper, placeName, signed, take, texts } from "./frame.js";
import { Asking, CHOICES, onResize } from "./plan.js";

const falls = new Picture("falls", { beside: 84, onPaper: (spec) => ({ ...spec, vconcat: spec.vconcat.map((one, i) => ({ ...one, height: i ? 90 : 170 })) }) });
const asking = new Asking({ sides: ["a-", "b-"], path: "/two", changed: () => refresh() });
let drawnFor = "";

function cellOf(cell, head) {
  const made = element("td", { "data-head": head }, element("span", { class: "main" }, signed(cell.main)));
  for (const [what, text] of cell.more ?? []) made.append(element("span", { class: "more" }, signed(`${what} ${text}`)));
  if (cell.told) made.append(element("span", { class: "sure" }, cell.told));
  return made;
}

function showTable(rows) {
  const heads = ["A", "B less A", "B"];
  $("table").replaceChildren(
    element("caption", {}, "Means over the falls, on the last day; below each its range."),
    element("thead", {}, element("tr", {}, element("td"), ...heads.map((head) => element("th", { scope: "col" }, head)))),
    element("tbody", {}, ...rows.map(({ what, cells }) => element("tr", {}, element("th", { scope: "row" }, what), ...cells.map((cell, i) => cellOf(cell, heads[i]))))));
}

function showAnswer(found) {
  found.sides.forEach((side, i) => {
    const of = ["a", "b"][i];
    $(`${of}-head`).textContent = side.head;
    $(`${of}-said`).replaceChildren(...texts(side.said, "p"));
    $(`${of}-field`).href = `/?${found.fields[i]}`;
  });
  $("verdict").textContent = found.between.verdict;
  $("between").replaceChildren(...texts(found.between.said, "p"));
  $("cautions").replaceChildren(...texts([...found.off, ...found.cautions]));
  $("falls-said").textContent = found.rows.between.year.length
    ? "Above, the biomass of every fall on its last day, as simulated; below, by how much B has more than A in the same fall."
    : "The biomass of every fall on its last day, as simulated; the two share too few falls to set them beside each other.";
  showTable(found.table);
}

const refresh = latest(async () => {
  const query = asking.toQuery();
  document.body.setAttribute("aria-busy", "true");
  try {
    const found = await (await ask(`/two/answer?${query}`)).json();
    asking.showProblems([]);
    for (const place of found.places) if (!(place.key in CHOICES.samples)) asking.uploads[place.key] = placeName(place);
    asking.show();
    showAnswer(found);
    falls.data = found.rows;
    if (drawnFor === asking.units) await falls.change(found.rows, found.tops);
    else await falls.draw(found.picture, found.tops);
    drawnFor = asking.units;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    asking.showProblems(error.problems, "This cannot be grown; below stands the last that could.", error.more);
  }
  document.body.removeAttribute("aria-busy");
  document.body.dataset.settled = query;
});

function likeOther(side, other) {
  asking.act((asked) => { for (const key of Object.keys(asked)) if (key.startsWith(other)) asked[`${side}${key.slice(2)}`] = asked[key]; });
}

$("a-copy").addEventListener("click", () => likeOther("a-", "b-"));
$("b-copy").addEventListener("click", () => likeOther("b-", "a-"));
for (const button of document.querySelectorAll("[data-get]")) button.addEventListener("click", () => take(`${button.dataset.get}?${asking.toQuery()}`, button.dataset.name, $("take-said")));
onPaper([falls]);
onResize([falls]);
asking.start([$("asked"), $("goal")]);
