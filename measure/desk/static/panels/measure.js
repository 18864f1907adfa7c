// Measure: the sheet's checklist, the reading, and everything that can be changed about one measurement.

import { ask, changed, desk, feature, measured, measurements, noted, offer, offerFor, photo, reading, selected } from "../desk.js";
import { h, s } from "../dom.js";
import { draft, startDraft, toPhoto } from "../marking.js";
import { asked, question } from "./question.js";
import { removeSelected, select } from "../stage/acts.js";

const SCALES = { card: "card", target: "target", coin: "coin", rule: "rule", length: "known length", feature: "known part" };
const thing = () => SCALES[photo()?.scale?.kind] ?? "card";
const number = (text) => Number(String(text).replace(",", ".").trim());
const change = (one, what) => ask({ do: "change", id: one.id, ...what });

// A small ruled scale: the value in the middle, the ± as a bar.
function gauge(text) {
  const { low, high, ticks, at, U_mm } = text.gauge;
  const x = (value) => (((value - low) / (high - low)) * 300).toFixed(1);
  return s("svg", { class: "gauge", viewBox: "0 0 300 34", "aria-hidden": "true", preserveAspectRatio: "none" },
    ticks.map(([value, long]) => s("path", { d: `M${x(value)},0V${long ? 12 : 7}`, class: "tick" })),
    ticks.filter(([, , name]) => name).map(([value, , name]) => s("text", { x: x(value), y: 25, class: "num" }, name)),
    s("path", { d: `M${x(at - U_mm)},2H${x(at + U_mm)}`, class: "span" }),
    s("path", { d: `M${x(at)},0V16`, class: "needle" }));
}

export function readout(small = false) {
  const one = selected();
  const text = draft() && !draft().id ? desk.live?.reading : one && reading(one.id);
  if (small) {
    if (desk.step !== "measure" && desk.step !== "scale") return null;
    return text?.mm ? h("span", { "data-key": "small" }, h("b", null, text.mm), text.inch ? h("span", null, text.inch) : null) : null;
  }
  if (!one && !text) return null;
  const name = one ? one.name : draft()?.name || "Length";
  if (!text?.value) return h("section", { class: "readout", "data-key": "readout" }, h("h3", null, name), h("p", { class: "trouble" }, text?.mm ?? one?.trouble ?? "No length yet."));
  return h("section", { class: "readout", "data-key": "readout", "aria-label": `${name}: ${text.spoken}` },
    h("h3", null, name),
    h("p", { class: "value" }, h("b", { id: "mm" }, text.value), " ", h("span", { class: "pm" }, `± ${text.U}`), " mm"),
    h("p", { class: "inches" }, text.inch, text.fraction && [h("span", { class: "dot", "aria-hidden": "true" }, " · "), text.fraction]),
    text.gauge ? gauge(text) : null,
    one?.cautions?.length ? h("ul", { class: "plain cautions" }, one.cautions.map((line) => h("li", null, line))) : null);
}

function endFields(one) {
  const labels = offerFor(one.kind, one.clicks_px.length)?.labels ?? [];
  const field = (index, axis) => h("input", {
    inputmode: "decimal", size: 8, value: one.clicks_px[index][axis].toFixed(2), "aria-label": `${labels[index] ?? `Point ${index + 1}`} ${"xy"[axis]}`,
    onchange: (event) => {
      const clicks = one.clicks_px.map((point) => [...point]);
      clicks[index][axis] = number(event.target.value);
      change(one, { clicks_px: clicks });
    },
  });
  return h("details", { "data-key": "ends" }, h("summary", null, "Where the points are, in pixels"),
    h("table", { class: "ends" }, h("tbody", null, one.clicks_px.map((_, index) => h("tr", null,
      h("th", { scope: "row" }, labels[index] ?? `Point ${index + 1}`), h("td", null, field(index, 0)), h("td", null, field(index, 1)))))));
}

function budget(one) {
  if (!one.budget?.length) return null;
  const most = Math.max(...one.budget.map((line) => line.u_mm));
  return h("details", { "data-key": "budget" }, h("summary", null, "Where the ± comes from"),
    h("table", { class: "budget" }, h("tbody", null, one.budget.map((line) => h("tr", null,
      h("th", { scope: "row" }, line.source), h("td", null, line.text),
      h("td", { class: "bar" }, s("svg", { viewBox: "0 0 100 8", preserveAspectRatio: "none", "aria-hidden": "true" }, s("rect", { width: ((line.u_mm / most) * 100).toFixed(1), height: 8 }))))))));
}

