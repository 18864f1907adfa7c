// The difference of two lengths that were measured before.

import { ask, changed, desk, measurements } from "../desk.js";
import { h } from "../dom.js";
import { select } from "../stage/acts.js";
import { scaleName } from "./fields.js";

export function difference() {
  const all = measurements().filter((one) => one.kind !== "difference");
  const [a, b] = [
    all.find((one) => one.id === desk.minuend) ?? all[0],
    all.find((one) => one.id === desk.subtrahend) ?? all[1],
  ];
  if (!a || !b) return h("p", null, "Measure two lengths first.");
  const height = (one) => JSON.stringify([one.photo, one.standoff_mm, one.standoff_std_mm]);
  const subtract = async () => {
    const same = Boolean(document.getElementById("diff-same")?.checked);
    const answer = await ask({
      do: "add",
      kind: "difference",
      photo: a.photo,
      of: [a.id, b.id],
      same_standoff: same,
      clicks_px: [],
    });
    if (answer.id) select(answer.id);
  };
  const choose = (name, chosen, put) =>
    h(
      "select",
      {
        "aria-label": name,
        value: chosen.id,
        onchange: (event) => {
          put(event.target.value);
          changed();
        },
      },
      all.map((one) => h("option", { value: one.id, selected: one === chosen }, one.name)),
    );
  return h(
    "span",
    { class: "diff" },
    choose("First length", a, (id) => {
      desk.minuend = id;
    }),
    " − ",
    choose("Second length", b, (id) => {
      desk.subtrahend = id;
    }),
    height(a) === height(b)
      ? h(
          "label",
          { class: "check" },
          h("input", { id: "diff-same", type: "checkbox", checked: true }),
          `Both lie equally high above the ${scaleName()}`,
        )
      : null,
    h("button", { onclick: subtract }, "Subtract"),
  );
}
