// A view of one plan: its question, what is said of it, and a picture drawn by hand.
import { $, Refused, ask, latest, painted, placeName, take, texts, element } from "./frame.js";
import { Asking, CHOICES } from "./plan.js";

const PAPER = 680; // px that a picture is wide on it

// At a path: draw(found, width) shows an answer, and is called anew when its room changes; filled
// is called before the fields are shown. own, limits, spans, forget: as `Asking` has them.
export function view({ path, draw, filled = () => {}, ...of }) {
  let found = null, settle;
  const asking = new Asking({ path, several: ["change"], changed: () => changed(), ...of });

  function show() {
    $("said").replaceChildren(...texts([found.first], "p"));
    $("said").firstElementChild.className = "first";
    $("rest").replaceChildren(...texts(found.rest, "p"));
    $("in-words").textContent = found.in_words;
    $("cautions").replaceChildren(...texts(found.cautions));
    $("command").textContent = found.command;
    $("command-part").hidden = !found.command;
    $("to-field").href = `/?${found.to_field}`;
    $("weather-changed").hidden = !found.changes.length;
    $("weather-changed").firstElementChild.textContent = `The weather is changed: ${found.changes.join("; ")}.`;
    draw(found);
  }

  const refresh = latest(async () => {
    const query = asking.toQuery(), since = asking.started;
    if (query === document.body.dataset.settled) return;
    let problems = [], more = 0;
    try {
      found = await (await ask(`${path}/answer?${query}`)).json();
      asking.answered = found.asked;
      if (!(found.place.key in CHOICES.samples)) asking.uploads[found.place.key] = placeName(found.place);
      filled(found);
      asking.show();
      show();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      ({ problems, more = 0 } = error);
    }
    asking.showProblems(problems, "This cannot be grown; below stands the last that could.", more);
    for (const id of ["said", "rest"]) $(id).classList.toggle("stale", problems.length > 0);
    if (since) {
      await painted();
      performance.measure("input to paint", { start: since, end: performance.now() });
    }
    document.body.dataset.settled = query;
  });

  function changed() {
    const busy = (now) => { for (const id of ["said", "rest"]) $(id).setAttribute("aria-busy", now); };
    busy(true); // a screen reader waits until the slider rests
    clearTimeout(settle);
    settle = setTimeout(busy, 500, false);
    refresh();
  }

  $("as-recorded").addEventListener("click", () => asking.act((asked) => { asked.change = []; }));
  for (const button of document.querySelectorAll("[data-get]")) button.addEventListener("click", () => take(`${button.dataset.get}?${asking.toQuery()}`, button.dataset.name, $("take-said")));
  addEventListener("beforeprint", () => { if (found) draw(found, PAPER); });
  addEventListener("afterprint", () => { if (found) draw(found); });
  let resized;
  addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => { if (found) draw(found); }, 150); });
  asking.start([$("asked")]);
  return asking;
}

// Fill a list with the falls of a record, the latest first.
export function listYears(list, { place, years, asked }) {
  if (list.dataset.of !== place.key) list.replaceChildren(...years.toReversed().map((year) => element("option", { value: year }, `the fall of ${year}`)));
  list.dataset.of = place.key;
  list.value = asked.year;
}