function settings(one) {
  const standoffs = one.standoff_mm;
  const way = offerFor(one.kind, one.clicks_px.length);
  return h("section", { class: "settings", "data-key": `set-${one.id}` },
    h("label", { class: "field" }, "Name", h("input", { value: one.name, onchange: (event) => change(one, { name: event.target.value }) })),
    one.photo && way.flat ? h("div", { class: "pair" },
      h("label", { class: "field" }, `Height above the ${thing()}, mm`, h("input", {
        inputmode: "decimal", value: standoffs.join(" / "),
        onchange: (event) => change(one, { standoff_mm: event.target.value.split("/").map(number) }),
      })),
      h("label", { class: "field" }, "give or take, mm", h("input", {
        inputmode: "decimal", value: String(one.standoff_std_mm), onchange: (event) => change(one, { standoff_std_mm: number(event.target.value) }),
      }))) : null,
    way.kind === "rise" ? h("label", { class: "field" }, "The top may be off straight above the foot by, mm", h("input", {
      inputmode: "decimal", value: String(one.lean_std_mm), onchange: (event) => change(one, { lean_std_mm: number(event.target.value) }),
    })) : null,
    way.snaps && h("label", { class: "check" }, h("input", { type: "checkbox", checked: one.snap, onchange: (event) => { desk.snap = event.target.checked; change(one, { snap: event.target.checked }); } }),
      "Snap to the edge near each point", one.snap_text ? h("small", null, one.snap_text) : null),
    h("div", { class: "buttons" },
      h("button", { onclick: () => { desk.selected = null; changed(); } }, "Close"),
      h("button", { class: "danger", onclick: removeSelected }, "Delete")),
    one.photo && one.clicks_px.length ? endFields(one) : null,
    budget(one));
}

// The sheet says how a feature is measured; a photo may need another way, such as for a standing part.
function ways(part, one) {
  const offers = desk.state.kinds.filter((way) => !way.of_two);
  return h("label", { class: "field" }, "Measure it as",
    h("select", {
      value: draft().way,
      onchange: (event) => startDraft(part.id, one.id, event.target.value, true),
      onkeydown: (event) => { if (event.key === "Enter") { event.preventDefault(); toPhoto(); } },
    },
      offers.map((way) => h("option", { value: way.key, selected: way.key === draft().way }, way.name))));
}

function featureRow(part, one) {
  const done = measured(part.id, one.id);
  const state = noted(part.id, one.id)?.state;
  const open = draft() ? draft().part === part.id && draft().feature === one.id : selected()?.part === part.id && selected()?.feature === one.id;
  const last = done.at(-1);
  const text = last ? reading(last.id)?.mm ?? "no length yet" : state === "could not see" ? "could not see" : state === "not present" ? "not present" : "not measured";
  return h("li", { class: `row${open ? " open" : ""}`, "data-key": `${part.id}/${one.id}` },
    h("button", {
      class: "line", "aria-expanded": String(open),
      onclick: () => (last ? select(last.id) : startDraft(part.id, one.id)),
    }, h("span", { class: "mark", "aria-hidden": "true" }, last ? "✓" : state === "could not see" || state === "not present" ? "–" : "○"), h("span", { class: "name" }, one.name), h("span", { class: "text" }, text)),
    open ? h("div", { class: "more" },
      h("p", null, one.how),
      one.standoff_mm && (draft() ? offer(draft().way).flat : offerFor(last?.kind ?? "span").flat) ? h("p", { class: "fine" }, `Lies ${one.standoff_mm} mm above the ${thing()} (± ${one.standoff_std_mm} mm).`) : null,
      draft() && !draft().id ? ways(part, one) : null,
      part.handling ? h("p", { class: "care" }, h("b", null, "Take care: "), part.handling) : null,
      h("div", { class: "buttons" },
        last ? h("button", { onclick: () => startDraft(part.id, one.id) }, "Measure once more") : null,
        !last ? h("button", { onclick: () => { desk.mark = null; ask({ do: "observe", part: part.id, feature: one.id, state: state === "could not see" ? "clear" : "could not see" }); } }, state === "could not see" ? "I can see it" : "Can't see it") : null)) : null);
}

