// Card: what gives the scale, how sure that is, and setting it right by hand.

import { ask, changed, desk, photo, speak } from "./desk.js";
import { h } from "./dom.js";
import { startCorners } from "./marking.js";

async function chooseKind(shot, kind) {
  if (!shot.card) desk.cornerKind = kind;
  const answer = await ask({ do: "kind", photo: shot.id, kind });
  if (answer.say) speak(answer.say);
}

function ownSize(shot) {
  const size = () => ["card-w", "card-h"].map((id) => Number(document.getElementById(id).value.replace(",", ".")));
  return h("fieldset", { class: "own", "data-key": "own" },
    h("legend", null, "Its size in millimetres"),
    h("input", { id: "card-w", inputmode: "decimal", "aria-label": "One side in millimetres", size: 7, value: shot.card ? String(shot.card.width_mm) : "" }), " × ",
    h("input", { id: "card-h", inputmode: "decimal", "aria-label": "Other side in millimetres", size: 7, value: shot.card ? String(shot.card.height_mm) : "" }),
    h("button", { onclick: () => { const [w, high] = size(); chooseKind(shot, `${w}x${high}`); } }, "Use this size"));
}

export function scalePanel() {
  const shot = photo();
  if (!shot) return h("p", null, "Open a photo first.");
  const { card } = shot;
  const facts = desk.live?.facts ?? card?.facts ?? [];
  const kinds = desk.state.card_kinds;
  const key = card ? (kinds.some((one) => one.key === card.kind) ? card.kind : "own") : desk.cornerKind ?? "id1";
  const own = desk.ownSize || key === "own";
  return [
    card
      ? h("section", { class: "grade" }, h("h3", null, card.headline),
        h("dl", { class: "facts" }, facts.map(([name, text]) => [h("dt", null, name), h("dd", null, text)])))
      : h("section", { class: "grade poor" }, h("h3", null, shot.looking ? "Looking for the card…" : "No card found"),
        shot.why ? h("p", null, shot.why) : null),
    !card && shot.suggested_px && !desk.mark ? h("button", { class: "main", onclick: () => { ask({ do: "corners", photo: shot.id, corners_px: shot.suggested_px, fit: true, kind: desk.cornerKind }); } }, "Use the outline that looks most like one") : null,
    card?.cautions.length ? h("ul", { class: "plain cautions" }, card.cautions.map((line) => h("li", null, line))) : null,
    desk.live?.trouble ? h("p", { class: "trouble" }, desk.live.trouble) : null,
    h("label", { class: "field" }, "What lies in the photo",
      h("select", {
        value: own ? "own" : key,
        onchange: (event) => {
          desk.ownSize = event.target.value === "own";
          if (desk.ownSize) changed();
          else chooseKind(shot, event.target.value);
        },
      }, kinds.map((one) => h("option", { value: one.key, selected: !own && one.key === key }, `${one.name}, ${one.size}`)), h("option", { value: "own", selected: own }, "something else of known size"))),
    own ? ownSize(shot) : null,
    h("div", { class: "buttons" },
      h("button", { onclick: () => startCorners() }, card ? "Mark the corners again" : "Mark its four corners"),
      card && h("button", { onclick: () => ask({ do: "fit", photo: shot.id }) }, "Pull the outline to the edges"),
      card && h("button", { onclick: () => ask({ do: "turn card", photo: shot.id }) }, "Swap long and short side"),
      h("button", { onclick: () => ask({ do: "find", photo: shot.id }) }, "Look for it again")),
    h("p", { class: "fine" }, "Drag a numbered corner to move it. Where the card's corner is rounded, the outline's corner lies just outside it, where the straight edges would meet."),
  ];
}
