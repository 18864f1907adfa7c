// Something other than a card that gives the scale: what it is, and where it lies in the photo.

import { changed, desk } from "../desk.js";
import { h } from "../dom.js";
import { startSource } from "../marking.js";
import { buttons, field, fine, option, tell, typed } from "./fields.js";

export function targetForm(shot) {
  const known = shot.scale?.items.find((one) => one.printed.length)?.printed ?? [];
  const printedAt = (at) => (known[at] ? { value: `${known[at]} mm` } : {});
  const printed = () =>
    tell({
      do: "printed lengths",
      photo: shot.id,
      printed: [typed("printed-across"), typed("printed-down")],
    });
  return [
    fine(
      "Print it with “cardspan target”. It is found by its black squares, even half covered. Measure " +
        "its two check rules with a steel rule and enter the readings, since printers seldom print true " +
        "to size.",
    ),
    h(
      "div",
      { class: "pair even" },
      field(
        "Rule across, drawn 150 mm",
        h("input", { id: "printed-across", placeholder: "149.6 mm", ...printedAt(0) }),
      ),
      field(
        "Rule down, drawn 200 mm",
        h("input", { id: "printed-down", placeholder: "199.5 mm", ...printedAt(1) }),
      ),
    ),
    buttons(h("button", { class: "main", onclick: printed }, "Use the target in this photo")),
  ];
}

export function coinForm() {
  const title = () => desk.state.coins.find((one) => one.key === desk.coin)?.name ?? "";
  const start = (on) =>
    startSource(
      { kind: "coin", object: desk.coin },
      on
        ? {
            least: 3,
            most: 3,
            title: title(),
            draw: "ring",
            asks: [
              "its rim",
              "its rim again, a third of the way around",
              "its rim again, another third around",
            ],
          }
        : { least: 1, most: 1, title: title(), asks: ["the middle of the coin"] },
    );
  desk.coin ??= desk.state.coins[0].key;
  return [
    field(
      "Which coin",
      h(
        "select",
        {
          value: desk.coin,
          onchange: (event) => {
            desk.coin = event.target.value;
            changed();
          },
        },
        desk.state.coins.map((one) => option(one.key, desk.coin, `${one.name}, ${one.size}`)),
      ),
    ),
    buttons(
      h("button", { class: "main", onclick: () => start(false) }, "Mark the coin"),
      h("button", { onclick: () => start(true) }, "Mark its rim instead"),
    ),
    fine(
      "Lay it close beside the part. A coin is small, so lengths far from it are rough: a card is better.",
    ),
  ];
}

export function ruleForm() {
  desk.rule ??= desk.state.rules[0].key;
  const start = () =>
    startSource(
      { kind: "rule", object: desk.rule },
      {
        least: 2,
        most: 2,
        title: "Rule",
        asks: [
          "a graduation near one end of the rule, where even the shortest lines reach",
          "another near its other end, so that the line between crosses them all",
        ],
      },
    );
  return [
    field(
      "Its finest lines are",
      h(
        "select",
        {
          value: desk.rule,
          onchange: (event) => {
            desk.rule = event.target.value;
            changed();
          },
        },
        desk.state.rules.map((one) => option(one.key, desk.rule, one.name)),
      ),
    ),
    buttons(h("button", { class: "main", onclick: start }, "Mark a line along it")),
    fine("Its lines are counted along yours; each must be visible separately."),
  ];
}

export function lengthForm() {
  const start = () =>
    startSource(
      { kind: "length", length: typed("known-length"), std: typed("known-std") },
      {
        least: 2,
        most: 2,
        title: typed("known-length"),
        asks: ["one end of the known length", "its other end"],
      },
    );
  return [
    h(
      "div",
      { class: "pair" },
      field("How long it is", h("input", { id: "known-length", placeholder: "120.5 mm or 4 3/4 in" })),
      field("give or take", h("input", { id: "known-std", placeholder: "as read off a rule" })),
    ),
    buttons(h("button", { class: "main", onclick: start }, "Mark its two ends")),
    fine(
      "Something in the photo that you have measured by hand. The tilt of the photo stays unknown, so " +
        "measure along it and close to it.",
    ),
  ];
}

export function featureForm() {
  const all = (desk.sheet?.parts ?? []).flatMap((part) =>
    part.features.filter((one) => one.common).map((one) => ({ part, one, key: `${part.id}/${one.id}` })),
  );
  if (!all.length)
    return [
      h(
        "p",
        null,
        desk.sheet
          ? "No part of this toy is known to be the same in every release."
          : "Choose a release sheet under Measure, “Compare with”, first.",
      ),
    ];
  const chosen = all.find(({ key }) => key === desk.common) ?? all[0];
  const start = () =>
    startSource(
      { kind: "feature", part: chosen.part.id, feature: chosen.one.id },
      {
        least: 2,
        most: 2,
        title: chosen.one.full_name,
        asks: ["one end of it", "its other end"],
      },
    );
  return [
    field(
      "Which part",
      h(
        "select",
        {
          value: chosen.key,
          onchange: (event) => {
            desk.common = event.target.value;
            changed();
          },
        },
        all.map(({ one, key }) => option(key, chosen.key, `${one.full_name}: ${one.common}`)),
      ),
    ),
    buttons(h("button", { class: "main", onclick: start }, "Mark its two ends")),
    fine("It serves as a known length. The tilt of the photo stays unknown, so measure close to it."),
  ];
}
