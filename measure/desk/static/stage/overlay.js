// Lines, outline, labels and handles over the photo. Handles are real buttons, so that keys and readers reach them.

import { desk, measurements, offerFor, photo, reading, selected } from "../desk.js";
import { h, s, show } from "../dom.js";

const clicksOf = (one) => (desk.live?.id === one.id && desk.live.clicks_px) || one.clicks_px;
const usedOf = (one) => {
  if (desk.live?.id === one.id) return desk.live.used_px ?? desk.live.clicks_px ?? one.used_px;
  return one.used_px.length ? one.used_px : one.clicks_px;
};

export function cornersNow(shot = photo()) {
  if (desk.mark?.does?.do === "corners") return null; // they are being marked anew
  return desk.live?.corners_px ?? shot?.card?.corners_px ?? null;
}

// The points that have handles now.
export function handlePoints() {
  const { mark } = desk;
  if (mark && !mark.id)
    return mark.photo === desk.photo
      ? mark.clicks_px.map((point, index) => ({ what: "draft", index, point }))
      : [];
  if (desk.step === "scale")
    return (cornersNow() ?? []).map((point, index) => ({ what: "corner", index, point }));
  const one = selected();
  if (!one || one.photo !== desk.photo) return [];
  return clicksOf(one).map((point, index) => ({ what: "end", index, point }));
}

const twice = (tag, attributes, name) => [
  s(tag, { ...attributes, class: `under ${name}` }),
  s(tag, { ...attributes, class: `over ${name}` }),
];

const middle = (points) =>
  [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);

function strokes(drawn, at) {
  if (drawn === "pairs" && at.length > 2) return [at.slice(0, 2), at.slice(2, 4), across(at)].filter(Boolean);
  if (drawn === "ring" && at.length > 2) return [[...at, at[0]]];
  return [at];
}

// From the middle of the one edge straight over to the other: what a gap measures.
function across([a, b, c, d]) {
  if (!d) return null;
  const [mx, my] = middle([a, b]);
  const [ux, uy] = [d[0] - c[0], d[1] - c[1]];
  const along = ((mx - c[0]) * ux + (my - c[1]) * uy) / Math.max(1e-9, ux * ux + uy * uy);
  return [
    [mx, my],
    [c[0] + along * ux, c[1] + along * uy],
  ];
}

const barred = (drawn) => !drawn || drawn === "line" || drawn === "post";
const wayOf = (one) => offerFor(one.kind, one.clicks_px.length);

// The lines of a measurement on the screen: curves that were fitted, else what joins its points.
function linesOf(one, drawn, used) {
  const { curves_px } = desk.live?.id === one.id ? desk.live : one;
  if (!curves_px?.length) return strokes(drawn, used);
  return curves_px.map((curve) => curve.map((point) => desk.view.toScreen(point)));
}

// At the point being moved nothing may hide the pixel itself; the bars across the ends meet there.
function dots(used, drawn, chosen) {
  if (chosen && barred(drawn)) return [];
  const r = chosen ? 3 : 2.5;
  return used.map(([x, y]) =>
    twice("circle", { cx: x.toFixed(2), cy: y.toFixed(2), r }, chosen ? "chosen" : ""),
  );
}

function measurementLines(one, chosen) {
  const used = usedOf(one).map((point) => desk.view.toScreen(point));
  const drawn = wayOf(one)?.draw ?? "line";
  const name = chosen ? "chosen" : "";
  const lines = linesOf(one, drawn, used).filter(({ length }) => length > 1);
  const strokesAndReach = lines.map((line) => {
    const points = line.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");
    return [
      twice("polyline", { points }, name),
      s("polyline", { points, class: "reach", "data-pick": one.id }),
    ];
  });
  const bars = barred(drawn) && used.length === 2 ? ends(used, name, drawn === "post" ? 20 : 9) : [];
  return [strokesAndReach, dots(used, drawn, chosen), bars];
}

// Short bars across both ends, as on a dimension line in a drawing; a broad one where a thing stands on the table.
function ends([a, b], name, foot) {
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (length < 12) return [];
  const [nx, ny] = [(a[1] - b[1]) / length, (b[0] - a[0]) / length];
  const d = [
    [a, foot],
    [b, 9],
  ]
    .map(([[x, y], half]) => `M${x - half * nx},${y - half * ny}L${x + half * nx},${y + half * ny}`)
    .join("");
  return twice("path", { d }, name);
}

// An outline that was too doubtful to use, shown for the user to judge.
function doubtful() {
  const seen = photo()?.suggested_px;
  if (!seen || desk.mark) return [];
  return twice(
    "polygon",
    { points: seen.map((point) => desk.view.toScreen(point).join(",")).join(" ") },
    "loose",
  );
}

function cardLines() {
  const corners = cornersNow();
  if (!corners?.length) return doubtful();
  const at = corners.map((corner) => desk.view.toScreen(corner));
  const points = at.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");
  const parts = [twice("polygon", { points }, "card")];
  if (desk.step !== "scale") return parts;
  const [cx, cy] = middle(at);
  at.forEach(([x, y], index) => {
    const far = Math.max(1, Math.hypot(x - cx, y - cy));
    parts.push(
      s(
        "text",
        { x: x + ((x - cx) / far) * 20, y: y + ((y - cy) / far) * 20 + 5, class: "mark" },
        String(index + 1),
      ),
    );
  });
  return parts;
}

