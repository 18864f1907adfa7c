// Note: what is counted or seen on the toy itself.

import { ask, desk, go, noted } from "../desk.js";
import { h } from "../dom.js";
import { buttons, fine } from "./fields.js";

const observe = (part, feature, what) => ask({ do: "observe", part, feature, ...what });

function choice(part, one, value, text, seen) {
  const on = seen?.state === "seen" && seen.value === value;
  return h(
    "button",
    {
      class: "chip",
      "data-key": `v-${value}`,
      "aria-pressed": String(on),
      onclick: () => observe(part.id, one.id, on ? { state: "clear" } : { value, state: "seen" }),
    },
    h("span", { class: "tickmark", "aria-hidden": "true" }, on ? "✓ " : ""),
    text,
  );
}

function stateChoice(part, one, state, text, seen) {
  const on = seen?.state === state;
  return h(
    "button",
    {
      class: "chip other",
      "data-key": state,
      "aria-pressed": String(on),
      onclick: () => observe(part.id, one?.id ?? null, { state: on ? "clear" : state }),
    },
    h("span", { class: "tickmark", "aria-hidden": "true" }, on ? "✓ " : ""),
    text,
  );
}

function counter(part, one, seen) {
  const known = one.choices;
  const other = seen?.state === "seen" && !known.includes(seen.value);
  return h(
    "label",
    { class: "chip-field", "data-key": "other" },
    "other",
    h("input", {
      type: "number",
      min: 0,
      max: 999,
      step: 1,
      inputmode: "numeric",
      "aria-label": `${one.name}: another number`,
      value: other ? String(seen.value) : "",
      onchange: (event) => {
        const value = Number.parseInt(event.target.value, 10);
        observe(part.id, one.id, Number.isInteger(value) ? { value, state: "seen" } : { state: "clear" });
      },
    }),
  );
}

function featureNote(part, one) {
  const seen = noted(part.id, one.id);
  const title = `note-${part.id}-${one.id}`;
  return h(
    "div",
    { class: "note", role: "group", "aria-labelledby": title, "data-key": one.id },
    h("h5", { id: title }, one.name),
    fine(one.how),
    h(
      "div",
      { class: "chips" },
      one.choices.map((value) => choice(part, one, value, String(value), seen)),
      one.kind === "count" ? counter(part, one, seen) : null,
      stateChoice(part, one, "could not see", "could not see", seen),
    ),
  );
}

const seenOn = (part) => part.features.filter((one) => one.kind !== "dimension");

function partNotes(part) {
  return h(
    "section",
    { class: "part", "data-key": part.id },
    h("h4", null, part.name),
    part.handling ? h("p", { class: "care" }, h("b", null, "Take care: "), part.handling) : null,
    seenOn(part).map((one) => featureNote(part, one)),
    h(
      "div",
      { class: "chips whole", role: "group", "aria-label": `${part.name} as a whole` },
      stateChoice(part, null, "not present", "this part is missing", noted(part.id, null)),
      stateChoice(part, null, "could not see", "could not see this part", noted(part.id, null)),
    ),
  );
}

// First what can be checked; parts of which only the absence can be noted are collapsed below.
export function notePanel() {
  if (!desk.sheet)
    return [
      h(
        "p",
        null,
        "Counts and other traits are noted against a release sheet. Choose one under Measure, “Compare " +
          "with”.",
      ),
      buttons(h("button", { class: "main", onclick: () => go("measure") }, "Go to Measure")),
    ];
  const [telling, bare] = [
    desk.sheet.parts.filter((part) => seenOn(part).length),
    desk.sheet.parts.filter((part) => !seenOn(part).length),
  ];
  return [
    telling.map(partNotes),
    bare.length
      ? h(
          "details",
          { "data-key": "bare" },
          h(
            "summary",
            null,
            `Is another part missing or out of sight? ${bare.map((part) => part.name).join(", ")}`,
          ),
          h("div", { class: "body" }, bare.map(partNotes)),
        )
      : null,
  ];
}
