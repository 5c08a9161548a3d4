// The workbench: the answer that stays in sight, what would mend it, and on a telephone the sheet.
import { $, Refused, ask, element, problemList, texts } from "./frame.js";

const SHEETS = ["low", "half", "full"], SAID = { low: "Show the answer", half: "Show more of the answer", full: "Show less of the answer" };
const TALL = 24; // px that a pull is more than a touch

// ---- the answer

export function showHeadline({ headline, near, told }) {
  const [first, ...rest] = texts(near, "p");
  if (!told) first.classList.add("untold"); // which no screen is too small for
  $("answer").replaceChildren(element("p", { class: "first" }, headline), first, ...rest);
}

// ---- what would mend it

let open = false, grown = "";

export async function showRemedies(query, takeOver) {
  grown = query;
  const box = $("mended");
  try {
    const { said, rows } = await (await ask(`/remedies?${query}`)).json();
    if (!open || grown !== query) return;
    const take = ({ told, asks }, words) => {
      const button = element("button", { type: "button", "aria-label": `Take it as the plan: ${told}` }, words);
      button.addEventListener("click", () => takeOver(asks));
      return button;
    };
    const others = rows.map((row) => {
      const line = element("tr", {}, element("th", { scope: "row" }, row.told), ...texts([row.makes, row.enough, row.cost], "td"), element("td", {}, take(row, "Take it")));
      return line;
    });
    const heads = texts(["change of the plan", "makes", "enough in", "costs", ""], "th");
    heads.forEach((head, i) => (i < 4 ? head.setAttribute("scope", "col") : head.append(element("span", { class: "unseen" }, "take it"))));
    box.replaceChildren(element("p", {}, said, ...(rows.length ? [" ", take(rows[0], "Take it as the plan")] : [])),
      ...(rows.length > 1 ? [element("details", {}, element("summary", {}, `All ${rows.length} that were tried`),
        element("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Table of what was tried" },
          element("table", {}, element("thead", {}, element("tr", {}, ...heads)), element("tbody", {}, ...others))))] : []));
    box.dataset.of = query;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (grown === query) box.replaceChildren(problemList(error.problems, error.more));
  }
}

let later;
// Follow the plan once it rests: a remedy of another plan would mislead.
export function followRemedies(query, takeOver) {
  clearTimeout(later);
  if (!open || $("mended").dataset.of === query) return;
  $("mended").classList.add("stale");
  later = setTimeout(() => showRemedies(query, takeOver).then(() => $("mended").classList.remove("stale")), 350);
}

function unfold(now) {
  open = now;
  $("mend").setAttribute("aria-expanded", open);
  $("mended").hidden = !open;
}

export function listenRemedies(query, takeOver) {
  $("mend").addEventListener("click", () => {
    unfold(!open);
    if (!open) return;
    if (isSheet()) pull("full"); // where the picture has room below them
    if ($("mended").dataset.of !== query()) $("mended").replaceChildren(element("p", {}, "Being tried …"));
    showRemedies(query(), takeOver);
  });
}

// ---- the sheet, on a telephone

let sheet = "half";
const isSheet = () => getComputedStyle($("bench")).position === "fixed";
function pull(to) {
  if (to !== "full" && isSheet()) unfold(false);
  sheet = to;
  $("bench").dataset.sheet = to;
  $("pull").setAttribute("aria-expanded", to !== "low");
  $("pull-said").textContent = SAID[to];
}

// A handle that the sheet would cover comes out from under it.
function uncover(control) {
  const edge = $("bench").getBoundingClientRect(), box = control.getBoundingClientRect();
  if (!isSheet()) return;
  if (sheet === "full") pull("half");
  const top = innerHeight - $("bench").offsetHeight;
  if (box.bottom > Math.max(top, edge.top)) scrollBy({ top: box.bottom - top + 24 });
}

// How much of the screen stands above the bench: the rest is its own.
function rise() {
  const bench = $("bench");
  bench.style.setProperty("--above", `${bench.parentElement.getBoundingClientRect().top + scrollY}px`);
}

export function listenSheet() {
  rise();
  addEventListener("resize", rise);
  pull("half");
  const handle = $("pull");
  let from = null;
  handle.addEventListener("pointerdown", (event) => { from = event.clientY; handle.setPointerCapture(event.pointerId); });
  handle.addEventListener("pointerup", (event) => {
    const way = from === null ? 0 : from - event.clientY, at = SHEETS.indexOf(sheet);
    from = null;
    if (Math.abs(way) < TALL) return; // a touch: the click does it
    handle.dataset.pulled = "";
    pull(SHEETS[Math.min(Math.max(at + (way > 0 ? 1 : -1), 0), 2)]);
  });
  handle.addEventListener("click", () => {
    if (handle.dataset.pulled !== undefined) { delete handle.dataset.pulled; return; }
    pull(sheet === "full" ? "low" : SHEETS[SHEETS.indexOf(sheet) + 1]);
  });
  handle.addEventListener("keydown", (event) => {
    const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!way) return;
    event.preventDefault();
    pull(SHEETS[Math.min(Math.max(SHEETS.indexOf(sheet) + way, 0), 2)]);
  });
  $("asked").addEventListener("focusin", (event) => uncover(event.target));
}
