// The map: places coloured by the chance of enough, the best of several sowing dates at one of them.
import { $, Refused, ask, element, latest, problemList, take, texts } from "./frame.js";
import { Asking, CHOICES, fill, saidToTakeLong } from "./plan.js";
import { drawMap } from "./places_drawn.js";

const asking = new Asking({ own: { set: CHOICES.set, "set-file": "", sowings: CHOICES.sowings, at: "" }, path: "/map", changed: () => changed() });
let found = null, grownFor = "";

// What must be grown for a question; another date that is shown, or a place, is not asked for.
function grows() {
  const { sow, at, ...rest } = asking.asked;
  return JSON.stringify(rest);
}

const shown = () => Math.max(found.sowings.findIndex(([date]) => date === asking.asked.sow), 0);
const pointAt = () => found.points.find((p) => p.key === asking.asked.at);
const fieldLink = (point, sow) => {
  const { set, "set-file": file, sowings, at, place, ...plan } = asking.asked;
  const made = new URLSearchParams(Object.entries({ ...plan, place: point.key, file, sow }).filter(([, value]) => value));
  return `/?${made}`;
};

function pick(point) { asking.act((asked) => { asked.at = point.key; }); }
function open(point) { location.href = fieldLink(point, asking.asked.sow); }

function draw(width) {
  const at = shown(), day = found.sowings[at][1];
  const points = found.points.filter((p) => p.longitude !== null).map((p) => ({ ...p, value: p.chance[at],
    said: p.chance[at] === null ? `${p.site}: too few falls for a chance` : `${p.site}: ${Math.round(p.chance[at])} percent, sown on ${day}` }));
  if (!points.length) { $("map").replaceChildren(element("p", { class: "hint" }, "No place has a longitude to be drawn at.")); return; }
  const unnamed = drawMap($("map"), { points, domain: found.domain, picked: asking.asked.at, title: `chance of ${found.target}, percent`, units: asking.units, width, pick, open });
  $("unnamed").textContent = unnamed ? `${unnamed} ${unnamed === 1 ? "name has" : "names have"} no room; the table has all.` : "";
}

function showDates() {
  const legend = element("legend", {}, "Shown: sown on");
  $("dates").replaceChildren(legend, ...found.sowings.map(([date, words], i) => {
    const radio = element("input", { type: "radio", name: "shown", value: date, id: `shown-${i}`, ...(i === shown() ? { checked: "" } : {}) });
    return element("label", { class: "pick" }, radio, words);
  }));
}

function showPicked() {
  const point = pointAt();
  $("at").value = point?.key ?? "";
  $("picked-head").textContent = point ? `${point.site}${found.set.invented ? " (invented)" : ""}` : "A place";
  $("best").replaceChildren(...(point ? texts(point.best.said, "p") : [element("p", { class: "hint" }, "Pick a place on the map, or in the list, to see its best date.")]));
  if (point) $("best").firstElementChild.className = "verdict";
  $("field").hidden = !point;
  $("dated").replaceChildren();
  if (!point) return;
  fill($("dated"), `The chance of ${found.target} by sowing date, in a field like these; ${point.falls} falls.`, found.heads, point.rows);
  [...$("dated").tBodies[0].rows].forEach((row, i) => {
    row.classList.toggle("best", i === point.best.at);
    row.classList.toggle("now", i === shown());
    if (i === point.best.at) row.cells[0].append(element("span", { class: "mark" }, "(best)"));
  });
  $("field").href = fieldLink(point, asking.asked.sow);
  $("field").textContent = `The season of ${point.site}, sown on ${found.sowings[shown()][1]}, in One field`;
}

function showAll() {
  const at = shown(), order = [...found.points].sort((a, b) => (b.chance[at] ?? -1) - (a.chance[at] ?? -1));
  fill($("all"), `Places by the chance of ${found.target} sown on ${found.sowings[at][1]}, the highest first; percent, by sowing date.`, ["place", "north", "east", ...found.sowings.map(([, words]) => words)],
    order.map((p) => [p.site, p.latitude.toFixed(2), p.longitude?.toFixed(2) ?? "-", ...p.chance.map((one) => (one === null ? "-" : String(Math.round(one))))]));
  [...$("all").tBodies[0].rows].forEach((row, i) => {
    const button = element("button", { type: "button" }, order[i].site);
    button.addEventListener("click", () => { pick(order[i]); $("picked-head").scrollIntoView({ block: "nearest" }); });
    row.cells[0].replaceChildren(button);
  });
}

