// Guess first: learners draw the day's curve or guess its sum before it is shown. What a class guesses
// is kept by this browser on this machine, and sent nowhere.
import { $, element } from "./frame.js";
import { countOf, svg } from "./class_curve.js";

const KEPT = "fallsown guesses", MOST = 500, STEP = 0.5, HOURS = [0, 3, 6, 9, 12, 15, 18, 21, 24];

// A browser may refuse to keep anything; then guesses last as long as the page.
let memory = [];
function guesses() {
  try {
    const found = JSON.parse(localStorage.getItem(KEPT) ?? "[]");
    return Array.isArray(found) ? found.filter((one) => typeof one?.day === "string" && Number.isFinite(one.sum)) : [];
  } catch { return memory; }
}

function keepGuesses(all) {
  memory = all.slice(-MOST);
  try {
    if (memory.length) localStorage.setItem(KEPT, JSON.stringify(memory)); else localStorage.removeItem(KEPT);
  } catch { /* the memory has them */ }
}

const middleOf = (sorted) => (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2;
const signed = (text) => text.replace("-", "−");

// view: day() in the reader's units, key(), name(), us(), redraw(), axis(), changed() when the mode is.
export function guessing(view) {
  const drawn = new Map(); // hour -> degrees C
  let on = false, shown = false, counted = null, dayOf = "", picture = null, own = null;

  const celsius = (degree) => (view.us() ? (degree - 32) / 1.8 : degree), degree = (warm) => (view.us() ? warm * 1.8 + 32 : warm);
  const sumIn = (sum) => (view.us() ? sum / 1.8 : sum), sumOut = (sum) => (view.us() ? sum * 1.8 : sum);
  const unit = () => `\u00a0${view.us() ? "°F" : "°C"}\u00a0d`;
  const here = () => guesses().filter((one) => one.day === dayOf).map((one) => one.sum);
  const points = () => [...drawn].sort(([a], [b]) => a - b).map(([hour, warm]) => [hour, degree(warm)]);

  function drawnSum() { // degrees C times days; its ends are held to the ends of the day
    const line = points();
    if (line.length < 2) return null;
    return sumIn(countOf([[0, line[0][1]], ...line, [24, line.at(-1)[1]]], view.day()));
  }

  function show() {
    const hides = on && !shown;
    document.body.classList.toggle("guessing", hides);
    $("guess-first").checked = on;
    $("guessing").hidden = !on;
    $("curve").setAttribute("aria-describedby", hides ? "guess-how" : "day-said");
    $("show-it").textContent = shown ? "Hide it, and guess again" : "Show the day";
    for (const id of ["guess-how", "guess-given", "keep-guess", "rub-out", "by-hours"]) $(id).hidden = shown;
    $("guess-what").textContent = view.name();
    for (const span of document.querySelectorAll(".sum-unit")) span.textContent = unit().trim();
    const all = here();
    $("forget").disabled = !guesses().length;
    $("guess-kept").textContent = all.length ? `${all.length} ${all.length === 1 ? "guess" : "guesses"} of this day kept on this machine.` : "No guess of this day is kept.";
    showHours();
    tell(all);
    view.redraw();
  }

  function tell(all) {
    const known = on && shown && counted !== null;
    $("guesses").hidden = !known || !all.length;
    $("guess-said").replaceChildren();
    if (!known) return;
    const off = (sum) => { const far = sumOut(sum) - counted; return Math.abs(far) < 0.005 ? "just right" : `${Math.abs(far).toFixed(2)} too ${far > 0 ? "high" : "low"}`; };
    const said = [`${view.name()[0].toUpperCase()}${view.name().slice(1)} counts ${counted.toFixed(2)}${unit()}.`];
    if (own !== null) said.push(`The last guess is ${sumOut(own).toFixed(2)}, ${off(own)}.`);
    const line = drawnSum();
    if (line !== null) said.push(`The curve drawn has ${sumOut(line).toFixed(2)}${unit()} above the base, ${off(line)}.`);
    if (all.length > 1) {
      const sorted = all.toSorted((a, b) => a - b), far = middleOf(sorted.map((sum) => Math.abs(sumOut(sum) - counted)).toSorted((a, b) => a - b));
      said.push(`The class: ${all.length} guesses from ${sumOut(sorted[0]).toFixed(1)} to ${sumOut(sorted.at(-1)).toFixed(1)}; the middle one is ${sumOut(middleOf(sorted)).toFixed(1)}, ${off(middleOf(sorted))}. Half of them lie within ${far.toFixed(1)}.`);
    }
    $("guess-said").textContent = said.join(" ");
    if (all.length) dots(all.map(sumOut));
  }

  // Each guess a dot, one on another where they are alike; a line at what is counted.
  function dots(sums) {
    const width = Math.max($("guesses").clientWidth - 12, 200), left = 14, right = 14, columns = Math.floor((width - left - right) / 9);
    const low = Math.min(0, ...sums, counted), high = Math.max(...sums, counted, low + 1) * 1.02;
    const x = (sum) => left + (sum - low) / (high - low) * (width - left - right), stack = new Map(), placed = [];
    for (const sum of sums.toSorted((a, b) => a - b)) {
      const column = Math.round((sum - low) / (high - low) * columns), level = stack.get(column) ?? 0;
      stack.set(column, level + 1);
      placed.push([x(low + column / columns * (high - low)), level]);
    }
    const step = Math.min(9, 90 / Math.max(...stack.values())), tall = Math.max(Math.max(...stack.values()) * step, 27) + 8, foot = 22 + tall;
    const made = svg("svg", { viewBox: `0 0 ${width} ${foot + 22}`, width, height: foot + 22, "aria-hidden": "true" }), ends = (at) => (at < 90 ? "start" : at > width - 90 ? "end" : "middle");
    const middle = middleOf(sums.toSorted((a, b) => a - b));
    made.append(svg("line", { class: "axis", x1: left, x2: width - right, y1: foot, y2: foot }),
      ...placed.map(([cx, level]) => svg("circle", { class: "guess", cx, cy: foot - step * (level + 0.5), r: Math.min(4, step / 2) })),
      svg("line", { class: "true", x1: x(counted), x2: x(counted), y1: 18, y2: foot }),
      svg("text", { x: x(counted), y: 13, "text-anchor": ends(x(counted)) }, `counted ${signed(counted.toFixed(2))}`),
      svg("path", { class: "middle", d: `M${x(middle)} ${foot + 1}l5 7h-10z` }),
      svg("text", { x: Math.abs(x(middle)), y: foot + 20, "text-anchor": ends(x(middle)) }, `middle guess ${signed(middle.toFixed(1))}`));
    $("guesses").replaceChildren(made);
  }

  function showHours() {
    const [low, high] = view.axis();
    for (const input of $("guess-hours").querySelectorAll("input")) {
      const warm = drawn.get(Number(input.dataset.hour)), text = warm === undefined ? "" : String(Math.round(degree(warm)));
      Object.assign(input, { min: low, max: high, step: 1 });
      if (document.activeElement !== input || !text) input.value = text || (low + high) / 2;
      input.setAttribute("aria-valuetext", text ? `${text} ${view.us() ? "°F" : "°C"}` : "not drawn");
    }
  }

  // A point of the curve, and those on the straight line from another.
  function draw(hour, warm, from = hour) {
    const start = drawn.get(from) ?? warm, count = Math.round(Math.abs(hour - from) / STEP);
    for (let i = 1; i <= count; i++) drawn.set(from + (hour - from) * i / count, start + (warm - start) * i / count);
    drawn.set(hour, warm);
  }

  function rubOut() { drawn.clear(); $("guess-sum").value = ""; }

  function keepGuess() {
    const typed = $("guess-sum").value.trim(), sum = typed ? sumIn(Number(typed)) : drawnSum();
    if (!Number.isFinite(sum)) return false;
    own = typed ? sum : null;
    keepGuesses([...guesses(), { day: dayOf, sum: Math.round(sum * 1e4) / 1e4 }]);
    return true;
  }

  function set(wanted) {
    on = wanted;
    shown = false;
    own = null;
    rubOut();
    show();
  }

  $("guess-hours").append(...HOURS.map((hour) => element("label", { class: "hour" }, `${hour} h`, element("input", { type: "range", "data-hour": hour, "aria-label": `air at hour ${hour}` }))));
  $("guess-hours").addEventListener("input", ({ target }) => {
    const hour = Number(target.dataset.hour), warm = celsius(Number(target.value));
    drawn.set(hour, warm);
    for (const beside of [hour - 3, hour + 3]) if (drawn.has(beside)) { const other = drawn.get(beside); draw(beside, other, hour); }
    showHours();
    view.redraw();
  });
  $("guess-first").addEventListener("change", ({ target }) => { set(target.checked); view.changed(); });
  $("guessing").addEventListener("submit", (event) => {
    event.preventDefault();
    if (shown) return;
    const kept = keepGuess();
    own = null; // the next learner's comes
    if (kept) rubOut();
    show();
    if (!kept) $("guess-said").textContent = "Write a number, or draw the curve, to keep a guess.";
    $("guess-sum").focus();
  });
  $("show-it").addEventListener("click", () => {
    if (shown) { set(true); return; }
    keepGuess();
    shown = true;
    show();
  });
  $("rub-out").addEventListener("click", () => { rubOut(); show(); });
  $("forget").addEventListener("click", () => { keepGuesses([]); own = null; show(); $("guess-said").textContent = "All guesses on this machine are cleared."; });

  let last = null; // hour that the pointer drew last
  const box = $("curve");
  const trace = (event) => {
    const [hour, high] = picture.at(event.clientX, event.clientY), at = Math.min(Math.max(Math.round(hour / STEP) * STEP, 0), 24);
    draw(at, celsius(high), last ?? at);
    last = at;
    showHours();
    view.redraw();
  };
  box.addEventListener("pointerdown", (event) => {
    if (!on || shown || !picture || event.button) return;
    last = null;
    box.setPointerCapture(event.pointerId);
    trace(event);
    event.preventDefault();
  });
  box.addEventListener("pointermove", (event) => { if (last !== null && picture && on && !shown && box.hasPointerCapture(event.pointerId)) trace(event); });
  box.addEventListener("pointerup", () => { last = null; });

  return {
    get on() { return on; },
    hides: () => on && !shown,
    points: () => (on ? points() : []),
    pictured(made) { picture = made; },
    set,
    // another day, or the same otherwise counted, is to be guessed anew
    asked() {
      if (dayOf === view.key()) return;
      dayOf = view.key();
      counted = null;
      if (on) set(true);
    },
    answered(value) { counted = value; if (on) show(); },
  };
}
