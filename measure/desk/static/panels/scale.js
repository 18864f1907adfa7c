// Scale: what of known size lies in the photo, how good that is, and correcting it by hand.

import { ask, changed, desk, photo, speak } from "../desk.js";
import { h } from "../dom.js";
import { startCorners, startNearer, startSource, startStraight } from "../marking.js";
import { question } from "./question.js";

const CHOICES = [
  ["card", "A card or a sheet of paper"],
  ["target", "The printed target of this program"],
  ["coin", "A coin"],
  ["rule", "A rule or a tape measure"],
  ["length", "A length that I know"],
  ["feature", "A part that is the same in every release"],
];

const number = (text) => Number(String(text).replace(",", "."));
const value = (id) => document.getElementById(id)?.value ?? "";
const option = (key, chosen, text) => h("option", { value: key, selected: key === chosen }, text);
const tell = async (what) => {
  const answer = await ask(what);
  if (answer.say) speak(answer.say);
  return answer;
};

// ---- a card or sheet

async function chooseKind(shot, kind) {
  if (!shot.card) desk.cornerKind = kind;
  tell({ do: "kind", photo: shot.id, kind });
}

function ownSize(shot) {
  const use = () => {
    const [w, high] = ["card-w", "card-h"].map((id) => number(value(id)));
    chooseKind(shot, `${w}x${high}`);
  };
  return h("fieldset", { class: "own", "data-key": "own" },
    h("legend", null, "Its size in millimetres"),
    h("input", { id: "card-w", inputmode: "decimal", "aria-label": "One side in millimetres", size: 7, value: shot.card ? String(shot.card.width_mm) : "" }), " × ",
    h("input", { id: "card-h", inputmode: "decimal", "aria-label": "Other side in millimetres", size: 7, value: shot.card ? String(shot.card.height_mm) : "" }),
    h("button", { onclick: use }, "Use this size"));
}

function cardForm(shot) {
  const { card } = shot;
  const kinds = desk.state.card_kinds;
  const key = card ? (kinds.some((one) => one.key === card.kind) ? card.kind : "own") : desk.cornerKind ?? "id1";
  const own = desk.ownSize || key === "own";
  const pick = (event) => {
    desk.ownSize = event.target.value === "own";
    if (desk.ownSize) changed();
    else chooseKind(shot, event.target.value);
  };
  const corners = { do: "corners", fit: true, kind: desk.cornerKind };
  return [
    !card && shot.suggested_px && !desk.mark ? h("button", { class: "main", onclick: () => ask({ ...corners, photo: shot.id, corners_px: shot.suggested_px }) }, "Use the dotted outline") : null,
    h("label", { class: "field" }, "Which card or sheet",
      h("select", { value: own ? "own" : key, onchange: pick },
        kinds.map((one) => option(one.key, own ? "own" : key, `${one.name}, ${one.size}`)), option("own", own ? "own" : key, "another of known size"))),
    own ? ownSize(shot) : null,
    h("div", { class: "buttons" },
      h("button", { onclick: () => startCorners(corners) }, card ? "Mark the corners again" : "Mark its four corners"),
      card && h("button", { onclick: () => tell({ do: "fit", photo: shot.id }) }, "Move the outline to the edges"),
      card && h("button", { onclick: () => ask({ do: "turn card", photo: shot.id }) }, "Swap long and short side"),
      h("button", { onclick: () => ask({ do: "find", photo: shot.id }) }, card ? "Look for it again" : "Look for one")),
    h("p", { class: "fine" }, "Drag a numbered corner to move it. Where the card's corner is rounded, the outline's corner lies just outside it, where the straight edges would meet."),
  ];
}

// ---- everything else

function targetForm(shot) {
  const known = shot.scale?.items.find((one) => one.printed.length)?.printed ?? [];
  const field = (at) => (known[at] ? { value: `${known[at]} mm` } : {});
  const printed = () => tell({ do: "printed lengths", photo: shot.id, printed: [value("printed-across"), value("printed-down")] });
  return [
    h("p", { class: "fine" }, "Print it with “cardspan target”. It is found by its black squares, even half covered. Measure its two check rules with a steel rule and enter the readings, since printers seldom print true to size."),
    h("div", { class: "pair even" },
      h("label", { class: "field" }, "Rule across, drawn 150 mm", h("input", { id: "printed-across", placeholder: "149.6 mm", ...field(0) })),
      h("label", { class: "field" }, "Rule down, drawn 200 mm", h("input", { id: "printed-down", placeholder: "199.5 mm", ...field(1) }))),
    h("div", { class: "buttons" }, h("button", { class: "main", onclick: printed }, "Use the target in this photo")),
  ];
}

