// Scale: what of known size lies in the photo, how good that is, and correcting it by hand.

import { changed, desk, photo } from "../desk.js";
import { h } from "../dom.js";
import { startCorners, startNearer, startStraight } from "../marking.js";
import { cardForm } from "./card_form.js";
import { buttons, field, fine, option, tell } from "./fields.js";
import { question } from "./question.js";
import { coinForm, featureForm, lengthForm, ruleForm, targetForm } from "./source_forms.js";

const FORMS = {
  card: cardForm,
  target: targetForm,
  coin: coinForm,
  rule: ruleForm,
  length: lengthForm,
  feature: featureForm,
};

function inUse(shot) {
  const { scale } = shot;
  if (!scale) {
    return h(
      "section",
      { class: "grade poor", "data-key": "in-use" },
      h("h3", null, shot.looking ? "Looking for the card…" : "Nothing of known size yet"),
      shot.why ? h("p", null, shot.why) : null,
    );
  }
  const facts = desk.live?.facts ?? scale.facts;
  return h(
    "section",
    { class: `grade${scale.sure ? "" : " fair"}`, "data-key": "in-use" },
    h(
      "h3",
      null,
      h("span", { class: "sign", "aria-hidden": "true" }, scale.sure ? "✓" : "≈"),
      scale.headline,
    ),
    scale.gives ? h("p", { id: "scale-gives" }, `By this, ${scale.gives}.`) : null,
    h(
      "dl",
      { class: "facts" },
      facts.map(([name, text]) => [h("dt", null, name), h("dd", null, text)]),
    ),
    scale.trouble ? h("p", { class: "trouble" }, scale.trouble) : null,
  );
}

function item(shot, one) {
  const out = () => tell({ do: "leave out", photo: shot.id, what: one.what, number: one.number });
  return h(
    "li",
    { class: "source", "data-key": `${one.what}-${one.number}` },
    h(
      "span",
      null,
      h("b", null, one.name),
      h("small", null, one.role),
      one.alone ? h("small", null, `alone, ${one.alone}`) : null,
    ),
    one.coin &&
      h(
        "button",
        { class: "small", onclick: () => startNearer(one.number) },
        one.nearer ? "Nearer side marked" : "Mark its nearer side",
      ),
    one.prefer &&
      h(
        "button",
        { class: "small", onclick: () => tell({ do: "prefer source", photo: shot.id, number: one.number }) },
        "Measure heights from this",
      ),
    h("button", { class: "small", onclick: out, "aria-label": `Leave out: ${one.name}` }, "Leave out"),
  );
}

function more(shot) {
  const { camera, scale } = shot;
  const kinds = desk.state.card_kinds;
  const second = desk.secondKind ?? kinds.find((one) => one.key === shot.card?.kind)?.key ?? "id1";
  const lens = (event) => tell({ do: "camera", photo: shot.id, profile: event.target.value || null });
  return h(
    "details",
    { "data-key": "more-scale" },
    h("summary", null, "For more exact results"),
    h(
      "div",
      { class: "deeper" },
      buttons(
        shot.card
          ? [
              h(
                "select",
                {
                  "aria-label": "Kind of the second card",
                  value: second,
                  onchange: (event) => {
                    desk.secondKind = event.target.value;
                    changed();
                  },
                },
                kinds.map((one) => option(one.key, second, `${one.name}, ${one.size}`)),
              ),
              h(
                "button",
                { onclick: () => startCorners({ do: "second card", kind: second }) },
                "Add a second card",
              ),
            ]
          : null,
        h("button", { onclick: startStraight }, "Mark a straight edge"),
      ),
      fine(
        "A second card at the other end of a long part helps most. Edges that are straight in reality, " +
          "especially long ones near the photo's border, show how the lens bends lines.",
      ),
      (scale?.straight ?? []).map((count, index) =>
        h(
          "p",
          { class: "source", "data-key": `straight-${index}` },
          h("span", null, `Straight edge ${index + 1}, ${count} points`),
          h(
            "button",
            {
              class: "small",
              "aria-label": `Leave out: straight edge ${index + 1}`,
              onclick: () => tell({ do: "leave out", photo: shot.id, what: "straight", number: index }),
            },
            "Leave out",
          ),
        ),
      ),
      h("p", null, `Lens: ${camera.words}.`),
      camera.profiles.length
        ? field(
            "Camera profile",
            h(
              "select",
              { value: camera.profile ?? "", onchange: lens },
              option("", camera.profile ?? "", "none: as the photo's file says"),
              camera.profiles.map((name) => option(name, camera.profile, name)),
            ),
          )
        : null,
    ),
  );
}

export function scalePanel() {
  const shot = photo();
  if (!shot) return h("p", null, "Open a photo first.");
  const chosen = desk.scaleChoice ?? shot.scale?.kind ?? "card";
  const items = shot.scale?.items ?? [];
  return [
    question(),
    inUse(shot),
    shot.cautions.length
      ? h(
          "ul",
          { class: "plain cautions", "data-key": "cautions" },
          shot.cautions.map((line) => h("li", null, line)),
        )
      : null,
    desk.live?.trouble ? h("p", { class: "trouble" }, desk.live.trouble) : null,
    h(
      "label",
      { class: "field", "data-key": "choice" },
      "What gives the scale?",
      h(
        "select",
        {
          id: "scale-choice",
          value: chosen,
          onchange: (event) => {
            desk.scaleChoice = event.target.value;
            changed();
          },
        },
        desk.state.scale_kinds.map((one) => option(one.key, chosen, one.name)),
      ),
    ),
    h("section", { "data-key": `form-${chosen}` }, FORMS[chosen](shot)),
    chosen === "card" && shot.card && items.length === 1
      ? h(
          "p",
          null,
          h(
            "button",
            { class: "small", onclick: () => tell({ do: "leave out", photo: shot.id, what: "card" }) },
            "Leave the card out",
          ),
        )
      : null,
    items.length > 1 || (items.length && items[0].what !== "card")
      ? h(
          "ul",
          { class: "sources", "aria-label": "What is in use", "data-key": "sources" },
          items.map((one) => item(shot, one)),
        )
      : null,
    more(shot),
  ];
}
