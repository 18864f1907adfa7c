// Everything that can be changed about one measurement.

import { ask, changed, desk, offerFor } from "../desk.js";
import { h, s } from "../dom.js";
import { removeSelected } from "../stage/acts.js";
import { buttons, field, number, scaleName } from "./fields.js";

const change = (one, what) => ask({ do: "change", id: one.id, ...what });

function endFields(one) {
  const labels = offerFor(one.kind, one.clicks_px.length)?.labels ?? [];
  const coordinate = (index, axis) =>
    h("input", {
      inputmode: "decimal",
      size: 8,
      value: one.clicks_px[index][axis].toFixed(2),
      "aria-label": `${labels[index] ?? `Point ${index + 1}`} ${"xy"[axis]}`,
      onchange: (event) => {
        const clicks = one.clicks_px.map((point) => [...point]);
        clicks[index][axis] = number(event.target.value);
        change(one, { clicks_px: clicks });
      },
    });
  return h(
    "details",
    { "data-key": "ends" },
    h("summary", null, "Where the points are, in pixels"),
    h(
      "table",
      { class: "ends" },
      h(
        "tbody",
        null,
        one.clicks_px.map((_, index) =>
          h(
            "tr",
            null,
            h("th", { scope: "row" }, labels[index] ?? `Point ${index + 1}`),
            h("td", null, coordinate(index, 0)),
            h("td", null, coordinate(index, 1)),
          ),
        ),
      ),
    ),
  );
}

function budget(one) {
  if (!one.budget?.length) return null;
  const most = Math.max(...one.budget.map((line) => line.u_mm));
  return h(
    "details",
    { "data-key": "budget" },
    h("summary", null, "Where the ± comes from"),
    h(
      "table",
      { class: "budget" },
      h(
        "tbody",
        null,
        one.budget.map((line) =>
          h(
            "tr",
            null,
            h("th", { scope: "row" }, line.source),
            h("td", null, line.text),
            h(
              "td",
              { class: "bar" },
              s(
                "svg",
                { viewBox: "0 0 100 8", preserveAspectRatio: "none", "aria-hidden": "true" },
                s("rect", { width: ((line.u_mm / most) * 100).toFixed(1), height: 8 }),
              ),
            ),
          ),
        ),
      ),
    ),
  );
}

function heights(one) {
  const setHeight = (event) => change(one, { standoff_mm: event.target.value.split("/").map(number) });
  const setStd = (event) => change(one, { standoff_std_mm: number(event.target.value) });
  return h(
    "div",
    { class: "pair" },
    field(
      `Height above the ${scaleName()}, mm`,
      h("input", { inputmode: "decimal", value: one.standoff_mm.join(" / "), onchange: setHeight }),
    ),
    field(
      "give or take, mm",
      h("input", { inputmode: "decimal", value: String(one.standoff_std_mm), onchange: setStd }),
    ),
  );
}

function lean(one) {
  const setStd = (event) => change(one, { lean_std_mm: number(event.target.value) });
  return field(
    "The top may be off straight above the foot by, mm",
    h("input", { inputmode: "decimal", value: String(one.lean_std_mm), onchange: setStd }),
  );
}

function snapping(one) {
  const set = (event) => {
    desk.snap = event.target.checked;
    change(one, { snap: event.target.checked });
  };
  return h(
    "label",
    { class: "check" },
    h("input", { type: "checkbox", checked: one.snap, onchange: set }),
    "Snap to the edge near each point",
    one.snap_text ? h("small", null, one.snap_text) : null,
  );
}

export function settings(one) {
  const way = offerFor(one.kind, one.clicks_px.length);
  const rename = (event) => change(one, { name: event.target.value });
  const close = () => {
    desk.selected = null;
    changed();
  };
  return h(
    "section",
    { class: "settings", "data-key": `set-${one.id}` },
    field("Name", h("input", { value: one.name, onchange: rename })),
    one.photo && way.flat ? heights(one) : null,
    way.leans ? lean(one) : null,
    way.snaps ? snapping(one) : null,
    buttons(
      h("button", { onclick: close }, "Close"),
      h("button", { class: "danger", onclick: removeSelected }, "Delete"),
    ),
    one.photo && one.clicks_px.length ? endFields(one) : null,
    budget(one),
  );
}
