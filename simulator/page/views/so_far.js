// The season so far: its fan, what was measured, and the weather file as it grows.
import { $, Picture, Refused, ask, element, latest, onPaper, painted, placeName, texts } from "./frame.js";
import { Asking, CHOICES, fill, onResize, saidToTakeLong } from "./plan.js";

const fan = new Picture("fan", { beside: 78, onPaper: (spec) => ({ ...spec, height: 240 }) });
const asking = new Asking({ own: { year: "", today: "" }, several: ["measured"], path: "/season", changed: () => refresh() });
const LOOK = 3000; // ms between looks at the weather file
const UNIT = { biomass: () => asking.massUnit, stage: () => "", cover: () => "percent", nitrate: () => asking.massUnit };
let drawnFor = "", put = null, version = CHOICES.weather?.version, measured = [];

// ---- what was measured

function showKind() {
  const kind = $("kind").value, unit = UNIT[kind]();
  $("much-unit").textContent = unit.replace("/acre", "/ac");
  $("depth-unit").textContent = asking.units === "us" ? "inch" : "cm";
  $("depth-row").hidden = kind !== "nitrate";
  $("much-label").textContent = kind === "stage" ? "stage" : "how much";
}

function composed() {
  const kind = $("kind").value, much = $("much").value, on = $("on").value.trim();
  if (kind === "stage") return `zadoks ${much} on ${on}`;
  if (kind === "cover") return `${much} percent cover on ${on}`;
  if (kind === "nitrate") return `${much} ${asking.massUnit} nitrate${$("depth").value ? ` to ${$("depth").value} ${asking.units === "us" ? "inch" : "cm"}` : ""} on ${on}`;
  return `${much} ${asking.massUnit} on ${on}`;
}

function clipFault(id, text) {
  $(`${id}-fault`).textContent = text;
  $(`${id}-fault`).dataset.said = "";
  $(id).setAttribute("aria-invalid", "true");
  $(id).focus();
}

function putIn(event) {
  event.preventDefault();
  for (const id of ["much", "on"]) { $(`${id}-fault`).textContent = ""; $(id).removeAttribute("aria-invalid"); }
  if ($("much").value === "") return clipFault("much", "It is no number. Write how much was measured.");
  if (!$("on").value.trim()) return clipFault("on", "The day is missing. Write it as 01-20.");
  put = composed();
  asking.asked.measured = [...asking.asked.measured, put];
  asking.show();
  return refresh();
}

// A fault of what is being put in stands at its field, and it is taken out again.
function refusedPut(problems) {
  const of = `measured-${asking.asked.measured.length - 1}`, mine = problems.filter((p) => p.where === of);
  if (!put || !mine.length) return false;
  asking.asked.measured = asking.asked.measured.slice(0, -1);
  put = null;
  asking.show();
  showClippings();
  const text = mine.map((p) => `${p.what} ${p.remedy}`).join(" ");
  clipFault(/\b(day|date|on \d|comes after|stands on|twice)\b/i.test(text) ? "on" : "much", text);
  return true;
}

function showClippings() {
  const said = asking.asked.measured.map((text, i) => measured.find((one) => one.text === text) ?? { said: text, i });
  $("clippings").replaceChildren(...said.map((one, i) => {
    const out = element("button", { type: "button", "aria-label": `Take out ${one.said}` }, "Take out");
    out.addEventListener("click", () => { put = null; asking.act((asked) => { asked.measured = asked.measured.filter((_, at) => at !== i); }); $("kind").focus(); });
    const aside = one.aside ? " (left aside: nothing in the model could have made it)" : "";
    return element("li", {}, element("span", {}, one.said + aside), out, element("p", { class: "fault", id: `measured-${i}-fault`, role: "alert" }));
  }));
}

// ---- the answer

