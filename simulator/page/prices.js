// The reader's own prices: a field for each that the cost uses. The server judges them; what it
// refuses is said beside its field, and the link keeps the last that could be read.
import { $, Refused, ask, element } from "./frame.js";

const fields = [...document.querySelectorAll("[data-price]")];  // text fields have what is usual in it
let served = { fields: [] };  // what the server last said of prices
let good = {};              // what the link said of them then
let typing = "";            // the field that is being written in

export const isPrice = (key) => key.startsWith("price-");
const ofMoney = (key) => isPrice(key) || key === "ended-by";

// Whether two links ask for the same seasons, whatever these cost.
export function sameSeasons(one, other) {
  const [a, b] = [one, other].map((query) => [...new URLSearchParams(query)].filter(([key]) => !ofMoney(key)));
  return a.length > 0 && JSON.stringify(a) === JSON.stringify(b);
}

const numbered = (id) => served.fields.find(({ key }) => key === id);
const faulty = (field) => field.getAttribute("aria-invalid") === "true";

function fault(field, text = "") {
  $(`${field.id}-fault`).textContent = text;
  if (text) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
}

// What the link says of a number: nothing where it is the packaged one.
function written(text, { packaged, unit }) {
  if (!text || Number(text) === Number(packaged)) return "";
  const plain = text.replace(served.currency, "").trim().replace(/^\./, "0.").replace(/\.$/, "");
  return plain.includes("/") ? plain : `${plain}/${unit}`;
}

// Put what a field says into what is asked; false where that is not yet a price.
export function readPrice(field, asked, commit) {
  const { id } = field, text = field.value.trim(), number = numbered(id);
  typing = commit ? "" : id;
  if (!commit && !(number && /^\d+(\.\d+)?$/.test(text))) return false;
  fault(field);
  const said = number ? written(text, number) : text === field.dataset.price ? "" : text.replaceAll(`${served.currency}/`, "/");
  if (said) asked[id] = said; else delete asked[id];
  if (commit && said === (good[id] ?? "")) showFields();
  return true;
}

function showFields() {
  for (const field of fields) {
    const number = numbered(field.id), row = $(`${field.id}-row`);
    if (number) {
      $(`${field.id}-per`).textContent = number.per;
      $(`${field.id}-note`).textContent = number.differs ? `packaged: ${number.packaged}` : "as packaged";
    }
    if (row) row.hidden = !number && !faulty(field);
    if (faulty(field) || field.id === typing) continue;
    field.value = number ? number.shown : { "price-own": served.others, "price-currency": served.currency, "price-label": served.label, "price-date": served.date }[field.id] ?? "";
  }
}

// Show what a cost rests on; `query` is the link that it was reckoned for.
export function showPrices(cost, query) {
  served = cost.prices;
  good = Object.fromEntries([...new URLSearchParams(query)].filter(([key]) => isPrice(key)));
  $("prices-said").textContent = cost.said;
  const own = Object.keys(good).filter((key) => !["price-label", "price-date", "price-currency"].includes(key)).length;
  $("prices-own").textContent = own ? ` (${own} of your own)` : "";
  $("packaged").disabled = !Object.keys(good).length;
  showFields();
}

// Take out of what is asked the prices that were refused; false where there are none.
export function refusePrices(problems, asked) {
  const mine = problems.filter(({ where }) => fields.some(({ id }) => id === where));
  for (const { where, what, remedy } of mine) {
    const field = $(where), number = numbered(where);
    const until = number ? `the cost has ${number.shown} ${number.per}` : good[where] ? "what was read last stays"
      : $(`${where}-row`) || field.dataset.price ? "the packaged one stays" : "it is left out";
    field.value ||= asked[where] ?? "";
    if (good[where]) asked[where] = good[where]; else delete asked[where];
    fault(field, `${what} ${remedy} Until then ${until}.`);
    typing = "";
  }
  if (mine.length) $("prices").open = true;
  return mine.length > 0;
}

function clearFaults() { fields.forEach((field) => fault(field)); typing = ""; }

export function forget(asked) {
  clearFaults();
  Object.keys(asked).filter(isPrice).forEach((key) => delete asked[key]);
}

// `act` changes what is asked; `list` shows problems.
export function listen(act, list) {
  for (const field of fields) field.addEventListener("blur", () => { typing = ""; });
  addEventListener("popstate", clearFaults);
  $("packaged").addEventListener("click", () => { act(forget); $("prices").querySelector("summary").focus(); });
  $("to-prices").addEventListener("click", () => { $("prices").open = true; $("prices").querySelector("summary").focus(); });
  $("read-prices").addEventListener("click", async () => {
    const file = $("price-file").files[0], said = $("price-file-said");
    $("price-file-faults").replaceChildren();
    said.textContent = file ? "" : "Choose a file first.";
    if (!file) return;
    try {
      const read = await (await ask(`/prices?${new URLSearchParams({ name: file.name })}`, { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } })).json();
      act((asked) => { forget(asked); Object.assign(asked, read); });
      said.textContent = `${file.name} is read: ${Object.keys(read).length ? "the cost has its prices now" : "its prices are the packaged ones"}.`;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      $("price-file-faults").replaceChildren(element("div", { class: "problem" }, `${file.name} cannot be used.`, list(error.problems, error.more)));
    }
  });
}
