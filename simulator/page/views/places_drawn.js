// Places drawn by longitude and latitude: one hue, a scale bar, names where they have room.
const SVG = "http://www.w3.org/2000/svg";
const KM_A_DEGREE = 111.2, KM_A_MILE = 1.609344;
const LETTER = 6.9, TALL = 16, R = 9, EDGE = { left: 46, right: 12, top: 14, bottom: 92 };

function node(name, attributes = {}, ...inside) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

// one hue, from pale over the middle to deep
const shade = (share) => (share < .5 ? `color-mix(in oklab, var(--mid) ${Math.round(16 + 168 * share)}%, var(--low))` : `color-mix(in oklab, var(--high) ${Math.round(200 * share - 100)}%, var(--mid))`);
const degrees = (value, [above, below]) => `${Number(Math.abs(value).toFixed(2))}°${value > 0 ? ` ${above}` : value < 0 ? ` ${below}` : ""}`;
const nice = (most) => { const power = 10 ** Math.floor(Math.log10(most)); return [5, 2, 1].find((step) => step * power <= most) * power; };

function ticks(low, high, wanted) {
  const rough = (high - low) / wanted, power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((one) => one * power >= rough) ?? 10), made = [];
  for (let at = Math.ceil(low / step) * step; at <= high + 1e-9; at += step) made.push(Number(at.toFixed(6)));
  return made;
}

// From the lowest to the highest in equal steps of five or more.
function fives(low, high, most) {
  const step = [5, 10, 20, 25, 50].find((one) => (high - low) % one === 0 && (high - low) / one <= most) ?? high - low;
  return Array.from({ length: (high - low) / step + 1 }, (_, i) => low + i * step);
}

// Where places lie on the paper: distances are right at the middle latitude.
function projection(points, width) {
  const lons = points.map((p) => p.longitude), lats = points.map((p) => p.latitude);
  const middle = (Math.min(...lats) + Math.max(...lats)) / 2, squeeze = Math.cos(middle * Math.PI / 180);
  const room = width - EDGE.left - EDGE.right;
  const span = (values, least) => { const low = Math.min(...values), high = Math.max(...values), margin = Math.max(.07 * (high - low), least); return [low - margin, high + margin]; };
  const [west, east] = span(lons, .08), [south, north] = span(lats, .08);
  const tall = Math.min(Math.max(room * (north - south) / ((east - west) * squeeze), Math.min(room * .55, 240)), Math.max(room * .95, 300));
  const scale = Math.min(room / ((east - west) * squeeze), tall / (north - south)); // px a degree of latitude
  const middleLon = (west + east) / 2, middleLat = (south + north) / 2;
  return {
    x: (lon) => EDGE.left + room / 2 + (lon - middleLon) * squeeze * scale, y: (lat) => EDGE.top + tall / 2 - (lat - middleLat) * scale,
    room, tall, middle, scale, lon: [middleLon - room / 2 / scale / squeeze, middleLon + room / 2 / scale / squeeze], lat: [middleLat - tall / 2 / scale, middleLat + tall / 2 / scale],
  };
}

function graticule(at) {
  const made = [], right = EDGE.left + at.room, foot = EDGE.top + at.tall;
  for (const lon of ticks(...at.lon, Math.max(2, at.room / 130))) {
    made.push(node("line", { class: "grid", x1: at.x(lon), x2: at.x(lon), y1: EDGE.top, y2: foot }), node("text", { class: "soft", x: at.x(lon), y: foot + 16, "text-anchor": "middle" }, degrees(lon, "EW")));
  }
  for (const lat of ticks(...at.lat, Math.max(2, at.tall / 90))) {
    made.push(node("line", { class: "grid", x1: EDGE.left, x2: right, y1: at.y(lat), y2: at.y(lat) }), node("text", { class: "soft", x: EDGE.left - 6, y: at.y(lat) + 4, "text-anchor": "end" }, degrees(lat, "NS")));
  }
  return [...made, node("rect", { class: "frame", x: EDGE.left, y: EDGE.top, width: at.room, height: at.tall })];
}

function scaleBar(at, units) {
  const unit = units === "us" ? KM_A_MILE : 1, perPixel = KM_A_DEGREE / at.scale / unit;
  const long = nice(at.room * .3 * perPixel), wide = long / perPixel, x = EDGE.left + at.room - wide, y = EDGE.top + at.tall + 44;
  const name = units === "us" ? (long === 1 ? "mile" : "miles") : "km";
  return [node("path", { class: "bar", d: `M${x} ${y - 5}v5h${wide}v-5` }), node("text", { x: x + wide / 2, y: y + 17, "text-anchor": "middle" }, `${long.toLocaleString("en-US")} ${name}`)];
}

