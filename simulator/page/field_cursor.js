// A day that is pointed at: a line through all panels at once, what stands on it in each, and of
// the falls the one that lies nearest to the pointer.
import { element } from "./frame.js";

const DAY = 86400000, NEAR = 14, NARROW = 480; // px to a fall's line, and of a box with little room
const SVG = "http://www.w3.org/2000/svg";
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const dated = (day) => { const on = new Date(day); return `${MONTHS[on.getUTCMonth()]} ${on.getUTCDate()}`; };
const spelled = (value, digits) => (value == null ? "–" : (digits < 0 ? 10 * Math.round(value / 10) : value).toLocaleString("en-US", { minimumFractionDigits: Math.max(digits, 0), maximumFractionDigits: Math.max(digits, 0) }));

// Of each series, the row whose day is nearest, if one is near.
function onDay(columns, day) {
  const found = new Map();
  columns.day.forEach((on, i) => {
    const held = found.get(columns.series[i]), gap = Math.abs(on - day);
    if (gap <= 1.01 * DAY && (held === undefined || gap < held.gap)) found.set(columns.series[i], { i, gap });
  });
  return found;
}

export class Cursor {
  // growth, season: their pictures; slider: its day; answer: what it last had
  constructor(growth, season, slider) {
    Object.assign(this, { growth, season, slider, answer: null, day: null });
    for (const { box } of [growth, season]) {
      box.addEventListener("pointermove", (event) => this.point(box, event));
      box.addEventListener("pointerdown", (event) => this.point(box, event));
      box.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") this.hide(); });
    }
    slider.addEventListener("input", () => this.show(Number(slider.value)));
    slider.addEventListener("focus", () => this.show(Number(slider.value)));
    slider.addEventListener("blur", () => this.hide());
  }

  // Take another answer; a day that is pointed at stays.
  take(answer) {
    this.answer = answer;
    [this.slider.min, this.slider.max] = answer.span;
    this.slider.step = DAY;
    this.slider.setAttribute("aria-valuetext", this.texts(Number(this.slider.value)).flat().join("; "));
    const [frame] = this.frames(this.growth.box);
    if (frame) {
      this.slider.style.marginLeft = `${frame.left}px`;
      this.slider.style.width = `${frame.width}px`;
    }
    if (this.day !== null) this.show(this.day);
  }

  // Where the panels of a picture lie in its box.
  frames(box) {
    const own = box.getBoundingClientRect(), scopes = [...box.querySelectorAll("svg g.role-scope")].filter((g) => /\bconcat_\d+_group\b/.test(g.getAttribute("class")));
    const groups = scopes.length ? scopes : [...box.querySelectorAll("svg g.root")];
    return groups.map((group) => group.querySelector(":scope > g > path.background")?.getBoundingClientRect()).filter((r) => r && r.width > 1)
      .map((r) => ({ left: r.left - own.left - box.clientLeft, top: r.top - own.top - box.clientTop, width: r.width, height: r.height }));
  }

  point(box, event) {
    const [frame] = this.frames(box);
    if (!frame || !this.answer) return;
    const { left, top } = box.getBoundingClientRect(), [first, last] = this.answer.span;
    const share = (event.clientX - left - frame.left) / frame.width;
    const day = first + DAY * Math.round(Math.min(Math.max(share, 0), 1) * (last - first) / DAY);
    this.slider.value = day;
    const high = this.answer.top * (1 - (event.clientY - top - frame.top) / frame.height);
    this.show(day, box === this.growth.box ? { high, near: this.answer.top * NEAR / frame.height } : null);
  }

  show(day, pointer = null) {
    if (!this.answer) return;
    this.day = day;
    const texts = this.texts(day);
    this.slider.setAttribute("aria-valuetext", texts.flat().join("; "));
    [this.growth, this.season].forEach(({ box }, n) => this.lay(box, day, box.clientWidth < NARROW ? this.texts(day, true)[n] : texts[n]));
    this.nameFall(day, pointer);
  }

  hide() {
    this.day = null;
    for (const { box } of [this.growth, this.season]) box.querySelector(".over")?.remove();
  }