function showAnswer(found) {
  const [first, ...rest] = found.sentences;
  $("first").textContent = first;
  for (const id of ["before-after", "put-said"]) $(id).textContent = found.before_after;
  $("rest").replaceChildren(element("p", { class: "in-words" }, found.heading), ...texts(rest, "p"));
  $("told-key").hidden = !found.rows.told.day.length;
  const { made, today } = found.marks;
  $("fan-said").textContent = `Pale band: 8 of 10, weather and field together; dark band: 8 of 10 by the weather alone. Upright line: ${made}${today ? `; dashed upright line: ${today}` : ""}. Dashed across: enough.${found.rows.clipped.day.length ? " Dot: a clipping, with the error of 8 of 10." : ""}`;
  $("age").textContent = found.age;
  fill($("table"), "On the last day.", found.heads, found.table);
  $("notes").replaceChildren(...texts(found.notes));
  $("cautions").replaceChildren(...texts(found.cautions));
  $("field").href = `/?${found.field}`;
  $("command").textContent = found.command;
  $("today").placeholder = found.today;
  $("year").placeholder = found.year;
}

let started = 0;
const refresh = latest(async () => {
  const query = asking.toQuery();
  showKind();
  showClippings();
  document.body.setAttribute("aria-busy", "true");
  const done = saidToTakeLong($("first"));
  try {
    const found = await (await ask(`/season/answer?${query}`)).json();
    const kept = [...asking.asked.measured].map((text, i) => ({ text, i }));
    if (found.measured.length === kept.length) measured = matched(kept, found.measured);
    asking.showProblems([]);
    if (!(found.place.key in CHOICES.samples)) asking.uploads[found.place.key] = placeName(found.place);
    asking.show();
    showClippings();
    done();
    showAnswer(found);
    if (put) { $("much").value = ""; asking.keep(); put = null; }
    fan.data = found.rows;
    if (drawnFor === asking.units) await fan.change(found.rows, found.tops);
    else await fan.draw(found.picture, found.tops);
    drawnFor = asking.units;
  } catch (error) {
    done();
    if (!(error instanceof Refused)) throw error;
    if (refusedPut(error.problems)) { document.body.removeAttribute("aria-busy"); return; }
    asking.showProblems(error.problems, "This cannot be worked out; beside it stands the last that could.", error.more);
  }
  if (started) { await painted(); performance.measure("input to paint", { start: started, end: performance.now() }); }
  document.body.removeAttribute("aria-busy");
  document.body.dataset.settled = query;
});

// What was measured comes back sorted by its day; each is named as the answer names it.
const SHORT = { Jan: "01", Feb: "02", Mar: "03", Apr: "04", May: "05", Jun: "06", Jul: "07", Aug: "08", Sep: "09", Oct: "10", Nov: "11", Dec: "12" };
function matched(texts_, samples) {
  const left = [...samples];
  return texts_.map(({ text }) => {
    const at = left.findIndex((one) => {
      const [month, day] = one.said.split(" on ").at(-1).split(" ");
      const date = `${SHORT[month.slice(0, 3)]}-${day.padStart(2, "0")}`;
      const kind = /cover/.test(text) ? /cover/.test(one.said) : /nitrate/.test(text) ? /nitrate/.test(one.said) : /^(zadoks|stage)/i.test(text) ? /Zadoks/.test(one.said) : true;
      return kind && text.endsWith(date);
    });
    const [one] = left.splice(Math.max(at, 0), 1);
    return { text, ...one };
  });
}

// ---- the weather file, as it grows on disk

async function look() {
  if (document.hidden || !(asking.asked.place in CHOICES.given)) return;
  const now = await (await ask("/season/weather")).json();
  if (now.version === version) return;
  version = now.version;
  $("fresh").hidden = false;
  $("fresh").textContent = now.faults.length
    ? `${now.file} has changed and cannot be read: ${now.faults.join(" ")} What could be read last is shown.`
    : `${now.file} has changed and was read again: it goes to ${now.last}.`;
  refresh();
}

if (CHOICES.weather) setInterval(() => look().catch((error) => { if (!(error instanceof Refused)) throw error; }), LOOK);
$("clip").addEventListener("submit", putIn);
$("kind").addEventListener("change", showKind);
onPaper([fan]);
onResize([fan]);
asking.start([$("asked")]);