function checklist() {
  const parts = desk.sheet.parts.filter((part) => part.features.some((one) => one.kind === "dimension"));
  return parts.map((part) => h("section", { class: "part", "data-key": part.id },
    h("h4", null, part.name),
    h("ul", { class: "list" }, part.features.filter((one) => one.kind === "dimension").map((one) => featureRow(part, one)))));
}

function freeRow(one) {
  const where = one.photo === desk.photo || !one.photo ? null : "on another photo";
  return h("li", { class: `row${one.id === desk.selected ? " open" : ""}`, "data-key": one.id },
    h("button", { class: "line", "aria-pressed": String(one.id === desk.selected), onclick: () => select(one.id) },
      h("span", { class: "mark", "aria-hidden": "true" }, "✓"), h("span", { class: "name" }, one.name, where && h("small", null, where)),
      h("span", { class: "text" }, reading(one.id)?.mm ?? one.trouble ?? "no length yet")));
}

function free() {
  const kinds = desk.state.kinds;
  const chosen = desk.freeKind ?? "span";
  const spec = offer(chosen);
  const own = measurements().filter((one) => !feature(one.part, one.feature));
  return h("section", { class: "part", "data-key": "free" },
    h("h4", null, desk.sheet ? "Anything else" : "Lengths"),
    own.length ? h("ul", { class: "list" }, own.map(freeRow)) : null,
    h("div", { class: "buttons" },
      kinds.length > 1 ? h("select", { "aria-label": "Kind of measurement", value: chosen, onchange: (event) => { desk.freeKind = event.target.value; changed(); } },
        kinds.map((one) => h("option", { value: one.key, selected: one.key === chosen }, one.name))) : null,
      spec.of_two
        ? difference()
        : h("button", { class: desk.sheet ? "" : "main", disabled: !photo(), onclick: () => startDraft(null, null, chosen) }, `Measure a ${spec.noun}`)),
    spec.hint ? h("p", { class: "fine" }, spec.hint) : null);
}

function difference() {
  const all = measurements().filter((one) => one.kind !== "difference");
  const [a, b] = [all.find((one) => one.id === desk.minuend) ?? all[0], all.find((one) => one.id === desk.subtrahend) ?? all[1]];
  if (!a || !b) return h("p", null, "Measure two lengths first.");
  const height = (one) => JSON.stringify([one.photo, one.standoff_mm, one.standoff_std_mm]);
  const subtract = async () => {
    const same = Boolean(document.getElementById("diff-same")?.checked);
    const answer = await ask({ do: "add", kind: "difference", photo: a.photo, of: [a.id, b.id], same_standoff: same, clicks_px: [] });
    if (answer.id) select(answer.id);
  };
  const choose = (name, chosen, put) => h("select", { "aria-label": name, value: chosen.id, onchange: (event) => { put(event.target.value); changed(); } },
    all.map((one) => h("option", { value: one.id, selected: one === chosen }, one.name)));
  return h("span", { class: "diff" },
    choose("First length", a, (id) => { desk.minuend = id; }), " − ", choose("Second length", b, (id) => { desk.subtrahend = id; }),
    height(a) === height(b) ? h("label", { class: "check" }, h("input", { id: "diff-same", type: "checkbox", checked: true }), `Both lie equally high above the ${thing()}`) : null,
    h("button", { onclick: subtract }, "Subtract"));
}

function sheetChoice() {
  const { sheets, sheet } = desk.state;
  return h("label", { class: "field", "data-key": "sheet" }, "Compare with",
    h("select", { value: sheet ?? "", onchange: (event) => ask({ do: "sheet", sheet: event.target.value || null }) },
      h("option", { value: "", selected: !sheet }, "nothing, just measure"),
      sheets.map((one) => h("option", { value: one.key, selected: one.key === sheet }, one.name))));
}

export function measurePanel() {
  const one = selected();
  // Nothing is measured by an outline of which nobody has said what it is.
  const open = Boolean(asked());
  return [
    question(),
    readout(),
    one ? settings(one) : null,
    desk.sheet && !open ? checklist() : null,
    open ? null : free(),
    sheetChoice(),
  ];
}