function coinForm() {
  const title = () => desk.state.coins.find((one) => one.key === desk.coin)?.name ?? "";
  const start = (on) => startSource({ kind: "coin", object: desk.coin }, on
    ? { least: 3, most: 3, title: title(), draw: "ring", asks: ["its rim", "its rim again, a third of the way around", "its rim again, another third around"] }
    : { least: 1, most: 1, title: title(), asks: ["the middle of the coin"] });
  desk.coin ??= desk.state.coins[0].key;
  return [
    h("label", { class: "field" }, "Which coin", h("select", { value: desk.coin, onchange: (event) => { desk.coin = event.target.value; changed(); } },
      desk.state.coins.map((one) => option(one.key, desk.coin, `${one.name}, ${one.size}`)))),
    h("div", { class: "buttons" },
      h("button", { class: "main", onclick: () => start(false) }, "Mark the coin"),
      h("button", { onclick: () => start(true) }, "Mark its rim instead")),
    h("p", { class: "fine" }, "Lay it close beside the part. A coin is small, so lengths far from it are rough: a card is better."),
  ];
}

function ruleForm() {
  desk.rule ??= desk.state.rules[0].key;
  const start = () => startSource({ kind: "rule", object: desk.rule }, {
    least: 2, most: 2, title: "Rule", asks: ["a graduation near one end of the rule, where even the shortest lines reach", "another near its other end, so that the line between crosses them all"],
  });
  return [
    h("label", { class: "field" }, "Its finest lines are", h("select", { value: desk.rule, onchange: (event) => { desk.rule = event.target.value; changed(); } },
      desk.state.rules.map((one) => option(one.key, desk.rule, one.name)))),
    h("div", { class: "buttons" }, h("button", { class: "main", onclick: start }, "Mark a line along it")),
    h("p", { class: "fine" }, "Its lines are counted along yours; each must be visible separately."),
  ];
}

function lengthForm() {
  const start = () => startSource({ kind: "length", length: value("known-length"), std: value("known-std") }, {
    least: 2, most: 2, title: value("known-length"), asks: ["one end of the known length", "its other end"],
  });
  return [
    h("div", { class: "pair" },
      h("label", { class: "field" }, "How long it is", h("input", { id: "known-length", placeholder: "120.5 mm or 4 3/4 in" })),
      h("label", { class: "field" }, "give or take", h("input", { id: "known-std", placeholder: "as read off a rule" }))),
    h("div", { class: "buttons" }, h("button", { class: "main", onclick: start }, "Mark its two ends")),
    h("p", { class: "fine" }, "Something in the photo that you have measured by hand. The tilt of the photo stays unknown, so measure along it and close to it."),
  ];
}

function featureForm() {
  const all = (desk.sheet?.parts ?? []).flatMap((part) => part.features.filter((one) => one.common).map((one) => ({ part, one, key: `${part.id}/${one.id}` })));
  if (!all.length) return [h("p", null, desk.sheet ? "No part of this toy is known to be the same in every release." : "Choose a release sheet under Measure, “Compare with”, first.")];
  const chosen = all.find(({ key }) => key === desk.common) ?? all[0];
  const start = () => startSource({ kind: "feature", part: chosen.part.id, feature: chosen.one.id }, {
    least: 2, most: 2, title: chosen.one.full_name, asks: ["one end of it", "its other end"],
  });
  return [
    h("label", { class: "field" }, "Which part", h("select", { value: chosen.key, onchange: (event) => { desk.common = event.target.value; changed(); } },
      all.map(({ one, key }) => option(key, chosen.key, `${one.full_name}: ${one.common}`)))),
    h("div", { class: "buttons" }, h("button", { class: "main", onclick: start }, "Mark its two ends")),
    h("p", { class: "fine" }, "It serves as a known length. The tilt of the photo stays unknown, so measure close to it."),
  ];
}

const FORMS = { card: cardForm, target: targetForm, coin: coinForm, rule: ruleForm, length: lengthForm, feature: featureForm };

// ---- what is in use