function showAnswer() {
  $("at").replaceChildren(element("option", { value: "" }, "none"), ...found.points.map((p) => element("option", { value: p.key }, p.site)));
  $("plan-said").textContent = `${found.plan} ${found.off}`;
  $("notes").replaceChildren(...texts(found.notes));
  $("cautions").replaceChildren(...texts(found.cautions));
  $("left-out").replaceChildren(...texts(found.left_out));
  showShown();
}

// What another date or another place changes.
function showShown() {
  showDates();
  $("verdict").textContent = found.sentences[shown()];
  $("best-dates").textContent = found.best_dates;
  draw();
  showPicked();
  showAll();
}

async function growAll() {
  for (let upto = CHOICES.few; ; upto += CHOICES.few) {
    const now = await (await ask(`/map/grow?${asking.toQuery()}&upto=${upto}`)).json();
    if (now.done >= now.of) return;
    $("verdict").textContent = `Growing: ${now.done} of ${now.of} places …`;
  }
}

const refresh = latest(async () => {
  const query = asking.toQuery(), wanted = grows();
  document.body.setAttribute("aria-busy", "true");
  const done = saidToTakeLong($("verdict"));
  try {
    await growAll();
    done();
    found = await (await ask(`/map/answer?${query}`)).json();
    grownFor = wanted;
    asking.asked.sow = found.sow;
    asking.uploads[found.set.key] ??= found.set.name;
    asking.choose("set");
    asking.showProblems([]);
    asking.show();
    showAnswer();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    done();
    if (found) $("verdict").textContent = found.sentences[shown()];
    asking.showProblems(error.problems, "This cannot be grown; below stands the last that could.", error.more);
  }
  document.body.removeAttribute("aria-busy");
  document.body.dataset.settled = asking.toQuery();
});

function changed() {
  asking.choose("set");
  if (found && grows() === grownFor && found.sowings.some(([date]) => date === asking.asked.sow)) {
    showShown();
    document.body.dataset.settled = asking.toQuery();
  } else {
    if (!asking.asked.sowings.split(",").map((one) => one.trim()).includes(asking.asked.sow)) asking.asked.sow = "";
    refresh();
  }
}

async function readPlaces() {
  const file = $("file").files[0], said = $("read-said"), fault = $("file-fault");
  fault.replaceChildren();
  if (!file) { fault.textContent = "Choose a file first."; return; }
  said.textContent = `Reading ${file.name} …`;
  const about = new URLSearchParams({ name: file.name, "units-of-file": $("units-of-file").value });
  try {
    const read = await (await ask(`/map/places?${about}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json();
    said.textContent = `${read.name}: ${read.total} places can be used.`;
    asking.uploads[read.key] = `the places of ${read.name}`;
    asking.act((asked) => Object.assign(asked, { set: read.key, "set-file": file.name, at: "" }));
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    said.textContent = "";
    fault.replaceChildren(`${file.name} cannot be used.`, problemList(error.problems, error.more));
  }
}

$("set").addEventListener("change", () => asking.act((asked) => Object.assign(asked, { set: $("set").value, "set-file": "", at: "" })));
$("dates").addEventListener("change", (event) => asking.act((asked) => { asked.sow = event.target.value; }));
$("dates").addEventListener("change", () => $("dates").querySelector("input:checked")?.focus());
$("at").addEventListener("change", () => asking.act((asked) => { asked.at = $("at").value; }));
$("read-places").addEventListener("click", readPlaces);
for (const button of document.querySelectorAll("[data-get]")) button.addEventListener("click", () => take(`${button.dataset.get}?${asking.toQuery()}`, button.dataset.name, $("take-said")));
let resized;
addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => { if (found) draw(); }, 200); });
addEventListener("beforeprint", () => { if (found) draw(860); });
addEventListener("afterprint", () => { if (found) draw(); });
asking.start([$("asked")]);
