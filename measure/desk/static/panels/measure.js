// Measure: the sheet's checklist, the reading, and the choice of what else to measure.

import {
  ask,
  changed,
  desk,
  feature,
  measured,
  measurements,
  noted,
  offer,
  offerFor,
  photo,
  reading,
  selected,
} from "../desk.js";
import { h } from "../dom.js";
import { draft, startDraft, toPhoto } from "../marking.js";
import { select } from "../stage/acts.js";
import { difference } from "./difference.js";
import { buttons, field, fine, scaleName } from "./fields.js";
import { asked, question } from "./question.js";
import { readout } from "./readout.js";
import { settings } from "./settings.js";

// The sheet says how a feature is measured; a photo may need another way, such as for a standing part.
function ways(part, one) {
  const offers = desk.state.kinds.filter((way) => !way.of_two);
  return field(
    "Measure it as",
    h(
      "select",
      {
        value: draft().way,
        onchange: (event) => startDraft(part.id, one.id, event.target.value, true),
        onkeydown: (event) => {
          if (event.key === "Enter") {
            event.preventDefault();
            toPhoto();
          }
        },
      },
      offers.map((way) => h("option", { value: way.key, selected: way.key === draft().way }, way.name)),
    ),
  );
}

// What a row says in place of a length, by what was noted of its feature.
const UNMEASURED = ["could not see", "not present"];

const isOpen = (part, one) => {
  const now = draft() ?? selected();
  return now?.part === part.id && now.feature === one.id;
};

function heightNote(one, last) {
  const { flat } = draft() ? offer(draft().way) : offerFor(last?.kind ?? "span");
  if (!one.standoff_mm || !flat) return null;
  return fine(`Lies ${one.standoff_mm} mm above the ${scaleName()} (± ${one.standoff_std_mm} mm).`);
}

function seenButton(part, one, unseen) {
  const observe = () => {
    desk.mark = null;
    ask({ do: "observe", part: part.id, feature: one.id, state: unseen ? "clear" : "could not see" });
  };
  return h("button", { onclick: observe }, unseen ? "I can see it" : "Can't see it");
}

function featureDetails(part, one, last, unseen) {
  return h(
    "div",
    { class: "more" },
    h("p", null, one.how),
    heightNote(one, last),
    draft() && !draft().id ? ways(part, one) : null,
    part.handling ? h("p", { class: "care" }, h("b", null, "Take care: "), part.handling) : null,
    buttons(
      last
        ? h("button", { onclick: () => startDraft(part.id, one.id) }, "Measure once more")
        : seenButton(part, one, unseen),
    ),
  );
}

function featureRow(part, one) {
  const last = measured(part.id, one.id).at(-1);
  const state = noted(part.id, one.id)?.state;
  const open = isOpen(part, one);
  const unmeasured = UNMEASURED.includes(state) ? state : null;
  const text = last ? (reading(last.id)?.mm ?? "no length yet") : (unmeasured ?? "not measured");
  const sign = unmeasured ? "–" : "○";
  return h(
    "li",
    { class: `row${open ? " open" : ""}`, "data-key": `${part.id}/${one.id}` },
    h(
      "button",
      {
        class: "line",
        "aria-expanded": String(open),
        onclick: () => (last ? select(last.id) : startDraft(part.id, one.id)),
      },
      h("span", { class: "mark", "aria-hidden": "true" }, last ? "✓" : sign),
      h("span", { class: "name" }, one.name),
      h("span", { class: "text" }, text),
    ),
    open ? featureDetails(part, one, last, state === "could not see") : null,
  );
}

function checklist() {
  const parts = desk.sheet.parts.filter((part) => part.features.some((one) => one.kind === "dimension"));
  return parts.map((part) =>
    h(
      "section",
      { class: "part", "data-key": part.id },
      h("h4", null, part.name),
      h(
        "ul",
        { class: "list" },
        part.features.filter((one) => one.kind === "dimension").map((one) => featureRow(part, one)),
      ),
    ),
  );
}

function freeRow(one) {
  const where = one.photo === desk.photo || !one.photo ? null : "on another photo";
  return h(
    "li",
    { class: `row${one.id === desk.selected ? " open" : ""}`, "data-key": one.id },
    h(
      "button",
      { class: "line", "aria-pressed": String(one.id === desk.selected), onclick: () => select(one.id) },
      h("span", { class: "mark", "aria-hidden": "true" }, "✓"),
      h("span", { class: "name" }, one.name, where && h("small", null, where)),
      h("span", { class: "text" }, reading(one.id)?.mm ?? one.trouble ?? "no length yet"),
    ),
  );
}

function free() {
  const kinds = desk.state.kinds;
  const chosen = desk.freeKind ?? "span";
  const spec = offer(chosen);
  const own = measurements().filter((one) => !feature(one.part, one.feature));
  return h(
    "section",
    { class: "part", "data-key": "free" },
    h("h4", null, desk.sheet ? "Anything else" : "Lengths"),
    own.length ? h("ul", { class: "list" }, own.map(freeRow)) : null,
    buttons(
      kinds.length > 1
        ? h(
            "select",
            {
              "aria-label": "Kind of measurement",
              value: chosen,
              onchange: (event) => {
                desk.freeKind = event.target.value;
                changed();
              },
            },
            kinds.map((one) => h("option", { value: one.key, selected: one.key === chosen }, one.name)),
          )
        : null,
      spec.of_two
        ? difference()
        : h(
            "button",
            {
              class: desk.sheet ? "" : "main",
              disabled: !photo(),
              onclick: () => startDraft(null, null, chosen),
            },
            `Measure a ${spec.noun}`,
          ),
    ),
    spec.hint ? fine(spec.hint) : null,
  );
}

function sheetChoice() {
  const { sheets, sheet } = desk.state;
  return h(
    "label",
    { class: "field", "data-key": "sheet" },
    "Compare with",
    h(
      "select",
      { value: sheet ?? "", onchange: (event) => ask({ do: "sheet", sheet: event.target.value || null }) },
      h("option", { value: "", selected: !sheet }, "nothing, just measure"),
      sheets.map((one) => h("option", { value: one.key, selected: one.key === sheet }, one.name)),
    ),
  );
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