  // The line and what each panel says, over a picture.
  lay(box, day, texts) {
    const [first, last] = this.answer.span, over = element("div", { class: "over", "aria-hidden": "true" });
    this.frames(box).forEach((frame, n) => {
      const line = element("i"), said = element("span", {}, texts[n]);
      line.style.cssText = `left:${frame.left + frame.width * (day - first) / (last - first)}px;top:${frame.top}px;height:${frame.height}px`;
      said.style.cssText = `left:${frame.left}px;max-width:${box.clientWidth - frame.left}px;bottom:${box.clientHeight - frame.top + 3}px`;
      over.append(line, said);
    });
    box.querySelector(".over")?.remove();
    box.append(over);
  }

  // What every panel of growth and season says of a day; briefly where there is little room: the
  // numbers alone, in the order of the lines, the thin line's in brackets.
  texts(day, brief = false) {
    const { rows, heads, units, digits } = this.answer, on = dated(day), several = Object.keys(heads).length > 1 && !brief;
    const named = (series, text) => `${several ? `${heads[series]} ` : ""}${text}`;
    const each = (columns, text) => [...onDay(columns, day)].map(([series, { i }]) => named(series, text(columns, i))).join("; ");
    const said = (text, unit) => (text ? `${on}: ${text} ${unit}`.trim() : `${on}: none yet`);
    const pair = (thick, thin, word, places) => (c, i) => `${spelled(c[thick][i], places)}${brief ? " (" : `, ${word} `}${spelled(c[thin][i], places)}${brief ? ")" : ""}`;
    const degrees = (c, i) => `${spelled(c.low[i], digits.air)} to ${spelled(c.high[i], digits.air)}${brief ? " (" : ", mean "}${spelled(c.mean[i], digits.air)}${brief ? ")" : ""}`;
    return [
      [said(each(rows.stand, (c, i) => spelled(c.biomass[i], -1)), units.biomass)],
      [
        `${on}: ${Object.keys(heads).map((series) => named(series, this.stage(series, day))).join("; ")}`,
        said(each(rows.days, pair("rain", "drained", "drained", digits.water)), units.water),
        said(each(rows.days, pair("nitrate", "leached", "leached", 0)), units.nitrogen),
        said(each(rows.air, degrees), units.air),
      ],
    ];
  }

  stage(series, day) {
    const { day: days, series: of, stage } = this.answer.rows.marks;
    let last = "", at = -Infinity;
    days.forEach((on, i) => { if (of[i] === series && on <= day && on > at) { last = stage[i]; at = on; } });
    return last || "not up";
  }

  // The fall nearest to the pointer: its line drawn anew and its year beside it.
  nameFall(day, pointer) {
    const { falls, span, top } = this.answer, [frame] = this.frames(this.growth.box), over = this.growth.box.querySelector(".over");
    if (!pointer || !frame || !falls.day.length || day < falls.day[0] || day > falls.day.at(-1)) return;
    const after = falls.day.findIndex((on) => on >= day), before = Math.max(after - 1, 0);
    const share = after === before ? 0 : (day - falls.day[before]) / (falls.day[after] - falls.day[before]);
    let best = -1, gap = pointer.near;
    falls.biomass.forEach((made, i) => {
      const off = Math.abs(made[before] + share * (made[after] - made[before]) - pointer.high);
      if (off < gap) { best = i; gap = off; }
    });
    if (best < 0) return;
    const x = (on) => frame.width * (on - span[0]) / (span[1] - span[0]), y = (value) => frame.height * (1 - Math.min(value / top, 1));
    const svg = document.createElementNS(SVG, "svg"), path = document.createElementNS(SVG, "path");
    path.setAttribute("d", falls.day.map((on, j) => `${j ? "L" : "M"}${x(on)},${y(falls.biomass[best][j])}`).join(""));
    svg.append(path);
    svg.style.cssText = `left:${frame.left}px;top:${frame.top}px;width:${frame.width}px;height:${frame.height}px`;
    const made = falls.biomass[best], name = element("b", {}, `${falls.year[best]}: ${spelled(made.at(-1), -1)} ${this.answer.units.biomass}`);
    const end = x(day);
    name.style.cssText = `top:${frame.top + Math.max(y(pointer.high) - 28, 0)}px;${end > frame.width / 2 ? `right:${this.growth.box.clientWidth - frame.left - end + 6}px` : `left:${frame.left + end + 6}px`}`;
    over.append(svg, name);
  }
}