function legend(at, [low, high], title) {
  const x = EDGE.left, y = EDGE.top + at.tall + 38, wide = Math.min(at.room * .5, 260), steps = fives(low, high, Math.max(2, wide / 46));
  const gradient = node("linearGradient", { id: "hue" }, ...Array.from({ length: 9 }, (_, i) => node("stop", { offset: `${i * 12.5}%`, style: `stop-color: ${shade(i / 8)}` })));
  const marks = steps.flatMap((step) => {
    const to = x + wide * (step - low) / (high - low);
    return [node("line", { class: "bar", x1: to, x2: to, y1: y + 10, y2: y + 14 }), node("text", { class: "soft", x: to, y: y + 26, "text-anchor": "middle" }, String(step))];
  });
  return [node("defs", {}, gradient), node("rect", { class: "frame legend", x, y, width: wide, height: 11, style: "fill: url(#hue)" }), ...marks, node("text", { class: "soft", x, y: y + 44 }, title)];
}

// A side of each point on which its name meets no other name and no other point.
function named(points, at, picked) {
  const dots = points.map((p) => [at.x(p.longitude) - R, at.y(p.latitude) - R, at.x(p.longitude) + R, at.y(p.latitude) + R]), taken = [];
  const meets = (a, b) => a[0] < b[2] && a[2] > b[0] && a[1] < b[3] && a[3] > b[1];
  const made = points.map(() => null), order = points.map((_, i) => i).sort((a, b) => (points[b].key === picked) - (points[a].key === picked) || a - b);
  for (const i of order) {
    const p = points[i], x = at.x(p.longitude), y = at.y(p.latitude), wide = p.site.length * LETTER;
    const sides = [["start", x + R + 6, y + 4], ["end", x - R - 6, y + 4], ["middle", x, y - R - 6], ["middle", x, y + R + 15]];
    for (const [anchor, tx, ty] of sides) {
      const left = anchor === "start" ? tx : anchor === "end" ? tx - wide : tx - wide / 2, box = [left, ty - TALL + 4, left + wide, ty + 4];
      const inside = box[0] > EDGE.left && box[2] < EDGE.left + at.room && box[1] > EDGE.top && box[3] < EDGE.top + at.tall;
      if (inside && !taken.some((other) => meets(box, other)) && !dots.some((dot, j) => j !== i && meets(box, dot))) { taken.push(box); made[i] = { anchor, x: tx, y: ty }; break; }
    }
  }
  return made;
}

// Draw the map into a box. points: site, longitude, latitude, value, said; domain: of the colours.
export function drawMap(box, { points, domain, picked, title, units, width, pick, open }) {
  const wide = Math.max(width ?? box.clientWidth - 12, 280), at = projection(points, wide), [low, high] = domain;
  const names = named(points, at, picked);
  const svg = node("svg", { viewBox: `0 0 ${wide} ${EDGE.top + at.tall + EDGE.bottom}`, width: wide, height: EDGE.top + at.tall + EDGE.bottom });
  svg.append(...graticule(at));
  const drawn = points.map((p, i) => {
    const known = p.value !== null, x = at.x(p.longitude), y = at.y(p.latitude);
    const mark = node("g", { class: `point${known ? "" : " unknown"}`, role: "button", tabindex: "-1", "aria-label": p.said, "aria-pressed": String(p.key === picked), "data-key": p.key },
      node("circle", { class: "room", cx: x, cy: y, r: 16 }), node("circle", { class: "ring", cx: x, cy: y, r: R + 4 }),
      node("circle", { class: "dot", cx: x, cy: y, r: R, ...(known ? { style: `fill: ${shade((p.value - low) / (high - low))}` } : {}) }), node("title", {}, p.said));
    const press = () => (p.key === picked ? open(p) : pick(p));
    mark.addEventListener("click", press);
    mark.addEventListener("keydown", (event) => keyed(event, i, press));
    const name = names[i] && node("text", { class: "site", x: names[i].x, y: names[i].y, "text-anchor": names[i].anchor, "aria-hidden": "true" }, p.site);
    name?.addEventListener("click", press);
    svg.append(mark, ...(name ? [name] : []));
    return mark;
  });
  const first = drawn[Math.max(points.findIndex((p) => p.key === picked), 0)];
  first?.setAttribute("tabindex", "0");

  function go(to) {
    drawn.forEach((mark) => mark.setAttribute("tabindex", "-1"));
    drawn[to].setAttribute("tabindex", "0");
    drawn[to].focus();
  }

  // To the nearest place that way: what lies aside counts twice.
  function keyed(event, from, press) {
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); press(); return; }
    const way = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] }[event.key];
    if (!way) return;
    event.preventDefault();
    const [x, y] = [at.x(points[from].longitude), at.y(points[from].latitude)];
    let best = -1, least = Infinity;
    points.forEach((p, i) => {
      const dx = at.x(p.longitude) - x, dy = at.y(p.latitude) - y, along = dx * way[0] + dy * way[1], aside = Math.abs(dx * way[1]) + Math.abs(dy * way[0]);
      if (i !== from && along > 0 && along + 2 * aside < least) { least = along + 2 * aside; best = i; }
    });
    if (best >= 0) go(best);
  }

  svg.append(...legend(at, domain, title), ...scaleBar(at, units));
  const held = box.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  box.replaceChildren(svg);
  if (held) box.querySelector(`[data-key="${CSS.escape(held)}"]`)?.focus();
  return points.filter((_, i) => !names[i]).length;
}