function inUse(shot) {
  const { scale } = shot;
  if (!scale) {
    return h("section", { class: "grade poor", "data-key": "in-use" }, h("h3", null, shot.looking ? "Looking for the card…" : "Nothing of known size yet"), shot.why ? h("p", null, shot.why) : null);
  }
  const facts = desk.live?.facts ?? scale.facts;
  return h("section", { class: `grade${scale.sure ? "" : " fair"}`, "data-key": "in-use" },
    h("h3", null, h("span", { class: "sign", "aria-hidden": "true" }, scale.sure ? "✓" : "≈"), scale.headline),
    scale.gives ? h("p", { id: "scale-gives" }, `By this, ${scale.gives}.`) : null,
    h("dl", { class: "facts" }, facts.map(([name, text]) => [h("dt", null, name), h("dd", null, text)])),
    scale.trouble ? h("p", { class: "trouble" }, scale.trouble) : null);
}

function item(shot, one) {
  const out = () => tell({ do: "leave out", photo: shot.id, what: one.what, number: one.number });
  return h("li", { class: "source", "data-key": `${one.what}-${one.number}` },
    h("span", null, h("b", null, one.name), h("small", null, one.role), one.alone ? h("small", null, `alone, ${one.alone}`) : null),
    one.coin && h("button", { class: "small", onclick: () => startNearer(one.number) }, one.nearer ? "Nearer side marked" : "Mark its nearer side"),
    one.prefer && h("button", { class: "small", onclick: () => tell({ do: "prefer source", photo: shot.id, number: one.number }) }, "Measure heights from this"),
    h("button", { class: "small", onclick: out, "aria-label": `Leave out: ${one.name}` }, "Leave out"));
}

function more(shot) {
  const { camera, scale } = shot;
  const kinds = desk.state.card_kinds;
  const second = desk.secondKind ?? kinds.find((one) => one.key === shot.card?.kind)?.key ?? "id1";
  const lens = (event) => tell({ do: "camera", photo: shot.id, profile: event.target.value || null });
  return h("details", { "data-key": "more-scale" }, h("summary", null, "For more exact results"),
    h("div", { class: "deeper" },
      h("div", { class: "buttons" },
        shot.card ? [
          h("select", { "aria-label": "Kind of the second card", value: second, onchange: (event) => { desk.secondKind = event.target.value; changed(); } },
            kinds.map((one) => option(one.key, second, `${one.name}, ${one.size}`))),
          h("button", { onclick: () => startCorners({ do: "second card", kind: second }) }, "Add a second card")] : null,
        h("button", { onclick: startStraight }, "Mark a straight edge")),
      h("p", { class: "fine" }, "A second card at the other end of a long part helps most. Edges that are straight in reality, especially long ones near the photo's border, show how the lens bends lines."),
      (scale?.straight ?? []).map((count, index) => h("p", { class: "source", "data-key": `straight-${index}` }, h("span", null, `Straight edge ${index + 1}, ${count} points`),
        h("button", { class: "small", "aria-label": `Leave out: straight edge ${index + 1}`, onclick: () => tell({ do: "leave out", photo: shot.id, what: "straight", number: index }) }, "Leave out"))),
      h("p", null, `Lens: ${camera.words}.`),
      camera.profiles.length ? h("label", { class: "field" }, "Camera profile", h("select", { value: camera.profile ?? "", onchange: lens },
        option("", camera.profile ?? "", "none: as the photo's file says"), camera.profiles.map((name) => option(name, camera.profile, name)))) : null));
}

export function scalePanel() {
  const shot = photo();
  if (!shot) return h("p", null, "Open a photo first.");
  const chosen = desk.scaleChoice ?? shot.scale?.kind ?? "card";
  const items = shot.scale?.items ?? [];
  return [
    question(),
    inUse(shot),
    shot.cautions.length ? h("ul", { class: "plain cautions", "data-key": "cautions" }, shot.cautions.map((line) => h("li", null, line))) : null,
    desk.live?.trouble ? h("p", { class: "trouble" }, desk.live.trouble) : null,
    h("label", { class: "field", "data-key": "choice" }, "What gives the scale?",
      h("select", { id: "scale-choice", value: chosen, onchange: (event) => { desk.scaleChoice = event.target.value; changed(); } }, CHOICES.map(([key, name]) => option(key, chosen, name)))),
    h("section", { "data-key": `form-${chosen}` }, FORMS[chosen](shot)),
    chosen === "card" && shot.card && items.length === 1 ? h("p", null, h("button", { class: "small", onclick: () => tell({ do: "leave out", photo: shot.id, what: "card" }) }, "Leave the card out")) : null,
    items.length > 1 || (items.length && items[0].what !== "card") ? h("ul", { class: "sources", "aria-label": "What is in use", "data-key": "sources" }, items.map((one) => item(shot, one))) : null,
    more(shot),
  ];
}
