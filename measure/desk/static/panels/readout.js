// The length in hand with its ±, and what to beware of.

import { desk, reading, selected } from "../desk.js";
import { h, s } from "../dom.js";
import { draft } from "../marking.js";

// A small ruled scale: the value in the middle, the ± as a bar.
function gauge(text) {
  const { low, high, ticks, at, U_mm } = text.gauge;
  const x = (value) => (((value - low) / (high - low)) * 300).toFixed(1);
  return s(
    "svg",
    { class: "gauge", viewBox: "0 0 300 34", "aria-hidden": "true", preserveAspectRatio: "none" },
    ticks.map(([value, long]) => s("path", { d: `M${x(value)},0V${long ? 12 : 7}`, class: "tick" })),
    ticks
      .filter(([, , name]) => name)
      .map(([value, , name]) => s("text", { x: x(value), y: 25, class: "num" }, name)),
    s("path", { d: `M${x(at - U_mm)},2H${x(at + U_mm)}`, class: "span" }),
    s("path", { d: `M${x(at)},0V16`, class: "needle" }),
  );
}

// The length being marked, else that of the selected measurement.
function textNow() {
  const one = selected();
  return draft() && !draft().id ? desk.live?.reading : one && reading(one.id);
}

// The one line over the photo of a small screen.
export function smallReadout() {
  const text = textNow();
  if ((desk.step !== "measure" && desk.step !== "scale") || !text?.mm) return null;
  return h(
    "span",
    { "data-key": "small" },
    h("b", null, text.mm),
    text.inch ? h("span", null, text.inch) : null,
  );
}

const cautions = (one) =>
  one?.cautions?.length
    ? h(
        "ul",
        { class: "plain cautions" },
        one.cautions.map((line) => h("li", null, line)),
      )
    : null;

const nameNow = () => (selected() ? selected().name : draft()?.name || "Length");

const noLength = (text) =>
  h(
    "section",
    { class: "readout", "data-key": "readout" },
    h("h3", null, nameNow()),
    h("p", { class: "trouble" }, text?.mm ?? selected()?.trouble ?? "No length yet."),
  );

export function readout() {
  const text = textNow();
  if (!selected() && !text) return null;
  if (!text?.value) return noLength(text);
  return h(
    "section",
    { class: "readout", "data-key": "readout", "aria-label": `${nameNow()}: ${text.spoken}` },
    h("h3", null, nameNow()),
    h(
      "p",
      { class: "value" },
      h("b", { id: "mm" }, text.value),
      " ",
      h("span", { class: "pm" }, `± ${text.U}`),
      " mm",
    ),
    h(
      "p",
      { class: "inches" },
      text.inch,
      text.fraction && [h("span", { class: "dot", "aria-hidden": "true" }, " · "), text.fraction],
    ),
    text.gauge ? gauge(text) : null,
    cautions(selected()),
  );
}