// Everything else that gives the scale or the lens: further cards, coins, rules, known lengths, straight edges.
function otherSources() {
  const lines = photo()?.outlines ?? [];
  return lines.map(({ closed, points_px }) => {
    const points = points_px
      .map((point) =>
        desk.view
          .toScreen(point)
          .map((axis) => axis.toFixed(2))
          .join(","),
      )
      .join(" ");
    return twice(closed ? "polygon" : "polyline", { points }, "card");
  });
}

function markLines() {
  const { mark } = desk;
  if (!mark || mark.photo !== desk.photo || mark.id) return [];
  const placed = mark.clicks_px.map((point) => desk.view.toScreen(point));
  const at = placed.length && desk.hover ? [...placed, desk.view.toScreen(desk.hover)] : placed;
  const lines = mark.draw === "ring" ? [at] : strokes(mark.draw, at);
  return [
    lines
      .filter((line) => line.length > 1)
      .map((line) =>
        twice("polyline", { points: line.map(([x, y]) => `${x},${y}`).join(" ") }, "chosen loose"),
      ),
    placed.map(([x, y]) => twice("circle", { cx: x, cy: y, r: 3 }, "chosen")),
  ];
}

function label(one, chosen) {
  const used = usedOf(one);
  if (!used.length) return null;
  const at = used.map((point) => desk.view.toScreen(point));
  const [x, y] = middle(at);
  if (x < -80 || y < -40 || x > desk.view.width + 80 || y > desk.view.height + 40) return null;
  const text = reading(one.id)?.[desk.unit] ?? "no length yet";
  const node = h(
    "button",
    {
      class: `tag${chosen ? " chosen" : ""}`,
      "data-pick": one.id,
      "data-key": `tag-${one.id}`,
      tabindex: "-1",
      "aria-hidden": "true",
    },
    chosen ? text : [h("b", null, one.name), text],
  );
  const steep = at.length > 1 && Math.abs(at[1][1] - at[0][1]) > Math.abs(at[1][0] - at[0][0]);
  const side = sideFor([x, y], steep, chosen && barred(wayOf(one)?.draw), at);
  node.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px) translate(${side})`;
  return node;
}

// Beside its line, on the side where it covers no point that the user may be working on.
function sideFor([x, y], steep, fixed, points) {
  const [w, t] = [160, 44];
  const sides = steep
    ? [
        ["18px, -50%", x + 18, y - t / 2],
        ["calc(-100% - 18px), -50%", x - 18 - w, y - t / 2],
        ["-50%, calc(-100% - 34px)", x - w / 2, y - 34 - t],
        ["-50%, 34px", x - w / 2, y + 34],
      ]
    : [
        ["-50%, 16px", x - w / 2, y + 16],
        ["-50%, calc(-100% - 16px)", x - w / 2, y - 16 - t],
      ];
  if (fixed) return sides[0][0];
  const [highest, lowest] = [Math.min, Math.max].map((pick) => pick(...points.map(([, py]) => py)));
  for (const py of [lowest + 28, highest - 28 - t])
    sides.push([`-50%, ${(py - y).toFixed(0)}px`, x - w / 2, py]);
  const held = handlePoints().map((one) => desk.view.toScreen(one.point));
  const free = ([, left, top]) =>
    !held.some(([hx, hy]) => hx > left - 14 && hx < left + w + 14 && hy > top - 14 && hy < top + t + 14);
  return (sides.find(free) ?? sides[0])[0];
}

function handles() {
  const names =
    (desk.mark && !desk.mark.id ? desk.mark.labels : selected() && wayOf(selected())?.labels) ?? [];
  return handlePoints().map(({ what, index, point }) => {
    const [x, y] = desk.view.toScreen(point);
    const name =
      what === "corner" ? `Corner ${index + 1}` : (names[index] ?? `${names.at(-1) ?? "Point"} ${index + 1}`);
    const held = desk.active?.what === what && desk.active.index === index;
    const node = h("button", {
      class: `handle ${what}${held ? " held" : ""}`,
      "data-handle": `${what}:${index}`,
      "data-key": `${what}-${index}`,
      "aria-label": `${name}, x ${point[0].toFixed(1)}, y ${point[1].toFixed(1)}`,
      "aria-roledescription": "movable point",
      "aria-describedby": "handle-help",
    });
    node.style.transform = `translate(${(x - 22).toFixed(2)}px, ${(y - 22).toFixed(2)}px)`;
    return node;
  });
}

// `show` leaves style alone, so positions are copied one by one.
function showPlaced(place, nodes) {
  const wanted = nodes.filter(Boolean);
  const moves = wanted.map((node) => node.style.transform);
  show(place, wanted);
  [...place.children].forEach((node, index) => {
    if (node.style.transform !== moves[index]) node.style.transform = moves[index];
  });
}

export function paintOverlay() {
  const lines = document.getElementById("lines");
  const shot = photo();
  if (!shot || !desk.view.photo?.width) {
    show(lines);
    showPlaced(document.getElementById("handles"), []);
    return;
  }
  const here = measurements().filter((one) => one.photo === desk.photo);
  const rest = here.filter((one) => one.id !== desk.selected);
  const chosen = here.filter((one) => one.id === desk.selected);
  const quiet = desk.step === "scale";
  const group = s(
    "g",
    { class: quiet ? "quiet" : null },
    cardLines(),
    otherSources(),
    rest.map((one) => measurementLines(one, false)),
    chosen.map((one) => measurementLines(one, true)),
    markLines(),
  );
  const kept = s("g", null, group);
  lines.replaceChildren(kept);
  showPlaced(document.getElementById("handles"), [
    ...(quiet ? [] : [...rest.map((one) => label(one, false)), ...chosen.map((one) => label(one, true))]),
    ...handles(),
  ]);
}
